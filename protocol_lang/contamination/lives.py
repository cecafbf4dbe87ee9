"""The life of things that are used once: not yet used, in use, retired (rules 6, 7 and 13).

The same question as for soil, with another mark: each piece carries one mark that says how far its
life has come.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from protocol_lang.contamination.kernel import (
    NOTHING,
    Effect,
    Fit,
    Meet,
    Pass,
    Plan,
    Take,
    Target,
    Unfit,
)
from protocol_lang.contamination.marks import (
    DIRECT,
    Layout,
    Setting,
    Token,
    pieces_retired,
    pieces_used,
    token_of,
)
from protocol_lang.order.question import Carry, Way

UNUSED = 0
IN_USE = 1
RETIRED = 2


@dataclass(frozen=True, slots=True)
class UsedAgain:
    """Target: the act uses a piece that has been retired."""

    act: int
    piece: int


@dataclass(frozen=True, slots=True)
class InUseAtEnd:
    """Target: the piece is in use when the visit ends."""

    piece: int


def mark(piece: int, life: int) -> int:
    """The position of the mark of a piece."""
    return piece * 3 + life


class Lives:
    """The carry of all pieces' lives; ``goals`` tells what each target number stands for."""

    def __init__(self, layout: Layout) -> None:
        self.layout = layout
        self.goals: list[UsedAgain | InUseAtEnd] = []
        plan = layout.plan
        begun = {layer.start for layer in plan.layers if layer.start != NOTHING}
        self._begun_at = {spot: piece for piece in begun for spot in plan.pieces[piece].spots}
        self.starts = frozenset(mark(piece, UNUSED) for piece in range(len(plan.pieces)))
        ways = [
            tuple(self._way(number, setting) for setting in settings)
            for number, settings in enumerate(layout.settings)
        ]
        self.carry = Carry(
            3 * len(plan.pieces),
            tuple(tuple(way for way in at if way.moves or way.hits) for at in ways)
            + ((self._over(),),)
            + ((),) * len(layout.closing),
        )

    def _target(self, goal: UsedAgain | InUseAtEnd) -> int:
        self.goals.append(goal)
        return len(self.goals) - 1

    def _put_to_use(self, token: Token, effect: Effect) -> Iterator[int]:
        """The pieces that come into use: taken, fitted, or on from the start and now touched."""
        if isinstance(effect, Fit | Take):
            yield effect.piece
        elif isinstance(effect, Unfit):
            for layer in effect.layers:
                piece = token.values[layer]
                if piece in self._begun_at.values():
                    yield piece
        for target in _targets(effect):
            for spot, how in token.touching(target):
                if how == DIRECT and spot in self._begun_at:
                    yield self._begun_at[spot]

    def _over(self) -> Way:
        hits = {
            mark(piece, IN_USE): (self._target(InUseAtEnd(piece)),)
            for piece, record in enumerate(self.layout.plan.pieces)
            if record.single_use
        }
        return Way((), self.layout.worlds, {}, hits)

    def _way(self, number: int, setting: Setting) -> Way:
        plan = self.layout.plan
        token = token_of(self.layout, number, setting)
        life: dict[int, dict[int, int]] = {}
        hits: dict[int, tuple[int, ...]] = {}
        for effect in plan.acts[number].effects:
            for piece in pieces_used(token, effect):
                if piece == NOTHING:
                    continue
                for start, now in life.setdefault(piece, _unchanged()).items():
                    if now == RETIRED:
                        again = self._target(UsedAgain(number, piece))
                        hits[mark(piece, start)] = (*hits.get(mark(piece, start), ()), again)
            for piece in self._put_to_use(token, effect):
                _become(life.setdefault(piece, _unchanged()), IN_USE)
            for piece in pieces_retired(token, effect):
                if piece != NOTHING:
                    _become(life.setdefault(piece, _unchanged()), RETIRED)
            token.advance(effect)
        moves = {
            mark(piece, start): (mark(piece, now),)
            for piece, states in life.items()
            for start, now in states.items()
            if now != start
        }
        return Way(setting.when, setting.worlds, moves, hits)


def _targets(effect: Effect) -> tuple[Target, ...]:
    if isinstance(effect, Meet):
        return effect.targets
    if isinstance(effect, Pass):
        return effect.sources + effect.goals
    return ()


def _unchanged() -> dict[int, int]:
    return {UNUSED: UNUSED, IN_USE: IN_USE, RETIRED: RETIRED}


def _become(states: dict[int, int], life: int) -> None:
    for start, now in states.items():
        if now != RETIRED:
            states[start] = life


def may_stay_on(plan: Plan, piece: int) -> tuple[int, ...]:
    """The layers on which the piece may be when the visit ends, without being left over.

    None for a piece that was on a layer when the visit began: it has served this patient (rule 13).
    """
    if any(layer.start == piece for layer in plan.layers):
        return ()
    layers: set[int] = set()
    for act in plan.acts:
        for effect in act.effects:
            if isinstance(effect, Fit) and effect.piece == piece:
                layers.update(effect.layers)
    return tuple(sorted(layers))
