"""All verdicts about one plan, decided exactly, each with a run that shows it.

The order of questions matters: without any permitted order everything would be "proved", and after
a misstep nothing that follows means anything. So first whether there is a run; then missteps; then
the claims, boundaries and left-overs of the worlds without missteps; then soil.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from functools import cached_property

from protocol_lang.contamination import lives
from protocol_lang.contamination.kernel import (
    NOTHING,
    AllOf,
    AnyOf,
    Bits,
    Claim,
    FactIs,
    IsWet,
    LayerHas,
    Not,
    Pass,
    Plan,
    SetFact,
)
from protocol_lang.contamination.marks import (
    Circle,
    Layout,
    Misstep,
    Token,
    holds_read,
    lay_out,
)
from protocol_lang.contamination.paths import Paths
from protocol_lang.contamination.visits import Suspect
from protocol_lang.order import any_run, decide, worlds_shown
from protocol_lang.order.effects import Effects
from protocol_lang.order.question import (
    Budget,
    Effort,
    Found,
    Impossible,
    Question,
    Stand,
    Undecided,
)
from protocol_lang.order.relaxed import forward


@dataclass(frozen=True, slots=True)
class MisstepFound:
    """A run in which ``misstep`` happens; ``worlds``: all worlds in which some run has it."""

    misstep: Misstep
    worlds: Bits
    run: Found


@dataclass(frozen=True, slots=True)
class WhichOne:
    """In some world the act finds different pieces in the hold, depending on the order."""

    act: int
    hold: int
    pieces: tuple[int, int]
    worlds: Bits
    runs: tuple[Found, Found]


@dataclass(frozen=True, slots=True)
class ClaimFails:
    """A run in which the claim does not hold when the act begins."""

    act: int
    claim: int
    worlds: Bits
    run: Found


@dataclass(frozen=True, slots=True)
class NotReady:
    """A run that does not end as the next visit begins: a layer, what is torn on it, or a lasting
    fact (``kind``: "layer", "torn" or "fact")."""

    kind: str
    number: int
    value: int
    worlds: Bits
    run: Found


@dataclass(frozen=True, slots=True)
class LeftOver:
    """A run that ends with the piece used, not retired, and on nothing."""

    piece: int
    worlds: Bits
    run: Found


@dataclass(frozen=True, slots=True)
class Judgement:
    """Everything decided about a plan.

    ``circle``/``no_run``: no permitted order; then nothing else is judged. ``never``: acts of no
    world. ``judged``: the worlds without missteps; the later fields speak of these only.
    ``suspects``: whom soil may reach so far as relaxation can tell; with none, it is proved that it
    reaches nobody, and otherwise ``paths`` decides each of them exactly.
    ``undecided``: questions beyond the budget, in words.
    """

    plan: Plan
    layout: Layout | None
    circle: Circle | None = None
    no_run: bool = False
    never: tuple[int, ...] = ()
    missteps: tuple[MisstepFound, ...] = ()
    which: tuple[WhichOne, ...] = ()
    claims: tuple[ClaimFails, ...] = ()
    not_ready: tuple[NotReady, ...] = ()
    left_over: tuple[LeftOver, ...] = ()
    suspects: frozenset[Suspect] = frozenset()
    paths: Paths | None = None
    judged: Bits = 0
    ready: Bits = 0
    undecided: tuple[str, ...] = ()
    effort: Effort = field(default_factory=Effort)


def judge(plan: Plan, budget: Budget | None = None) -> Judgement:
    """Decide every verdict about ``plan``; of soil, only who is proved safe and who is not."""
    effort = Effort()
    layout = lay_out(plan)
    if isinstance(layout, Circle):
        return Judgement(plan, None, circle=layout, effort=effort)
    asker = _Asker(layout, budget or Budget(), effort)
    whether = any_run(layout.network, asker.budget)
    if isinstance(whether, Impossible):
        return Judgement(plan, layout, no_run=True, effort=effort)
    if isinstance(whether, Undecided):
        return Judgement(plan, layout, undecided=("any permitted order",), effort=effort)
    missteps = tuple(asker.missteps())
    judged = layout.worlds
    for misstep in missteps:
        judged &= ~misstep.worlds
    which = tuple(asker.which(judged))
    claims = (*asker.claims(judged), *asker.between(layout.worlds & ~judged))
    not_ready = tuple(asker.not_ready(judged))
    ready = judged
    for one in not_ready:
        ready &= ~one.worlds
    left_over = tuple(asker.left_over(judged))
    paths = Paths(layout, judged, ready, asker.budget, effort)
    return Judgement(
        plan,
        layout,
        never=tuple(number for number, act in enumerate(plan.acts) if not act.worlds),
        missteps=missteps,
        which=which,
        claims=claims,
        not_ready=not_ready,
        left_over=left_over,
        suspects=paths.suspects(),
        paths=paths,
        judged=judged,
        ready=ready,
        undecided=tuple(asker.undecided),
        effort=effort,
    )


def runs_where(
    layout: Layout,
    act: int,
    claim: Claim,
    worlds: Bits,
    effort: Effort,
    budget: Budget | None = None,
) -> tuple[Bits, Found | None, bool]:
    """All of these worlds in which the claim may be so when the act begins, one run that shows it,
    and whether all of that was decided."""
    asker = _Asker(layout, budget or Budget(), effort)
    found: Bits = 0
    first: Found | None = None
    for case in cases_of(claim):
        stands = stands_of(layout, act, case)
        left = worlds & layout.plan.acts[act].worlds & ~found
        if stands is None or not left:
            continue
        shown, run = asker.worlds_of(Question(left, 1 << act, stands), "state")
        found |= shown
        first = first or run
    return found, first, not asker.undecided


def missteps_of(layout: Layout, budget: Budget, effort: Effort) -> tuple[Bits, Bits]:
    """The worlds in which some run has a misstep, and those in which some run ends otherwise than
    the next visit begins; all of them where that was not decided."""
    asker = _Asker(layout, budget, effort)
    missteps: Bits = 0
    for misstep in asker.missteps():
        missteps |= misstep.worlds
    otherwise: Bits = 0
    for one in asker.not_ready(layout.worlds & ~missteps):
        otherwise |= one.worlds
    if asker.undecided:
        return layout.worlds, layout.worlds
    return missteps, otherwise


def borders(plan: Plan) -> Iterator[int]:
    """Acts of nobody, before the end of the visit, that claim something and at most say what is so
    from here on, or what hands come in with."""
    for number, act in enumerate(plan.acts[:-1]):
        silent = all(isinstance(effect, Pass | SetFact) for effect in act.effects)
        if act.person is None and act.claims and silent:
            yield number


def first_misstep(layout: Layout, run: Found) -> Misstep | None:
    """The first misstep of a run, if it has one: what comes after it means nothing (rule 6)."""
    values = [register.initial for register in layout.network.registers]
    retired: set[int] = set()
    for event in run.order:
        if event >= len(layout.plan.acts) or not layout.network.present[event] >> run.world & 1:
            continue
        act = layout.plan.acts[event]
        token = Token(layout, act, dict(enumerate(values)))
        fault = token.misstep(retired)
        if fault is not None:
            kind, piece, layer = fault
            return Misstep(event, kind, (), piece, layer)
        for number, register in enumerate(layout.network.registers):
            if event in register.writes:
                values[number] = register.writes[event]
    return None


class _Asker:
    """Puts questions to the network and keeps account."""

    def __init__(self, layout: Layout, budget: Budget, effort: Effort) -> None:
        self.layout = layout
        self.budget = budget
        self.effort = effort
        self.undecided: list[str] = []
        self._open_lives: list[int] | None = None

    def worlds_of(self, question: Question, name: str) -> tuple[Bits, Found | None]:
        """All worlds in which the question has a run, and one such run."""
        found: Bits = 0
        first: Found | None = None
        left = question.worlds
        while left:
            asked = replace(question, worlds=left)
            known = self.layout.possible if question.carry is None else self._life_tables
            answer = decide(self.layout.network, asked, self.budget, self.effort, known)
            if isinstance(answer, Undecided):
                self.undecided.append(name)
            if not isinstance(answer, Found):
                break
            first = first or answer
            shown = worlds_shown(self.layout.network, asked, answer)
            found |= shown
            left &= ~shown
        return found, first

    @cached_property
    def lives(self) -> lives.Lives:
        """The lives of all pieces."""
        return lives.Lives(self.layout)

    @cached_property
    def _life_tables(self) -> Effects:
        layout = self.layout
        return Effects(layout.network, self.lives.carry, layout.worlds, layout.possible)

    def _life_targets(self) -> list[int]:
        """The targets of lives that relaxation leaves open."""
        if self._open_lives is None:
            self.effort.relaxed += 1
            life = self.lives
            reached = forward(self._life_tables, life.starts)
            self._open_lives = sorted(reached.targets)
        return self._open_lives

    def missteps(self) -> Iterator[MisstepFound]:
        for misstep in self.layout.missteps:
            stands = tuple(
                Stand(misstep.act, register, frozenset({value})) for register, value in misstep.when
            )
            worlds, run = self.worlds_of(
                Question(self.layout.worlds, 1 << misstep.act, stands), misstep.kind
            )
            if run is not None:
                yield MisstepFound(misstep, worlds, run)
        yield from self._used_again()

    def _used_again(self) -> Iterator[MisstepFound]:
        life = self.lives
        for number in self._life_targets():
            goal = life.goals[number]
            if isinstance(goal, lives.UsedAgain):
                worlds, run = self.worlds_of(
                    Question(
                        self.layout.worlds,
                        carry=life.carry,
                        starts=life.starts,
                        targets=frozenset({number}),
                    ),
                    "used again",
                )
                if run is not None:
                    misstep = Misstep(goal.act, "retired", (), goal.piece, NOTHING)
                    yield MisstepFound(misstep, worlds, run)

    def which(self, worlds: Bits) -> Iterator[WhichOne]:
        layout = self.layout
        for number, act in enumerate(layout.plan.acts):
            for hold in dict.fromkeys(holds_read(act)):
                register = layout.registers.hold(hold)
                possible = {
                    value: within & worlds
                    for value, within in sorted(layout.possible.possible(register, number).items())
                    if within & worlds & act.worlds
                }
                doubtful = _overlaps(possible)
                if not doubtful:
                    continue
                exact = {
                    value: self.worlds_of(
                        Question(
                            within & doubtful,
                            1 << number,
                            (Stand(number, register, frozenset({value})),),
                        ),
                        "which one",
                    )
                    for value, within in possible.items()
                    if within & doubtful
                }
                both = _overlaps({value: found for value, (found, _) in exact.items()})
                if not both:
                    continue
                pair = [
                    (value, run)
                    for value, (found, run) in exact.items()
                    if found & both and run is not None
                ][:2]
                yield WhichOne(
                    number,
                    hold,
                    (pair[0][0], pair[1][0]),
                    both,
                    (pair[0][1], pair[1][1]),
                )

    def claims(self, worlds: Bits, among: frozenset[int] | None = None) -> Iterator[ClaimFails]:
        layout = self.layout
        for number, act in enumerate(layout.plan.acts):
            if among is not None and number not in among:
                continue
            for claim in act.claims:
                failing: Bits = 0
                first: Found | None = None
                for case in cases_of(Not(layout.plan.claims[claim])):
                    stands = stands_of(layout, number, case)
                    if stands is None:
                        continue
                    found, run = self.worlds_of(
                        Question(worlds & act.worlds & ~failing, 1 << number, stands), "claim"
                    )
                    failing |= found
                    first = first or run
                if first is not None:
                    yield ClaimFails(number, claim, failing, first)

    def between(self, worlds: Bits) -> Iterator[ClaimFails]:
        """Claims where one protocol ends and another begins, in worlds with missteps.

        They are what those may come from. A run counts up to its first misstep (rule 6).
        """
        for failing in self.claims(worlds, frozenset(borders(self.layout.plan))):
            misstep = first_misstep(self.layout, failing.run)
            order = failing.run.order
            if misstep is None or order.index(failing.act) < order.index(misstep.act):
                yield failing

    def not_ready(self, worlds: Bits) -> Iterator[NotReady]:
        layout = self.layout
        plan = layout.plan
        for number, layer in enumerate(plan.layers):
            start = layer.start
            register = layout.registers.layer(number)
            for value in sorted(layout.possible.possible(register, layout.over)):
                alike = value == start or (
                    NOTHING not in (value, start)
                    and plan.pieces[value].kind == plan.pieces[start].kind
                )
                if not alike:
                    yield from self._not_ready("layer", number, register, value, worlds)
        for number, torn in layout.registers.torn.items():
            register = layout.registers.layer(number)
            still = Stand(layout.over, torn, frozenset({1}))
            for value in sorted(layout.possible.possible(register, layout.over)):
                if value != NOTHING:
                    yield from self._not_ready("torn", number, register, value, worlds, still)
        for number, fact in enumerate(plan.facts):
            if fact.lasting:
                register = layout.registers.fact(number)
                yield from self._not_ready("fact", number, register, int(not fact.start), worlds)

    def _not_ready(
        self, kind: str, number: int, register: int, value: int, worlds: Bits, *also: Stand
    ) -> Iterator[NotReady]:
        stand = Stand(self.layout.over, register, frozenset({value}))
        found, run = self.worlds_of(Question(worlds, stands=(stand, *also)), "ready")
        if run is not None:
            yield NotReady(kind, number, value, found, run)

    def left_over(self, worlds: Bits) -> Iterator[LeftOver]:
        layout = self.layout
        life = self.lives
        for number in self._life_targets():
            goal = life.goals[number]
            if not isinstance(goal, lives.InUseAtEnd):
                continue
            stands = []
            for layer in lives.may_stay_on(layout.plan, goal.piece):
                register = layout.registers.layer(layer)
                others = frozenset(layout.possible.possible(register, layout.over)) - {goal.piece}
                stands.append(Stand(layout.over, register, others))
            if any(not stand.values for stand in stands):
                continue  # it is surely on that layer
            found, run = self.worlds_of(
                Question(
                    worlds,
                    stands=tuple(stands),
                    carry=life.carry,
                    starts=frozenset({place for place in life.starts if place // 3 == goal.piece}),
                    targets=frozenset({number}),
                ),
                "left over",
            )
            if run is not None:
                yield LeftOver(goal.piece, found, run)


def _overlaps(by_value: dict[int, Bits]) -> Bits:
    """The worlds that occur under more than one value."""
    once: Bits = 0
    twice: Bits = 0
    for worlds in by_value.values():
        twice |= once & worlds
        once |= worlds
    return twice


def stands_of(layout: Layout, act: int, case: tuple[Literal, ...]) -> tuple[Stand, ...] | None:
    """The stands of a conjunction just before an act; None if two of them exclude each other."""
    wanted: dict[int, frozenset[int]] = {}
    for literal in case:
        register, values = _register(layout, literal)
        known = set(layout.possible.possible(register, act))
        allowed = frozenset(value for value in known if (value in values) is literal.holds)
        wanted[register] = wanted.get(register, allowed) & allowed
        if not wanted[register]:
            return None
    return tuple(Stand(act, register, values) for register, values in sorted(wanted.items()))


def _register(layout: Layout, literal: Literal) -> tuple[int, frozenset[int]]:
    registers = layout.registers
    claim = literal.claim
    if isinstance(claim, FactIs):
        return registers.fact(claim.fact), frozenset({int(claim.value)})
    if isinstance(claim, LayerHas):
        return registers.layer(claim.layer), claim.pieces
    return registers.wet(claim.treatment), frozenset({1})


@dataclass(frozen=True, slots=True)
class Literal:
    """A plain claim, or (``holds`` false) its contrary."""

    claim: FactIs | LayerHas | IsWet
    holds: bool


def cases_of(claim: Claim, holds: bool = True) -> list[tuple[Literal, ...]]:
    """The conjunctions of which at least one must be so for the claim to be (not) so."""
    if isinstance(claim, Not):
        return cases_of(claim.part, not holds)
    if isinstance(claim, AllOf | AnyOf):
        if isinstance(claim, AllOf) is holds:
            cases: list[tuple[Literal, ...]] = [()]
            for part in claim.parts:
                cases = [case + more for case in cases for more in cases_of(part, holds)]
            return cases
        return [case for part in claim.parts for case in cases_of(part, holds)]
    return [(Literal(claim, holds),)]
