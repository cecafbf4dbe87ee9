"""What differs from world to world without any order: how often, and what is treated how far."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from protocol_lang.contamination.kernel import Bits, Outer, Treat, Wet
from protocol_lang.contamination.unfold import Unfolded
from protocol_lang.contamination.unfold.spelling import repetitions
from protocol_lang.model.rules import Asked, Times
from protocol_lang.model.steps import ForEach, Item, TimeOnly
from protocol_lang.model.walk import parts_of, steps_of
from protocol_lang.order.bits import members
from protocol_lang.text import Place


def beyond(
    unfolded: Unfolded, acts: Iterable[int], duty: Times, worlds: Bits
) -> tuple[int, Bits] | None:
    """How often ``acts`` are done where that is more, or less, than the duty says; and where.

    What is repeated more often than it is spelt out counts, in the last round that is spelt out,
    for all the rounds that it stands for: as many as there may be, or as there have to be.
    """
    repeated = {item.place: item for item in repetitions(unfolded.protocol)}
    once = _last_time_only(repeated.values())
    counts = dict.fromkeys(members(worlds), 0)
    for act in acts:
        note = unfolded.acts[act]
        step = None if note.step is None else unfolded.steps[note.step]
        times = 1
        for one in () if step is None else step.rounds:
            if unfolded.depths.get(one.place) == one.number and (one.place, note.place) not in once:
                item = repeated[one.place]
                rounds = item.least if duty.most is None else item.most
                times *= max(rounds - one.number + 1, 1)
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


def _last_time_only(repeated: Iterable[ForEach]) -> set[tuple[Place, Place | None]]:
    """(line of a repetition, line of a step) where the step is done in its last round alone."""
    found: set[tuple[Place, Place | None]] = set()

    def within(items: Iterable[Item], place: Place) -> None:
        for item in items:
            if isinstance(item, TimeOnly) and not item.first:
                found.update((place, step.place) for step in steps_of(item.items))
            elif not isinstance(item, ForEach):
                for inner in parts_of(item):
                    within(inner, place)

    for one in repeated:
        within(one.items, one.place)
    return found


def worlds_where(unfolded: Unfolded, where: Sequence[Asked]) -> Bits | Asked:
    """The worlds in which the choices may have these values, all at once; or what asks for a value
    that there is none of. That something is *not* so holds where there is no such value.

    A world stands for several combinations, and one that leaves a choice out for each value of it.
    """
    allowed: dict[str, list[str]] = {}
    known = {choice.name: choice.values for choice in unfolded.worlds.choices}
    for asked in where:
        if asked.value in known.get(asked.name, ()):
            values = allowed.get(asked.name, known[asked.name])
            allowed[asked.name] = [one for one in values if (one == asked.value) is asked.so]
        elif asked.so:
            return asked
    if not allowed:
        return unfolded.worlds.all
    if not all(allowed.values()):
        return 0
    return sum(
        1 << world
        for world, combinations in enumerate(unfolded.worlds.examples)
        if any(
            all(name not in one or one[name] in values for name, values in allowed.items())
            for one in combinations
        )
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
