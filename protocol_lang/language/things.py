"""Things: the traits on a line, looked up and put into the record of each thing the line names."""

from __future__ import annotations

from dataclasses import replace

from protocol_lang.language import tree
from protocol_lang.language.declared import Declarations
from protocol_lang.language.names import Name, words_of
from protocol_lang.language.spaces import Told, name_text
from protocol_lang.language.tree import Words
from protocol_lang.model.parts import Product, Start, Thing, ThingPart
from protocol_lang.text import Place


def declare_things(
    line: tree.ThingLine, names: tuple[Words, ...], declared: Declarations, told: Told
) -> None:
    """Puts the things of one line into ``declared``; each fault of the line is told once."""
    before = len(told.findings)
    kind = declared.kinds.look(line.kind, told, "unknown-kind")
    model = _Traits(line, kind or "", declared, told).read()
    at_fault = len(told.findings) > before
    at_fault = at_fault or any(isinstance(trait, tree.Spoiled) for trait in line.traits)
    for words in names:
        name = name_text(words)
        if at_fault:
            told.dented.add(name)
        declared.named.put(name, Name(name, kind or "", True, spoiled=kind is None))
        declared.things[name] = replace(model, name=name, place=words.place)


def traits_of(
    traits: tuple[tree.ThingTrait, ...], declared: Declarations, told: Told, place: Place
) -> Thing:
    """A thing without a name of which these traits are told."""
    kind = Words("", place)
    line = tree.ThingLine(names=(), kind=kind, traits=traits, place=place)
    return _Traits(line, "", declared, told).plain()


def materials_of(names: tuple[Words, ...], declared: Declarations, told: Told) -> frozenset[str]:
    """The materials of these names; of those that are unknown it is told."""
    all_of_them = ", ".join(declared.materials.names())
    found = (
        declared.materials.look(words, told, "unknown-material", materials=all_of_them)
        for words in names
    )
    return frozenset(material.name for material in found if material is not None)


def process_name(words: Words) -> str:
    """The name of a process ("steam"), which is declared by its use."""
    return " ".join(words_of(name_text(words)))


