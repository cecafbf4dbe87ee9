"""What the search and the oracle say of the lapses of a plan, in the same form."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from itertools import combinations

from protocol_lang.contamination.kernel import Act, Outer, Plan
from protocol_lang.lapses.kinds import Hands, contacts
from protocol_lang.lapses.making import Lapses, Set
from protocol_lang.lapses.search import smallest_sets
from protocol_lang.lapses.spread import Opens
from tests.oracles.lapsed import NEXT, ROOM, STAFF, what_opens
from tests.oracles.plans import Size, random_plan
from tests.oracles.simulator import simulate

WORDS = {Opens.NEXT_PATIENT: NEXT, Opens.STAFF: STAFF, Opens.FROM_ROOM: ROOM}

ROOMS = Size(acts=(4, 8), worlds=2, people=2, surfaces=2, classes=2, slack=0)

#: Plans with more lapses than this are passed over: the oracle does every set.
MOST_LAPSES = 14


@dataclass(slots=True)
class Census:
    """How often what occurred: nothing is tested by what never occurs."""

    plans: int = 0
    kinds: Counter[str] = field(default_factory=Counter)
    sizes: Counter[int] = field(default_factory=Counter)
    verdicts: Counter[str] = field(default_factory=Counter)

    def __str__(self) -> str:
        return (
            f"{self.plans} plans; lapses in sets: {dict(self.kinds)}; sizes: {dict(self.sizes)}; "
            f"opened: {dict(self.verdicts)}"
        )


def askable(
    seed: int, size: Size = ROOMS, at_most: int = MOST_LAPSES
) -> tuple[Plan, dict[int, int], Lapses] | None:
    """A random plan with nothing wrong in its covers, the hands in it, and its lapses."""
    plan = ended(random_plan(seed, size))
    seen = simulate(plan, visits=1)
    if not seen.possible or seen.missteps or seen.not_ready:
        return None
    hands = hands_of(plan)
    lapses = Lapses(plan, Hands(tuple(hands.items())), (1 << plan.worlds) - 1)
    return None if len(lapses.all) > at_most else (plan, hands, lapses)


def ended(plan: Plan) -> Plan:
    """The plan with an end of the visit in which nothing is done, as checklists have it."""
    last = len(plan.acts)
    end = Act("the visit ends", None, (1 << plan.worlds) - 1, ())
    pairs = [(act, last) for act in range(last)] + [(act, last - 1) for act in range(last - 1)]
    return replace(plan, acts=(*plan.acts, end), order=(*plan.order, *pairs))


def hands_of(plan: Plan) -> dict[int, int]:
    """For each person a body that can be covered and that the person's acts touch with."""
    found: dict[int, int] = {}
    for act in plan.acts:
        for effect in act.effects:
            for target in contacts(effect):
                if (
                    act.person is not None
                    and isinstance(target, Outer)
                    and plan.bodies[target.body].layers
                    and target.body not in found.values()
                ):
                    found.setdefault(act.person, target.body)
    return found


def of_search(lapses: Lapses, most: int) -> dict[str, set[Set]]:
    """The smallest sets as the search finds them; the empty set where nothing need go wrong."""
    found = smallest_sets(lapses, most)
    assert not found.undecided
    return {WORDS[what]: {()} if what in found.already else set(found.sets[what]) for what in Opens}


def of_oracle(plan: Plan, hands: dict[int, int], lapses: Lapses, most: int) -> dict[str, set[Set]]:
    """The same by doing every set."""
    found: dict[str, set[Set]] = {word: set() for word in WORDS.values()}
    for size in range(most + 1):
        for one in combinations(range(len(lapses.all)), size):
            if not all(lapses.can_be(*pair) for pair in combinations(one, 2)):
                continue
            open_ones = [
                word for word, sets in found.items() if not any(set(s) <= set(one) for s in sets)
            ]
            if not open_ones:
                continue
            opened = what_opens(plan, hands, [lapses.all[number] for number in one])
            for word in open_ones:
                if word in opened:
                    found[word].add(one)
    return found


def differences(
    seeds: Iterable[int],
    census: Census,
    most: int = 2,
    size: Size = ROOMS,
    at_most: int = MOST_LAPSES,
) -> Iterator[str]:
    """A sentence for each plan of which the two say something else."""
    for seed in seeds:
        asked = askable(seed, size, at_most)
        if asked is None:
            continue
        plan, hands, lapses = asked
        ours, theirs = of_search(lapses, most), of_oracle(plan, hands, lapses, most)
        census.plans += 1
        for word, sets in theirs.items():
            census.verdicts[word] += bool(sets) and () not in sets
            for one in sets:
                census.sizes[len(one)] += 1
                census.kinds.update(lapses.all[number].kind.value for number in one)
            if ours[word] != sets:
                yield f"seed {seed}, {word}: {sorted(ours[word])} is not {sorted(sets)}"
