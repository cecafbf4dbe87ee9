"""The lexer for Pygments: carries out the TextMate grammar that lies beside it.

One description of the colours serves all editors, so this module knows no word of the language. It
does the part of TextMate grammars that ours uses: ``match`` and ``begin`` / ``end`` with captures,
``include`` of a name; line by line, the first of what begins earliest.

The work is in proportion to the length of the text: on each line every pattern is looked for at
most once between two of its own matches.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache, lru_cache
from pathlib import Path
from typing import Any, ClassVar

from pygments.lexer import Lexer
from pygments.token import (
    Comment,
    Error,
    Keyword,
    Name,
    Number,
    Operator,
    Punctuation,
    String,
    Text,
    Token,
)

_GRAMMAR = Path(__file__).with_name("protocol.tmLanguage.json")

#: A kind of token, as Pygments has them.
_Sort = Any

#: What the sorts of a TextMate grammar are to Pygments.
_SORTS: Mapping[str, _Sort] = {
    "comment.line.number-sign": Comment.Single,
    "string.quoted.double": String.Double,
    "invalid.illegal": Error,
    "keyword.declaration": Keyword.Declaration,
    "keyword.control": Keyword,
    "keyword.operator.word": Operator.Word,
    "storage.modifier": Keyword.Type,
    "punctuation.definition.box": Punctuation.Marker,
    "entity.name.label": Name.Label,
    "variable.other.declaration": Name.Variable,
    "constant.numeric": Number,
}


@dataclass(frozen=True, slots=True, eq=False)
class _Part:
    """A pattern. ``sorts``: by group, 0 for the whole; ``end``: None for one that opens nothing."""

    pattern: re.Pattern[str]
    sorts: Mapping[int, _Sort]
    end: str | None
    holds: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Open:
    """A part that was begun: where it ends, and what it holds."""

    end: re.Pattern[str]
    holds: tuple[str, ...]


class ProtocolLexer(Lexer):
    """Protocols, rooms, words, data, rules and waivers of protocol-lang."""

    name = "Protocol"
    aliases: ClassVar[list[str]] = ["protocol"]
    filenames: ClassVar[list[str]] = ["*.protocol"]
    mimetypes: ClassVar[list[str]] = ["text/x-protocol"]
    url = ""

    def get_tokens_unprocessed(self, text: str) -> Iterator[tuple[int, _Sort, str]]:
        """The tokens of a text: (position, kind, words), which put together are the text."""
        top, parts = _grammar()
        open_: list[_Open] = []
        at = 0
        for line in text.splitlines(keepends=True):
            body = line.rstrip("\r\n\x0b\x0c\x1c\x1d\x1e\x85\u2028\u2029")
            for start, sort, words in _line(body, open_, top, parts):
                yield at + start, sort, words
            if len(body) < len(line):
                yield at + len(body), Text.Whitespace, line[len(body) :]
            at += len(line)


def _line(
    line: str, open_: list[_Open], top: tuple[str, ...], parts: Mapping[str, _Part]
) -> Iterator[tuple[int, _Sort, str]]:
    """The tokens of one line; ``open_``, what was begun and has not ended, is kept up."""
    found: dict[re.Pattern[str], re.Match[str] | None] = {}

    def seek(pattern: re.Pattern[str], at: int) -> re.Match[str] | None:
        """The first match at or after a position, which is only looked for when it was passed."""
        match = found.get(pattern)
        if pattern not in found or (match is not None and match.start() < at):
            match = found[pattern] = pattern.search(line, at)
        return match

    at = 0
    while True:
        inner = open_[-1] if open_ else None
        best = None if inner is None else seek(inner.end, at)
        opens: _Part | None = None
        for name in top if inner is None else inner.holds:
            match = seek(parts[name].pattern, at)
            if match is not None and (best is None or match.start() < best.start()):
                best, opens = match, parts[name]
        if best is None:
            break
        if best.start() > at:
            yield at, Text, line[at : best.start()]
        if opens is None:
            yield from _tokens(best, {})
            open_.pop()
        else:
            yield from _tokens(best, opens.sorts)
            if opens.end is not None:
                open_.append(_Open(_end(opens.end, best), opens.holds))
            elif best.end() == best.start():
                break  # a pattern that takes nothing would be found again and again
        at = best.end()
    if at < len(line):
        yield at, Text, line[at:]


def _end(pattern: str, begun: re.Match[str]) -> re.Pattern[str]:
    """The end of a part; ``\\1`` in it stands for what the first group of its beginning matched."""
    return _compiled(pattern.replace(r"\1", re.escape(begun[1])) if r"\1" in pattern else pattern)


_compiled = lru_cache(maxsize=256)(re.compile)


def _tokens(match: re.Match[str], sorts: Mapping[int, _Sort]) -> Iterator[tuple[int, _Sort, str]]:
    """The groups of a match in their colours, and what stands between them as text."""
    whole = sorts.get(0, Text)
    at = match.start()
    for group, sort in sorts.items():
        if group == 0 or match[group] is None or match.start(group) < at:
            continue
        if match.start(group) > at:
            yield at, whole, match.string[at : match.start(group)]
        if match[group]:
            yield match.start(group), sort, match[group]
        at = match.end(group)
    if at < match.end():
        yield at, whole, match.string[at : match.end()]


@cache
def _grammar() -> tuple[tuple[str, ...], Mapping[str, _Part]]:
    """The names of what may stand anywhere, and all parts by name."""
    said = json.loads(_GRAMMAR.read_text("utf-8"))
    return _names(said["patterns"]), {
        name: _part(part) for name, part in said["repository"].items()
    }


def _part(said: Mapping[str, Any]) -> _Part:
    if "match" in said:
        sorts = {0: _sort(said)} if "name" in said else _captured(said["captures"])
        return _Part(re.compile(said["match"]), sorts, None, ())
    return _Part(
        re.compile(said["begin"]),
        _captured(said["beginCaptures"]),
        said["end"],
        _names(said["patterns"]),
    )


def _names(patterns: list[dict[str, str]]) -> tuple[str, ...]:
    return tuple(one["include"].removeprefix("#") for one in patterns)


def _captured(said: Mapping[str, Mapping[str, str]]) -> Mapping[int, _Sort]:
    return {int(group): _sort(one) for group, one in sorted(said.items())}


def _sort(said: Mapping[str, str]) -> _Sort:
    return _SORTS.get(said["name"].removesuffix(".protocol"), Token)
