"""Every rule of some files of rules on one protocol."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from difflib import get_close_matches
from fractions import Fraction

from protocol_lang.contamination.judge import Judgement
from protocol_lang.contamination.unfold import Unfolded
from protocol_lang.findings import Finding, Weight
from protocol_lang.model import rules as said
from protocol_lang.model.parts import Thing
from protocol_lang.model.protocol import Protocol
from protocol_lang.model.steps import Doing, Step
from protocol_lang.rules.claims import CannotBeAsked
from protocol_lang.rules.deciding import Bound, Broken, Laid, NotAsked, Orders, Scope, TooHard
from protocol_lang.rules.happenings import ANYTHING, Happenings, Scene, form_of, meant
from protocol_lang.rules.often import HowOften
from protocol_lang.rules.verdicts import Reason, RuleVerdict, Verdict
from protocol_lang.rules.worlds import worlds_where

#: Why a way was not asked, where what it asks for is not told: it is not kept.
_NOT_TOLD = frozenset({"no-figure", "no-stream", "about-nothing"})

#: What is decided from what is declared, whatever the order of the steps.
_PLAIN = said.Declared | said.Marked | said.HeaderSays | said.FigureIs | said.EveryDays


@dataclass(frozen=True, slots=True)
class Subject:
    """The protocol that is judged. ``unfolded`` and ``judgement``: None where its text, or what it
    says, does not let its orders be looked at. ``whole``: every line of its text was understood;
    else nothing is said of its steps."""

    protocol: Protocol | None
    unfolded: Unfolded | None
    judgement: Judgement | None
    whole: bool = True


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
    scene = None if subject.unfolded is None or not books else Scene(subject.unfolded)
    return tuple(
        verdict
        for book in books
        for verdict in _Book(book, subject, scene, settings or {}, on or date.today()).verdicts()
    )


class _NotJudged(Exception):
    """What would have to be known of the protocol is not known."""


def _not_judged() -> Iterable[Broken]:
    """The duty of which nothing can be asked."""
    raise _NotJudged


@dataclass(frozen=True, slots=True)
class _Case:
    """A duty on one thing that the rule is about: what came of laying it out."""

    binding: Mapping[str, str]
    ways: tuple[Laid | NotAsked, ...]


def told_once(broken: Iterable[tuple[_Case, Broken]]) -> Iterator[tuple[_Case, Broken]]:
    """Each thing to tell once, in the order found: what is told in the same words is told together,
    with all that it is about; but for each thing of ``for`` by itself, which then is named."""
    alike: dict[Hashable, dict[Bound, list[tuple[_Case, Broken]]]] = {}
    for case, one in broken:
        words = (one.form, tuple(sorted(one.facts.items())), one.place, one.context)
        of_thing = alike.setdefault(words, {})
        of_thing.setdefault(tuple(sorted(case.binding.items())), []).append((case, one))
    for of_thing in alike.values():
        for together in of_thing.values():
            case, first = together[0]
            about = _differing([one.about for _, one in together])
            if len(of_thing) > 1:
                about = (*case.binding.values(), *about)
            facts = {**first.facts, "about": ", ".join(about)} if about else first.facts
            yield case, replace(first, facts=facts)


def _differing(about: Sequence[Bound]) -> tuple[str, ...]:
    """The names that are not in all of them, each once."""
    always = set.intersection(*({name for _, name in one} for one in about))
    names = dict.fromkeys(name for one in about for _, name in one if name not in always)
    return tuple(names)


class _Book:
    """One file of rules on one protocol."""

    def __init__(
        self,
        book: said.RuleBook,
        subject: Subject,
        scene: Scene | None,
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
            self.orders = Orders(unfolded, judgement, book.kinds, scene)
        self.whole = subject.whole
        self.happenings = None if scene is None else Happenings(scene, book.kinds)
        if self.orders is not None:
            self.happenings = self.orders.happenings

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
        broken: list[tuple[_Case, Broken]] = []
        asked = False
        why: NotAsked | None = None
        open_: Reason | None = None
        for case in found:
            try:
                here, applied, not_asked = self._asked(case)
            except TooHard:
                open_ = open_ or Reason("too-hard")
                continue
            except CannotBeAsked as problem:
                open_ = open_ or Reason("cannot-be-asked", {"what": problem.what})
                continue
            except _NotJudged:
                open_ = open_ or Reason("not-judged")
                continue
            asked = asked or applied
            why = why or not_asked
            broken += [(case, one) for one in here]
        if broken:  # what is found is found, whatever else could not be decided
            findings = tuple(self._finding(rule, case, one) for case, one in told_once(broken))
            return RuleVerdict(pack, rule, Verdict.FAILED, findings)
        if open_ is not None:
            return RuleVerdict(pack, rule, Verdict.NOT_DECIDED, reason=open_)
        if asked:
            return RuleVerdict(pack, rule, Verdict.MET)
        reason = Reason(why.kind, why.facts) if why is not None else Reason("nothing")
        return RuleVerdict(pack, rule, Verdict.NOT_APPLICABLE, reason=reason)

    def _asked(self, case: _Case) -> tuple[list[Broken], bool, NotAsked | None]:
        """What is broken in every way; whether anything was asked; why not.

        A way is kept that is about nothing done here, unless every way is like that. Where nothing
        is told of what a way asks for (a figure, a waste stream), that way is none.
        """
        not_asked = [way for way in case.ways if isinstance(way, NotAsked)]
        if len(not_asked) == len(case.ways):
            return [], False, not_asked[0]
        if any(way.kind not in _NOT_TOLD for way in not_asked):
            return [], True, None
        first: list[Broken] = []
        left_open: Exception | None = None
        for way in case.ways:
            if isinstance(way, NotAsked):
                continue
            try:
                broken = list(way())
            except (TooHard, CannotBeAsked, _NotJudged) as problem:
                left_open = left_open or problem
                continue
            if not broken:  # one way is enough, whatever is not known of others
                return [], True, None
            first = first or broken
        if left_open is not None:
            raise left_open
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
        if not any(map(self._can_be_asked, duties)):
            return Reason("not-judged")
        bindings = self._bindings(rule)
        if isinstance(bindings, Reason):
            return bindings
        worlds = self._worlds(rule)
        if isinstance(worlds, Reason):
            return worlds
        but = self._not_counting(rule)
        phases = self._phases(rule)
        scopes = [Scope(worlds, phases, but, binding) for binding in bindings]
        try:
            return [
                _Case(scope.binding, tuple(self._way(duty, scope, rule) for duty in duties))
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
        but = self._not_counting(rule)
        found = [
            thing.name
            for thing in self.protocol.things.values()
            if about.kind in (ANYTHING, thing.kind, thing.name)
            and is_declared(thing, about.traits, self.protocol)
            and thing.name not in but
        ]
        if not found:
            return Reason("no-such", {"name": about.text.removeprefix("for ")})
        name = next((word for word, kind in self.book.kinds.items() if kind == about.kind), None)
        return [{name or about.kind: thing} for thing in found]

    def _not_counting(self, rule: said.Rule) -> frozenset[str]:
        """The names that do not count: a kind stands for all of it, as a group does."""
        assert self.protocol is not None
        found: set[str] = set()
        for name in rule.but:
            group = self.protocol.groups.get(name)
            found |= set(group.members) if group is not None else set()
            found |= set(meant(self.protocol, self.book.kinds, name))
        return frozenset(found)

    def _worlds(self, rule: said.Rule) -> int | Reason:
        if self.orders is None:
            return self._without_orders(rule)
        of_choices = [asked for asked in rule.where if not asked.setting]
        within = worlds_where(self.orders.unfolded, of_choices)
        if isinstance(within, said.Asked):
            return Reason("no-choice", {"choice": within.name, "value": within.value})
        worlds = self.orders.judged & within
        if rule.phases and not self._phases(rule):
            return self._no_phase(rule)
        return worlds if worlds else Reason("no-course")

    def _without_orders(self, rule: said.Rule) -> int | Reason:
        """No worlds; or why the rule would not apply in any."""
        assert self.protocol is not None
        known = {choice.name: choice.values for choice in self.protocol.choices}
        for asked in rule.where:
            if not asked.setting and asked.so and asked.value not in known.get(asked.name, ()):
                return Reason("no-choice", {"choice": asked.name, "value": asked.value})
        if rule.phases and not self._phases(rule):
            return self._no_phase(rule)
        return 0

    def _phases(self, rule: said.Rule) -> frozenset[str]:
        """The phases of the protocol that the rule names, however its titles are written."""
        assert self.protocol is not None
        named = set(map(_title, rule.phases))
        return frozenset(one.title for one in self.protocol.phases if _title(one.title) in named)

    def _no_phase(self, rule: said.Rule) -> Reason:
        assert self.protocol is not None
        titles = {_title(one.title): one.title for one in self.protocol.phases}
        facts = {"phases": ", ".join(rule.phases)}
        near = get_close_matches(_title(rule.phases[0]), titles, 1, _LIKE)
        return Reason("no-phase", facts | ({"nearest": titles[near[0]]} if near else {}))

    def _can_be_asked(self, duty: said.Duty) -> bool:
        """Whether enough is known of the protocol for the duty to be asked."""
        if self.orders is not None:
            return True
        return isinstance(duty, _PLAIN if self.whole else said.HeaderSays)

    def _way(self, duty: said.Duty, scope: Scope, rule: said.Rule) -> Laid | NotAsked:
        if not self._can_be_asked(duty):
            return _not_judged
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
                return self._every(duty, scope, rule)
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
        if not given and not self.whole:
            raise _NotJudged  # it may stand in a line that could not be read
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
            ours, amount = in_seconds(figure.amount, figure.unit)
            theirs, limit = in_seconds(duty.amount, duty.unit)
            same = ours == theirs
            good = {"=": amount == limit, ">=": amount >= limit, "<=": amount <= limit}[duty.how]
            if not same or not good:
                given = f"{_plain(figure.amount)} {figure.unit or ''}".strip()
                wanted = {">=": "at least ", "<=": "at most ", "=": ""}[duty.how]
                wanted += f"{_plain(duty.amount)} {duty.unit or ''}".strip()
                facts = {"figure": figure.name, "given": given, "wanted": wanted}
                yield Broken("figure", facts, figure.place)

        return ask

    def _every(self, duty: said.EveryDays, scope: Scope, rule: said.Rule) -> Laid | NotAsked:
        """How often the steps are done that the duty is about."""
        assert self.protocol is not None
        known = {asked.name: asked for asked in rule.where if not asked.setting}
        reading = HowOften(self._is_about(duty, scope), known)
        phases = [
            phase
            for phase in self.protocol.phases
            if not scope.phases or phase.title in scope.phases
        ]
        often = reading.of(item for phase in phases for item in phase.items)
        if not reading.found:
            return NotAsked("no-step", {"text": duty.what[0].text})
        step = reading.found[0] if often is None else often.step
        days = None if often is None else often.days

        def ask() -> Iterable[Broken]:
            if days is None or days > duty.days:
                facts = {"step": step.text, "days": str(duty.days)}
                facts |= {} if days is None else {"often": str(days)}
                yield Broken("every", facts, step.place)

        return ask

    def _is_about(self, duty: said.EveryDays, scope: Scope) -> Callable[[Step], bool]:
        """Whether one of the sentences happens in a step."""
        assert self.protocol is not None
        if self.happenings is not None:
            seen = [
                one
                for what in duty.what
                for one in self.happenings.seen(what, scope.binding, scope.but)
            ]
            places = {self.happenings.unfolded.acts[one.act].place for one in seen}
            return lambda step: step.place in places
        if not all(isinstance(one.does, Doing) for one in duty.what):
            raise CannotBeAsked("event")
        return lambda step: any(self._says(step, one, scope) for one in duty.what)

    def _says(self, step: Step, what: said.Happening, scope: Scope) -> bool:
        """Whether a step says what a sentence of a verb says."""
        assert self.protocol is not None
        if not isinstance(step.does, Doing) or not isinstance(what.does, Doing):
            return False
        if form_of(step.does.verb) != form_of(what.does.verb):
            return False
        for slot, name in what.filled.items():
            meaning = (
                (scope.binding[name],)
                if name in scope.binding
                else meant(self.protocol, self.book.kinds, name)
            )
            if not any(
                one in meaning or one == name
                for one in step.does.filled.get(slot, ())
                if one not in scope.but
            ):
                return False
        return True


#: How much alike two titles are, from 0 to 1, for one to be a slip of the pen for the other.
_LIKE = 0.8


def _title(title: str) -> str:
    """A title as it is compared: capitals and the number of blanks do not count."""
    return " ".join(title.casefold().split())


def is_declared(thing: Thing, traits: Mapping[str, object], protocol: Protocol) -> bool:
    """Whether a thing is declared so. A level, and a wet time, may be more than is asked, and
    it may be made of more."""
    for name, wanted in traits.items():
        given = getattr(thing, name)
        if name == "level":
            ranks = {level.name: level.rank for level in protocol.levels.values()}
            if given is None or ranks[given] < ranks.get(str(wanted), len(ranks) + 1):
                return False
        elif name == "wet_minutes":
            if given is None or given < wanted:
                return False
        elif name == "made_of":
            if not wanted <= given:
                return False
        elif given != wanted:
            return False
    return True


def _plain(amount: Fraction) -> str:
    return str(amount.numerator) if amount.denominator == 1 else f"{float(amount):g}"


#: Units of time, in seconds.
_SECONDS = {"second": 1, "minute": 60, "hour": 3600, "day": 86_400, "week": 604_800}


def in_seconds(amount: Fraction, unit: str | None) -> tuple[str, Fraction]:
    """(unit, amount): times in seconds, anything else as it is."""
    plain = " ".join((unit or "").casefold().split())
    seconds = _SECONDS.get(plain.removesuffix("s"))
    return (plain, amount) if seconds is None else ("seconds", amount * seconds)
