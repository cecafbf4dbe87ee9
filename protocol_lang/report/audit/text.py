"""The report on a terminal or in a plain text file: every form and table fits the width."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from protocol_lang.audited import Audit
from protocol_lang.report.audit.content import report
from protocol_lang.report.audit.pieces import (
    Form,
    Heading,
    Items,
    Line,
    Numbers,
    Paragraph,
    Piece,
    Row,
    Signatures,
    Table,
    without_isolates,
)
from protocol_lang.report.letters import HARD_BLANK, fit, width, wrap
from protocol_lang.report.setting import Setting
from protocol_lang.wording import audit as words

_BETWEEN = 2
#: A column of words that is narrower than this tires the eye.
_LEAST = 12
_DOTS = "." * 24


def render(audit: Audit, width: int = 72, colour: bool = False, ascii_only: bool = False) -> str:
    """The report as text, without a last line feed; no line is longer than ``width`` columns.

    ``width``: at least 24 are used, and at most 96. ``colour``: bold by the usual escape sequences.
    ``ascii_only``: nothing but ASCII.
    """
    page = _Page(width, colour, ascii_only)
    whole = report(audit)
    page.put(whole.title.upper(), bold=True)
    page.put(whole.subtitle)
    for piece in whole.first:
        page.piece(piece)
    for piece in whole.after if whole.is_cut else ():
        page.piece(piece)
    for part in whole.parts:
        page.gap()
        page.put(part.title.upper(), bold=True)
        for piece in part.pieces:
            page.piece(piece)
    page.gap()
    page.put(whole.foot)
    return page.text()


class _Page(Setting):
    """A page that knows the pieces of a report."""

    def __init__(self, columns: int, colour: bool, ascii_only: bool) -> None:
        super().__init__(columns, colour, ascii_only)
        self.ascii_only = ascii_only

    def piece(self, piece: Piece) -> None:
        """Sets down one piece, with a blank line before it."""
        self.gap()
        match piece:
            case Paragraph(text, strong):
                self.put(without_isolates(text), bold=strong)
            case Heading(text):
                self.put(text, bold=True)
            case Items(lines, lead):
                if lead:
                    self.put(without_isolates(lead))
                self.items(lines)
            case Numbers(pairs):
                most = max(len(value) for value, _ in pairs)
                for value, label in pairs:
                    self.put(label, "  " + value.rjust(most) + "  ", bold=True)
            case Form():
                self.form(piece)
            case Table():
                self.table(piece)
            case Signatures(head, rows):
                self.signatures(head, rows)

    def items(self, lines: Sequence[Line], depth: int = 1) -> None:
        """A list, what belongs to a line under it."""
        for line in lines:
            self.put(without_isolates(line.text), "  " * (depth - 1) + "- ")
            self.items(line.deeper, depth + 1)

    def form(self, form: Form) -> None:
        """The heading, and under it the rows."""
        lead = f"{form.mark}. ".ljust(self.indent) if form.mark else ""
        self.put(without_isolates(form.heading), lead, bold=True)
        for row in form.rows:
            self.row(row.label, list(_beside(row)))

    def signatures(self, head: Sequence[str], rows: Sequence[str]) -> None:
        """Dotted lines to write on."""
        for number, who in enumerate(rows):
            if number:
                self.gap()
            self.put(f"{head[0]}: {who}")
            for label in head[1:]:
                self.laid(f"  {label.ljust(10)}  {_DOTS}"[: self.columns])

    # --- Tables -----------------------------------------------------------------------------------

    def table(self, table: Table) -> None:
        """Columns beside each other; if the page is too narrow for that, a form for each row."""
        rows = [self.cells(row) for row in table.rows]
        head = self.cells(table.head)
        widths = self.widths(table, [head, *rows])
        if table.caption:
            self.put(table.caption)
            self.gap()
        if widths is None:
            self.forms(table, rows)
        else:
            self.set_row(head, widths, table.widths, bold=True)
            apart = any(
                width(line) > wide or len(cell) > 1
                for row in rows
                for cell, wide in zip(row, widths, strict=True)
                for line in cell
            )
            for number, row in enumerate(rows, start=1):
                last = table.total and number == len(rows)
                if apart or last:
                    self.gap()
                self.set_row(row, widths, table.widths, bold=last)
        if table.left and table.left[-1]:
            self.gap()
            self.put(table.left[-1])

    def cells(self, row: Sequence[str]) -> list[list[str]]:
        """The lines of each cell, safe to be shown."""
        return [
            [fit(line, self.ascii_only) for line in without_isolates(cell).split("\n")]
            for cell in row
        ]

    def widths(self, table: Table, rows: Sequence[list[list[str]]]) -> list[int] | None:
        """Of the columns; None if they do not go beside each other."""
        natural = [
            max(width(line) for row in rows for line in row[column])
            for column in range(len(table.head))
        ]
        # A column of numbers is as wide as the widest word of its head.
        least = [
            min(_LEAST, wide)
            if share
            else max(width(word) for row in rows for line in row[at] for word in line.split(" "))
            for at, (wide, share) in enumerate(zip(natural, table.widths, strict=True))
        ]
        room = self.columns - _BETWEEN * (len(natural) - 1)
        if sum(least) > room:
            return None
        widths = least
        left = room - sum(least)
        while left > 0:
            wanting = [
                at for at, share in enumerate(table.widths) if share and natural[at] > widths[at]
            ]
            if not wanting:
                break
            # The column that is narrowest for its share gets the next place.
            at = min(wanting, key=lambda at: widths[at] / table.widths[at])
            widths[at] += 1
            left -= 1
        return widths

    def set_row(
        self,
        row: Sequence[Sequence[str]],
        widths: Sequence[int],
        shares: Sequence[int],
        bold: bool = False,
    ) -> None:
        """One row; the lines of its cells beside each other."""
        wrapped = [list(_wrapped(cell, wide)) for cell, wide in zip(row, widths, strict=True)]
        for at in range(max(map(len, wrapped))):
            line = ""
            start = 0
            for lines, wide, share in zip(wrapped, widths, shares, strict=True):
                text = lines[at] if at < len(lines) else ""
                blanks = " " * (wide - width(text))
                line += " " * (start - width(line)) + (text if share else blanks + text)
                start += wide + _BETWEEN
            self.laid(line, bold)

    def forms(self, table: Table, rows: Sequence[list[list[str]]]) -> None:
        """A form for each row, under its first cell."""
        for row in rows:
            self.gap()
            first, *more = row[0]
            self.put(first, bold=True)
            for line in more:
                self.put(line, " " * self.indent)
            columns = list(zip(table.head, row, table.widths, strict=True))[1:]
            for label, cell, share in columns:
                if share and any(cell):
                    self.row(label.lower(), cell)
            counted = [(label, cell[0]) for label, cell, share in columns if not share]
            if counted:
                self.row(table.counts or counted[0][0].lower(), [self.counted(table, counted)])

    def counted(self, table: Table, pairs: Sequence[tuple[str, str]]) -> str:
        """The numbers of a row as words; a single one under its own label."""
        pairs = [(label.replace(" ", HARD_BLANK), value) for label, value in pairs]
        return words.counted(pairs) if table.counts else pairs[0][1]


def _beside(row: Row) -> Iterator[str]:
    if row.lead:
        yield without_isolates(row.lead)
    yield from _indented(row.lines, 2 if row.lead else 0)


def _indented(lines: Iterable[Line], depth: int) -> Iterator[str]:
    for line in lines:
        yield " " * depth + without_isolates(line.text)
        yield from _indented(line.deeper, depth + 2)


def _wrapped(cell: Sequence[str], wide: int) -> Iterator[str]:
    """The lines of a cell; where one of several runs on, it is set in."""
    hang = "  " if len(cell) > 1 and wide > _LEAST // 2 else ""
    for line in cell:
        lines = wrap(line, wide)
        if len(lines) > 1 and hang:
            lines = wrap(line, wide - len(hang))
        yield lines[0] if lines else ""
        yield from (hang + more for more in lines[1:])
