"""The report as one HTML file: no scripts, nothing from elsewhere, made to be read and printed.

Black on white; what is to be corrected, considered or waived is told by words and by the outline of
its number. The foot of printed pages follows CSS Paged Media (margin boxes).
"""

from __future__ import annotations

import html
import re
from collections.abc import Iterable, Iterator, Sequence

from protocol_lang.audited import Audit
from protocol_lang.report.audit.content import report
from protocol_lang.report.audit.pieces import (
    ISOLATE,
    RELEASE,
    Form,
    Heading,
    Items,
    Line,
    Numbers,
    Paragraph,
    Part,
    Piece,
    Report,
    Row,
    Signatures,
    Table,
    without_isolates,
)
from protocol_lang.wording import audit as words

_STYLE = """
:root { color: #000; background: #fff; font: 15px/1.45 "Noto Sans", "Segoe UI", Arial, sans-serif; }
body { max-width: 60rem; margin: 2rem auto; padding: 0 1.5rem; overflow-wrap: anywhere; }
h1 { font-size: 2rem; line-height: 1.15; margin: 0 0 .2rem; }
h2 { font-size: 1.35rem; margin: 2.6rem 0 .6rem; border-top: .3rem solid #000; padding-top: .5rem; }
h3 { font-size: 1.08rem; margin: 1.8rem 0 .5rem; }
h4 { font-size: 1rem; margin: 0; display: flex; gap: .7rem; align-items: baseline; }
.first h2 { border: 0; padding: 0; margin: 1.6rem 0 .5rem; font-size: 1.15rem; }
p { margin: .5rem 0; max-width: 46rem; }
.strong { font-weight: 700; font-size: 1.1rem; }
.numbers { display: flex; flex-wrap: wrap; gap: 0 3rem; margin: 1.2rem 0; padding: 0; }
.numbers div { min-width: 8rem; border-top: 2px solid #000; padding-top: .3rem; }
.numbers dd { margin: 0; font-size: 2.6rem; font-weight: 700; line-height: 1.1; }
.numbers div { display: flex; flex-direction: column-reverse; }
.wide { overflow-x: auto; margin: .6rem 0 1rem; }
table { border-collapse: collapse; width: 100%; font-size: .9rem; }
caption { text-align: start; padding: .2rem 0 .4rem; color: #333; }
th, td { text-align: start; vertical-align: top; padding: .35rem .8rem .35rem 0; font-weight: 400;
  min-width: 6.5rem; }
thead th { font-weight: 700; vertical-align: bottom; border-bottom: 2px solid #000; }
tbody tr { border-bottom: 1px solid #8a8a8a; }
tbody tr.total > * { font-weight: 700; border-top: 2px solid #000; }
.n { text-align: end; width: 4.6rem; min-width: 0; overflow-wrap: normal;
  font-variant-numeric: tabular-nums; }
.also { display: block; color: #333; }
.form { margin: 1rem 0 1.4rem; padding-top: .6rem; border-top: 1px solid #000; }
.mark { flex: none; min-width: 1.6rem; text-align: center; padding: 0 .25rem; font-weight: 700;
  border: 2px solid #000; box-sizing: border-box; }
.correct .mark { background: #000; color: #fff; }
.waived .mark { border-style: dashed; }
.rows { display: grid; grid-template-columns: 7rem 1fr; gap: .25rem 1rem; margin: .5rem 0 0; }
.rows dt { color: #333; }
.rows dd { margin: 0; }
ul { margin: .1rem 0; padding-inline-start: 1.1rem; }
.rows dd > ul { padding-inline-start: 0; list-style: none; }
.rows dd > .lead + ul { padding-inline-start: 1.1rem; list-style: disc; }
.sign { table-layout: fixed; min-width: 34rem; }
.sign td { height: 2.8rem; border-inline-end: 1px solid #8a8a8a; padding-inline-start: .5rem; }
.sign th { border-inline-end: 1px solid #8a8a8a; padding-inline: .5rem; }
.sign tbody tr { border-bottom: 1px solid #000; }
footer { margin-top: 3rem; border-top: 1px solid #000; padding-top: .5rem; font-size: .85rem; }
a { color: #000; }
@media (max-width: 40rem) {
  .rows { grid-template-columns: 1fr; gap: 0; }
  .rows dd { margin: 0 0 .4rem 1rem; }
}
@media print {
  :root { font-size: 10pt; }
  body { max-width: none; margin: 0; padding: 0; }
  nav, footer { display: none; }
  .wide { overflow: visible; }
  th, td, .sign { min-width: 0; }
  .first { break-after: page; }
  h2, h3, h4 { break-after: avoid; }
  tr, .numbers { break-inside: avoid; }
  thead { display: table-header-group; }
  p, li { orphans: 3; widows: 3; }
}
SHARES
@page { size: A4; margin: 18mm 16mm 22mm 18mm;
  @bottom-left { content: FOOT; font: 7.5pt "Noto Sans", Arial, sans-serif; width: 75%;
    text-align: left; vertical-align: top; padding-top: 4mm; }
  @bottom-right { content: PAGES; font: 7.5pt "Noto Sans", Arial, sans-serif; vertical-align: top;
    padding-top: 4mm; white-space: nowrap; }
}
"""


