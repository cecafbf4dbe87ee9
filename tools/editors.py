"""Writes what editors colour a protocol by, from the grammar and the tables of opening words.

Run by ``python -m tools.editors`` from the folder of the project; a test fails when a file on disk
says something else. Two files come of it, in ``protocol_lang/editors``: a TextMate grammar, which
many editors read and our Pygments lexer too, and a syntax file for Vim.

Which words a line begins with and which small words follow is taken from where the language itself
reads it: ``language/reading/openers.py`` and ``grammar/lines.lark``. What is told here is which
lines stand in which section, and how a line is coloured.
"""

from __future__ import annotations

import itertools
import json
import re
import sys
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

from protocol_lang.language.reading import openers
from protocol_lang.language.reading.table import grammar, parser_of

ROOT = Path(__file__).resolve().parent.parent
FOLDER = ROOT / "protocol_lang" / "editors"
TEXTMATE = FOLDER / "protocol.tmLanguage.json"
VIM = FOLDER / "protocol.vim"

#: A word ends where none of its letters follows; it begins where none goes before.
END = r'(?![^\s,;:"])'
START = r'(?<![^\s,;:"])'
QUOTED = '"[^"]*"'
NUMBER = r"[0-9]{4}-[0-9]{2}-[0-9]{2}|[0-9]+(?:\.[0-9]+)?"

#: What each sort of word is called in a TextMate grammar, and by Vim.
COMMENT, STRING, OPEN_QUOTE = "comment.line.number-sign", "string.quoted.double", "invalid.illegal"
HEADING, OPENER, SMALL = "keyword.declaration", "keyword.control", "keyword.operator.word"
TRAIT, BOX, LABEL = "storage.modifier", "punctuation.definition.box", "entity.name.label"
DECLARED, FIGURE = "variable.other.declaration", "constant.numeric"
GROUPS = {
    COMMENT: "Comment", STRING: "String", OPEN_QUOTE: "Error", HEADING: "Structure",
    OPENER: "Statement", SMALL: "Operator", TRAIT: "Type", BOX: "Delimiter", LABEL: "Label",
    DECLARED: "Identifier", FIGURE: "Number",
}  # fmt: skip

_FREE = frozenset({"REST", "SENTENCE"})
#: Terminals that end before a small word: such a word is none of theirs wherever it stands.
_CUT = re.compile("PIECE|UNTIL_")
_TEXT = re.compile("QUOTED|NUMBER|AMOUNT|DAY|REST|SENTENCE|LABEL|TRAIT|NAME|PIECE|UNTIL_.*|COMMA"
                   "|COLON|SEMICOLON|BOX")  # fmt: skip

#: The lines that are not told by opening words, by the rule of the section over them.
_LINES = {
    "choices": "choice_line", "found_out": "found_out_line", "begins_with": "begins_line",
    "leaves": "claim_line", "kinds": "names_line", "parts": "part_line", "facts": "fact_line",
    "germs": "names_line", "levels": "level_line", "floors": "floor_line", "people": "person_line",
    "places": "place_line", "streams": "stream_line", "things": "thing_line",
    "groups": "group_line", "figures": "figure_line", "exposure_settings": "exposure_line",
    "whom_to_call": "call_line", "settings": "setting_line", "can_happen": "mishap_line",
    "air": "air_line", "materials": "names_line", "products": "product_line",
}  # fmt: skip

#: The tables of opening words that hold under a section; under others notes and sources stand.
_TABLES = {
    "first": ("header",), "phase": ("phase", "step"), "can_happen": ("phase", "step"),
    "verb": ("verb",), "duty": ("duty",), "found_out": ("soiling",), "waiver": ("waiver",),
    "rule": ("rule", "item", "step", "header"),
    "changes_in": ("change", "reword", "item", "step"), "before_phase": ("phase", "step"),
    "after_phase": ("phase", "step"),
}  # fmt: skip

#: Sections that no example of a rule has.
_NOT_WITHIN = frozenset({"rule", "waiver", "settings"})


@dataclass(frozen=True, slots=True)
class Spot:
    """Words that are coloured where they stand. ``after``: what has to go before them."""

    words: str
    sort: str
    after: str = ""


@dataclass(frozen=True, slots=True)
class Stretch:
    """From ``begin``, whose groups are coloured, to ``end``.

    ``holds``: names of what is inside; ``more``: what may follow the beginning, with groups of its
    own.
    """

    begin: str
    sorts: Mapping[int, str]
    end: str
    holds: tuple[str, ...] = ()
    more: str = ""