class _Traits:
    """Reads the traits of one line into a record without a name of its own."""

    def __init__(self, line: tree.ThingLine, kind: str, declared: Declarations, told: Told) -> None:
        self.line = line
        self.declared = declared
        self.told = told
        self.thing = Thing("", kind, line.place)

    def read(self) -> Thing:
        """The record; ``has`` is read first, since other traits name its parts."""
        self.plain()
        self._check_start()
        self._check_many()
        self._check_label()
        return self.thing

    def plain(self) -> Thing:
        """The record of what is told, whether or not a thing could be so."""
        first = tree.Has | tree.TreatsWith
        ordered = sorted(self.line.traits, key=lambda trait: not isinstance(trait, first))
        for trait in ordered:
            self._take(trait)
        return self.thing

    def _set(self, **values: object) -> None:
        self.thing = replace(self.thing, **values)  # type: ignore[arg-type]

    def _take(self, trait: tree.ThingTrait) -> None:
        match trait:
            case tree.Has():
                self._has(trait)
            case tree.TakesCover():
                takes = [self._cover_taken(taken) for taken in trait.covers]
                self._set(takes=tuple(taken for taken in takes if taken is not None))
            case tree.StartsCovered():
                self._set(starts_covered=self._thing(trait.cover, "cover"))
            case tree.StartsAs():
                self._set(start=Start(trait.how))
            case tree.Trait():
                self._plain(trait)
            case tree.LetsThrough():
                self._set(lets=frozenset(process_name(words) for words in trait.names))
            case tree.WornOn():
                self._worn(trait)
            case tree.StandsIn():
                where = self.declared.places.look(trait.where, self.told, "unknown-place")
                self._set(stands_in=where.name if where is not None else None)
            case tree.From():
                self._set(comes_from=self._thing(trait.box, "box"))
            case tree.LaidOut():
                self._set(
                    comes_from=self._thing(trait.surface, "surface"),
                    stocked_from=self._thing(trait.box, "box"),
                )
            case tree.GoesTo():
                stream = self.declared.streams.look(trait.stream, self.told, "unknown-stream")
                self._set(stream=stream.name if stream is not None else None)
            case tree.TreatsTo():
                level = self.declared.levels.look(trait.level, self.told, "unknown-level")
                self._set(level=level.name if level is not None else None)
            case tree.TreatsWith():
                self._treats_with(trait)
            case tree.MadeOf():
                self._set(made_of=materials_of(trait.materials, self.declared, self.told))
            case tree.StaysWet():
                self._set(wet_minutes=trait.minutes)
            case tree.Spoiled():
                self.told.complete = False

    def _has(self, trait: tree.Has) -> None:
        parts: dict[str, tuple[ThingPart, Place]] = {}
        for part in trait.parts:
            name = name_text(part.name)
            key = " ".join(words_of(name))
            if key in parts:
                first = parts[key][1]
                self.told.tell(
                    "declared-twice",
                    part.name.place,
                    others=[("first", first)],
                    name=name,
                    other=parts[key][0].name,
                    sort="part",
                )
            else:
                parts[key] = (ThingPart(name), part.name.place)
        self._set(parts=tuple(part for part, _ in parts.values()))

    def _plain(self, trait: tree.Trait) -> None:
        match trait.what:
            case "used once":
                self._set(used_once=True)
            case "one of many":
                self._set(one_of_many=True)
            case "thrown away after use":
                self._set(thrown_after_use=True)
            case "leaks":
                self._set(leaks=True)
            case "goes in the mouth":
                self._set(goes_in_mouth=True)
            case "keeps out germs of the air":
                self._set(keeps_air_out=True)
            case "heat safe":
                self._set(heat_safe=True)
            case "not heat safe":
                self._set(heat_safe=False)
            case "always sleeved in the mouth":
                self._set(always_sleeved=True)

    def _thing(self, words: Words, wanted: str) -> str | None:
        """The name of another thing on which this one rests."""
        named = self.declared.named
        found = named.find(name_text(words))
        if found is None:
            things = [name.name for name in named.values() if name.is_thing]
            self.told.unknown("unknown-name", words, things, sort=named.sort, wanted=wanted)
            return None
        if not found.is_thing:
            what = "group" if found.kind == "group" else "person"
            self.told.tell("wrong-kind", words.place, name=found.name, actual=what, wanted=wanted)
            return None
        return found.name

    def _part(self, words: Words) -> str | None:
        key = words_of(name_text(words))
        for part in self.thing.parts:
            if words_of(part.name) == key:
                return part.name
        owner = name_text(self.line.names[0])
        self.told.unknown(
            "unknown-part", words, [part.name for part in self.thing.parts], owner=owner
        )
        return None

    def _cover_taken(self, taken: tree.CoverTaken) -> tuple[str, tuple[str, ...]] | None:
        cover = self._thing(taken.cover, "cover")
        parts = [self._part(words) for words in taken.on]
        if cover is None or None in parts:
            return None
        return cover, tuple(part for part in parts if part is not None)

    def _worn(self, trait: tree.WornOn) -> None:
        name = name_text(trait.part)
        part = self.declared.body_part(name)
        if part is None:
            self.told.unknown(
                "unknown-part", trait.part, self.declared.body_part_names(), owner="a person"
            )
        over = self._thing(trait.over, "cover") if trait.over is not None else None
        self._set(worn_on=part.name if part is not None else None, over=over)

    def _check_many(self) -> None:
        """One of many is kept with the others somewhere, and is used again."""
        thing = self.thing
        if not thing.one_of_many or any(isinstance(t, tree.Spoiled) for t in self.line.traits):
            return
        if thing.used_once or not any(
            isinstance(t, tree.From | tree.LaidOut) for t in self.line.traits
        ):
            trait = next(
                t for t in self.line.traits if isinstance(t, tree.Trait) and t.what == "one of many"
            )
            self.told.tell(
                "one-of-many-alone",
                trait.place,
                thing=name_text(self.line.names[0]),
                once="yes" if thing.used_once else None,
            )

    def _treats_with(self, trait: tree.TreatsWith) -> None:
        """What the thing does not say itself, its product says; read before the rest."""
        product = self.declared.products.look(trait.product, self.told, "unknown-product")
        if product is not None:
            self._set(product=product.name, level=product.level, wet_minutes=product.wet_minutes)

    def _check_label(self) -> None:
        """Nothing is said of a thing that its product cannot do, or not in so short a time."""
        product = self.declared.products.find(self.thing.product or "")
        if product is None:
            return
        levels = {level.name: level.rank for level in self.declared.levels.values()}
        for trait in self.line.traits:
            if isinstance(trait, tree.TreatsTo) and self.thing.level is not None:
                if levels[self.thing.level] > levels[product.level]:
                    self._against_label("above-the-label", trait, product, level=product.level)
            elif (
                isinstance(trait, tree.StaysWet)
                and product.wet_minutes is not None
                and trait.minutes < product.wet_minutes
            ):
                told, least = str(trait.minutes), str(product.wet_minutes)
                self._against_label("short-of-the-label", trait, product, told=told, minutes=least)

    def _against_label(
        self,
        kind: str,
        trait: tree.ThingTrait,
        product: Product,
        level: str | None = None,
        told: str | None = None,
        minutes: str | None = None,
    ) -> None:
        self.told.tell(
            kind,
            trait.place,
            others=[("the product", product.place)],
            thing=name_text(self.line.names[0]),
            product=product.name,
            level=level,
            told=told,
            minutes=minutes,
        )

    def _check_start(self) -> None:
        """What a thing is covered with at the start is one of the covers that it takes."""
        start = self.thing.starts_covered
        takes_lines = [t for t in self.line.traits if isinstance(t, tree.TakesCover)]
        named = sum(len(line.covers) for line in takes_lines)
        if start is None or len(self.thing.takes) != named:
            return
        if start not in {cover for cover, _ in self.thing.takes}:
            trait = next(t for t in self.line.traits if isinstance(t, tree.StartsCovered))
            self.told.tell(
                "cover-not-taken",
                trait.cover.place,
                thing=name_text(self.line.names[0]),
                cover=start,
                takes=", ".join(cover for cover, _ in self.thing.takes) or None,
            )
