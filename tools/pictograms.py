"""Writes the page of pictograms, ``docs/pictograms.md``, and the picture that shows them all.

Run by ``make pictograms``, with what the tests need set up.
"""

from __future__ import annotations

import sys
from pathlib import Path

from protocol_lang import typesetter
from protocol_lang.chart.pictograms import PICTOGRAMS, Kind, Pictogram, drawing

ROOT = Path(__file__).resolve().parent.parent
PAGE = ROOT / "docs" / "pictograms.md"
PICTURE = ROOT / "docs" / "pictures" / "pictograms.png"

_HEAD = """# Pictograms

Written by `make pictograms`; the drawings lie in `protocol_lang/chart/pictograms/`.

They are our own drawings. Shapes and colours follow ISO 3864-1: a blue disc for what must be
done, a red ring and bar for what must not, a yellow triangle for a warning. Where ISO 7010 has a
sign of the same meaning, its code is named; "from memory" says that the code was not read in the
standard. **They are no registered signs:** where law or local rules ask for one, such as the
radiation warning sign at the door of an X-ray room, hang up that one.

Which of them a step shows is told by what its verb does (`of_steps.py` beside the drawings), so a
clinic's own verbs have one too.

![All pictograms, at 15 mm and at 8 mm](pictures/pictograms.png)
"""

_HEADINGS = {
    Kind.MANDATORY: "What is to be done",
    Kind.PROHIBITION: "What is not to be done",
    Kind.WARNING: "Warnings",
}


def page() -> str:
    """The page as it has to be."""
    parts = [_HEAD]
    for kind, heading in _HEADINGS.items():
        rows = [_row(one) for one in PICTOGRAMS.values() if one.kind is kind]
        table = ["| name | meaning | ISO 7010 | code from |", "| --- | --- | --- | --- |", *rows]
        parts.append(f"## {heading}\n\n" + "\n".join(table) + "\n")
    return "\n".join(parts)


def _row(one: Pictogram) -> str:
    return f"| `{one.name}` | {one.meaning} | {one.code or ''} | {one.basis or ''} |"


def picture() -> bytes:
    """All of them on one picture, as PNG."""
    given = {
        "names": list(PICTOGRAMS),
        "drawings": {name: drawing(name) for name in PICTOGRAMS},
        "fonts": list(typesetter.families()),
    }
    template = Path(__file__).with_suffix(".typ")
    (made,) = typesetter.compiled(template, "signs", given, "png", pixels_per_inch=150)
    return made


def main() -> int:
    """Write both."""
    PAGE.write_text(page(), encoding="utf-8")
    PICTURE.write_bytes(picture())
    return 0


if __name__ == "__main__":
    sys.exit(main())
