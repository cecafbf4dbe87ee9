"""What a comparison of two editions hands over to be told: facts only, old beside new.

Everywhere ``was`` and ``is_now`` are what the old and the new edition say; None where one of them
says nothing of the kind.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import Enum

from protocol_lang.findings import Finding, Unchecked
from protocol_lang.outcome import Coverage, FileOutcome, Standing
from protocol_lang.text import Place

#: Kinds of finding that come and go with the day of judgement.
OF_DAYS = frozenset({"not-in-force", "review-passed"})


@dataclass(frozen=True, slots=True)
class Edition:
    """One of the two files.

    ``number``: which edition it says that it is. ``in_force``: the day as 2026-11-02. ``read``: its
    steps are known (its text could be read as a checklist). ``ordered``: all of them are, and so is
    their order. ``whole``: all of it was judged, so that what was not found is not there.
    """

    outcome: FileOutcome
    number: int | None
    in_force: str | None
    read: bool
    ordered: bool
    whole: bool

    @property
    def coverage(self) -> Coverage | None:
        """What was looked at, and what the answer rests on."""
        return self.outcome.coverage

    @property
    def standing(self) -> Standing:
        """How the check of this edition ended."""
        return self.outcome.standing


@dataclass(frozen=True, slots=True)
class Change:
    """Something with a name that is said otherwise, or only in one edition.

    ``sort``: what it is ("owner", "choice", "mishap", "phase", ...).
    """

    sort: str
    name: str
    was: str | None
    is_now: str | None


@dataclass(frozen=True, slots=True)
class Seen:
    """A tick box of one edition: the ``number``-th of its phase (or of the mishap)."""

    text: str
    phase: str
    number: int
    place: Place
    label: str | None = None
    part: str | None = None


@dataclass(frozen=True, slots=True)
class Pair:
    """A step of the old edition and the step of the new one that it is."""

    was: Seen
    is_now: Seen


class Relation(Enum):
    """When a step is done, seen from another: surely so in every permitted order, or open."""

    BEFORE = "before"
    AFTER = "after"
    OPEN = "in either order"
    APART = "never in one visit"


@dataclass(frozen=True, slots=True)
class Reordered:
    """How a moved step stands to ``other``: "before" means that the moved step comes first."""

    other: Pair
    was: Relation
    is_now: Relation


@dataclass(frozen=True, slots=True)
class Moved:
    """A step whose order in relation to other steps of both editions changed.

    Every pair of steps whose relation changed stands under exactly one moved step, and as few steps
    as were found are called moved: if one step goes past ten others, it is the one.
    """

    step: Pair
    to: tuple[Reordered, ...]


@dataclass(frozen=True, slots=True)
class Between:
    """Whether ``others`` can come between the steps ``together`` is different.

    ``can``: in the new edition they can, in the old one they could not; else the other way round.
    """

    together: tuple[Pair, ...]
    others: tuple[Pair, ...]
    can: bool


@dataclass(frozen=True, slots=True)
class Effect:
    """One thing that a step does or asks for: ``kind``, and names by the role that each plays."""

    kind: str
    names: tuple[tuple[str, tuple[str, ...]], ...]


@dataclass(frozen=True, slots=True)
class DoesOtherwise:
    """A step that has other effects; if both are empty, it does the same in another order."""

    step: Pair
    no_longer: tuple[Effect, ...]
    now: tuple[Effect, ...]


@dataclass(frozen=True, slots=True)
class DoneWhen:
    """A step that is done in other cases: ``was``, ``is_now`` say in which; empty: always."""

    step: Pair
    was: tuple[str, ...]
    is_now: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Reworded:
    """A step with another text. ``same``: it does the same; None: that is not known."""

    step: Pair
    same: bool | None


class Fate(Enum):
    """What becomes of a finding from the old edition to the new one."""

    NEW = "new"
    GONE = "gone"
    STILL = "still there"


@dataclass(frozen=True, slots=True)
class Told:
    """A finding of one or both editions. ``code``: see :mod:`protocol_lang.identity`.

    ``sure``: False if it may be there in the other edition too, where part was not judged.
    """

    code: str
    was: Finding | None
    is_now: Finding | None
    sure: bool = True

    @property
    def fate(self) -> Fate:
        """New, gone, or still there."""
        if self.was is None:
            return Fate.NEW
        return Fate.GONE if self.is_now is None else Fate.STILL

    @property
    def finding(self) -> Finding:
        """The finding, as the new edition has it if both do."""
        found = self.is_now or self.was
        assert found is not None
        return found


@dataclass(frozen=True, slots=True)
class Assumed:
    """Something that an answer rests on, in one edition only.

    ``kind``: the field of :class:`~protocol_lang.outcome.Coverage`; ``names``: what it is of.
    ``newly``: the new edition rests on it, the old one does not; else the other way round.
    """

    kind: str
    names: tuple[str, ...]
    newly: bool


@dataclass(frozen=True, slots=True)
class RuleChange:
    """A rule of the clinic that one edition meets and the other does not. There are none yet."""

    rule: str
    was: bool | None
    is_now: bool | None


@dataclass(frozen=True, slots=True)
class Comparison:
    """Two editions, and all that is different between them.

    ``header``, ``phases``, ``options`` (choices, facts that are found out, mishaps, the protocols
    of a day) and ``declared`` (what room and words say of what is used) by name. ``moved_in_text``:
    other lines, but in every permitted order the same. ``unchecked``: what is not checked in one
    edition only, and in which (True: the new one). ``undecided``: pairs of steps whose order was
    not settled within the budget. ``same_text``: the files that are read are the same, word for
    word.
    """

    old: Edition
    new: Edition
    header: tuple[Change, ...] = ()
    phases: tuple[Change, ...] = ()
    options: tuple[Change, ...] = ()
    declared: tuple[Change, ...] = ()
    added: tuple[Seen, ...] = ()
    removed: tuple[Seen, ...] = ()
    reworded: tuple[Reworded, ...] = ()
    moved: tuple[Moved, ...] = ()
    between: tuple[Between, ...] = ()
    moved_in_text: tuple[Pair, ...] = ()
    effects: tuple[DoesOtherwise, ...] = ()
    done: tuple[DoneWhen, ...] = ()
    findings: tuple[Told, ...] = ()
    assumed: tuple[Assumed, ...] = ()
    unchecked: tuple[tuple[Unchecked, bool], ...] = ()
    undecided: int = 0
    same_text: bool = False
    rules: tuple[RuleChange, ...] = field(default=())

    @property
    def in_effect(self) -> bool:
        """Whether anything is different but texts, lines and dates."""
        return bool(
            self.added
            or self.removed
            or self.moved
            or self.between
            or self.effects
            or self.done
            or self.options
            or self.declared
            or self.assumed
            or self.unchecked
            or self.undecided
            or self.rules
            or any(
                one.fate is not Fate.STILL and one.finding.kind not in OF_DAYS
                for one in self.findings
            )
        )
