"""Places of a room: what their lines say of them, and where a visit finds people."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from protocol_lang.language import tree
from protocol_lang.language.claims import Reader
from protocol_lang.language.declared import Declarations
from protocol_lang.language.spaces import Told, name_text
from protocol_lang.language.tree import Words
from protocol_lang.model.conditions import Condition
from protocol_lang.model.parts import Fact, FactOf, PersonKind, RoomPlace
from protocol_lang.model.protocol import Air
from protocol_lang.text import Place

#: What is taken where nothing is said: the stricter column of the table, air that mixes perfectly.
PERCENT = Fraction("99.9")
MIXING = Fraction(1)

#: The least and the most that a number about a place may be, by its unit. An angle from the beam
#: goes from 0, where the beam goes, to 180, where it comes from. A mixing factor goes from 1 to 10
#: (CDC, Guidelines for Environmental Infection Control in Health-Care Facilities, 2003, table B.1).
LIMITS: dict[tree.Unit, tuple[Fraction, Fraction]] = {
    "m from the patient": (Fraction(0), Fraction(100)),
    "degrees from the beam": (Fraction(0), Fraction(180)),
    "air changes an hour": (Fraction(1, 10), Fraction(1000)),
    "percent": (Fraction(1), Fraction("99.999")),
    "mixing factor": (Fraction(1), Fraction(10)),
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
            dirty_side=model.dirty_side or trait.what == "dirty side",
        )
    amount = amount_of(trait.amount, trait.unit, told)
    if trait.unit == "air changes an hour":
        return replace(model, air_changes=amount)
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
        least=f"{float(least):g}",
        most=f"{float(most):g}" if most.denominator == 1 else str(float(most)),
    )
    return None


def air_of(files: Sequence[tree.File], reader: Reader, told: Told) -> Air | None:
    """What all files say of the air; None if none of them says that it carries germs."""
    carries: list[Condition | None] = []
    numbers: dict[tree.Unit, tuple[Fraction, Place]] = {
        "percent": (PERCENT, files[-1].place),
        "mixing factor": (MIXING, files[-1].place),
    }
    said: dict[tree.Unit, Place] = {}
    place: Place | None = None
    for section in (section for file in files for section in file.sections):
        for line in section.lines if isinstance(section, tree.Air) else ():
            if isinstance(line, tree.Spoiled):
                told.complete = False
            elif isinstance(line, tree.Amount):
                amount = amount_of(line.amount, line.unit, told)
                first = said.get(line.unit)
                if first is not None and first.file == line.place.file:
                    told.tell("air-twice", line.place, others=[("first", first)], unit=line.unit)
                elif amount is not None:
                    # A later file, nearer to the protocol, says it anew.
                    said[line.unit] = line.place
                    numbers[line.unit] = (amount, line.place)
            elif line.condition is None:
                carries.append(None)
                place = place or line.place
            else:
                where = reader.condition(line.condition)
                place = place or line.place
                if where is not None:
                    carries.append(where)
    if place is None:
        return None
    return Air(tuple(carries), numbers["percent"][0], numbers["mixing factor"][0], place)


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
