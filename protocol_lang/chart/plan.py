"""From a protocol under one choice to a sheet. Pure: no files, no clock, no engine.

What the engine knows comes in as :class:`Known`, by the place of each step; the branches that are
not chosen are left out and the numbers run through.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from protocol_lang.chart.pictograms.of_steps import pictogram_on_the_wall
from protocol_lang.chart.sheet import (
    Draft,
    Group,
    Hands,
    HandState,
    Mark,
    Row,
    Sheet,
    SheetPhase,
    Together,
)
from protocol_lang.model.conditions import (
    AnyWhere,
    ChoiceIs,
    Condition,
    EveryWhere,
    NotWhere,
    StateIs,
)
from protocol_lang.model.parts import PersonKind
from protocol_lang.model.protocol import FOUND, WHAT_HAPPENS, Protocol
from protocol_lang.model.refs import OfSlot, OfThing
from protocol_lang.model.said import claim as claim_in_words
from protocol_lang.model.steps import (
    Again,
    AnyOrder,
    Doing,
    Either,
    ForEach,
    InOneGo,
    InOrder,
    Item,
    MayBeLeftOut,
    Phase,
    SideBySide,
    Step,
    TimeOnly,
    Waiting,
    Where,
)
from protocol_lang.model.verbs import Reduces, Slot
from protocol_lang.text import Place


@dataclass(frozen=True, slots=True)
class Known:
    """What the engine found about one protocol under one choice.

    ``hands``: by the place of a step (``Step.place``), of each person just after it; a person left
    out has what the step before had. ``start``: of each person when the visit begins; left out:
    not clean. ``phase_do_not_touch``: by the place of a phase; ``do_not_touch``: of a step.
    ``never_touch``: all through the sheet. ``phase_touch_only``, ``touch_only``: what used hands
    have to do with, likewise. ``meanwhile``: by the place of a step, those of steps that may be
    done in its wet time, which is ``wet_minutes``. ``wait_minutes``: by the place of a step that
    waits until a thing is dry. ``must_not_skip``: by the place of a step, what leaving it out leads
    to.
    """

    hands: Mapping[Place, Mapping[str, Hands]] = field(default_factory=dict)
    start: Mapping[str, Hands] = field(default_factory=dict)
    phase_do_not_touch: Mapping[Place, tuple[str, ...]] = field(default_factory=dict)
    do_not_touch: Mapping[Place, tuple[str, ...]] = field(default_factory=dict)
    never_touch: tuple[str, ...] = ()
    phase_touch_only: Mapping[Place, tuple[str, ...]] = field(default_factory=dict)
    touch_only: Mapping[Place, tuple[str, ...]] = field(default_factory=dict)
    meanwhile: Mapping[Place, tuple[Place, ...]] = field(default_factory=dict)
    wet_minutes: Mapping[Place, int] = field(default_factory=dict)
    wait_minutes: Mapping[Place, int] = field(default_factory=dict)
    must_not_skip: Mapping[Place, str] = field(default_factory=dict)
    mark: Mark = field(default_factory=lambda: Draft("not checked"))


def sheet(protocol: Protocol, choices: Mapping[str, str], known: Known | None = None) -> Sheet:
    """The sheet of ``protocol`` where the choices are as told.

    Without ``known`` it is a draft on which nothing is known of anyone's hands.

    Raises ValueError when a choice of the protocol has no value in ``choices``, or one it does not
    offer.
    """
    chosen = _phases(protocol, choices)
    persons = _staff(protocol, [items for _, items in chosen])
    coming_in = Hands(HandState.UNKNOWN if known is None else HandState.NOT_CLEAN)
    known = known or Known()
    begin = {name: known.start.get(name, coming_in) for name in persons}
    counter = _Counter(protocol, known, begin)
    phases = []
    for phase, items in chosen:
        if not items:
            continue
        before = dict(counter.hands)
        phases.append(
            SheetPhase(
                title=phase.short or phase.title,
                items=counter.items(items),
                hands_before=before,
                notes=phase.notes,
                do_not_touch=known.phase_do_not_touch.get(phase.place, ()),
                touch_only=known.phase_touch_only.get(phase.place, ()),
                runs_on=phase.runs_on,
            )
        )
    phases = [replace(phase, items=counter.with_waits(phase.items)) for phase in phases]
    header = protocol.header
    room = next((source.title for source in protocol.files if source.kind == "room"), None)
    return Sheet(
        title=header.title,
        choices=tuple(
            (choice.name, choices[choice.name])
            for choice in protocol.choices
            if choice.known_after is None
        ),
        phases=tuple(phases),
        persons=persons,
        room=room,
        edition=header.edition,
        in_force=header.in_force,
        review_by=header.review_by,
        owner=header.owner,
        mark=known.mark,
        never_touch=known.never_touch,
        exposes=any(step.exposes for _, items in chosen for step in _steps(items)),
    )


def numbers(protocol: Protocol, choices: Mapping[str, str]) -> dict[Place, int]:
    """The numbers of the steps on that sheet, by the place of a step. Raises as :func:`sheet`."""
    return {step.place: number for number, step in numbered(protocol, choices)}


def numbered(protocol: Protocol, choices: Mapping[str, str]) -> Iterator[tuple[int, Step]]:
    """The steps of that sheet, each with its number. Raises as :func:`sheet`."""
    return enumerate(_steps(chosen_items(protocol, choices)), start=1)


def chosen_items(protocol: Protocol, choices: Mapping[str, str]) -> tuple[Item, ...]:
    """What is on that sheet, phase after phase. Raises as :func:`sheet`."""
    return tuple(item for _, items in _phases(protocol, choices) for item in items)


def _phases(protocol: Protocol, choices: Mapping[str, str]) -> list[tuple[Phase, tuple[Item, ...]]]:
    for choice in protocol.choices:
        if choice.known_after is None and choices.get(choice.name) not in choice.values:
            raise ValueError(
                f'The choice "{choice.name}" must be one of: {", ".join(choice.values)}.'
            )
    return [
        (phase, tuple(_chosen(phase.items, choices)))
        for phase in protocol.phases  # a phase may lie wholly in branches that are not chosen
    ]


def hand_of(step: Step) -> str | None:
    """Which hand does a step, where its sentence says so: "the used hand", "both hands"."""
    if not isinstance(step.does, Doing):
        return None
    words = " ".join(part for part in step.does.frame.parts if isinstance(part, str))
    if words.endswith("both hands"):
        return "both hands"
    found = _HAND.search(words)  # a frame is without articles
    return None if found is None else f"the {found[1]}"


#: Words of a sentence that say which hand.
_HAND = re.compile(r"(?<!\S)with (\w+ hand)$")

_PERSON_KINDS = frozenset({"person", *(kind.value for kind in PersonKind)})


def actor(step: Step) -> str | None:
    """The person who does a step: who fills the first slot of a person; None for saying."""
    if isinstance(step.does, Waiting):
        return step.does.actor
    if isinstance(step.does, Doing):
        for part in step.does.frame.parts:
            if isinstance(part, Slot) and part.kind in _PERSON_KINDS:
                names = step.does.filled.get(part.name, ())
                return names[0] if names else None
    return None


def holds(condition: Condition | None, choices: Mapping[str, str]) -> bool | None:
    """Whether a condition holds where the choices are as told; no condition (otherwise) always
    does. None: that is seen only on the way."""
    match condition:
        case None:
            return True
        case ChoiceIs(choice, value):
            return choices[choice] == value if choice in choices else None
        case StateIs():
            return None
        case NotWhere(part):
            inner = holds(part, choices)
            return None if inner is None else not inner
        case EveryWhere(parts) | AnyWhere(parts):
            decides = isinstance(condition, AnyWhere)
            told = [holds(part, choices) for part in parts]
            if decides in told:
                return decides
            return None if None in told else not decides


def _chosen(items: Sequence[Item], choices: Mapping[str, str]) -> Iterator[Item]:
    """The items without branches: those chosen stand where the branches stood; empty blocks go."""
    for item in items:
        match item:
            case Step():
                yield item
            case Where(branches):
                yield from _branches(branches, item.place, choices)
            case InOrder(inside, place):
                if kept := tuple(_chosen(inside, choices)):
                    yield InOrder(kept, place)
            case AnyOrder(inside, mixed, place):
                if kept := tuple(_sub_lists(inside, choices)):
                    yield AnyOrder(kept, mixed, place)
            case InOneGo(inside, place):
                if kept := tuple(_chosen(inside, choices)):
                    yield InOneGo(kept, place)
            case Either(ways, place):
                yield Either(tuple(tuple(_chosen(way, choices)) for way in ways), place)
            case MayBeLeftOut(inside) | ForEach(items=inside) | TimeOnly(items=inside):
                if kept := tuple(_chosen(inside, choices)):
                    yield replace(item, items=kept)
            case Again():
                yield item
            case SideBySide(lanes, place):
                left = [(person, tuple(_chosen(lane, choices))) for person, lane in lanes]
                if kept_lanes := tuple((person, lane) for person, lane in left if lane):
                    yield SideBySide(kept_lanes, place)


def _branches(
    branches: Sequence[tuple[Condition | None, tuple[Item, ...]]],
    place: Place,
    choices: Mapping[str, str],
) -> Iterator[Item]:
    """The branch that is taken; where that is seen only on the way, each that may be."""
    open_ones: list[tuple[Condition | None, tuple[Item, ...]]] = []
    for condition, inside in branches:
        so = holds(condition, choices)
        if so is False:
            continue
        kept = tuple(_chosen(inside, choices))
        if so and not open_ones:
            yield from kept
            return
        open_ones.append((None if so else condition, kept))
        if so:
            break
    if any(kept for _, kept in open_ones):
        yield Where(tuple(open_ones), place)


def _sub_lists(items: Sequence[Item], choices: Mapping[str, str]) -> Iterator[Item]:
    """Inside any order a chosen branch of several items stays a list in its own order."""
    for item in items:
        kept = tuple(_chosen((item,), choices))
        if isinstance(item, Where) and len(kept) > 1:
            yield InOrder(kept, item.place)
        else:
            yield from kept


def _steps(items: Sequence[Item]) -> Iterator[Step]:
    for item in items:
        match item:
            case Step():
                yield item
            case InOrder() | AnyOrder() | InOneGo():
                yield from _steps(item.items)
            case SideBySide(lanes):
                for _, lane in lanes:
                    yield from _steps(lane)
            case Where(branches):
                for _, inside in branches:
                    yield from _steps(inside)
            case Either(ways):
                for way in ways:
                    yield from _steps(way)
            case MayBeLeftOut(inside) | ForEach(items=inside) | TimeOnly(items=inside):
                yield from _steps(inside)
            case Again():
                pass


def _staff(protocol: Protocol, phases: Sequence[tuple[Item, ...]]) -> tuple[str, ...]:
    """The members of staff who do something, in the order in which they are declared."""
    acting = {actor(step) for items in phases for step in _steps(items)}
    return tuple(
        name
        for name, person in protocol.people.items()
        if person.kind is PersonKind.STAFF and name in acting
    )


class _Counter:
    """Numbers the steps and carries the hands along, in the order of the sheet."""

    def __init__(self, protocol: Protocol, known: Known, start: Mapping[str, Hands]) -> None:
        self.protocol = protocol
        self.known = known
        self.hands: dict[str, Hands] = dict(start)
        self.number = 0
        self.numbers: dict[Place, int] = {}
        self.labelled: dict[str, int] = {}
        self.wet: dict[str, int] = {}
        self.waits: dict[int, tuple[str, ...]] = {}
        self.meanwhile: dict[int, tuple[Place, ...]] = {}

    def with_waits(self, items: Sequence[Row | Group]) -> tuple[Row | Group, ...]:
        """The items with the numbers of the steps that each waits for; all have been numbered.

        A label of a step that is not on the sheet has no number, and nothing is waited for there.
        """

        def one(item: Row | Group) -> Row | Group:
            if isinstance(item, Group):
                return replace(item, items=self.with_waits(item.items))
            labels = self.waits.get(item.number, ())
            numbers = sorted(self.labelled[label] for label in labels if label in self.labelled)
            others = [self.numbers.get(place, 0) for place in self.meanwhile.get(item.number, ())]
            meanwhile = tuple(sorted(number for number in others if number))
            return replace(item, after=tuple(numbers), meanwhile=meanwhile)

        return tuple(map(one, items))

    def items(self, items: Sequence[Item]) -> tuple[Row | Group, ...]:
        return tuple(made for item in items for made in self.item(item))

    def item(self, item: Item) -> tuple[Row | Group, ...]:
        match item:
            case Where(branches):
                heads = [_if(condition) for condition, _ in branches]
                return self.headed(heads, [inside for _, inside in branches])
            case Either(ways):
                return self.headed(["either", *["or"] * (len(ways) - 1)], list(ways))
            case MayBeLeftOut(inside, _, when):
                return self.headed([when or "may be left out"], [inside])
            case ForEach(name, least, most, inside):
                times = f"{least} to {most}" if least < most else f"{most}"
                return self.headed([f"for each {name}, {times}"], [inside])
            case TimeOnly(first, inside):
                return self.headed([f"{'first' if first else 'last'} time only"], [inside])
            case Again(label, most):
                times = "once" if most == 1 else f"{most} times"
                # The sheet shows numbers, not labels; a step that is not on it has no number.
                where = f"step {self.labelled[label]}" if label in self.labelled else f"“{label}”"
                words = f"again from {where}, at most {times}"
                return (Group(Together.HEADED, (), heading=words),)
            case _:
                return (self.plain(item),)

    def headed(
        self, heads: Sequence[str], lists: Sequence[Sequence[Item]]
    ) -> tuple[Row | Group, ...]:
        """Groups under words of their own. Each begins with the hands as they are before all of
        them, and after them every person's are the worst that one of them leaves."""
        before = dict(self.hands)
        ends: list[dict[str, Hands]] = []
        made: list[Row | Group] = []
        for head, inside in zip(heads, lists, strict=True):
            self.hands = dict(before)
            if told := self.items(inside):
                made.append(Group(Together.HEADED, told, heading=head))
            ends.append(self.hands)
        self.hands = {
            person: max((end[person] for end in ends), key=lambda hands: -hands.state.rank)
            for person in before
        }
        return tuple(made)

    def plain(self, item: Item) -> Row | Group:
        match item:
            case Step():
                return self.row(item)
            case InOrder(inside):
                return Group(Together.IN_ORDER, self.items(inside))
            case AnyOrder(inside, mixed):
                return Group(Together.MIXED if mixed else Together.ANY_ORDER, self.items(inside))
            case InOneGo(inside):
                return Group(Together.IN_ONE_GO, self.items(inside))
            case SideBySide(lanes):
                return Group(
                    Together.SIDE_BY_SIDE,
                    tuple(Group(Together.LANE, self.items(lane), person) for person, lane in lanes),
                )
            case _:
                raise AssertionError(f"{type(item).__name__} has words of its own")

    def row(self, step: Step) -> Row:
        self.number += 1
        self.numbers[step.place] = self.number
        if step.label is not None:
            self.labelled[step.label] = self.number
        self.waits[self.number] = tuple(label for label, _ in step.after)
        self.meanwhile[self.number] = self.known.meanwhile.get(step.place, ())
        found = self.known.hands.get(step.place, {})
        self.hands.update({name: found[name] for name in self.hands if name in found})
        return Row(
            number=self.number,
            text=step.short or step.text,
            person=actor(step),
            hands=dict(self.hands),
            label=step.label,
            notes=step.notes,
            wait_minutes=self.minutes(step),
            do_not_touch=self.known.do_not_touch.get(step.place, ()),
            touch_only=self.known.touch_only.get(step.place, ()),
            hand=hand_of(step),
            wet_minutes=self.known.wet_minutes.get(step.place),
            must_not_skip=self.known.must_not_skip.get(step.place),
            pictogram=pictogram_on_the_wall(step, self.protocol),
        )

    def minutes(self, step: Step) -> int | None:
        """How long a step waits: as written, else as found, else as the product says."""
        if isinstance(step.does, Doing):
            self.wet.update(_made_wet(self.protocol, step.does))
            return None
        if not isinstance(step.does, Waiting):
            return None
        if step.does.minutes is not None:
            return step.does.minutes
        return self.known.wait_minutes.get(step.place) or self.wet.get(step.does.until_dry or "")


