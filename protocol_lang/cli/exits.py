"""The exit codes: what a script, a pre-commit check or a nightly run may rely on."""

from __future__ import annotations

from collections.abc import Iterable
from enum import IntEnum


class ExitCode(IntEnum):
    """How a run ended, as the number that the operating system is given.

    Zero promises that all was checked: silence is never to be mistaken for approval, so a run that
    left something out ends with a number of its own.
    """

    CLEAR = 0
    TO_CORRECT = 1
    NOT_CARRIED_OUT = 2
    OUR_FAULT = 3
    PARTLY_CHECKED = 4


#: What each code means, in the words of the help page.
MEANINGS: dict[ExitCode, str] = {
    ExitCode.CLEAR: "all was checked, and nothing is to be corrected",
    ExitCode.TO_CORRECT: "something is to be corrected, in the text or in the protocol",
    ExitCode.NOT_CARRIED_OUT: "the command could not be carried out",
    ExitCode.OUR_FAULT: "a fault of protocol-lang itself",
    ExitCode.PARTLY_CHECKED: "nothing is to be corrected, but part was not checked",
}

#: From the code that outweighs all others to the one that yields to all.
_PRECEDENCE = (
    ExitCode.OUR_FAULT,
    ExitCode.NOT_CARRIED_OUT,
    ExitCode.TO_CORRECT,
    ExitCode.PARTLY_CHECKED,
    ExitCode.CLEAR,
)


def weightiest(codes: Iterable[ExitCode]) -> ExitCode:
    """The code for a run of several parts, each of which ended with one of ``codes``.

    A run of no parts checked nothing that is to be corrected: it ends with ``CLEAR``.
    """
    return min(codes, key=_PRECEDENCE.index, default=ExitCode.CLEAR)


class CannotCarryOut(Exception):
    """Raised by a command that cannot do what it was asked; ends the run with code 2.

    ``sentence`` says what is the case, with the place and, where it is sure, the mend. It is shown
    as it stands, so it must be fit for a reader who knows nothing of programs.
    """

    def __init__(self, sentence: str) -> None:
        super().__init__(sentence)
        self.sentence = sentence
