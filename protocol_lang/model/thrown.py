"""Into which stream of waste a step throws things, so far as its verb says."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from protocol_lang.model.steps import Doing, Step
from protocol_lang.model.verbs import OfSlot, Retires


def streams_told(step: Step, filled: Mapping[str, tuple[str, ...]]) -> Iterator[str | None]:
    """Where the verb of a step says that each piece goes that it retires; None: it does not say."""
    if not isinstance(step.does, Doing):
        return
    for line in step.does.verb.lines:
        if isinstance(line, Retires):
            stream = line.stream
            told = filled[stream.slot][0] if isinstance(stream, OfSlot) else stream
            number = len(filled[line.what.slot]) if isinstance(line.what, OfSlot) else 1
            yield from [told] * number
