"""The work of a plan: each act as a task, in one world, with all lengths at their least or most.

Left out are no acts: one that is left out in a world keeps its place in the order, as the kernel
has it, and takes no time. After all that has to be done before the next patient comes there is one
task more, :attr:`Tasks.ready`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import Enum

from protocol_lang.contamination.kernel import Bits, Wet, WetEnd
from protocol_lang.contamination.unfold import Unfolded
from protocol_lang.contamination.unfold.worlds import carried_in
from protocol_lang.model.parts import PersonKind
from protocol_lang.model.steps import Doing, Step, Waiting
from protocol_lang.model.verbs import Moves, OfPerson, OfSlot, Reduces
from protocol_lang.order import Block, Network, before_from_pairs, close
from protocol_lang.order.bits import gather, members
from protocol_lang.order.network import Cycle
from protocol_lang.schedule.work import TICKS, Work
from protocol_lang.trade.air import clearance_minutes

MINUTE = 60 * TICKS


class At(Enum):
    """Which length of each span is taken."""

    LEAST = "least"
    MIDDLE = "middle"
    MOST = "most"


@dataclass(frozen=True, slots=True)
class Changes:
    """What is otherwise than written. ``helped``: act to the number of the person who does it.
    ``labels``: product to the minutes of its label. ``at_hand``: things of which another one is
    ready, so that nobody waits for them to dry. ``no_waits``: nobody waits at all."""

    helped: Mapping[int, int] = field(default_factory=dict)
    labels: Mapping[str, int] = field(default_factory=dict)
    at_hand: frozenset[str] = frozenset()
    no_waits: bool = False


AS_WRITTEN = Changes()


class NoOrder(Exception):
    """With these changes no order of the steps is permitted."""


class Tasks:
    """The acts of a plan as tasks. ``begins``: the act that each treatment begins with."""

    def __init__(self, unfolded: Unfolded) -> None:
        self.unfolded = unfolded
        plan, protocol = unfolded.plan, unfolded.protocol
        self.ready = len(plan.acts)
        self.end = len(plan.acts) - 1
        running = {
            (phase.title, phase.part, phase.visit) for phase in protocol.phases if phase.runs_on
        }
        self.running: Bits = gather(
            act
            for act, note in enumerate(unfolded.acts)
            if (note.phase, note.part, note.visit) in running
        )
        self.steps: tuple[Step | None, ...] = tuple(
            None if note.step is None or note.ends_treatment else unfolded.steps[note.step]
            for note in unfolded.acts
        )
        self.begins = {
            effect.treatment: act
            for act, record in enumerate(plan.acts)
            for effect in record.effects
            if isinstance(effect, Wet)
        }
        self.products = {number: self._product(act) for number, act in self.begins.items()}
        self.leavings: Bits = gather(act for act in range(self.end) if self._patient_leaves(act))
        #: (beginning, end, wait, treatment) of each treatment and each wait until it is dry.
        self.waits = tuple(self._waited())
        pairs = list(plan.order)
        pairs += [(act, self.ready) for act in range(self.end) if not self.running >> act & 1]
        #: The pairs of the plan as sets of bits, not closed.
        self._given = before_from_pairs(self.ready + 1, pairs)
        self._there: dict[int, Bits] = {}
        self._closed: dict[tuple[tuple[int, int], ...], Network] = {}
        self._air = carried_in(protocol.air, unfolded.worlds)
        air = protocol.air
        self.clearing: dict[str, int] = {}
        if air is not None:
            for where in protocol.places.values():
                if where.air_changes is not None:
                    self.clearing[where.name] = clearance_minutes(
                        float(where.air_changes), float(air.percent), float(air.mixing)
                    )

    def there(self, world: int) -> Bits:
        """The acts that are done in a world."""
        known = self._there.get(world)
        if known is None:
            acts = enumerate(self.unfolded.plan.acts)
            known = self._there[world] = gather(act for act, one in acts if one.worlds >> world & 1)
        return known

    def length(self, act: int, at: At) -> int:
        """How long an act takes where it is done, in ticks; 0 where nothing is told of it."""
        step = self.steps[act]
        if step is None:
            return 0
        if isinstance(step.does, Waiting):
            return (step.does.minutes or 0) * MINUTE
        told = step.takes
        if told is None and isinstance(step.does, Doing):
            told = step.does.verb.takes
        if told is None:
            return 0
        least, most = int(told.least * TICKS), int(told.most * TICKS)
        return {At.LEAST: least, At.MIDDLE: (least + most) // 2, At.MOST: most}[at]

    def is_wait(self, act: int) -> bool:
        """Whether the act is a wait."""
        step = self.steps[act]
        return step is not None and isinstance(step.does, Waiting)

    def until_dry(self, act: int) -> str | None:
        """What the act waits for until it is dry, if it does."""
        step = self.steps[act]
        return step.does.until_dry if step and isinstance(step.does, Waiting) else None

    def is_told(self, act: int) -> bool:
        """Whether anything is known of how long the act takes; what is no step takes no time."""
        step = self.steps[act]
        if step is None or isinstance(step.does, Waiting):
            return True
        return step.takes is not None or (
            isinstance(step.does, Doing) and step.does.verb.takes is not None
        )

    def label(self, treatment: int, changes: Changes = AS_WRITTEN) -> int:
        """How long a treatment has to stay wet, in ticks."""
        product = self.products[treatment]
        minutes = self.unfolded.wet_minutes[treatment]
        return (changes.labels.get(product, minutes) if product else minutes) * MINUTE

    def work(self, there: Bits, at: At, changes: Changes = AS_WRITTEN, air: bool = False) -> Work:
        """The work of these acts; ``air``: it is waited until the air is clear as well.

        Raises :class:`NoOrder`.
        """
        network = self.closed(changes.helped)
        lengths = [
            self.length(act, at) if there >> act & 1 else 0
            for act in range(len(self.unfolded.plan.acts))
        ]
        delays: dict[tuple[int, int], int] = {}
        for begin, end, wait, treatment in self.waits:
            done = there >> begin & 1 and there >> end & 1 and there >> wait & 1
            if not done or changes.no_waits or self.until_dry(wait) in changes.at_hand:
                continue
            key = begin, wait
            delays[key] = max(delays.get(key, 0), self.label(treatment, changes))
        if changes.no_waits:
            for act, one in enumerate(self.steps):
                if one is not None and isinstance(one.does, Waiting):
                    lengths[act] = 0
        if air and self.clearing:
            longest = max(self.clearing.values()) * MINUTE
            delays |= {(act, self.ready): longest for act in members(self.leavings & there)}
        return Work(
            (*lengths, 0),
            self._who(changes.helped),
            network.before,
            network.blocks,
            delays,
            self._given,
        )

    def carries(self, world: int) -> bool:
        """Whether the air carries germs in this world."""
        return bool(self._air >> world & 1)

    def closed(self, helped: Mapping[int, int] | None = None) -> Network:
        """The order of all tasks, closed. Raises :class:`NoOrder`."""
        helped = helped or {}
        key = tuple(sorted(helped.items()))
        known = self._closed.get(key)
        if known is not None:
            return known
        made = close(
            Network(
                events=self.ready + 1,
                before=self._given,
                blocks=tuple(self._blocks(helped)),
                worlds=1,
                present=(1,) * (self.ready + 1),
            )
        )
        if isinstance(made, Cycle):
            raise NoOrder
        self._closed[key] = made
        return made

    def _who(self, helped: Mapping[int, int]) -> tuple[int | None, ...]:
        people = [act.person for act in self.unfolded.plan.acts]
        for act, person in helped.items():
            people[act] = person
        return (*people, None)

    def _blocks(self, helped: Mapping[int, int]) -> list[Block]:
        """What is done in one go: of each person apart, once somebody else does some of it."""
        who = self._who(helped)
        by_person: dict[int, Bits] = {}
        for act, person in enumerate(who):
            if person is not None:
                by_person[person] = by_person.get(person, 0) | 1 << act
        moved = gather(helped)
        found: list[Block] = []
        for one in self.unfolded.plan.together:
            if not moved & (one.members | one.others):
                found.append(Block(one.members, one.others))
                continue
            for mine in by_person.values():
                inside = one.members & mine
                if inside & (inside - 1):
                    others = one.others & mine if inside & ~moved else mine & ~one.members
                    found.append(Block(inside, others))
        return found

    def _waited(self) -> list[tuple[int, int, int, int]]:
        """(beginning of a treatment, its end, a wait until it is dry, the treatment)."""
        plan = self.unfolded.plan
        ends = {
            act: effect.treatment
            for act, record in enumerate(plan.acts)
            for effect in record.effects
            if isinstance(effect, WetEnd)
        }
        found = []
        for one, other in plan.order:
            if one not in ends:
                continue
            step = self.steps[other]
            if step is not None and isinstance(step.does, Waiting) and step.does.until_dry:
                found.append((self.begins[ends[one]], one, other, ends[one]))
        return found

    def _product(self, act: int) -> str | None:
        step = self.steps[act]
        if step is None or not isinstance(step.does, Doing):
            return None
        filled = self.unfolded.acts[act].filled
        for line in step.does.verb.lines:
            if isinstance(line, Reduces) and line.product is not None:
                return filled.get(line.product, (line.product,))[0]
        return None

    def _patient_leaves(self, act: int) -> bool:
        step = self.steps[act]
        if step is None or not isinstance(step.does, Doing):
            return False
        people = self.unfolded.protocol.people
        filled = self.unfolded.acts[act].filled
        for line in step.does.verb.lines:
            if not isinstance(line, Moves) or line.to is not None:
                continue
            who = None
            if isinstance(line.who, OfSlot):
                who = filled.get(line.who.slot, ("",))[0]
            elif isinstance(line.who, OfPerson):
                who = line.who.person
            if who is not None and who in people and people[who].kind is PersonKind.PATIENT:
                return True
        return False
