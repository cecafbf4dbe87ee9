"""What lapses do to a protocol, as facts for the report: margins, smallest sets, steps, covers."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from protocol_lang.findings import Route
from protocol_lang.text import Place


@dataclass(frozen=True, slots=True)
class Slip:
    """One lapse in the author's terms.

    ``kind``: "left out", "cut short", "leaks", "unclean" or "bare". ``step``: the sentence of the
    step; of a leak, that which puts the cover on (None: it is on when a visit begins). ``cover``:
    of a leak, what leaks and on what. ``where``: the place in the author's structure. ``alike``: so
    many lapses of the same line are told as one (several things, several rounds).
    """

    kind: str
    step: str | None
    place: Place | None
    where: str | None = None
    cover: str | None = None
    alike: int = 1


@dataclass(frozen=True, slots=True)
class Chance:
    """How likely, to the first order; shares of 1.

    ``least`` and ``most``: with every rate at that end of its range. ``low`` and ``high``: between
    these lie nine in ten draws from the ranges.
    """

    least: float
    usual: float
    most: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class SlipSet:
    """Lapses that together open a path and of which none can be spared.

    ``opens``: "patient", "staff" or "room" (see :class:`Margin`). ``alike``: so many sets of the
    same lines are told as one. ``classes``: the classes that get through; none: all of them.
    """

    opens: str
    slips: tuple[Slip, ...]
    route: Route | None = None
    reached: str = ""
    classes: tuple[str, ...] = ()
    alike: int = 1
    chance: Chance | None = None


@dataclass(frozen=True, slots=True)
class Margin:
    """The fewest lapses that open a path: from a patient to another one ("patient"), from a patient
    to staff ("staff"), from staff or the room to a patient ("room").

    ``least``: None if more than ``beyond`` are needed. ``sure``: false if a smaller set was not
    decided.
    """

    opens: str
    least: int | None
    beyond: int
    sure: bool = True


@dataclass(frozen=True, slots=True)
class Alone:
    """What one lapse alone opens. ``classes``: the classes of germs that get through, where they
    were asked for and are not all."""

    slip: Slip
    opens: tuple[str, ...]
    classes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Spreads:
    """How many single lapses let a class of germs through, by kind of path."""

    klass: str
    singles: Mapping[str, int]


@dataclass(frozen=True, slots=True)
class Never:
    """A sentence that is never carried out, at none of the ``times`` places where it stands."""

    step: str
    times: int
    opens: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Sway:
    """How far a rate sways the whole: the sum of the chances with it at its least (``low``) and its
    most (``high``), all other rates being as usual."""

    rate: str
    least: float
    usual: float
    most: float
    low: float
    high: float
    basis: str = ""


@dataclass(frozen=True, slots=True)
class Ranking:
    """The chances of all sets of one kind of path, summed: by the usual rates, and where nine in
    ten of ``samples`` draws from their ranges lie. A comparison between designs, no forecast."""

    opens: str
    usual: float
    low: float
    high: float
    samples: int
    sways: tuple[Sway, ...] = ()


@dataclass(frozen=True, slots=True)
class Edit:
    """What is to be typed at one place of a text.

    ``how``: "before" or "after" the step or declaration at line ``at``, "instead" of it, or "away".
    ``said``: what stands at that line. The ``lines`` come in, with their blanks, before line
    ``line``, from which on ``out`` lines go.
    """

    file: str
    how: str
    at: int
    said: str
    line: int
    out: int
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Tally:
    """What lapses open, by kind of path ("patient", "staff", "room").

    ``margins``: None where more lapses are needed than were put together. ``singles``: how many
    lapses open it alone. ``chances``: those of the sets, added up, by the usual rates; a set with a
    lapse of which no study tells a rate is not in it.
    """

    margins: Mapping[str, int | None]
    singles: Mapping[str, int]
    chances: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class Change:
    """A single change to the text that was tried and helps, and what lapses open with it.

    ``kind``: "clean hands", "change gloves", "disinfect", "cover", "cover over it", "move",
    "helper" or "level".
    """

    kind: str
    edits: tuple[Edit, ...]
    after: Tally


@dataclass(frozen=True, slots=True)
class Tried:
    """How many changes of a kind were thought of, and what came of those that were tried.

    ``faulty``: something new is to be corrected or considered with it; ``undecided``: it, or its
    lapses, could not be decided; ``mixed``: it is better in one thing and worse in another;
    ``no_better``: a margin is smaller, or nothing is better on the whole.
    """

    kind: str
    thought_of: int
    tried: int = 0
    helped: int = 0
    faulty: int = 0
    undecided: int = 0
    mixed: int = 0
    no_better: int = 0


@dataclass(frozen=True, slots=True)
class Improvement:
    """Single changes that were tried, the best first among those that help.

    ``together``: so many lapses were put together with each change, and before (``before``).
    ``mixed``: changes that raise a margin or cut the ranking, and have more single lapses.
    """

    together: int
    before: Tally
    changes: tuple[Change, ...] = ()
    mixed: tuple[Change, ...] = ()
    tried: tuple[Tried, ...] = ()


@dataclass(frozen=True, slots=True)
class Lapsed:
    """All that is told of lapses in one protocol.

    ``already``: sentences of what is to be corrected as it is; then nothing else was looked at.
    ``open_sets``: how many of each kind there are in all (by ``opens``), listed or not.
    ``combinations``: how many combinations of choices; ``mishaps``: what is not looked at together
    with lapses; ``only``: choices asked for; ``undecided``: how many sets were not decided.
    ``by_class``: by class of germs, the hardest first; empty if not asked for.
    ``improvement``: None if changes were not asked for.
    """

    file: str
    title: str
    edition: int | None
    already: tuple[str, ...] = ()
    margins: tuple[Margin, ...] = ()
    sets: tuple[SlipSet, ...] = ()
    open_sets: Mapping[str, int] = field(default_factory=dict)
    alone: tuple[Alone, ...] = ()
    by_class: tuple[Spreads, ...] = ()
    never: tuple[Never, ...] = ()
    lapses: int = 0
    most: int = 0
    looked_at: int = 0
    undecided: int = 0
    combinations: int = 1
    mishaps: tuple[str, ...] = ()
    only: tuple[tuple[str, str], ...] = ()
    rankings: tuple[Ranking, ...] = ()
    improvement: Improvement | None = None
    unchecked: tuple[str, ...] = ()
