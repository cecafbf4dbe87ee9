"""What a protocol uses up, as values that reports show: counts, sessions, orders, what comes back.

A count is a number of pieces; of what is worn on both hands a piece is a pair. Where the number
differs from visit to visit it is told as a range, and both ends are attained in some permitted
visit. docs/meaning/stock.md defines each number.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum
from fractions import Fraction


@dataclass(frozen=True, slots=True, order=True)
class Range:
    """From the least to the most that it can be."""

    least: int
    most: int

    def __add__(self, other: Range) -> Range:
        return Range(self.least + other.least, self.most + other.most)

    def times(self, many: Range) -> Range:
        """As many times over; neither range may go below nothing."""
        return Range(self.least * many.least, self.most * many.most)

    @property
    def settled(self) -> bool:
        """Whether it is one number."""
        return self.least == self.most


NONE = Range(0, 0)


class Unit(Enum):
    """What one of a thing is."""

    PIECE = "piece"
    PAIR = "pair"


class Given(Enum):
    """Where a number comes from that no step tells."""

    ASKED = "told with the command"
    FIGURE = "a figure of the protocol or its room"
    USUAL = "a usual value"


@dataclass(frozen=True, slots=True)
class ByChoice:
    """How a count goes with one choice: a range for each of its values, in their order."""

    choice: str
    values: tuple[tuple[str, Range], ...]


@dataclass(frozen=True, slots=True)
class Count:
    """How many of a thing, and the choices on which the number depends."""

    thing: str
    unit: Unit
    number: Range
    by: tuple[ByChoice, ...] = ()


@dataclass(frozen=True, slots=True)
class Waste:
    """What goes into one stream: pieces, of which things; ``stream`` None: no stream is told.

    ``grams``: what they weigh, where the weight of all of them is told.
    """

    stream: str | None
    number: Range
    things: tuple[str, ...]
    grams: tuple[Fraction, Fraction] | None = None


@dataclass(frozen=True, slots=True)
class More:
    """What a mishap takes beyond the same visit without it."""

    mishap: str
    counts: tuple[Count, ...]


@dataclass(frozen=True, slots=True)
class Turn:
    """What is used up each time that one protocol is done, with what follows it.

    ``patient``: somebody is a patient in it. ``ways``: in how many ways it can go that differ in
    what is done. ``each``: what is taken once for each piece that is treated, where one thing
    stands for all that lie in a box; ``used``: all else. ``back``: what leaves to be treated and
    comes back, with the title of the protocol that sees to it (None: nobody says which). ``own``:
    what patients bring along and take home, which is not counted. ``not_counted``: mishaps that
    were too many to be counted.
    """

    title: str
    patient: bool
    ways: int
    used: tuple[Count, ...]
    each: tuple[Count, ...]
    waste: tuple[Waste, ...]
    back: tuple[tuple[Count, str | None], ...]
    mishaps: tuple[More, ...]
    own: tuple[str, ...] = ()
    not_counted: bool = False


@dataclass(frozen=True, slots=True)
class Session:
    """What a session uses up: its visits, opening and closing, and the loads that are treated.

    ``loads``: how many there are; ``pieces``: how many pieces are treated in them.
    """

    visits: Range
    used: tuple[Count, ...]
    waste: tuple[Waste, ...]
    loads: Range
    pieces: Range


@dataclass(frozen=True, slots=True)
class Ordered:
    """One line of an order: what is expected to be used, what is added for safety, and the whole.

    ``pieces``: the sum of both, as a whole number. ``box``: how many are in one box, ``boxes``:
    how many of them; None where nobody tells.
    """

    thing: str
    unit: Unit
    expected: Fraction
    safety: float
    pieces: int
    box: int | None = None
    boxes: int | None = None


@dataclass(frozen=True, slots=True)
class Order:
    """An order list. ``mixed``: from a mix of visits; else every visit is taken to use the most.

    ``service``: the part of such periods in which it lasts; ``days``: how long it has to.
    ``not_so``: what is found out on the way, and is taken not to be so.
    """

    lines: tuple[Ordered, ...]
    days: int
    service: Fraction
    mixed: bool
    not_so: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Load:
    """A load that is treated: from when to when, in minutes after midnight of the first day; how
    many pieces are in it, and how many had to wait for a later one."""

    start: int
    end: int
    pieces: int
    left: int


@dataclass(frozen=True, slots=True)
class Cycling:
    """How many of a thing are needed so that none is used before it is back.

    ``visit``: how many one visit takes at most. ``least``: enough for a day in which each visit
    takes the most; ``one_fails``: and one load has to be treated again. ``mixed``: enough in that
    part of the days of a mix that the service level asks for. ``to``: who treats it. ``at``: when
    most of them are out, in minutes after midnight. None: no number is enough, since more are used
    in a day than are treated.
    """

    thing: str
    unit: Unit
    to: str | None
    visit: int
    least: int | None
    one_fails: int | None
    mixed: int | None
    at: int | None


@dataclass(frozen=True, slots=True)
class Kept:
    """Things kept among others like them, which are back in their box when the visit ends.

    ``number``: how many are in use at once.
    """

    box: str
    things: tuple[str, ...]
    number: Range


@dataclass(frozen=True, slots=True)
class Assumed:
    """A number that no step tells. ``name``: of which; ``value``: as it is said; ``option``: with
    what it is told."""

    name: str
    value: str
    given: Given
    option: str


@dataclass(frozen=True, slots=True)
class Share:
    """A part of the visits: so much of them, and the values that are settled in it."""

    part: Fraction
    settled: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Supplies:
    """All that is told of a protocol or a day. ``is_day``: all that happens in a room;
    ``running_on``: one visit may begin before the last one is over."""

    title: str
    edition: int | None
    file: str
    is_day: bool
    running_on: bool
    turns: tuple[Turn, ...]
    session: Session
    order: Order
    cycling: tuple[Cycling, ...]
    loads: tuple[Load, ...]
    kept: tuple[Kept, ...]
    assumed: tuple[Assumed, ...]
    mix: tuple[Share, ...]
