"""What a local edition changes: steps by their labels or sentences, declarations by their names."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace

from protocol_lang.language import tree
from protocol_lang.language.layout import Raw
from protocol_lang.language.reading import openers
from protocol_lang.language.reading.checklist import items, items_under, lasts, once_only, remark
from protocol_lang.language.reading.declarations import name_lines
from protocol_lang.language.reading.desk import Desk, spoiled
from protocol_lang.language.reading.lines import Shape
from protocol_lang.language.tree import Words

#: How a section is read, whatever its heading.
ReadSection = Callable[[Desk, Raw], tree.Section]

#: What a local edition may take out of its base by name, by the words after "without".
LEFT_OUT = (
    "surfaces",
    "boxes",
    "things",
    "people",
    "places",
    "waste streams",
    "groups",
    "choices",
    "found out on the way",
    "can happen",
    "facts",
    "figures",
    "exposure settings",
    "whom to call",
    "products",
)

#: What it may say anew, by the kind of section that is read after "instead of".
SAID_ANEW = (
    tree.Things,
    tree.People,
    tree.Places,
    tree.Streams,
    tree.Groups,
    tree.Choices,
    tree.FoundOut,
    tree.CanHappen,
    tree.Facts,
    tree.Figures,
    tree.ExposureSettings,
    tree.WhomToCall,
    tree.Products,
    tree.BeginsWith,
    tree.Leaves,
    tree.Air,
    tree.Verb,
    tree.Phase,
)


def adapts(desk: Desk, raw: Raw, shape: Shape) -> tree.Adapts | None:
    """adapts "TITLE" edition 3 fingerprint abc."""
    title = desk.quoted(shape.get("QUOTED"))
    if title is None:
        return None
    return tree.Adapts(
        title=title,
        edition=int(shape.get("NUMBER").text),
        fingerprint=shape.find("NAME"),
        place=raw.words.place,
        remarks=raw.remarks,
    )


def to_settle(desk: Desk, raw: Raw, shape: Shape) -> tree.ToSettle | None:
    """to settle "TEXT"."""
    desk.no_lines_under(raw)
    text = desk.quoted(shape.get("QUOTED"))
    if text is None:
        return None
    return tree.ToSettle(text=text, place=raw.words.place, remarks=raw.remarks)


# --- Steps ---------------------------------------------------------------------------------------


def changes_in(desk: Desk, raw: Raw, shape: Shape | None) -> tree.ChangesIn:
    """changes in "PHASE", with the changes under it."""
    made: list[tree.Change | tree.ToSettle | tree.Spoiled] = []
    for line in raw.lines:
        if desk.full:
            break
        rule = desk.rule(line, "change")
        line_shape = None if rule is None else desk.parse(rule, line.words)
        node = None if line_shape is None else _change(desk, line, line_shape)
        if node is None:
            made.append(replace(spoiled(line), items=items_under(desk, line.lines)))
        else:
            made.append(node)
    return tree.ChangesIn(
        phase=None if shape is None else desk.quoted(shape.get("QUOTED")),
        lines=tuple(made),
        place=raw.words.place,
        remarks=raw.remarks,
        end=raw.end,
    )


_HOW: dict[str, tree.How] = {
    rule: phrase  # type: ignore[misc]
    for phrase, rule in openers.CHANGE.items()
    if rule != "to_settle"
}


def _change(desk: Desk, raw: Raw, shape: Shape) -> tree.Change | tree.ToSettle | None:
    if shape.rule == "to_settle":
        return to_settle(desk, raw, shape)
    how = _HOW[shape.rule]
    targets = [_changed(desk, part) for part in shape.shapes]
    if None in targets:
        return None
    what, *to = (target for target in targets if target is not None)
    made = tree.Change(
        how=how,
        what=what,
        to=to[0] if to else None,
        after=shape.has("AFTER") and how == "move",
        place=raw.words.place,
        remarks=raw.remarks,
        end=raw.end,
    )
    if how in ("without", "move"):
        desk.no_lines_under(raw)
        return made
    if not raw.lines:
        desk.report("empty-block", raw.words.place, {"found": raw.words.plain})
    if how == "reword":
        return replace(made, lines=_rewording(desk, raw.lines))
    return replace(made, items=items(desk, raw.lines))


def _changed(desk: Desk, shape: Shape) -> tree.Changed | None:
    words = shape.get("UNTIL_MOVED")
    name: Words | None = words
    quoted = words.text.startswith('"') and words.text.find('"', 1) == len(words.text) - 1
    if quoted:
        name = desk.quoted(words)
    if name is None:
        return None
    numbers = [int(number.text) for number in shape.all("NUMBER")]
    return tree.Changed(
        name=name,
        quoted=quoted,
        number=numbers[0] if numbers else None,
        of=numbers[1] if numbers else None,
        around=len(shape.all("THE_BLOCK_AROUND")),
        place=shape.place,
    )


def _rewording(desk: Desk, raws: Iterable[Raw]) -> tuple[tree.RewordLine, ...]:
    made: list[tree.RewordLine] = []
    for raw in raws:
        if desk.full:
            break
        rule = desk.rule(raw, "reword")
        shape = None if rule is None else desk.parse(rule, raw.words)
        node: tree.RewordLine | None = None
        if shape is None:
            pass
        elif shape.rule == "to_settle":
            node = to_settle(desk, raw, shape)
        elif shape.rule == "lasts":
            desk.no_lines_under(raw)
            node = lasts(raw, shape)
        elif shape.rule == "change_label":
            desk.no_lines_under(raw)
            node = tree.Labelled(name=shape.get("NAME"), place=raw.words.place, remarks=raw.remarks)
        else:
            node = remark(desk, raw, shape)
        made.append(spoiled(raw) if node is None else node)
    once_only(desk, made, "short", tree.Short)
    once_only(desk, made, "takes", tree.Lasts)
    once_only(desk, made, "label", tree.Labelled)
    return tuple(made)


# --- Sections ------------------------------------------------------------------------------------


def instead(desk: Desk, raw: Raw, shape: Shape | None, section: ReadSection) -> tree.Section:
    """instead of HEADING: the section under that heading, as it is to be."""
    if shape is None:
        return spoiled(raw)
    settle, lines = _settled(desk, raw)
    inner = section(desk, replace(raw, words=shape.get("REST"), lines=lines))
    if isinstance(inner, tree.Spoiled):
        return inner
    if not isinstance(inner, SAID_ANEW):
        found = shape.get("REST")
        desk.report("change-heading", found.place, {"found": found.plain, "how": "instead of"})
        return replace(spoiled(raw), words=raw.words)
    return tree.Instead(section=inner, settle=settle, place=raw.words.place)


def without(desk: Desk, raw: Raw, shape: Shape | None) -> tree.Without | tree.Spoiled:
    """without HEADING, and names under it; without phase "…"."""
    if shape is None:
        return spoiled(raw)
    heading = shape.get("REST")
    settle, lines = _settled(desk, raw)
    phase = None
    names: tuple[tree.NamesLine | tree.Spoiled, ...] = ()
    if openers.rule_of(heading, "section") == "phase":
        inner = desk.parse("phase", heading)
        phase = None if inner is None else desk.quoted(inner.get("QUOTED"))
        if phase is None:
            return spoiled(raw)
        desk.no_lines_under(replace(raw, lines=lines))
    elif heading.plain in LEFT_OUT:
        names = name_lines(desk, lines)
        if not lines:
            desk.report("empty-block", raw.words.place, {"found": raw.words.plain})
    else:
        facts = {"found": heading.plain, "how": "without"}
        near = openers.nearest_of((one, heading.plain) for one in LEFT_OUT)
        if near is not None:
            facts["meant"] = near
        desk.report("change-heading", heading.place, facts)
        return spoiled(raw)
    return tree.Without(
        heading=heading,
        phase=phase,
        lines=names,
        settle=settle,
        place=raw.words.place,
        remarks=raw.remarks,
        end=raw.end,
    )


def phases_beside(
    desk: Desk, raw: Raw, shape: Shape | None, section: ReadSection
) -> tree.PhasesBeside | tree.Spoiled:
    """before phase "…", after phase "…", with phases under it."""
    settle, lines = _settled(desk, raw)
    made: list[tree.Phase | tree.Spoiled] = []
    for line in lines:
        if desk.full:
            break
        if line.spoiled or openers.rule_of(line.words, "section") != "phase":
            if not line.spoiled:
                desk.report("phase-missing", line.words.place, {"over": raw.words.plain})
            made.append(replace(spoiled(line), items=items_under(desk, (line,))))
            continue
        inner = section(desk, line)
        made.append(inner if isinstance(inner, tree.Phase | tree.Spoiled) else spoiled(line))
    if shape is None:
        return spoiled(raw)
    return tree.PhasesBeside(
        after=shape.rule == "after_phase",
        phase=desk.quoted(shape.get("QUOTED")),
        phases=tuple(made),
        settle=settle,
        place=raw.words.place,
        remarks=raw.remarks,
        end=raw.end,
    )


def _settled(desk: Desk, raw: Raw) -> tuple[tuple[tree.ToSettle, ...], tuple[Raw, ...]]:
    """What is to be settled of a section, which stands first under it, and the other lines."""
    found: list[tree.ToSettle] = []
    lines = list(raw.lines)
    while lines and not lines[0].spoiled:
        if openers.rule_of(lines[0].words, "change") != "to_settle":
            break
        first = lines.pop(0)
        shape = desk.parse("to_settle", first.words)
        node = None if shape is None else to_settle(desk, first, shape)
        if node is not None:
            found.append(node)
    return tuple(found), tuple(lines)