@dataclass(slots=True)
class Colours:
    """All spots and stretches by name, and those that stand at the top, in order."""

    parts: dict[str, Spot | Stretch] = field(default_factory=dict)
    top: list[str] = field(default_factory=list)

    def add(self, name: str, part: Spot | Stretch) -> str:
        """Keep a part; the same name always has the same part."""
        assert self.parts.setdefault(name, part) == part, name
        return name


# --- What the grammar says -----------------------------------------------------------------------


@cache
def _rules() -> Mapping[str, tuple[tuple[str, ...], ...]]:
    """The expansions of each rule, with helpers of the parser library among them."""
    made: dict[str, list[tuple[str, ...]]] = {}
    for rule in parser_of(grammar()).rules:
        made.setdefault(rule.origin.name, []).append(tuple(one.name for one in rule.expansion))
    return {name: tuple(expansions) for name, expansions in made.items()}


@cache
def _patterns() -> Mapping[str, str]:
    """The regular expression of each terminal. A comment ends a line as its last word does."""
    return {
        one.name: one.pattern.to_regexp().replace("$", "(?:#|$)")
        for one in parser_of(grammar()).terminals
    }


@cache
def _reached(rule: str) -> frozenset[str]:
    """All terminals that may stand in a line of a rule."""
    found: set[str] = set()
    waiting, seen = [rule], {rule}
    while waiting:
        for expansion in _rules()[waiting.pop()]:
            for name in expansion:
                if name not in _rules():
                    found.add(name)
                elif name not in seen:
                    seen.add(name)
                    waiting.append(name)
    return frozenset(found)


@cache
def _first(rule: str) -> frozenset[str]:
    """The terminals that a line of a rule may begin with."""
    return frozenset(
        name
        for expansion in _rules()[rule]
        for name in (
            () if expansion[0] == rule
            else _first(expansion[0]) if expansion[0] in _rules()
            else {expansion[0]}
        )
    )  # fmt: skip


@cache
def _last(rule: str) -> frozenset[str]:
    """The terminals that a line of a rule may end with."""
    return frozenset(
        name
        for expansion in _rules()[rule]
        for name in (
            () if expansion[-1] == rule
            else _last(expansion[-1]) if expansion[-1] in _rules()
            else {expansion[-1]}
        )
    )  # fmt: skip


def _before(rule: str) -> Mapping[str, frozenset[str]]:
    """For each terminal in a line of a rule, those that may stand right before it."""
    found: dict[str, set[str]] = {name: set() for name in _reached(rule)}
    waiting, seen = [rule], {rule}
    while waiting:
        for expansion in _rules()[waiting.pop()]:
            for one, other in itertools.pairwise(expansion):
                for name in _first(other) if other in _rules() else {other}:
                    found[name] |= _last(one) if one in _rules() else {one}
            new = {name for name in expansion if name in _rules()} - seen
            seen |= new
            waiting += new
    return {name: frozenset(others) for name, others in found.items()}


def _either(names: Iterable[str], rule: str, way: tuple[str, ...] = ()) -> str:
    """Small words as one regular expression, each with those that may stand right after it."""
    words = sorted(
        (_patterns()[name] + _more(name, rule, (*way, name)) for name in names),
        key=lambda word: (-len(word), word),
    )
    return "|".join(words)


def _more(name: str, rule: str, way: tuple[str, ...]) -> str:
    after = {
        other
        for other, before in _before(rule).items()
        if name in before and other not in way and not _TEXT.fullmatch(other)
    }
    return rf"(?:\s+(?:{_either(after, rule, way)}))?" if after else ""


# --- What is coloured ----------------------------------------------------------------------------


def colours() -> Colours:
    """All that is coloured, and where."""
    made = Colours()
    made.add("comment", Spot("#.*$", COMMENT))
    made.add("quoted", Spot(QUOTED, STRING))
    made.add("open-quote", Spot('"[^"]*$', OPEN_QUOTE))
    made.add("figure", Spot(f"(?:{NUMBER}){END}", FIGURE, after=START))
    made.top.append("comment")
    sections = _longest_first(openers.SECTIONS)
    for phrase, rule in sections:  # in a local edition a heading is said anew
        if rule in _LINES or rule in _TABLES:
            made.top.append(_section(made, f"instead of {phrase}", rule))
    made.top.append(_section(made, "without phase", "phase"))
    for phrase, rule in sections:
        made.top.append(_section(made, phrase, rule))
    for phrase, rule in _longest_first(openers.FIRST):
        made.top.append(_section(made, phrase, rule))
    made.top += ["quoted", "open-quote"]
    return made


