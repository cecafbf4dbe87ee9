"""From a judged plan to what is on paper: the sheets of wall charts, and the dependency picture.

The chart and the diagram know nothing of the engine; here its answers become their records.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

from protocol_lang.chart.plan import Known, sheet
from protocol_lang.chart.sheet import Hands, HandState, Mark, Sheet, worst
from protocol_lang.contamination.hands import Hand, Soil, Watch
from protocol_lang.contamination.hands import Hands as HandsOfWorld
from protocol_lang.contamination.judge import Judgement
from protocol_lang.contamination.kernel import (
    AllOf,
    AnyOf,
    Bits,
    Effect,
    FactIs,
    IsWet,
    LayerHas,
    Meet,
    Not,
    Outer,
    Pass,
    Target,
    Treat,
    Wash,
    Wet,
)
from protocol_lang.contamination.kernel import Claim as KernelClaim
from protocol_lang.contamination.marks import Layout
from protocol_lang.contamination.unfold import Unfolded
from protocol_lang.contamination.unfold.spelling import MOMENT_OF, NOTHING_HAPPENS
from protocol_lang.diagram import Arrow, Graph, Node, Route
from protocol_lang.findings import Finding
from protocol_lang.model.parts import Counts, PersonKind, Start
from protocol_lang.model.protocol import WHAT_HAPPENS
from protocol_lang.model.steps import Step
from protocol_lang.model.walk import steps_of
from protocol_lang.order.effects import START
from protocol_lang.text import Place

#: Choices by name, or some of them.
Choices = Mapping[str, str]
#: The same in order.
Pairs = tuple[tuple[str, str], ...]


# --- Worlds and choices --------------------------------------------------------------------------


def worlds_wanted(unfolded: Unfolded, wanted: Choices) -> tuple[int, ...]:
    """The worlds that agree with the choices wanted, in the order of the values as declared."""
    choices = unfolded.worlds.choices

    def place(world: int) -> list[int]:
        told = unfolded.worlds.example(world)
        return [choice.values.index(told[choice.name]) for choice in choices]

    agreeing = (
        world
        for world, examples in enumerate(unfolded.worlds.examples)
        if any(
            all(one.get(name, value) == value for name, value in wanted.items()) for one in examples
        )
    )
    return tuple(sorted(agreeing, key=place))


def choices_that_matter(unfolded: Unfolded, world: int) -> Pairs:
    """The choices that make this world another than the rest, with their values.

    A choice that no condition asks for matters nowhere; one that all other choices of this world
    make irrelevant does not matter here.
    """
    first, *others = unfolded.worlds.examples[world]
    return tuple(
        (choice.name, first[choice.name])
        for choice in unfolded.protocol.choices
        if choice.name in first
        and len(choice.values) > 1
        and all(other.get(choice.name) == first[choice.name] for other in others)
    )


# --- Wall charts ---------------------------------------------------------------------------------


def sheets(
    unfolded: Unfolded, judgement: Judgement, mark: Mark, wanted: Choices
) -> tuple[Sheet, ...]:
    """One sheet for each way, among those that agree with ``wanted``, in which something differs.

    Where a world was not judged, nothing is claimed of anybody's hands.
    """
    watch = Watch(judgement) if judgement.layout is not None and judgement.judged else None
    made: list[tuple[Sheet, list[int]]] = []
    for settled, worlds in _alike(unfolded, worlds_wanted(unfolded, wanted)):
        known = None
        if watch is not None and all(judgement.judged >> world & 1 for world in worlds):
            known = _together([_Knowing(unfolded, watch, world).known() for world in worlds])
        bare = replace(sheet(unfolded.protocol, settled, known), choices=(), mark=mark)
        same = next((others for one, others in made if one == bare), None)
        if same is None:
            made.append((bare, list(worlds)))
        else:
            same += worlds
    settled_before = {
        choice.name for choice in unfolded.protocol.choices if choice.known_after is None
    }
    matter = {
        world: tuple(
            pair for pair in choices_that_matter(unfolded, world) if pair[0] in settled_before
        )
        for _, worlds in made
        for world in worlds
    }
    return tuple(
        replace(bare, choices=choices)
        for bare, worlds in made
        for choices in _titles(
            list(dict.fromkeys(matter[world] for world in worlds)),
            list(dict.fromkeys(matter.values())),
        )
    )


def number_of_sheets(unfolded: Unfolded, wanted: Choices) -> int:
    """How many ways, settled before the visit, agree with ``wanted``: at most so many sheets."""
    return sum(1 for _ in _alike(unfolded, worlds_wanted(unfolded, wanted)))


def _alike(unfolded: Unfolded, worlds: Iterable[int]) -> Iterator[tuple[Choices, tuple[int, ...]]]:
    """Worlds that are on one sheet: what is settled before the visit is the same in them, and
    which way they go is seen on the way."""
    settled = [
        choice
        for choice in unfolded.protocol.choices
        if choice.declared and choice.known_after is None
    ]
    groups: dict[tuple[str, ...], list[int]] = {}
    for world in worlds:
        example = unfolded.worlds.example(world)
        groups.setdefault(tuple(example[choice.name] for choice in settled), []).append(world)
    for values, members in groups.items():
        names = (choice.name for choice in settled)
        # The sheet is for a visit as it should go: what hands are like after a mishap is not on it.
        smooth = [world for world in members if not _goes_wrong(unfolded, world)]
        yield dict(zip(names, values, strict=True)), tuple(smooth or members)


def _goes_wrong(unfolded: Unfolded, world: int) -> bool:
    """Whether a mishap happens in it."""
    happens = unfolded.worlds.examples[world][0].get(WHAT_HAPPENS, NOTHING_HAPPENS)
    return happens != NOTHING_HAPPENS


def _together(known: Sequence[Known]) -> Known:
    """What is known of a sheet that stands for several worlds: of hands the worst, of what must
    not be touched all."""
    if len(known) == 1:
        return known[0]
    places = dict.fromkeys(place for one in known for place in one.hands)
    return Known(
        hands={
            place: _worst_of([one.hands[place] for one in known if place in one.hands])
            for place in places
        },
        start=_worst_of([one.start for one in known]),
        phase_do_not_touch=_all_of([one.phase_do_not_touch for one in known]),
        do_not_touch=_all_of([one.do_not_touch for one in known]),
        never_touch=tuple(
            name for name in known[0].never_touch if all(name in one.never_touch for one in known)
        ),
    )


def _worst_of(states: Sequence[Mapping[str, Hands]]) -> dict[str, Hands]:
    people = dict.fromkeys(person for one in states for person in one)
    found: dict[str, Hands] = {}
    for person in people:
        hands = [one[person] for one in states if person in one]
        merged = worst(one.state for one in hands)
        found[person] = (
            merged
            if merged.orders_differ
            else replace(merged, orders_differ=any(one.orders_differ for one in hands))
        )
    return found


def _all_of(told: Sequence[Mapping[Place, tuple[str, ...]]]) -> dict[Place, tuple[str, ...]]:
    places = dict.fromkeys(place for one in told for place in one)
    return {
        place: tuple(dict.fromkeys(name for one in told for name in one.get(place, ())))
        for place in places
    }


def _titles(alike: Sequence[Pairs], every: Sequence[Pairs]) -> list[Pairs]:
    """The choices that say when a sheet holds: what all of ``alike`` share, if it suffices."""
    common = tuple(pair for pair in alike[0] if all(pair in other for other in alike))
    meant = [pairs for pairs in every if set(common) <= set(pairs)]
    return [common] if len(meant) == len(alike) else list(alike)


_STATES: Mapping[Hand, HandState] = {
    Hand(True, Soil.PATIENT): HandState.USED_GLOVES,
    Hand(False, Soil.PATIENT): HandState.USED_BARE,
    Hand(True, Soil.OTHER): HandState.NOT_CLEAN_GLOVES,
    Hand(False, Soil.OTHER): HandState.NOT_CLEAN,
    Hand(True, Soil.NONE): HandState.CLEAN_GLOVES,
    Hand(False, Soil.NONE): HandState.CLEAN_BARE,
}


def hands_of_staff(unfolded: Unfolded) -> dict[str, int]:
    """For each member of staff the body that is their hands: the bare skin that they work with."""
    skin = [
        part.name
        for part in unfolded.protocol.body_parts
        if part.of is PersonKind.STAFF and part.counts is Counts.SKIN
    ]
    covered = {thing.worn_on for thing in unfolded.protocol.things.values()}
    named = sorted(skin, key=lambda name: (name != "hands", name not in covered))
    return {
        name: unfolded.bodies[name, named[0]]
        for name, person in unfolded.protocol.people.items()
        if named and person.kind is PersonKind.STAFF
    }


#: For the sheet; by the place of a phase; by the place of a step.
_NotToTouch = tuple[tuple[str, ...], dict[Place, tuple[str, ...]], dict[Place, tuple[str, ...]]]


@dataclass(slots=True)
class _Knowing:
    """What the engine tells about one world, step by step."""

    unfolded: Unfolded
    watch: Watch
    world: int
    staff: dict[str, int] = field(init=False)
    hands: HandsOfWorld = field(init=False)
    #: (number of the step, its last act) of the steps done in this world, as in the checklist
    done: list[tuple[int, int]] = field(init=False)
    states: dict[int, dict[str, Hands]] = field(init=False)
    #: things that some step of this world touches, covers or cleans
    at_hand: frozenset[str] = field(init=False)

    def __post_init__(self) -> None:
        self.staff = hands_of_staff(self.unfolded)
        self.hands = self.watch.world(self.world, self.staff.values(), self._bins())
        acts = self.unfolded.plan.acts
        # A step may be written as other acts for other worlds.
        self.done = [
            (step, here[-1])
            for step, numbers in enumerate(self.unfolded.acts_of)
            if (here := [act for act in numbers if acts[act].worlds >> self.world & 1])
        ]
        self.states = {
            step: {
                person: worst(_STATES[hand] for hand in self.hands.after(act, body))
                for person, body in self.staff.items()
            }
            for step, act in self.done
        }

        named = {
            thing
            for act in self.hands.acts()
            for thing in self._touched(self.unfolded.plan.acts[act].effects, None)
        }
        self.at_hand = frozenset(
            name
            for name in named
            if name in self.unfolded.protocol.things
            and self.unfolded.protocol.things[name].start is not Start.DIRTY
        )

    def _bins(self) -> frozenset[int]:
        """The spots of boxes that are waste streams: what is thrown in soils them, as it may."""
        plan = self.unfolded.plan
        return frozenset(
            plan.bodies[body].spot
            for (name, _), body in self.unfolded.bodies.items()
            if name in self.unfolded.protocol.streams
        )

    def known(self) -> Known:
        steps = self.unfolded.steps
        never, phases, rows = self.not_to_touch()
        return Known(
            hands={steps[step].place: states for step, states in self.states.items()},
            start={
                person: worst(_STATES[hand] for hand in self.hands.at_start(body))
                for person, body in self.staff.items()
            },
            phase_do_not_touch=phases,
            do_not_touch=rows,
            never_touch=never,
        )

    # What must not be touched.

    def not_to_touch(self) -> _NotToTouch:
        """What used hands must not touch: in any phase; as a phase begins; from a step on.

        Only steps after which somebody's hands are used have a say. What holds after every one of
        them is told once for the sheet. Where a time of used hands begins, the rest is told with
        that step, and further steps add what is new; a phase that begins with used hands says again
        what was told and still holds.
        """
        listed = {step: self._listed(step, act) for step, act in self.done if self._used(step)}
        never = frozenset.intersection(*listed.values()) if listed else frozenset()
        phases: dict[Place, tuple[str, ...]] = {}
        rows: dict[Place, tuple[str, ...]] = {}
        told: frozenset[str] = frozenset()
        phase: str | None = None
        places = {phase.title: phase.place for phase in self.unfolded.protocol.phases}
        for step, act in self.done:
            title = self.unfolded.acts[act].phase or ""
            if step not in listed:
                phase, told = title, frozenset()
                continue
            now = listed[step] - never
            if title != phase:
                phase, told = title, told & now
                if told:
                    phases[places[title]] = self._named(told)
            if new := now - told:
                rows[self.unfolded.steps[step].place] = self._named(new)
            told |= now
        return self._named(never), phases, rows

    def _used(self, step: int) -> list[str]:
        """Whose hands are, or may be, used just after the step."""
        return [person for person, hands in self.states[step].items() if hands.state.is_used]

    def _listed(self, step: int, act: int) -> frozenset[str]:
        """The things that hands used by now would carry soil on to.

        Left out is what those same hands are told to do before they are clean again: a thing that
        they are to meet all the same (the check has judged that), and one yet to be cleaned.
        So is a bare thing that is not kept clean and that no step of this sheet has to do with:
        nobody has it at hand.
        """
        carrying = self._carrying(act)
        return frozenset(
            thing for person in self._used(step) for thing in carrying - self._meant(person, step)
        )

    def _carrying(self, act: int) -> frozenset[str]:
        things = self.unfolded.protocol.things
        return frozenset(
            owner
            for (owner, _), body in self.unfolded.bodies.items()
            if owner in things
            and (things[owner].start is Start.KEPT_CLEAN or owner in self.at_hand)
            and self.hands.carries_on(act, body)
        )

    def _meant(self, person: str, step: int) -> frozenset[str]:
        """What this person is told to touch or clean after the step, while the hands stay used."""
        found: set[str] = set()
        for later, _ in self.done:
            if later <= step:
                continue
            for act in self.unfolded.acts_of[later]:
                if self.unfolded.acts[act].person == person:
                    effects = self.unfolded.plan.acts[act].effects
                    found.update(self._touched(effects, self.staff[person]))
            if person not in self._used(later):
                break
        return frozenset(found)

    def _touched(self, effects: Sequence[Effect], hands: int | None) -> Iterator[str]:
        """Owners of the bodies that are cleaned, or meet those hands (None: meet anything)."""
        owner = {body: name for (name, _), body in self.unfolded.bodies.items()}
        for effect in effects:
            targets: tuple[Target, ...] = ()
            if isinstance(effect, Wash | Treat):
                targets = effect.targets
            elif isinstance(effect, Wet):
                targets = self.unfolded.plan.treatments[effect.treatment].targets
            elif isinstance(effect, Meet | Pass):
                both = effect.targets if isinstance(effect, Meet) else effect.sources + effect.goals
                if hands is None or Outer(hands) in both:
                    targets = both
            yield from (
                owner[one.body] for one in targets if isinstance(one, Outer) and one.body in owner
            )

    def _named(self, things: Iterable[str]) -> tuple[str, ...]:
        """Things in the order of the room; a group that is wholly among them by its own name."""
        left = set(things)
        groups = self.unfolded.protocol.groups.values()
        said: dict[str, str] = {}  # its first member -> the group
        for group in sorted(groups, key=lambda group: -len(set(group.members))):
            members = set(group.members)
            if len(members) > 1 and members <= left:
                said[group.members[0]] = group.name
                left -= members
        order = self.unfolded.protocol.things
        return tuple(said.get(name, name) for name in order if name in left or name in said)


# --- The picture ---------------------------------------------------------------------------------


#: What is said beside the title of a phase for whose end nobody waits.
RUNS_ON = "may run into the next visit"


def picture(
    unfolded: Unfolded, judgement: Judgement, wanted: Choices, finding: Finding | None = None
) -> Graph:
    """Which step must come before which, in the worlds that agree with ``wanted``.

    Steps are numbered through; with all choices settled, the numbers are those of the chart.
    ``finding``: its route is drawn over the picture, with the steps of every visit.
    Raises ValueError if the order of the steps runs in a circle.
    """
    layout = judgement.layout
    if layout is None:
        raise ValueError("the order runs in a circle")
    worlds = worlds_wanted(unfolded, wanted)
    # Steps of mishaps are not drawn, so when one happens is no condition of the others.
    smooth = tuple(world for world in worlds if not _goes_wrong(unfolded, world))
    return _Picture(unfolded, layout, smooth or worlds).graph(finding)


class _Picture:
    def __init__(self, unfolded: Unfolded, layout: Layout, worlds: tuple[int, ...]) -> None:
        self.unfolded = unfolded
        self.layout = layout
        self.worlds: Bits = sum(1 << world for world in worlds)
        #: (number of the step, its acts): of what is repeated one round, and nothing of mishaps
        self.steps = [
            (step, numbers)
            for step, numbers in enumerate(unfolded.acts_of)
            if self._worlds_of(numbers) and self._is_drawn(unfolded.steps[step])
        ]
        self.step_of = {act: step for step, numbers in self.steps for act in numbers}

    def _worlds_of(self, acts: Iterable[int]) -> Bits:
        """The worlds, of those shown, in which one of the acts is done."""
        found: Bits = 0
        for act in acts:
            found |= self.unfolded.plan.acts[act].worlds
        return found & self.worlds

    def _is_drawn(self, step: Step) -> bool:
        if any(one.number > 1 for one in step.rounds):
            return False
        return all(
            step.place != other.place
            for mishap in self.unfolded.protocol.mishaps
            for other in steps_of(mishap.items)
        )

    def graph(self, finding: Finding | None) -> Graph:
        protocol = self.unfolded.protocol
        shown: list[str] = []
        nodes: list[Node] = []
        for number, (step, acts) in enumerate(self.steps, start=1):
            note = self.unfolded.acts[acts[0]]
            record = self.unfolded.steps[step]
            title = note.phase or ""
            if title not in shown:
                shown.append(title)
            nodes.append(
                Node(
                    id=str(step),
                    number=number,
                    text=record.short or record.text,
                    person=note.person,
                    phase=shown.index(title),
                    condition=self._condition(self._worlds_of(acts)),
                )
            )
        short = {
            phase.title: (phase.short or phase.title) + (f" ({RUNS_ON})" if phase.runs_on else "")
            for phase in protocol.phases
        }
        return Graph(
            title=protocol.header.title,
            phases=tuple(short[title] for title in shown),
            nodes=tuple(nodes),
            before=tuple(self._before()),
            makes_true=tuple(self._makes_true()),
            route=self._route(finding),
        )

    def _condition(self, within: Bits) -> str | None:
        """The choices for which a step is done, where it is not done for all that are shown."""
        if within == self.worlds:
            return None
        inside = [w for w in range(self.unfolded.plan.worlds) if within >> w & 1]
        outside = [
            w for w in range(self.unfolded.plan.worlds) if self.worlds >> w & 1 and w not in inside
        ]
        told = []
        for choice in self.unfolded.worlds.choices:
            if choice.name == WHAT_HAPPENS or choice.name.startswith(MOMENT_OF):
                continue  # when a mishap happens is no condition of what is always done
            values = [v for v in choice.values if v in self._values(choice.name, inside)]
            if not values:
                continue
            others = self._values(choice.name, outside)
            if set(values) != self._values(choice.name, [*inside, *outside]) and (
                others - set(values)
            ):
                # The ways of an "either" have no names of an author.
                named = f"{choice.name}: {' or '.join(values)}"
                told.append(named if choice.declared else "as one of the ways")
        return "; ".join(dict.fromkeys(told)) or None

    def _values(self, name: str, worlds: Iterable[int]) -> set[str]:
        return {
            combination.get(name, "")
            for world in worlds
            for combination in self.unfolded.worlds.examples[world]
        }

    def _before(self) -> Iterator[Arrow]:
        for first, acts in self.steps:
            for second, others in self.steps:
                if first != second and self._comes_first(acts, others):
                    yield Arrow(str(first), str(second))

    def _comes_first(self, acts: Sequence[int], others: Sequence[int]) -> bool:
        """Whether the one step comes surely before the other; acts for different worlds, which are
        never both done, have no say."""
        before, of = self.layout.network.before, self.unfolded.plan.acts
        last, first = acts[-1], others[0]
        if of[acts[0]].worlds == of[last].worlds and of[first].worlds == of[others[-1]].worlds:
            return bool(before[first] >> last & 1)
        both = [(a, b) for a in acts for b in others if of[a].worlds & of[b].worlds]
        return bool(both) and all(before[b] >> a & 1 for a, b in both)

    def _makes_true(self) -> Iterator[Arrow]:
        """From each step that makes an "only when" of another true."""
        plan = self.unfolded.plan
        found: dict[Arrow, None] = {}
        for step, acts in self.steps:
            for act in acts:
                for number in plan.acts[act].claims:
                    if self.unfolded.claims[number].kind != "only-when":
                        continue  # duties are of everybody at all times
                    for writer in self._writers(act, plan.claims[number], True):
                        source = self.step_of.get(writer)
                        if source is not None and source != step:
                            found[Arrow(str(source), str(step))] = None
        return iter(found)

    def _writers(self, act: int, claim: KernelClaim, holds: bool) -> Iterator[int]:
        registers = self.layout.registers
        match claim:
            case Not(part):
                yield from self._writers(act, part, not holds)
                return
            case AllOf(parts) | AnyOf(parts):
                for part in parts:
                    yield from self._writers(act, part, holds)
                return
            case FactIs(fact, value):
                register, good = registers.fact(fact), frozenset({int(value)})
            case LayerHas(layer, pieces):
                register, good = registers.layer(layer), pieces
            case IsWet(treatment):
                register, good = registers.wet(treatment), frozenset({1})
        for writer, written, worlds in self.layout.possible.writers(register, act):
            if writer != START and (written in good) is holds and worlds & self.worlds:
                yield writer

    def _route(self, finding: Finding | None) -> Route | None:
        """The steps of a finding's route, and what takes the soil from each to the next."""
        if finding is None or finding.route is None:
            return None
        by_place = {self.unfolded.steps[step].place: str(step) for step, _ in self.steps}
        stops = [stop for stop in finding.route.steps if stop.place in by_place]
        carries = []
        for stop, following in pairwise(stops):
            carrier = stop.moves[-1][1] if stop.moves else ""
            later = following.visit - stop.visit
            carries.append(f"{carrier}, next visit" if later and carrier else carrier)
        nodes = tuple(by_place[stop.place] for stop in stops if stop.place is not None)
        return Route(nodes, tuple(carries)) if nodes else None
