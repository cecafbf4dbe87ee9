"""Contact times: is what was wetted left alone long enough, in every order, at whatever pace?

A contact time is kept surely if in every permitted order the steps that have to lie between wetting
and the next touch take at least so long, each at its shortest and with no pause. Only the shortest
matter: people may be slower, and may pause, which makes the time longer. Whether soil is met in
the wet time is another question, and the check's.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from protocol_lang.contamination.kernel import Bits, Wet
from protocol_lang.contamination.marks import named_spots
from protocol_lang.order.bits import members
from protocol_lang.order.runs import OutOfBudgetError
from protocol_lang.schedule.least import Least, least
from protocol_lang.schedule.tasks import At, Changes, Tasks
from protocol_lang.schedule.work import Work
from protocol_lang.timetable import Kept

#: Sets of steps that are looked at for one wetting and one touch before it is left open.
MOST_SETS = 60


@dataclass(frozen=True, slots=True)
class Verdict:
    """One wetting and one touch. ``world``: a visit in which the time is the least, or in which it
    is too short. ``found``: of that visit. ``without``: the least time if nobody waits.
    ``touch``: :attr:`Tasks.end` for the end of the visit."""

    treatment: int
    wetting: int
    touch: int
    world: int
    label: int
    kept: Kept
    found: Least | None
    without: int | None


def verdicts(tasks: Tasks, body_of_layer: Mapping[int, int], worlds: Bits) -> Iterator[Verdict]:
    """Every contact time and whatever may touch what is wet, in the order of the steps."""
    plan = tasks.unfolded.plan
    named = [named_spots(plan, body_of_layer, act.effects) for act in plan.acts]
    wetted = [
        named_spots(plan, body_of_layer, (Wet(number),)) for number in range(len(plan.treatments))
    ]
    before = tasks.closed().before
    for treatment, wetting in sorted(tasks.begins.items(), key=lambda one: one[1]):
        spots = wetted[treatment]
        again = {
            act
            for act, record in enumerate(plan.acts)
            for effect in record.effects
            if isinstance(effect, Wet) and spots <= wetted[effect.treatment]
        }
        touching = [
            act
            for act in range(tasks.end)
            if act != wetting
            and named[act] & spots
            and act not in again
            and not before[wetting] >> act & 1
            and plan.acts[act].person is not None
        ]
        if any(plan.spots[spot].lasting for spot in spots):
            touching.append(tasks.end)
        for touch in touching:
            here = plan.acts[wetting].worlds & plan.acts[touch].worlds & worlds
            here &= ~_met_before(tasks, before, wetting, touch, touching)
            if here:
                yield _verdict(tasks, treatment, wetting, touch, here)


def _met_before(
    tasks: Tasks, before: Sequence[Bits], wetting: int, touch: int, touching: list[int]
) -> Bits:
    """The worlds in which something else surely touches it between, so that this one is later."""
    acts = tasks.unfolded.plan.acts
    found: Bits = 0
    for other in touching:
        if before[touch] >> other & 1 and before[other] >> wetting & 1:
            found |= acts[other].worlds
    return found


def _verdict(tasks: Tasks, treatment: int, wetting: int, touch: int, worlds: Bits) -> Verdict:
    label = tasks.label(treatment)
    sets = _least_sets(tasks, wetting, touch, worlds)
    done: list[tuple[int, int, Least]] = []
    for number, (there, world) in enumerate(sets):
        if number == MOST_SETS:
            return Verdict(treatment, wetting, touch, world, label, Kept.UNDECIDED, None, None)
        try:
            found = least_between(tasks.work(there, At.LEAST), wetting, touch, label)
        except OutOfBudgetError:
            found = None
        if found is None:
            continue  # in no order does this touch come after that wetting
        if found.ticks < label:
            return Verdict(treatment, wetting, touch, world, label, Kept.TOO_SHORT, found, None)
        if found.bound < label:
            return Verdict(treatment, wetting, touch, world, label, Kept.UNDECIDED, found, None)
        done.append((there, world, found))
    if not done:
        return Verdict(treatment, wetting, touch, 0, label, Kept.SURELY, None, None)
    there, world, found = min(done, key=lambda one: one[2].bound)
    work = tasks.work(there, At.LEAST, Changes(no_waits=True))
    without = least_between(work, wetting, touch, label)
    return Verdict(
        treatment,
        wetting,
        touch,
        world,
        label,
        Kept.SURELY,
        found,
        without.bound if without else None,
    )


def least_between(work: Work, wetting: int, touch: int, label: int) -> Least | None:
    """The least time from the wetting to the touch, as far as it matters for this label; None if no
    order has them in this order."""
    if not work.before[touch] >> wetting & 1:
        order = work.order()
        if not order.precede(wetting, touch):
            return None
        given = list(work.given)
        given[touch] |= 1 << wetting
        work = replace(work, before=tuple(order.before), given=tuple(given))
    return least(work, wetting, touch, enough=label)


def _least_sets(tasks: Tasks, wetting: int, touch: int, worlds: Bits) -> list[tuple[Bits, int]]:
    """The sets of acts that are done in these worlds, and one world of each; of sets that differ
    in what cannot lie between or takes no time, and of a set and a larger one, the least.

    More acts never make less time: which orders are permitted does not depend on the world.
    """
    network = tasks.closed()
    able: Bits = 0
    for act in range(tasks.end):
        if network.before[wetting] >> act & 1 or network.before[act] >> touch & 1:
            continue
        step = tasks.steps[act]
        if tasks.length(act, At.LEAST) or step is None or tasks.is_wait(act):
            able |= 1 << act
    found: dict[Bits, tuple[Bits, int]] = {}
    for world in members(worlds):
        there = tasks.there(world)
        found.setdefault(there & able, (there, world))
    kept: list[Bits] = []
    for one in sorted(found, key=lambda bits: bits.bit_count()):
        if not any(one & other == other for other in kept):
            kept.append(one)
    return [found[one] for one in kept]
