"""Claims and references in the author's words, with the names filled in."""

from __future__ import annotations

from collections.abc import Mapping

from protocol_lang.contamination.kernel import Claim as KernelClaim
from protocol_lang.contamination.kernel import FactIs
from protocol_lang.contamination.unfold import ActNote, ClaimNote, Unfolded
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


def claim(what: Claim | KernelClaim, filled: Filled) -> str:
    """What should hold, as an author would write it after "only when"."""
    return _claim(what, filled, holds=True)


def _claim(what: Claim | KernelClaim, filled: Filled, holds: bool) -> str:
    no = "" if holds else "not "
    match what:
        case FactHolds(fact, None):
            return f"{no}{fact}"
        case FactHolds(fact, subject) if subject is not None:
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
        case _:
            return "this"


def _whose(subject: Ref, filled: Filled) -> str:
    """The person or thing that a fact is of."""
    if isinstance(subject, OfSlot) and subject.part is None:
        return " and ".join(filled[subject.slot])
    return subject.person if isinstance(subject, OfPerson) else reference(subject, filled)


def claim_of(unfolded: Unfolded, number: int, note: ActNote) -> str:
    """The claim of that number in words, as it stands before the act of ``note``."""
    record: ClaimNote = unfolded.claims[number]
    if record.kind == "laid-out":
        return f"{record.facts['thing']} is laid out on {record.facts['surface']}"
    if record.kind == "from-afar":
        where = record.facts.get("where")
        place = f"in {where}" if where is not None else f"where {record.facts['thing']} is"
        return f"{record.facts['person']} is {place}"
    if record.kind == "gloves-behind":
        return f"{record.facts['person']} leaves the gloves on the dirty side"
    if record.kind == "air":
        return f"{record.facts['person']} does not breathe the air of {record.facts['where']}"
    if record.kind == "air-at-end":
        return f"the air of {record.facts['where']} is clear"
    if record.kind == "exposure":
        return f"{record.facts['person']} is {record.facts['safe']}"
    if record.kind == "duty" and isinstance(record.claim, FactIs):
        fact = next(name for (name, _), at in unfolded.facts.items() if at == record.claim.fact)
        return f"{record.facts['person']} is not {fact}"
    return claim(record.claim, note.filled)
