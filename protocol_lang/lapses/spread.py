"""Whom soil may reach once lapses are made: a bound for many sets at once, the answer for one.

The bound is the relaxed pass of the engine over a plan in which every set of lapses is a world of
its own, visit after visit. It follows more routes than there are: a set that is not among those it
finds opens nothing, in no order and no number of visits. For one set the exact engine answers.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from enum import Enum

from protocol_lang.contamination.judge import missteps_of
from protocol_lang.contamination.kernel import (
    OF_PATIENTS,
    Bits,
    Fit,
    Origin,
    Plan,
    Reached,
    Take,
    Tear,
    Unfit,
)
from protocol_lang.contamination.marks import GoesOn, Layout, Spread, class_groups, lay_out
from protocol_lang.contamination.paths import Paths, hardest_speaks_for_all
from protocol_lang.contamination.visits import Hit, Meanings, Soil, Suspect
from protocol_lang.lapses.making import Lapses, Made, Set
from protocol_lang.lapses.sets import any_place, at_every_place
from protocol_lang.order import decide, done_in_order
from protocol_lang.order.bits import members
from protocol_lang.order.effects import Effects
from protocol_lang.order.question import Budget, Effort, Found, Question
from protocol_lang.order.relaxed import forward


class Opens(Enum):
    """Between whom a path opens."""

    NEXT_PATIENT = "from a patient to another one"
    STAFF = "from a patient to staff"
    FROM_ROOM = "from staff or the room to a patient"


def opens(who: Reached, origin: Origin) -> Opens | None:
    """What it is that has opened when soil of that origin reaches somebody; None: no person."""
    if who is Reached.PATIENT:
        return Opens.NEXT_PATIENT if origin in OF_PATIENTS else Opens.FROM_ROOM
    if who in (Reached.STAFF, Reached.HANDS_AT_END) and origin in OF_PATIENTS:
        return Opens.STAFF
    return None


@dataclass(frozen=True, slots=True)
class Bound:
    """What many sets open, by their numbers as bits.

    ``surely``: those of which the very order in which the steps are listed shows it. ``perhaps``:
    those that relaxation leaves open besides. All others surely open no such path.
    """

    surely: dict[Opens, Bits]
    perhaps: dict[Opens, Bits]


def bound(
    lapses: Lapses, sets: Sequence[Set], wanted: frozenset[Opens] = frozenset(Opens)
) -> Bound:
    """Which of the sets open a path of those wanted, as far as two passes over all of them at once
    can tell."""
    return _bound(lapses, lapses.made(sets), wanted, [lapses.doing.order], relaxed=True)


def listed_only(lapses: Lapses, sets: Sequence[Set]) -> dict[Opens, Bits]:
    """Of many sets, by their numbers as bits, what opens in the very order that is listed."""
    made = lapses.made(sets)
    return _bound(lapses, made, frozenset(Opens), [lapses.doing.order], relaxed=False).surely


def several_orders(
    lapses: Lapses, sets: Sequence[Set], wanted: frozenset[Opens]
) -> dict[Opens, Bits]:
    """The same, if each visit may be done in the listed order or in one of a few others. These keep
    the fate of every cover and of all that is taken, so that with no set they lead to a misstep
    to which the listed order does not."""
    orders = [lapses.doing.order, *lapses.doing.other_orders]
    return _bound(lapses, lapses.made(sets), wanted, orders, relaxed=False).surely


def _bound(
    lapses: Lapses,
    made: Made,
    wanted: frozenset[Opens],
    orders: Sequence[tuple[int, ...]],
    relaxed: bool,
) -> Bound:
    layout = lay_out(made.plan)
    assert isinstance(layout, Layout)
    many, places = len(made.sets), len(made.worlds)
    surely, perhaps = dict.fromkeys(Opens, 0), dict.fromkeys(Opens, 0)
    of_events = [events_in(order, made, layout) for order in orders]
    meanings = Meanings(layout)
    for spread in spreads(layout):
        soil = Soil(spread, layout.worlds, made.ready, Budget(), Effort())
        effects: Effects | None = None

        def in_order(starts: Marks, spread: Spread = spread) -> Marks:
            hit: Marks = {}
            for order in of_events:
                for target, worlds in done_in_order(
                    layout.network, spread.carry, order, starts
                ).items():
                    hit[target] = hit.get(target, 0) | worlds
            return hit

        for origin in Origin:
            kinds = may_open(origin) & wanted
            starts = soil.starts(origin)
            if (origin is Origin.CHEMICAL) is not spread.chemical or not kinds or not starts:
                continue
            found = dict.fromkeys(Opens, 0)
            _follow(
                made,
                spread,
                meanings,
                origin,
                dict.fromkeys(starts, layout.worlds),
                in_order,
                found,
            )
            settled = (1 << many) - 1
            for what in kinds:
                surely[what] |= any_place(found[what], many, places)
                settled &= surely[what]
            # What the listed order has shown for all that is wanted need not be looked at again.
            open_worlds = layout.worlds & ~at_every_place(settled, many, places)
            if not relaxed or not open_worlds:
                continue
            if effects is None:
                effects = soil.table(layout.worlds)
            table = effects

            def any_order(starts: Marks, table: Effects = table) -> Marks:
                return forward(table, starts, within=starts).targets

            _follow(
                made,
                spread,
                meanings,
                origin,
                dict.fromkeys(starts, open_worlds),
                any_order,
                perhaps,
            )
    for what in Opens:
        perhaps[what] = any_place(perhaps[what], many, places) & ~surely[what]
        if what not in wanted:
            surely[what] = perhaps[what] = 0
    return Bound(surely, perhaps)


def may_open(origin: Origin) -> frozenset[Opens]:
    """All that soil of that origin can open."""
    told = (opens(who, origin) for who in Reached)
    return frozenset(what for what in told if what is not None)


def events_as_listed(lapses: Lapses, made: Made, layout: Layout) -> tuple[int, ...]:
    """The events of the plan with lapses in the order in which the acts are listed."""
    return events_in(lapses.doing.order, made, layout)


def events_in(order: Sequence[int], made: Made, layout: Layout) -> tuple[int, ...]:
    """The events of the plan with lapses in an order of the acts that they were."""
    place = {act: number for number, act in enumerate(order)}
    acts = sorted(range(len(made.acts)), key=lambda act: (place.get(made.acts[act], -1), act))
    return (*acts, *range(len(made.acts), layout.network.events))


def spreads(layout: Layout) -> Iterator[Spread]:
    """Of soil that moves alike, as much as has to be looked at to speak for all."""
    germs = class_groups(layout)
    for classes in germs[:1] if hardest_speaks_for_all(layout.plan) else germs:
        yield Spread(layout, classes)
    if any(source.origin is Origin.CHEMICAL for source in layout.plan.sources):
        yield Spread(layout, layout.plan.classes, chemical=True)


#: Positions or targets, each with worlds.
Marks = dict[int, Bits]


def _follow(
    made: Made,
    spread: Spread,
    meanings: Meanings,
    origin: Origin,
    starts: Marks,
    visit: Callable[[Marks], Marks],
    found: dict[Opens, Bits],
) -> None:
    """Soil of one origin, visit after visit; adds to ``found`` the worlds in which it opens what.

    ``visit``: from where soil is when a visit begins to the targets that it hits.
    """
    seen: Marks = {}
    own = True
    while starts:
        onward: Marks = {}
        for number, worlds in visit(starts).items():
            goal = spread.goals[number]
            if isinstance(goal, GoesOn):
                if worlds & made.ready:
                    into = onward.get(goal.position, 0)
                    onward[goal.position] = into | any_after(made, worlds & made.ready)
                continue
            for meaning in meanings.of(goal, origin, own):
                what = opens(meaning.who, origin)
                if what is not None:
                    found[what] |= worlds
        starts = {}
        for place, worlds in onward.items():
            fresh = worlds & ~seen.get(place, 0)
            if fresh:
                starts[place] = fresh
                seen[place] = seen.get(place, 0) | fresh
        own = False


def any_after(made: Made, worlds: Bits) -> Bits:
    """The worlds in which the visit can be that follows one in ``worlds``."""
    many, places = len(made.sets), len(made.worlds)
    found: Bits = 0
    for alike in made.alike:
        sets = any_place(worlds & alike, many, places)
        if sets:
            found |= at_every_place(sets, many, places) & alike
    return found


@dataclass(frozen=True, slots=True)
class Opened:
    """What one set of lapses opens. ``hits``: one for each kind of path that it opens, with the
    story of the nearest; ``classes``: of each, the classes of soil that get there. ``undecided``:
    the kinds of path of which it could not be told."""

    made: Made
    hits: dict[Opens, Hit]
    paths: Paths
    undecided: frozenset[Opens] = frozenset()


def opened(
    lapses: Lapses, lapsed: Set, wanted: frozenset[Opens], budget: Budget | None = None
) -> Opened:
    """What the set opens of what is wanted: exactly, in every order, over any number of visits.

    Visits in one world alone are asked about first: what they open is open.
    """
    for place in likeliest(lapses, lapsed)[:1]:
        if len(lapses.worlds) > 1:
            answer = _opened(lapses, lapsed, wanted, [place], budget)
            if wanted <= answer.hits.keys():
                return answer
    return _opened(lapses, lapsed, wanted, None, budget)


def likeliest(lapses: Lapses, lapsed: Set) -> list[int]:
    """The places of the worlds looked at in which all of the lapses can be made."""
    acts = [lapses.all[one].act for one in lapsed if lapses.all[one].act >= 0]
    return [
        place
        for place, world in enumerate(lapses.worlds)
        if all(lapses.plan.acts[act].worlds >> world & 1 for act in acts)
    ]


def _opened(
    lapses: Lapses,
    lapsed: Set,
    wanted: frozenset[Opens],
    only: Sequence[int] | None,
    budget: Budget | None,
) -> Opened:
    made = lapses.made([lapsed], only)
    layout = lay_out(made.plan)
    assert isinstance(layout, Layout)
    budget, effort = budget or Budget(), Effort()
    missteps, otherwise = missteps_of(layout, budget, effort)
    if missteps or otherwise & made.ready:
        made = replace(made, plan=_as_listed(lapses, made))
        layout = lay_out(made.plan)
        assert isinstance(layout, Layout)
        missteps, otherwise = missteps_of(layout, budget, effort)
    judged = layout.worlds & ~missteps
    paths = Paths(layout, judged, made.ready & judged & ~otherwise, budget, effort)
    by: dict[Opens, set[Suspect]] = {}
    for suspect in paths.suspects():
        what = opens(suspect.who, suspect.origin)
        if what in wanted:
            assert what is not None
            by.setdefault(what, set()).add(suspect)
    hits: dict[Opens, Hit] = {}
    undecided: set[Opens] = set()
    for what in Opens:
        if what in by:
            known = len(paths.undecided)
            hit = paths.first(frozenset(by[what]))
            if hit is not None and not _extends(lapses, made, hit, budget, effort):
                undecided.add(what)
            elif hit is not None:
                hits[what] = hit
            elif len(paths.undecided) > known:
                undecided.add(what)
    return Opened(made, hits, paths, frozenset(undecided))


def _extends(lapses: Lapses, made: Made, hit: Hit, budget: Budget, effort: Effort) -> bool:
    """Whether each run of the hit leaves room for the acts that take no place in it.

    They keep their place in the order all the same (rule 1 of the kernel), and were left aside.
    """
    if lapses.kept == (1 << len(lapses.plan.acts)) - 1:
        return True
    for leg in hit.legs:
        acts = [made.acts[act] for act in leg.order if act < len(made.acts)]
        order = tuple(dict.fromkeys(act for act in acts if act >= 0))
        question = Question(1, precedes=tuple(itertools.pairwise(order)))
        if not isinstance(decide(lapses.network, question, budget, effort), Found):
            return False
    return True


def _as_listed(lapses: Lapses, made: Made) -> Plan:
    """The plan in which acts that put on, take off, tear or take something keep the order in which
    they are listed."""
    at = {act: place for place, act in enumerate(lapses.doing.order)}
    handling = [
        number
        for number, act in enumerate(made.plan.acts[:-1])
        if any(isinstance(effect, Fit | Unfit | Tear | Take) for effect in act.effects)
        and made.acts[number] in at
    ]
    handling.sort(key=lambda number: (at[made.acts[number]], number))
    chain = tuple(itertools.pairwise(handling))
    return replace(made.plan, order=made.plan.order + chain)


def sets_in(bits: Bits, sets: Sequence[Set]) -> list[Set]:
    """The sets of those numbers."""
    return [sets[number] for number in members(bits)]
