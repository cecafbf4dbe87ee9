"""Two editions of a shipped file: the old one as shipped, the new one with something changed."""

from __future__ import annotations

import shutil
from collections.abc import Iterable
from pathlib import Path

from protocol_lang.comparison import Comparison
from protocol_lang.pipeline import check_file, compared
from protocol_lang.resources import folder
from tests.planting import planted

ROOM = folder("protocols") / "imaging-room-2"
WIRED = "intraoral-wired-sensor"

#: (old text, new text); the old text must be there.
Changes = Iterable[tuple[str, str]]


def editions(
    where: Path,
    changes: Changes = (),
    room: Changes = (),
    name: str = WIRED,
    before: Changes = (),
) -> tuple[Path, Path]:
    """The paths of both editions, each in a folder of its own with the room and all beside it.

    ``before``: what is changed in the old edition.
    """
    paths = []
    for edition, told, of_room in (("old", before, ()), ("new", changes, room)):
        beside = where / edition
        beside.mkdir(parents=True)
        for file in ROOM.glob("*.protocol"):
            shutil.copy(file, beside)
        for file_name, wanted in ((name, told), ("imaging-room-2", of_room)):
            path = beside / f"{file_name}.protocol"
            text = path.read_text("utf-8")
            for one, other in wanted:
                text = planted(text, one, other, 1)
            path.write_text(text, "utf-8")
        paths.append(beside / f"{name}.protocol")
    return paths[0], paths[1]


def comparison(
    where: Path, changes: Changes = (), room: Changes = (), name: str = WIRED, before: Changes = ()
) -> Comparison:
    """The two editions compared."""
    old, new = editions(where, changes, room, name, before)
    return compared(check_file(old), check_file(new))


def both_ways(where: Path, changes: Changes, room: Changes = ()) -> tuple[Comparison, Comparison]:
    """Old with new, and new with old."""
    old, new = (check_file(path) for path in editions(where, changes, room))
    return compared(old, new), compared(new, old)
