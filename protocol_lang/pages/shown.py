"""What one sheet shows of the protocol: its worlds, its steps with their numbers, their acts."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property

from protocol_lang.chart.plan import chosen_items, numbers
from protocol_lang.contamination.hands import Hands
from protocol_lang.contamination.kernel import NOTHING, At, Effect, Fit, Outer, Target
from protocol_lang.contamination.unfold import ActNote, Unfolded
from protocol_lang.model.steps import Item, Step
from protocol_lang.text import Place


@dataclass(frozen=True)
class Shown:
    """``worlds``: those that the sheet stands for, visits as they should go; ``every``: with them
    those in which something goes wrong, and steps of the sheet are done that are not done else;
    ``choices``: what is settled in all of them.

    ``hands``: what the engine tells of each world, by its number; empty where nothing may be
    claimed: then nothing that depends on the order of steps is told.
    """

    unfolded: Unfolded
    worlds: tuple[int, ...]
    every: tuple[int, ...]
    choices: Mapping[str, str]
    hands: Mapping[int, Hands]

    @cached_property
    def numbers(self) -> Mapping[Place, int]:
        """The numbers of the steps on the sheet."""
        return numbers(self.unfolded.protocol, self.choices)

    @cached_property
    def items(self) -> tuple[Item, ...]:
        """What is on the sheet, with its branches and blocks."""
        return chosen_items(self.unfolded.protocol, self.choices)

    @cached_property
    def every_act(self) -> tuple[Act, ...]:
        """What is done by steps that are on the sheet, in one of its worlds, by their numbers."""
        plan, within = self.unfolded.plan, sum(1 << world for world in self.every)
        found = []
        for step, acts in enumerate(self.unfolded.acts_of):
            record = self.unfolded.steps[step]
            number = self.numbers.get(record.place)
            for act in acts if number is not None else ():
                assert number is not None
                if plan.acts[act].worlds & within:
                    note = self.unfolded.acts[act]
                    found.append(Act(act, number, record, note, plan.acts[act].effects))
        return tuple(sorted(found, key=lambda one: (one.number, one.act)))

    def acts(self, world: int) -> Iterator[Act]:
        """The same of one world."""
        acts = self.unfolded.plan.acts
        return (one for one in self.every_act if acts[one.act].worlds >> world & 1)

    # Names

    @cached_property
    def owners(self) -> Mapping[int, str]:
        """Whose a body is: a person's or a thing's."""
        return {body: name for (name, _), body in self.unfolded.bodies.items()}

    @cached_property
    def owner_of_spot(self) -> Mapping[int, str]:
        """The thing or person whose bare spot it is, or the sort of a piece."""
        plan = self.unfolded.plan
        found = {spot: piece.kind for piece in plan.pieces for spot in piece.spots}
        return found | {plan.bodies[body].spot: name for body, name in self.owners.items()}

    @cached_property
    def body_of_layer(self) -> Mapping[int, int]:
        """The body on which a layer is."""
        bodies = self.unfolded.plan.bodies
        return {layer: number for number, body in enumerate(bodies) for layer in body.layers}

    def owner(self, target: Target) -> str | None:
        """Whose it is that is named; None for what is held in the hand."""
        if isinstance(target, Outer):
            return self.owners.get(target.body)
        if isinstance(target, At):
            return self.owner_of_spot.get(target.spot)
        return None

    def on_layer(self, act: int, layer: int) -> frozenset[int]:
        """What a layer may hold just before an act, in one of the worlds and orders of the sheet.

        Where the engine was not asked, or may claim nothing: all that is ever put there.
        """
        acts = self.unfolded.plan.acts
        here = [
            hands.worn_before(act, layer)
            for world, hands in self.hands.items()
            if acts[act].worlds >> world & 1
        ]
        if here:
            return frozenset[int]().union(*here)
        put = {
            effect.piece
            for one in self.every_act
            for effect in one.effects
            if isinstance(effect, Fit) and layer in effect.layers
        }
        return frozenset(put | {self.unfolded.plan.layers[layer].start, NOTHING})

    def named(self, names: Iterable[str]) -> tuple[str, ...]:
        """Things in the order of the room; a group that is wholly among them by its own name."""
        return named(self.unfolded, names)


@dataclass(frozen=True, slots=True)
class Act:
    """One act of a step that has the ``number`` on the sheet."""

    act: int
    number: int
    step: Step
    note: ActNote
    effects: tuple[Effect, ...]


def named(unfolded: Unfolded, names: Iterable[str]) -> tuple[str, ...]:
    """Things in the order of the room; a group that is wholly among them by its own name."""
    left = set(names)
    groups = unfolded.protocol.groups.values()
    said: dict[str, str] = {}  # its first member -> the group
    for group in sorted(groups, key=lambda group: -len(set(group.members))):
        members = set(group.members)
        if len(members) > 1 and members <= left:
            said[group.members[0]] = group.name
            left -= members
    order = unfolded.protocol.things
    return tuple(said.get(name, name) for name in order if name in left or name in said)
