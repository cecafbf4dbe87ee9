"""Rules decided on one protocol: each over all permitted orders, in every combination of choices.

An order rule needs one bit of memory: whether something is still owed. That bit is one more
register of the network that the engine has made of the protocol, written by the acts in which what
is asked happens, and the question is the engine's own (:mod:`protocol_lang.order`): is there a run
in which an act begins while the bit says so? What the forms mean is told in docs/meaning/rules.md.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from protocol_lang.checks.story import choices_of
from protocol_lang.contamination.judge import Judgement, cases_of, stands_of
from protocol_lang.contamination.kernel import Bits
from protocol_lang.contamination.kernel import Not as PlanNot
from protocol_lang.contamination.marks import Layout
from protocol_lang.contamination.unfold import Unfolded
from protocol_lang.findings import Route, RouteStep
from protocol_lang.model import rules as said
from protocol_lang.model.conditions import Claim
from protocol_lang.model.parts import PersonKind
from protocol_lang.order import decide
from protocol_lang.order.effects import Effects
from protocol_lang.order.question import (
    Budget,
    Found,
    Network,
    Question,
    Register,
    Stand,
    Undecided,
)
from protocol_lang.rules.claims import settled
from protocol_lang.rules.happenings import WHOLE, Binding, Happenings, Scene, Seen
from protocol_lang.rules.worlds import Treatments, beyond
from protocol_lang.text import Place

#: A duty of which all is laid out that it needs of the network: asks, and tells what is broken.
Laid = Callable[[], "Iterable[Broken]"]

#: A binding as a key: pairs, sorted.
Bound = tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Broken:
    """That a duty can be broken: ``form`` and ``facts`` for the wording, where, and how; ``about``:
    what its first sentence stands for there."""

    form: str
    facts: Mapping[str, str]
    place: Place | None
    context: str | None = None
    route: Route | None = None
    about: Bound = ()


@dataclass(frozen=True, slots=True)
class NotAsked:
    """Nothing in the protocol is what the duty is about."""

    kind: str
    facts: Mapping[str, str] = field(default_factory=dict)


class TooHard(Exception):
    """A question of the duty is beyond the budget."""


@dataclass(frozen=True, slots=True)
class Scope:
    """Where a rule looks: ``worlds``; ``phases`` (all, if empty) of its first sentence; ``but``:
    names that do not count; ``binding``: what stands for the kind that the rule is about."""

    worlds: Bits
    phases: frozenset[str] = frozenset()
    but: frozenset[str] = frozenset()
    binding: Binding = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class _Memory:
    """The bit of one duty: its register, and the acts that make something owed or settle it."""

    register: int
    owing: frozenset[int]
    settling: frozenset[int]


class Orders:
    """What is asked of the orders of one protocol. All duties are laid out first
    (:meth:`lay_out`), since their bits belong to one network; then they are asked."""

    def __init__(
        self,
        unfolded: Unfolded,
        judgement: Judgement,
        kinds: Mapping[str, str],
        scene: Scene | None = None,
        budget: Budget | None = None,
    ) -> None:
        assert judgement.layout is not None
        scene = scene or Scene(unfolded)
        self.unfolded = unfolded
        self.layout: Layout = judgement.layout
        self.judged = judgement.judged
        self.happenings = Happenings(scene, kinds)
        self.names = scene.names
        self.contexts = scene.contexts
        self._budget = budget or Budget()
        self._registers: list[Register] = []
        self._network: Network | None = None
        self._tables: Effects | None = None

    # --- Questions -------------------------------------------------------------------------------

    def _remember(self, initial: int, writes: Mapping[int, int]) -> int:
        assert self._network is None, "all bits are laid out before the first question"
        self._registers.append(Register(initial, dict(writes)))
        return len(self.layout.network.registers) + len(self._registers) - 1

    def _ask(self, question: Question) -> Found | None:
        """A run that answers the question; raises :class:`TooHard`."""
        if not question.worlds:
            return None
        if self._network is None:
            network = self.layout.network
            self._network = replace(network, registers=(*network.registers, *self._registers))
            self._tables = Effects(self._network, None, self.layout.worlds, self.layout.possible)
        answer = decide(self._network, question, self._budget, None, self._tables)
        if isinstance(answer, Undecided):
            raise TooHard
        return answer if isinstance(answer, Found) else None

    def _worlds(self, seen: Iterable[Seen]) -> Bits:
        worlds: Bits = 0
        for one in seen:
            worlds |= self.unfolded.plan.acts[one.act].worlds
        return worlds

    # --- Duties ----------------------------------------------------------------------------------

    def lay_out(self, duty: said.Duty, scope: Scope) -> Laid | NotAsked:
        """The duty, ready to be asked; or why there is nothing to ask."""
        match duty:
            case said.After() | said.Before() | said.NotBetween() | said.Whenever():
                return self._about_each(duty, scope)
            case said.Always(what):
                seen = self._in_phase(self._all(what, scope), scope)
                return lambda: self._left_out(what, seen, scope)
            case said.Never(what):
                missing = self._missing(what, scope)
                if missing is not None:
                    return NotAsked("no-such", {"name": missing})
                seen = self._in_phase(self._all(what, scope), scope)
                return lambda: self._done(seen, scope)
            case said.Times():
                return self._times(duty, scope)
            case said.NoTreatmentDependsOn(choice):
                return self._depends(choice, scope)
            case _:
                raise TypeError(type(duty).__name__)

    def _all(
        self, what: said.Happenings, scope: Scope, binding: Binding | None = None
    ) -> list[Seen]:
        binding = scope.binding if binding is None else binding
        return [
            seen
            for one in what
            for seen in self.happenings.seen(one, binding, scope.but)
            if self.unfolded.plan.acts[seen.act].worlds & scope.worlds
        ]

    def _missing(self, what: said.Happenings, scope: Scope) -> str | None:
        """A name in the sentences for which this protocol has nobody and nothing."""
        missing = [
            next(
                (
                    name
                    for slot, name in one.filled.items()
                    if slot != "STREAM"
                    and name not in scope.binding
                    and not self.happenings.members(name)
                ),
                None,
            )
            for one in what
        ]
        return None if None in missing else missing[0]

    def _in_phase(self, seen: Iterable[Seen], scope: Scope) -> list[Seen]:
        if not scope.phases:
            return list(seen)
        return [one for one in seen if self.unfolded.acts[one.act].phase in scope.phases]

    def _about_each(
        self, duty: said.After | said.Before | said.NotBetween | said.Whenever, scope: Scope
    ) -> Laid | NotAsked:
        """A duty that begins with a sentence, for each that the sentence is about."""
        anchors = self._in_phase(self._all(duty.what, scope), scope)
        if not anchors:
            missing = self._missing(duty.what, scope)
            if missing is not None:
                return NotAsked("no-such", {"name": missing})
            return NotAsked("no-step", {"text": duty.what[0].text})
        by_binding: dict[Bound, list[Seen]] = {}
        for one in anchors:
            by_binding.setdefault(one.binding, []).append(one)
        laid = [
            _about(self._with(duty, seen, {**scope.binding, **dict(bound)}, scope), bound)
            for bound, seen in sorted(by_binding.items())
        ]
        return lambda: _all_of(laid)

    def _with(
        self,
        duty: said.After | said.Before | said.NotBetween | said.Whenever,
        anchors: list[Seen],
        binding: Binding,
        scope: Scope,
    ) -> Laid:
        match duty:
            case said.Whenever(claim=claim, text=text):
                return lambda: self._not_so(claim, text, anchors, binding, scope)
            case said.Before(first=first, never=never):
                settling = self._all(first, scope, binding)
                spoiling = self._all(never, scope, binding)
                memory = self._before(settling, spoiling)
                facts = {"missing": _told(first, binding)}
                if never:
                    facts["between"] = _told(never, binding)
                return lambda: self._owed(
                    "before", facts, memory, self._unprepared(anchors, settling), scope
                )
            case said.NotBetween(until=until, never=never):
                ends = [] if isinstance(until, said.Until) else self._all(until, scope, binding)
                memory = self._after(anchors, ends)
                goals = [
                    one.act
                    for one in self._all(never, scope, binding)
                    if one.act not in memory.settling
                ]
                facts = {
                    "until": until.value if isinstance(until, said.Until) else _told(until, binding)
                }
                return lambda: self._owed("between", facts, memory, goals, scope)
            case said.After(then=then, before=said.Until.NEXT_PATIENT):
                return self._before_the_next(duty.what, anchors, then, binding, scope)
            case said.After(then=then, before=before):
                return self._then(anchors, then, before, binding, scope)

    def _then(
        self,
        anchors: list[Seen],
        then: said.Happenings,
        before: said.Happenings | said.Until,
        binding: Binding,
        scope: Scope,
    ) -> Laid:
        settling = self._all(then, scope, binding)
        memory = self._after(anchors, settling)
        facts = {"missing": _told(then, binding)}
        if before is said.Until.END_OF_VISIT:
            return lambda: self._owed_at_end(facts, memory, scope)
        assert not isinstance(before, said.Until)
        goals = [
            one.act for one in self._all(before, scope, binding) if one.act not in memory.settling
        ]
        return lambda: self._owed("after", facts, memory, goals, scope)

    def _before_the_next(
        self,
        what: said.Happenings,
        anchors: list[Seen],
        then: said.Happenings,
        binding: Binding,
        scope: Scope,
    ) -> Laid:
        """Owed when a visit ends, and needed in another one of the same clinic, whatever else is
        chosen there, for whichever patient and in whichever phase."""
        everywhere = replace(scope, worlds=self.judged, phases=frozenset())
        settling = self._all(then, everywhere, binding)
        others = self._all(what, everywhere, self._of_any_patient(binding))
        needing = self._unprepared(others, settling)
        memory = self._after(anchors, settling)
        carried = self._before(settling, ())
        facts = {"missing": _told(then, binding)}
        first = [one for one in anchors if self.names.visit(one.act) == 1]
        running = self._after(first, settling) if len(first) < len(anchors) else memory
        beside = [act for act in needing if self.names.visit(act) > 1] if first else []
        return lambda: self._owed_to_the_next(
            facts, memory, carried, needing, (running, beside), scope
        )

    def _of_any_patient(self, binding: Binding) -> Binding:
        """The binding without those who come for one visit."""
        people = self.unfolded.protocol.people
        return {
            word: name
            for word, name in binding.items()
            if name not in people or people[name].kind is PersonKind.STAFF
        }

    # --- Bits ------------------------------------------------------------------------------------

    def _after(self, owing: Iterable[Seen], settling: Iterable[Seen]) -> _Memory:
        """Owed from each of ``owing`` on, until the next of ``settling``.

        Within one act the order of its effects counts; a sentence of a verb is about all of it, so
        it is owed from its beginning and brings what it brings by its end.
        """
        last: dict[int, int] = {}
        for one in owing:
            last[one.act] = max(last.get(one.act, one.index), one.index)
        writes = dict.fromkeys(last, 1)
        settled_in = set()
        for one in settling:
            settled_in.add(one.act)
            if one.index == WHOLE or one.index >= last.get(one.act, WHOLE):
                writes[one.act] = 0
        return _Memory(self._remember(0, writes), frozenset(last), frozenset(settled_in))

    def _before(self, settling: Iterable[Seen], spoiling: Iterable[Seen]) -> _Memory:
        """Owed from the beginning, and again from each of ``spoiling``, until ``settling``; within
        one act as in :meth:`_after`."""
        spoilt: dict[int, int] = {}
        for one in spoiling:
            spoilt[one.act] = max(spoilt.get(one.act, one.index), one.index)
        writes = dict.fromkeys(spoilt, 1)
        settled_in = set()
        for one in settling:
            settled_in.add(one.act)
            if one.index == WHOLE or one.index >= spoilt.get(one.act, WHOLE):
                writes[one.act] = 0
        owing = frozenset(act for act, value in writes.items() if value)
        return _Memory(self._remember(1, writes), owing, frozenset(settled_in))

    @staticmethod
    def _unprepared(goals: Iterable[Seen], settling: Iterable[Seen]) -> list[int]:
        """The acts of ``goals`` that do not themselves bring before what is owed."""
        brought: dict[int, int] = {}
        for one in settling:
            brought[one.act] = min(one.index, brought.get(one.act, one.index))
        unprepared = [
            one.act for one in goals if one.act not in brought or brought[one.act] >= one.index
        ]
        return list(dict.fromkeys(unprepared))

    # --- Answers ---------------------------------------------------------------------------------

    def _owed(
        self,
        form: str,
        facts: Mapping[str, str],
        memory: _Memory,
        goals: Iterable[int],
        scope: Scope,
    ) -> Iterator[Broken]:
        for goal in dict.fromkeys(goals):
            stand = Stand(goal, memory.register, frozenset({1}))
            run = self._ask(Question(scope.worlds, 1 << goal, (stand,)))
            if run is not None:
                yield self._broken(form, facts, run, goal, memory)
                return

    def _owed_at_end(
        self, facts: Mapping[str, str], memory: _Memory, scope: Scope
    ) -> Iterator[Broken]:
        over = self.layout.over
        stand = Stand(over, memory.register, frozenset({1}))
        run = self._ask(Question(scope.worlds, stands=(stand,)))
        if run is not None:
            yield self._broken("end", facts, run, over, memory)

    def _owed_to_the_next(
        self,
        facts: Mapping[str, str],
        memory: _Memory,
        carried: _Memory,
        needing: Iterable[int],
        beside: tuple[_Memory, Iterable[int]],
        scope: Scope,
    ) -> Iterator[Broken]:
        """Owed when one visit ends, and not settled in another before it is needed there; or needed
        by the next patient while the visit still runs on (``beside``: what the first of the two
        visits owes, and where the second needs it)."""
        running, there = beside
        for goal in there:
            stand = Stand(goal, running.register, frozenset({1}))
            run = self._ask(Question(scope.worlds, 1 << goal, (stand,)))
            if run is not None:
                yield self._broken("next", facts, run, goal, running)
                return
        over = self.layout.over
        for part in self.unfolded.plan.clinic:
            left = self._ask(
                Question(
                    part & scope.worlds, stands=(Stand(over, memory.register, frozenset({1})),)
                )
            )
            if left is None:
                continue
            for goal in needing:
                stand = Stand(goal, carried.register, frozenset({1}))
                found = self._ask(Question(part & self.judged, 1 << goal, (stand,)))
                if found is not None:
                    first = self._broken("next", facts, left, over, memory)
                    yield self._next_visit(first, found, goal)
                    return

    def _not_so(
        self,
        claim: Claim,
        text: str,
        anchors: Iterable[Seen],
        binding: Binding,
        scope: Scope,
    ) -> Iterator[Broken]:
        asked = settled(claim, self.happenings, binding)
        for act in dict.fromkeys(one.act for one in anchors):
            for case in cases_of(PlanNot(asked)):
                stands = stands_of(self.layout, act, case)
                if stands is None:
                    continue
                run = self._ask(Question(scope.worlds, 1 << act, stands))
                if run is not None:
                    registers = [stand.register for stand in stands]
                    route = self._route(run, self._changing(run, registers), act)
                    facts = {"step": self.names.act(act), "claim": _bound_text(text, binding)}
                    yield Broken("whenever", facts, self.names.place(act), self._at(act), route)
                    return

    # Whether something is done depends on the world alone, and there is a permitted order in each
    # (docs/meaning/kernel.md, rule 1): nothing need be asked of the network.

    def _left_out(
        self, what: said.Happenings, seen: Iterable[Seen], scope: Scope
    ) -> Iterator[Broken]:
        left = scope.worlds & ~self._worlds(seen)
        if left:
            route = Route(choices_of(self.unfolded, left), ())
            place = self.unfolded.protocol.header.place
            yield Broken("always", {"missing": _told(what, scope.binding)}, place, None, route)

    def _done(self, seen: Iterable[Seen], scope: Scope) -> Iterator[Broken]:
        told: set[Bound] = set()
        for one in seen:
            if one.binding not in told:
                told.add(one.binding)
                facts = {"step": self.names.act(one.act)}
                worlds = self.unfolded.plan.acts[one.act].worlds & scope.worlds
                route = Route(choices_of(self.unfolded, worlds & -worlds), (self._row(one.act),))
                place, at = self.names.place(one.act), self._at(one.act)
                yield Broken("never", facts, place, at, route, one.binding)

    def _times(self, duty: said.Times, scope: Scope) -> Laid | NotAsked:
        seen = self._in_phase(self._all(duty.what, scope), scope)
        if duty.most is not None and not seen:
            missing = self._missing(duty.what, scope)
            if missing is not None:
                return NotAsked("no-such", {"name": missing})
        acts = sorted({one.act for one in seen})

        def ask() -> Iterator[Broken]:
            found = beyond(self.unfolded, acts, duty, scope.worlds)
            if found is None:
                return
            number, worlds = found
            world = (worlds & -worlds).bit_length() - 1
            facts = {"what": duty.what[0].text, "number": str(number)}
            facts |= {"most": str(duty.most)} if duty.most is not None else {}
            facts |= {"least": str(duty.least)} if duty.most is None else {}
            present = [act for act in acts if self.unfolded.plan.acts[act].worlds >> world & 1]
            place = self.names.place(present[-1]) if present else None
            route = Route(choices_of(self.unfolded, 1 << world), ())
            yield Broken("times", facts, place or self.unfolded.protocol.header.place, None, route)

        return ask

    def _depends(self, choice: str, scope: Scope) -> Laid | NotAsked:
        known = next((c for c in self.unfolded.worlds.choices if c.name == choice), None)
        if known is None or len(known.values) < 2:
            return NotAsked("no-choice", {"choice": choice})

        def ask() -> Iterator[Broken]:
            treated = Treatments(self.unfolded)
            by_value = {value: treated.where(choice, value, scope.worlds) for value in known.values}
            (first, usual), *others = by_value.items()
            for value, those in others:
                if those != usual:
                    some = frozenset().union(*usual) ^ frozenset().union(*those)
                    differing = sorted(
                        f"{thing} to {level}"
                        for thing, level in some or frozenset().union(*(usual ^ those))
                    )
                    facts = {
                        "choice": choice, "first": first, "second": value,
                        "differing": ", ".join(differing),
                    }  # fmt: skip
                    yield Broken("depends", facts, known.place)
                    return

        return ask

    # --- Stories ---------------------------------------------------------------------------------

    def _at(self, act: int) -> str | None:
        return self.contexts.get(act)

    def _changing(self, run: Found, registers: Iterable[int]) -> list[int]:
        """The acts of a run that write one of the registers, in order."""
        assert self._network is not None
        return [
            event
            for event in run.order
            if self._takes_place(event, run)
            and any(event in self._network.registers[one].writes for one in registers)
        ]

    def _takes_place(self, event: int, run: Found) -> bool:
        acts = self.unfolded.plan.acts
        return (
            event < len(acts)
            and bool(acts[event].worlds >> run.world & 1)
            and self.unfolded.acts[event].step is not None
        )

    def _route(self, run: Found, changing: Iterable[int], act: int) -> Route:
        """The last acts that matter before ``act``, and that act."""
        position = {event: number for number, event in enumerate(run.order)}
        before = [one for one in changing if position[one] < position[act]][-2:]
        rows = [*before, act] if act < len(self.unfolded.acts) else before
        return Route(
            choices_of(self.unfolded, 1 << run.world), tuple(self._row(one) for one in rows)
        )

    def _row(self, act: int, later: int = 0) -> RouteStep:
        names = self.names
        return RouteStep(
            names.visit(act) + later, names.person(act), names.act(act), names.place(act)
        )

    def _broken(
        self, form: str, facts: Mapping[str, str], run: Found, goal: int, memory: _Memory
    ) -> Broken:
        """What is owed at ``goal``: since which act, and how it came to that."""
        changing = self._changing(run, [memory.register])
        position = {event: number for number, event in enumerate(run.order)}
        owing = [one for one in changing if one in memory.owing and position[one] < position[goal]]
        told = dict(facts)
        since = owing[-1] if owing else None
        if since is not None:
            told["since"] = self.names.act(since)
        at = goal if goal < len(self.unfolded.acts) else since
        if goal < len(self.unfolded.acts):
            told["step"] = self.names.act(goal)
        route = self._route(run, [since] if since is not None else [], goal)
        place = self.unfolded.protocol.header.place if at is None else self.names.place(at)
        return Broken(form, told, place, None if at is None else self._at(at), route)

    def _next_visit(self, first: Broken, run: Found, goal: int) -> Broken:
        assert first.route is not None
        route = replace(first.route, steps=(*first.route.steps, self._row(goal, later=1)))
        return replace(first, facts={**first.facts, "step": self.names.act(goal)}, route=route)


def _about(laid: Laid, bound: Bound) -> Laid:
    """The same, and what is broken tells what the first sentence stands for."""
    return lambda: (replace(broken, about=bound) for broken in laid())


def _all_of(laid: Iterable[Laid]) -> Iterator[Broken]:
    """What is broken in each; one that is too hard matters only if nothing is found in others."""
    found = False
    too_hard = False
    for one in laid:
        try:
            for broken in one():
                found = True
                yield broken
        except TooHard:
            too_hard = True
    if too_hard and not found:
        raise TooHard


def _told(what: Sequence[said.Happening], binding: Binding) -> str:
    return " or ".join(_bound_text(one.text, binding) for one in what)


def _bound_text(text: str, binding: Binding) -> str:
    """A sentence of a rule with the names that stand for its kinds."""
    if not binding:
        return text
    kinds = sorted(binding, key=len, reverse=True)
    pattern = r"\b(?:" + "|".join(map(re.escape, kinds)) + r")\b"
    return re.sub(pattern, lambda found: binding[found.group()], text)
