"""One line, parsed alone by the grammar in ``grammar/lines.lark``.

The only importer of the parser library, and only when the first line is read: starting the program
does not wait for it. Its exceptions end here.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import TYPE_CHECKING

from protocol_lang.language.reading import table
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
    """Parses a line by a rule of the grammar; its opening words must be those of the rule."""
    from lark import UnexpectedInput

    _, starts = _parser()
    within = next((start for opener, start in _WITHIN.items() if rule.startswith(opener)), None)
    start = rule if rule in starts else within or table.BY_OPENING
    try:
        tree = _tree(words.text, start)
    except UnexpectedInput as error:
        return _unexpected(error, words)
    shape = _shape(tree, words)
    if within is not None and start == within:
        (shape,) = shape.shapes
    assert shape.rule == rule, f"{shape.rule} in the place of {rule}"
    return shape


#: Lines of which the tree is kept: those of several protocols of one room, which have much in
#: common, and few enough that a process that reads thousands of files stays small.
MOST_KEPT = 2_048


@lru_cache(maxsize=MOST_KEPT)
def _tree(text: str, start: str) -> Tree[Token]:
    """The tree of a line, wherever it stands; nobody changes it."""
    parser, _ = _parser()
    return parser.parse(text, start=start)


@cache
def terminals() -> frozenset[str]:
    """The names of all terminals that a line can be made of, for the words that people read."""
    parser, _ = _parser()
    return frozenset(t.name for t in parser.terminals) - frozenset(parser.lexer_conf.ignore) | {END}


#: The rules for lines whose opening words mean something else where they stand: under a rule, under
#: a waiver.
_WITHIN = {"rule_": "rule_line", "waiver_": "waiver_line"}


@cache
def _parser() -> tuple[Lark, frozenset[str]]:
    """The parser, and the rules that it can start from."""
    return table.parser(), frozenset(table.starts_of(table.grammar()))


def _shape(tree: Tree[Token], words: Words) -> Shape:
    from lark import Token

    tokens: list[tuple[str, Words]] = []
    shapes: list[Shape] = []
    for child in tree.children:
        if isinstance(child, Token):
            start, end = _span(child)
            tokens.append((child.type, words.part(start, end)))
        else:
            shapes.append(_shape(child, words))
    spans = [_span(token) for token in _tokens(tree)]
    whole = words.part(spans[0][0], spans[-1][1])
    return Shape(str(tree.data), whole, tuple(tokens), tuple(shapes))


def _tokens(tree: Tree[Token]) -> Iterator[Token]:
    from lark import Token

    for child in tree.children:
        if isinstance(child, Token):
            yield child
        else:
            yield from _tokens(child)


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
