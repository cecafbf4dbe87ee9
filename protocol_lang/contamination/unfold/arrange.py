"""The acts of a protocol in their order: the last step from words to a plan.

Every step becomes one act for each member of a list that it goes through one by one; a treatment
with a wet time gets a further act, its end, which is nobody's and floats until a wait ties it down.
Blocks become order pairs and groups of acts that are done in one go.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise, product

from protocol_lang.contamination.kernel import (
    Act,
    Acts,
    AllOf,
    Amount,
    At,
    Bits,
    Effect,
    FactIs,
    Judge,
    Level,
    Outer,
    Pass,
    Plan,
    SetFact,
    Take,
    Togetherness,
    Treatment,
    WetEnd,
)
from protocol_lang.contamination.kernel import Claim as KClaim
from protocol_lang.contamination.kernel import Not as KNot
from protocol_lang.contamination.supplies import Supply
from protocol_lang.contamination.unfold.air import (
    TRUE,
    air_of,
    before_act,
    breathes,
    can_begin,
    not_followed,
    patients_of,
    staff_of,
    waited,
)
from protocol_lang.contamination.unfold.effects import (
    CannotBeDone,
    PendingClaim,
    Treating,
    Writer,
    spot_of_target,
)
from protocol_lang.contamination.unfold.remembered import Remembered
from protocol_lang.contamination.unfold.room import Room, room_of
from protocol_lang.contamination.unfold.running import Following, alike
from protocol_lang.contamination.unfold.spelling import (
    Depths,
    branchings_of,
    choices_in,
    spell_out,
    states_in,
    steps_at_least,
    told_rounds,
)
from protocol_lang.contamination.unfold.worlds import (
    MOST_COMBINATIONS,
    Asked,
    Combination,
    Worlds,
    carried_in,
    combinations_of,
    worlds_of,
)
from protocol_lang.findings import Finding
from protocol_lang.model.conditions import Claim, Condition, IsCleanOf, NotSo, StateIs
from protocol_lang.model.parts import ActsOn, PersonKind
from protocol_lang.model.protocol import WHAT_HAPPENS, Protocol
from protocol_lang.model.running import NEXT
from protocol_lang.model.steps import (
    AnyOrder,
    Border,
    Doing,
    InOneGo,
    InOrder,
    Item,
    Phase,
    Round,
    RoundEnds,
    Saying,
    SideBySide,
    Step,
    Waiting,
    Where,
)
from protocol_lang.model.verbs import Share, Slot, Verb
from protocol_lang.model.walk import steps_of
from protocol_lang.order.bits import gather, members
from protocol_lang.text import Place
from protocol_lang.trade.air import clearance_minutes

#: A visit with more acts than this is not judged: the time it takes grows faster than the acts
#: (about half a second for 500, ten seconds for 2,000).
MOST_ACTS = 2_000
#: Of so many steps the copies are not even made.
TOO_MANY_TO_SPELL = 10 * MOST_ACTS

_ACTS = {
    ActsOn.RINSED: Acts.RINSED,
    ActsOn.TRACES: Acts.TRACES,
    ActsOn.ALL: Acts.ALL,
    ActsOn.CHEMICALS: Acts.CHEMICALS,
}


@dataclass(frozen=True, slots=True)
class ActNote:
    """What an act is in the author's terms.

    ``step``: the number of the step in :attr:`Unfolded.steps`, None for the start and the end of
    the visit and for the borders of protocols within it. ``ends_treatment``: the act is the end of
    a wet time that this step began. ``filled``: what fills the slots in this act. ``phase``: the
    title of the phase, ``part`` that of its protocol where several are put together; ``visit``:
    in which of two visits it is, where the first runs into the second. ``treating``: what it treats
    with which thing.
    """

    step: int | None
    person: str | None
    text: str
    phase: str | None
    place: Place | None
    ends_treatment: bool = False
    filled: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    part: str | None = None
    visit: int = 1
    treating: tuple[Treating, ...] = ()


@dataclass(frozen=True, slots=True)
class ClaimNote:
    """What a claim of the plan is in the author's terms.

    ``kind``: "only-when", "duty", "sleeved", "laid-out", "from-afar", "exposure", "air",
    "gloves-behind",
    "air-at-end", "begins" or "leaves".
    """

    kind: str
    place: Place
    facts: Mapping[str, str]
    claim: Claim | KClaim


@dataclass(frozen=True, slots=True)
class Unfolded:
    """A plan with what its numbers mean to the author.

    ``acts_of``: for each step its acts. ``wet_minutes``: for each treatment. ``bodies``: by owner
    and part ("" for an undivided thing). ``facts``: by name and whose. ``holds``: (thing, person or
    None) of each hold. ``pieces_made``: the act that takes each instance; ``worn_at_start``: who
    wears it. ``only``: the choices to which the plan is limited on request. ``supplies``: those of
    which a number is laid out. ``depths``: how often repetitions are spelt out that could be done
    more often, by the place of their line; ``round_ends``: for these, by the number of the round,
    the act that stands for the moment at which it ends (several, where the whole is repeated).
    """

    protocol: Protocol
    plan: Plan
    worlds: Worlds
    steps: tuple[Step, ...]
    acts: tuple[ActNote, ...]
    acts_of: tuple[tuple[int, ...], ...]
    claims: tuple[ClaimNote, ...]
    wet_minutes: tuple[int, ...]
    people: tuple[str, ...]
    bodies: Mapping[tuple[str, str], int]
    facts: Mapping[tuple[str, str | None], int]
    holds: tuple[tuple[str, str | None], ...]
    pieces_made: Mapping[int, int]
    worn_at_start: Mapping[int, str]
    only: Combination = field(default_factory=dict)
    supplies: tuple[Supply, ...] = ()
    depths: Depths = field(default_factory=dict)
    round_ends: Mapping[Place, Mapping[int, tuple[int, ...]]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class TooMany:
    """More than is looked at: ``what`` there is too much of, how many, and how many at most."""

    what: str
    number: int
    most: int


@dataclass(slots=True)
class _Draft:
    """One act before its effects are settled: of a step, at a border of protocols, or where a
    branching asks for the state.

    ``asks``: it does nothing; what it asks is so at that moment, or (false) is not.
    """

    step: int | None
    phase: Phase
    at: Step | Border | RoundEnds | Where
    person: str
    verb: Verb | None
    filled: dict[str, tuple[str, ...]]
    worlds: Bits
    numbers: dict[str, int] = field(default_factory=dict)
    pieces: dict[tuple[str, int], int] = field(default_factory=dict)
    asks: tuple[StateIs, bool] | None = None


@dataclass(frozen=True, slots=True)
class _Use:
    """Acts of a branching that asks for something found out, or for a mishap: ``names`` of the
    choices, or of the mishaps."""

    names: tuple[str, ...]
    acts: Bits
    place: Place


@dataclass(frozen=True, slots=True)
class _Running:
    """The acts of a phase that may run on; ``whose``: of which protocol and visit; ``after``: those
    that it waits for."""

    whose: tuple[str | None, int]
    acts: Bits
    after: Bits


@dataclass(slots=True)
class _Arranger:
    protocol: Protocol
    worlds: Worlds
    steps: list[Step] = field(default_factory=list)
    drafts: list[_Draft] = field(default_factory=list)
    order: set[tuple[int, int]] = field(default_factory=set)
    groups: list[Bits] = field(default_factory=list)
    forks: int = 0
    uses: list[_Use] = field(default_factory=list)
    mishaps: dict[str, Bits] = field(default_factory=dict)

    def protocol_acts(self) -> None:
        """All phases, one after the other; but for what may run on nobody waits except those who
        do it."""
        tails: Bits = 0
        running: list[_Running] = []
        for phase in self.protocol.phases:
            part = self._in_order(phase.items, self.worlds.all, phase)
            self._link(tails, part)
            if phase.runs_on:
                running.append(_Running((phase.part, phase.visit), part.acts, tails))
            else:
                tails = part.tails or tails
        for number in reversed(range(len(running))):
            one = running[number]
            goes_on = 0
            for other in running[number + 1 :]:
                if other.whose == one.whose:
                    goes_on |= other.acts
            running[number] = replace(one, acts=self._runs_on(one, goes_on))

    def _runs_on(self, running: _Running, goes_on: Bits) -> Bits:
        """Whoever does what runs on does it before anything of theirs that comes after it; and what
        it goes on with, ``goes_on``, comes after all of it. Returns all acts of it."""
        acts = running.acts
        if not acts:
            return 0
        later = (1 << len(self.drafts)) - (1 << acts.bit_length())
        people = {self.drafts[act].person for act in members(acts)} - {""}
        following = [Following(acts, goes_on)]
        following += [
            Following(self._of(person, acts), self._of(person, later)) for person in sorted(people)
        ]
        before = _closed(len(self.drafts), self.order)
        sets = alike(acts, following, [draft.worlds for draft in self.drafts], before)
        worlds = {act: self.drafts[act].worlds for act in members(acts)}
        groups = [group for group in self.groups if group & acts]
        self.groups = [group for group in self.groups if not group & acts]
        self.order = {
            (one, other) for one, other in self.order if not (acts >> one & 1 and acts >> other & 1)
        }
        written = 0
        for same in sets:
            copy = self._written_for(same.worlds, worlds, written)
            here = gather(copy.values())
            written |= here
            done = [act for act in members(acts) if act in copy]
            self.order |= {
                (copy[one], copy[other])
                for other in done
                for one in members(before[other] & acts)
                if one in copy
            }
            self._link(running.after, _Part(here, here, here))
            for last_ones, next_ones in same.pairs:
                last = gather(copy[act] for act in members(last_ones))
                self._link(last, _Part(next_ones, next_ones, next_ones))
            self.groups += [
                gather(copy[act] for act in members(group) if act in copy) for group in groups
            ]
        return written

    def _of(self, person: str, acts: Bits) -> Bits:
        return gather(act for act in members(acts) if self.drafts[act].person == person)

    def _written_for(self, here: Bits, worlds: Mapping[int, Bits], written: Bits) -> dict[int, int]:
        """The acts that are done in these worlds, as acts of these worlds alone: those written
        already are written once more."""
        copy: dict[int, int] = {}
        for act, everywhere in worlds.items():
            if not everywhere & here:
                continue
            if written >> act & 1:
                copy[act] = len(self.drafts)
                self.drafts.append(replace(self.drafts[act], worlds=everywhere & here, pieces={}))
            else:
                copy[act] = act
                self.drafts[act].worlds = everywhere & here
        self.uses = [replace(use, acts=_with_copies(use.acts, copy)) for use in self.uses]
        self.mishaps = {name: _with_copies(one, copy) for name, one in self.mishaps.items()}
        return copy

    def _in_order(self, items: Iterable[Item], worlds: Bits, phase: Phase) -> _Part:
        whole = _Part()
        for item in items:
            part = self._item(item, worlds, phase)
            if not part.acts:
                continue
            self._link(whole.tails, part)
            whole = _Part(whole.acts | part.acts, whole.heads or part.heads, part.tails)
        return whole

    def _link(self, tails: Bits, part: _Part) -> None:
        for first in _members(tails):
            for second in _members(part.heads):
                self.order.add((first, second))

    def _item(self, item: Item, worlds: Bits, phase: Phase) -> _Part:
        match item:
            case Step():
                return self._step(item, worlds, phase)
            case InOrder(items):
                return self._in_order(items, worlds, phase)
            case InOneGo(items):
                part = self._in_order(items, worlds, phase)
                self.groups.append(part.acts)
                return part
            case AnyOrder(items, mixed):
                whole = _Part()
                for inner in items:
                    part = self._item(inner, worlds, phase)
                    if not mixed and not isinstance(inner, Step):
                        self.groups.append(part.acts)
                    whole = whole.beside(part)
                return whole
            case SideBySide(lanes):
                whole = _Part()
                for _, inner_items in lanes:
                    whole = whole.beside(self._in_order(inner_items, worlds, phase))
                return whole
            case Border() | RoundEnds():
                act = len(self.drafts)
                self.drafts.append(_Draft(None, phase, item, "", None, {}, worlds))
                return _Part(1 << act, 1 << act, 1 << act)
            case Where():
                return self._where(item, worlds, phase)
            case _:  # pragma: no cover - everything else has been spelt out
                raise AssertionError(f"{type(item).__name__} is not plain")

    def _where(self, item: Where, worlds: Bits, phase: Phase) -> _Part:
        """Branches exclude each other, so each keeps the place of the whole in the order.

        What they ask of the state comes first, as acts that do nothing: which branch is taken was
        settled along one order, and has to be the same in all.
        """
        fork = self.forks
        self.forks += 1
        whole = _Part()
        asking = _Part()
        conditions = [condition for condition, _ in item.branches if condition is not None]
        states = dict.fromkeys(state for one in conditions for state in states_in(one))
        for number, state in enumerate(states):
            asked = self.worlds.asked.get((fork, number), Asked(0, 0))
            for so, within in ((True, asked.so & worlds), (False, asked.not_so & worlds)):
                if within:
                    act = 1 << len(self.drafts)
                    self.drafts.append(
                        _Draft(None, phase, item, "", None, {}, within, asks=(state, so))
                    )
                    asking = asking.beside(_Part(act, act, act))
        for number, (_, items) in enumerate(item.branches):
            within = worlds & self.worlds.taken.get((fork, number), 0)
            part = self._in_order(items, within, phase)
            if part.acts:
                whole = whole.beside(part)
        self._note_uses(conditions, whole.acts | asking.acts, item.place)
        if not asking.acts:
            return whole
        if not whole.acts:
            return asking
        self._link(asking.tails, whole)
        return _Part(asking.acts | whole.acts, asking.heads, whole.tails)

    def _note_uses(self, conditions: Iterable[Condition], acts: Bits, place: Place) -> None:
        asked = [choice for condition in conditions for choice in choices_in(condition)]
        for choice in asked:
            if choice.choice == WHAT_HAPPENS and choice.place == place:
                self.mishaps[choice.value] = self.mishaps.get(choice.value, 0) | acts
        names = [
            choice.value if choice.choice == WHAT_HAPPENS else choice.choice
            for choice in asked
            if choice.place != place
        ]
        if names and acts:
            self.uses.append(_Use(tuple(dict.fromkeys(names)), acts, asked[0].place))

    def _step(self, step: Step, worlds: Bits, phase: Phase) -> _Part:
        number = len(self.steps)
        self.steps.append(step)
        acts: list[int] = []
        for person, verb, filled in _doings(step):
            acts.append(len(self.drafts))
            self.drafts.append(
                _Draft(number, phase, step, person, verb, filled, worlds, _numbers(step))
            )
        self.order.update(pairwise(acts))
        mask = sum(1 << act for act in acts)
        if len(acts) > 1:
            self.groups.append(mask)
        return _Part(mask, 1 << acts[0], 1 << acts[-1])


def _with_copies(acts: Bits, copy: Mapping[int, int]) -> Bits:
    return acts | sum(1 << copy[act] for act in members(acts) if act in copy)


@dataclass(frozen=True, slots=True)
class _Part:
    """Acts of a part of the checklist: all, those with nothing before, those with nothing after."""

    acts: Bits = 0
    heads: Bits = 0
    tails: Bits = 0

    def beside(self, other: _Part) -> _Part:
        return _Part(self.acts | other.acts, self.heads | other.heads, self.tails | other.tails)


def _doings(step: Step) -> list[tuple[str, Verb | None, dict[str, tuple[str, ...]]]]:
    """A step as its acts: one for each member of a list that it goes through one by one."""
    match step.does:
        case Saying():
            return [("", None, {})]
        case Waiting(actor):
            return [(actor, None, {})]
        case Doing(verb, frame, filled):
            slots = [part for part in frame.parts if isinstance(part, Slot)]
            one_by_one = [slot for slot in slots if slot.share is not Share.ALL]
            doer = next((slot for slot in slots if slot.kind in _PERSON_KINDS), None)
            acts: list[tuple[str, Verb | None, dict[str, tuple[str, ...]]]] = []
            for members in product(*(filled[slot.name] for slot in one_by_one)):
                binding = dict(filled)
                binding.update(
                    {slot.name: (member,) for slot, member in zip(one_by_one, members, strict=True)}
                )
                acts.append((binding[doer.name][0] if doer else "", verb, binding))
            return acts


def _numbers(step: Step) -> dict[str, int]:
    """How many of each supply the step lays out, where it says so."""
    if not isinstance(step.does, Doing):
        return {}
    filled, numbers = step.does.filled, step.does.numbers
    return {
        name: number
        for slot in numbers
        for name, number in zip(filled[slot], numbers[slot], strict=True)
        if number is not None
    }


_PERSON_KINDS = frozenset({"person", *(kind.value for kind in PersonKind)})


def unfold(
    protocol: Protocol, only: Combination | None = None, depths: Depths | None = None
) -> Unfolded | TooMany | tuple[Finding, ...]:
    """The plan of a protocol; with ``only``, for the choices that agree with it.

    Where a step asks for something that cannot be (a cover that a thing does not take, a product
    without a level), the findings say so and there is no plan.
    """
    least = steps_at_least(protocol, depths)
    if least > TOO_MANY_TO_SPELL:
        return TooMany("steps", least, MOST_ACTS)
    spelt = spell_out(protocol, depths)
    if spelt.findings:
        return tuple({(found.kind, found.place): found for found in spelt.findings}.values())
    plain = spelt.protocol
    steps = sum(1 for phase in plain.phases for _ in steps_of(phase.items))
    if steps > MOST_ACTS:
        return TooMany("steps", steps, MOST_ACTS)
    memory = _remembering(plain)
    if isinstance(memory, tuple):
        return memory
    worlds = worlds_of(plain, only, memory)
    if worlds is None:
        return TooMany("combinations of the choices", combinations_of(plain), MOST_COMBINATIONS)
    arranger = _Arranger(plain, worlds)
    arranger.protocol_acts()
    if len(arranger.drafts) > MOST_ACTS:
        return TooMany("acts of the steps", len(arranger.drafts), MOST_ACTS)
    made = _written(plain, arranger, worlds)
    if isinstance(made, tuple):
        return made
    whole = _Assembly(made.room, arranger, made.writers, made.treatments, made.minutes)
    unfolded = whole.unfolded()
    if isinstance(unfolded, Finding):
        return (unfolded,)
    early = tuple(whole.known_too_early(unfolded.plan))
    if early:
        return early
    ends: dict[Place, dict[int, tuple[int, ...]]] = {}
    for act, draft in enumerate(arranger.drafts):
        if isinstance(draft.at, RoundEnds):
            of_place = ends.setdefault(draft.at.place, {})
            of_place[draft.at.number] = (*of_place.get(draft.at.number, ()), act)
    return replace(
        unfolded, protocol=protocol, only=dict(only or {}), depths=depths or {}, round_ends=ends
    )


@dataclass(frozen=True, slots=True)
class _Made:
    """All acts written, and the room in which they take place."""

    room: Room
    writers: list[Writer]
    treatments: list[Treatment]
    minutes: list[int]


def _written(
    protocol: Protocol, arranger: _Arranger, worlds: Worlds
) -> _Made | tuple[Finding, ...]:
    """The effects of all acts, or what cannot be."""
    room = room_of(protocol, worlds)
    findings = _begin(room)
    drafts = arranger.drafts
    first: list[Writer] = []
    treatments: list[Treatment] = []
    minutes: list[int] = []
    for draft in drafts:
        writer, problem = _write(room, arranger, draft, treatments, minutes)
        first += [writer] if writer is not None else []
        findings += problem
    if findings:
        return tuple(findings)
    # By now every instance and every treatment is made. What names one of them, as "the wipe", is
    # written once more, so that it knows all of them.
    writers: list[Writer] = []
    treatments, minutes = [], []
    for draft, written in zip(drafts, first, strict=True):
        if written.names_instances:
            again, _ = _write(room, arranger, draft, treatments, minutes)
            assert again is not None, "what could be done can be done again"
            writers.append(again)
        else:
            written.again(treatments, minutes)
            writers.append(written)
    return _Made(room, writers, treatments, minutes)


def _remembering(protocol: Protocol) -> Remembered | tuple[Finding, ...] | None:
    """The memory that conditions on the state need; None if there are no such conditions."""
    forks = tuple(
        tuple(
            dict.fromkeys(
                state
                for condition, _ in fork.branches
                if condition is not None
                for state in states_in(condition)
            )
        )
        for phase in protocol.phases
        for fork in branchings_of(phase.items)
    )
    if not any(forks):
        return None
    nowhere: Combination = {}
    anywhere = Worlds(protocol.choices, ((nowhere,),), (1,), 1)
    arranger = _Arranger(protocol, anywhere)
    arranger.protocol_acts()
    made = _written(protocol, arranger, anywhere)
    if isinstance(made, tuple):
        return made
    effects: list[list[Effect]] = [[] for _ in arranger.steps]
    for draft, writer in zip(arranger.drafts, made.writers, strict=True):
        if draft.step is not None:
            effects[draft.step] += writer.act.effects
    asked: dict[tuple[int, int], KClaim] = {}
    problems: list[Finding] = []
    for fork, states in enumerate(forks):
        for number, state in enumerate(states):
            writer = Writer(made.room, {}, "", {}, made.treatments, made.minutes, state.place)
            try:
                settled = writer.settle(state.claim)
            except CannotBeDone as problem:
                problems.append(problem.finding)
                continue
            assert settled is not None, "cleanliness is not asked for"
            asked[fork, number] = settled
    if problems:
        return tuple(problems)
    on = [layer.start for layer in made.room.layers]
    so = [fact.start for fact in made.room.facts]
    return Remembered.beginning(on, so, effects, asked)


def _begin(room: Room) -> list[Finding]:
    """What people and things have on when a visit begins.

    Of a part that follows another one: what it begins with is what that one has done before, so
    that the whole begins and ends as the room says.
    """
    findings: list[Finding] = []
    before = room.protocol.follows
    for line in room.protocol.begins:
        writer = Writer(room, {}, "", {}, [], [], line.place)
        try:
            for entity in writer.entities(line.what):
                if line.cover is not None:
                    cover = room.protocol.things[line.cover]
                    layers = writer.layers(entity, cover)
                    piece = room.begin_covered(layers, cover, line.used, before)
                    person = entity.owner if entity.thing is None else None
                    room.begun.append((cover.name, person, piece))
                elif line.used:
                    room.begin_used(room.bodies(entity.owner, entity.part))
                else:
                    room.begin_bare(room.bodies(entity.owner, entity.part), before)
        except CannotBeDone as problem:
            findings.append(problem.finding)
    return findings


def _write(
    room: Room,
    arranger: _Arranger,
    draft: _Draft,
    treatments: list[Treatment],
    minutes: list[int],
) -> tuple[Writer | None, list[Finding]]:
    at = draft.at
    if draft.asks is not None:
        state, so = draft.asks
        writer = Writer(room, {}, "", {}, treatments, minutes, state.place)
        claim = state.claim if so else NotSo(state.claim)
        writer.act.claims.append(PendingClaim("where", claim, state.place, {}))
        return writer, []
    writer = Writer(
        room,
        draft.filled,
        draft.person,
        draft.pieces,
        treatments,
        minutes,
        at.place,
        draft.numbers,
    )
    try:
        if isinstance(at, Border):
            writer.claims_at_border("begins" if at.begins else "leaves", at.claims, at.place)
            if at.day_begins:  # nobody goes home in the middle of a duty
                writer.act.claims += writer.duties_at_the_end()
        elif isinstance(at, Step):
            for claim in at.claims:
                writer.claim("only-when", claim, at.place)
            if draft.verb is not None:
                writer.verb(draft.verb)
            for line in at.sets:
                writer.line(line)
        for pending in writer.act.claims:  # a claim about something that cannot be is told here
            writer.settle(pending.claim)
    except CannotBeDone as problem:
        return None, [problem.finding]
    return writer, []


@dataclass(slots=True)
class _Assembly:
    room: Room
    arranger: _Arranger
    writers: list[Writer]
    treatments: list[Treatment]
    minutes: list[int]
    claims: list[KClaim] = field(default_factory=list)
    claim_notes: list[ClaimNote] = field(default_factory=list)

    def unfolded(self) -> Unfolded | Finding:
        room, arranger = self.room, self.arranger
        protocol = room.protocol
        people = tuple(protocol.people)
        acts: list[Act] = []
        notes: list[ActNote] = []
        acts_of: list[list[int]] = [[] for _ in arranger.steps]
        pieces_made: dict[int, int] = {}
        for number, (draft, writer) in enumerate(zip(arranger.drafts, self.writers, strict=True)):
            text = _text_of(draft.at)
            effects = list(writer.act.effects)
            if isinstance(draft.at, Border) and draft.at.visit_begins:
                effects += self._anew()
            if isinstance(draft.at, Border) and draft.at.day_begins:
                effects += self._come_in()
            kept: list[int] = []
            judges: list[Judge] = []
            for pending in writer.act.claims:
                self._claim(writer, pending, kept, judges)
            person = people.index(draft.person) if draft.person in people else None
            acts.append(Act(text, person, draft.worlds, (*judges, *effects), tuple(kept)))
            notes.append(
                ActNote(
                    draft.step,
                    draft.person or None,
                    text,
                    draft.phase.title,
                    draft.at.place,
                    filled=draft.filled,
                    part=draft.phase.part,
                    visit=draft.phase.visit,
                    treating=tuple(writer.act.treating),
                )
            )
            if draft.step is not None:
                acts_of[draft.step].append(number)
            for piece in draft.pieces.values():
                pieces_made[piece] = number
        order = set(arranger.order)
        self._after(order, acts_of)
        self._wet_ends(acts, notes, acts_of, order)
        at_the_end = self._air(acts, notes, acts_of, order)
        if isinstance(at_the_end, Finding):
            return at_the_end
        self._begin(acts, notes, order)
        end = len(acts)
        self._end(acts, notes, at_the_end)
        order |= {(act, end) for act in range(end)}
        if room.sequels:
            acts = [replace(act, effects=self._with_sequels(act.effects)) for act in acts]
        return Unfolded(
            protocol,
            Plan(
                worlds=len(arranger.worlds.examples),
                clinic=arranger.worlds.clinic,
                classes=tuple(germ.name for germ in protocol.germs),
                levels=tuple(
                    Level(
                        level.name,
                        level.rank,
                        frozenset(level.ends),
                        _ACTS[level.acts_on],
                    )
                    for level in protocol.levels.values()
                ),
                spots=tuple(room.spots),
                pieces=tuple(room.pieces),
                layers=tuple(room.layers),
                bodies=tuple(room.body_records),
                holds=len(room.holds),
                facts=tuple(room.facts),
                treatments=tuple(self.treatments),
                claims=tuple(self.claims),
                sources=tuple(room.sources),
                acts=tuple(acts),
                order=tuple(sorted(order)),
                together=tuple(self._together(acts)),
            ),
            arranger.worlds,
            tuple(arranger.steps),
            tuple(notes),
            tuple(tuple(numbers) for numbers in acts_of),
            tuple(self.claim_notes),
            tuple(self.minutes),
            people,
            dict(room.body_of),
            dict(room.fact_of),
            tuple(room.holds),
            pieces_made,
            {piece: person for _, person, piece in room.begun if person is not None},
            supplies=self._supplies(),
        )

    def _come_in(self) -> Iterator[Effect]:
        """Those who work there come in with hands as a visit finds them: not clean."""
        room = self.room
        unclean = [
            room.body_of[person.name, part.name]
            for person in room.protocol.people.values()
            for part in room.protocol.body_parts
            if part.unclean and part.of is person.kind is PersonKind.STAFF
        ]
        if unclean:
            outside = room.outside()
            yield Pass((At(outside),), tuple(map(Outer, unclean)), Amount.TRACE)

    def _anew(self) -> Iterator[Effect]:
        """What is so of a visit, of things and of patients is as when a visit begins; of those who
        work there it stays as it is."""
        people = self.room.protocol.people
        ended: set[int] = set()
        for (name, subject), fact in self.room.fact_of.items():
            person = people.get(subject) if subject is not None else None
            record = self.room.protocol.facts.get(name)
            works = person is not None and person.kind is PersonKind.STAFF
            # What the running part has in hand, and its patient, are others in the new visit.
            protocol = self.room.protocol
            other = f"{subject}{NEXT}" in protocol.things or f"next {subject}" in people
            if not works and not other and not (record is not None and record.lasting):
                yield SetFact(fact, value=self.room.facts[fact].start)
                ended.add(fact)
        for (fact, _), sequel in self.room.sequels.items():
            if fact in ended:
                yield SetFact(sequel, value=False)

    def _supplies(self) -> tuple[Supply, ...]:
        """What is laid out by number, with all that is laid out and taken of it."""
        written = [writer.act for writer in self.writers if writer is not None]
        names = dict.fromkeys(
            name for act in written for name, number in act.laid_out if number is not None
        )
        return tuple(
            Supply(
                name,
                {number: act.taken.count(name) for number, act in enumerate(written)},
                {
                    number: laid
                    for number, act in enumerate(written)
                    for one, laid in act.laid_out
                    if one == name
                },
            )
            for name in names
        )

    def _claim(
        self, writer: Writer, pending: PendingClaim, kept: list[int], judges: list[Judge]
    ) -> None:
        number = len(self.claims)
        note = ClaimNote(pending.kind, pending.place, pending.facts, pending.claim)
        if isinstance(pending.claim, IsCleanOf):
            judges.append(writer.judge(number, pending.claim))
            self.claims.append(_TRUE)
        else:
            settled = writer.settle(pending.claim)
            assert settled is not None
            self.claims.append(settled)
            kept.append(number)
        self.claim_notes.append(note)

    def _with_sequels(self, effects: tuple[Effect, ...]) -> tuple[Effect, ...]:
        """Every fact that is made so, with what that says of one fact since another."""
        whole: list[Effect] = []
        for effect in effects:
            whole.append(effect)
            if isinstance(effect, SetFact) and effect.value:
                for (fact, since), sequel in self.room.sequels.items():
                    if since == effect.fact:
                        whole.append(SetFact(sequel, value=False))
                    if fact == effect.fact:
                        whole.append(SetFact(sequel, value=True))
        return tuple(whole)

    def _after(self, order: set[tuple[int, int]], acts_of: list[list[int]]) -> None:
        """Order by labels: of steps that are done several times, those of the same time round."""
        steps = self.arranger.steps
        repeating = _repeating((step.place, step.rounds) for step in steps)
        for number, step in enumerate(steps):
            anew = repeating[step.place]
            for label, _ in step.after:
                for first in labelled(steps, label, step.rounds, anew):
                    order.update((a, b) for a in acts_of[first] for b in acts_of[number])
            for label in step.before:
                for second in labelled(steps, label, step.rounds, anew):
                    order.update((a, b) for a in acts_of[number] for b in acts_of[second])

    def known_too_early(self, plan: Plan) -> Iterator[Finding]:
        """What is found out is asked for only after it is known, and a mishap after its time."""
        arranger = self.arranger
        choices = {choice.name: choice for choice in arranger.protocol.choices}
        repeating = _repeating((one.place, one.rounds) for one in choices.values())
        before = _closed(len(plan.acts), plan.order)
        acts_of: list[Bits] = [0] * len(arranger.steps)
        for number, draft in enumerate(arranger.drafts):
            if draft.step is not None:
                acts_of[draft.step] |= 1 << number
        for use in arranger.uses:
            for name in use.names:
                choice = choices.get(name)
                if choice is None:
                    happening = arranger.mishaps.get(name, 0)
                    using = use.acts & ~happening
                    if all(
                        before[act] >> one & 1 or not plan.acts[act].worlds & plan.acts[one].worlds
                        for act in members(using)
                        for one in members(happening)
                    ):
                        continue
                    yield Finding("mishap-too-early", use.place, {"mishap": name})
                elif choice.known_after is not None:
                    found = labelled(
                        arranger.steps, choice.known_after, choice.rounds, repeating[choice.place]
                    )
                    knowing = [act for step in found for act in members(acts_of[step])]
                    if not all(
                        self._knows(plan, before, knowing, act) for act in members(use.acts)
                    ):
                        facts = {"fact": name, "label": choice.known_after}
                        yield Finding("known-too-early", use.place, facts)

    def _knows(self, plan: Plan, before: list[Bits], knowing: list[int], act: int) -> bool:
        """Whether in every world of the act one of those that make it known surely came before."""
        worlds = plan.acts[act].worlds
        for one in knowing:
            if before[act] >> one & 1:
                worlds &= ~plan.acts[one].worlds
        return not worlds

    def _wet_ends(
        self,
        acts: list[Act],
        notes: list[ActNote],
        acts_of: list[list[int]],
        order: set[tuple[int, int]],
    ) -> None:
        """Each wet time ends before the waits that surely come after its beginning and are long
        enough; without one it does not end in this visit. Over night everything dries.

        Which waits are done may differ from world to world: there is an end for each such part.
        """
        before = _closed(len(acts), order)
        waits = self._waits_among(acts_of)
        minutes = {act: wait.minutes or 0 for act, wait in waits.items()}
        minutes |= {
            night: max(self.minutes, default=0)
            for night, draft in enumerate(self.arranger.drafts)
            if isinstance(draft.at, Border) and draft.at.day_begins
        }
        for begin, writer in enumerate(self.writers):
            for treatment in writer.act.wets:
                ends: dict[frozenset[int], Bits] = {}
                for worlds, since in waited(begin, acts[begin].worlds, minutes, acts, before):
                    enough = frozenset(
                        act
                        for act, so_far in since.items()
                        if so_far >= self.minutes[treatment]
                        or self._dries(waits.get(act), treatment)
                    )
                    if enough:
                        ends[enough] = ends.get(enough, 0) | worlds
                for enough, worlds in ends.items():
                    end = len(acts)
                    acts.append(Act(acts[begin].name, None, worlds, (WetEnd(treatment),)))
                    notes.append(replace(notes[begin], person=None, ends_treatment=True))
                    order.add((begin, end))
                    order.update((end, act) for act in enough)

    def _dries(self, wait: Waiting | None, treatment: int) -> bool:
        """Whether it is waited until something that the treatment wets is dry."""
        until = None if wait is None else wait.until_dry
        return until is not None and self._wets(treatment, until)

    def _waits_among(self, acts_of: list[list[int]]) -> dict[int, Waiting]:
        """The acts that are waits."""
        return {
            act: step.does
            for number, step in enumerate(self.arranger.steps)
            if isinstance(step.does, Waiting)
            for act in acts_of[number]
        }

    def _air(
        self,
        acts: list[Act],
        notes: list[ActNote],
        acts_of: list[list[int]],
        order: set[tuple[int, int]],
    ) -> list[PendingClaim] | Finding:
        """What germs in the air ask of the acts, and of the end of the visit (returned).

        Where nothing would be asked, since the room or the steps do not say enough, a finding.
        """
        protocol = self.room.protocol
        worlds = carried_in(protocol.air, self.arranger.worlds)
        if not worlds or protocol.air is None:
            return []
        unclear = not_followed(self.room, acts)
        if unclear is not None:
            return Finding("air-not-followed", protocol.air.place, {"where": unclear})
        germs = self.room.own_fact("air carries germs")
        begin = len(acts)
        before = _closed(begin, order)
        waits = {act: wait.minutes or 0 for act, wait in self._waits_among(acts_of).items()}
        at_the_end: list[PendingClaim] = []
        for patient in patients_of(self.room):
            for where in protocol.places.values():
                if where.air_changes is None:
                    continue
                minutes = clearance_minutes(
                    float(where.air_changes),
                    float(protocol.air.percent),
                    float(protocol.air.mixing),
                )
                carries = FactIs(germs, value=True)
                air = air_of(self.room, acts, patient, where.name, minutes, carries)
                if air is None:
                    continue
                facts = {"where": where.name, "minutes": str(minutes)}
                for leaving in air.leavings:
                    since: dict[int, int] = {}
                    within = acts[leaving.act].worlds & worlds
                    for _, part in waited(leaving.act, within, waits, acts, before):
                        for act, so_far in part.items():
                            since[act] = min(so_far, since.get(act, so_far))
                    for act, so_far in since.items():
                        if so_far >= minutes:
                            clear = SetFact(leaving.clock, value=False)
                            acts[act] = replace(acts[act], effects=(*acts[act].effects, clear))
                for person in staff_of(self.room):
                    told = {**facts, "person": person}
                    breathing = breathes(self.room, air, person)
                    for number, one in enumerate(acts):
                        if can_begin(self.room, air, patient, person, one):
                            claim = before_act(KNot(breathing), one.effects)
                            self._about_air(acts, number, claim, notes[number].place, told)
                left = PendingClaim("air-at-end", KNot(air.left), protocol.air.place, facts)
                at_the_end.append(left)
                for number, draft in enumerate(self.arranger.drafts):
                    if isinstance(draft.at, Border) and draft.at.visit_begins:
                        self._keep(acts, number, left)
        order.update((begin, act) for act in range(begin))
        acts.append(Act("the visit begins", None, worlds, (SetFact(germs, value=True),)))
        notes.append(ActNote(None, None, "the visit begins", None, None))
        return at_the_end

    def _keep(self, acts: list[Act], act: int, claim: PendingClaim) -> None:
        """Asks for what is asked for at the end of a visit at this act as well."""
        assert isinstance(claim.claim, KNot)
        number = len(self.claims)
        self.claims.append(claim.claim)
        self.claim_notes.append(ClaimNote(claim.kind, claim.place, claim.facts, claim.claim))
        acts[act] = replace(acts[act], claims=(*acts[act].claims, number))

    def _about_air(
        self,
        acts: list[Act],
        act: int,
        claim: KClaim,
        place: Place | None,
        facts: Mapping[str, str],
    ) -> None:
        if claim == TRUE or place is None:
            return
        number = len(self.claims)
        self.claims.append(claim)
        self.claim_notes.append(ClaimNote("air", place, facts, claim))
        acts[act] = replace(acts[act], claims=(*acts[act].claims, number))

    def _wets(self, treatment: int, thing: str) -> bool:
        group = self.room.protocol.groups.get(thing)
        names = group.members if group is not None else (thing,)
        spots = {
            self.room.body_records[body].spot
            for name in names
            for body in self.room.bodies(*self.room.part_named(name))
        }
        return any(
            spot_of_target(self.room, target) in spots
            for target in self.treatments[treatment].targets
        )

    def _begin(self, acts: list[Act], notes: list[ActNote], order: set[tuple[int, int]]) -> None:
        """What is worn when a visit begins is what its name means until another is taken."""
        if not self.room.begun and not self.room.before:
            return
        taken = (
            Take(self.room.hold(thing, person), piece)
            for thing, owner, piece in self.room.begun
            for person in dict.fromkeys((owner, None))
        )
        effects = (*self.room.before, *taken)
        number = len(acts)
        order.update((number, act) for act in range(number))
        acts.append(Act("the visit begins", None, self.arranger.worlds.all, effects))
        notes.append(ActNote(None, None, "the visit begins", None, None))

    def _end(self, acts: list[Act], notes: list[ActNote], more: Iterable[PendingClaim]) -> None:
        protocol = self.room.protocol
        writer = Writer(self.room, {}, "", {}, self.treatments, self.minutes, protocol.header.place)
        writer.claims_at_border("leaves", protocol.leaves, protocol.header.place)
        writer.act.claims += [*writer.duties_at_the_end(), *more]
        kept: list[int] = []
        judges: list[Judge] = []
        for pending in writer.act.claims:
            self._claim(writer, pending, kept, judges)
        acts.append(
            Act("the visit ends", None, self.arranger.worlds.all, tuple(judges), tuple(kept))
        )
        notes.append(ActNote(None, None, "the visit ends", None, None))

    def _together(self, acts: list[Act]) -> list[Togetherness]:
        """For each block and each person in it: no other act of that person falls in between.

        What is never done in a visit in which the block is done keeps nothing apart in it.
        """
        by_person: dict[int, Bits] = {}
        for number, act in enumerate(acts):
            if act.person is not None:
                by_person[act.person] = by_person.get(act.person, 0) | 1 << number
        found: dict[tuple[Bits, Bits], None] = {}
        for group in self.arranger.groups:
            for mine in by_person.values():
                inside = group & mine
                if not inside & (inside - 1):
                    continue
                worlds = 0
                for one in members(inside):
                    worlds |= acts[one].worlds
                others = gather(one for one in members(mine & ~inside) if acts[one].worlds & worlds)
                found[inside, others] = None
        return [Togetherness(inside, others) for inside, others in found]


_TRUE = AllOf(())


def _closed(acts: int, order: Iterable[tuple[int, int]]) -> list[Bits]:
    """For each act the acts that surely come before it, by the order pairs alone."""
    direct: list[Bits] = [0] * acts
    after: list[list[int]] = [[] for _ in range(acts)]
    waiting = [0] * acts
    for first, second in order:
        if not direct[second] >> first & 1:
            direct[second] |= 1 << first
            after[first].append(second)
            waiting[second] += 1
    ready = [act for act in range(acts) if not waiting[act]]
    before = list(direct)
    while ready:
        act = ready.pop()
        for later in after[act]:
            before[later] |= before[act]
            waiting[later] -= 1
            if not waiting[later]:
                ready.append(later)
    return before


def _text_of(at: Step | Border | RoundEnds | Where) -> str:
    if isinstance(at, Step):
        return told_text(at)
    if isinstance(at, Where):
        return "what is so is looked at"
    if isinstance(at, RoundEnds):
        return f"{at.name} {at.number} ends"
    return f'"{at.title}" {"begins" if at.begins else "ends"}'


def _members(acts: Bits) -> list[int]:
    return list(members(acts))


def told_text(step: Step) -> str:
    """The sentence of a step, and which time round it is."""
    return f"{step.text}{told_rounds(step.rounds)}"


def labelled(
    steps: Sequence[Step], label: str, rounds: tuple[Round, ...], anew: frozenset[Place]
) -> list[int]:
    """The steps with that label, as far as they are done in the same rounds.

    ``anew``: the lines that repeat whoever asks. What "again from" copies has no round there the
    first time, and means the label of the first time then; once more, the one of its own copy, if
    there is one.
    """
    wanted = dict.fromkeys(anew, 1) | {one.place: one.number for one in rounds}
    found = [
        number
        for number, step in enumerate(steps)
        if step.label == label
        and all(wanted.get(one.place, one.number) == one.number for one in step.rounds)
    ]
    for place, time in wanted.items():
        own = [
            number
            for number in found
            if any((one.place, one.number) == (place, time) for one in steps[number].rounds)
        ]
        found = own or found
    return found


def _repeating(
    written: Iterable[tuple[Place, tuple[Round, ...]]],
) -> dict[Place, frozenset[Place]]:
    """For what is written at each place, the lines on account of which it is done several times."""
    lines: dict[Place, frozenset[Place]] = {}
    for one, rounds in written:
        lines[one] = lines.get(one, frozenset()) | {around.place for around in rounds}
    return lines
