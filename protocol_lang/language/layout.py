"""Indentation and comments: the lines of a text as a tree of raw lines.

A line with more blanks before it than the line above stands under that line; lines under the same
line have the same number of blanks. A comment runs from ``#`` to the end of its line, except inside
double quotes. It stays with its line, or with the line after it, or, when it stands deeper than
that one, at the end of its block.

A line whose indentation is wrong spoils itself only: it is reported, kept where it most likely
belongs, and marked; nothing is said about the lines under it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from protocol_lang.findings import Finding
from protocol_lang.language.limits import MAX_LETTERS, MAX_NESTING
from protocol_lang.language.tree import BLANK, Remarks, Words
from protocol_lang.text import Place, Text, unwelcome


@dataclass(frozen=True, slots=True)
class Raw:
    """A line without its indentation and comment, with the lines under it.

    ``spoiled``: already reported, so that nothing more is to be said about its words. ``end``: the
    comments after the last line under it.
    """

    words: Words
    remarks: Remarks
    lines: tuple[Raw, ...]
    end: tuple[str, ...]
    spoiled: bool


@dataclass(frozen=True, slots=True)
class Layout:
    """A whole text; ``closing``: the comments after its last line."""

    lines: tuple[Raw, ...]
    closing: tuple[str, ...]
    findings: tuple[Finding, ...]


def lay_out(text: Text) -> Layout:
    """The tree of the lines of a text, with what is wrong in its characters and indentation."""
    builder = _Builder(text)
    for number, line in enumerate(text.lines, start=1):
        builder.add(number, line)
    return builder.finish()


def cut(line: str) -> tuple[str, str | None]:
    """A line as its words and its comment, without ``#`` and without blanks after either."""
    quoted = False
    for position, letter in enumerate(line):
        if letter == '"':
            quoted = not quoted
        elif letter == "#" and not quoted:
            return line[:position].rstrip(), line[position + 1 :].removeprefix(" ").rstrip()
    return line.rstrip(), None


@dataclass(slots=True)
class _Line:
    """A raw line while the text is being read."""

    words: Words
    above: list[str]
    beside: str | None
    spoiled: bool
    lines: list[_Line] = field(default_factory=list)
    end: list[str] = field(default_factory=list)

    def frozen(self) -> Raw:
        lines = tuple(line.frozen() for line in self.lines)
        if not lines and not self.end and not self.above and self.beside is None:
            return Raw(self.words, _NOTHING, lines, (), self.spoiled)
        remarks = Remarks(tuple(self.above), self.beside)
        return Raw(self.words, remarks, lines, _without_last_blanks(self.end), self.spoiled)


_NOTHING = Remarks()


@dataclass(slots=True)
class _Open:
    """A block that further lines may join. ``guessed``: its indentation is only a guess."""

    indent: int
    lines: list[_Line]
    end: list[str]
    guessed: bool = False