def render(audit: Audit) -> str:
    """The report as an HTML document, with a last line feed; to be written as UTF-8."""
    whole = report(audit)
    title = _text(f"{whole.title}. {whole.subtitle}")
    lines = [
        "<!DOCTYPE html>",
        '<html lang="en" dir="ltr">',
        "<head>",
        '<meta charset="utf-8">',
        '<meta http-equiv="Content-Security-Policy" '
        "content=\"default-src 'none'; style-src 'unsafe-inline'\">",
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        f"<title>{title}</title>",
        f"<style>{_style(whole)}</style>",
        "</head>",
        "<body>",
        *_body(whole),
        "</body>",
        "</html>",
    ]
    return "\n".join(lines) + "\n"


def _style(whole: Report) -> str:
    of = words.page_of("\0", "\1")
    pages = re.sub(r"([^\0\1]+)", lambda found: f" {_css(found[1])} ", of)
    pages = pages.replace("\0", "counter(page)").replace("\1", "counter(pages)")
    shares = "\n".join(f".w{part} {{ width: {part}%; }}" for part in range(5, 100, 5))
    style = _STYLE.replace("SHARES", shares).replace("PAGES", pages.strip())
    return style.replace("FOOT", _css(whole.foot))


def _css(text: str) -> str:
    """A string in a style sheet: all but letters and digits as escapes."""
    plain = without_isolates(text)
    inside = "".join(
        one if one.isascii() and one.isalnum() else f"\\{ord(one):06x}" for one in plain
    )
    return f'"{inside}"'


#: A stroke inside a long word, such as the path of a file: a line may end after it.
_STROKE = re.compile(r"(?<=\w)/(?=\w)")


def _text(text: str) -> str:
    safe = _STROKE.sub("/<wbr>", html.escape(text, quote=True))
    return safe.replace(ISOLATE, "<bdi>").replace(RELEASE, "</bdi>")


def _body(whole: Report) -> Iterator[str]:
    yield '<header class="first">'
    yield f"<h1>{_text(whole.title)}</h1>"
    yield f"<p>{_text(whole.subtitle)}</p>"
    for piece in whole.first:
        yield from _piece(piece, "h2")
    yield "</header>"
    yield f'<nav aria-label="{_text(words.CONTENTS)}"><ul>'
    for part in whole.parts:
        yield f'<li><a href="#{part.key}">{_text(part.title)}</a></li>'
    yield "</ul></nav>"
    yield "<main>"
    if whole.is_cut:
        yield '<section class="after">'
        for piece in whole.after:
            yield from _piece(piece, "h2")
        yield "</section>"
    for part in whole.parts:
        yield from _part(part)
    yield "</main>"
    yield f"<footer>{_text(whole.foot)}</footer>"


def _part(part: Part) -> Iterator[str]:
    yield f'<section aria-labelledby="{part.key}">'
    yield f'<h2 id="{part.key}">{_text(part.title)}</h2>'
    for piece in part.pieces:
        yield from _piece(piece, "h3")
    yield "</section>"


