"""Changes to a text as an author types them: lines put in, written instead, moved.

Nothing is read into the lines but their indentation: what a changed text means, and whether it is
one at all, is for the language to say.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from protocol_lang.language.layout import cut
from protocol_lang.lapsed import Edit
from protocol_lang.text import Place, Text

#: What stands above steps of which the order is free.
ANY_ORDER = "any order"
IN_ORDER = "in order"
DEEPER = "  "


class Lines:
    """The lines of some texts, by the name of the file."""

    def __init__(self, texts: Mapping[str, Text]) -> None:
        self._texts = texts

    def said(self, place: Place) -> str:
        """The line at a place, without its blanks."""
        return self._texts[place.file].lines[place.line - 1].strip()

    def before(self, place: Place, lines: Sequence[str]) -> Edit:
        """``lines`` just before what stands at a place, in the same list.

        Where the order of the list is free, both go into a list of their own.
        """
        return self._put(place, lines, "before")

    def after(self, place: Place, lines: Sequence[str]) -> Edit:
        """``lines`` just after what stands at a place, and what is indented below it."""
        return self._put(place, lines, "after")

    def instead(self, place: Place, line: str, before: Sequence[str] = ()) -> Edit:
        """Another line at a place, with lines before it; what is indented below it stays."""
        if before and self._in_any_order(place):
            block = [line, *(one[len(self._blanks(place)) :] for one in self._block(place)[1:])]
            inside = [IN_ORDER, *(DEEPER + one for one in (*before, *block))]
            return self._for(place, len(block), inside)
        return self._for(place, 1, [*before, line])

    def moved(self, place: Place, to: Place, after: bool = False) -> tuple[Edit, ...]:
        """What stands at a place, with what is indented below it, moved before or after another."""
        block = [line[len(self._blanks(place)) :] for line in self._block(place)]
        away = Edit(place.file, "away", place.line, self.said(place), place.line, len(block), ())
        return away, self._put(to, block, "after" if after else "before")

    def with_more(self, place: Place, words: str) -> Edit:
        """The line at a place with more words at its end, before its comment."""
        plain, comment = cut(self.said(place))
        return self.instead(place, plain + words + (f"  # {comment}" if comment else ""))

    def _put(self, place: Place, lines: Sequence[str], how: str) -> Edit:
        blanks = self._blanks(place)
        block = self._block(place)
        said = self.said(place)
        if not self._in_any_order(place):
            line = place.line + (len(block) if how == "after" else 0)
            new = tuple(blanks + one for one in lines)
            return Edit(place.file, how, place.line, said, line, 0, new)
        old = [one[len(blanks) :] for one in block]
        both = (*lines, *old) if how == "before" else (*old, *lines)
        return self._for(place, len(block), [IN_ORDER, *(DEEPER + one for one in both)])

    def _for(self, place: Place, out: int, lines: Iterable[str]) -> Edit:
        """Lines, as deep as that one, for so many of the text."""
        blanks = self._blanks(place)
        new = tuple((blanks + one).rstrip() for one in lines)
        return Edit(place.file, "instead", place.line, self.said(place), place.line, out, new)

    def _blanks(self, place: Place) -> str:
        line = self._texts[place.file].lines[place.line - 1]
        return line[: len(line) - len(line.lstrip())]

    def _block(self, place: Place) -> list[str]:
        """The line with those that are indented below it."""
        lines = self._texts[place.file].lines
        deep = len(self._blanks(place))
        end = place.line
        for number in range(place.line, len(lines)):
            line = lines[number]
            if not line.strip():
                continue
            if len(line) - len(line.lstrip()) <= deep:
                break
            end = number + 1
        return list(lines[place.line - 1 : end])

    def _in_any_order(self, place: Place) -> bool:
        """Whether the line above, of those that are less deep, leaves the order free."""
        deep = len(self._blanks(place))
        for line in reversed(self._texts[place.file].lines[: place.line - 1]):
            if line.strip() and len(line) - len(line.lstrip()) < deep:
                return cut(line.strip())[0].startswith(ANY_ORDER)
        return False


def fit_together(edits: Iterable[Edit]) -> bool:
    """Whether no edit is about a line that another one takes away."""
    every = list(edits)
    return not any(
        one is not other
        and one.file == other.file
        and one.out
        and (
            one.line < other.line < one.line + one.out or (one.line == other.line and other.out > 0)
        )
        for one in every
        for other in every
    )


def changed(texts: Mapping[str, Text], edits: Iterable[Edit]) -> dict[str, Text]:
    """The texts that the edits change, changed. Every edit counts lines of the text as it was.

    The edits have to fit together.
    """
    found: dict[str, Text] = {}
    every = list(edits)
    for file in dict.fromkeys(edit.file for edit in every):
        lines = list(texts[file].lines)
        mine = [edit for edit in reversed(every) if edit.file == file]
        # From the end on. What goes at a line goes before others come there; of several that come,
        # the one thought of last comes first.
        for edit in sorted(mine, key=lambda one: (-one.line, not one.out)):
            lines[edit.line - 1 : edit.line - 1 + edit.out] = edit.lines
        found[file] = replace(texts[file], lines=tuple(lines))
    return found
