"""Setting text on a page: sentences, forms with labels, wrapped to a width.

No drawing characters and no marks under letters, so that a page can be printed, read aloud and set
in any type. Bold and reverse only repeat what the words and brackets say.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from protocol_lang.report.letters import CLOSE, HARD_BLANK, OPEN, fit, width, wrap

_BOLD, _REVERSE, _NORMAL = "\x1b[1m", "\x1b[7m", "\x1b[0m"

#: Lines longer than this tire the eye, however wide the screen is.
_WIDEST = 96
_NARROWEST = 24


#: What stands beside a label: a text, or a text after a lead ("a) ") under which it hangs. Blanks
#: at the beginning of a text indent all of it.
Text = str | tuple[str, str]


class Setting:
    """Lines of text so far, and how to add to them.

    ``columns``: how long a line may be (at least 24 are used, and at most 96). ``colour``: bold and
    reverse by the usual escape sequences; the author's words are made safe first. ``ascii_only``:
    nothing but ASCII.
    """

    def __init__(self, columns: int = 72, colour: bool = False, ascii_only: bool = False) -> None:
        columns = max(_NARROWEST, min(columns, _WIDEST))
        self.columns = columns
        self._colour = colour
        self._ascii = ascii_only
        self._lines: list[str] = []
        # Below this a column of labels leaves too little room beside it.
        self.stacked = columns < 44
        self.indent = 2 if columns < 60 else 4
        self.label = self.indent + (2 if self.stacked else 10)
        self.closing = 2 if self.stacked else 14

    def text(self) -> str:
        """The page so far, without a last line feed."""
        return "\n".join(self._lines)

    def gap(self) -> None:
        """A blank line, unless one is there already."""
        if self._lines and self._lines[-1]:
            self._lines.append("")

    def put(self, text: str, lead: str = "", bold: bool = False, hang: int = 0) -> None:
        """``text`` after ``lead``, wrapped; further lines begin ``hang`` columns after the text."""
        lead = self._safe(lead)
        hang += width(lead)
        lines = wrap(self._safe(text), max(8, self.columns - hang))
        for at, line in enumerate(self._inked(lines, bold)):
            start = " " * hang if at else lead
            self._lines.append((start + line).rstrip())

    def copy(self, text: str, lead: str = "") -> None:
        """A line as it stands, to be copied: it may be longer than ``columns``."""
        if text.strip():
            self._lines.append(lead + fit(text, self._ascii).rstrip())
        else:
            self.gap()

    def laid(self, text: str, bold: bool = False) -> None:
        """A line that is laid out already: all in it has gone through :func:`fit`."""
        for line in self._inked([text.rstrip()], bold):
            self._lines.append(line)

    def row(self, label: str, texts: Iterable[Text], margin: int | None = None) -> None:
        """A row of a form: the label once, the texts under each other beside it.

        ``margin``: where the label stands; by default inside a finding.
        """
        indent, column = (self.indent, self.label) if margin is None else (margin, self.closing)
        lead = " " * indent + label
        texts = list(texts)
        for text in texts:
            head, body = ("", text) if isinstance(text, str) else text
            body_only = body.lstrip(" ")
            # One of a list: where it runs on must not look like the next.
            hang = 2 if body != body_only or (margin is not None and len(texts) > 1) else 0
            # One long word, such as the path of a file, stays whole if the margin makes it fit.
            taken = width(self._safe(body))
            if " " not in body and column + taken > self.columns >= indent + 2 + taken:
                if lead:
                    self._lines.append(lead)
                    lead = ""
                self.put(body, " " * (indent + 2))
                continue
            if lead and width(lead) >= column:
                self._lines.append(lead)
                lead = ""
            inner = " " * (len(body) - len(body_only)) + head
            self.put(body_only, lead.ljust(column) + inner, hang=hang)
            lead = ""

    def _safe(self, text: str) -> str:
        return fit(text, self._ascii).replace("[ ]", f"[{HARD_BLANK}]")

    def _inked(self, lines: Sequence[str], bold: bool) -> Iterable[str]:
        """Marks and blanks as they are written; what is inked is inked anew on each line."""
        inside = False
        for line in lines:
            line = line.replace(HARD_BLANK, " ")
            if not self._colour:
                yield line.replace(OPEN, "").replace(CLOSE, "")
                continue
            ink = _BOLD if bold else ""
            begins = ink + (_REVERSE if inside else "")
            inside = line.rfind(OPEN) > line.rfind(CLOSE) or (
                inside and OPEN not in line and CLOSE not in line
            )
            body = line.replace(OPEN, _REVERSE).replace(CLOSE, _NORMAL + ink)
            yield begins + body + (_NORMAL if begins or _REVERSE in body else "")

    def brackets(self) -> tuple[str, str]:
        """What stands around the words to change."""
        return ("[[", "]]") if self._ascii else ("⟦", "⟧")
