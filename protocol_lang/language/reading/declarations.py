"""Sections whose lines declare: choices, people, things, groups, germs, levels, floors."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Literal, TypeVar

from protocol_lang.language import tree
from protocol_lang.language.layout import Raw
from protocol_lang.language.reading import openers
from protocol_lang.language.reading.checklist import items_under, remarks_under
from protocol_lang.language.reading.claims import claim_line, has_colon, plural, wears, where_of
from protocol_lang.language.reading.desk import Desk, declared, spoiled
from protocol_lang.language.reading.lines import Shape
from protocol_lang.language.tree import Words

Made = TypeVar("Made", bound=tree.Node)


def _lines(
    desk: Desk,
    raws: tuple[Raw, ...],
    rule: str,
    make: Callable[[Desk, Raw, Shape], Made],
) -> tuple[Made | tree.Spoiled, ...]:
    """The lines of a section that are all of one kind, with nothing under them."""
    made: list[Made | tree.Spoiled] = []
    for raw in raws:
        if desk.full:
            break
        shape = None if raw.spoiled else desk.parse(rule, raw.words)
        if shape is None:
            made.append(replace(spoiled(raw, declared(raw.words)), items=()))
        else:
            made.append(make(desk, raw, shape))
    return tuple(made)


def _leaf(desk: Desk, raw: Raw) -> None:
    items_under(desk, desk.no_lines_under(raw))


# --- Choices, and how a visit begins and ends ----------------------------------------------------


def _choice_line(desk: Desk, raw: Raw, shape: Shape) -> tree.ChoiceLine:
    _leaf(desk, raw)
    name, *values = shape.all("NAME")
    return tree.ChoiceLine(
        name=name, values=tuple(values), place=raw.words.place, remarks=raw.remarks
    )


def choice_lines(
    desk: Desk, raws: tuple[Raw, ...], rule: str = "choice_line"
) -> tuple[tree.ChoiceLine | tree.Spoiled, ...]:
    """Names, each with the values it may have."""
    return _lines(desk, raws, rule, _choice_line)


def choices(desk: Desk, raw: Raw, shape: Shape | None) -> tree.Choices | tree.Spoiled:
    """choices, each visit; choices, fixed for the clinic."""
    lines = choice_lines(desk, raw.lines)
    if shape is None:
        return _with_names(raw, lines)
    return tree.Choices(
        fixed=shape.has("FIXED_FOR_THE_CLINIC"),
        lines=lines,
        place=raw.words.place,
        remarks=raw.remarks,
        end=raw.end,
    )


def _with_names(raw: Raw, lines: tuple[tree.Node, ...]) -> tree.Spoiled:
    """A section whose heading was not understood, with the names that its lines declare."""
    names: list[Words] = []
    for line in lines:
        names += declared(line.words) if isinstance(line, tree.Spoiled) else _names(line)
    return spoiled(raw, tuple(names))


def _names(line: tree.Node) -> tuple[Words, ...]:
    match line:
        case tree.ChoiceLine(name=name) | tree.PartLine(name=name) | tree.FactLine(name=name):
            return (name,)
        case _:
            return ()


def _begins_line(desk: Desk, raw: Raw, shape: Shape) -> tree.BeginsLine:
    _leaf(desk, raw)
    part = shape.shapes[0]
    made: tree.Covered | tree.Wears | tree.Bare | tree.FoundUsed
    if part.rule == "wears":
        made = wears(part)
    elif part.rule in ("found_bare", "found_used"):
        what, are = part.get("PIECE"), plural(part, "IS", "are")
        if part.rule == "found_bare":
            made = tree.Bare(what=what, plural=are, place=part.place)
        else:
            made = tree.FoundUsed(what=what, plural=are, place=part.place)
    else:
        what, cover = part.all("PIECE")
        made = tree.Covered(
            what=what, cover=cover, plural=plural(part, "IS", "are"), place=part.place
        )
    return tree.BeginsLine(
        claim=made, used=shape.has("USED"), place=raw.words.place, remarks=raw.remarks
    )


def begins_with(desk: Desk, raw: Raw, shape: Shape | None) -> tree.BeginsWith:
    """begins with."""
    return tree.BeginsWith(
        lines=_lines(desk, raw.lines, "begins_line", _begins_line),
        place=raw.words.place,
        remarks=raw.remarks,
        end=raw.end,
    )


def leaves(desk: Desk, raw: Raw, shape: Shape | None) -> tree.Leaves:
    """leaves."""
    lines: list[tree.LeavesLine | tree.Spoiled] = []
    for line in raw.lines:
        made = claim_line(desk, line)
        if isinstance(made, tree.Spoiled):
            lines.append(made)
        else:
            # The comments belong to the line, and the claim is all of it.
            bare = replace(made, remarks=tree.NO_REMARKS)
            lines.append(tree.LeavesLine(claim=bare, place=line.words.place, remarks=line.remarks))
    return tree.Leaves(lines=tuple(lines), place=raw.words.place, remarks=raw.remarks, end=raw.end)


# --- Kinds, parts, facts -------------------------------------------------------------------------


def _names_line(desk: Desk, raw: Raw, shape: Shape) -> tree.NamesLine:
    _leaf(desk, raw)
    return tree.NamesLine(names=shape.all("NAME"), place=raw.words.place, remarks=raw.remarks)


def name_lines(desk: Desk, raws: tuple[Raw, ...]) -> tuple[tree.NamesLine | tree.Spoiled, ...]:
    """Lines of names."""
    return _lines(desk, raws, "names_line", _names_line)


def kinds(desk: Desk, raw: Raw, shape: Shape | None) -> tree.Kinds:
    """kinds of thing."""
    return tree.Kinds(
        lines=name_lines(desk, raw.lines),
        place=raw.words.place,
        remarks=raw.remarks,
        end=raw.end,
    )


_COUNTS: dict[str, Literal["mouth", "skin", "face", "clothes", "near the face"]] = {
    "NEAR_THE_FACE": "near the face",
    "MOUTH": "mouth",
    "SKIN": "skin",
    "FACE": "face",
    "CLOTHES": "clothes",
}


_FULL_OF: dict[str, Literal["saliva", "blood", "body fluid"]] = {
    "FULL_OF_SALIVA": "saliva",
    "FULL_OF_BLOOD": "blood",
    "FULL_OF_BODY_FLUID": "body fluid",
}


def _part_line(desk: Desk, raw: Raw, shape: Shape) -> tree.PartLine:
    _leaf(desk, raw)
    return tree.PartLine(
        name=shape.get("NAME"),
        counts=next(_COUNTS[name] for name, _ in shape.tokens if name in _COUNTS),
        unclean=shape.has("UNCLEAN"),
        full_of=next((soil for token, soil in _FULL_OF.items() if shape.has(token)), None),
        place=raw.words.place,
        remarks=raw.remarks,
    )


_PERSONS: dict[str, Literal["staff", "patient", "companion"]] = {
    "STAFF": "staff",
    "A_PATIENT": "patient",
    "A_COMPANION": "companion",
    "PATIENT": "patient",
    "COMPANION": "companion",
}


def _person_kind(shape: Shape) -> Literal["staff", "patient", "companion"]:
    return next(_PERSONS[name] for name, _ in shape.tokens if name in _PERSONS)


def parts(desk: Desk, raw: Raw, shape: Shape | None) -> tree.Parts | tree.Spoiled:
    """parts of staff, of a patient, of a companion."""
    lines = _lines(desk, raw.lines, "part_line", _part_line)
    if shape is None:
        return _with_names(raw, lines)
    return tree.Parts(
        of=_person_kind(shape),
        lines=lines,
        place=raw.words.place,
        remarks=raw.remarks,
        end=raw.end,
    )


def _fact_line(desk: Desk, raw: Raw, shape: Shape) -> tree.FactLine:
    _leaf(desk, raw)
    return tree.FactLine(
        name=shape.get("NAME"),
        lasting=shape.has("LASTING"),
        place=raw.words.place,
        remarks=raw.remarks,
    )


def facts(desk: Desk, raw: Raw, shape: Shape | None) -> tree.Facts | tree.Spoiled:
    """facts, facts of a person, facts of a thing."""
    lines = _lines(desk, raw.lines, "fact_line", _fact_line)
    if shape is None:
        return _with_names(raw, lines)
    of: Literal["visit", "person", "thing", "place"] = "visit"
    if shape.has("OF_A_PERSON"):
        of = "person"
    elif shape.has("OF_A_THING"):
        of = "thing"
    elif shape.has("OF_A_PLACE"):
        of = "place"
    return tree.Facts(of=of, lines=lines, place=raw.words.place, remarks=raw.remarks, end=raw.end)


# --- Germs, levels, floors -----------------------------------------------------------------------


def germs(desk: Desk, raw: Raw, shape: Shape | None) -> tree.Germs:
    """germs, hardest first."""
    return tree.Germs(
        lines=_lines(desk, raw.lines, "names_line", _names_line),
        place=raw.words.place,
        remarks=raw.remarks,
        end=raw.end,
    )


_ACTS_ON: dict[str, tree.ActsOn] = {
    "RINSED_SOIL": "rinsed soil",
    "TRACES": "traces",
    "ALL_SOIL": "all soil",
    "CHEMICALS": "chemicals",
}


def _level_line(desk: Desk, raw: Raw, shape: Shape) -> tree.LevelLine:
    name, *ends = shape.all("NAME")
    return tree.LevelLine(
        name=name,
        acts_on=next(_ACTS_ON[word] for word, _ in shape.tokens if word in _ACTS_ON),
        ends=None if shape.has("EVERY_CLASS") else tuple(ends),
        lines=remarks_under(desk, raw),
        place=raw.words.place,
        remarks=raw.remarks,
        end=raw.end,
    )


def levels(desk: Desk, raw: Raw, shape: Shape | None) -> tree.Levels:
    """levels, weakest first."""
    return tree.Levels(
        lines=_lines(desk, raw.lines, "level_line", _level_line),
        place=raw.words.place,
        remarks=raw.remarks,
        end=raw.end,
    )


def materials(desk: Desk, raw: Raw, shape: Shape | None) -> tree.Materials:
    """materials."""
    return tree.Materials(
        lines=_lines(desk, raw.lines, "names_line", _names_line),
        place=raw.words.place,
        remarks=raw.remarks,
        end=raw.end,
    )


def _product_line(desk: Desk, raw: Raw, shape: Shape) -> tree.ProductLine:
    traits: list[tree.TreatsTo | tree.StaysWet | tree.NotOn] = []
    said_before: dict[type, tree.Node] = {}
    for part in shape.shapes:
        one: tree.TreatsTo | tree.StaysWet | tree.NotOn
        if part.rule == "treats_to":
            one = tree.TreatsTo(level=part.get("NAME"), place=part.place)
        elif part.rule == "stays_wet":
            one = tree.StaysWet(minutes=int(part.get("NUMBER").text), place=part.place)
        else:
            one = tree.NotOn(materials=part.all("NAME"), place=part.place)
        if type(one) in said_before:
            first = (("first", said_before[type(one)].place),)
            desk.report("said-twice", one.place, {"found": part.words.plain}, first)
        said_before.setdefault(type(one), one)
        traits.append(one)
    return tree.ProductLine(
        name=shape.get("NAME"),
        traits=tuple(traits),
        lines=remarks_under(desk, raw),
        place=raw.words.place,
        remarks=raw.remarks,
        end=raw.end,
    )


def products(desk: Desk, raw: Raw, shape: Shape | None) -> tree.Products:
    """products."""
    return tree.Products(
        lines=_lines(desk, raw.lines, "product_line", _product_line),
        place=raw.words.place,
        remarks=raw.remarks,
        end=raw.end,
    )


def _floor_line(desk: Desk, raw: Raw, shape: Shape) -> tree.FloorLine:
    traits = shape.part("traits")
    assert traits is not None
    return tree.FloorLine(
        traits=traits.all("NAME"),
        level=shape.get("NAME"),
        lines=remarks_under(desk, raw),
        place=raw.words.place,
        remarks=raw.remarks,
        end=raw.end,
    )


def floors(desk: Desk, raw: Raw, shape: Shape | None) -> tree.Floors:
    """floors; floors where COND."""
    condition: tree.Condition | None = None
    rest = raw.lines
    if shape is None:
        condition = spoiled(raw)
        rest = tuple(line for line in raw.lines if has_colon(line.words))
    elif shape.has("WHERE"):
        condition, rest = where_of(desk, raw, shape, lambda line: not has_colon(line.words))
    return tree.Floors(
        condition=condition,
        lines=_lines(desk, rest, "floor_line", _floor_line),
        place=raw.words.place,
        remarks=raw.remarks,
        end=raw.end,
    )


# --- People, streams, groups ---------------------------------------------------------------------


def _part_names(shape: Shape) -> tuple[Words, ...]:
    names = shape.part("names")
    assert names is not None
    return names.all("NAME")


def _person_line(desk: Desk, raw: Raw, shape: Shape) -> tree.PersonLine:
    _leaf(desk, raw)
    starts = shape.part("starts_in")
    return tree.PersonLine(
        names=_part_names(shape),
        kind=_person_kind(shape),
        starts_in=None if starts is None else starts.get("NAME"),
        stays=shape.has("STAYS_AT_AN_EXPOSURE"),
        place=raw.words.place,
        remarks=raw.remarks,
    )


def people(desk: Desk, raw: Raw, shape: Shape | None) -> tree.People:
    """people."""
    return tree.People(
        lines=_lines(desk, raw.lines, "person_line", _person_line),
        place=raw.words.place,
        remarks=raw.remarks,
        end=raw.end,
    )


_UNITS: dict[str, tree.Unit] = {
    "distance": "m from the patient",
    "angle": "degrees from the beam",
    "air_changes": "air changes an hour",
    "cleared": "percent",
    "mixing": "mixing factor",
}

_STANDINGS: dict[str, Literal["barrier", "patient in view", "dirty side"]] = {
    "DIRTY_SIDE": "dirty side",
    "BARRIER": "barrier",
    "PATIENT_IN_VIEW": "patient in view",
}


def _place_line(desk: Desk, raw: Raw, shape: Shape) -> tree.PlaceLine:
    _leaf(desk, raw)
    traits: list[tree.Amount | tree.Standing] = []
    said_before: dict[str, tree.Amount | tree.Standing] = {}
    for part in shape.shapes:
        if part.rule == "names":
            continue
        trait: tree.Amount | tree.Standing
        if part.rule in _UNITS:
            unit = _UNITS[part.rule]
            trait = tree.Amount(amount=part.get("AMOUNT"), unit=unit, place=part.place)
        else:
            trait = tree.Standing(what=_STANDINGS[part.tokens[0][0]], place=part.place)
        key = trait.unit if isinstance(trait, tree.Amount) else trait.what
        if key in said_before:
            first = (("first", said_before[key].place),)
            desk.report("said-twice", trait.place, {"found": part.words.plain}, first)
        said_before.setdefault(key, trait)
        traits.append(trait)
    return tree.PlaceLine(
        names=_part_names(shape),
        traits=tuple(traits),
        place=raw.words.place,
        remarks=raw.remarks,
    )


def places(desk: Desk, raw: Raw, shape: Shape | None) -> tree.Places:
    """places."""
    return tree.Places(
        lines=_lines(desk, raw.lines, "place_line", _place_line),
        place=raw.words.place,
        remarks=raw.remarks,
        end=raw.end,
    )


def _air_line(desk: Desk, raw: Raw, shape: Shape) -> tree.Carries | tree.Amount:
    part = shape.shapes[0]
    place, remarks = raw.words.place, raw.remarks
    if part.rule in _UNITS:
        _leaf(desk, raw)
        unit = _UNITS[part.rule]
        return tree.Amount(amount=part.get("AMOUNT"), unit=unit, place=place, remarks=remarks)
    condition: tree.Condition | None = None
    rest = raw.lines
    if part.has("WHERE"):
        condition, rest = where_of(desk, raw, part, lambda line: True)
    items_under(desk, desk.no_lines_under(replace(raw, lines=rest)))
    return tree.Carries(condition=condition, place=place, remarks=remarks)


def air(desk: Desk, raw: Raw, shape: Shape | None) -> tree.Air:
    """air."""
    return tree.Air(
        lines=_lines(desk, raw.lines, "air_line", _air_line),
        place=raw.words.place,
        remarks=raw.remarks,
        end=raw.end,
    )


def _stream_line(desk: Desk, raw: Raw, shape: Shape) -> tree.StreamLine:
    _leaf(desk, raw)
    return tree.StreamLine(
        name=shape.get("NAME"),
        note=shape.find("REST"),
        place=raw.words.place,
        remarks=raw.remarks,
    )


def streams(desk: Desk, raw: Raw, shape: Shape | None) -> tree.Streams:
    """waste streams."""
    return tree.Streams(
        lines=_lines(desk, raw.lines, "stream_line", _stream_line),
        place=raw.words.place,
        remarks=raw.remarks,
        end=raw.end,
    )


def _group_line(desk: Desk, raw: Raw, shape: Shape) -> tree.GroupLine:
    _leaf(desk, raw)
    name, *members = shape.all("NAME")
    return tree.GroupLine(
        name=name, members=tuple(members), place=raw.words.place, remarks=raw.remarks
    )


def groups(desk: Desk, raw: Raw, shape: Shape | None) -> tree.Groups:
    """groups."""
    return tree.Groups(
        lines=_lines(desk, raw.lines, "group_line", _group_line),
        place=raw.words.place,
        remarks=raw.remarks,
        end=raw.end,
    )


def _figure_line(desk: Desk, raw: Raw, shape: Shape) -> tree.FigureLine:
    _leaf(desk, raw)
    name, *unit = shape.all("NAME")
    return tree.FigureLine(
        name=name,
        amount=shape.get("AMOUNT"),
        unit=unit[0] if unit else None,
        place=raw.words.place,
        remarks=raw.remarks,
    )


def figures(desk: Desk, raw: Raw, shape: Shape | None) -> tree.Figures:
    """figures."""
    return tree.Figures(
        lines=_lines(desk, raw.lines, "figure_line", _figure_line),
        place=raw.words.place,
        remarks=raw.remarks,
        end=raw.end,
    )


def _note_line(desk: Desk, raw: Raw, shape: Shape) -> tree.Note | tree.Spoiled:
    text = desk.quoted(shape.get("QUOTED"))
    if text is None:
        return spoiled(raw)
    return tree.Note(text=text, place=raw.words.place, remarks=raw.remarks)


def _exposure_line(
    desk: Desk, raw: Raw, shape: Shape
) -> tree.ExposureLine | tree.Note | tree.Spoiled:
    _leaf(desk, raw)
    if shape.has("NOTE"):
        return _note_line(desk, raw, shape)
    values = tuple(
        tree.SetTo(amount=part.get("AMOUNT"), unit=part.get("NAME"), place=part.place)
        for part in shape.shapes
        if part.rule == "set_to"
    )
    of = shape.part("names")
    assert of is not None, "an exposure line without what it is for"
    return tree.ExposureLine(
        of=of.all("NAME"),
        values=values,
        place=raw.words.place,
        remarks=raw.remarks,
    )


def exposure_settings(desk: Desk, raw: Raw, shape: Shape | None) -> tree.ExposureSettings:
    """exposure settings."""
    return tree.ExposureSettings(
        lines=_lines(desk, raw.lines, "exposure_line", _exposure_line),
        place=raw.words.place,
        remarks=raw.remarks,
        end=raw.end,
    )


def _call_line(desk: Desk, raw: Raw, shape: Shape) -> tree.CallLine | tree.Note | tree.Spoiled:
    _leaf(desk, raw)
    if shape.has("NOTE"):
        return _note_line(desk, raw, shape)
    return tree.CallLine(
        name=shape.get("NAME"),
        how=shape.get("REST"),
        place=raw.words.place,
        remarks=raw.remarks,
    )


def whom_to_call(desk: Desk, raw: Raw, shape: Shape | None) -> tree.WhomToCall:
    """whom to call."""
    return tree.WhomToCall(
        lines=_lines(desk, raw.lines, "call_line", _call_line),
        place=raw.words.place,
        remarks=raw.remarks,
        end=raw.end,
    )


# --- Things --------------------------------------------------------------------------------------

_HEADINGS: dict[str, Literal["surfaces", "boxes", "things"]] = {
    "SURFACES": "surfaces",
    "BOXES": "boxes",
    "THINGS": "things",
}


def things(desk: Desk, raw: Raw, shape: Shape | None) -> tree.Things:
    """surfaces, boxes or things."""
    heading = next(word for word in _HEADINGS.values() if raw.words.text.startswith(word))
    return tree.Things(
        heading=heading,
        lines=_lines(desk, raw.lines, "thing_line", _thing_line),
        place=raw.words.place,
        remarks=raw.remarks,
        end=raw.end,
    )


def _thing_line(desk: Desk, raw: Raw, shape: Shape) -> tree.ThingLine:
    _leaf(desk, raw)
    traits: list[tree.ThingTrait] = []
    said_before: dict[object, tree.ThingTrait] = {}
    for words in shape.all("TRAIT"):
        one = trait(desk, words)
        key = _what_it_tells(one)
        if key is not None and key in said_before:
            first = said_before[key].place
            desk.report("said-twice", one.place, {"found": words.plain}, (("first", first),))
        said_before.setdefault(key, one)
        traits.append(one)
    return tree.ThingLine(
        names=_part_names(shape),
        kind=shape.get("NAME"),
        traits=tuple(traits),
        place=raw.words.place,
        remarks=raw.remarks,
    )


def _what_it_tells(trait: tree.ThingTrait) -> object:
    """Two traits of one thing may not tell the same; None for a spoiled one."""
    match trait:
        case tree.Spoiled():
            return None
        case tree.Trait(what=what):
            return "heat" if "heat" in what else what
        case tree.From() | tree.LaidOut():
            return "from"
        case _:
            return type(trait)


_FLAGS: dict[str, tree.Flag] = {
    "USED_ONCE": "used once",
    "ONE_OF_MANY": "one of many",
    "THROWN_AWAY": "thrown away after use",
    "LEAKS": "leaks",
    "GOES_IN_THE_MOUTH": "goes in the mouth",
    "KEEPS_AIR_OUT": "keeps out germs of the air",
    "HEAT_SAFE": "heat safe",
    "NOT_HEAT_SAFE": "not heat safe",
    "ALWAYS_SLEEVED": "always sleeved in the mouth",
}

_STARTS: dict[str, tree.Starts] = {
    "KEPT_CLEAN": "kept clean",
    "EVERYDAY": "everyday",
    "DIRTY": "dirty",
    "CHEMICAL": "chemical",
}


def trait(desk: Desk, words: Words) -> tree.ThingTrait:
    """One trait of a thing, as it stands between semicolons."""
    rule = openers.rule_of(words, "trait")
    if rule is None:
        desk.report_opening(words, "trait")
    shape = None if rule is None else desk.parse(rule, words)
    place = words.place
    if shape is None:
        return tree.Spoiled(words=words, place=place)
    names = shape.all("NAME")
    match rule:
        case "has":
            return tree.Has(parts=tuple(map(_has_part, shape.shapes)), place=place)
        case "takes_cover":
            return tree.TakesCover(covers=tuple(map(_cover_taken, shape.shapes)), place=place)
        case "starts_covered":
            return tree.StartsCovered(cover=names[0], place=place)
        case "starts_as":
            return tree.StartsAs(how=_STARTS[shape.tokens[0][0]], place=place)
        case "trait":
            return tree.Trait(what=_FLAGS[shape.tokens[0][0]], place=place)
        case "lets_through":
            return tree.LetsThrough(names=shape.all("UNTIL_THROUGH"), place=place)
        case "worn_on":
            part, *over = shape.all("UNTIL_OVER")
            return tree.WornOn(part=part, over=over[0] if over else None, place=place)
        case "stands_in":
            return tree.StandsIn(where=names[0], place=place)
        case "from_box":
            return tree.From(box=names[0], place=place)
        case "laid_out":
            return tree.LaidOut(surface=names[0], box=names[1], place=place)
        case "goes_to":
            return tree.GoesTo(stream=names[0], place=place)
        case "treats_to":
            return tree.TreatsTo(level=names[0], place=place)
        case "treats_with":
            return tree.TreatsWith(product=names[0], place=place)
        case "made_of":
            return tree.MadeOf(materials=names, place=place)
        case _:
            return tree.StaysWet(minutes=int(shape.get("NUMBER").text), place=place)


def _has_part(shape: Shape) -> tree.HasPart:
    return tree.HasPart(name=shape.get("NAME"), place=shape.place)


def _cover_taken(shape: Shape) -> tree.CoverTaken:
    cover, *on = shape.all("UNTIL_ON")
    return tree.CoverTaken(cover=cover, on=tuple(on), place=shape.place)
