"""The one way out to the screen: nothing else in the program prints.

Three things are seen to here, so that no command need think of them.

* Control characters, and signs that turn the reading direction, are shown as escapes: a name in a
  protocol, or the name of a file, must not move the cursor or hide part of a line.
* A screen that cannot show a letter gets a readable stand-in instead of an error.
* A reader who stops reading early (``| head``) or a full disk ends the run without a traceback.
"""

from __future__ import annotations

import codecs
import contextlib
import errno
import os
import re
import sys
import unicodedata
from typing import TextIO

#: Control characters but the line feed; marks, embeddings, overrides and isolates of reading
#: direction; signs without width, but for the two joiners that several scripts are written with;
#: separators that some screens take for a new line; halves of surrogate pairs, which stand for
#: undecodable bytes in file names; tags.
_UNSAFE = re.compile(
    "[\x00-\x09\x0b-\x1f\x7f-\x9f\xad\u061c\u200b\u200e\u200f\u2028-\u202e\u2060-\u206f"
    "\ufeff\ufff9-\ufffb\ud800-\udfff\U000e0000-\U000e007f]"
)

#: Stand-ins for a screen that lacks the sign. Letters with accents are not listed: they fall back
#: on the bare letter.
_STAND_INS = {
    "⟦": "[[", "⟧": "]]", "☐": "[ ]", "•": "-", "·": "-",
    "‐": "-", "‑": "-", "–": "-", "—": "--", "−": "-", "…": "...",
    "‘": "'", "’": "'", "‚": "'", "“": '"', "”": '"', "„": '"', "«": '"', "»": '"',
    "→": "->", "←": "<-", "⇒": "=>", "×": "x", "÷": "/", "±": "+/-", "≈": "~",
    "≤": "<=", "≥": ">=", "≠": "/=", "°": " degrees ", "µ": "u", "μ": "u",
    "½": "1/2", "¼": "1/4", "¾": "3/4", "²": "^2", "³": "^3",
    "ß": "ss", "æ": "ae", "Æ": "AE", "œ": "oe", "Œ": "OE", "ø": "o", "Ø": "O", "ł": "l", "Ł": "L",
    "\u00a0": " ", "\u2009": " ", "\u202f": " ",
}  # fmt: skip

#: The ink that a page may have: bold, reverse, normal.
_INK = re.compile("(\x1b\\[[017]m)")

_HANDLER = "protocol-lang-stand-in"


class OutputLostError(Exception):
    """The output could not be written: ``reason`` says why, or is None if its reader went away."""

    def __init__(self, cause: OSError) -> None:
        # A closed pipe is told as EPIPE, by Windows as EINVAL.
        gone = (errno.EPIPE, errno.EINVAL, errno.ESHUTDOWN)
        self.reason = None if cause.errno in gone else (cause.strerror or str(cause))
        super().__init__(self.reason)


def visible(text: str) -> str:
    r"""``text`` with all that could mislead a reader shown as escapes; line feeds stay.

    >>> print(visible("gloves\x1b[2J on"))
    gloves\u001b[2J on
    """
    return _UNSAFE.sub(lambda match: _escape(match[0]), text)


def visible_in_line(text: str) -> str:
    r"""As :func:`visible`, for a name inside a sentence: line feeds too are shown as escapes.

    >>> print(visible_in_line("room\n2"))
    room\u000a2
    """
    return visible(text).replace("\n", r"\u000a")


def prepare() -> None:
    """Make standard output and standard error fit for :func:`say` and :func:`complain`.

    Their encodings stay as they are; letters that these cannot write get stand-ins.
    """
    codecs.register_error(_HANDLER, _stand_in)
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors=_HANDLER)


def say(text: str = "") -> None:
    """Write ``text`` and a line feed to standard output.

    Text for programs (JSON) must be written with all that is not ASCII escaped; it then passes
    unchanged, and every screen and file takes it.

    Raises :class:`OutputLostError` if it cannot be written.
    """
    try:
        _open(sys.stdout).write(visible(text) + "\n")
    except OSError as error:
        raise OutputLostError(error) from error


def can_ask() -> bool:
    """Whether somebody sits there: what is asked is seen, and what is typed gets here."""
    return all(stream is not None and stream.isatty() for stream in (sys.stdin, sys.stdout))


