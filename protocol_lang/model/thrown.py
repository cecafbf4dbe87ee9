"""Into which stream of waste a step throws things, so far as its verb says."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from protocol_lang.model.steps import Doing, Step
from protocol_lang.model.verbs import OfSlot, Retires


def retired(
    step: Step, filled: Mapping[str, tuple[str, ...]]
) -> Iterator[tuple[str | None, str | None]]:
    """Each piece that a step retires: its name, so far as the step has one for it, and where the
    verb says that it goes; None: it does not say."""
    if not isinstance(step.does, Doing):
        return
    for line in step.does.verb.lines:
        if isinstance(line, Retires):
            stream = line.stream
            told = filled[stream.slot][0] if isinstance(stream, OfSlot) else stream
            names = filled[line.what.slot] if isinstance(line.what, OfSlot) else (None,)
            yield from ((name, told) for name in names)


def streams_told(step: Step, filled: Mapping[str, tuple[str, ...]]) -> Iterator[str | None]:
    """Where the verb of a step says that each piece goes that it retires; None: it does not say."""
    return (told for _, told in retired(step, filled))