def _section(made: Colours, phrase: str, rule: str, within: bool = False) -> str:
    """A section, up to the next line as far out. ``within``: one in an example of a rule."""
    tables = _TABLES.get(rule, ("remark",))
    opening = {words: under for table in tables for words, under in openers.TABLES[table].items()}
    holds = [*_inside(made, rule), *(_line(made, *pair) for pair in _longest_first(opening))]
    if phrase.startswith("instead of") or rule in ("before_phase", "after_phase"):
        holds.append(_line(made, "to settle", "to_settle"))
    if rule in ("before_phase", "after_phase"):
        holds.append(_line(made, "phase", "phase"))
    if rule == "rule":  # its examples are small protocols, with sections of their own
        sections = [pair for pair in _longest_first(openers.SECTIONS) if pair[1] not in _NOT_WITHIN]
        holds = [*holds, *(_section(made, *pair, within=True) for pair in sections)]
    if rule in _LINES:
        holds += _plain_lines(made, _LINES[rule])
    if rule in ("phase", "can_happen", "verb", "rule", "air", "floors"):
        holds += _plain_lines(made, "claim_line")
    words = f"({_spaced(phrase)}{END}{_chain(rule)})"
    held = tuple(dict.fromkeys(holds))
    name = f"{'within' if within else 'section'}-{phrase.replace(' ', '-')}"
    if within:
        nested = Stretch(rf"^(\s+){words}", {2: HEADING}, r"^(?!\1\s)(?=\s*[^\s#])", held)
        return made.add(name, nested)
    return made.add(name, Stretch(f"^{words}", {1: HEADING}, r"^(?=[^\s#])", held))


def _line(made: Colours, phrase: str, rule: str) -> str:
    """A line that is told by its opening words."""
    if rule == "step":
        label = r'(?:\s+(say:)|\s+([^\s":#]+(?:\s+[^\s":#]+){0,3})(?=\s*:(?:\s|$)))?'
        step = Stretch(r"^\s*(\[ \])", {1: BOX, 2: OPENER, 3: LABEL}, "$", _text(), label)
        return made.add("line-step", step)
    begin = f"^\\s+({_spaced(phrase)}{END}{_chain(rule)})"
    sorts, more = {1: OPENER}, ""
    if _reached(rule) & _FREE and (unit := re.search("TIMES|DAYS", " ".join(_reached(rule)))):
        more = rf"(?:\s+([0-9]+)\s+({_patterns()[unit[0]]}))?"
        sorts |= {2: FIGURE, 3: SMALL}
    inside = tuple(_inside(made, rule, opened=True))
    name = f"line-{rule}-{phrase.replace(' ', '-')}"
    return made.add(name, Stretch(begin, sorts, "$", inside, more))


def _plain_lines(made: Colours, rule: str) -> Iterator[str]:
    """Lines that begin with names: those that are declared before a colon, or pieces of a claim."""
    if rule == "air_line":
        for opening in sorted(expansion[0] for expansion in _rules()[rule]):
            (word,) = _first(opening)
            inside = tuple(_inside(made, opening, opened=True))
            opens = Stretch(
                rf"^\s+({_patterns()[word]}{_chain(opening)})", {1: OPENER}, "$", inside
            )
            yield made.add(f"line-{opening}", opens)
        return
    if not _reached(rule) & {"COLON"}:
        begin = r"^\s+(?=[^\s#])"
        yield made.add(f"plain-{rule}", Stretch(begin, {}, "$", tuple(_inside(made, rule))))
        return
    # Words with blanks between: cut in one way only, or a line without a colon would take for ever.
    word = r'(?:"[^"]*"|[^":#;\s])+'
    names = rf"^\s+({word}(?:\s+{word})*)(?=\s*:)"
    inside = tuple(_inside(made, rule))
    yield made.add(f"declared-{rule}", Stretch(names, {1: DECLARED}, "$", inside))


def _inside(made: Colours, rule: str, opened: bool = False) -> Iterator[str]:
    """What is coloured in a line; ``opened``: after its opening words."""
    yield from _text()
    reached = _reached(rule)
    if reached & _FREE:
        return
    if "TRAIT" in reached:
        for phrase, trait in _longest_first(openers.TRAITS):
            yield from _trait(made, phrase, trait, directly=rule == "rule_declared")
        return
    yield from _small_words(made, rule, _first(rule) if opened else frozenset())
    if reached & {"NUMBER", "AMOUNT", "DAY"}:
        yield "figure"


