"""How long a visit takes, as facts to be told: records only.

Times are whole numbers of thousandths of a second.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from protocol_lang.text import Place

#: Choices by name, in the order of the protocol.
Pairs = tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Span:
    """From the least to the most. ``sure``: both are the least times that any order allows, with
    all lengths at their least and at their most; else the search was broken off, and ``least`` is
    a bound that no order gets below, ``most`` what some order needs."""

    least: int
    most: int
    sure: bool = True


@dataclass(frozen=True, slots=True)
class Case:
    """One way to settle the choices before the visit.

    ``ready``: from the first step until the next patient can come in. ``turnover``: of that, from
    when the patient has left. ``whole``: until all is done, where a part may run into the next
    visit. ``patients``: how many in a session, the fewest and the most. ``open``: what is free or
    found out on the way makes the span wider.
    """

    choices: Pairs
    ready: Span
    turnover: Span | None
    whole: Span | None
    patients: tuple[int, int] | None
    open: bool


@dataclass(frozen=True, slots=True)
class Bar:
    """One step, or a wait, as it runs. ``slack``: how much later it could end with nothing else
    later than the visit's end. ``person``: "" where it is nobody's."""

    person: str
    text: str
    phase: str
    start: int
    end: int
    slack: int
    wait: bool
    place: Place | None

    @property
    def critical(self) -> bool:
        """Whether the visit takes longer as soon as this does."""
        return self.slack == 0


@dataclass(frozen=True, slots=True)
class Course:
    """One visit as it runs in the best order, each step as long as the middle of its span."""

    choices: Pairs
    bars: tuple[Bar, ...]
    ready: int
    sure: bool


class Kept(Enum):
    """Whether a contact time is kept."""

    SURELY = "surely"
    TOO_SHORT = "too short"
    UNDECIDED = "not decided"


@dataclass(frozen=True, slots=True)
class Told:
    """A step with its length."""

    text: str
    person: str
    length: int
    wait: bool = False


@dataclass(frozen=True, slots=True)
class Contact:
    """A contact time: what is wetted, and what may touch it next.

    ``label``: how long it has to stay wet. ``least``: how long it surely does; if too short, how
    long in the order shown. ``because``: the steps that surely lie between; ``load``: in whatever
    order, since one person does them all. ``without_waits``: what these steps come to if nobody
    waits. ``story``: if too short, the steps of the order from wetting to touching. ``choices``: in
    which visit. ``touch`` None: the visit is over.
    """

    wetting: str
    place: Place | None
    things: tuple[str, ...]
    touch: str | None
    label: int
    kept: Kept
    least: int
    because: tuple[Told, ...] = ()
    load: bool = False
    without_waits: int | None = None
    story: tuple[Told, ...] = ()
    choices: Pairs = ()


@dataclass(frozen=True, slots=True)
class Drying:
    """A label that asks for longer than a product stays wet: ``label``, how long it stays wet at
    the most, and how often it has to be put on. ``gap``: between two times in the protocol, in the
    best order and each step at its longest; None if it is put on once."""

    wetting: str
    place: Place | None
    label: int
    wet: int
    times: int
    gap: int | None = None


@dataclass(frozen=True, slots=True)
class Clearing:
    """The air of a place: minutes until it is clear, of published figures."""

    where: str
    changes: str
    percent: str
    minutes: int


@dataclass(frozen=True, slots=True)
class Gain:
    """A change that saves time. ``sort``: "helper", "product" or "another". ``what``: the steps,
    the product or the thing; ``who``: the helper; ``minutes``: what the label of the other product
    asks for."""

    sort: str
    what: tuple[str, ...]
    saved: int
    sure: bool
    who: str = ""
    minutes: int = 0


@dataclass(frozen=True, slots=True)
class Timetable:
    """All that is worked out of one protocol. ``untold``: steps of which no time is told, which are
    taken to take none. ``session``: in minutes. ``rounds``: what is repeated, and how often it is
    done at the most in what was worked out. ``mishaps``: there are some, and they are left out."""

    title: str
    cases: tuple[Case, ...]
    course: Course
    contacts: tuple[Contact, ...]
    drying: tuple[Drying, ...]
    clearing: tuple[Clearing, ...]
    gains: tuple[Gain, ...]
    untold: tuple[str, ...]
    session: int
    rounds: tuple[tuple[str, int, int], ...] = ()
    mishaps: bool = False
