"""Draws every shipped protocol anew into ``diagrams/``, in folders as in ``protocols/``.

Run by ``make diagrams``: of each the order of its steps, and its room. Beside each picture (.svg)
stands its graph as text (.gv), in which changes can be read and by which a test finds pictures out
of date. Neither is edited by hand.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path

from protocol_lang.diagram import Page, draw, room_page, steps_page, text
from protocol_lang.pages.picture import picture
from protocol_lang.pages.room_picture import room_picture
from protocol_lang.pipeline import Checked, check_file

ROOT = Path(__file__).resolve().parent.parent
#: What is put behind the name of a protocol for the picture of its room.
ROOM = "-room"


def names() -> Iterator[Path]:
    """Where each shipped protocol with steps is drawn to, without ending. Words, rooms and data
    have none; a day has those of its visits."""
    for path in sorted((ROOT / "protocols").rglob("*.protocol")):
        if path.read_text(encoding="utf-8").startswith("protocol "):
            yield (ROOT / "diagrams" / path.relative_to(ROOT / "protocols")).with_suffix("")


def shipped(places: Iterable[Path]) -> Iterator[tuple[Path, Checked]]:
    """(where it is drawn to; the checked protocol) of each of the places."""
    for place in places:
        path = (ROOT / "protocols" / place.relative_to(ROOT / "diagrams")).with_suffix(".protocol")
        yield place, check_file(path, mend=False)


def pages(places: Iterable[Path]) -> Iterator[tuple[Path, Page]]:
    """(where it is drawn to, without ending; the page) of both pictures of each."""
    for place, checked in shipped(places):
        if checked.unfolded is None or checked.judgement is None:
            raise SystemExit(f"{place.name} has faults; nothing was drawn.")
        yield place, steps_page(picture(checked.unfolded, checked.judgement, {}))
        room = room_picture(checked.unfolded, checked.judgement)
        yield place.with_name(place.name + ROOM), room_page(room)


def main(asked: Sequence[str] = ()) -> int:
    """Draw them all, or only those of the names ``asked``; take away what is no longer shipped."""
    every = list(names())
    drawn = {
        place.with_name(place.name + sort).with_suffix(suffix)
        for place in every
        for sort in ("", ROOM)
        for suffix in (".gv", ".svg")
    }
    for place, page in pages([one for one in every if not asked or one.name in asked]):
        place.parent.mkdir(parents=True, exist_ok=True)
        made = {".gv": text(page).encode(), ".svg": draw(page)}
        for suffix, content in made.items():
            target = place.with_suffix(suffix)
            target.write_bytes(content)
        print(f"drew {place.with_suffix('.svg').relative_to(ROOT).as_posix()}")
    for old in (ROOT / "diagrams").rglob("*"):
        if old.suffix in (".gv", ".svg") and old not in drawn:
            old.unlink()
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
