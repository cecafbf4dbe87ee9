"""Which pictogram a step shows, by what its verb does: a clinic's own verb has one as well.

Words of a sentence count only where the model cannot tell: into the mouth from out of it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from protocol_lang.model.conditions import EverySo, IsCovered
from protocol_lang.model.parts import ActsOn, Counts, PersonKind, Thing
from protocol_lang.model.protocol import Protocol
from protocol_lang.model.refs import OfPatient, OfPerson, OfSlot, OfThing, Ref
from protocol_lang.model.steps import Doing, Step, Waiting
from protocol_lang.model.verbs import (
    CoversWith,
    Exposes,
    Frame,
    LaysOut,
    Line,
    Meets,
    Moves,
    Reduces,
    Retires,
    SetsFact,
    Slot,
    Takes,
    Uncovers,
    Washes,
)

#: What is worn, by the kind of thing, and its pictograms without "-on" and "-off".
WORN: Mapping[str, str] = {
    "gloves": "gloves",
    "overgloves": "gloves",
    "mask": "mask",
    "respirator": "respirator",
    "eyewear": "eyewear",
    "face shield": "face-shield",
    "gown": "gown",
    "apron": "apron",
}

#: What is worn on a part that counts as this, where the kind of the thing tells nothing.
_WORN_ON: Mapping[Counts, str] = {
    Counts.SKIN: "gloves",
    Counts.CLOTHES: "gown",
    Counts.FACE: "mask",
}

#: Words in the names of things that are better told by another pictogram than that of their kind.
_BY_NAME: Mapping[str, str] = {
    "visor": "face-shield",
    "face shield": "face-shield",
    "apron": "apron",
    "respirator": "respirator",
}

#: Facts of the shipped words whose beginning or end has a pictogram: (fact, so) -> pictogram.
_FACTS: Mapping[tuple[str, bool], str] = {
    ("behind the barrier", True): "behind-the-barrier",
    ("open", False): "close-door",
}

_PERSON_KINDS: Mapping[str, PersonKind | None] = {
    "person": None,
    **{kind.value: kind for kind in PersonKind},
}


def pictogram_of(step: Step, protocol: Protocol) -> str | None:
    """The name of the pictogram of a step of ``protocol``; None: it needs none, or there is none.

    Of several effects the one that matters most to the hands counts: equipment that is put on or
    taken off, then hands cleaned, then what happens to things.
    """
    match step.does:
        case Waiting():
            return "wait"
        case Doing() as doing:
            return _Effects(doing, protocol).pictogram()
        case _:
            return None


#: Told on a wall chart by other means: a clock beside the minutes, a list of what is laid out; and
#: where somebody goes is not seen from a drawing.
_NOT_ON_THE_WALL = frozenset({"wait", "lay-out", "go"})


def pictogram_on_the_wall(step: Step, protocol: Protocol) -> str | None:
    """The name of the pictogram that a wall chart shows beside a step; None: none would help."""
    name = pictogram_of(step, protocol)
    return None if name in _NOT_ON_THE_WALL else name


def look_of(name: str, protocol: Protocol) -> str | None:
    """The pictogram of a thing that is worn, without "-on" and "-off"; None: it is not worn."""
    thing = protocol.things.get(name)
    if thing is None or thing.worn_on is None:
        return None
    if thing.keeps_air_out:
        return "respirator"
    for words, look in _BY_NAME.items():
        if words in name.casefold():
            return look
    return WORN.get(thing.kind) or _WORN_ON.get(counts_of_staff(thing.worn_on, protocol))


def counts_of_staff(part: str | None, protocol: Protocol) -> Counts:
    """As what a part of staff counts; near the face, where no such part is known."""
    found = (
        one.counts for one in protocol.body_parts if one.name == part and one.of is PersonKind.STAFF
    )
    return next(found, Counts.NEAR_THE_FACE)


def people_of(doing: Doing, ref: Ref) -> tuple[str, ...]:
    """The people of whom ``ref`` is a part; none for things."""
    if isinstance(ref, OfPerson):
        return (ref.person,)
    if isinstance(ref, OfSlot):
        kind = next((slot.kind for slot in slots(doing.frame) if slot.name == ref.slot), "")
        if kind in _PERSON_KINDS:
            return doing.filled.get(ref.slot, ())
    return ()


def things_of(doing: Doing, ref: object) -> tuple[str, ...]:
    """The names of what ``ref`` stands for, if it is a slot or a name of things."""
    if isinstance(ref, OfSlot) and ref.slot in doing.filled:
        return doing.filled[ref.slot]
    return (ref.thing,) if isinstance(ref, OfThing) else ()


def slots(frame: Frame) -> Iterator[Slot]:
    """The slots of a form of a sentence, in order."""
    return (part for part in frame.parts if isinstance(part, Slot))


@dataclass(frozen=True, slots=True)
class _Effects:
    doing: Doing
    protocol: Protocol

    def pictogram(self) -> str | None:
        return (
            self.of_equipment()
            or self.of_hands()
            or self.of_apron()
            or self.of_mouth()
            or next(filter(None, map(self.of_line, self.doing.verb.lines)), None)
        )

    # Equipment and hands.

    def of_equipment(self) -> str | None:
        on: list[str] = []
        off: list[str] = []
        for line in self.doing.verb.lines:
            if isinstance(line, CoversWith | Uncovers) and people_of(self.doing, line.what):
                looks = [look_of(name, self.protocol) for name in things_of(self.doing, line.cover)]
                (on if isinstance(line, CoversWith) else off).extend(filter(None, looks))
        if not on and not off:
            on = [look for name in self.adjusted() if (look := look_of(name, self.protocol))]
        if on:
            return f"{on[0]}-on"
        return f"{off[0]}-off" if off else None

    def adjusted(self) -> list[str]:
        """What whoever acts wears and handles while it is on: a fit that is checked."""
        acting = next((slot.name for slot in slots(self.doing.frame)), "")
        wears = any(
            isinstance(claim, IsCovered) and claim.what == OfSlot(acting)
            for one in self.doing.verb.claims
            for claim in (one.parts if isinstance(one, EverySo) else (one,))
        )
        met = [
            ref for line in self.doing.verb.lines if isinstance(line, Meets) for ref in line.refs
        ]
        others = [ref for ref in met if not people_of(self.doing, ref)]
        names = [name for ref in others for name in things_of(self.doing, ref)]
        worn = [name for name in names if self.protocol.things[name].worn_on is not None]
        return worn if wears and len(worn) == len(others) else []

    def of_hands(self) -> str | None:
        for line in self.doing.verb.lines:
            if isinstance(line, Reduces | Washes) and any(map(self.is_skin, line.refs)):
                if isinstance(line, Washes):
                    return "wash-hands"
                level = self.protocol.levels.get(line.level or "")
                if level is None:
                    return "disinfect"  # gloves that are treated on the hands
                return "wash-hands" if level.acts_on is ActsOn.ALL else "rub-hands"
        return None

    def is_skin(self, ref: Ref) -> bool:
        part = ref.part if isinstance(ref, OfSlot | OfPerson) else None
        return (
            bool(people_of(self.doing, ref)) and counts_of_staff(part, self.protocol) is Counts.SKIN
        )

    # The patient.

    def of_apron(self) -> str | None:
        """Shielding is laid over clothes, and is no cover to the proof."""
        lines = self.doing.verb.lines
        refs = [ref for line in lines if isinstance(line, Meets) for ref in line.refs]
        aprons = [
            name for ref in refs for name in things_of(self.doing, ref) if self.is_apron(name)
        ]
        if not aprons or not any(self.counts(ref) is Counts.CLOTHES for ref in refs):
            return None
        return "apron-on" if any(isinstance(line, Takes) for line in lines) else "apron-off"

    def is_apron(self, name: str) -> bool:
        return name in self.protocol.things and self.protocol.things[name].kind == "apron"

    def of_mouth(self) -> str | None:
        """Staff place something in the mouth of the patient, or take it out."""
        met = [
            [self.counts(ref) for ref in line.refs]
            for line in self.doing.verb.lines
            if isinstance(line, Meets)
        ]
        if not self.by_staff or not any(Counts.MOUTH in one for one in met):
            return None
        words = " ".join(part for part in self.doing.frame.parts if isinstance(part, str))
        if " out of " in f" {words} ":
            return "take-out-of-mouth"
        return "place-in-mouth" if any(Counts.SKIN in one for one in met) else None

    @property
    def by_staff(self) -> bool:
        """Whether a member of staff does it: who fills the first slot of a person."""
        actor = next((slot for slot in slots(self.doing.frame) if slot.kind in _PERSON_KINDS), None)
        names = self.doing.filled.get(actor.name, ()) if actor else ()
        return any(self.protocol.people[name].kind is PersonKind.STAFF for name in names)

    def counts(self, ref: Ref) -> Counts | None:
        """As what a part of the patient or of somebody with the patient counts."""
        if isinstance(ref, OfPatient):
            kinds: tuple[PersonKind, ...] = (PersonKind.PATIENT,)
            part: str | None = ref.part
        elif isinstance(ref, OfSlot | OfPerson) and (names := people_of(self.doing, ref)):
            found = (self.protocol.people[name].kind for name in names)
            kinds = tuple(kind for kind in found if kind is not PersonKind.STAFF)
            part = ref.part
        else:
            return None
        parts = self.protocol.body_parts
        return next((one.counts for one in parts if one.name == part and one.of in kinds), None)

    # Things.

    def of_line(self, line: Line) -> str | None:
        match line:
            case Exposes():
                return "expose"
            case CoversWith(what, cover):
                return self.of_cover(what, cover, "sleeve", "pack", "cover")
            case Uncovers(what, cover):
                return self.of_cover(what, cover, "sleeve-off", None, "uncover")
            case Reduces(through=through) if through is not None:
                return "sterilise"
            case Reduces(product=product) if product is not None:
                return "disinfect"
            case Washes() | Reduces():
                return "clean"
            case Retires(what=OfSlot() | OfThing(), stream=stream) if stream is not None:
                return "throw-away" if self.is_waste(stream) else None
            case LaysOut():
                return "lay-out"
            case SetsFact(fact=fact, value=value):
                return _FACTS.get((fact, value))
            case Moves(to=to) if to is not None:
                name = to if isinstance(to, str) else next(iter(self.doing.filled[to.slot]), "")
                place = self.protocol.places.get(name)
                apart = place is not None and place.barrier and place.in_view
                if not self.by_staff:
                    return None
                return "behind-the-barrier" if apart else "go"
            case _:
                return None

    def is_waste(self, stream: OfSlot | str) -> bool:
        """Not what goes to be treated and comes back."""
        names = (stream,) if isinstance(stream, str) else things_of(self.doing, stream)
        found = (self.protocol.streams.get(name) for name in names)
        return all(one is None or one.to is None for one in found)

    def of_cover(
        self, what: Ref, cover: object, sleeve: str, pouch: str | None, sheet: str
    ) -> str | None:
        things = self.protocol.things
        covers: list[Thing] = [
            things[name] for name in things_of(self.doing, cover) if name in things
        ]
        covered: list[Thing] = [
            things[name] for name in things_of(self.doing, what) if name in things
        ]
        if any(one.kind == "pouch" for one in covers):
            return pouch
        if any(one.kind == "receptor" for one in covered):
            return sleeve
        return sheet
