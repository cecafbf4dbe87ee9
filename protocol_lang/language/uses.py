"""What a verb asks of the things and people that a sentence puts into its slots."""

from __future__ import annotations

from collections.abc import Iterator

from protocol_lang.language.names import words_of
from protocol_lang.language.sections import Declarations
from protocol_lang.language.sentences import Reading
from protocol_lang.language.spaces import Told
from protocol_lang.language.tree import Words
from protocol_lang.model.conditions import AnySo, Claim, EverySo, FactHolds, NotSo
from protocol_lang.model.verbs import (
    CoversWith,
    LaysOut,
    Line,
    Meets,
    OfPatient,
    OfPerson,
    OfSlot,
    OfThing,
    Passes,
    Reduces,
    Ref,
    Retires,
    SetsFact,
    Takes,
    Uncovers,
    Verb,
    Washes,
    WhereFrom,
)
from protocol_lang.text import Place


class Uses:
    """Checks each use of a verb; what one thing lacks is told at its first use only."""

    def __init__(self, declared: Declarations, told: Told) -> None:
        self.declared = declared
        self.told = told
        self.already: set[tuple[str, ...]] = set()

    def check(self, reading: Reading, verb: Verb, words: Words) -> None:
        """Tells what the names of this sentence lack for its verb."""
        for claim in verb.claims:
            for ref, place in _claimed(claim):
                self._part(ref, reading, words, place)
        for line in verb.lines:
            for ref in _handled(line):
                self._part(ref, reading, words, line.place)
            match line:
                case Reduces(product=str(product)):
                    for thing in reading.filled.get(product, (product,)):
                        if self._sound(thing) and self.declared.things[thing].level is None:
                            self._tell("product-no-level", thing, "", words, line.place)
                case LaysOut():
                    for thing in _things(line.what, reading):
                        if self._sound(thing) and self.declared.things[thing].stocked_from is None:
                            self._tell("not-laid-out", thing, "", words, line.place)
                case CoversWith() | Uncovers():
                    self._fit(line, reading, words)
                case _:
                    pass

    def _sound(self, thing: str) -> bool:
        """Whether what is declared of the thing can be relied on."""
        return thing in self.declared.things and thing not in self.told.dented

    def _tell(self, kind: str, thing: str, other: str, words: Words, place: Place) -> None:
        key = (kind, thing, other)
        if key in self.already:
            return
        self.already.add(key)
        self.told.add(
            kind,
            words.place,
            {"thing": thing, "other": other or None, "text": words.plain},
            (("verb", place),),
        )

    def _part(self, ref: Ref, reading: Reading, words: Words, place: Place) -> None:
        if isinstance(ref, WhereFrom):
            for thing in _things(ref.what, reading):
                if self._sound(thing) and self.declared.things[thing].comes_from is None:
                    self._tell("no-box", thing, "", words, place)
            return
        if not isinstance(ref, OfSlot) or ref.part is None:
            return
        for name in reading.filled.get(ref.slot, ()):
            person = self.declared.people.get(name)
            if person is not None:
                if self.declared.body_part(ref.part, [person.kind]) is None:
                    self._tell("part-missing", name, ref.part, words, place)
            elif self._sound(name):
                parts = self.declared.things[name].parts
                if all(words_of(part.name) != words_of(ref.part) for part in parts):
                    self._tell("part-missing", name, ref.part, words, place)

    def _fit(self, line: CoversWith | Uncovers, reading: Reading, words: Words) -> None:
        for cover in _things(line.cover, reading):
            if not self._sound(cover):
                continue
            worn_on = self.declared.things[cover].worn_on
            for target, part in self._targets(line.what, reading):
                if target in self.declared.things:
                    if self._sound(target) and not self._takes(target, part, cover):
                        self._tell("cover-does-not-fit", target, cover, words, line.place)
                elif part is not None and (worn_on is None or words_of(worn_on) != words_of(part)):
                    self._tell("worn-elsewhere", cover, part, words, line.place)

    def _targets(self, ref: Ref, reading: Reading) -> Iterator[tuple[str, str | None]]:
        match ref:
            case OfSlot():
                for name in reading.filled.get(ref.slot, ()):
                    yield name, ref.part
            case OfThing():
                yield ref.thing, ref.part
            case OfPerson():
                yield ref.person, ref.part
            case OfPatient():
                yield "patient", ref.part
            case _:
                pass

    def _takes(self, target: str, part: str | None, cover: str) -> bool:
        for taken, parts in self.declared.things[target].takes:
            if taken != cover:
                continue
            if part is None or not parts or words_of(part) in {words_of(p) for p in parts}:
                return True
        return False


def _things(ref: Ref, reading: Reading) -> tuple[str, ...]:
    if isinstance(ref, OfSlot):
        return reading.filled.get(ref.slot, ())
    return (ref.thing,) if isinstance(ref, OfThing) else ()


def _claimed(claim: Claim) -> Iterator[tuple[Ref, Place]]:
    match claim:
        case NotSo():
            yield from _claimed(claim.part)
        case EverySo() | AnySo():
            for part in claim.parts:
                yield from _claimed(part)
        case FactHolds():
            if claim.subject is not None:
                yield claim.subject, claim.place
        case _:
            yield claim.what, claim.place


def _handled(line: Line) -> tuple[Ref, ...]:
    match line:
        case Meets() | Washes() | Reduces():
            return line.refs
        case Passes():
            return (*line.sources, *line.goals)
        case Takes() | LaysOut():
            return (line.what, line.hands)
        case CoversWith() | Uncovers():
            return (line.what, line.cover)
        case Retires():
            return (line.what,)
        case SetsFact():
            return (line.subject,) if line.subject is not None else ()
