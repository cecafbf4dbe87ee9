"""Variants of the shipped protocols: one thing changed, the rest as it is."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import NamedTuple

from protocol_lang.findings import Finding
from protocol_lang.pipeline import Checked, check_file
from protocol_lang.resources import folder
from tests.planting import planted, times

ROOM = folder("protocols") / "imaging-room-2"
ROOM_3 = folder("protocols") / "imaging-room-3"

DAY = "a-day-in-imaging-room-2"

#: The day with two of its visits. A fault in what they share is told alike, and with all five kinds
#: of visits a hundred suspects would each be looked into for a second.
SMALL_DAY = (
    ', "Intraoral series, wired sensor", "Intraoral, film", "Intraoral, phosphor plates"',
    "",
)

#: (old text, new text), in the protocol or the room; the old text must be there.
Changes = Iterable[tuple[str, str]]


def checked(
    where: Path,
    changes: Changes = (),
    room: Changes = (),
    name: str = "intraoral-wired-sensor",
) -> Checked:
    """A shipped protocol with changes to its text and to that of its room, checked."""
    _write(where, "imaging-room-2", room)
    return check_file(_write(where, name, changes), mend=False)


def _write(where: Path, name: str, changes: Changes) -> Path:
    text = (ROOM / f"{name}.protocol").read_text("utf-8")
    for old, new in changes:
        text = planted(text, old, new)
    path = where / f"{name}.protocol"
    path.write_text(text, "utf-8")
    return path


def kinds(one: Checked) -> list[str]:
    """The kinds of what is found, in order; a file that is not checked to the end is no answer."""
    assert one.outcome.findings or not one.outcome.unchecked
    return [finding.kind for finding in one.outcome.findings]


def told(one: Checked, kind: str) -> Finding:
    """The finding of that kind."""
    return next(finding for finding in one.outcome.findings if finding.kind == kind)


def passed(finding: Finding) -> set[str]:
    """Everything that the soil of a story passes."""
    assert finding.route is not None
    return {name for step in finding.route.steps for move in step.moves for name in move}


def reached(one: Checked) -> set[str]:
    """Every part of somebody or something that soil gets to, each decided by itself."""
    assert one.judgement is not None and one.judgement.paths is not None
    return {
        one.judgement.plan.spots[suspect.spot].name
        for suspect in one.judgement.suspects
        if one.judgement.paths.first(frozenset({suspect})) is not None
    }


def among(
    where: Path, first: str, changes: Iterable[tuple[str, str, str]], room: Path = ROOM
) -> Checked:
    """One of the shipped files of a room, checked among the others, some of them changed.

    Each change is (file, old text, new text); the old text must be there, and only once.
    """
    texts = {path.stem: path.read_text("utf-8") for path in room.glob("*.protocol")}
    for name, old, new in changes:
        assert times(texts[name], old) == 1, f"{name} says {times(texts[name], old)} times {old!r}"
        texts[name] = planted(texts[name], old, new)
    for name, text in texts.items():
        (where / f"{name}.protocol").write_text(text, "utf-8")
    return check_file(where / f"{first}.protocol", mend=False)


def kinds_and_lines(one: Checked) -> list[tuple[str, str]]:
    """The kind of each finding, and the step that it is about."""
    found = []
    for finding in one.outcome.findings:
        assert finding.place is not None
        text = Path(finding.place.file).read_text("utf-8").splitlines()
        found.append((finding.kind, text[finding.place.line - 1].strip().removeprefix("[ ] ")))
    return found


def visits(finding: Finding) -> int:
    """How many visits the story of a finding takes."""
    assert finding.route is not None
    return max(step.visit for step in finding.route.steps)


class Planted(NamedTuple):
    """A planted fault, what is told of it, and beside it a change of the same place that is right.

    Changes are as in `among`; what is told is (kind, step) of each finding; the choices are some of
    those that the story of the first one needs; `visits` is how many that story takes.
    """

    changes: tuple[tuple[str, str, str], ...]
    told: list[tuple[str, str]]
    choices: dict[str, str]
    visits: int
    twin: tuple[tuple[str, str, str], ...]


def choices(finding: Finding) -> list[tuple[str, str]]:
    """The choices, mishaps and protocols of a story, without the lines that they stand at."""
    assert finding.route is not None
    return [(name.partition(" at line ")[0], value) for name, value in finding.route.choices]


def assert_told(one: Checked, planted: Planted) -> None:
    """Everything that is to be told of a planted fault is told, and nothing else."""
    assert kinds_and_lines(one) == planted.told
    first = one.outcome.findings[0]
    assert planted.choices.items() <= set(choices(first))
    assert visits(first) == planted.visits
