"""How things are along one order of a visit: what conditions on the state are settled by.

From the top of the checklist down, covers come on and off and facts come and go. The engine then
proves that what was asked is the same in every permitted order; where it is not, that is a fault.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from protocol_lang.contamination.kernel import (
    NOTHING,
    AllOf,
    AnyOf,
    Claim,
    Effect,
    FactIs,
    Fit,
    IsWet,
    LayerHas,
    Not,
    SetFact,
    Unfit,
    Wet,
)
from protocol_lang.contamination.unfold.worlds import Memory


class Remembered(Memory):
    """The layers and facts of a plan while its steps are done one after the other.

    ``on``: what each layer holds; ``so``: whether each fact is so; ``wet``: treatments that are.
    ``effects``: of each step; ``asked``: what each branching asks, by its number and the number of
    the question. Things are in few ways, and many visits come past each: each way is kept once, and
    what comes of it.
    """

    __slots__ = ("_after", "_answers", "_asked", "_effects", "_known", "_on", "_so", "_wet")

    def __init__(
        self,
        on: Sequence[int],
        so: Sequence[bool],
        wet: frozenset[int],
        effects: Sequence[Sequence[Effect]],
        asked: Mapping[tuple[int, int], Claim],
        known: dict[_State, Remembered],
    ) -> None:
        self._known = known
        self._after: dict[tuple[int, ...], Remembered] = {}
        self._answers: dict[tuple[int, int], bool] = {}
        self._on = on
        self._so = so
        self._wet = wet
        self._effects = effects
        self._asked = asked

    @classmethod
    def beginning(
        cls,
        on: Sequence[int],
        so: Sequence[bool],
        effects: Sequence[Sequence[Effect]],
        asked: Mapping[tuple[int, int], Claim],
    ) -> Remembered:
        """How a visit begins; ``effects``: all of each step, of which few change what is kept."""
        kept = [[one for one in each if isinstance(one, _KEPT)] for each in effects]
        return cls(on, so, frozenset(), kept, asked, {})

    def after(self, steps: tuple[int, ...]) -> Remembered:
        known = self._after.get(steps)
        if known is None:
            known = self._after[steps] = self._done(steps)
        return known

    def _done(self, steps: tuple[int, ...]) -> Remembered:
        if not any(self._effects[number] for number in steps):
            return self
        on, so, wet = list(self._on), list(self._so), set(self._wet)
        for number in steps:
            for effect in self._effects[number]:
                match effect:
                    case Fit(layers, piece):
                        for layer in layers:
                            on[layer] = piece
                    case Unfit(layers):
                        for layer in layers:
                            on[layer] = NOTHING
                    case SetFact(fact, value):
                        so[fact] = value
                    case Wet(treatment):
                        wet.add(treatment)
                    case _:
                        pass
        state = tuple(on), tuple(so), frozenset(wet)
        made = self._known.get(state)
        if made is None:
            made = Remembered(*state, self._effects, self._asked, self._known)
            self._known[state] = made
        return made

    def is_so(self, fork: int, number: int) -> bool:
        known = self._answers.get((fork, number))
        if known is None:
            known = self._answers[fork, number] = self._holds(self._asked[fork, number])
        return known

    def _holds(self, claim: Claim) -> bool:
        match claim:
            case FactIs(fact, value):
                return self._so[fact] is value
            case LayerHas(layer, pieces):
                return self._on[layer] in pieces
            case IsWet(treatment):
                return treatment in self._wet
            case Not(part):
                return not self._holds(part)
            case AllOf(parts):
                return all(self._holds(part) for part in parts)
            case AnyOf(parts):
                return any(self._holds(part) for part in parts)


#: What layers hold, facts, and treatments that are wet.
_State = tuple[tuple[int, ...], tuple[bool, ...], frozenset[int]]

_KEPT = Fit | Unfit | SetFact | Wet