def _small_words(made: Colours, rule: str, without: frozenset[str]) -> Iterator[str]:
    """Small words where they can stand: after a sign or a figure, after another, or anywhere.

    Anywhere only where the words before them cannot hold them.
    """
    before = _before(rule)
    words = {name for name in _reached(rule) - without if not _TEXT.fullmatch(name)}
    signs = {"COLON", "SEMICOLON", "COMMA"}
    figures = {"NUMBER", "AMOUNT", "DAY"}
    cut = {name for name in words if any(_CUT.match(other) for other in before[name])}
    own = cut | {name for name in words if not before[name] or name in before[name]}
    comma = {name for name in own if _patterns()[name].startswith(("(?:,", ","))}
    for what, names, after in (
        ("small", own - comma, START),
        ("then", comma, ""),
        ("after-sign", {name for name in words if before[name] & signs}, r"[:;,]\s*"),
        ("unit", {name for name in words if before[name] & figures}, r"[0-9]\s+"),
        ("after-title", {name for name in words if "QUOTED" in before[name]}, r'"\s+'),
    ):
        if names:
            yield made.add(f"{what}-{rule}", Spot(f"(?:{_either(names, rule)})", SMALL, after))


def _trait(made: Colours, phrase: str, rule: str, directly: bool) -> Iterator[str]:
    inside = tuple(_inside(made, rule))
    name = f"trait-{phrase.replace(' ', '-')}"
    word = f"({_spaced(phrase)}{END})"
    yield made.add(name, Stretch(rf";\s*{word}", {1: TRAIT}, "(?=[;#]|$)", inside))
    if directly:
        begin = rf"(?<=declared)\s+{word}"
        yield made.add(f"declared-{name}", Stretch(begin, {1: TRAIT}, "(?=[;#]|$)", inside))


def _chain(rule: str) -> str:
    """Small words right after the opening ones: "facts of a person", "pass a trace of"."""
    opening = {name for name in _first(rule) if not _TEXT.fullmatch(name)}
    after = {
        name
        for name, before in _before(rule).items()
        if before & opening and not _TEXT.fullmatch(name)
    }
    return rf"(?:\s+(?:{_either(after, rule)}))?" if after else ""


def _text() -> tuple[str, ...]:
    return ("comment", "quoted", "open-quote")


def _spaced(phrase: str) -> str:
    return r"\s+".join(phrase.split())


def _longest_first(table: openers.Openers) -> list[tuple[str, str]]:
    return sorted(table.items(), key=lambda pair: (-len(pair[0]), pair[0]))


# --- A TextMate grammar --------------------------------------------------------------------------


def textmate() -> str:
    """The TextMate grammar, as JSON."""
    made = colours()
    repository = {name: _as_textmate(part) for name, part in made.parts.items()}
    whole = {
        "name": "Protocol",
        "scopeName": "source.protocol",
        "fileTypes": ["protocol"],
        "comment": "Written by tools/editors.py; do not edit.",
        "patterns": [{"include": f"#{name}"} for name in made.top],
        "repository": dict(sorted(repository.items())),
    }
    return json.dumps(whole, indent=1, ensure_ascii=True) + "\n"


def _as_textmate(part: Spot | Stretch) -> dict[str, object]:
    if isinstance(part, Spot):
        if part.after in ("", START):
            return {"name": f"{part.sort}.protocol", "match": part.after + part.words}
        sort = {"name": f"{part.sort}.protocol"}
        if part.after.startswith('"'):  # the title itself has been coloured
            return {"match": rf'(?<=")\s+({part.words})', "captures": {"1": sort}}
        # What goes before may be of any length, which not every editor can look back over.
        before = part.after.replace(r"[0-9]\s+", rf"{START}(?:{NUMBER})\s+")
        figure = {"1": {"name": f"{FIGURE}.protocol"}} if before != part.after else {}
        return {"match": f"({before})({part.words})", "captures": {**figure, "2": sort}}
    return {
        "begin": part.begin + part.more,
        "beginCaptures": {
            str(at): {"name": f"{sort}.protocol"} for at, sort in sorted(part.sorts.items())
        },
        "end": part.end,
        "patterns": [{"include": f"#{name}"} for name in part.holds],
    }


# --- A syntax file for Vim -----------------------------------------------------------------------

#: Vim colours a beginning as a whole: what may follow one is told apart by what goes before it.
_FOLLOWS = {
    BOX: {
        "label": Spot(r'[^\s":#]+(?:\s+[^\s":#]+){0,3}(?=\s*:(?:\s|$))', LABEL, after=r"\[ \]\s+"),
        "say": Spot("say:", OPENER, after=r"\[ \]\s+"),
    },
    OPENER: {
        "count": Spot("[0-9]+", FIGURE, after=r"(?:most|least|every)\s+"),
        "counted": Spot(f"(?:times?|days?){END}", SMALL, after=r"(?:most|least|every)\s+[0-9]+\s+"),
    },
}


