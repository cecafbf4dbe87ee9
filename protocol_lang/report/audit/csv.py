"""The findings as a table for a spreadsheet: one row for each finding in each file, and one for
each file that could not be looked at, with the reason.

As RFC 4180 has it: a head, commas, lines ended by CR LF. A cell that a spreadsheet would take for a
formula begins with an apostrophe instead; control characters are shown as escapes.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Sequence

from protocol_lang.audited import Audit, FileReport, Found
from protocol_lang.report.audit import gathered
from protocol_lang.report.cells import cell
from protocol_lang.wording import audit as words

#: The columns. New ones are added at the end, so that a program can go by place as well.
COLUMNS = (
    "identity", "weight", "since", "waived by", "file", "line", "words", "context", "kind",
    "sentence", "rule", "rules", "edition", "strength", "sources", "choices", "because", "change",
    "story", "by", "until",
)  # fmt: skip


def render(audit: Audit) -> str:
    """The table as text; to be written as UTF-8, line ends as they are."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    for row in _rows(audit):
        writer.writerow([cell(value) for value in row])
    return out.getvalue()


def _rows(audit: Audit) -> Iterator[Sequence[str]]:
    editions = {pack.title: pack.edition for pack in audit.packs}
    sources = {(one.pack, one.rule): one.sources for one in gathered.rules(audit)}
    for file in audit.files:
        if file.state == "not checked":
            yield _not_looked_at(file)
        for found in file.found:
            edition = editions.get(found.pack or "")
            named = sources.get((found.pack or "", found.rule or ""), ())
            yield (
                found.identity,
                found.weight,
                found.since.value,
                found.waived or "",
                file.file,
                "" if found.line is None else str(found.line),
                found.words or "",
                found.context or "",
                found.kind,
                found.sentence,
                found.rule or "",
                found.pack or "",
                "" if edition is None else str(edition),
                found.strength or "",
                "; ".join(named),
                "; ".join(f"{choice}: {value}" for choice, value in found.choices),
                found.because or "",
                "\n".join(found.changes),
                "\n".join(_story(found)),
                found.by or file.owner or "",
                found.until.isoformat() if found.until else "",
            )


def _not_looked_at(file: FileReport) -> Sequence[str]:
    """The row of a file that nothing is known about."""
    told = {
        "weight": "not checked",
        "file": file.file,
        "kind": file.cause or "",
        "sentence": file.reason or "",
        "by": file.owner or "",
    }
    return [told.get(column, "") for column in COLUMNS]


def _story(found: Found) -> Iterator[str]:
    for step in found.story:
        told = words.step(step.line, step.person, step.text)
        moved = "; ".join(words.moves(source, [goal]) for source, goal in step.moves)
        yield f"{words.visit(step.visit)}, {told}" + (f" ({moved})" if moved else "")
