"""How something comes about: the steps that matter, in the order of one permitted run."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from protocol_lang.contamination.kernel import (
    OF_PATIENTS,
    AllOf,
    AnyOf,
    Bits,
    Claim,
    FactIs,
    IsWet,
    LayerHas,
    Not,
)
from protocol_lang.contamination.marks import STATES, Delivered, Judged, Layout, spot_of
from protocol_lang.contamination.unfold import Unfolded
from protocol_lang.contamination.unfold.spelling import MOMENT_OF, NOTHING_HAPPENS
from protocol_lang.contamination.visits import Hit, Leg
from protocol_lang.findings import Route, RouteStep
from protocol_lang.model.parts import PersonKind
from protocol_lang.model.protocol import WHAT_HAPPENS
from protocol_lang.model.walk import steps_of
from protocol_lang.order.question import Found
from protocol_lang.text import Place

#: A story about the order alone shows at most so many steps before the one it is about.
STEPS_BEFORE = 2


class Names:
    """What spots and acts are called."""

    def __init__(self, unfolded: Unfolded) -> None:
        self._unfolded = unfolded
        plan = unfolded.plan
        self._patients = {
            person.name
            for person in unfolded.protocol.people.values()
            if person.kind is not PersonKind.STAFF
        }
        self._second = {
            person.name for person in unfolded.protocol.people.values() if person.second
        }
        self._owner: dict[int, str] = {}
        for piece, record in enumerate(plan.pieces):
            if not record.single_use:
                continue
            thing = unfolded.protocol.things[record.kind]
            act = unfolded.pieces_made.get(piece)
            person = unfolded.worn_at_start.get(piece) if act is None else unfolded.acts[act].person
            if thing.worn_on is not None and person:
                self._owner.update(dict.fromkeys(record.spots, person))

    def spot(self, spot: int, visit: int = 1) -> str:
        """The name of a spot; in a later visit the patient is the next one."""
        name = self._unfolded.plan.spots[spot].name
        person = self._owner.get(spot)
        if person is not None:
            return f"{person}'s {name}"
        owner, _, rest = name.partition("'s ")
        if rest and owner in self._second:
            return (
                f"the {name}" if visit == 1 else f"a later {owner.removeprefix('next ')}'s {rest}"
            )
        if rest and owner in self._patients:
            return f"the {owner}'s {rest}" if visit == 1 else f"the next {owner}'s {rest}"
        return name

    def at(self, position: int, visit: int = 1) -> str:
        """The name of the spot of a position; a source that never runs out is at its own spot."""
        return self.spot(self.spot_at(position), visit)

    def spot_at(self, position: int) -> int:
        """The spot of a position."""
        plan = self._unfolded.plan
        if spot_of(position) < len(plan.spots):
            return spot_of(position)
        lasting = [source for source in plan.sources if source.lasting]
        return lasting[position - len(plan.spots) * STATES].spot

    def is_act(self, event: int) -> bool:
        """Whether the event is an act, not one of the moments after the visit."""
        return event < len(self._unfolded.acts)

    def act(self, act: int) -> str:
        """The sentence of an act; the end of a wet time is told as such."""
        note = self._unfolded.acts[act]
        if note.ends_treatment:
            return f"the wet time is over: {note.text}"
        return note.text

    def place(self, act: int) -> Place | None:
        return self._unfolded.acts[act].place

    def person(self, act: int) -> str | None:
        return self._unfolded.acts[act].person

    def visit(self, act: int) -> int:
        """In which of two visits the act is, where the first runs into the second."""
        return self._unfolded.acts[act].visit


def choices_of(unfolded: Unfolded, worlds: Bits) -> tuple[tuple[str, str], ...]:
    """The choices on which all that lead to one of the worlds agree: those that matter."""
    examples = [
        combination
        for number, combinations in enumerate(unfolded.worlds.examples)
        if worlds >> number & 1
        for combination in combinations
    ]
    if unfolded.worlds.combinations == 1:
        return ()
    first, *others = examples
    return tuple(
        (NAME_OF_MOMENT if name.startswith(MOMENT_OF) else name, first[name])
        for name in (choice.name for choice in unfolded.worlds.choices if len(choice.values) > 1)
        if name in first
        and all(other.get(name) == first[name] for other in others)
        and (name, first[name]) != (WHAT_HAPPENS, NOTHING_HAPPENS)
    )


#: How the choice of the moment of a mishap is told.
NAME_OF_MOMENT = "when"


def route_of_soil(unfolded: Unfolded, names: Names, hit: Hit) -> Route:
    """The story of a hit: every step in which the soil travels on, visit after visit."""
    steps: list[RouteStep] = []
    choices: list[tuple[str, str]] = []
    several = len(hit.legs) > 1
    number = 1
    for patient, leg in enumerate(hit.legs, start=1):
        told = choices_of(unfolded, leg.worlds)
        choices += [
            (f"{name} (visit {number})" if several else name, value) for name, value in told
        ]
        steps += _leg(names, leg, number, patient if hit.origin in OF_PATIENTS else 1)
        number += _visits_in(unfolded, leg.world)
    return Route(_same_throughout(choices), tuple(steps), hit.classes)


def _visits_in(unfolded: Unfolded, world: int) -> int:
    """Two where one visit runs into the next, else one."""
    return max(
        note.visit
        for note, act in zip(unfolded.acts, unfolded.plan.acts, strict=True)
        if act.worlds >> world & 1
    )


def _same_throughout(choices: list[tuple[str, str]]) -> tuple[tuple[str, str], ...]:
    """Choices that are alike in all visits are told once."""
    by_name: dict[str, set[str]] = {}
    for name, value in choices:
        by_name.setdefault(name.split(" (visit")[0], set()).add(value)
    told: dict[tuple[str, str], None] = {}
    for name, value in choices:
        bare = name.split(" (visit")[0]
        told[(bare if len(by_name[bare]) == 1 else name, value)] = None
    return tuple(told)


def _leg(names: Names, leg: Leg, visit: int, patient: int) -> list[RouteStep]:
    steps: list[RouteStep] = []
    for hop in leg.route:
        if not names.is_act(hop.event):
            continue
        start = names.at(hop.start, patient)
        if hop.target is None:
            end = names.at(hop.to, patient)
        elif isinstance(leg.goal, Delivered | Judged):
            end = names.spot(leg.goal.spot, patient)
        else:
            end = start
        moves = ((start, end),) if start != end else ()
        if moves or hop.target is not None:
            steps.append(
                RouteStep(
                    visit + names.visit(hop.event) - 1,
                    names.person(hop.event),
                    names.act(hop.event),
                    names.place(hop.event),
                    moves,
                )
            )
    return steps


def registers_of(layout: Layout, claim: Claim) -> set[int]:
    """The registers that a claim speaks of."""
    match claim:
        case FactIs(fact, _):
            return {layout.registers.fact(fact)}
        case LayerHas(layer, _):
            return {layout.registers.layer(layer)}
        case IsWet(treatment):
            return {layout.registers.wet(treatment)}
        case Not(part):
            return registers_of(layout, part)
        case AllOf(parts) | AnyOf(parts):
            return set().union(*(registers_of(layout, part) for part in parts))


def route_of_order(
    unfolded: Unfolded,
    names: Names,
    layout: Layout,
    run: Found,
    act: int,
    registers: Iterable[int],
) -> Route:
    """The story of a run up to ``act``: the steps that changed what it depends on, and the next
    one."""
    network = layout.network
    changing = [
        event
        for event in run.order
        if event < len(unfolded.acts)
        and network.present[event] >> run.world & 1
        and any(event in network.registers[register].writes for register in registers)
        and unfolded.acts[event].step is not None
    ]
    position = {event: number for number, event in enumerate(run.order)}
    before = [event for event in changing if position[event] < position[act]][-STEPS_BEFORE:]
    later = [event for event in changing if position[event] > position[act]][:1]
    if before:
        later = []  # what comes after does not explain it
    rows = [*before, act, *later]
    return Route(
        choices_of(unfolded, 1 << run.world),
        tuple(
            RouteStep(names.visit(event), names.person(event), names.act(event), names.place(event))
            for event in dict.fromkeys(rows)
        ),
    )


def contexts(unfolded: Unfolded) -> Mapping[int, str]:
    """Where each act stands in the author's structure: "step 4 in Place and expose"."""
    protocol = unfolded.protocol
    lists = [(one.title, one.part, one.visit, one.items) for one in protocol.phases]
    lists += [(one.name, one.part, one.visit, one.items) for one in protocol.mishaps]
    where: dict[Place, str] = {}
    for title, part, visit, items in lists:
        whose = "" if part is None else f' of "{part}"'
        whose += "" if visit == 1 else ", in the next visit"
        for number, step in enumerate(steps_of(items), start=1):
            where.setdefault(step.place, f'step {number} in "{title}"{whose}')
    return {
        act: where[note.place]
        for act, note in enumerate(unfolded.acts)
        if note.step is not None and note.place in where
    }
