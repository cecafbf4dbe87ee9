"""How likely sets of lapses are, by published rates: a comparison between designs, no forecast.

A set has happened when all of its lapses have; to the first order, lapses being independent, its
chance is the product of theirs, and the chances of all sets of one kind add up (the rare-event sum
of fault trees; minimal sets are what fault trees call minimal cut sets). The sum is an upper bound
of the chance that some set happens, and may be more than 1 where rates are high.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import prod
from typing import cast

from protocol_lang.contamination.kernel import Effect, Fit, Outer, Plan, Treat, Unfit, Wash, Wet
from protocol_lang.contamination.unfold import Unfolded
from protocol_lang.lapsed import Chance, Lapsed, Ranking, Sway
from protocol_lang.lapses.kinds import Kind
from protocol_lang.lapses.making import Lapses, Set
from protocol_lang.lapses.sampling import SAMPLES, Draws, Range
from protocol_lang.lapses.search import Smallest
from protocol_lang.lapses.spread import Opens
from protocol_lang.lapses.telling import MOST_LISTED, WORD, Teller, grouped
from protocol_lang.trade.rates import Rate, rates


@dataclass(frozen=True, slots=True)
class Habit:
    """A rate that lapses of one sort have: shares of 1, with the row of the table it is from."""

    name: str
    least: float
    usual: float
    most: float
    basis: str

    @property
    def range(self) -> Range:
        """The rate as it is drawn from."""
        return Range(self.least, self.usual, self.most)


def habits() -> dict[str, Habit]:
    """The rates by sort of lapse, from the shipped table; what it does not tell has none."""
    return {
        habit.name: habit
        for habit in (
            _missed(
                "hand cleaning left out",
                "hand hygiene, all",
                ("hand hygiene, students", "hand hygiene, staff"),
            ),
            _range(
                "cleaning or disinfection left out",
                "habit",
                "exposure button left out",
                ("control panel left out",),
                missed=("cone disinfected",),
            ),
            _range("gloves not worn", "habit", "no gloves while processing film"),
            _range(
                "sleeve in the mouth leaks",
                "cover",
                "plastic sheath, after one exposure",
                ("single barrier of 0.04 mm", "single barrier of 0.08 mm"),
            ),
            _behind_the_sleeve(),
            _range("glove with a hole", "glove", "routine dental care", ("students, pairs",)),
            _range(
                "gloves taken off uncleanly",
                "transfer",
                "the same, with gloves",
                ("the same, before training", "the same, after training"),
            ),
        )
    }


def _source(row: Rate) -> str:
    return f"{row.basis.document.short}: {_in_full(row)}"


def _in_full(row: Rate) -> str:
    """What was counted; a row that says "the same" means the last one before it that does not."""
    if not row.what.startswith(_SAME):
        return row.what
    before = next(table[: table.index(row)] for table in map(rates, _ABOUT) if row in table)
    first = next(one.what for one in reversed(before) if not one.what.startswith(_SAME))
    return first + row.what.removeprefix(_SAME)


_SAME = "the same"
_ABOUT = ("cover", "glove", "transfer", "habit")


def _row(about: str, what: str) -> Rate:
    return next(rate for rate in rates(about) if rate.what == what)


def _range(
    name: str, about: str, usual: str, others: tuple[str, ...] = (), missed: tuple[str, ...] = ()
) -> Habit:
    row = _row(about, usual)
    shares = [float(row.least), float(row.most)]
    for what in others:
        other = _row(about, what)
        shares += [float(other.least), float(other.most)]
    shares += [100 - float(_row(about, what).least) for what in missed]
    middle = (float(row.least) + float(row.most)) / 2
    return Habit(name, min(shares) / 100, middle / 100, max(shares) / 100, _source(row))


def _behind_the_sleeve() -> Habit:
    """The study counted where the sleeve and the finger cot over it both leaked. How often the
    outer one does where the sleeve does is that, divided by how often the sleeve alone does."""
    both = _row("cover", "the same with a finger cot")
    alone = _row("cover", "plastic sheath, after one exposure")
    least, most = float(both.least), float(both.most)
    return Habit(
        "cover over a sleeve leaks as well",
        least / float(alone.most),
        (least + most) / (float(alone.least) + float(alone.most)),
        most / float(alone.least),
        f"{_source(both)}, by {alone.what}",
    )


def _missed(name: str, usual: str, others: tuple[str, ...]) -> Habit:
    row = _row("habit", usual)
    shares = [100 - float(row.least), *(100 - float(_row("habit", one).least) for one in others)]
    return Habit(
        name, min(shares) / 100, (100 - float(row.least)) / 100, max(shares) / 100, _source(row)
    )


class Rated:
    """The rate of each lapse of a protocol; None where no study tells."""

    def __init__(self, unfolded: Unfolded, lapses: Lapses) -> None:
        self._plan: Plan = unfolded.plan
        self._hands = {body for _, body in lapses.doing.hands.of}
        self._mouth_going = {
            body
            for (owner, _), body in unfolded.bodies.items()
            if owner in unfolded.protocol.things and unfolded.protocol.things[owner].goes_in_mouth
        }
        #: Layers over another one, of things that go in the mouth.
        self._outer = {
            layer for body in self._mouth_going for layer in self._plan.bodies[body].layers[1:]
        }
        self._habits = habits()
        self.of = tuple(self._sort(lapses, number) for number in range(len(lapses.all)))

    def names(self, lapsed: Set) -> tuple[str | None, ...]:
        """The rates of the lapses of a set, by name and in their order; None where none is."""
        habits_of = [self.of[lapse] for lapse in lapsed]
        named = [None if habit is None else habit.name for habit in habits_of]
        return tuple(sorted(named, key=lambda name: name or ""))

    def products(self, sets: Iterable[Set]) -> Products:
        """The rates of some sets, all of which have one: each product once, with how often it is
        there."""
        return list(Counter(cast("tuple[str, ...]", self.names(one)) for one in sets).items())

    def _sort(self, lapses: Lapses, number: int) -> Habit | None:
        lapse = lapses.all[number]
        effects = self._plan.acts[lapse.act].effects if lapse.act >= 0 else ()
        match lapse.kind:
            case Kind.LEFT_OUT:
                name = self._left_out(effects)
            case Kind.BARE:
                name = "gloves not worn"
            case Kind.UNCLEAN:
                on = self._bodies(effects, Unfit)
                name = "gloves taken off uncleanly" if on & self._hands else None
            case Kind.LEAKS:
                fits = [
                    effect
                    for act in self._plan.acts
                    for effect in act.effects
                    if isinstance(effect, Fit) and effect.piece in lapse.pieces
                ]
                on = self._bodies(fits, Fit)
                name = None
                if on & self._hands:
                    name = "glove with a hole"
                elif any(self._outer & set(fit.layers) for fit in fits):
                    name = "cover over a sleeve leaks as well"
                elif on & self._mouth_going:
                    name = "sleeve in the mouth leaks"
            case _:
                name = None
        return None if name is None else self._habits[name]

    def _left_out(self, effects: tuple[Effect, ...]) -> str | None:
        if any(isinstance(effect, Unfit) for effect in effects):
            return None
        if self._bodies(effects, Fit):
            return "gloves not worn" if self._bodies(effects, Fit) & self._hands else None
        treated = {
            target.body
            for effect in effects
            if isinstance(effect, Treat | Wash)
            for target in effect.targets
            if isinstance(target, Outer)
        }
        if treated & self._hands:
            return "hand cleaning left out"
        if treated or any(isinstance(effect, Wet) for effect in effects):
            return "cleaning or disinfection left out"
        return None

    def _bodies(self, effects: Iterable[Effect], kind: type) -> set[int]:
        layers = {
            layer
            for effect in effects
            if isinstance(effect, Fit | Unfit) and isinstance(effect, kind)
            for layer in effect.layers
        }
        return {
            number for number, body in enumerate(self._plan.bodies) if layers & set(body.layers)
        }


def first_order(sets: Iterable[Sequence[float]]) -> float:
    """The rare-event sum: for each set the product of the chances of its lapses, added up."""
    return sum(prod(one) for one in sets)


def upper_bound(sets: Iterable[Sequence[float]]) -> float:
    """The minimal-cut-set upper bound of the chance that some set happens."""
    return 1 - prod(1 - prod(one) for one in sets)


def exactly(sets: Sequence[frozenset[str]], chance: Mapping[str, float]) -> float:
    """The chance that all lapses of some set happen, lapses being independent.

    By taking one lapse after the other as happened or not: exponential in the number of lapses.
    """
    if any(not one for one in sets):
        return 1.0
    if not sets:
        return 0.0
    pivot = min((sorted(one) for one in sets), key=len)[0]
    happened = [one - {pivot} for one in sets]
    spared = [one for one in sets if pivot not in one]
    share = chance[pivot]
    return share * exactly(happened, chance) + (1 - share) * exactly(spared, chance)


def ranked(told: Lapsed, unfolded: Unfolded, lapses: Lapses, smallest: Smallest) -> Lapsed:
    """The report with the chances of its sets, and what sways their sums.

    Draws need numpy, which is imported here and not before.
    """
    rated = Rated(unfolded, lapses)
    teller = Teller(unfolded, lapses)
    used = {habit.name: habit for habit in rated.of if habit is not None}
    draws = Draws({name: habit.range for name, habit in used.items()})
    rankings: list[Ranking] = []
    without = 0
    chances: list[Chance | None] = []
    for what in Opens:
        full = [one for one in smallest.sets[what] if None not in rated.names(one)]
        without += len(smallest.sets[what]) - len(full)
        if full:
            rankings.append(_ranking(WORD[what], rated.products(full), used, draws))
        for alike in list(grouped(teller, smallest.sets[what]).values())[:MOST_LISTED]:
            known = all(None not in rated.names(one) for one in alike)
            chances.append(_chance(rated.products(alike), used, draws) if known else None)
    unchecked = told.unchecked
    if without:
        unchecked = (
            *unchecked,
            f"the chances of {without} sets: no study tells the rate of one of their lapses",
        )
    sets = tuple(
        replace(one, chance=chance) for one, chance in zip(told.sets, chances, strict=True)
    )
    return replace(told, rankings=tuple(rankings), sets=sets, unchecked=unchecked)


#: Rates by name that are multiplied, each product with how often it is to be added.
Products = Sequence[tuple[tuple[str, ...], int]]


def _total(products: Products, values: Mapping[str, float]) -> float:
    """The rare-event sum, with products that are the same worked out once."""
    return sum(times * prod(values[name] for name in names) for names, times in products)


def _chance(products: Products, used: Mapping[str, Habit], draws: Draws) -> Chance:
    """The chance that one of these sets happens, to the first order."""
    least, usual, most = (
        _total(products, {name: getattr(habit, end) for name, habit in used.items()})
        for end in ("least", "usual", "most")
    )
    return Chance(least, usual, most, *draws.middle(products))


def _ranking(opens: str, products: Products, known: Mapping[str, Habit], draws: Draws) -> Ranking:
    """The sum with the usual rates, its range over draws, and each rate at its ends."""
    used = [known[name] for name in dict.fromkeys(name for names, _ in products for name in names)]
    usual = {habit.name: habit.usual for habit in used}
    sways = [
        Sway(
            habit.name,
            habit.least,
            habit.usual,
            habit.most,
            _total(products, {**usual, habit.name: habit.least}),
            _total(products, {**usual, habit.name: habit.most}),
            habit.basis,
        )
        for habit in used
    ]
    sways.sort(key=lambda sway: sway.low - sway.high)
    low, high = draws.middle(products)
    return Ranking(opens, _total(products, usual), low, high, SAMPLES, tuple(sways))
