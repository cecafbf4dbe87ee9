"""Draws every shipped protocol anew into ``diagrams/``, in folders as in ``protocols/``.

Run by ``make diagrams``. Beside each picture (.svg) stands its graph as text (.gv), in which
changes can be read and by which a test finds pictures out of date. Neither is edited by hand.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

from protocol_lang.diagram import Graph, draw, text
from protocol_lang.pages import picture
from protocol_lang.pipeline import check_file

ROOT = Path(__file__).resolve().parent.parent


def graphs() -> Iterator[tuple[Path, Graph]]:
    """(where it is drawn to, without ending; its graph) of every shipped protocol with steps."""
    for path in sorted((ROOT / "protocols").rglob("*.protocol")):
        if not path.read_text(encoding="utf-8").startswith("protocol "):
            continue  # words, rooms and data have no steps to draw
        checked = check_file(path, mend=False)
        if checked.unfolded is None or checked.judgement is None:
            raise SystemExit(f"{path.relative_to(ROOT)} has faults; nothing was drawn.")
        place = (ROOT / "diagrams" / path.relative_to(ROOT / "protocols")).with_suffix("")
        yield place, picture(checked.unfolded, checked.judgement, {})


def main() -> int:
    """Draw them all, and take away what is no longer shipped."""
    drawn: set[Path] = set()
    for place, graph in list(graphs()):
        place.parent.mkdir(parents=True, exist_ok=True)
        made = {".gv": text(graph).encode(), ".svg": draw(graph)}
        for suffix, content in made.items():
            target = place.with_suffix(suffix)
            target.write_bytes(content)
            drawn.add(target)
        print(f"drew {place.with_suffix('.svg').relative_to(ROOT).as_posix()}")
    for old in (ROOT / "diagrams").rglob("*"):
        if old.suffix in (".gv", ".svg") and old not in drawn:
            old.unlink()
    return 0


if __name__ == "__main__":
    sys.exit(main())
