"""Annotated texts: what is expected of a line stands in a comment beside it.

``#! kind "marked words"`` expects one finding of this kind on the line, marking exactly these
words; ``#! below kind "marked words"``, on a line of its own, expects it on the next line, where a
comment would change what is meant. The marked words run to the last double quote of the line.
"""

from __future__ import annotations

import re
from pathlib import Path

from protocol_lang.findings import Finding
from protocol_lang.text import Text

CORPUS = Path(__file__).resolve().parents[1] / "corpus"

_EXPECTED = re.compile(r'#! (below )?([a-z0-9-]+) "(.+)"$')


def faulty(folder: str) -> list[Path]:
    """The annotated texts of a folder of the corpus."""
    return sorted((CORPUS / folder / "faulty").glob("*.protocol"))


def expected(text: Text) -> set[tuple[int, str, str]]:
    """What the annotations of a text expect: line, kind, marked words."""
    found = set()
    for number, line in enumerate(text.lines, start=1):
        match = _EXPECTED.search(line)
        assert ("#!" in line) == (match is not None), f"no good annotation: {line}"
        if match is not None:
            below, kind, words = match.groups()
            found.add((number + (below is not None), kind, words))
    return found


def told(text: Text, findings: tuple[Finding, ...]) -> list[tuple[int, str, str]]:
    """The findings in the same form."""
    places = [(finding, finding.place) for finding in findings]
    return [(p.line, f.kind, text.marked(p)) for f, p in places if p is not None]
