"""Days of random plans: the plan that they are put together to, against histories that mix them.

Oracle: the simulator, which is given the runs of each plan by itself and lets them follow each
other as they like. The engine gets one plan in which the plans stand one after the other, each in a
world of its own (docs/meaning/day.md).
"""

from __future__ import annotations

from dataclasses import replace

from protocol_lang.contamination.kernel import Act, Bits, Plan, Togetherness
from tests.contamination.compare import of_engine, of_simulator
from tests.oracles import simulator
from tests.oracles.plans import Size, random_plan

ROOMS = Size(acts=(4, 7), worlds=2, people=2, surfaces=2, classes=2, slack=0)
USUAL = 500


def _visit(plan: Plan, world: int) -> Plan:
    """The plan of one world by itself: what it leaves out does not order anything."""
    there = [number for number, act in enumerate(plan.acts) if act.worlds >> world & 1]
    kept = frozenset(there)
    mask = sum(1 << number for number in there)
    groups = (Togetherness(one.members & mask, one.others & mask) for one in plan.together)
    return replace(
        plan,
        order=tuple(pair for pair in plan.order if kept.issuperset(pair)),
        together=tuple(one for one in groups if one.members & (one.members - 1)),
    )


def _composed(plan: Plan, visits: list[Plan]) -> tuple[Plan, list[int]]:
    """The visits one after the other in one plan, and which act each of its acts is."""
    acts: list[Act] = []
    origin: list[int] = []
    number_of: list[dict[int, int]] = []
    for world in range(len(visits)):
        number_of.append({})
        for number, act in enumerate(plan.acts[:-1]):
            if act.worlds >> world & 1:
                number_of[world][number] = len(acts)
                acts.append(replace(act, worlds=1 << world))
                origin.append(number)
    end = len(acts)
    acts.append(plan.acts[-1])
    origin.append(len(plan.acts) - 1)
    order = {(number, end) for number in range(end)}
    before: list[int] = []
    together = []
    for visit, numbers in zip(visits, number_of, strict=True):
        mine = list(numbers.values())
        order |= {(one, other) for one in before for other in mine}
        before += mine
        order |= {(numbers[a], numbers[b]) for a, b in visit.order if {a, b} <= numbers.keys()}
        for group in visit.together:
            together.append(
                Togetherness(_moved(group.members, numbers), _moved(group.others, numbers))
            )
    whole = replace(plan, acts=tuple(acts), order=tuple(sorted(order)), together=tuple(together))
    return whole, origin


def _moved(acts: Bits, numbers: dict[int, int]) -> Bits:
    return sum(1 << new for old, new in numbers.items() if acts >> old & 1)


def _mixed(plan: Plan, visits: list[Plan]) -> frozenset[tuple[object, ...]] | None:
    """What is reached, by the simulator; None where a visit has a misstep or no run."""
    runs = []
    for world, visit in enumerate(visits):
        orders = simulator._orders(visit)
        if not orders:
            return None
        present = sum(1 << a for a, act in enumerate(plan.acts) if act.worlds >> world & 1)
        runs.append(simulator._all_runs(simulator._Things(visit), orders, present))
        if runs[-1].missteps:
            return None
    hits, _ = simulator._hits(plan, runs, set(), None)
    return frozenset(tuple(hit) for hit in hits)


def test_a_day_of_random_plans_is_as_its_visits_mixed():
    compared = alone_differs = 0
    for seed in range(USUAL):
        plan = random_plan(300_000 + seed, ROOMS)
        if plan.treatments or plan.worlds < 2:
            continue
        plan = replace(plan, clinic=((1 << plan.worlds) - 1,))
        visits = [_visit(plan, world) for world in range(plan.worlds)]
        mixed = _mixed(plan, visits)
        if mixed is None:
            continue
        whole, origin = _composed(plan, visits)
        told = of_engine(whole)
        hits = {(*hit[:-1], origin[int(str(hit[-1]))]) for hit in told.hits}
        assert hits == mixed, f"seed {seed}"
        compared += 1
        apart = set()
        for world in range(plan.worlds):
            split = replace(plan, clinic=tuple(1 << one for one in range(plan.worlds)))
            apart |= {hit[1:] for hit in of_simulator(split).hits if hit[0] == world}
        alone_differs += {hit[1:] for hit in mixed} > apart
    assert compared > 50
    # A comparison in which mixing never matters would prove nothing about mixing.
    assert alone_differs > 0
