"""What the header of a file leaves open: whether it meant to take words from further files."""

from __future__ import annotations

from collections.abc import Iterator

from protocol_lang.language import tree
from protocol_lang.language.reading import openers

#: Words by which a line that takes words gives itself away, whatever else is wrong with it.
_SIGNS = frozenset({"takes", "take", "words", "from", "import", "imports", "uses"})


def may_take_more(file: tree.File) -> bool:
    """Whether a line of the header that could not be read may have taken words from a file.

    A line that begins as another line of a header does, or nearly, takes none.
    """
    spoiled = [line for line in file.header if isinstance(line, tree.Spoiled)]
    if file.title is None and not any(_taken(file)):
        return True  # the first line is at fault or missing, and what stands under it with it
    return any(_may_take(line) for line in spoiled)


def _may_take(line: tree.Spoiled) -> bool:
    rule = openers.rule_of(line.words, "header")
    if rule is not None:
        return rule == "takes_words"
    near = openers.nearest(line.words, "header")
    if near is not None:
        return openers.HEADER[near] == "takes_words"
    words = line.words.text.casefold().split()
    return '"' in line.words.text or not _SIGNS.isdisjoint(words)


def stands_alone(file: tree.File) -> bool:
    """Whether a protocol or room takes words from nowhere and has no kinds of thing of its own."""
    if file.kind not in ("protocol", "room") or any(_taken(file)):
        return False
    return not any(isinstance(section, tree.Kinds) for section in file.sections)


def _taken(file: tree.File) -> Iterator[tree.HeaderLine]:
    """The lines that bring words along: a local edition has those of what it adapts."""
    return (line for line in file.header if isinstance(line, tree.TakesWords | tree.Adapts))