@dataclass(slots=True)
class _Builder:
    text: Text
    findings: list[Finding] = field(default_factory=list)
    root: _Open = field(default_factory=lambda: _Open(0, [], []))
    blocks: list[_Open] = field(default_factory=list)
    last: _Line | None = None
    # Blank lines and comments seen since the last line: (indentation, comment or BLANK).
    waiting: list[tuple[int, str]] = field(default_factory=list)
    # Deeper lines than this are left out: reported once as nested too deep.
    too_deep: int | None = None
    # The last line whose indentation was wrong, and what it was.
    stray: tuple[int, _Line] | None = None
    # The first and the last line of a run of lines that are indented with tabs or other signs that
    # look like blanks, and whether there is a tab among them.
    tabs: tuple[Place, int, bool] | None = None

    def __post_init__(self) -> None:
        self.blocks = [self.root]

    def add(self, number: int, line: str) -> None:
        body, comment = cut(line)
        words = body.lstrip()
        if not words and comment is None:
            self.waiting.append((0, BLANK))
            return
        start = len(line) - len(line.lstrip())
        indent, plain = _width(line[:start])
        if self.too_deep is not None and indent > self.too_deep:
            return
        spoiled = self._report_letters(number, line)
        if not words:
            assert comment is not None
            self.waiting.append((indent, comment))
            return
        self.too_deep = None
        here = self.text.place(number, start, len(body))
        made = _Line(Words(words, here), [], comment, spoiled or not plain)
        if plain and indent:
            self._end_tabs()  # a line at the margin is indented with neither
        elif not plain:
            first = self.text.place(number, 0, start) if self.tabs is None else self.tabs[0]
            tab = "\t" in line[:start] or (self.tabs is not None and self.tabs[2])
            self.tabs = (first, number, tab)
        self._join(made, indent, plain, number, start)

    def _report_letters(self, number: int, line: str) -> bool:
        for position, name in unwelcome(line):
            place = self.text.place(number, position, position + 1)
            self.findings.append(Finding("letter-not-allowed", place, {"letter": name}))
            return True
        if len(line) > MAX_LETTERS:
            place = self.text.place(number, MAX_LETTERS, len(line))
            self.findings.append(Finding("line-too-long", place, {"limit": str(MAX_LETTERS)}))
            return True
        return False

    def _join(self, made: _Line, indent: int, plain: bool, number: int, start: int) -> None:
        top = self.blocks[-1]
        at = next((b for b in reversed(self.blocks) if b.indent == indent), None)
        if at is not None:
            self._close(indent)
            while self.blocks[-1] is not at:
                self.blocks.pop()
        elif indent > top.indent and self.last is not None:
            if len(self.blocks) >= MAX_NESTING:
                self.too_deep = top.indent
                self.findings.append(
                    Finding("nested-too-deep", made.words.place, {"limit": str(MAX_NESTING)})
                )
                made.spoiled, made.above = True, self._take_waiting()
                self.last.lines.append(made)
                return
            self.blocks.append(_Open(indent, self.last.lines, self.last.end, guessed=not plain))
        elif (block := self._guessed(indent)) is not None:
            block.indent, block.guessed = indent, not plain
        elif self.stray is not None and indent > self.stray[0]:
            # Under a line that was reported, though less deep than the block where that was put.
            self.blocks.append(_Open(indent, self.stray[1].lines, self.stray[1].end))
        elif plain:
            made.spoiled = True
            if self.stray is None or self.stray[0] != indent:
                self._report_indent(indent, number, start)
        if plain and made.spoiled and at is None:
            self.stray = (indent, made)
        elif at is not None:
            self.stray = None
        made.above = self._take_waiting()
        self.blocks[-1].lines.append(made)
        self.last = made

    def _report_indent(self, indent: int, number: int, start: int) -> None:
        possible = sorted({block.indent for block in self.blocks})
        facts = {"found": str(indent), "possible": _listed(possible)}
        self.findings.append(Finding("wrong-indent", self.text.place(number, 0, start), facts))

    def _guessed(self, indent: int) -> _Open | None:
        """The innermost block, if only lines indented with tabs have told where it stands."""
        top = self.blocks[-1]
        return top if top.guessed and indent > self.blocks[-2].indent else None

    def _close(self, indent: int) -> None:
        """Hands comments that stand deeper than the coming line to the blocks that it ends."""
        limit: int | None = None
        rest = 0
        for position, (column, comment) in enumerate(self.waiting):
            if comment == BLANK:
                continue
            limit = column if limit is None else min(limit, column)
            inside = [block for block in self.blocks if block.indent <= limit]
            block = inside[-1] if inside else self.blocks[0]
            if block.indent <= indent:
                break
            block.end.extend(comment for _, comment in self.waiting[rest : position + 1])
            rest = position + 1
        del self.waiting[:rest]

    def _take_waiting(self) -> list[str]:
        taken = [comment for _, comment in self.waiting]
        self.waiting.clear()
        # A blank line before the first line of a block, or before a section, says nothing.
        first = not self.blocks[-1].lines or len(self.blocks) == 1
        while first and taken and taken[0] == BLANK:
            del taken[0]
        return _single_blanks(taken)

    def _end_tabs(self) -> None:
        if self.tabs is not None:
            place, last, tab = self.tabs
            facts = {"last": str(last)} if last > place.line else {}
            if not tab:
                facts["no tab"] = "yes"
            self.findings.append(Finding("tab-indent", place, facts))
            self.tabs = None

    def finish(self) -> Layout:
        self._end_tabs()
        self._close(-1)
        for block in self.blocks:
            block.end[:] = _single_blanks(block.end)
        closing = self.root.end
        while closing and closing[0] == BLANK:
            del closing[0]
        lines = tuple(line.frozen() for line in self.root.lines)
        return Layout(lines, _without_last_blanks(closing), tuple(self.findings))


def _width(indentation: str) -> tuple[int, bool]:
    """How wide an indentation is, and whether it is made of plain blanks only."""
    if indentation.strip(" ") == "":
        return len(indentation), True
    return len(indentation.expandtabs(2)), False


def _listed(numbers: Iterable[int]) -> str:
    *most, last = (str(number) for number in numbers)
    return f"{', '.join(most)} or {last}" if most else last


def _single_blanks(comments: list[str]) -> list[str]:
    return [
        comment
        for position, comment in enumerate(comments)
        if comment != BLANK or position == 0 or comments[position - 1] != BLANK
    ]


def _without_last_blanks(comments: list[str]) -> tuple[str, ...]:
    single = _single_blanks(comments)
    while single and single[-1] == BLANK:
        single.pop()
    return tuple(single)
