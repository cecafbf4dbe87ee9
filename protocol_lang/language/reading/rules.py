"""Rules: the lines under them, each read by its opening words, and their examples."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace

from protocol_lang.language import tree
from protocol_lang.language.layout import Raw
from protocol_lang.language.reading import claims, openers
from protocol_lang.language.reading.checklist import is_item, items, items_under
from protocol_lang.language.reading.declarations import choice_lines, trait
from protocol_lang.language.reading.desk import Desk, spoiled
from protocol_lang.language.reading.lines import Shape

#: Reads what an example says in its header and declares: the reader's own, which knows all of it.
Sections = Callable[
    [Desk, Iterable[Raw]], tuple[tuple[tree.HeaderLine, ...], tuple[tree.Section, ...]]
]

#: Words that the grammar lets vary in a line; which of them stands there is what the line says.
_VARYING = (
    "MUST",
    "SHOULD",
    "LOCAL",
    "BUT_NEVER",
    "AT_LEAST",
    "AT_MOST",
    "TIGHTENS",
    "LOOSENS",
)

#: Lines after which sentences may stand that count as well.
_WITH_OTHERS = frozenset(
    f"rule_{name}"
    for name in (
        "always", "never", "before", "after", "comes", "until", "whenever", "at_most", "at_least",
        "every_days",
    )
)  # fmt: skip


def settings(desk: Desk, raw: Raw, shape: Shape | None) -> tree.Settings:
    """settings."""
    lines = choice_lines(desk, raw.lines, "setting_line")
    return tree.Settings(lines=lines, place=raw.words.place, remarks=raw.remarks, end=raw.end)


def rule(desk: Desk, raw: Raw, shape: Shape | None, sections: Sections) -> tree.Rule:
    """rule "…", with the lines under it."""
    return tree.Rule(
        title=None if shape is None else desk.quoted(shape.get("QUOTED")),
        lines=_lines(desk, raw.lines, "rule", sections),
        place=raw.words.place,
        remarks=raw.remarks,
        end=raw.end,
    )


def _lines(
    desk: Desk, raws: Iterable[Raw], table: str, sections: Sections
) -> tuple[tree.RuleLine | tree.Spoiled, ...]:
    made: list[tree.RuleLine | tree.Spoiled] = []
    for raw in raws:
        if desk.full:
            break
        grammar_rule = desk.rule(raw, table)
        shape = None if grammar_rule is None else desk.parse(grammar_rule, raw.words)
        if shape is None:
            items_under(desk, raw.lines)
            made.append(spoiled(raw))
        else:
            made.append(_line(desk, raw, shape, sections))
    return tuple(made)


def _line(desk: Desk, raw: Raw, shape: Shape, sections: Sections) -> tree.RuleLine | tree.Spoiled:
    quoted = tuple(desk.quoted(words) for words in shape.all("QUOTED"))
    if any(words is None for words in quoted):
        return spoiled(raw)
    node = tree.RuleLine(
        rule=shape.rule,
        words=raw.words,
        word=next((word for word in _VARYING if shape.has(word)), None),
        sentence=shape.find("SENTENCE"),
        names=(*shape.all("PIECE"), *shape.all("NAME")),
        quoted=tuple(words for words in quoted if words is not None),
        number=shape.find("NUMBER") or shape.find("AMOUNT"),
        traits=tuple(trait(desk, words) for words in shape.all("TRAIT")),
        place=raw.words.place,
        remarks=raw.remarks,
        end=raw.end,
    )
    if shape.rule in ("rule_good", "rule_faulty"):
        return _example(desk, raw, node, sections)
    if shape.rule == "rule_either" or (shape.rule == "rule_or" and node.sentence is None):
        return replace(node, lines=_lines(desk, raw.lines, "rule", sections))
    if shape.rule in _WITH_OTHERS:
        return replace(node, lines=_lines(desk, raw.lines, "sentence", sections))
    items_under(desk, desk.no_lines_under(raw))
    if shape.rule == "rule_where":
        part = shape.part("condition")
        assert part is not None
        return replace(node, condition=claims.condition(part))
    if shape.rule == "rule_only_when":
        part = shape.part("claim")
        assert part is not None
        return replace(node, claim=claims.claim(part))
    return node


def _example(desk: Desk, raw: Raw, node: tree.RuleLine, sections: Sections) -> tree.RuleLine:
    """What is declared for it, if anything, and its steps."""
    if not raw.lines:
        desk.report("empty-block", raw.words.place, {"found": raw.words.plain})
    steps = [line for line in raw.lines if is_item(line) or not _is_told_before(line)]
    header, declared = sections(desk, [line for line in raw.lines if line not in steps])
    return replace(node, header=header, sections=declared, items=items(desk, steps))


def _is_told_before(raw: Raw) -> bool:
    """Whether a line belongs to a header, or opens a section."""
    tables = ("header", "section")
    return not raw.spoiled and any(openers.rule_of(raw.words, table) for table in tables)