def vim() -> str:
    """The syntax file for Vim."""
    made = colours()
    lines = [
        '" Vim syntax file: protocols of protocol-lang',
        '" Written by tools/editors.py; do not edit.',
        "",
        'if exists("b:current_syntax")',
        "  finish",
        "endif",
        "syntax case match",
        "syntax sync fromstart",
        "",
    ]
    # Of two that begin at the same place Vim takes the one that was told last.
    for name, part in sorted(made.parts.items(), key=lambda pair: _told_last(*pair)):
        lines.append(_as_vim(name, part, contained=name not in made.top))
    for follows in _FOLLOWS.values():
        lines += [_as_vim(name, spot, contained=True) for name, spot in follows.items()]
    lines.append("")
    lines += [f"highlight default link {_vim_sort(sort)} {GROUPS[sort]}" for sort in GROUPS]
    for name, part in [*made.parts.items(), *(p for f in _FOLLOWS.values() for p in f.items())]:
        if isinstance(part, Spot):
            lines.append(f"highlight default link {_vim_name(name)} {_vim_sort(part.sort)}")
    return "\n".join([*lines, "", 'let b:current_syntax = "protocol"', ""])


def _told_last(name: str, part: Spot | Stretch) -> tuple[int, int, str]:
    rank = ["plain", "declared", "line", "within", "section"]
    sort = name.partition("-")[0]
    length = len(part.begin) if isinstance(part, Stretch) and sort in ("line", "within") else 0
    return (rank.index(sort) if sort in rank else len(rank), length, name)


def _as_vim(name: str, part: Spot | Stretch, contained: bool) -> str:
    inside = " contained" if contained else ""
    if isinstance(part, Spot):
        after = f"(?<={part.after})" if part.after not in ("", START) else part.after
        return f"syntax match {_vim_name(name)} /{_vim_pattern(after + part.words)}/{inside}"
    colour = next(iter(part.sorts.values()), None)
    group = "" if colour is None else f"matchgroup={_vim_sort(colour)} "
    holds = [*part.holds, *(_FOLLOWS[colour] if part.more and colour is not None else ())]
    # A sign before the first word is not of its colour.
    begin = _vim_pattern(part.begin.replace(r";\s*", r"(?<=;\s*)", 1))
    if r"\1" in part.end:  # how far in the beginning stands
        begin = begin.replace(r"%(\s+)", r"\z(\s+)", 1)
    # A comment that goes on to the end of the line does not take that end from what it stands in.
    inside += " keepend" if part.end == "$" else ""
    return (
        f"syntax region {_vim_name(name)} {group}start=/{begin}/ end=/{_vim_pattern(part.end)}/"
        f"{inside} contains={','.join(map(_vim_name, holds))}"
    )


def _vim_name(name: str) -> str:
    return "protocol" + "".join(piece.capitalize() for piece in re.split("[-_]", name))


def _vim_sort(sort: str) -> str:
    return "protocolAs" + GROUPS[sort]


#: Groups of a regular expression that take no letter: by their opening, what Vim puts behind them.
_LOOKS = {"(?=": "@=", "(?!": "@!", "(?<=": "@<=", "(?<!": "@<!", "(?:": "", "(": ""}


def _vim_pattern(pattern: str) -> str:
    """A regular expression in Vim's very magic spelling."""
    made, closings = [], []
    for piece in re.findall(r"\\.|\[\^?(?:\\.|[^\]])+\]|\(\?<?[=!:]|\(|\)|.", pattern):
        if piece in _LOOKS:
            closings.append(_LOOKS[piece])
            made.append("%(")
        elif piece == ")":
            made.append(")" + closings.pop())
        elif piece == r"\1":
            made.append(r"\z1")
        elif len(piece) > 2 and piece.startswith("["):
            made.append(piece.replace(r"\s", r" \t"))
        else:
            made.append(piece)
    return r"\v" + "".join(made)


def main() -> int:
    """Write both files. Return 0."""
    for path, text in pages().items():
        path.write_text(text, "utf-8")
        print(f"wrote {path.relative_to(ROOT)}")
    return 0


def pages() -> dict[Path, str]:
    """Both files as they should be."""
    return {TEXTMATE: textmate(), VIM: vim()}


if __name__ == "__main__":
    sys.exit(main())
