"""What is on a wall chart, as frozen records: no geometry, no colour, no protocol.

Whoever fills these records decides what is printed; nothing is added or worked out later.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from enum import Enum


class HandState(Enum):
    """How a person's hands are, the worst first.

    The order is the one in which several possible states are merged (:func:`worst`): used glove,
    used bare hand, unknown, then clean glove and clean bare hand. Hands that come from somewhere
    (``NOT_CLEAN``) carry no patient's soil, but are not clean for a patient either: after unknown;
    nor are gloves that such hands put on (``NOT_CLEAN_GLOVES``).
    """

    USED_GLOVES = "used gloves"
    USED_BARE = "used bare hands"
    UNKNOWN = "unknown"
    NOT_CLEAN_GLOVES = "gloves not clean"
    NOT_CLEAN = "not clean"
    CLEAN_GLOVES = "clean gloves"
    CLEAN_BARE = "clean bare hands"

    @property
    def rank(self) -> int:
        """0 for the worst."""
        return list(HandState).index(self)

    @property
    def is_used(self) -> bool:
        """Carries, or may carry, the soil of a patient."""
        return self in (HandState.USED_GLOVES, HandState.USED_BARE, HandState.UNKNOWN)


@dataclass(frozen=True, slots=True)
class Hands:
    """The hands of one person. ``orders_differ``: ``state`` is the worst of several possible."""

    state: HandState
    orders_differ: bool = False

    @property
    def treat_as_used(self) -> bool:
        """In some permitted orders they are used, in others perhaps not."""
        return self.state.is_used and (self.orders_differ or self.state is HandState.UNKNOWN)


def worst(states: Iterable[HandState]) -> Hands:
    """The worst of the states that are possible at one step; ValueError when there is none."""
    possible = set(states)
    if not possible:
        raise ValueError("no state of hands is possible at this step")
    return Hands(min(possible, key=lambda state: state.rank), orders_differ=len(possible) > 1)


@dataclass(frozen=True, slots=True)
class Checked:
    """Every order was checked and nothing is to correct."""


@dataclass(frozen=True, slots=True)
class Draft:
    """Not to be hung up: ``reason`` in a few words ("2 faults to correct", "not checked")."""

    reason: str


Mark = Checked | Draft


@dataclass(frozen=True, slots=True)
class Row:
    """One step. ``number`` runs through the whole sheet; ``person`` does it (None: nobody's hands).

    ``text``: the short text if there is one, else the sentence. ``hands``: of every person of
    ``Sheet.persons``, just after the step. ``do_not_touch``: from here on, beyond what the
    phase says. ``touch_only``: the few things that used hands have to do with from here on, told
    where a time of used hands begins. ``after``: the numbers of the steps that it waits for,
    wherever they stand. ``hand``: which hand does it ("the used hand", "both hands"), if the
    protocol says. ``wet_minutes``: how long what it treats has to stay wet; ``meanwhile``: the
    numbers of steps that may be done while that time runs. ``must_not_skip``: what its omission
    alone leads to, in at most six words; None: nothing is known of that. ``pictogram``: the name of
    the one beside it.
    """

    number: int
    text: str
    person: str | None
    hands: Mapping[str, Hands]
    label: str | None = None
    notes: tuple[str, ...] = ()
    wait_minutes: int | None = None
    do_not_touch: tuple[str, ...] = ()
    touch_only: tuple[str, ...] = ()
    after: tuple[int, ...] = ()
    hand: str | None = None
    wet_minutes: int | None = None
    meanwhile: tuple[int, ...] = ()
    must_not_skip: str | None = None
    pictogram: str | None = None


class Together(Enum):
    """How the items of a group belong together."""

    IN_ORDER = "in order"
    ANY_ORDER = "any order"
    MIXED = "any order, mixed"
    IN_ONE_GO = "in one go"
    SIDE_BY_SIDE = "side by side"
    LANE = "lane"
    HEADED = "under words of its own"


@dataclass(frozen=True, slots=True)
class Group:
    """Items that belong together. The items of SIDE_BY_SIDE are groups LANE with a ``person``.

    ``heading``: what a group HEADED says of its items: "either", "if image failed"; it may have no
    items when the words say all ("again from step 4, at most twice").
    """

    kind: Together
    items: tuple[Row | Group, ...]
    person: str | None = None
    heading: str | None = None


@dataclass(frozen=True, slots=True)
class SheetPhase:
    """``hands_before``: of every person when the phase begins. ``do_not_touch``: all through it.
    ``touch_only``: what used hands have to do with, in a phase that begins with used hands.
    ``runs_on``: it may run into the next visit."""

    title: str
    items: tuple[Row | Group, ...]
    hands_before: Mapping[str, Hands]
    notes: tuple[str, ...] = ()
    do_not_touch: tuple[str, ...] = ()
    touch_only: tuple[str, ...] = ()
    runs_on: bool = False


class PanelKind(Enum):
    """What is told beside the steps, in the order of printing."""

    LAY_OUT = "lay out before gloving"
    STANDS = "who stands where at an exposure"
    SETTINGS = "exposure settings"
    COVERED = "covered"
    DISINFECTED = "disinfected"
    STERILISED = "sterilised"
    WASTE = "waste"
    HAPPENS = "if this happens"
    CALL = "whom to call"


@dataclass(frozen=True, slots=True)
class PanelLine:
    """One line of a panel.

    ``what``: the thing, stream, person or event. ``count``: how many of it, if the protocol
    settles that. ``told``: what is said of it, in few words ("intermediate level, with wipe").
    ``minutes``: a contact time. ``steps``: the numbers of the steps that it is about; for
    something that happens, the step to go on with.
    """

    what: str
    told: str = ""
    count: int | None = None
    minutes: int | None = None
    steps: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Panel:
    """``lines``: at least one; a panel with nothing to say is not on the sheet. ``notes``: small
    print under them."""

    kind: PanelKind
    lines: tuple[PanelLine, ...]
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Waived:
    """How many findings are waived, and the day on which the first of the waivers ends."""

    number: int
    until: date


@dataclass(frozen=True, slots=True)
class Sheet:
    """One wall chart: one protocol under one choice.

    ``persons``: those whose hands are shown, in the order of their ribbons. ``mark`` is a draft
    unless whoever fills the record says otherwise. ``never_touch``: what used hands must not touch
    in any phase; the phases and rows tell only what comes to it. ``checked_on``: the day on which
    the mark was found. ``fingerprint``: of all that the protocol was read from, the short code
    that an audit prints for the same files (12 letters and digits, 60 bits). ``rules``: the titles
    of the files of rules that were asked as well. ``original``: of a translation, the sheet in the
    language of its protocol; names of the protocol stand there as it has them. ``exposes``: one of
    the steps makes an exposure.
    """

    title: str
    choices: tuple[tuple[str, str], ...]
    phases: tuple[SheetPhase, ...]
    persons: tuple[str, ...]
    room: str | None = None
    edition: int | None = None
    in_force: date | None = None
    review_by: date | None = None
    owner: str | None = None
    mark: Mark = field(default_factory=lambda: Draft("not checked"))
    cautions: tuple[str, ...] = ()
    never_touch: tuple[str, ...] = ()
    checked_on: date | None = None
    panels: tuple[Panel, ...] = ()
    fingerprint: str | None = None
    rules: tuple[str, ...] = ()
    exposes: bool = False
    waived: Waived | None = None
    language: str = "en"
    original: Sheet | None = None

    @property
    def as_named(self) -> Sheet:
        """The sheet on which people, things and choices have the names that the protocol uses."""
        return self.original or self


def rows(items: Iterable[Row | Group]) -> Iterator[Row]:
    """The rows of items and of the groups in them, in the order of their numbers."""
    for item in items:
        if isinstance(item, Row):
            yield item
        else:
            yield from rows(item.items)
