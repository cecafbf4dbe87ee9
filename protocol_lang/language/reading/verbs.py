"""Verbs and duties."""

from __future__ import annotations

from protocol_lang.language import tree
from protocol_lang.language.layout import Raw
from protocol_lang.language.reading.checklist import lasts, once_only, remark, sets
from protocol_lang.language.reading.claims import only_when, plural
from protocol_lang.language.reading.desk import Desk, declared, spoiled
from protocol_lang.language.reading.lines import Shape


def verb(desk: Desk, raw: Raw, shape: Shape | None) -> tree.Verb | tree.Spoiled:
    """verb FORM, with what it does."""
    lines: list[tree.VerbLine] = []
    for line in raw.lines:
        if desk.full:
            break
        rule = desk.rule(line, "verb")
        line_shape = None if rule is None else desk.parse(rule, line.words)
        node = None if line_shape is None else _line(desk, line, line_shape)
        lines.append(spoiled(line) if node is None else node)
    once_only(desk, lines, "takes", tree.Lasts)
    if shape is None:
        return spoiled(raw)
    return tree.Verb(
        form=shape.get("REST"),
        lines=tuple(lines),
        place=raw.words.place,
        remarks=raw.remarks,
        end=raw.end,
    )


def found_out(desk: Desk, raw: Raw, shape: Shape | None) -> tree.FoundOut:
    """found out on the way: what may turn out, with what is then soiled and what is so."""
    made: list[tree.FoundOutLine | tree.Spoiled] = []
    for line in raw.lines:
        if desk.full:
            break
        line_shape = None if line.spoiled else desk.parse("found_out_line", line.words)
        if line_shape is None:
            made.append(spoiled(line, declared(line.words)))
            continue
        name, label = line_shape.all("NAME")
        made.append(
            tree.FoundOutLine(
                name=name,
                label=label,
                lines=tuple(_soils(desk, under) for under in line.lines),
                place=line.words.place,
                remarks=line.remarks,
                end=line.end,
            )
        )
    return tree.FoundOut(lines=tuple(made), place=raw.words.place, remarks=raw.remarks, end=raw.end)


def _soils(desk: Desk, raw: Raw) -> tree.VerbLine:
    """A line of what comes with it: meet, brush or pass; sets or ends."""
    rule = desk.rule(raw, "soiling")
    shape = None if rule is None else desk.parse(rule, raw.words)
    if shape is None:
        return spoiled(raw)
    desk.no_lines_under(raw)
    return sets(raw, shape) if rule in ("sets", "ends") else _effect(raw, shape)


def _line(desk: Desk, raw: Raw, shape: Shape) -> tree.VerbLine | None:
    if shape.rule == "only_when":
        return only_when(desk, raw, shape)
    if shape.rule in ("note", "source"):
        node = remark(desk, raw, shape)
        return node if isinstance(node, tree.Note | tree.Source) else None
    desk.no_lines_under(raw)
    if shape.rule in ("sets", "ends"):
        return sets(raw, shape)
    return lasts(raw, shape) if shape.rule == "lasts" else _effect(raw, shape)


def _effect(raw: Raw, shape: Shape) -> tree.VerbLine:
    place, remarks = raw.words.place, raw.remarks
    match shape.rule:
        case "also":
            return tree.Also(form=shape.get("REST"), place=place, remarks=remarks)
        case "allowed_while":
            return tree.AllowedWhile(fact=shape.get("REST"), place=place, remarks=remarks)
        case "take":
            what, hands = shape.all("UNTIL_WITH")
            return tree.Take(what=what, hands=hands, place=place, remarks=remarks)
        case "lay_out":
            what, hands = shape.all("UNTIL_WITH")
            return tree.LayOut(what=what, hands=hands, place=place, remarks=remarks)
        case "meet":
            return tree.Meet(
                what=shape.all("NAME"),
                trace=shape.has("BRUSH"),
                may=shape.has("MAY_MEET"),
                place=place,
                remarks=remarks,
            )
        case "pass":
            sources, goals = shape.shapes
            return tree.Pass(
                sources=sources.all("UNTIL_TO"),
                goals=goals.all("UNTIL_TO"),
                trace=shape.has("A_TRACE_OF"),
                place=place,
                remarks=remarks,
            )
        case "cover":
            what, cover = shape.all("UNTIL_WITH")
            return tree.Cover(what=what, cover=cover, place=place, remarks=remarks)
        case "uncover":
            what, cover = shape.all("UNTIL_FROM")
            return tree.Uncover(what=what, cover=cover, place=place, remarks=remarks)
        case "tear":
            cover, what = shape.all("UNTIL_ON")
            return tree.Tear(cover=cover, what=what, place=place, remarks=remarks)
        case "wash":
            return tree.Wash(what=shape.all("NAME"), place=place, remarks=remarks)
        case "reduce":
            return _reduce(raw, shape)
        case "retire":
            what, *into = shape.all("UNTIL_INTO")
            return tree.Retire(
                what=what, stream=into[0] if into else None, place=place, remarks=remarks
            )
        case "moves":
            to = shape.find("NAME")
            return tree.Moves(who=shape.get("UNTIL_PLACE"), to=to, place=place, remarks=remarks)
        case "exposure":
            return tree.Exposure(who=shape.get("REST"), place=place, remarks=remarks)
        case _:
            return tree.NoContact(place=place, remarks=remarks)


def _reduce(raw: Raw, shape: Shape) -> tree.Reduce:
    by = shape.has("BY")
    to, *through = shape.all("UNTIL_BY")
    reduced = shape.shapes[0]
    return tree.Reduce(
        what=reduced.all("UNTIL_BY"),
        level=None if by else to,
        product=to if by else None,
        through=through[0] if through else None,
        place=raw.words.place,
        remarks=raw.remarks,
    )


def duty(desk: Desk, raw: Raw, shape: Shape | None) -> tree.Duty:
    """duty "…": what a person may not do while a fact holds of that person."""
    lines: list[tree.While | tree.Note | tree.Source | tree.Spoiled] = []
    for line in raw.lines:
        rule = desk.rule(line, "duty")
        line_shape = None if rule is None else desk.parse(rule, line.words)
        node = None if line_shape is None else _duty_line(desk, line, line_shape)
        lines.append(spoiled(line) if node is None else node)
    whiles = [line for line in lines if isinstance(line, tree.While)]
    for again in whiles[1:]:
        desk.report("said-twice", again.place, {"found": "while"}, (("first", whiles[0].place),))
    if raw.lines and not whiles and not any(isinstance(line, tree.Spoiled) for line in lines):
        desk.report("duty-without-while", raw.words.place)
    return tree.Duty(
        title=None if shape is None else desk.quoted(shape.get("QUOTED")),
        lines=tuple(lines),
        place=raw.words.place,
        remarks=raw.remarks,
        end=raw.end,
    )


def _duty_line(desk: Desk, raw: Raw, shape: Shape) -> tree.While | tree.Note | tree.Source | None:
    if shape.rule == "while":
        desk.no_lines_under(raw)
        fact, part = shape.all("UNTIL_TOUCH")
        return tree.While(
            fact=fact,
            part=part,
            plural=plural(shape, "TOUCH_NOTHING", "touch"),
            place=raw.words.place,
            remarks=raw.remarks,
        )
    node = remark(desk, raw, shape)
    return node if isinstance(node, tree.Note | tree.Source) else None
