"""One line, parsed alone by the grammar in ``grammar/lines.lark``.

The only importer of the parser library, and only when the first line is read: starting the program
does not wait for it. Its exceptions end here.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import TYPE_CHECKING

from protocol_lang.language.reading import openers, table
from protocol_lang.language.tree import Words
from protocol_lang.text import Place

if TYPE_CHECKING:
    from lark import Lark, Token, Tree

#: The terminal that stands for the end of the line in :attr:`Unexpected.expected`.
END = "$END"

_NEXT_WORD = re.compile(r'"[^"]*"|[^\s",;:]+|\S')
_LAST_WORD = re.compile(r'(?:"[^"]*"|[^\s",;:]+|\S)\s*$')


@dataclass(frozen=True, slots=True)
class Shape:
    """A line, or a part of one, as its rule in the grammar reads it.

    ``tokens``: its own terminals with their words, in order. ``shapes``: the parts that have a rule
    of their own, in order.
    """

    rule: str
    words: Words
    tokens: tuple[tuple[str, Words], ...]
    shapes: tuple[Shape, ...]

    @property
    def place(self) -> Place:
        """Where it stands: from its first word to its last."""
        return self.words.place

    def has(self, terminal: str) -> bool:
        """Whether the terminal occurs in the line itself."""
        return any(name == terminal for name, _ in self.tokens)

    def all(self, terminal: str) -> tuple[Words, ...]:
        """The words of each occurrence of a terminal."""
        return tuple(words for name, words in self.tokens if name == terminal)

    def find(self, terminal: str) -> Words | None:
        """The words of the first occurrence of a terminal, if there is one."""
        return next(iter(self.all(terminal)), None)

    def get(self, terminal: str) -> Words:
        """The words of a terminal that the rule demands."""
        return self.all(terminal)[0]

    def part(self, rule: str) -> Shape | None:
        """The first part of that rule, if there is one."""
        return next((shape for shape in self.shapes if shape.rule == rule), None)


@dataclass(frozen=True, slots=True)
class Unexpected:
    """Where a line stops being readable.

    ``found``: the first word that does not fit; or, when the line ends too early (``ended``), its
    last word. ``start``: its position in the line. ``expected``: the terminals that would fit.
    """

    found: Words
    start: int
    ended: bool
    expected: frozenset[str]


def parse(rule: str, words: Words) -> Shape | Unexpected:
    """Parses a line by a rule of the grammar; its opening words must be those of the rule.

    It may go on so that it is a line of another rule, with longer opening words ("takes words from"
    under a verb): then what comes after those of the rule does not fit.
    """
    from lark import UnexpectedInput

    _, starts = _parser()
    within = next((start for opener, start in _WITHIN.items() if rule.startswith(opener)), None)
    start = rule if rule in starts else within or table.BY_OPENING
    try:
        spans = _spans(words.text, start)
    except UnexpectedInput as error:
        return _unexpected(error, words)
    shape = _shape(spans, words)
    if within is not None and start == within:
        (shape,) = shape.shapes
    return shape if shape.rule == rule else _of_another(rule, start, words)


def _of_another(rule: str, start: str, words: Words) -> Unexpected:
    """Where a line that is sound, but of another rule, goes on as none of ``rule`` does."""
    from lark import UnexpectedInput

    opened = openers.opened(words, rule)
    try:
        _spans(words.text[:opened], start)
    except UnexpectedInput as error:
        expected = _unexpected(error, words).expected
    else:
        expected = frozenset({END})
    word = _NEXT_WORD.search(words.text, opened)
    assert word is not None, "a line of another rule goes on after the opening words"
    begin, end = word.start(), word.start() + len(word.group().rstrip())
    return Unexpected(words.part(begin, end), begin, False, expected & terminals())


#: Lines of which the tree is kept: those of several protocols of one room, which have much in
#: common, and few enough that a process that reads thousands of files stays small.
MOST_KEPT = 2_048


@dataclass(frozen=True, slots=True)
class _Spans:
    """A line as its rule reads it, wherever the line stands: as in :class:`Shape`, but with the
    positions of words in the line."""

    rule: str
    start: int
    end: int
    tokens: tuple[tuple[str, int, int], ...]
    parts: tuple[_Spans, ...]


@lru_cache(maxsize=MOST_KEPT)
def _spans(text: str, start: str) -> _Spans:
    """How a line is read; raises what the parser library raises."""
    parser, _ = _parser()
    return _spans_of(parser.parse(text, start=start))


@cache
def terminals() -> frozenset[str]:
    """The names of all terminals that a line can be made of, for the words that people read."""
    parser, _ = _parser()
    return frozenset(t.name for t in parser.terminals) - frozenset(parser.lexer_conf.ignore) | {END}


#: The rules for lines whose opening words mean something else where they stand: under a rule, under
#: a waiver, among the changes of a local edition.
_WITHIN = {"rule_": "rule_line", "waiver_": "waiver_line", "change_": "change_line"}


@cache
def _parser() -> tuple[Lark, frozenset[str]]:
    """The parser, and the rules that it can start from."""
    return table.parser(), frozenset(table.starts_of(table.grammar()))


def _shape(spans: _Spans, words: Words) -> Shape:
    return Shape(
        spans.rule,
        words.part(spans.start, spans.end),
        tuple((name, words.part(start, end)) for name, start, end in spans.tokens),
        tuple(_shape(part, words) for part in spans.parts),
    )


def _spans_of(tree: Tree[Token]) -> _Spans:
    from lark import Token

    tokens: list[tuple[str, int, int]] = []
    parts: list[_Spans] = []
    places: list[tuple[int, int]] = []
    for child in tree.children:
        if isinstance(child, Token):
            start, end = _span(child)
            tokens.append((child.type, start, end))
        else:
            part = _spans_of(child)
            parts.append(part)
            start, end = part.start, part.end
        places.append((start, end))
    return _Spans(str(tree.data), places[0][0], places[-1][1], tuple(tokens), tuple(parts))


def _span(token: Token) -> tuple[int, int]:
    assert token.start_pos is not None
    return token.start_pos, token.start_pos + len(token.rstrip())


def _unexpected(error: Exception, words: Words) -> Unexpected:
    from lark import UnexpectedCharacters, UnexpectedToken

    text = words.text
    if isinstance(error, UnexpectedToken):
        expected = frozenset(error.accepts or error.expected)
        ended = error.token.type == END
    else:
        assert isinstance(error, UnexpectedCharacters)
        expected, ended = frozenset(error.allowed or ()), False
    start = len(text) if ended else error.pos_in_stream
    assert start is not None
    word = _NEXT_WORD.search(text, start)
    if word is None:
        ended, word = True, _LAST_WORD.search(text)
        assert word is not None, "a line has at least one word"
    begin, end = word.start(), word.start() + len(word.group().rstrip())
    return Unexpected(words.part(begin, end), begin, ended, expected & terminals())
