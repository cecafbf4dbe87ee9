"""A visit that begins while a part of the one before it is still being done.

It is written once more, under names of its own for all that is not the same as in the visit
before: its patient and whoever comes along, the pieces that the running part still has in hand,
its choices and mishaps. What belongs to the room, and the people who work in it, stay the same.
What that means, and why nothing more need be told apart: docs/meaning/day.md.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, fields, is_dataclass, replace
from itertools import chain
from typing import Any, TypeVar

from protocol_lang.model.conditions import ChoiceIs
from protocol_lang.model.parts import PersonKind
from protocol_lang.model.protocol import WHAT_HAPPENS, Choice, Protocol
from protocol_lang.model.refs import OfPerson, OfThing
from protocol_lang.model.steps import Again, Doing, Mishap, SideBySide, Step, Waiting
from protocol_lang.model.verbs import Verb
from protocol_lang.model.walk import steps_of
from protocol_lang.text import Place

#: What is said behind the name of something that belongs to the visit that has begun.
NEXT = " (next visit)"


def runs_on(visit: Iterable[Protocol]) -> bool:
    """Whether a part of a visit may run into the next one."""
    return any(phase.runs_on for protocol in visit for phase in protocol.phases)


def in_hand(visits: Iterable[Sequence[Protocol]]) -> frozenset[str]:
    """The pieces of which a part that runs on speaks by name: those that are taken anew in each
    visit, or are one of many. A cover goes by what it is on."""
    found: set[str] = set()
    for protocol in chain.from_iterable(visits):
        covers = {cover for thing in protocol.things.values() for cover, _ in thing.takes}
        for phase in protocol.phases:
            for step in steps_of(phase.items) if phase.runs_on else ():
                for name in _named_in(step):
                    thing = protocol.things.get(name.partition("'s ")[0])
                    if thing is None or thing.name in covers or thing.worn_on is not None:
                        continue
                    if thing.one_of_many or thing.used_once:
                        found.add(thing.name)
    return frozenset(found)


def _named_in(step: Step) -> Iterable[str]:
    match step.does:
        case Doing(filled=filled):
            return chain.from_iterable(filled.values())
        case Waiting(until_dry=str(thing)):
            return (thing,)
        case _:
            return ()


def begun_beside(visit: Sequence[Protocol], pieces: frozenset[str]) -> tuple[Protocol, ...]:
    """The protocols of a visit, as of one that begins while a part of the last one still runs.

    ``pieces``: those which that part has in hand, and which are others in this visit.
    """
    return tuple(_begun(protocol, pieces) for protocol in visit)


def _begun(protocol: Protocol, pieces: frozenset[str]) -> Protocol:
    people = {
        name: f"next {name}"
        for name, person in protocol.people.items()
        if person.kind is not PersonKind.STAFF
    }
    things = {name: f"{name}{NEXT}" for name in protocol.things if name in pieces}
    choices = {
        choice.name: f"{choice.name}{NEXT}" for choice in protocol.choices if not choice.fixed
    }
    names = _Names({**people, **things}, choices)
    return replace(
        protocol,
        people={
            people.get(name, name): replace(
                person, name=people.get(name, name), second=name in people
            )
            for name, person in protocol.people.items()
        },
        things={
            **protocol.things,
            **{new: replace(protocol.things[old], name=new) for old, new in things.items()},
        },
        choices=tuple(map(names.anew, protocol.choices)),
        begins=tuple(map(names.anew, protocol.begins)),
        leaves=tuple(map(names.anew, protocol.leaves)),
        phases=tuple(replace(names.anew(phase), visit=2) for phase in protocol.phases),
        mishaps=tuple(replace(names.anew(mishap), visit=2) for mishap in protocol.mishaps),
    )


R = TypeVar("R")


@dataclass(frozen=True, slots=True)
class _Names:
    """New names of people and pieces, and of choices; labels and mishaps are all of this visit."""

    owners: Mapping[str, str]
    choices: Mapping[str, str]

    def anew(self, record: R) -> R:
        """The record with the new names in all that it holds."""
        made: Any = self._anew(record)
        return made  # type: ignore[no-any-return]

    def _anew(self, value: Any) -> Any:
        match value:
            case Place():
                return replace(value, again=True)
            case Verb():
                return self._verb(value)
            case tuple():
                return tuple(map(self._anew, value))
            case frozenset():
                return frozenset(map(self._anew, value))
            case Mapping():
                return {key: self._anew(one) for key, one in value.items()}
            case _ if is_dataclass(value) and not isinstance(value, type):
                return self._record(value)
            case _:
                return value

    def _record(self, value: Any) -> Any:
        known = {field.name: getattr(value, field.name) for field in fields(value)}
        told = {name: self._anew(one) for name, one in known.items()}
        match value:
            case Doing():
                told["filled"] = {
                    slot: tuple(map(self._owner, names)) for slot, names in value.filled.items()
                }
            case Waiting():
                told["actor"] = self._owner(value.actor)
                told["until_dry"] = value.until_dry and self._owner(value.until_dry)
            case OfThing():
                told["thing"] = self._owner(value.thing)
            case OfPerson():
                told["person"] = self._owner(value.person)
            case SideBySide():
                told["lanes"] = tuple(
                    (self._owner(who), self._anew(items)) for who, items in value.lanes
                )
            case ChoiceIs():
                told["choice"] = self.choices.get(value.choice, value.choice)
                if value.choice == WHAT_HAPPENS:
                    told["value"] = value.value + NEXT
            case Choice():
                told["name"] = self.choices.get(value.name, value.name)
                told["known_after"] = value.known_after and value.known_after + NEXT
            case Step():
                told["label"] = value.label and value.label + NEXT
                told["after"] = tuple((label + NEXT, self._anew(at)) for label, at in value.after)
                told["before"] = tuple(label + NEXT for label in value.before)
            case Again():
                told["label"] = value.label + NEXT
            case Mishap():
                told["name"] = value.name + NEXT
                told["person"] = value.person and self._owner(value.person)
                told["labels"] = tuple(label + NEXT for label in value.labels)
        return replace(value, **told)

    def _verb(self, verb: Verb) -> Verb:
        """A verb stays the one that it is, unless it names a piece."""
        made = _Names(self.owners, {})
        lines, claims = made._anew(verb.lines), made._anew(verb.claims)
        if _without_places(lines) == _without_places(verb.lines) and (
            _without_places(claims) == _without_places(verb.claims)
        ):
            return verb
        return replace(verb, lines=lines, claims=claims)

    def _owner(self, name: str) -> str:
        """The new name of somebody or something, or of a part of it ("plate cup's inside")."""
        owner, whose, part = name.partition("'s ")
        if name in self.owners:
            return self.owners[name]
        return f"{self.owners[owner]}{whose}{part}" if owner in self.owners else name


def _without_places(value: Any) -> Any:
    match value:
        case Place():
            return None
        case tuple():
            return tuple(map(_without_places, value))
        case _ if is_dataclass(value) and not isinstance(value, type):
            return (
                type(value),
                tuple(_without_places(getattr(value, field.name)) for field in fields(value)),
            )
        case _:
            return value