def _if(condition: Condition | None) -> str:
    return "otherwise" if condition is None else f"if {told_condition(condition)}"


def told_condition(condition: Condition) -> str:
    """The condition in the author's words, as short as they go."""
    match condition:
        case ChoiceIs(choice, value) if choice == WHAT_HAPPENS:
            return value
        case ChoiceIs(choice, value):
            return choice if value == FOUND[0] else f"{choice} is {value}"
        case StateIs(claim):
            return claim_in_words(claim, {})
        case NotWhere(part):
            return f"not {told_condition(part)}"
        case EveryWhere(parts):
            return " and ".join(map(told_condition, parts))
        case AnyWhere(parts):
            return " or ".join(map(told_condition, parts))


def _made_wet(protocol: Protocol, doing: Doing) -> dict[str, int]:
    """Which things a step leaves wet, and for how many minutes."""
    wet: dict[str, int] = {}
    for line in doing.verb.lines:
        if not isinstance(line, Reduces) or line.product is None:
            continue
        products = doing.filled.get(line.product, (line.product,))
        minutes = [
            protocol.things[name].wet_minutes for name in products if name in protocol.things
        ]
        for ref in line.refs:
            names: tuple[str, ...] = ()
            if isinstance(ref, OfSlot):
                names = doing.filled.get(ref.slot, ())
            elif isinstance(ref, OfThing):
                names = (ref.thing,)
            told = [most for most in minutes if most is not None]
            wet.update({name: max(told) for name in names if told})
    return wet
