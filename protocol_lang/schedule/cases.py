"""How long a visit takes, for each way to settle the choices before it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from protocol_lang.contamination.kernel import Bits
from protocol_lang.contamination.unfold import Unfolded
from protocol_lang.contamination.unfold.spelling import NOTHING_HAPPENS
from protocol_lang.model.protocol import WHAT_HAPPENS
from protocol_lang.order.bits import members
from protocol_lang.schedule.bounds import at_least
from protocol_lang.schedule.least import Least, least
from protocol_lang.schedule.tasks import MINUTE, At, Tasks
from protocol_lang.timetable import Case, Pairs, Span

#: Sets of steps of one case whose time is worked out one by one; beyond it bounds are given.
MOST_SETS = 40


class NoVisit(Exception):
    """No order of the steps is permitted with these choices, so there is nothing to time."""


@dataclass(frozen=True, slots=True)
class Longest:
    """A case, and of its longest visit the acts that are done and one world."""

    case: Case
    there: Bits
    world: int


def cases(tasks: Tasks, session: int) -> Iterator[Longest]:
    """Every case, in the order of the choices as declared. ``session``: minutes.

    Raises :class:`NoVisit`, and what :func:`~protocol_lang.schedule.least.least` raises.
    """
    timer = _Timer(tasks, session)
    return (timer.case(*group) for group in _settled(tasks.unfolded))


class _Timer:
    def __init__(self, tasks: Tasks, session: int) -> None:
        self.tasks = tasks
        self.session = session

    def case(self, choices: Pairs, worlds: tuple[int, ...]) -> Longest:
        """The case of these worlds, which differ in what is free or found out."""
        tasks = self.tasks
        sets: dict[Bits, int] = {}
        for world in worlds:
            sets.setdefault(tasks.there(world), world)
        air = any(tasks.carries(world) for world in worlds)
        smallest = _smallest(sets)
        largest = _smallest(sets, largest=True)
        ready_least, _ = self._extreme(smallest, At.LEAST, tasks.ready, air, most=False)
        ready_most, there = self._extreme(largest, At.MOST, tasks.ready, air, most=True)
        ready = Span(ready_least[0], ready_most[0], ready_least[1] and ready_most[1])
        whole = None
        if tasks.running:
            low, _ = self._extreme(smallest, At.LEAST, tasks.end, air, most=False)
            high, _ = self._extreme(largest, At.MOST, tasks.end, air, most=True)
            whole = Span(low[0], high[0], low[1] and high[1])
        cycle = Span(
            self._cycle(smallest, At.LEAST, ready.least, most=False),
            self._cycle(largest, At.MOST, ready.most, most=True),
        )
        full = whole or ready
        patients = (
            _patients(self.session, full.most, cycle.most),
            _patients(self.session, full.least, cycle.least),
        )
        turnover = self._turnover(smallest, largest, air)
        case = Case(choices, ready, turnover, whole, patients, len(sets) > 1)
        return Longest(case, there, sets[there])

    def _extreme(
        self, sets: list[Bits], at: At, target: int, air: bool, most: bool
    ) -> tuple[tuple[int, bool], Bits]:
        """The least (or greatest) of the least times, whether it is exact, and its acts."""
        best: tuple[int, bool] | None = None
        chosen = sets[0]
        for there in sets[:MOST_SETS]:
            found = self._least(there, at, target, air)
            ticks = found.ticks if most else found.bound
            if best is None or (ticks > best[0] if most else ticks < best[0]):
                best, chosen = (ticks, found.exact), there
        assert best is not None
        if len(sets) > MOST_SETS:
            # What is done in every one of them takes so long at least.
            common = sets[0]
            for there in sets:
                common &= there
            bound = best[0]
            if not most:
                work = self.tasks.work(common, at, air=air)
                bound = min(bound, at_least(work, work.order(), None, target).ticks)
            best = (bound, False)
        return best, chosen

    def _least(self, there: Bits, at: At, target: int, air: bool) -> Least:
        found = least(self.tasks.work(there, at, air=air), None, target)
        if found is None:
            raise NoVisit
        return found

    def _cycle(self, sets: list[Bits], at: At, ready: int, most: bool) -> int:
        """From one patient to the next: no sooner than the room is ready, and than whoever has the
        most to do has done it."""
        loads = []
        for there in sets[:MOST_SETS]:
            work = self.tasks.work(there, at)
            by_person: dict[int, int] = {}
            for person, length in zip(work.who, work.lengths, strict=True):
                if person is not None:
                    by_person[person] = by_person.get(person, 0) + length
            loads.append(max(by_person.values(), default=0))
        return max(ready, max(loads) if most else min(loads))

    def _turnover(self, smallest: list[Bits], largest: list[Bits], air: bool) -> Span | None:
        """From when the patient has left until the room is ready, in the best order."""
        spans = []
        for sets, at, pick in ((smallest, At.LEAST, min), (largest, At.MOST, max)):
            found = []
            for there in sets[:MOST_SETS]:
                work = self.tasks.work(there, at, air=air)
                for leaving in members(self.tasks.leavings & there):
                    if work.before[self.tasks.ready] >> leaving & 1:
                        came = least(work, leaving, self.tasks.ready)
                        if came is not None:
                            found.append((came.ticks, came.exact))
            if not found:
                return None
            spans.append(pick(found))
        (low, low_sure), (high, high_sure) = spans
        return Span(low, high, low_sure and high_sure)


def _settled(unfolded: Unfolded) -> Iterator[tuple[Pairs, tuple[int, ...]]]:
    """The worlds in which nothing goes wrong, by what is settled before the visit."""
    settled = [
        choice
        for choice in unfolded.protocol.choices
        if choice.declared and choice.known_after is None and len(choice.values) > 1
    ]
    groups: dict[Pairs, list[int]] = {}
    for world in range(unfolded.plan.worlds):
        happens = unfolded.worlds.examples[world][0].get(WHAT_HAPPENS, NOTHING_HAPPENS)
        if happens != NOTHING_HAPPENS:
            continue
        example = unfolded.worlds.example(world)
        pairs = tuple((choice.name, example[choice.name]) for choice in settled)
        groups.setdefault(pairs, []).append(world)

    def place(pairs: Pairs) -> list[int]:
        values: Mapping[str, tuple[str, ...]] = {one.name: one.values for one in settled}
        return [values[name].index(value) for name, value in pairs]

    for pairs in sorted(groups, key=place):
        yield pairs, tuple(groups[pairs])


def _smallest(sets: Iterable[Bits], largest: bool = False) -> list[Bits]:
    """The sets that contain no other one (are contained in no other one)."""
    kept: list[Bits] = []
    for one in sorted(sets, key=lambda bits: bits.bit_count(), reverse=largest):
        if not any((one & other == one) if largest else (one & other == other) for other in kept):
            kept.append(one)
    return kept


def _patients(session: int, full: int, cycle: int) -> int:
    """How many visits one after the other fit into a session."""
    time = session * MINUTE
    if not full or time < full:
        return 0
    return 1 + (time - full) // max(cycle, 1)
