"""Phases, blocks and steps."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from protocol_lang.language import tree
from protocol_lang.language.layout import Raw
from protocol_lang.language.reading import openers
from protocol_lang.language.reading.claims import only_when, where_of
from protocol_lang.language.reading.desk import Desk, declared, spoiled
from protocol_lang.language.reading.faults import long_label
from protocol_lang.language.reading.lines import Shape, parse
from protocol_lang.language.tree import Words

# --- Lines that stand under several kinds of line ------------------------------------------------


def remark(desk: Desk, raw: Raw, shape: Shape) -> tree.Note | tree.Source | tree.Short | None:
    """note, source or short; None, and reported, when nothing stands between the quotes."""
    desk.no_lines_under(raw)
    text = desk.quoted(shape.get("QUOTED"))
    if text is None:
        return None
    place, remarks = raw.words.place, raw.remarks
    match shape.rule:
        case "note":
            return tree.Note(text=text, place=place, remarks=remarks)
        case "source":
            return tree.Source(text=text, place=place, remarks=remarks)
        case _:
            return tree.Short(text=text, place=place, remarks=remarks)


def remarks_under(desk: Desk, raw: Raw) -> tuple[tree.Note | tree.Source | tree.Spoiled, ...]:
    """The notes and sources under a line that may have nothing else under it."""
    made: list[tree.Note | tree.Source | tree.Spoiled] = []
    for line in raw.lines:
        rule = desk.rule(line, "remark")
        shape = None if rule is None else desk.parse(rule, line.words)
        node = None if shape is None else remark(desk, line, shape)
        made.append(node if isinstance(node, tree.Note | tree.Source) else spoiled(line))
    return tuple(made)


def sets(raw: Raw, shape: Shape) -> tree.Sets:
    """sets FACT or ends FACT."""
    return tree.Sets(
        fact=shape.get("REST"),
        value=shape.rule == "sets",
        place=raw.words.place,
        remarks=raw.remarks,
    )


def lasts(raw: Raw, shape: Shape) -> tree.Lasts:
    """takes 20 to 40 seconds."""
    least, *most = shape.all("AMOUNT")
    return tree.Lasts(
        least=least,
        most=most[0] if most else None,
        minutes=shape.has("MINUTES"),
        place=raw.words.place,
        remarks=raw.remarks,
    )


def once_only(desk: Desk, lines: Iterable[tree.Node], found: str, kind: type[tree.Node]) -> None:
    """Tells every line of that kind but the first."""
    alike = [line for line in lines if isinstance(line, kind)]
    for again in alike[1:]:
        desk.report("said-twice", again.place, {"found": found}, (("first", alike[0].place),))


# --- Items ---------------------------------------------------------------------------------------


def is_item(raw: Raw) -> bool:
    """Whether a line is a step or opens a block, or is meant to be a step."""
    return raw.words.text.startswith("[") or openers.rule_of(raw.words, "item") is not None


def items(desk: Desk, raws: Iterable[Raw]) -> tuple[tree.Item, ...]:
    """The steps and blocks among the lines of a block."""
    made: list[tree.Item] = []
    before: Raw | None = None
    for raw in raws:
        if desk.full:
            break
        rule = desk.rule(raw, "item", before)
        before = raw
        if rule is None:
            made.append(_spoiled_item(desk, raw))
        elif rule in ("where", "otherwise"):
            _branch(desk, raw, rule, made)
        elif rule in ("either", "or_else"):
            _way(desk, raw, rule, made)
        else:
            shape = desk.parse(rule, raw.words)
            made.append(_item(desk, raw, rule, shape))
    return tuple(made)


def items_under(desk: Desk, raws: Iterable[Raw]) -> tuple[tree.Item, ...]:
    """The steps and blocks that stand under a line that was not understood.

    Other lines are passed over: what they should be cannot be known.
    """
    return items(desk, (raw for raw in raws if is_item(raw)))


def _spoiled_item(desk: Desk, raw: Raw) -> tree.Spoiled:
    return replace(spoiled(raw, _label(raw)), items=items_under(desk, raw.lines))


def _label(raw: Raw) -> tuple[Words, ...]:
    """The label of a step that could not be read: no step is then said to be missing."""
    text = raw.words.text
    start = text.find("]") + 1 if text.startswith("[") else 0
    start += len(text[start:]) - len(text[start:].lstrip())
    shape = parse("step", Words("[ ] " + text[start:], raw.words.place)) if text[start:] else None
    label = shape.find("LABEL") if isinstance(shape, Shape) else None
    if label is None:
        return ()
    return (raw.words.part(start, start + len(label.text)),)


def _item(desk: Desk, raw: Raw, rule: str, shape: Shape | None) -> tree.Item:
    if rule == "step":
        return _spoiled_item(desk, raw) if shape is None else _step(desk, raw, shape)
    # Whatever wrongly follows the opening words: they leave no doubt what block it is, except for
    # "any order", of which there are two kinds.
    place, remarks, end = raw.words.place, raw.remarks, raw.end
    if rule == "again":
        items_under(desk, desk.no_lines_under(raw))
        if shape is None:
            return spoiled(raw)
        most = int(shape.get("NUMBER").text)
        return tree.Again(label=shape.get("NAME"), most=most, place=place, remarks=remarks)
    if not raw.lines and shape is not None:
        desk.report("empty-block", place, {"found": raw.words.plain})
    if rule == "side_by_side":
        return tree.SideBySide(
            lanes=tuple(_lane(desk, line) for line in raw.lines),
            place=place,
            remarks=remarks,
            end=end,
        )
    inside = items(desk, raw.lines)
    match rule:
        case "in_order":
            return tree.InOrder(items=inside, place=place, remarks=remarks, end=end)
        case "in_one_go":
            return tree.InOneGo(items=inside, place=place, remarks=remarks, end=end)
        case "may_be_left_out":
            return tree.MayBeLeftOut(items=inside, place=place, remarks=remarks, end=end)
        case "first_time_only" | "last_time_only":
            first = rule == "first_time_only"
            return tree.TimeOnly(first=first, items=inside, place=place, remarks=remarks, end=end)
        case _ if shape is None:
            return replace(spoiled(raw), items=inside)
        case "now_and_then":
            return tree.MayBeLeftOut(
                items=inside, when=raw.words, place=place, remarks=remarks, end=end
            )
        case "for_each":
            least, most = (int(words.text) for words in shape.all("NUMBER"))
            return tree.ForEach(
                name=shape.get("NAME"),
                least=least,
                most=most,
                items=inside,
                place=place,
                remarks=remarks,
                end=end,
            )
        case _:
            return tree.AnyOrder(
                items=inside, mixed=shape.has("MIXED"), place=place, remarks=remarks, end=end
            )


def _lane(desk: Desk, raw: Raw) -> tree.Lane | tree.Spoiled:
    if not raw.spoiled and is_item(raw):
        desk.report("lane-missing", raw.words.place, {"found": raw.words.plain})
        return replace(spoiled(raw, _label(raw)), items=items_under(desk, (raw,)))
    shape = None if raw.spoiled else desk.parse("lane", raw.words)
    if shape is None:
        return replace(spoiled(raw), items=items_under(desk, raw.lines))
    if not raw.lines:
        desk.report("empty-block", raw.words.place, {"found": raw.words.plain})
    return tree.Lane(
        person=shape.get("NAME"),
        items=items(desk, raw.lines),
        place=raw.words.place,
        remarks=raw.remarks,
        end=raw.end,
    )


def _branch(desk: Desk, raw: Raw, rule: str, made: list[tree.Item]) -> None:
    """Adds a branch to the items: a new choice for ``where``, one more for ``otherwise``."""
    before = made[-1] if made else None
    shape = desk.parse(rule, raw.words)
    if rule == "otherwise":
        if isinstance(before, tree.Spoiled):
            made.append(_spoiled_item(desk, raw))
            return
        if not isinstance(before, tree.Where) or before.branches[-1].condition is None:
            desk.report("otherwise-alone", raw.words.place)
            made.append(_spoiled_item(desk, raw))
            return
    condition: tree.Condition | None
    if shape is None:
        condition, rest = spoiled(raw), tuple(line for line in raw.lines if is_item(line))
    elif rule == "otherwise" and not shape.has("WHERE"):
        condition, rest = None, raw.lines
    else:
        condition, rest = where_of(desk, raw, shape, lambda line: not is_item(line))
    if not rest and shape is not None and not isinstance(condition, tree.Spoiled):
        desk.report("empty-block", raw.words.place, {"found": raw.words.plain})
    branch = tree.Branch(
        condition=condition,
        items=items(desk, rest),
        place=raw.words.place,
        remarks=raw.remarks,
        end=raw.end,
    )
    if rule == "otherwise" and isinstance(before, tree.Where):
        made[-1] = replace(before, branches=(*before.branches, branch))
    else:
        made.append(tree.Where(branches=(branch,), place=raw.words.place))


def _way(desk: Desk, raw: Raw, rule: str, made: list[tree.Item]) -> None:
    """Adds a way to the items: a new choice for ``either``, one more for ``or``."""
    before = made[-1] if made else None
    shape = desk.parse(rule, raw.words)
    if rule == "or_else" and not isinstance(before, tree.Either):
        if not isinstance(before, tree.Spoiled):
            desk.report("or-alone", raw.words.place)
        made.append(_spoiled_item(desk, raw))
        return
    if not raw.lines and shape is not None:
        desk.report("empty-block", raw.words.place, {"found": raw.words.plain})
    way = tree.Way(
        items=items(desk, raw.lines),
        place=raw.words.place,
        remarks=raw.remarks,
        end=raw.end,
    )
    if isinstance(before, tree.Either) and rule == "or_else":
        made[-1] = replace(before, ways=(*before.ways, way))
    else:
        made.append(tree.Either(ways=(way,), place=raw.words.place))


# --- Steps ---------------------------------------------------------------------------------------


def _step(desk: Desk, raw: Raw, shape: Shape) -> tree.Step | tree.Spoiled:
    sentence = shape.get("SENTENCE")
    label = shape.find("LABEL")
    does: Words | tree.Say = sentence
    if shape.has("SAY"):
        does = tree.Say(text=sentence, place=shape.get("SAY").place)
    elif label is None and (finding := long_label(sentence)) is not None:
        desk.take(finding)
        return _spoiled_item(desk, raw)
    return tree.Step(
        label=label,
        does=does,
        lines=_step_lines(desk, raw),
        place=raw.words.place,
        remarks=raw.remarks,
        end=raw.end,
    )


def _step_lines(desk: Desk, raw: Raw) -> tuple[tree.StepLine, ...]:
    made: list[tree.StepLine] = []
    too_deep = False
    for line in raw.lines:
        if desk.full:
            break
        if not line.spoiled and is_item(line):
            # A run of steps that stand too deep is one mistake.
            if not too_deep:
                desk.report("step-under-step", line.words.place, {"over": raw.words.plain})
            too_deep = True
            made.append(replace(spoiled(line, _label(line)), items=items_under(desk, (line,))))
            continue
        too_deep = False
        rule = desk.rule(line, "step")
        shape = None if rule is None else desk.parse(rule, line.words)
        node = None if shape is None else _step_line(desk, line, shape)
        made.append(spoiled(line) if node is None else node)
    once_only(desk, made, "short", tree.Short)
    once_only(desk, made, "takes", tree.Lasts)
    return tuple(made)


def _step_line(desk: Desk, raw: Raw, shape: Shape) -> tree.StepLine | None:
    match shape.rule:
        case "only_when":
            return only_when(desk, raw, shape)
        case "sets" | "ends":
            desk.no_lines_under(raw)
            return sets(raw, shape)
        case "after":
            desk.no_lines_under(raw)
            return tree.After(labels=shape.all("NAME"), place=raw.words.place, remarks=raw.remarks)
        case "lasts":
            desk.no_lines_under(raw)
            return lasts(raw, shape)
        case _:
            return remark(desk, raw, shape)


# --- Phases --------------------------------------------------------------------------------------


def phase(desk: Desk, raw: Raw, shape: Shape | None) -> tree.Phase:
    """phase "…": its notes first, then its items."""
    title = None if shape is None else desk.quoted(shape.get("QUOTED"))
    lines: list[tree.Note | tree.Short | tree.Source | tree.RunsOn | tree.Spoiled] = []
    count = 0
    for raw_line in raw.lines:
        rule = openers.rule_of(raw_line.words, "phase")
        if rule not in ("note", "short", "source", "runs_on"):
            break
        count += 1
        line_shape = None if raw_line.spoiled else desk.parse(rule, raw_line.words)
        node = None if line_shape is None else _phase_line(desk, raw_line, line_shape)
        lines.append(spoiled(raw_line) if node is None else node)
    if count == len(raw.lines) and title is not None:
        desk.report("empty-block", raw.words.place, {"found": raw.words.plain})
    return tree.Phase(
        title=title,
        lines=tuple(lines),
        items=items(desk, raw.lines[count:]),
        place=raw.words.place,
        remarks=raw.remarks,
        end=raw.end,
    )


def _phase_line(
    desk: Desk, raw: Raw, shape: Shape
) -> tree.Note | tree.Short | tree.Source | tree.RunsOn | None:
    if shape.rule != "runs_on":
        return remark(desk, raw, shape)
    desk.no_lines_under(raw)
    return tree.RunsOn(place=raw.words.place, remarks=raw.remarks)


# --- What can happen in between ------------------------------------------------------------------


def _short_first(
    desk: Desk, raws: tuple[Raw, ...]
) -> tuple[tuple[tree.Short | tree.Spoiled, ...], tuple[Raw, ...]]:
    """The short text of a mishap, if one comes first, and the lines after it."""
    if not raws or raws[0].spoiled or openers.rule_of(raws[0].words, "phase") != "short":
        return (), raws
    first, *rest = raws
    shape = desk.parse("short", first.words)
    node = None if shape is None else remark(desk, first, shape)
    return (node if isinstance(node, tree.Short) else spoiled(first),), tuple(rest)


def can_happen(desk: Desk, raw: Raw, shape: Shape | None) -> tree.CanHappen | tree.Spoiled:
    """can happen in "PHASE": mishaps, each with what is then done."""
    made: list[tree.Mishap | tree.Spoiled] = []
    for line in raw.lines:
        if desk.full:
            break
        if not line.spoiled and is_item(line):
            desk.report("mishap-missing", line.words.place, {"found": line.words.plain})
            made.append(replace(spoiled(line), items=items_under(desk, (line,))))
            continue
        line_shape = None if line.spoiled else desk.parse("mishap_line", line.words)
        if line_shape is None:
            names = declared(line.words)
            made.append(replace(spoiled(line, names), items=items_under(desk, line.lines)))
            continue
        short, below = _short_first(desk, line.lines)
        if not below:
            desk.report("empty-block", line.words.place, {"found": line.words.plain})
        name, *rest = line_shape.all("NAME")
        between = line_shape.has("BETWEEN_ANY_TWO_STEPS_OF")
        made.append(
            tree.Mishap(
                name=name,
                person=rest[0] if between else None,
                labels=() if between else tuple(rest),
                items=items(desk, below),
                lines=short,
                place=line.words.place,
                remarks=line.remarks,
                end=line.end,
            )
        )
    phases = () if shape is None else tuple(map(desk.quoted, shape.all("QUOTED")))
    named = tuple(phase for phase in phases if phase is not None)
    if len(named) < max(1, len(phases)):
        inside = tuple(item for line in made for item in line.items)
        return replace(spoiled(raw), items=inside)
    return tree.CanHappen(
        phases=named, lines=tuple(made), place=raw.words.place, remarks=raw.remarks, end=raw.end
    )
