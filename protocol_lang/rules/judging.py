"""Every rule of some files of rules on one protocol."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from protocol_lang.contamination.judge import Judgement
from protocol_lang.contamination.unfold import Unfolded
from protocol_lang.findings import Finding, Weight
from protocol_lang.model import rules as said
from protocol_lang.model.parts import Thing
from protocol_lang.model.protocol import Protocol
from protocol_lang.model.steps import Doing, Item, MayBeLeftOut, Step
from protocol_lang.model.walk import parts_of
from protocol_lang.rules.claims import CannotBeAsked
from protocol_lang.rules.deciding import Broken, Laid, NotAsked, Orders, Scope, TooHard
from protocol_lang.rules.happenings import ANYTHING, is_of
from protocol_lang.rules.verdicts import Reason, RuleVerdict, Verdict
from protocol_lang.rules.worlds import worlds_where

#: What is decided from what is declared, whatever the order of the steps.
_PLAIN = said.Declared | said.Marked | said.HeaderSays | said.FigureIs | said.EveryDays


@dataclass(frozen=True, slots=True)
class Subject:
    """The protocol that is judged. ``unfolded`` and ``judgement``: None where its text, or what it
    says, does not let its orders be looked at; then ``why``."""

    protocol: Protocol | None
    unfolded: Unfolded | None
    judgement: Judgement | None


def judge_rules(
    books: Sequence[said.RuleBook],
    subject: Subject,
    settings: Mapping[str, str] | None = None,
    on: date | None = None,
) -> tuple[RuleVerdict, ...]:
    """A verdict for every rule, in the order of the books.

    ``settings``: of those that the books let be chosen; the first value holds where nothing is
    told. ``on``: the day of judgement, today if none is told.
    """
    return tuple(
        verdict
        for book in books
        for verdict in _Book(book, subject, settings or {}, on or date.today()).verdicts()
    )


@dataclass(frozen=True, slots=True)
class _Case:
    """A duty on one thing that the rule is about: what came of laying it out."""

    binding: Mapping[str, str]
    ways: tuple[Laid | NotAsked, ...]


class _Book:
    """One file of rules on one protocol."""

    def __init__(
        self,
        book: said.RuleBook,
        subject: Subject,
        settings: Mapping[str, str],
        on: date,
    ) -> None:
        self.book = book
        self.protocol = subject.protocol
        self.on = on
        self.settings = {
            setting.name: settings.get(setting.name, setting.values[0]) for setting in book.settings
        }
        unfolded, judgement = subject.unfolded, subject.judgement
        self.orders: Orders | None = None
        if (
            unfolded is not None
            and judgement is not None
            and judgement.layout is not None
            and judgement.judged
        ):
            self.orders = Orders(unfolded, judgement, book.kinds)

    def verdicts(self) -> Iterable[RuleVerdict]:
        """All duties are laid out before the first is asked: their bits belong to one network."""
        laid = [(rule, self._laid(rule)) for rule in self.book.rules]
        for rule, found in laid:
            yield self._verdict(rule, found)

    def _verdict(self, rule: said.Rule, found: list[_Case] | Reason) -> RuleVerdict:
        pack = self.book.header.title
        if isinstance(found, Reason):
            verdict = (
                Verdict.NOT_DECIDED
                if found.kind in ("not-judged", "cannot-be-asked")
                else Verdict.NOT_APPLICABLE
            )
            return RuleVerdict(pack, rule, verdict, reason=found)
        findings: list[Finding] = []
        asked = False
        why: NotAsked | None = None
        try:
            for case in found:
                broken, applied, not_asked = self._asked(case)
                asked = asked or applied
                why = why or not_asked
                findings += [self._finding(rule, case, one) for one in broken]
        except TooHard:
            return RuleVerdict(pack, rule, Verdict.NOT_DECIDED, reason=Reason("too-hard"))
        except CannotBeAsked as problem:
            reason = Reason("cannot-be-asked", {"what": problem.what})
            return RuleVerdict(pack, rule, Verdict.NOT_DECIDED, reason=reason)
        if findings:
            return RuleVerdict(pack, rule, Verdict.FAILED, tuple(findings))
        if asked:
            return RuleVerdict(pack, rule, Verdict.MET)
        reason = Reason(why.kind, why.facts) if why is not None else Reason("nothing")
        return RuleVerdict(pack, rule, Verdict.NOT_APPLICABLE, reason=reason)

    def _asked(self, case: _Case) -> tuple[list[Broken], bool, NotAsked | None]:
        """What is broken in every way; whether anything was asked; why not.

        A way in which there is nothing to ask is kept, unless every one is like that.
        """
        not_asked = [way for way in case.ways if isinstance(way, NotAsked)]
        if len(not_asked) == len(case.ways):
            return [], False, not_asked[0]
        if not_asked:
            return [], True, None
        first: list[Broken] = []
        for way in case.ways:
            assert not isinstance(way, NotAsked)
            broken = list(way())
            if not broken:
                return [], True, None
            first = first or broken
        return first, True, None

    def _finding(self, rule: said.Rule, case: _Case, broken: Broken) -> Finding:
        facts = {
            **broken.facts,
            "form": broken.form,
            "rule": rule.title,
            "pack": self.book.header.title,
            "strength": rule.strength.value,
        }
        if case.binding:
            facts["thing"] = ", ".join(case.binding.values())
        return Finding(
            "rule-failed",
            broken.place,
            facts,
            context=broken.context,
            route=broken.route,
            weight=Weight.CONSIDER if rule.strength is said.Strength.SHOULD else Weight.CORRECT,
        )

    # --- Laying out ------------------------------------------------------------------------------

    def _laid(self, rule: said.Rule) -> list[_Case] | Reason:
        if self.protocol is None:
            return Reason("not-judged")
        for asked in rule.where:
            if asked.setting and (self.settings[asked.name] == asked.value) is not asked.so:
                return Reason("setting", {"name": asked.name, "value": self.settings[asked.name]})
        duties = rule.duty.ways if isinstance(rule.duty, said.OneOf) else (rule.duty,)
        if self.orders is None and not all(isinstance(duty, _PLAIN) for duty in duties):
            return Reason("not-judged")
        bindings = self._bindings(rule)
        if isinstance(bindings, Reason):
            return bindings
        worlds = self._worlds(rule)
        if isinstance(worlds, Reason):
            return worlds
        scopes = [
            Scope(worlds, frozenset(rule.phases), frozenset(rule.but), binding)
            for binding in bindings
        ]
        try:
            return [
                _Case(scope.binding, tuple(self._way(duty, scope) for duty in duties))
                for scope in scopes
            ]
        except CannotBeAsked as problem:
            return Reason("cannot-be-asked", {"what": problem.what})

    def _bindings(self, rule: said.Rule) -> list[Mapping[str, str]] | Reason:
        """What stands for the kind that the rule is about: each thing that is declared so."""
        about = rule.about
        if about is None:
            return [{}]
        assert self.protocol is not None
        found = [
            thing.name
            for thing in self.protocol.things.values()
            if about.kind in (ANYTHING, thing.kind, thing.name)
            and is_declared(thing, about.traits, self.protocol)
            and thing.name not in rule.but
        ]
        if not found:
            return Reason("no-such", {"name": about.text.removeprefix("for ")})
        name = next((word for word, kind in self.book.kinds.items() if kind == about.kind), None)
        return [{name or about.kind: thing} for thing in found]

    def _worlds(self, rule: said.Rule) -> int | Reason:
        if self.orders is None:
            return 0
        worlds = self.orders.judged
        for asked in rule.where:
            if asked.setting:
                continue
            within = worlds_where(self.orders.unfolded, asked.name, asked.value)
            if within is None:
                if asked.so:
                    return Reason("no-choice", {"choice": asked.name, "value": asked.value})
                continue
            worlds &= within if asked.so else ~within
        titles = {phase.title for phase in self.orders.unfolded.protocol.phases}
        if rule.phases and titles.isdisjoint(rule.phases):
            return Reason("no-phase", {"phases": ", ".join(rule.phases)})
        return worlds if worlds else Reason("no-course")

    def _way(self, duty: said.Duty, scope: Scope) -> Laid | NotAsked:
        match duty:
            case said.Declared():
                return self._declared(duty, scope)
            case said.Marked(mark):
                return self._marked(mark, scope)
            case said.HeaderSays(what):
                return lambda: self._header(what)
            case said.FigureIs():
                return self._figure(duty)
            case said.EveryDays():
                return self._every(duty)
            case _:
                assert self.orders is not None
                return self.orders.lay_out(duty, scope)

    # --- What is declared ------------------------------------------------------------------------

    def _declared(self, duty: said.Declared, scope: Scope) -> Laid | NotAsked:
        assert self.protocol is not None
        things = [self.protocol.things[name] for name in scope.binding.values()]
        if not things:
            return NotAsked("about-nothing")

        def ask() -> Iterable[Broken]:
            assert self.protocol is not None
            for thing in things:
                if not is_declared(thing, duty.traits, self.protocol):
                    facts = {"what": thing.name, "traits": duty.text}
                    yield Broken("declared", facts, thing.place)

        return ask

    def _marked(self, mark: str, scope: Scope) -> Laid | NotAsked:
        """What is used once goes, by what is declared, into a stream that is marked so."""
        assert self.protocol is not None
        streams = self.protocol.streams
        things = [self.protocol.things[name] for name in scope.binding.values()]
        bound = [thing for thing in things if thing.stream is not None]
        if not bound:
            return NotAsked("no-stream", {"thing": ", ".join(thing.name for thing in things)})

        def ask() -> Iterable[Broken]:
            for thing in bound:
                stream = streams[thing.stream or ""]
                if mark.casefold() not in (stream.note or "").casefold():
                    facts = {"what": thing.name, "stream": stream.name, "mark": mark}
                    facts |= {} if stream.note is None else {"marked": stream.note}
                    yield Broken("marked", facts, thing.place)

        return ask

    def _header(self, what: str) -> Iterable[Broken]:
        assert self.protocol is not None
        header = self.protocol.header
        given: object = {
            "owner": header.owner,
            "edition": header.edition,
            "source": header.sources,
            "in force from": header.in_force,
            "review by": header.review_by,
        }[what]
        if not given:
            yield Broken("header", {"what": what}, header.place)
        elif what == "review by" and isinstance(given, date) and given < self.on:
            yield Broken("overdue", {"day": given.isoformat()}, header.place)
        elif what == "in force from" and isinstance(given, date) and given > self.on:
            yield Broken("not-in-force", {"day": given.isoformat()}, header.place)

    def _figure(self, duty: said.FigureIs) -> Laid | NotAsked:
        assert self.protocol is not None
        known = {name.casefold(): one for name, one in self.protocol.figures.items()}
        figure = known.get(duty.name.casefold())
        if figure is None:
            return NotAsked("no-figure", {"figure": duty.name})

        def ask() -> Iterable[Broken]:
            same = _one(figure.unit) == _one(duty.unit)
            good = {
                ">=": figure.amount >= duty.amount,
                "<=": figure.amount <= duty.amount,
                "=": figure.amount == duty.amount,
            }[duty.how]
            if not same or not good:
                given = f"{_plain(figure.amount)} {figure.unit or ''}".strip()
                wanted = {">=": "at least ", "<=": "at most ", "=": ""}[duty.how]
                wanted += f"{_plain(duty.amount)} {duty.unit or ''}".strip()
                facts = {"figure": figure.name, "given": given, "wanted": wanted}
                yield Broken("figure", facts, figure.place)

        return ask

    def _every(self, duty: said.EveryDays) -> Laid | NotAsked:
        """How often the steps are done that a verb of the duty is about."""
        assert self.protocol is not None
        verbs = [one.does.verb for one in duty.what if isinstance(one.does, Doing)]
        found = [
            (step, often)
            for phase in self.protocol.phases
            for step, often in _often(phase.items, 1)
            if isinstance(step.does, Doing) and any(is_of(step.does, verb) for verb in verbs)
        ]
        if not found:
            return NotAsked("no-step", {"text": duty.what[0].text})
        step, days = min(found, key=lambda one: float("inf") if one[1] is None else one[1])

        def ask() -> Iterable[Broken]:
            if days is None or days > duty.days:
                facts = {"step": step.text, "days": str(duty.days)}
                facts |= {} if days is None else {"often": str(days)}
                yield Broken("every", facts, step.place)

        return ask


def is_declared(thing: Thing, traits: Mapping[str, object], protocol: Protocol) -> bool:
    """Whether a thing is declared so. A level, and a wet time, may be more than is asked."""
    for name, wanted in traits.items():
        given = getattr(thing, name)
        if name == "level":
            ranks = {level.name: level.rank for level in protocol.levels.values()}
            if given is None or ranks[given] < ranks.get(str(wanted), len(ranks) + 1):
                return False
        elif name == "wet_minutes":
            if given is None or given < wanted:
                return False
        elif given != wanted:
            return False
    return True


#: How many days may pass between two times, by the words for it.
_DAYS = {
    "visit": 1, "patient": 1, "morning": 1, "day": 1, "evening": 1, "noon": 1, "session": 1,
    "second day": 2, "other day": 2, "week": 7, "monday": 7, "tuesday": 7, "wednesday": 7,
    "thursday": 7, "friday": 7, "second week": 14, "two weeks": 14, "month": 31, "quarter": 92,
    "three months": 92, "half year": 184, "six months": 184, "year": 366,
}  # fmt: skip

_NUMBER_OF_DAYS = re.compile(r"every (\d+) days?")


def _often(items: Iterable[Item], days: int | None) -> Iterable[tuple[Step, int | None]]:
    """Each step with the days that may pass until it is done again; None: that is not told."""
    for item in items:
        match item:
            case Step():
                yield item, days
            case MayBeLeftOut(items=inner, when=when):
                yield from _often(inner, _days(when))
            case _:
                for part in parts_of(item):
                    yield from _often(part, days)


def _days(when: str | None) -> int | None:
    if when is None:
        return None
    number = _NUMBER_OF_DAYS.fullmatch(when)
    return int(number[1]) if number else _DAYS.get(when.removeprefix("every ").casefold())


def _one(unit: str | None) -> str:
    """A unit as it is said of one: "day" for days."""
    return (unit or "")[:1] + (unit or "")[1:].removesuffix("s")


def _plain(amount: Fraction) -> str:
    return str(amount.numerator) if amount.denominator == 1 else f"{float(amount):g}"
