"""How soil gets on once a set of lapses is made: one run, in the order in which steps are listed.

A run of that order is a proof that a path is open, and the plainest story of it. Only where that
order shows nothing is the exact engine asked for another one.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from protocol_lang.contamination.kernel import OF_PATIENTS, Origin
from protocol_lang.contamination.marks import GoesOn, Layout, Spread, class_groups, lay_out
from protocol_lang.contamination.paths import hardest_speaks_for_all
from protocol_lang.contamination.visits import Hit, Leg, Meanings, Soil
from protocol_lang.lapses.making import Lapses, Made, Set
from protocol_lang.lapses.spread import Opens, events_as_listed, likeliest, opened, opens
from protocol_lang.order import traced
from protocol_lang.order.question import Budget, Effort


@dataclass(frozen=True, slots=True)
class Shown:
    """A run of a set that shows what it opens. ``classes``: those that get there in it."""

    made: Made
    hit: Hit
    classes: tuple[str, ...]


def shown(lapses: Lapses, lapsed: Set, what: Opens) -> Shown | None:
    """How the set opens it; None if it does not."""
    for place in likeliest(lapses, lapsed):
        made = lapses.made([lapsed], [place])
        layout = lay_out(made.plan)
        assert isinstance(layout, Layout)
        order = events_as_listed(lapses, made, layout)
        germs = class_groups(layout)
        groups = [(classes, False) for classes in germs]
        if any(source.origin is Origin.CHEMICAL for source in made.plan.sources):
            groups.append((made.plan.classes, True))
        reaching: list[tuple[Hit, tuple[str, ...]]] = []
        for classes, chemical in groups:
            if (
                not reaching
                and classes != germs[0]
                and not chemical
                and hardest_speaks_for_all(made.plan)
            ):
                continue  # where the hardest does not get, no easier one does
            hit = _first(made, layout, Spread(layout, classes, chemical=chemical), order, what)
            if hit is not None:
                reaching.append((hit, classes))
        if reaching:
            hit = reaching[0][0]
            of_germs = tuple(
                klass
                for one, classes in reaching
                if one.origin is not Origin.CHEMICAL
                for klass in classes
            )
            return Shown(made, hit, () if len(of_germs) >= len(made.plan.classes) else of_germs)
    answer = opened(lapses, lapsed, frozenset({what}))
    found = answer.hits.get(what)
    if found is None:
        return None
    through = answer.paths.classes_reaching(found)
    every = len(through) == len(made.plan.classes)
    return Shown(answer.made, found, () if every else through)


def _first(
    made: Made, layout: Layout, spread: Spread, order: tuple[int, ...], what: Opens
) -> Hit | None:
    """The hit with the fewest visits in the first world in which this order shows one."""
    soil = Soil(spread, layout.worlds, made.ready, Budget(), Effort())
    meanings = Meanings(layout)
    found: list[Hit] = []
    for origin in Origin:
        if (origin is Origin.CHEMICAL) is not spread.chemical:
            continue
        starts = soil.starts(origin)
        if not starts:
            continue
        for world in range(layout.plan.worlds):
            hit = _in_world(made, layout, spread, meanings, order, what, origin, starts, world)
            if hit is not None:
                found.append(hit)
                break
    return min(found, key=lambda hit: (len(hit.legs), hit.origin.value), default=None)


def _in_world(
    made: Made,
    layout: Layout,
    spread: Spread,
    meanings: Meanings,
    order: tuple[int, ...],
    what: Opens,
    origin: Origin,
    begun: Iterable[int],
    world: int,
) -> Hit | None:
    """What the order shows if every visit is in this world."""
    trails: dict[int, tuple[Leg, ...]] = dict.fromkeys(begun, ())
    seen: set[int] = set()
    own = True
    while trails:
        best: Hit | None = None
        onward: dict[int, tuple[Leg, ...]] = {}
        reached = traced(layout.network, spread.carry, order, world, trails)
        for number, route in sorted(reached.items()):
            goal = spread.goals[number]
            trail = trails[route[0].start]
            leg = Leg(world, 1 << world, order, route, goal)
            if isinstance(goal, GoesOn):
                if made.ready >> world & 1 and goal.position not in seen:
                    onward.setdefault(goal.position, (*trail, leg))
                continue
            for meaning in meanings.of(goal, origin, own):
                if opens(meaning.who, origin) is not what:
                    continue
                part = next(n for n, one in enumerate(made.plan.clinic) if one >> world & 1)
                hit = Hit(
                    meaning.who,
                    meaning.claim,
                    meaning.spot,
                    origin,
                    spread.classes,
                    own or origin not in OF_PATIENTS,
                    meaning.act,
                    part,
                    (*trail, leg),
                )
                if best is None or _length(hit) < _length(best):
                    best = hit
        if best is not None:
            return best
        trails = onward
        seen |= onward.keys()
        own = False
    return None


def _length(hit: Hit) -> tuple[int, int]:
    return sum(len(leg.route) for leg in hit.legs), hit.act
