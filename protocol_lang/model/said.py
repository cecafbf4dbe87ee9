"""Claims and references in the author's words, with the names filled in."""

from __future__ import annotations

from collections.abc import Mapping

from protocol_lang.model.conditions import (
    AnySo,
    Claim,
    EverySo,
    FactHolds,
    FactSince,
    IsCleanOf,
    IsCovered,
    IsDry,
    IsIn,
    NotSo,
)
from protocol_lang.model.verbs import (
    OfPatient,
    OfPerson,
    OfPlace,
    OfSlot,
    OfThing,
    Ref,
    WhatCameOff,
    WhereFrom,
)

Filled = Mapping[str, tuple[str, ...]]


def reference(ref: Ref, filled: Filled) -> str:
    """ "operator's hands", "tube head", "wipe's face"."""
    match ref:
        case OfSlot(slot, part):
            return _owned(" and ".join(filled.get(slot, (slot.lower(),))), part)
        case OfThing(thing, part):
            return _owned(thing, part)
        case OfPatient(part):
            return _owned("the patient", part)
        case OfPerson(person, part):
            return _owned(person, part)
        case WhereFrom(what):
            return f"where {reference(what, filled)} comes from"
        case OfPlace(where):
            return where
        case WhatCameOff():
            return "what came off"


def _owned(owner: str, part: str | None) -> str:
    return owner if part is None else f"{owner}'s {part}"


def claim(what: Claim, filled: Filled) -> str:
    """What should hold, as an author would write it after "only when"."""
    return _claim(what, filled, holds=True)


def _claim(what: Claim, filled: Filled, holds: bool) -> str:
    no = "" if holds else "not "
    match what:
        case FactHolds(fact, subject):
            if subject is None:
                return f"{no}{fact}"
            return f"{_whose(subject, filled)} is {no}{fact}"
        case FactSince(fact, subject, since, whose, never):
            no = "" if never is not holds else "not "
            said = f"{no}{fact}" if subject is None else f"{_whose(subject, filled)} is {no}{fact}"
            other = since if whose in (None, subject) else f"{_whose(whose, filled)} {since}"
            return f"{said} since {other}"
        case IsCovered(ref, cover):
            name = reference(ref, filled)
            verb = "are" if name.endswith("s") else "is"
            if cover is None:
                return f"{name} {verb} {'covered' if holds else 'bare'}"
            shown = filled[cover][0] if cover in filled else cover
            if isinstance(ref, OfPerson) and ref.part == "hands":
                return f"{ref.person} {'wears' if holds else 'does not wear'} {shown}"
            if isinstance(ref, OfSlot) and ref.part is None:
                return f"{name} {'wears' if holds else 'does not wear'} {shown}"
            return f"{name} {verb} {no}covered with {shown}"
        case IsIn(who, where):
            return f"{_whose(who, filled)} is {no}in {' and '.join(filled[where])}"
        case IsDry(ref):
            return f"{reference(ref, filled)} is {no}dry"
        case IsCleanOf(ref, own, _):
            ending = "clean" if own else "clean of other patients"
            return f"{reference(ref, filled)} is {no}{ending}"
        case NotSo(part):
            return _claim(part, filled, not holds)
        case EverySo(parts) | AnySo(parts):
            joint = " and " if isinstance(what, EverySo) is holds else " or "
            return joint.join(_claim(part, filled, holds) for part in parts)


def _whose(subject: Ref, filled: Filled) -> str:
    """The person or thing that a fact is of."""
    if isinstance(subject, OfSlot) and subject.part is None:
        return " and ".join(filled[subject.slot])
    return subject.person if isinstance(subject, OfPerson) else reference(subject, filled)
