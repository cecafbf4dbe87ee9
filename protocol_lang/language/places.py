"""Places of a room: what their lines say of them, and where a visit finds people."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from protocol_lang.language import tree
from protocol_lang.language.declared import Declarations
from protocol_lang.language.spaces import Told, name_text
from protocol_lang.language.tree import Words
from protocol_lang.model.parts import Fact, FactOf, PersonKind, RoomPlace

#: The least and the most that a number about a place may be, by its unit. An angle from the beam
#: goes from 0, where the beam goes, to 180, where it comes from.
LIMITS: dict[tree.Unit, tuple[Fraction, Fraction]] = {
    "m from the patient": (Fraction(0), Fraction(100)),
    "degrees from the beam": (Fraction(0), Fraction(180)),
}


def declare_places(line: tree.PlaceLine, declared: Declarations, told: Told) -> None:
    """Puts the places of one line into ``declared``, each with the fact of being there."""
    model = RoomPlace("", line.place)
    for trait in line.traits:
        model = _with(model, trait, told)
    for words in line.names:
        name = name_text(words)
        where = replace(model, name=name, place=words.place)
        again = declared.places.says(words, where)
        if declared.places.declare(words, where, told, again):
            fact = Fact(where.being_there, FactOf.PERSON, True, words.place, where=name)
            declared.facts.declare(Words(fact.name, words.place), fact, told)


def _with(model: RoomPlace, trait: tree.Amount | tree.Standing, told: Told) -> RoomPlace:
    if isinstance(trait, tree.Standing):
        return replace(
            model,
            barrier=model.barrier or trait.what == "barrier",
            in_view=model.in_view or trait.what == "patient in view",
        )
    amount = amount_of(trait.amount, trait.unit, told)
    if trait.unit == "m from the patient":
        return replace(model, metres=amount)
    return replace(model, degrees=amount)


def amount_of(words: Words, unit: tree.Unit, told: Told) -> Fraction | None:
    """The number, if it is one that such a thing can be; None after telling that it is not."""
    amount = Fraction(words.plain)
    least, most = LIMITS[unit]
    if least <= amount <= most:
        return amount
    told.tell(
        "amount-out-of-range",
        words.place,
        amount=words.plain,
        unit=unit,
        least=str(least),
        most=str(most),
    )
    return None


def start_in_place(name: str, line: tree.PersonLine, declared: Declarations, told: Told) -> None:
    """Looks up where a visit finds a person. Patients and who is with them come from outside."""
    if line.starts_in is None:
        return
    if PersonKind(line.kind) is not PersonKind.STAFF:
        told.tell("starts-outside", line.starts_in.place, person=name, sort=line.kind)
        return
    where = declared.places.look(line.starts_in, told, "unknown-place")
    if where is not None:
        declared.people[name] = replace(declared.people[name], starts_in=where.name)
