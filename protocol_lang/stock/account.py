"""All that is told of a protocol or a day, put together from its parts."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from protocol_lang.contamination.unfold.worlds import Combination
from protocol_lang.model.protocol import Protocol, Role
from protocol_lang.stock.asked import Asked, Numbers, numbers_of, weights_of
from protocol_lang.stock.cycle import run, timetable
from protocol_lang.stock.demand import boxes, of_a_day, of_one, pieces, safety
from protocol_lang.stock.mix import Weighed, weighed
from protocol_lang.stock.needed import Reusable, needed
from protocol_lang.stock.ranges import Counted, counted, spread, unit_of
from protocol_lang.stock.turns import parts_of
from protocol_lang.supplied import (
    NONE,
    Count,
    Kept,
    Order,
    Ordered,
    Range,
    Session,
    Supplies,
    Waste,
)


def account_of(
    protocol: Protocol, file: str, only: Combination | None = None, asked: Asked | None = None
) -> Supplies:
    """What a protocol or a day uses up. ``only``: choices to which it is limited.

    Raises :class:`~protocol_lang.stock.faults.CannotCount` with a sentence.
    """
    asked, only = asked or Asked(), only or {}
    weights = weights_of(protocol)
    every = [counted(part, only, weights) for part in parts_of(protocol)]
    kept = tuple(_kept(protocol, every))
    parts = [one for one in every if not one.part.overlapping]
    visits = [one for one in parts if one.part.role is Role.VISIT]
    beside = [one for one in parts if one.part.role is Role.BESIDE]
    daily = [one for one in parts if one not in visits and one not in beside]
    back = _back(visits)
    treats = any(one.turn.each for one in parts)
    patient = any(one.turn.patient for one in visits)
    numbers = numbers_of(protocol, asked, bool(back), treats, patient)
    mix = weighed(asked.mix, visits) if asked.mix else ()
    if back:
        load = _Loads(numbers, visits, beside)
        cycle = needed(numbers, back, _most_at_once(visits), mix)
        cycling, loads = cycle.cycling, cycle.loads
    else:
        load = _Loads(numbers, (), ())
        cycling, loads = (), ()
    if not back and treats:
        # The protocol of the loads by itself: each time it is done it is a full load.
        full = Range(numbers.places, numbers.places)
        load.pieces, load.alone = numbers.visits.times(full), full
    session = _session(protocol, numbers, visits, daily, load)
    order = _order(protocol, numbers, visits, daily, load, mix)
    header = protocol.header
    return Supplies(
        header.title,
        header.edition,
        file,
        any(part.role is Role.VISIT for part in protocol.parts),
        len(parts) < len(every),
        tuple(one.turn for one in parts),
        session,
        order,
        cycling,
        loads,
        kept,
        numbers.assumed,
        asked.mix,
    )


# --- What comes back -----------------------------------------------------------------------------


def _back(visits: Sequence[Counted]) -> tuple[Reusable, ...]:
    """Each thing that visits give to be treated, and how many one takes at most."""
    found: dict[str, Reusable] = {}
    for one in visits:
        for count, to in one.turn.back:
            before = found.get(count.thing)
            most = max(count.number.most, before.most if before else 0)
            found[count.thing] = Reusable(count.thing, count.unit, to, most)
    return tuple(found.values())


def _at_once(visits: Sequence[Counted]) -> list[Range]:
    """How many pieces of all that comes back each kind of visit takes."""
    found = []
    for one in visits:
        names = {count.thing for count, _ in one.turn.back}
        sums = [
            sum(way.used.taken.get(name, 0) + way.used.each.get(name, 0) for name in names)
            for way in one.ways
        ]
        found.append(spread(sums))
    return found


def _most_at_once(visits: Sequence[Counted]) -> int:
    return max(one.most for one in _at_once(visits))


class _Loads:
    """How many loads a day has, and how many pieces are treated in them, in a day of a room.

    ``number``, ``pieces``: from a day of visits that take the least to one of those that take the
    most; ``beside``: the protocols by which they are treated. ``alone``: of a protocol of loads by
    itself, the pieces of one load.
    """

    def __init__(
        self, numbers: Numbers, visits: Sequence[Counted], beside: Sequence[Counted]
    ) -> None:
        titles = {to.casefold() for one in visits for _, to in one.turn.back if to is not None}
        self.beside = [one for one in beside if one.part.title.casefold() in titles]
        self.number, self.pieces, self.alone = NONE, NONE, NONE
        if not self.beside:
            return
        at_once = _at_once(visits)
        each = Range(min(one.least for one in at_once), max(one.most for one in at_once))
        self.pieces = each.times(numbers.visits)
        least, most = (
            _loads_of_a_day(numbers, many, one)
            for many, one in ((numbers.visits.least, each.least), (numbers.visits.most, each.most))
        )
        self.number = Range(least, most)


def _loads_of_a_day(numbers: Numbers, visits: int, each: int) -> int:
    """How many loads it takes until all is treated that visits of a day give."""
    table = timetable(
        visits, numbers.every, numbers.opens, numbers.loads, numbers.between, numbers.cycle,
        numbers.places,
    )  # fmt: skip
    day = [{"": each}] * visits
    days: list[Sequence[Mapping[str, int]]] = [day]
    found = run(table, days)
    while found.left and len(days) < 30:
        days.append(())
        found = run(table, days)
    return len(found.loads)


def _kept(protocol: Protocol, every: Iterable[Counted]) -> Iterable[Kept]:
    """Things that are one of many, by their box."""
    boxes_of: dict[str, set[str]] = {}
    numbers: dict[str, list[int]] = {}
    things: dict[str, str] = {}
    for one in every:
        own = one.part.protocol.things
        boxed = {name: own[name].kept_in or "" for way in one.ways for name in way.used.kept}
        for box in set(boxed.values()):
            numbers.setdefault(box, []).extend(
                sum(boxed[name] == box for name in way.used.kept) for way in one.ways
            )
        for name, box in boxed.items():
            boxes_of.setdefault(box, set()).add(name)
            things[name] = box
    for box, names in boxes_of.items():
        told = [name for name in protocol.things if name in names and not _again(name, names)]
        yield Kept(box, tuple(told), spread(numbers[box]))


def _again(name: str, names: Iterable[str]) -> bool:
    """Whether it is a thing of a visit that begins before the last one is over."""
    return any(name != other and name.startswith(f"{other} (") for other in names)


# --- A session -----------------------------------------------------------------------------------


def _session(
    protocol: Protocol,
    numbers: Numbers,
    visits: Sequence[Counted],
    daily: Sequence[Counted],
    load: _Loads,
) -> Session:
    things = _in_order(protocol, (*visits, *daily, *load.beside))
    used = []
    for name in things:
        one = _over(visits, lambda turn: turn.turn.used, name)
        number = one.times(numbers.visits)
        number += _over(visits, lambda turn: turn.turn.each, name).times(load.pieces)
        for turn in daily:
            number += _of(turn.turn.used, name)
        for turn in load.beside:
            number += _of(turn.turn.used, name).times(load.number)
            number += _of(turn.turn.each, name).times(load.pieces)
        if number.most:
            used.append(Count(name, unit_of(protocol.things[name]), number))
    waste = _Bins()
    waste.any_of([one.waste_once for one in visits], numbers.visits)
    if load.alone.most:
        waste.any_of([one.waste_each for one in visits], load.pieces)
    for turn in daily:
        waste.add(turn.waste_once, Range(1, 1))
    for turn in load.beside:
        waste.add(turn.waste_once, load.number)
        waste.add(turn.waste_each, load.pieces)
    return Session(numbers.visits, tuple(used), waste.told(protocol), load.number, load.pieces)


def _in_order(protocol: Protocol, turns: Iterable[Counted]) -> list[str]:
    """What is used, in the order of the room; not what is treated and comes back."""
    turns = tuple(turns)
    met = {count.thing for one in turns for count in (*one.turn.used, *one.turn.each)}
    met -= {count.thing for one in turns for count, _ in one.turn.back}
    return [name for name in protocol.things if name in met]


def _of(counts: Iterable[Count], name: str) -> Range:
    return next((count.number for count in counts if count.thing == name), NONE)


def _over(turns: Sequence[Counted], of: object, name: str) -> Range:
    """From the turn that takes the least of it to the one that takes the most."""
    assert callable(of)
    ranges = [_of(of(turn), name) for turn in turns]
    return Range(min(one.least for one in ranges), max(one.most for one in ranges))


@dataclass(slots=True)
class _Bin:
    number: Range
    things: dict[str, None]
    grams: tuple[Fraction, Fraction] | None


class _Bins:
    """Waste of several turns together, by stream."""

    def __init__(self) -> None:
        self._bins: dict[str | None, _Bin] = {}

    def add(self, wastes: Iterable[Waste], many: Range) -> None:
        """A turn that is done so many times."""
        for one in wastes:
            self._put(one.stream, one.number.times(many), one.things, _times(one.grams, many))

    def any_of(self, turns: Sequence[Iterable[Waste]], many: Range) -> None:
        """Turns of which one is done, whichever, so many times."""
        by_stream = [{one.stream: one for one in wastes} for wastes in turns]
        for stream in dict.fromkeys(one for wastes in by_stream for one in wastes):
            here = [wastes.get(stream, Waste(stream, NONE, (), _NO_WEIGHT)) for wastes in by_stream]
            number = Range(min(w.number.least for w in here), max(w.number.most for w in here))
            grams: tuple[Fraction, Fraction] | None = None
            weighed = [one.grams for one in here if one.grams is not None]
            if len(weighed) == len(here):
                grams = (min(least for least, _ in weighed), max(most for _, most in weighed))
            things = [name for one in here for name in one.things]
            self._put(stream, number.times(many), things, _times(grams, many))

    def _put(
        self,
        stream: str | None,
        number: Range,
        things: Iterable[str],
        grams: tuple[Fraction, Fraction] | None,
    ) -> None:
        found = self._bins.setdefault(stream, _Bin(NONE, {}, _NO_WEIGHT))
        found.number += number
        found.things.update(dict.fromkeys(things))
        if found.grams is None or grams is None:
            found.grams = None
        else:
            found.grams = (found.grams[0] + grams[0], found.grams[1] + grams[1])

    def told(self, protocol: Protocol) -> tuple[Waste, ...]:
        """All streams into which something goes, in the order of the room."""
        order = [*protocol.streams, *sorted(one for one in self._bins if one is not None), None]
        return tuple(
            Waste(
                stream,
                self._bins[stream].number,
                tuple(name for name in protocol.things if name in self._bins[stream].things),
                self._bins[stream].grams,
            )
            for stream in dict.fromkeys(order)
            if stream in self._bins
        )


_NO_WEIGHT = (Fraction(), Fraction())


def _times(
    grams: tuple[Fraction, Fraction] | None, many: Range
) -> tuple[Fraction, Fraction] | None:
    return None if grams is None else (grams[0] * many.least, grams[1] * many.most)


# --- An order ------------------------------------------------------------------------------------


def _order(
    protocol: Protocol,
    numbers: Numbers,
    visits: Sequence[Counted],
    daily: Sequence[Counted],
    load: _Loads,
    mix: Sequence[Weighed],
) -> Order:
    """What to order. What is treated with a visit's pieces is reckoned to that visit; what each
    load takes, and opening and closing, are needed on each day."""
    service = numbers.service / 100
    lines = []
    for name in _in_order(protocol, (*visits, *daily, *load.beside)):
        each = sum(turn.planned(name, each=True) for turn in load.beside)
        if mix:
            parts = [
                (one.part, one.uses.get(name, 0) + each * sum(one.back.values())) for one in mix
            ]
        else:
            parts = [(Fraction(1), _most_of_a_visit(visits, name, each, load))]
        always = sum(turn.planned(name) for turn in daily)
        always += sum(turn.planned(name) for turn in load.beside) * load.number.most
        day = of_a_day(of_one(parts), numbers.visits).plus(Fraction(always))
        demand = day.over(numbers.days)
        added = safety(demand, service)
        whole = pieces(demand, added)
        if whole:
            size, many = boxes(whole, numbers.boxes, name)
            unit = unit_of(protocol.things[name])
            lines.append(Ordered(name, unit, demand.mean, added, whole, size, many))
    met = [name for one in (*visits, *daily, *load.beside) for name in one.found_out]
    facts = dict.fromkeys(one.name for one in protocol.choices if one.name in met)
    return Order(tuple(lines), numbers.days, service, bool(mix), tuple(facts))


def _most_of_a_visit(visits: Sequence[Counted], name: str, each: int, load: _Loads) -> int:
    """The most that a visit takes, and what is treated because of it."""
    found = [
        one.planned(name) + one.planned(name, each=True) * load.alone.most + each * at_once.most
        for one, at_once in zip(visits, _at_once(visits), strict=True)
    ]
    return max(found)
