"""Conditions (``where``) and claims (``only when``), on one line or spread over several."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import replace

from protocol_lang.language import tree
from protocol_lang.language.layout import Raw
from protocol_lang.language.reading.desk import Desk, spoiled
from protocol_lang.language.reading.lines import Shape
from protocol_lang.language.tree import NO_REMARKS, Remarks, Words

_ALL_OR_ANY = {"ALL_OF": True, "ANY_OF": False}


def spread_of(shape: Shape) -> bool | None:
    """For a line that ends in ``all of`` true, in ``any of`` false; None for another."""
    return next((every for name, every in _ALL_OR_ANY.items() if shape.has(name)), None)


# --- Conditions ----------------------------------------------------------------------------------


def condition(shape: Shape, remarks: Remarks = NO_REMARKS) -> tree.Condition:
    """A condition on one line."""
    parts = tuple(_asked(part) for part in shape.shapes)
    if len(parts) == 1:
        return replace(parts[0], remarks=remarks)
    return tree.Joined(every=not shape.has("OR"), parts=parts, place=shape.place, remarks=remarks)


def _asked(
    shape: Shape,
) -> tree.ChoiceIs | tree.Covered | tree.Bare | tree.Dry | tree.Wears | tree.FactIs:
    if shape.rule == "choice_is":
        return _choice_is(shape)
    made = said(shape)
    assert not isinstance(made, tree.Clean | tree.JoinedClaims | tree.Spoiled)
    return made


def _choice_is(shape: Shape) -> tree.ChoiceIs:
    choice, value = shape.all("PIECE")
    return tree.ChoiceIs(
        choice=choice,
        value=value,
        negated=shape.has("NOT"),
        plural=plural(shape, "IS", "are"),
        place=shape.place,
    )


def where_of(
    desk: Desk, raw: Raw, shape: Shape, is_condition: Callable[[Raw], bool]
) -> tuple[tree.Condition, tuple[Raw, ...]]:
    """The condition after ``where``, and the lines under the line that do not belong to it.

    Spread conditions are the first lines under ``where all of``, as far as ``is_condition`` goes.
    """
    every = spread_of(shape)
    part = shape.part("condition")
    if part is not None:
        return condition(part), raw.lines
    assert every is not None
    count = 0
    while count < len(raw.lines) and is_condition(raw.lines[count]):
        count += 1
    last = shape.find("ALL_OF") or shape.get("ANY_OF")
    if count == 0:
        desk.report("nothing-spread", last.place, {"found": last.plain})
        return spoiled(raw), raw.lines
    parts = tuple(_condition_line(desk, line) for line in raw.lines[:count])
    joined = tree.Joined(every=every, parts=parts, spread=True, place=last.place)
    return joined, raw.lines[count:]


def _condition_line(desk: Desk, raw: Raw) -> tree.Condition:
    shape = None if raw.spoiled else desk.parse("condition_line", raw.words)
    if shape is None:
        return spoiled(raw)
    part = shape.part("condition")
    if part is not None:
        desk.no_lines_under(raw)
        return condition(part, raw.remarks)
    every = spread_of(shape)
    assert every is not None
    if not raw.lines:
        desk.report("nothing-spread", raw.words.place, {"found": raw.words.plain})
        return spoiled(raw)
    parts = tuple(_condition_line(desk, line) for line in raw.lines)
    return tree.Joined(
        every=every,
        parts=parts,
        spread=True,
        place=raw.words.place,
        remarks=raw.remarks,
        end=raw.end,
    )


# --- Claims --------------------------------------------------------------------------------------


def claim(shape: Shape, remarks: Remarks = NO_REMARKS) -> tree.Claim:
    """A claim on one line."""
    if len(shape.shapes) == 1:
        return said(shape.shapes[0], remarks)
    return tree.JoinedClaims(
        every=not shape.has("OR"),
        parts=tuple(said(part) for part in shape.shapes),
        words=shape.words,
        place=shape.place,
        remarks=remarks,
    )


def said(shape: Shape, remarks: Remarks = NO_REMARKS) -> tree.Claim:
    """One claim, without ``and`` or ``or``."""
    pieces = shape.all("PIECE")
    negated, are, place = shape.has("NOT"), plural(shape, "IS", "are"), shape.place
    match shape.rule:
        case "covered":
            return tree.Covered(
                what=pieces[0],
                cover=pieces[1] if len(pieces) == 2 else None,
                negated=negated,
                plural=are,
                place=place,
                remarks=remarks,
            )
        case "bare":
            return tree.Bare(
                what=pieces[0], negated=negated, plural=are, place=place, remarks=remarks
            )
        case "dry":
            return tree.Dry(
                what=pieces[0], negated=negated, plural=are, place=place, remarks=remarks
            )
        case "clean":
            return tree.Clean(
                what=pieces[0],
                of_others=shape.has("OF_OTHER_PATIENTS"),
                negated=negated,
                plural=are,
                place=place,
                remarks=remarks,
            )
        case "wears":
            return wears(shape, remarks)
        case _:
            since = pieces[-1] if shape.has("SINCE") else None
            *what, fact = pieces if since is None else pieces[:-1]
            return tree.FactIs(
                what=what[0] if what else None,
                fact=fact,
                since=since,
                negated=negated,
                plural=are,
                place=place,
                remarks=remarks,
            )


def plural(shape: Shape, terminal: str, word: str) -> bool:
    """Whether the author wrote the plural form of a verb."""
    found = shape.find(terminal)
    return found is not None and found.plain.split()[0] == word


def wears(shape: Shape, remarks: Remarks = NO_REMARKS) -> tree.Wears:
    """WHO wears COVER."""
    who, cover = shape.all("PIECE")
    return tree.Wears(
        who=who,
        cover=cover,
        negated=shape.has("DOES_NOT_WEAR"),
        plural=plural(shape, "WEARS", "wear") or plural(shape, "DOES_NOT_WEAR", "do"),
        place=shape.place,
        remarks=remarks,
    )


def only_when(desk: Desk, raw: Raw, shape: Shape) -> tree.OnlyWhen:
    """only when CLAIM, or with a line for each part of it."""
    part = shape.part("claim")
    every = spread_of(shape)
    made: tree.Claim
    if part is not None:
        desk.no_lines_under(raw)
        made = claim(part)
    else:
        assert every is not None
        last = shape.find("ALL_OF") or shape.get("ANY_OF")
        if raw.lines:
            made = tree.JoinedClaims(
                every=every, parts=_claim_lines(desk, raw.lines), spread=True, place=last.place
            )
        else:
            desk.report("nothing-spread", last.place, {"found": last.plain})
            made = spoiled(raw)
    return tree.OnlyWhen(claim=made, place=raw.words.place, remarks=raw.remarks, end=raw.end)


def claim_line(desk: Desk, raw: Raw) -> tree.Claim:
    """A claim that has a line to itself, with further lines when it is spread."""
    shape = None if raw.spoiled else desk.parse("claim_line", raw.words)
    if shape is None:
        return spoiled(raw)
    part = shape.part("claim")
    if part is not None:
        desk.no_lines_under(raw)
        return claim(part, raw.remarks)
    every = spread_of(shape)
    assert every is not None
    if not raw.lines:
        desk.report("nothing-spread", raw.words.place, {"found": raw.words.plain})
        return spoiled(raw)
    return tree.JoinedClaims(
        every=every,
        parts=_claim_lines(desk, raw.lines),
        spread=True,
        place=raw.words.place,
        remarks=raw.remarks,
        end=raw.end,
    )


def _claim_lines(desk: Desk, raws: Iterable[Raw]) -> tuple[tree.Claim, ...]:
    return tuple(claim_line(desk, raw) for raw in raws)


def has_colon(words: Words) -> bool:
    """Whether a colon stands in the line, outside double quotes."""
    return re.match(r'(?:"[^"]*"|[^":])*:', words.text) is not None