def ask(prompt: str) -> str | None:
    """What is typed after ``prompt``, without blanks around it; None when nothing more will come.

    Raises :class:`OutputLostError` if the prompt cannot be written.
    """
    try:
        stream = _open(sys.stdout)
        stream.write(visible(prompt))
        stream.flush()
    except OSError as error:
        raise OutputLostError(error) from error
    try:
        line = sys.stdin.readline()
    except UnicodeDecodeError:
        return "\ufffd"  # letters that are none in the encoding of this terminal
    except OSError:
        return None
    return line.strip() if line else None


def say_inked(text: str = "") -> None:
    """The same for a page with our own ink: bold, reverse and normal pass, all else is escaped."""
    pieces = _INK.split(text)
    shown = "".join(piece if _INK.fullmatch(piece) else visible(piece) for piece in pieces)
    try:
        _open(sys.stdout).write(shown + "\n")
    except OSError as error:
        raise OutputLostError(error) from error


def hand_over(text: str) -> None:
    """Write ``text`` as it is, in UTF-8, to standard output: for a file or another program.

    A screen gets it like all else, with what could mislead a reader escaped.
    """
    stream = _open(sys.stdout)
    plain = getattr(stream, "buffer", None)
    if stream.isatty() or plain is None:
        say(text.removesuffix("\n"))
        return
    try:
        stream.flush()
        plain.write(text.encode("utf-8"))
        plain.flush()
    except OSError as error:
        raise OutputLostError(error) from error


def complain(text: str) -> None:
    """Write ``text`` and a line feed to standard error. Does nothing if nobody can read it."""
    with contextlib.suppress(OSError):
        stream = _open(sys.stderr)
        stream.write(visible(text) + "\n")
        stream.flush()


def finish() -> None:
    """Write out what is still waiting. Raises :class:`OutputLostError` if it cannot be written."""
    if sys.stdout is not None:
        try:
            sys.stdout.flush()
        except OSError as error:
            raise OutputLostError(error) from error


def abandon() -> None:
    """Give up standard output after it was lost, so that the interpreter does not try it again."""
    with contextlib.suppress(OSError, ValueError, AttributeError):
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, sys.stdout.fileno())
        os.close(nowhere)


def _open(stream: TextIO | None) -> TextIO:
    """The stream, or an error if the program was started without it."""
    if stream is None:
        raise OSError(errno.EBADF, "there is nowhere to write to")
    return stream


def _escape(character: str) -> str:
    number = ord(character)
    if 0xDC80 <= number <= 0xDCFF:  # a byte of a file name that is not text
        return f"\\x{number - 0xDC00:02x}"
    return f"\\u{number:04x}" if number <= 0xFFFF else f"\\U{number:08x}"


def _stand_in(error: UnicodeError) -> tuple[str, int]:
    """What to write for letters that an encoding lacks; an error handler of :mod:`codecs`."""
    if not isinstance(error, UnicodeEncodeError):
        raise error
    return "".join(map(_spelled, error.object[error.start : error.end])), error.end


def _spelled(character: str) -> str:
    if character in _STAND_INS:
        return _STAND_INS[character]
    # Canonical, not compatible, decomposition: the latter would turn 10² into 102.
    letter = unicodedata.normalize("NFD", character)[0]
    if letter.isascii():
        return letter
    return "" if unicodedata.combining(character) else _escape(character)


def columns(most: int) -> int:
    """How wide to set a page of fixed layout: ``most`` columns; on a narrower screen, its own."""
    screen = _screen(most + 1)
    # One column is left free: some screens break a line that fills them.
    return most if screen is None else min(most, max(40, screen - 1))


def _screen(unknown: int) -> int | None:
    """The columns of the screen, ``unknown`` if it does not tell; None on paper and in a pipe."""
    import shutil

    if sys.stdout is None or not sys.stdout.isatty():
        return None
    return shutil.get_terminal_size((unknown, 24)).columns


def looks() -> tuple[int, bool, bool]:
    """How to set text for where the output goes: (columns, colour, ASCII only).

    On a screen its width, from 40 to 100 columns; 72 on paper and in a pipe. Colour only on a
    screen, and not where the reader asked for none (the NO_COLOR convention).
    """
    screen = _screen(72)
    width = 72 if screen is None else min(100, max(40, screen))
    colour = (
        screen is not None and not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb"
    )
    encoding = getattr(sys.stdout, "encoding", None) or "ascii"
    try:
        "⟦☐⟧".encode(encoding)
    except (LookupError, UnicodeError):
        return width, colour, True
    return width, colour, False
