"""What a check hands over to be told: per file the findings, what was not checked, what was."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from enum import Enum

from protocol_lang.findings import Finding, Unchecked, Weight
from protocol_lang.text import Place


class Standing(Enum):
    """How a check ended; where several hold, the one named first."""

    CORRECT = "to correct"
    UNCHECKED = "not checked"
    CLEAR = "nothing to correct"


@dataclass(frozen=True, slots=True)
class OrderCount:
    """How many orders of the steps are permitted, all combinations of choices together.

    ``number``: at least 1; ``exact``: that many, else at least that many.
    """

    number: int
    exact: bool


@dataclass(frozen=True, slots=True)
class ChoiceSeen:
    """A choice of the protocol. ``fixed``: for the clinic, else free in each visit."""

    name: str
    values: tuple[str, ...]
    fixed: bool = False


@dataclass(frozen=True, slots=True)
class Remainder:
    """What published practice accepts: these classes stay on ``thing`` after ``level``."""

    level: str
    thing: str
    classes: tuple[str, ...]
    source: str | None = None


@dataclass(frozen=True, slots=True)
class Line:
    """Words of the author and where they stand."""

    text: str
    place: Place | None = None


@dataclass(frozen=True, slots=True)
class FileRead:
    """A file that the answer rests on. ``kind``: protocol, day, room, words, data or base.

    ``fingerprint``: of the base that a local edition adapts, with all that it takes words from.
    """

    kind: str
    title: str
    file: str
    packaged: bool = False
    fingerprint: str = ""


@dataclass(frozen=True, slots=True)
class Coverage:
    """What was looked at, and what the answer rests on.

    ``steps``: tick boxes in the file. ``combinations``: how many combinations of choices were
    looked at; ``courses``: where the checklist leaves open more than choices (ways, repetitions,
    what can happen), how many courses that differ in something done; ``rounds``: (name, how
    often it is done at most, how often it was looked at) of what is repeated so often that from
    some time round on nothing new comes; ``mishaps``: what can happen, at most
    one in a visit; ``asked_only``: choices to
    which the check was limited on request. ``orders``: None when they were not counted.
    ``any_number_of_visits``: visits were followed one after another without end; else one visit
    only. ``visits_apart``: a visit is taken to end before the next
    begins; ``running_on``: the phases that may run into the next visit, which a day looks at.
    ``only_who_exposes``: there are exposures, and the room names no place that tells where others
    may be then. ``starts``: (thing, how it is when a visit starts). ``leaking``: covers taken to
    leak; ``tearing``: what is worn on the hands and may tear.
    ``thrown_away``: things taken to be thrown away after use, without a step that says so.
    ``without_contact``: steps that are said to touch nothing. ``own_verbs``: verbs that the
    protocol declares itself. ``handed_over``: (thing, protocol or stream that takes it).
    ``parts``: (role, title) of the protocols that were put together; ``follows``: the file is a
    part that follows another protocol, and what that one leaves beyond what it says was not looked
    at. ``untouched``: of a day, the things of the room with which no protocol does anything.
    """

    steps: int
    choices: tuple[ChoiceSeen, ...] = ()
    combinations: int = 1
    courses: int | None = None
    rounds: tuple[tuple[str, int, int], ...] = ()
    mishaps: tuple[str, ...] = ()
    asked_only: tuple[tuple[str, str], ...] = ()
    orders: OrderCount | None = None
    any_number_of_visits: bool = True
    visits_apart: bool = True
    running_on: tuple[str, ...] = ()
    only_who_exposes: bool = False
    starts: tuple[tuple[str, str], ...] = ()
    leaking: tuple[str, ...] = ()
    tearing: tuple[str, ...] = ()
    thrown_away: tuple[str, ...] = ()
    remainder: tuple[Remainder, ...] = ()
    without_contact: tuple[Line, ...] = ()
    own_verbs: tuple[Line, ...] = ()
    handed_over: tuple[tuple[str, str], ...] = ()
    parts: tuple[tuple[str, str], ...] = ()
    follows: bool = False
    untouched: tuple[str, ...] = ()
    files: tuple[FileRead, ...] = ()


@dataclass(frozen=True, slots=True)
class FileOutcome:
    """One file that was named to be checked.

    ``file``: the name shown to people. ``kind``: protocol, day, room, words or data. ``coverage``:
    None when no order was looked at (the text has faults, or the file holds no steps).

    Invariant: a protocol without coverage has something to correct or something unchecked; silence
    about it would read as approval. Raises ValueError otherwise.
    """

    file: str
    kind: str = "protocol"
    title: str | None = None
    edition: int | None = None
    findings: tuple[Finding, ...] = ()
    unchecked: tuple[Unchecked, ...] = ()
    coverage: Coverage | None = None

    def __post_init__(self) -> None:
        if (
            self.kind in ("protocol", "day")
            and self.coverage is None
            and self.standing is Standing.CLEAR
        ):
            raise ValueError(f"{self.file}: neither checked nor said to be unchecked")

    @property
    def standing(self) -> Standing:
        """How the check of this file ended."""
        if any(finding.weight is Weight.CORRECT for finding in self.findings):
            return Standing.CORRECT
        return Standing.UNCHECKED if self.unchecked else Standing.CLEAR


@dataclass(frozen=True, slots=True)
class Outcome:
    """All files of one call.

    ``texts``: the lines of every file in which a finding has a place, by the name shown; a file
    that is missing here is simply not quoted. ``on``: the day of judgement. ``version``: of the
    program.
    """

    files: tuple[FileOutcome, ...]
    texts: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    on: date | None = None
    version: str = ""

    @property
    def standing(self) -> Standing:
        """How the whole check ended: the first of :class:`Standing` that holds for some file."""
        found = {file.standing for file in self.files}
        return next((standing for standing in Standing if standing in found), Standing.CLEAR)
