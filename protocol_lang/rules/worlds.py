"""What differs from world to world without any order: how often, and what is treated how far."""

from __future__ import annotations

from collections.abc import Iterable

from protocol_lang.contamination.kernel import Bits, Outer, Treat, Wet
from protocol_lang.contamination.unfold import Unfolded
from protocol_lang.contamination.unfold.spelling import repetitions
from protocol_lang.model.rules import Times
from protocol_lang.order.bits import members


def beyond(
    unfolded: Unfolded, acts: Iterable[int], duty: Times, worlds: Bits
) -> tuple[int, Bits] | None:
    """How often ``acts`` are done where that is more, or less, than the duty says; and where.

    What is repeated more often than it is spelt out counts, in the last round that is spelt out, for
    all the rounds that it stands for.
    """
    most = {item.place: item.most for item in repetitions(unfolded.protocol)}
    counts = dict.fromkeys(members(worlds), 0)
    for act in acts:
        note = unfolded.acts[act]
        times = 1
        if note.step is not None and duty.most is not None:
            for one in unfolded.steps[note.step].rounds:
                deep = unfolded.depths.get(one.place)
                if deep == one.number:
                    times *= most[one.place] - deep + 1
        for world in members(unfolded.plan.acts[act].worlds & worlds):
            counts[world] += times
    if not counts:
        return None
    worst = min(counts.values()) if duty.most is None else max(counts.values())
    if (duty.most is None and worst >= duty.least) or (
        duty.most is not None and worst <= duty.most
    ):
        return None
    return worst, sum(1 << world for world, number in counts.items() if number == worst)


def worlds_where(unfolded: Unfolded, choice: str, value: str) -> Bits | None:
    """The worlds in which the choice may have that value; None if there is no such choice or
    value."""
    known = next((one for one in unfolded.worlds.choices if one.name == choice), None)
    if known is None or value not in known.values:
        return None
    return sum(
        1 << world
        for world, combinations in enumerate(unfolded.worlds.examples)
        if any(one.get(choice, value) == value for one in combinations)
    )


#: The things that are treated in one course, each with the levels.
Treated = frozenset[tuple[str, str]]


class Treatments:
    """Which things are treated to which level, by world."""

    def __init__(self, unfolded: Unfolded) -> None:
        self.unfolded = unfolded
        plan = unfolded.plan
        owner = {body: owned[0] for owned, body in unfolded.bodies.items()}
        self._worlds: dict[tuple[str, str], Bits] = {}
        for act in plan.acts:
            for effect in act.effects:
                match effect:
                    case Treat(targets=targets, level=level):
                        pass
                    case Wet(treatment=number):
                        targets = plan.treatments[number].targets
                        level = plan.treatments[number].level
                    case _:
                        continue
                for target in targets:
                    thing = owner.get(target.body) if isinstance(target, Outer) else None
                    if thing is not None and thing not in unfolded.protocol.people:
                        key = (thing, plan.levels[level].name)
                        self._worlds[key] = self._worlds.get(key, 0) | act.worlds

    def where(self, choice: str, value: str, worlds: Bits) -> frozenset[Treated]:
        """What may come of it where the choice has that value: each course by what it treats."""
        found: set[Treated] = set()
        for world, combinations in enumerate(self.unfolded.worlds.examples):
            if worlds >> world & 1 and any(
                known.get(choice, value) == value for known in combinations
            ):
                found.add(
                    frozenset(key for key, within in self._worlds.items() if within >> world & 1)
                )
        return frozenset(found)
