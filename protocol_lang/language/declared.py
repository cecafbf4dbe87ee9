"""What the files of a protocol declare, by sort of name."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, fields
from typing import Any

from protocol_lang.language.names import Name, words_of
from protocol_lang.language.spaces import Missed, Space, Told
from protocol_lang.model.parts import (
    BodyPart,
    Duty,
    Fact,
    GermClass,
    Group,
    LevelOfTreatment,
    Material,
    Person,
    PersonKind,
    Product,
    RoomPlace,
    Stream,
    Thing,
)
from protocol_lang.model.protocol import Call, Choice, ExposureSetting, Figure

#: The sort under which it is noted that all things of a kind were asked for.
_OF_KIND = "things of the kind"


@dataclass(slots=True)
class Declarations:
    """The names of a protocol by sort, and what they stand for.

    ``named`` holds people, things and groups together, for a sentence tells them apart by nothing
    but the name.
    """

    kinds: Space[str] = field(default_factory=lambda: Space("kind of thing"))
    parts: Mapping[PersonKind, Space[BodyPart]] = field(
        default_factory=lambda: {kind: Space("part") for kind in PersonKind}
    )
    facts: Space[Fact] = field(default_factory=lambda: Space("fact"))
    germs: Space[GermClass] = field(default_factory=lambda: Space("class of germs"))
    levels: Space[LevelOfTreatment] = field(default_factory=lambda: Space("level"))
    materials: Space[Material] = field(default_factory=lambda: Space("material"))
    products: Space[Product] = field(default_factory=lambda: Space("product"))
    streams: Space[Stream] = field(default_factory=lambda: Space("waste stream"))
    places: Space[RoomPlace] = field(default_factory=lambda: Space("place"))
    choices: Space[Choice] = field(default_factory=lambda: Space("choice"))
    mishaps: Space[str] = field(default_factory=lambda: Space("mishap"))
    figures: Space[Figure] = field(default_factory=lambda: Space("figure"))
    exposures: Space[ExposureSetting] = field(default_factory=lambda: Space("exposure setting"))
    calls: Space[Call] = field(default_factory=lambda: Space("call"))
    notes_of_exposures: list[str] = field(default_factory=list)
    notes_of_calls: list[str] = field(default_factory=list)
    named: Space[Name] = field(default_factory=lambda: Space("name"))
    people: dict[str, Person] = field(default_factory=dict)
    things: dict[str, Thing] = field(default_factory=dict)
    groups: dict[str, Group] = field(default_factory=dict)
    duties: list[Duty] = field(default_factory=list)
    #: Where it is noted what was asked for and may be more once more is declared.
    missed: set[Missed] | None = None

    # --- Sharing ---------------------------------------------------------------------------------

    def copy(self) -> Declarations:
        """Another one with the same names, in which more can be declared."""
        made = Declarations()
        for each in fields(self):
            value = getattr(self, each.name)
            if each.name == "parts":
                made.parts = {kind: space.copy() for kind, space in self.parts.items()}
            elif each.name != "missed":
                setattr(made, each.name, value.copy())
        return made

    def watch(self, missed: set[Missed] | None) -> None:
        """From here on note in ``missed`` what is looked up in vain; None: no more."""
        self.missed = missed
        for space in self._spaces():
            space.missed = missed

    def beyond(self, other: Declarations) -> set[Missed]:
        """What looking up in ``other`` noted as missed, if it is asked for what is new here."""
        found = {
            missed
            for ours, theirs in zip(self._spaces(), other._spaces(), strict=True)
            for missed in ours.beyond(theirs)
        }
        new = (thing for name, thing in self.things.items() if name not in other.things)
        return found | {(_OF_KIND, (thing.kind,)) for thing in new}

    def _spaces(self) -> Iterator[Space[Any]]:
        for each in fields(self):
            value = getattr(self, each.name)
            if isinstance(value, Space):
                yield value
        yield from self.parts.values()

    # --- Looking up ------------------------------------------------------------------------------

    def things_of(self, kind: str) -> tuple[str, ...]:
        """The names of all things of a kind."""
        if self.missed is not None:
            self.missed.add((_OF_KIND, (kind,)))
        return tuple(thing.name for thing in self.things.values() if thing.kind == kind)

    def sentence_names(self, told: Told) -> list[Name]:
        """Everything that a sentence can name, spoiled names among them."""
        names = [*self.named.values()]
        names += [Name(name, "stream") for name in self.streams.names()]
        names += [Name(name, "place") for name in self.places.names()]
        names += [
            Name(f"{thing.name}'s {part.name}", thing.kind, True)
            for thing in self.things.values()
            if not thing.used_once
            for part in thing.parts
        ]
        known = {words_of(name.name) for name in names}
        for key in sorted(told.spoiled):
            if key and key not in known:
                names.append(Name(" ".join(key), "", spoiled=True))
        return names

    def body_part(self, name: str, kinds: Iterable[PersonKind] = PersonKind) -> BodyPart | None:
        """The part of that name of the first of these kinds of people that has one."""
        for kind in kinds:
            found = self.parts[kind].find(name)
            if found is not None:
                return found
        return None

    def body_part_names(self, kinds: Iterable[PersonKind] = PersonKind) -> list[str]:
        """The names of all parts that these kinds of people have."""
        return [name for kind in kinds for name in self.parts[kind].names()]