def _piece(piece: Piece, heading: str) -> Iterator[str]:
    match piece:
        case Paragraph(text, strong):
            yield f'<p class="strong">{_text(text)}</p>' if strong else f"<p>{_text(text)}</p>"
        case Heading(text):
            yield f"<{heading}>{_text(text)}</{heading}>"
        case Items(lines, lead):
            if lead:
                yield f"<p>{_text(lead)}</p>"
            yield from _list(lines)
        case Numbers(pairs):
            yield '<dl class="numbers">'
            for value, label in pairs:
                yield f"<div><dt>{_text(label)}</dt><dd>{_text(value)}</dd></div>"
            yield "</dl>"
        case Form():
            yield from _form(piece)
        case Table():
            yield from _table(piece)
        case Signatures():
            yield from _signatures(piece)


def _list(lines: Iterable[Line]) -> Iterator[str]:
    yield "<ul>"
    for line in lines:
        if line.deeper:
            yield f"<li>{_text(line.text)}"
            yield from _list(line.deeper)
            yield "</li>"
        else:
            yield f"<li>{_text(line.text)}</li>"
    yield "</ul>"


def _form(form: Form) -> Iterator[str]:
    yield f'<article class="form {form.kind}">'
    mark = f'<span class="mark">{_text(form.mark)}</span> ' if form.mark else ""
    yield f"<h4>{mark}<span>{_text(form.heading)}</span></h4>"
    yield '<dl class="rows">'
    for row in form.rows:
        yield from _row(row)
    yield "</dl>"
    yield "</article>"


def _row(row: Row) -> Iterator[str]:
    yield f"<dt>{_text(row.label)}</dt>"
    if len(row.lines) == 1 and not row.lines[0].deeper and not row.lead:
        yield f"<dd>{_text(row.lines[0].text)}</dd>"
        return
    yield "<dd>"
    if row.lead:
        yield f'<span class="lead">{_text(row.lead)}</span>'
    yield from _list(row.lines)
    yield "</dd>"


def _table(table: Table) -> Iterator[str]:
    yield '<div class="wide">'
    yield "<table>"
    if table.caption:
        yield f"<caption>{_text(table.caption)}</caption>"
    yield _columns(table.widths)
    yield from _head(table.head, table.widths)
    yield "<tbody>"
    for number, row in enumerate(table.rows, start=1):
        last = table.total and number == len(table.rows)
        yield '<tr class="total">' if last else "<tr>"
        for at, (cell, share) in enumerate(zip(row, table.widths, strict=True)):
            tag = 'th scope="row"' if at == 0 else "td" if share else 'td class="n"'
            yield f"<{tag}>{_cell(cell)}</{tag[:2]}>"
        yield "</tr>"
    yield "</tbody></table></div>"
    if table.left and table.left[-1]:
        yield f"<p>{_text(table.left[-1])}</p>"


def _columns(widths: Sequence[int]) -> str:
    """Of the columns with words, how much of the width each gets, in steps of five."""
    room = 100 - 8 * widths.count(0)
    shares = [round(share / sum(widths) * room / 5) * 5 for share in widths]
    columns = "".join(f'<col class="w{share}">' if share else "<col>" for share in shares)
    return f"<colgroup>{columns}</colgroup>"


def _cell(cell: str) -> str:
    first, *others = cell.split("\n")
    also = "".join(f' <span class="also">{_text(line)}</span>' for line in others)
    return _text(first) + also


def _head(head: Sequence[str], widths: Sequence[int]) -> Iterator[str]:
    yield "<thead><tr>"
    for text, share in zip(head, widths, strict=True):
        of_numbers = "" if share else ' class="n"'
        yield f'<th scope="col"{of_numbers}>{_text(text)}</th>'
    yield "</tr></thead>"


def _signatures(block: Signatures) -> Iterator[str]:
    yield '<div class="wide"><table class="sign">'
    yield from _head(block.head, [1] * len(block.head))
    yield "<tbody>"
    for who in block.rows:
        empty = "<td></td>" * (len(block.head) - 1)
        yield f'<tr><th scope="row">{_text(who)}</th>{empty}</tr>'
    yield "</tbody></table></div>"
