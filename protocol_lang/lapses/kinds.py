"""What can go wrong in a visit, read off the effects of its acts (docs/meaning/lapses.md).

No verb is named here: which lapses a step can have follows from what it does in the kernel.
"""

from __future__ import annotations

from collections.abc import Container, Iterable, Iterator
from dataclasses import dataclass
from enum import Enum

from protocol_lang.contamination.kernel import (
    NOTHING,
    Act,
    At,
    Bits,
    Effect,
    Fit,
    Held,
    Meet,
    Outer,
    Pass,
    Plan,
    Retire,
    RetireCameOff,
    RetireHeld,
    Take,
    Target,
    Treat,
    Unfit,
    Wash,
    Wet,
    WetEnd,
)


class Kind(Enum):
    """How something goes wrong."""

    LEFT_OUT = "left out"
    CUT_SHORT = "contact time cut short"
    LEAKS = "leaks"
    UNCLEAN = "taken off uncleanly"
    BARE = "done with the bare hand"


@dataclass(frozen=True, slots=True)
class Lapse:
    """One thing that goes wrong at one place of the visit.

    ``act``: the act that is left out, taken off uncleanly or done with the bare hand; of a contact
    time the act that ends it; of a leak the first act that puts the cover on (-1: it is on from the
    start). ``pieces``: of a leak, the piece, and what stands for it where the next visit begins.
    """

    kind: Kind
    act: int
    pieces: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Hands:
    """The bodies that are somebody's hands, by the number of the person."""

    of: tuple[tuple[int, int], ...] = ()

    def body(self, person: int | None) -> int | None:
        """The hands of a person."""
        return next((body for who, body in self.of if who == person), None)


def lapses_of(plan: Plan, hands: Hands, worlds: Bits, covered: Container[int]) -> tuple[Lapse, ...]:
    """Every lapse that can be made in one of ``worlds``, in the order of the acts.

    ``covered``: the acts that are done with something on the hands. Left out are those that by rule
    14 of the kernel open nothing: steps that only touch.
    """
    present = [(number, act) for number, act in enumerate(plan.acts[:-1]) if act.worlds & worlds]
    taken: dict[int, int] = {}
    for _, act in present:
        for hold in {one.hold for one in act.effects if isinstance(one, Take)}:
            taken[hold] = taken.get(hold, 0) + 1
    found: list[Lapse] = []
    for number, act in present:
        if act.person is not None and any(_matters(effect, taken) for effect in act.effects):
            found.append(Lapse(Kind.LEFT_OUT, number))
        if any(isinstance(effect, WetEnd) for effect in act.effects):
            found.append(Lapse(Kind.CUT_SHORT, number))
        if any(isinstance(effect, Unfit) for effect in act.effects):
            found.append(Lapse(Kind.UNCLEAN, number))
        if number in covered and _touches(plan, hands.body(act.person), act):
            found.append(Lapse(Kind.BARE, number))
    found += _leaks(plan, present)
    return tuple(sorted(found, key=lambda one: (one.act, one.kind.value, one.pieces)))


def _matters(effect: Effect, taken: dict[int, int]) -> bool:
    """Whether leaving it out may let soil go on: all but contacts, tears, facts and claims."""
    if isinstance(effect, Take):
        return taken[effect.hold] > 1  # without it an earlier one would be used again
    return isinstance(
        effect, Fit | Unfit | Wash | Treat | Wet | Retire | RetireHeld | RetireCameOff
    )


def contacts(effect: Effect) -> tuple[Target, ...]:
    """What a contact touches; nothing for another effect."""
    if isinstance(effect, Meet):
        return effect.targets
    return effect.sources + effect.goals if isinstance(effect, Pass) else ()


def _touches(plan: Plan, body: int | None, act: Act) -> bool:
    """Whether the act touches something with the hands.

    Putting on and taking off covers of the hands themselves is no such touch.
    """
    if body is None:
        return False
    own = set(plan.bodies[body].layers)
    if any(isinstance(effect, Fit | Unfit) and own & set(effect.layers) for effect in act.effects):
        return False
    return any(Outer(body) in contacts(effect) for effect in act.effects)


def _leaks(plan: Plan, present: list[tuple[int, Act]]) -> Iterator[Lapse]:
    """A leak of each cover that is not taken to leak anyhow. The cover on which a visit begins is
    the one that the visit before has left there: one piece, one leak."""
    fitted: dict[int, int] = {}
    on: dict[int, list[int]] = {}
    for number, act in present:
        for effect in act.effects:
            if isinstance(effect, Fit):
                fitted.setdefault(effect.piece, number)
                for layer in effect.layers:
                    on.setdefault(layer, []).append(effect.piece)
    together: dict[int, set[int]] = {piece: {piece} for piece in fitted}
    for layer, record in enumerate(plan.layers):
        if record.start == NOTHING:
            continue
        same = [
            piece
            for piece in on.get(layer, ())
            if plan.pieces[piece].kind == plan.pieces[record.start].kind
        ]
        group: set[int] = set().union(
            {record.start}, *(together.get(one, {one}) for one in same[-1:])
        )
        for piece in group | together.get(record.start, set()):
            together[piece] = group
    for pieces in sorted({tuple(sorted(group)) for group in together.values()}):
        if not any(plan.pieces[piece].leaks for piece in pieces):
            first = min((fitted[piece] for piece in pieces if piece in fitted), default=-1)
            yield Lapse(Kind.LEAKS, first, pieces)


def exclude_each_other(plan: Plan, first: Lapse, second: Lapse) -> bool:
    """Whether both cannot be: they speak of the same act, or of the same fitting."""
    if Kind.LEAKS in (first.kind, second.kind):
        if first.kind is second.kind:
            return False
        leak, other = (first, second) if first.kind is Kind.LEAKS else (second, first)
        if other.kind is not Kind.LEFT_OUT:
            return False
        put_on = {
            effect.piece for effect in plan.acts[other.act].effects if isinstance(effect, Fit)
        }
        return bool(put_on) and set(leak.pieces) <= put_on
    if first.act == second.act:
        return Kind.LEFT_OUT in (first.kind, second.kind)
    return Kind.CUT_SHORT in (first.kind, second.kind) and _same_treatment(plan, first, second)


def _same_treatment(plan: Plan, first: Lapse, second: Lapse) -> bool:
    """Whether one is the beginning, left out, of the contact time that the other cuts short."""
    short, other = (first, second) if first.kind is Kind.CUT_SHORT else (second, first)
    if other.kind is not Kind.LEFT_OUT:
        return False
    ends = {e.treatment for e in plan.acts[short.act].effects if isinstance(e, WetEnd)}
    begins = {e.treatment for e in plan.acts[other.act].effects if isinstance(e, Wet)}
    return bool(ends & begins)


def bare(targets: Iterable[Target], body: int, spot: int) -> tuple[Target, ...]:
    """The targets, with the hands themselves instead of what is on them."""
    return tuple(At(spot) if target == Outer(body) else target for target in targets)


def held_by(effect: Effect) -> set[int]:
    """The holds that the effect names."""
    targets: tuple[Target, ...] = contacts(effect)
    if isinstance(effect, Wash | Treat):
        targets = effect.targets
    found = {target.hold for target in targets if isinstance(target, Held)}
    return found | {effect.hold} if isinstance(effect, RetireHeld) else found
