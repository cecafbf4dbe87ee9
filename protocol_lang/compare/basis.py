"""What the answers rest on, in one edition and not in the other."""

from __future__ import annotations

from collections.abc import Iterator

from protocol_lang.comparison import Assumed
from protocol_lang.findings import Unchecked
from protocol_lang.outcome import Coverage, FileOutcome

_Named = tuple[str, tuple[str, ...]]


def assumed(old: Coverage | None, new: Coverage | None) -> tuple[Assumed, ...]:
    """What only one of the answers rests on; nothing if one of them is not there."""
    if old is None or new is None:
        return ()
    was, is_now = dict.fromkeys(_all(old)), dict.fromkeys(_all(new))
    return (
        *(Assumed(kind, names, True) for kind, names in is_now if (kind, names) not in was),
        *(Assumed(kind, names, False) for kind, names in was if (kind, names) not in is_now),
    )


def unchecked(old: FileOutcome, new: FileOutcome) -> tuple[tuple[Unchecked, bool], ...]:
    """What is not checked in one edition only; True: in the new one."""

    def key(part: Unchecked) -> tuple[object, ...]:
        facts = {name: value for name, value in part.facts.items() if name != "file"}
        return (part.kind, *sorted(facts.items()))

    was, is_now = map(key, old.unchecked), map(key, new.unchecked)
    in_old, in_new = set(was), set(is_now)
    return (
        *((part, True) for part in new.unchecked if key(part) not in in_old),
        *((part, False) for part in old.unchecked if key(part) not in in_new),
    )


def _all(coverage: Coverage) -> Iterator[_Named]:
    for read in coverage.files:
        if read.kind not in ("protocol", "day"):
            yield "files", (read.kind, read.title)
    for thing, state in coverage.starts:
        yield "starts", (thing, state)
    for kind in ("leaking", "tearing", "thrown_away", "untouched", "running_on"):
        for name in getattr(coverage, kind):
            yield kind, (name,)
    for rest in coverage.remainder:
        for thing in rest.thing.split(", "):
            yield "remainder", (rest.level, thing, ", ".join(rest.classes), rest.source or "")
    for line in coverage.without_contact:
        yield "without_contact", (" ".join(line.text.split()),)
    for line in coverage.own_verbs:
        yield "own_verbs", (line.text,)
    for thing, to in coverage.handed_over:
        yield "handed_over", (thing, to)
    if not coverage.any_number_of_visits:
        yield "one_visit_only", ()
    if coverage.visits_apart:
        yield "visits_apart", ()
    if coverage.only_who_exposes:
        yield "only_who_exposes", ()
    if coverage.follows:
        yield "follows", ()
    if coverage.mishaps:
        yield "one_mishap", ()
