"""Several protocols as one: one after the other in a visit, and all that happens on the days of a
room.

Nothing new is said to the engine. What follows within a visit are further phases; which protocol a
visit follows is one more choice that is free in each visit. Why that is exact: docs/meaning/day.md.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, TypeVar

from protocol_lang.findings import Finding
from protocol_lang.model.conditions import AnyWhere, ChoiceIs, Claim, Condition, IsCovered, NotSo
from protocol_lang.model.protocol import Choice, Floor, Header, Part, Protocol, Role
from protocol_lang.model.running import begun_beside, in_hand, runs_on
from protocol_lang.model.steps import Again, Border, Item, Mishap, Phase, Step, Where
from protocol_lang.model.verbs import Verb
from protocol_lang.model.walk import steps_of, with_choices, with_parts
from protocol_lang.text import Place

#: The name of the choice that says which protocol a visit follows; its values are their titles.
WHICH = "protocol"


@dataclass(frozen=True, slots=True)
class Composed:
    """Protocols put together; ``findings``: where they do not fit."""

    protocol: Protocol
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class Turn:
    """One thing that happens, any number of times and among the others: a visit; closing and
    opening again; work beside the visits. ``chain``: its protocols, one after the other;
    ``then``: those of the visit that begins before this one is over; ``morning``: the one with
    which the next day begins."""

    role: Role
    chain: tuple[Protocol, ...]
    then: tuple[Protocol, ...] = ()
    morning: Protocol | None = None

    @property
    def title(self) -> str:
        """Its value of the choice :data:`WHICH`, in quotation marks as no name can be."""
        named = self.chain if self.role is Role.CLOSING else self.chain[:1]
        told = " and ".join(f'"{one.header.title}"' for one in named)
        return f'{told} running into "{self.then[0].header.title}"' if self.then else told

    @property
    def whole(self) -> tuple[Protocol, ...]:
        """All its protocols."""
        return (*self.chain, *self.then)


def one_after_the_other(first: Protocol, second: Protocol) -> Composed:
    """A visit in which the phases of ``second`` follow those of ``first``.

    What ``second`` begins with becomes a claim between the two, and so does what ``first`` leaves.
    """
    told = _Told()
    apart = _apart((first, second))
    phases = (
        *_phases(apart[0], _left(first)),
        *_phases(apart[1], begun=_begun(second)),
    )
    known = first.parts or (_part(first, Role.FIRST),)
    later = second.parts or (_part(second, Role.FIRST),)
    whole = replace(
        _together(apart, told),
        header=first.header,
        begins=first.begins,
        leaves=second.leaves,
        phases=phases,
        mishaps=tuple(mishap for one in apart for mishap in _mishaps(one)),
        follows=first.follows,
        parts=(*known, *(replace(part, role=Role.THEN) for part in later)),
    )
    return Composed(whole, tuple(told.findings))


def day_of(header: Header, turns: Sequence[Turn]) -> Composed:
    """All that happens in a room as one protocol: each time one of the turns, whichever.

    A protocol that several turns end with stands there once.
    """
    told = _Told()
    turns = (*turns, *_running_into(turns))
    every = list(dict.fromkeys(id(one) for turn in turns for one in turn.whole))
    by_id = {id(one): one for turn in turns for one in turn.whole}
    begins_beside = {id(turn.then[0]) for turn in turns if turn.then}
    mornings = {id(turn.morning) for turn in turns if turn.morning is not None}
    ordered = _in_order(turns, every)
    protocols = [by_id[one] for one in ordered]
    which = Choice(WHICH, tuple(turn.title for turn in turns), False, header.place)
    phases: list[Phase] = []
    apart = _apart(protocols)
    for own, protocol in zip(apart, protocols, strict=True):
        mine = [turn for turn in turns if any(one is protocol for one in turn.whole)]
        condition = _any_of([ChoiceIs(WHICH, turn.title, header.place) for turn in mine])
        phases += [
            replace(phase, items=(Where(((condition, phase.items),), phase.place),))
            for phase in _phases(
                own,
                _left(protocol),
                _begun(protocol, id(protocol) in begins_beside, id(protocol) in mornings),
            )
        ]
    whole = _together(apart, told)
    for choice in whole.choices:
        if choice.name == WHICH:
            told.tell("parts-choice", choice.place, name=WHICH)
    whole = replace(
        whole,
        header=header,
        begins=(),
        leaves=(),
        choices=(which, *whole.choices),
        phases=tuple(phases),
        mishaps=tuple(mishap for one in apart for mishap in _mishaps(one)),
        follows=False,
        parts=tuple(_parts(turns)),
    )
    return Composed(whole, tuple(told.findings))


def _running_into(turns: Sequence[Turn]) -> Iterable[Turn]:
    """The visits of which a part may still be done while another one begins, each with each."""
    visits = [turn for turn in turns if turn.role is Role.VISIT]
    first = [turn for turn in visits if runs_on(turn.chain)]
    pieces = in_hand(turn.chain for turn in first)
    known: dict[int, Protocol] = {}
    for second in visits if first else ():
        begun = begun_beside(second.chain, pieces)
        # What several visits end with is written once more for all of them together.
        then = tuple(
            known.setdefault(id(protocol), made)
            for protocol, made in zip(second.chain, begun, strict=True)
        )
        yield from (Turn(Role.VISIT, turn.chain, then) for turn in first)


def _parts(turns: Sequence[Turn]) -> Iterable[Part]:
    seen: set[int] = set()
    for turn in turns:
        for number, one in enumerate(turn.chain):
            if id(one) not in seen:
                seen.add(id(one))
                role = turn.role if not number else Role.THEN
                yield _part(one, Role.OPENING if turn.role is Role.CLOSING and number else role)


def _part(protocol: Protocol, role: Role) -> Part:
    return Part(role, protocol.header.title, protocol.header.place.file)


def _in_order(turns: Sequence[Turn], every: list[int]) -> list[int]:
    """The protocols, each after those that it follows in some turn.

    Of those of different turns the order says nothing, for they are never done in one visit.
    """
    before: dict[int, set[int]] = {one: set() for one in every}
    for turn in turns:
        ids = [id(one) for one in turn.whole]
        for number, one in enumerate(ids):
            before[one].update(ids[:number])
    done: list[int] = []
    while len(done) < len(every):
        done.append(next(one for one in every if one not in done and before[one] <= set(done)))
    return done


def _any_of(conditions: Sequence[Condition]) -> Condition:
    return conditions[0] if len(conditions) == 1 else AnyWhere(tuple(conditions))


# --- Claims where one protocol ends and another begins -------------------------------------------


def _begun(protocol: Protocol, visit: bool = False, day: bool = False) -> Border | None:
    """What a protocol begins with, as a claim on what was left to it; ``visit``, ``day``: a visit,
    or a day, begins with it."""
    claims: list[Claim] = []
    for line in protocol.begins:
        covered = IsCovered(line.what, line.cover, line.place)
        if line.cover is not None:
            claims.append(covered)
        elif not line.used:
            claims.append(NotSo(covered))
    made = _border(protocol, True, claims)
    if not visit and not day:
        return made
    header = protocol.header
    return Border(header.title, True, tuple(claims), header.place, visit, day)


def _left(protocol: Protocol) -> Border | None:
    return _border(protocol, False, protocol.leaves)


def _border(protocol: Protocol, begins: bool, claims: Iterable[Claim]) -> Border | None:
    made = tuple(claims)
    header = protocol.header
    return Border(header.title, begins, made, header.place) if made else None


def _phases(
    own: Protocol, left: Border | None = None, begun: Border | None = None
) -> tuple[Phase, ...]:
    """The phases of a protocol, each knowing whose it is, with the borders around them."""
    title = own.header.title
    phases = [
        phase if phase.part is not None else replace(phase, part=title) for phase in own.phases
    ]
    if phases and begun is not None:
        phases[0] = replace(phases[0], items=(begun, *phases[0].items))
    if phases and left is not None:
        phases[-1] = replace(phases[-1], items=(*phases[-1].items, left))
    return tuple(phases)


# --- Names ---------------------------------------------------------------------------------------


@dataclass(slots=True)
class _Told:
    findings: list[Finding] = field(default_factory=list)

    def tell(self, kind: str, place: Place, first: Place | None = None, **facts: str) -> None:
        others = () if first is None else (("first", first),)
        self.findings.append(Finding(kind, place, facts, others=others))


def _together(protocols: Sequence[Protocol], told: _Told) -> Protocol:
    """What all of them declare. The same words said twice are one thing; other words under one
    name are told."""

    def merged(sort: str, maps: Iterable[Mapping[str, Any]]) -> dict[str, Any]:
        found: dict[str, Any] = {}
        for one in maps:
            for name, record in one.items():
                known = found.setdefault(name, record)
                if known != record and _bare(known) != _bare(record):
                    told.tell("parts-differ", record.place, known.place, name=name, sort=sort)
        return found

    def by_name(sort: str, lists: Iterable[Iterable[Any]]) -> tuple[Any, ...]:
        return tuple(merged(sort, ({one.name: one for one in each} for each in lists)).values())

    first = protocols[0]
    ranks = {tuple(one.levels): one for one in protocols if one.levels}
    if len(ranks) > 1:
        one, other = list(ranks.values())[:2]
        place, before = (next(iter(each.levels.values())).place for each in (other, one))
        told.tell("parts-differ", place, before, name=next(iter(other.levels)), sort="level")
    _told_of_all(protocols, told)
    return replace(
        first,
        people=merged("person", (one.people for one in protocols)),
        body_parts=_once(_bare_key, (one.body_parts for one in protocols)),
        things=merged("thing", (one.things for one in protocols)),
        groups=merged("group", (one.groups for one in protocols)),
        facts=merged("fact", (one.facts for one in protocols)),
        duties=_once(_bare_key, (one.duties for one in protocols)),
        germs=by_name("class of germs", (one.germs for one in protocols)),
        levels=merged("level", (one.levels for one in protocols)),
        floors=_floors(protocols),
        streams=merged("waste stream", (one.streams for one in protocols)),
        places=merged("place", (one.places for one in protocols)),
        figures=merged("figure", (one.figures for one in protocols)),
        exposures=merged("exposure setting", (one.exposures for one in protocols)),
        calls=merged("call", (one.calls for one in protocols)),
        products=merged("product", (one.products for one in protocols)),
        notes_of_exposures=_in_turn(one.notes_of_exposures for one in protocols),
        notes_of_calls=_in_turn(one.notes_of_calls for one in protocols),
        verbs=_verbs(protocols),
        choices=by_name("choice", (one.choices for one in protocols)),
        files=tuple(dict.fromkeys(source for one in protocols for source in one.files)),
    )


def _in_turn(notes: Iterable[Iterable[str]]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(note for each in notes for note in each))


def _told_of_all(protocols: Sequence[Protocol], told: _Told) -> None:
    """What holds for all that is done must be said for all: duties, what is said of air, and the
    floors of things that a protocol has."""

    def tell(sort: str, record: Any, name: str) -> None:
        told.tell("parts-differ", record.place, name=name, sort=sort)

    for duty in _once(_bare_key, (one.duties for one in protocols)):
        # Where the fact is not known that brings the duty about, nothing can bring it about.
        knowing = [one for one in protocols if duty.fact in one.facts]
        if any(_bare(duty) not in map(_bare, one.duties) for one in knowing):
            tell("duty", duty, duty.name)
    airs = {repr(one.air and _bare(one.air)): one.air for one in protocols}
    if len(airs) > 1:
        tell("air", next(air for air in airs.values() if air is not None), "air")
    for floor in _floors(protocols):
        for one in protocols:
            if floor not in one.floors and _has(one, floor.traits):
                tell("floor", floor, ", ".join(sorted(floor.traits)))
                break


def _has(protocol: Protocol, traits: frozenset[str]) -> bool:
    """Whether it has a thing, or a part of people, with these traits."""
    parts = {part.name for part in protocol.body_parts}
    things = protocol.things.values()
    return traits <= parts or any(traits <= thing.traits for thing in things)


def _bare(record: Any) -> Any:
    """What a declaration says, wherever it stands; of the values of a choice the order says
    nothing."""
    if isinstance(record, Choice):
        return (record.name, frozenset(record.values), record.fixed)
    return replace(record, place=_NOWHERE)


_NOWHERE = Place("", 0, 0, 0)


def _bare_key(record: Any) -> Any:
    return replace(record, place=_NOWHERE)


R = TypeVar("R")


def _once(key: Any, lists: Iterable[Iterable[R]]) -> tuple[R, ...]:
    found: dict[Any, R] = {}
    for each in lists:
        for record in each:
            found.setdefault(key(record), record)
    return tuple(found.values())


def _floors(protocols: Sequence[Protocol]) -> tuple[Floor, ...]:
    return tuple(dict.fromkeys(floor for one in protocols for floor in one.floors))


def _verbs(protocols: Sequence[Protocol]) -> tuple[Verb, ...]:
    """Each verb once. Most are the very same ones, read once for all; of the others only those that
    stand at one place can be alike, which is quicker to see than to go by all that they say."""
    found: dict[tuple[str, int], list[Verb]] = {}
    verbs: list[Verb] = []
    for one in protocols:
        for verb in one.verbs:
            alike = found.setdefault((verb.place.file, verb.place.line), [])
            if verb not in alike:
                alike.append(verb)
                verbs.append(verb)
    return tuple(verbs)


# --- Labels --------------------------------------------------------------------------------------


def _apart(protocols: Sequence[Protocol]) -> list[Protocol]:
    """The protocols with labels, and facts that are found out, of which no two are the same: they
    speak within their file."""
    seen: set[str] = set()
    found: set[str] = set()
    made: list[Protocol] = []
    for protocol in protocols:
        lists = [phase.items for phase in protocol.phases]
        lists += [mishap.items for mishap in protocol.mishaps]
        labels = [step.label for items in lists for step in steps_of(items)]
        facts = [one.name for one in protocol.choices if one.known_after is not None]
        labels_anew = _anew((label for label in labels if label is not None), seen, protocol)
        facts_anew = _anew(facts, found, protocol)
        made.append(_called_anew(protocol, labels_anew, facts_anew))
    return made


def _anew(names: Iterable[str], seen: set[str], protocol: Protocol) -> dict[str, str]:
    """New names for those that were seen; the names, and the new ones, are then seen too."""
    named = dict.fromkeys(names)
    new = {name: f'{name} of "{protocol.header.title}"' for name in named if name in seen}
    seen |= {*named, *new.values()}
    return new


def _called_anew(
    protocol: Protocol, labels: Mapping[str, str], facts: Mapping[str, str]
) -> Protocol:
    if not labels and not facts:
        return protocol

    def within(items: tuple[Item, ...]) -> tuple[Item, ...]:
        return tuple(one(item) for item in items)

    def called(asked: ChoiceIs) -> ChoiceIs:
        return replace(asked, choice=facts.get(asked.choice, asked.choice))

    def one(item: Item) -> Item:
        match item:
            case Step(label=label, after=after):
                return replace(
                    item,
                    label=None if label is None else labels.get(label, label),
                    after=tuple((labels.get(name, name), place) for name, place in after),
                )
            case Again(label=label):
                return replace(item, label=labels.get(label, label))
            case Where(branches, place):
                asked = tuple(
                    (None if cond is None else with_choices(cond, called), inner)
                    for cond, inner in branches
                )
                return with_parts(Where(asked, place), within)
            case _:
                return with_parts(item, within)

    return replace(
        protocol,
        phases=tuple(replace(phase, items=within(phase.items)) for phase in protocol.phases),
        mishaps=tuple(
            replace(
                mishap,
                items=within(mishap.items),
                labels=tuple(labels.get(label, label) for label in mishap.labels),
            )
            for mishap in protocol.mishaps
        ),
        choices=tuple(
            replace(
                choice,
                name=facts.get(choice.name, choice.name),
                known_after=labels.get(choice.known_after, choice.known_after),
            )
            if choice.known_after is not None
            else choice
            for choice in protocol.choices
        ),
    )


def _mishaps(protocol: Protocol) -> tuple[Mishap, ...]:
    """What can happen in a protocol, each knowing whose it is."""
    return tuple(
        mishap if mishap.part is not None else replace(mishap, part=protocol.header.title)
        for mishap in protocol.mishaps
    )
