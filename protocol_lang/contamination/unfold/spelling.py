"""A checklist spelt out: every way, repetition and mishap as plain steps under plain conditions.

``either``, ``may be left out``, ``for each``, ``again from`` and what can happen are short for
something longer that needs no rule of its own: branches on choices that are free in each visit, and
copies of the steps. Here they become that, so that everything after this knows plain blocks only.
docs/meaning/checklist.md says what each stands for.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from protocol_lang.findings import Finding
from protocol_lang.model.conditions import (
    AnyWhere,
    ChoiceIs,
    Condition,
    EveryWhere,
    NotWhere,
    StateIs,
)
from protocol_lang.model.protocol import FOUND, WHAT_HAPPENS, Choice, Protocol
from protocol_lang.model.running import NEXT
from protocol_lang.model.steps import (
    Again,
    AnyOrder,
    Border,
    Doing,
    Either,
    ForEach,
    InOneGo,
    InOrder,
    Item,
    MayBeLeftOut,
    Mishap,
    Phase,
    Round,
    RoundEnds,
    SideBySide,
    Step,
    TimeOnly,
    Where,
)
from protocol_lang.model.verbs import (
    CoversWith,
    Frame,
    LaysOut,
    Line,
    Moves,
    SetsFact,
    Uncovers,
    Verb,
)
from protocol_lang.model.walk import parts_of, steps_of, with_choices, with_parts
from protocol_lang.text import Place

#: The value of :data:`WHAT_HAPPENS` in a visit without mishap.
NOTHING_HAPPENS = "nothing"

#: How the names of choices begin that tell at which moment a mishap happens.
MOMENT_OF = "when: "

#: What fills a block that may be left out when it is done, and when it is not.
DONE, LEFT_OUT = "done", "left out"


@dataclass(frozen=True, slots=True)
class Spelt:
    """A protocol whose phases hold plain items only, and whose choices are all there are.

    ``findings``: what cannot be spelt out, and why; then nothing is made of it.
    """

    protocol: Protocol
    findings: tuple[Finding, ...]


#: How many times round a repetition is spelt out, by the place of its line; those left out: as
#: often as it says.
Depths = Mapping[Place, int]


def spell_out(protocol: Protocol, depths: Depths | None = None) -> Spelt:
    """The protocol in plain blocks."""
    speller = _Speller(protocol, dict(depths or {}))
    phases = tuple(speller.phase(phase) for phase in protocol.phases)
    return Spelt(
        replace(protocol, phases=phases, choices=tuple(speller.choices), mishaps=()),
        tuple(speller.findings),
    )


def steps_at_least(protocol: Protocol, depths: Depths | None = None) -> int:
    """How many steps the protocol comes to at least, without spelling it out: repetitions that
    stand in each other multiply, and a few short lines can come to more than any memory holds."""
    known = depths or {}

    def within(items: Iterable[Item]) -> int:
        return sum(map(of, items))

    def of(item: Item) -> int:
        if isinstance(item, Step):
            return 1
        times = min(item.most, known.get(item.place, item.most)) if isinstance(item, ForEach) else 1
        return times * sum(map(within, parts_of(item)))

    return sum(within(phase.items) for phase in protocol.phases)


def _holds(items: Iterable[Item], place: Place) -> bool:
    """Whether the line that goes back stands among the items, however deep."""
    return any(
        (isinstance(item, Again) and item.place == place)
        or any(_holds(inner, place) for inner in parts_of(item))
        for item in items
    )


def repetitions(protocol: Protocol) -> tuple[ForEach, ...]:
    """The lines that say "for each", the outer before the inner ones."""
    found: list[ForEach] = []

    def within(items: Iterable[Item]) -> None:
        for item in items:
            if isinstance(item, ForEach):
                found.append(item)
            for inner in parts_of(item):
                within(inner)

    for phase in protocol.phases:
        within(phase.items)
    for mishap in protocol.mishaps:
        within(mishap.items)
    return tuple(found)


def branchings_of(items: Iterable[Item]) -> Iterator[Where]:
    """Every branching in plain items, from the top down, an outer one before those inside it."""
    for item in items:
        if isinstance(item, Where):
            yield item
        for inner in parts_of(item):
            yield from branchings_of(inner)


#: The lists around an item, the outermost first, each with the number of what one is in.
_Lists = tuple[tuple[tuple[Item, ...], int], ...]


@dataclass(frozen=True, slots=True)
class _Here:
    """Where one is in the checklist.

    ``rounds``: which time round, for each repetition around; ``called``: by what names facts that
    are found out in this round go; ``times``: for the repetition right around, whether this is the
    first time, and the condition on which it is the last; ``again``: for each "again" line, how
    many more times it may still be taken, and the name of what it was last taken for; ``lists``:
    the lists around, each with the place one has got to; ``in_mishap``: one mishap has happened, so
    that no other one does.
    """

    rounds: tuple[Round, ...] = ()
    called: Mapping[str, str] = field(default_factory=dict)
    first: bool = True
    last: Condition | None = None
    again: Mapping[Place, int] = field(default_factory=dict)
    lists: _Lists = ()
    in_mishap: bool = False


class _Speller:
    def __init__(self, protocol: Protocol, depths: dict[Place, int]) -> None:
        self.protocol = protocol
        self.depths = depths
        self.choices: list[Choice] = list(protocol.choices)
        self.findings: list[Finding] = []
        self.found_out = {
            choice.name: choice for choice in protocol.choices if choice.known_after is not None
        }
        #: By every name that it has in some round, what is found out.
        self.fact_of = {name: name for name in self.found_out}
        labels = {step.label for repeat in repetitions(protocol) for step in steps_of(repeat.items)}
        self.repeated = {
            choice.name for choice in self.found_out.values() if choice.known_after in labels
        }
        self.mishaps = protocol.mishaps
        if self.mishaps:
            names = tuple(dict.fromkeys(mishap.name for mishap in self.mishaps))
            self.choices.append(
                Choice(
                    WHAT_HAPPENS,
                    (NOTHING_HAPPENS, *names),
                    False,
                    self.mishaps[0].place,
                    declared=False,
                )
            )
        self.moments: dict[str, list[str]] = {}
        self.moment_rounds: dict[str, list[tuple[Round, ...]]] = {}

    # --- Phases, and what can happen in them -----------------------------------------------------

    def phase(self, phase: Phase) -> Phase:
        match phase.items:
            case (Where(((condition, inner),), place),) if phase.part is not None:
                # One of several protocols: what can happen, happens only where this one is done.
                around = self.condition(condition, _Here())
                return replace(phase, items=(Where(((around, self._whole(phase, inner)),), place),))
            case _:
                return replace(phase, items=self._whole(phase, phase.items))

    def _whole(self, phase: Phase, written: tuple[Item, ...]) -> tuple[Item, ...]:
        """The items of a phase with everything that can happen in it."""
        items = self.items(written, _Here())
        here = [
            mishap
            for mishap in self.mishaps
            if phase.title in mishap.phases
            and (phase.part, phase.visit) == (mishap.part, mishap.visit)
        ]
        between = tuple(mishap for mishap in here if mishap.person is not None)
        if between:
            items = self._between(between, items, (), outermost=True)
        for mishap in here:
            if mishap.person is None:
                items = self._put(mishap, items, ())
        once = [one for one in self.found_out.values() if one.name not in self.repeated]
        return self._with_soiling(items, once, phase.place)

    # Between any two steps of a person: anywhere in a run of items in which nothing changes that
    # is asked for. So there is one block for each run, and the order of acts does the rest.

    def _between(
        self,
        mishaps: tuple[Mishap, ...],
        items: tuple[Item, ...],
        lists: _Lists,
        outermost: bool = False,
    ) -> tuple[Item, ...]:
        """The items with what can happen floating beside each run of them."""
        made: list[Item] = []
        run: list[Item] = []
        last: Step | None = None
        for number, item in enumerate(items):
            if not _breaks(item):
                run.append(item)
                continue
            made += self._beside_run(mishaps, tuple(run), last, (*lists, (items, number)))
            made.append(self._inside(mishaps, item, (*lists, (items, number))))
            run = []
            last = next(reversed(list(steps_of((item,)))), last)
        if run or outermost:
            made += self._beside_run(mishaps, tuple(run), last, (*lists, (items, len(items) - 1)))
        return tuple(made)

    def _beside_run(
        self, mishaps: tuple[Mishap, ...], run: tuple[Item, ...], last: Step | None, lists: _Lists
    ) -> tuple[Item, ...]:
        steps = list(steps_of(run))
        if not steps and last is None:
            return run
        first = steps[0] if steps else last
        assert first is not None
        words = f'after "{first.text}"'
        if steps:
            words = f'around "{first.text}"'
        if len(steps) > 1:
            words = f'from "{first.text}" to "{steps[-1].text}"'
        blocks = tuple(self._happening(mishap, first, words, lists) for mishap in mishaps)
        if not run:
            return blocks
        return (AnyOrder((InOrder(run, run[0].place), *blocks), True, run[0].place),)

    def _inside(self, mishaps: tuple[Mishap, ...], item: Item, lists: _Lists) -> Item:
        """What can happen inside an item that changes something: not in one go with it."""
        match item:
            case AnyOrder(inner, False, place):
                return AnyOrder(
                    tuple(self._after_sub_list(mishaps, one, lists) for one in inner), False, place
                )
            case InOneGo() | Step():
                return item
            case _:
                return with_parts(item, lambda part: self._between(mishaps, part, lists))

    def _after_sub_list(self, mishaps: tuple[Mishap, ...], item: Item, lists: _Lists) -> Item:
        """A sub-list of an any-order block stays in one go: it can happen right after it."""
        if not _breaks(item):
            return item
        last = list(steps_of((item,)))[-1]
        return InOrder((item, *self._beside_run(mishaps, (), last, lists)), item.place)

    # Right after some steps.

    def _put(self, mishap: Mishap, items: tuple[Item, ...], lists: _Lists) -> tuple[Item, ...]:
        """The items with the mishap right after each of the steps that it names."""
        made: list[Item] = []
        happens: list[Item] = []
        for number, item in enumerate(items):
            around = (*lists, (items, number))
            if not self._is_made_known(item):
                made += happens
                happens = []
            made.append(self._deeper(mishap, item, around))
            if isinstance(item, Step) and item.label in mishap.labels:
                words = f'after "{item.text}"'
                happens.append(self._happening(mishap, item, words, around))
        return (*made, *happens)

    def _is_made_known(self, item: Item) -> bool:
        """Whether the item is what comes of a step by itself: nothing happens in between."""
        return isinstance(item, Where) and any(
            item.place == choice.place for choice in self.found_out.values()
        )

    def _deeper(self, mishap: Mishap, item: Item, lists: _Lists) -> Item:
        if isinstance(item, AnyOrder):
            kept = []
            for one in item.items:
                with_it = self._put(mishap, (one,), lists)
                kept.append(with_it[0] if len(with_it) == 1 else InOrder(with_it, one.place))
            return AnyOrder(tuple(kept), item.mixed, item.place)
        return with_parts(item, lambda part: self._put(mishap, part, lists))

    def _happening(self, mishap: Mishap, step: Step, words: str, lists: _Lists) -> Item:
        """The mishap, in the visits in which it happens just here; ``words`` say where that is."""
        whose = "" if mishap.part is None else f' of "{mishap.part}"'
        name = f"{MOMENT_OF}{mishap.name}{whose}"
        moment = f"{words}{told_rounds(step.rounds)}"
        moments = self.moments.setdefault(name, [])
        number = sum(1 for known in moments if known.split(" (place ")[0] == moment)
        if number:
            moment = f"{moment} (place {number + 1})"
        moments.append(moment)
        self.moment_rounds.setdefault(name, []).append(step.rounds)
        self._choice(name, tuple(moments), mishap.place, (), tuple(self.moment_rounds[name]))
        happens = EveryWhere(
            (
                ChoiceIs(WHAT_HAPPENS, mishap.name, mishap.place),
                ChoiceIs(name, moment, mishap.place),
            )
        )
        here = _Here(
            rounds=step.rounds, called=self._called_in(step.rounds), lists=lists, in_mishap=True
        )
        inner = self.items(mishap.items, here)
        return Where(((happens, (InOneGo(inner, mishap.place),)),), mishap.place)

    def _called_in(self, rounds: tuple[Round, ...]) -> dict[str, str]:
        """By what names facts go in these rounds that are found out in the innermost of them."""
        return {
            self.fact_of[choice.name]: choice.name
            for choice in sorted(self.choices, key=lambda one: len(one.rounds))
            if choice.known_after is not None
            and choice.rounds
            and set(choice.rounds) <= set(rounds)
        }

    def _with_soiling(
        self, items: tuple[Item, ...], found: Iterable[Choice], place: Place
    ) -> tuple[Item, ...]:
        """The items of a phase, or of one time round, and beside them what is soiled where it is
        so, at any moment before it is known."""
        soiled = tuple(self._soiled(items, found))
        if not soiled:
            return items
        return (AnyOrder((InOrder(items, place), *soiled), True, place),)

    def _soiled(self, items: tuple[Item, ...], found: Iterable[Choice]) -> Iterator[Item]:
        for choice in found:
            if not choice.soils:
                continue
            known = next(
                (step for step in steps_of(items) if step.label == choice.known_after), None
            )
            if known is None:
                continue
            soiling = _nobodys(choice, choice.soils, known.rounds)
            yield _if_so(choice, replace(soiling, before=(choice.known_after or "",)))

    # --- Items -----------------------------------------------------------------------------------

    def items(self, items: Sequence[Item], here: _Here) -> tuple[Item, ...]:
        made: list[Item] = []
        whole = tuple(items)
        for number, item in enumerate(whole):
            inside = replace(here, lists=(*here.lists, (whole, number)))
            made += self.item(item, inside)
        return tuple(made)

    def item(self, item: Item, here: _Here) -> tuple[Item, ...]:
        match item:
            case Border() | RoundEnds():
                return (item,)
            case Step():
                rounds = _joined(item.rounds, here.rounds)
                step = item if rounds == item.rounds else replace(item, rounds=rounds)
                return (step, *self._made_known(step, here))
            case InOrder(inner, place):
                return (InOrder(self.items(inner, here), place),)
            case InOneGo(inner, place):
                return (InOneGo(self.items(inner, here), place),)
            case AnyOrder(inner, mixed, place):
                return (AnyOrder(self._separate(inner, here), mixed, place),)
            case SideBySide(lanes, place):
                return (
                    SideBySide(tuple((who, self.items(lane, here)) for who, lane in lanes), place),
                )
            case Where(((EveryWhere((ChoiceIs(choice), *_)), _),)) if (
                choice == WHAT_HAPPENS and here.in_mishap
            ):
                return ()
            case Where(branches, place):
                told = tuple(
                    (self.condition(condition, here), self.items(inner, here))
                    for condition, inner in branches
                )
                return (Where(told, place),)
            case Either():
                return (self._either(item, here),)
            case MayBeLeftOut(inner, place, when):
                said = f"{when or 'steps'} at line {place.line}"
                name = self._named(said, (DONE, LEFT_OUT), place, here)
                done = ChoiceIs(name, DONE, place)
                return (Where(((done, self.items(inner, here)),), place),)
            case ForEach():
                return (self._for_each(item, here),)
            case TimeOnly(True, inner, _):
                return self.items(inner, here) if here.first else ()
            case TimeOnly(_, inner, place):
                inside = self.items(inner, here)
                return inside if here.last is None else (Where(((here.last, inside),), place),)
            case _:
                return self._again(item, here)

    def _made_known(self, step: Step, here: _Here) -> Iterator[Item]:
        """What is so or not so from this step on, where that is found out in it."""
        for fact, choice in self.found_out.items():
            if choice.sets and step.label == choice.known_after:
                named = replace(choice, name=here.called.get(fact, fact))
                yield _if_so(named, _nobodys(named, choice.sets, step.rounds))

    def _separate(self, items: Sequence[Item], here: _Here) -> tuple[Item, ...]:
        """The items of an any-order block: each stays one item."""
        made: list[Item] = []
        for number, item in enumerate(items):
            inside = replace(here, lists=(*here.lists, (tuple(items), number)))
            spelt = self.item(item, inside)
            made += spelt if len(spelt) < 2 else (InOrder(spelt, item.place),)
        return tuple(made)

    def condition(self, condition: Condition | None, here: _Here) -> Condition | None:
        """The condition with what is found out in this round by the name it has in it."""
        if condition is None:
            return None
        return with_choices(condition, lambda asked: self._called(asked, here))

    def _called(self, asked: ChoiceIs, here: _Here) -> ChoiceIs:
        fact = self.fact_of.get(asked.choice, asked.choice)
        if fact in self.repeated and fact not in here.called and asked.choice == fact:
            self.findings.append(Finding("known-inside-only", asked.place, {"fact": fact}))
        return replace(asked, choice=here.called.get(fact, asked.choice))

    def _either(self, item: Either, here: _Here) -> Item:
        values: list[str] = []
        for number, way in enumerate(item.ways, start=1):
            first = next((step.text for step in steps_of(way)), "nothing")
            values.append(first if first not in values else f"{first} (way {number})")
        name = self._named(f"way at line {item.place.line}", tuple(values), item.place, here)
        return Where(
            tuple(
                (ChoiceIs(name, value, item.place), self.items(way, here))
                for value, way in zip(values, item.ways, strict=True)
            ),
            item.place,
        )

    # --- Repetitions -----------------------------------------------------------------------------

    def _for_each(self, item: ForEach, here: _Here) -> Item:
        """A copy for each time; the k-th is done where there are at least k times."""
        deep = min(item.most, self.depths.get(item.place, item.most))
        least = min(item.least, deep)
        counts = tuple(str(number) for number in range(least, deep + 1))
        name = self._named(f"how many: {item.name}", counts, item.place, here)
        within: tuple[Item, ...] = ()
        for number in range(deep, 0, -1):
            # The rounds stand in each other, so that one that is not reached asks nothing.
            last: Condition | None = None
            if number < least:
                last = _NEVER
            elif number < deep:
                last = ChoiceIs(name, str(number), item.place)
            inside = self._round(
                item.items, Round(item.name, number, item.place), item.place, here, last
            )
            copy = (*inside, *within)
            if number > 1 and deep < item.most:
                # From here on it may be that nothing new comes: that is looked at.
                copy = (RoundEnds(item.name, number - 1, item.place), *copy)
            if number > least:
                fewer = tuple(
                    ChoiceIs(name, str(count), item.place) for count in range(least, number)
                )
                copy = (Where(((NotWhere(AnyWhere(fewer)), copy),), item.place),)
            within = copy
        return InOrder(within, item.place)

    def _round(
        self,
        items: Sequence[Item],
        this: Round,
        place: Place,
        here: _Here,
        last: Condition | None,
    ) -> tuple[Item, ...]:
        rounds = (*here.rounds, this)
        inside = replace(
            here,
            rounds=rounds,
            called={**here.called, **self._found_anew(items, rounds)},
            first=this.number == 1,
            last=last,
            lists=(),
        )
        return self._with_soiling(self.items(items, inside), self._of_round(inside, here), place)

    def _of_round(self, inside: _Here, around: _Here) -> list[Choice]:
        """What is found out anew in this round, by the names that it has in it."""
        names = {name for fact, name in inside.called.items() if around.called.get(fact) != name}
        return [choice for choice in self.choices if choice.name in names]

    def _found_anew(self, items: Iterable[Item], rounds: tuple[Round, ...]) -> dict[str, str]:
        """What is found out among the items is found out anew each time: the names it has now."""
        labels = {step.label for step in steps_of(items)}
        called: dict[str, str] = {}
        for choice in self.found_out.values():
            if choice.known_after in labels:
                name = f"{choice.name}{told_rounds(rounds)}"
                called[choice.name] = name
                self.fact_of[name] = choice.name
                if all(known.name != name for known in self.choices):
                    self.choices.append(replace(choice, name=name, declared=False, rounds=rounds))
        return called

    def _again(self, item: Again, here: _Here) -> tuple[Item, ...]:
        """Everything from the step with the label up to here once more, with one time fewer."""
        left = here.again.get(item.place, item.most)
        if not left:
            return ()
        segment = self._segment(item, here)
        if segment is None:
            return ()
        number = item.most - left + 2
        this = Round(f'from "{item.label}"', number, item.place)
        rounds = (*(one for one in here.rounds if one.place != item.place), this)
        called = self._found_anew(segment, rounds)
        inside = replace(
            here,
            rounds=rounds,
            called={**here.called, **called},
            first=False,
            last=_NEVER if here.last is not None else None,
            again={**here.again, item.place: left - 1},
            lists=(),
        )
        copy = self._with_soiling(
            self.items(segment, inside), self._of_round(inside, here), item.place
        )
        if left < item.most and not called:
            # Nothing that is found out in it says whether it is done once more.
            name = self._named(f"again at line {item.place.line}", FOUND, item.place, inside)
            return (Where(((ChoiceIs(name, FOUND[0], item.place), copy),), item.place),)
        return copy

    def _segment(self, item: Again, here: _Here) -> tuple[Item, ...] | None:
        """The items from the one with the label to the one that holds the line, in one list."""
        for items, number in reversed(here.lists):
            for start in range(number, -1, -1):
                if any(step.label == item.label for step in steps_of((items[start],))):
                    return items[start : number + 1]
        facts = {"label": item.label, **self._elsewhere(item)}
        self.findings.append(Finding("again-not-before", item.place, facts))
        return None

    def _elsewhere(self, item: Again) -> dict[str, str]:
        """The other phase in which the step with the label stands; for a mishap, that it is one."""
        phases = self.protocol.phases
        home = next((one for one in phases if _holds(one.items, item.place)), None)
        if home is None:
            return {"mishap": "yes"}
        with_label = [
            one for one in phases if any(step.label == item.label for step in steps_of(one.items))
        ]
        return {"phase": with_label[0].title} if with_label and home not in with_label else {}

    # --- Choices of our own ----------------------------------------------------------------------

    def _named(self, name: str, values: tuple[str, ...], place: Place, here: _Here) -> str:
        rounds = told_rounds(here.rounds)
        places = {one.name: one.place for one in self.choices}
        name = f"{name}{NEXT}" if place.again else name
        called = (
            name,
            f"{name} (line {place.line})",
            f"{name} ({place.file}, line {place.line})",
        )
        name = next(told for one in called if places.get(told := f"{one}{rounds}", place) == place)
        self._choice(name, values, place, here.rounds)
        return name

    def _choice(
        self,
        name: str,
        values: tuple[str, ...],
        place: Place,
        rounds: tuple[Round, ...] = (),
        moments: tuple[tuple[Round, ...], ...] = (),
    ) -> None:
        made = Choice(name, values, False, place, declared=False, rounds=rounds, moments=moments)
        for number, known in enumerate(self.choices):
            if known.name == name:
                self.choices[number] = made
                return
        self.choices.append(made)


def _nobodys(choice: Choice, lines: tuple[Line, ...], rounds: tuple[Round, ...]) -> Step:
    """What nobody does and happens all the same, in a step of its own."""
    verb = Verb((), (), lines, (), False, (), (), choice.place)
    return Step(
        label=None,
        text=choice.name,
        short=None,
        does=Doing(verb, Frame((), choice.name, choice.place), {}),
        claims=(),
        sets=(),
        after=(),
        notes=(),
        sources=(),
        place=choice.place,
        rounds=rounds,
    )


def _if_so(choice: Choice, step: Step) -> Where:
    """The step where that is found out which the choice stands for."""
    return Where(((ChoiceIs(choice.name, FOUND[0], choice.place), (step,)),), choice.place)


#: Holds nowhere.
_NEVER = AnyWhere(())


def told_rounds(rounds: Sequence[Round]) -> str:
    """ " (exposure 2)", or nothing the first time round."""
    told = [f"{one.name} {one.number}" for one in rounds if one.number > 1]
    return f" ({', '.join(told)})" if told else ""


def _breaks(item: Item) -> bool:
    """Whether something may be so after the item that was not so before it: what is on something,
    a fact, where somebody is. Or a time round ends in it, and the next begins."""
    match item:
        case RoundEnds():
            return True
        case Step(does=does, sets=sets):
            lines = does.verb.lines if isinstance(does, Doing) else ()
            return bool(sets) or any(isinstance(line, _CHANGING) for line in lines)
        case _:
            return any(_breaks(inner) for part in parts_of(item) for inner in part)


_CHANGING = CoversWith | Uncovers | SetsFact | Moves | LaysOut


def states_in(condition: Condition) -> Iterator[StateIs]:
    """What the condition asks of the state."""
    match condition:
        case StateIs():
            yield condition
        case NotWhere(part):
            yield from states_in(part)
        case EveryWhere(parts) | AnyWhere(parts):
            for part in parts:
                yield from states_in(part)


def choices_in(condition: Condition) -> Iterator[ChoiceIs]:
    """What the condition asks of choices."""
    match condition:
        case ChoiceIs():
            yield condition
        case NotWhere(part):
            yield from choices_in(part)
        case EveryWhere(parts) | AnyWhere(parts):
            for part in parts:
                yield from choices_in(part)


def _joined(rounds: tuple[Round, ...], around: tuple[Round, ...]) -> tuple[Round, ...]:
    """The rounds of a step that may be spelt out already, with those around it now."""
    places = {one.place for one in around}
    return (*(one for one in rounds if one.place not in places), *around)
