"""What a step does and asks for, by the names of persons and things instead of numbers.

So two plans can be compared in which every number is another.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import get_args

from protocol_lang.compare.steps import own_place
from protocol_lang.comparison import Effect
from protocol_lang.contamination.kernel import (
    Act,
    Amount,
    At,
    CameOff,
    Fit,
    Held,
    Judge,
    Meet,
    Outer,
    Pass,
    Retire,
    RetireCameOff,
    RetireHeld,
    SetFact,
    Take,
    Target,
    Tear,
    Treat,
    Unfit,
    Wash,
    Wet,
    WetEnd,
)
from protocol_lang.contamination.kernel import Effect as KEffect
from protocol_lang.contamination.unfold import Unfolded
from protocol_lang.model.conditions import Claim
from protocol_lang.model.said import Filled
from protocol_lang.model.said import claim as claim_in_words
from protocol_lang.text import Place

#: What a name stands for that depends on the order: whatever came off in this very step.
WHAT_CAME_OFF = "what came off"

_OF_THE_AUTHOR = get_args(Claim)


def effects_of(unfolded: Unfolded) -> dict[Place, tuple[Effect, ...]]:
    """For the place of each step what it does, in order, each thing once.

    The end of a wet time is told with its beginning, and where it is waited for.
    """
    namer = _Namer(unfolded)
    found: dict[Place, dict[Effect, None]] = {}
    over: dict[int, list[int]] = {}
    for first, second in sorted(unfolded.plan.order):
        if unfolded.acts[first].ends_treatment:
            over.setdefault(second, []).append(first)
    for number, (act, note) in enumerate(zip(unfolded.plan.acts, unfolded.acts, strict=True)):
        if note.step is None or note.place is None or not act.worlds:
            continue
        told = found.setdefault(own_place(note.place), {})
        if note.ends_treatment:
            continue
        if note.person is not None:
            told[_effect("by", who=[note.person])] = None
        for end in over.get(number, ()):
            told.update(dict.fromkeys(namer.dry(unfolded.plan.acts[end])))
        told.update(dict.fromkeys(namer.act(act, note.filled)))
    return {place: tuple(told) for place, told in found.items()}


def but_what_is_dry(effects: Iterable[Effect]) -> tuple[Effect, ...]:
    """The effects without what is only known from what was made wet before."""
    return tuple(one for one in effects if one.kind != "dry")


class _Namer:
    def __init__(self, unfolded: Unfolded) -> None:
        self.unfolded = unfolded
        self.plan = unfolded.plan
        self.ranks = {level.rank: level.name for level in unfolded.protocol.levels.values()}

    def act(self, act: Act, filled: Filled) -> Iterator[Effect]:
        for number in act.claims:
            yield self.claim(number, filled)
        for effect in act.effects:
            told = self.effect(act, effect, filled)
            if told is not None:
                yield told

    def dry(self, end: Act) -> Iterator[Effect]:
        """What is dry once this end of a wet time has come."""
        for effect in end.effects:
            if isinstance(effect, WetEnd):
                treatment = self.plan.treatments[effect.treatment]
                yield _effect("dry", what=self.names(treatment.targets))

    def effect(self, act: Act, effect: KEffect, filled: Filled) -> Effect | None:
        match effect:
            case Meet(targets, amount):
                return _effect("touch", what=self.names(targets), amount=_amount(amount))
            case Pass(sources, goals, amount):
                return _effect(
                    "pass",
                    source=self.names(sources),
                    goal=self.names(goals),
                    amount=_amount(amount),
                )
            case Fit(layers, piece):
                cover = self.plan.pieces[piece]
                return _effect(
                    "cover",
                    cover=[cover.name],
                    what=self.under(layers),
                    leaks=["yes"] if cover.leaks else [],
                    lets=sorted(cover.lets),
                )
            case Unfit(layers):
                return _effect("uncover", what=self.under(layers))
            case Tear(layers):
                return _effect("tear", what=self.under(layers))
            case Take(hold, _):
                return _effect("take", what=[self.unfolded.holds[hold][0]])
            case Wash(targets):
                return _effect("clean", what=self.names(targets))
            case Treat(targets, level, through):
                return _effect(
                    "treat",
                    what=self.names(targets),
                    level=[self.plan.levels[level].name],
                    floor=self.floors(act, targets),
                    through=[] if through is None else [through],
                )
            case Wet(number):
                treatment = self.plan.treatments[number]
                return _effect(
                    "treat",
                    what=self.names(treatment.targets),
                    level=[self.plan.levels[treatment.level].name],
                    floor=self.floors(act, treatment.targets),
                    minutes=[str(self.unfolded.wet_minutes[number])],
                )
            case SetFact(fact, value):
                name = self.plan.facts[fact].name
                return _effect("so" if value else "not so", what=[name])
            case Retire(piece):
                return _effect("throw away", what=[self.plan.pieces[piece].name])
            case RetireHeld(hold):
                return _effect("throw away", what=[self.unfolded.holds[hold][0]])
            case RetireCameOff():
                return _effect("throw away", what=[WHAT_CAME_OFF])
            case Judge(claim):
                return self.claim(claim, filled)
            case _:  # the end of a wet time
                return None

    def claim(self, number: int, filled: Filled) -> Effect:
        """What is asked for: by the facts that name whom and what, else in the author's words."""
        note = self.unfolded.claims[number]
        if note.facts:
            about = {name: [value] for name, value in sorted(note.facts.items())}
            return _effect("ask", about=[note.kind], **about)
        if isinstance(note.claim, _OF_THE_AUTHOR):
            return _effect("ask", words=[claim_in_words(note.claim, filled)])
        return _effect("ask", about=[note.kind])

    def names(self, targets: Iterable[Target]) -> list[str]:
        found: dict[str, None] = {}
        for target in targets:
            match target:
                case Outer(body):
                    found[self.plan.spots[self.plan.bodies[body].spot].name] = None
                case At(spot):
                    found[self.plan.spots[spot].name] = None
                case Held(_, spots):
                    found.update((self.plan.spots[spot].name, None) for _, spot in spots)
                case CameOff():
                    found[WHAT_CAME_OFF] = None
        return list(found)

    def under(self, layers: Iterable[int]) -> list[str]:
        """What is under the layers."""
        wanted = set(layers)
        return list(
            dict.fromkeys(
                self.plan.spots[body.spot].name
                for body in self.plan.bodies
                if wanted & set(body.layers)
            )
        )

    def floors(self, act: Act, targets: Iterable[Target]) -> list[str]:
        """The floors of what is treated, in the worlds in which it is done."""
        spots: list[int] = []
        for target in targets:
            match target:
                case Outer(body):
                    spots.append(self.plan.bodies[body].spot)
                case At(spot):
                    spots.append(spot)
                case Held(_, pairs):
                    spots += [spot for _, spot in pairs]
                case CameOff():
                    pass
        ranks = {
            rank
            for spot in spots
            for worlds, rank in self.plan.spots[spot].floors
            if worlds & act.worlds
        }
        return [self.ranks[rank] for rank in sorted(ranks) if rank in self.ranks]


def _amount(amount: Amount) -> list[str]:
    return [] if amount is Amount.FULL else [amount.value]


def _effect(kind: str, **names: Iterable[str]) -> Effect:
    """What has no name in a role is left out."""
    told = ((role, tuple(these)) for role, these in names.items())
    return Effect(kind, tuple((role, these) for role, these in told if these))
