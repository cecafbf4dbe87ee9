"""A protocol of the library as the texts of a clinic's own: with its room, and what follows it.

What lies beside the protocols of the library, rooms among them, is copied: it is the clinic's to
change. The shared words and data (``vocabulary``, ``data``) stay with the program.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from protocol_lang.language import tree
from protocol_lang.language.opening import slug
from protocol_lang.language.reader import read
from protocol_lang.resources import folder
from protocol_lang.text import Text, read_text

#: Folders of what all clinics share, and none copies.
_SHARED = frozenset({"vocabulary", "data"})

#: Lines of the header that hold for the library's own clinic only.
_THEIRS = (tree.InForce, tree.ReviewBy, tree.Owner)

_TO_FILL_IN = """\
  # Take the # away from the next lines, and put in your own days and name:
  # in force from 2027-01-01
  # review by 2028-01-01
  # owner infection control lead""".splitlines()

_SETTLE = "For the local lead"


@dataclass(frozen=True, slots=True)
class Copied:
    """A file of a copy. ``kind``: as its first line says it; ``name``: of the file.

    ``of``: the title that the library has it under. ``settle``: what its header leaves to the local
    lead. ``lines_to_fill_in``: numbers of the lines with days and owner; ``examples``: headings of
    sections whose figures are examples only.
    """

    kind: tree.FileKind
    title: str
    name: str
    of: str
    text: str
    settle: tuple[str, ...]
    lines_to_fill_in: tuple[int, ...]
    examples: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Copy:
    """All files of a copy, the one that was asked for first. ``room``: the title of its room."""

    files: tuple[Copied, ...]
    room: str | None


def copy(path: Path, title: str | None = None, room: str | None = None) -> Copy:
    """What a clinic gets that begins from a protocol of the library.

    ``path``: of that protocol; ``title``: its new one; ``room``: the new one of its room, if it has
    just one. All files come under names made of their titles, which lead from one to the other as
    before. Raises :class:`ValueError` if two of them would have the same name.
    """
    found = tuple(_taken_along(path))
    rooms = [file for _, file in found if file.kind == "room"]
    renamed: dict[str, str] = {}
    if title is not None:
        renamed[_title(found[0][1])] = title
    if room is not None and len(rooms) == 1:
        renamed[_title(rooms[0])] = room
    made = tuple(_copied(text, file, renamed) for text, file in found)
    if len({one.name for one in made}) < len(made):
        raise ValueError("two files of the copy have the same name")
    return Copy(made, rooms[0].title.plain if len(rooms) == 1 and rooms[0].title else None)


def _taken_along(path: Path) -> Iterator[tuple[Text, tree.File]]:
    """The file and, each once, what its header and those of the others lead to."""
    by_name = {other.stem: other for other in folder("protocols").rglob("*.protocol")}
    waiting, seen = [path], {path}
    while waiting:
        text = read_text(waiting.pop(0))
        file = read(text).file
        yield text, file
        for line in file.header:
            for title in _led_to(line):
                other = by_name[slug(title.plain)]
                if other not in seen and other.parent.name not in _SHARED:
                    seen.add(other)
                    waiting.append(other)


def _led_to(line: tree.HeaderLine) -> tuple[tree.Words, ...]:
    match line:
        case tree.TakesWords() | tree.PartsOfDay():
            return line.titles
        case tree.Then():
            return (line.title,)
    return ()


def _copied(text: Text, file: tree.File, renamed: dict[str, str]) -> Copied:
    lines = list(text.lines)
    theirs = _title(file)
    title = renamed.get(theirs, theirs)
    lines[0] = lines[0].replace(f'"{theirs}"', f'"{title}"')
    gone = []
    for line in file.header:
        at = line.place.line - 1
        if isinstance(line, tree.Edition):
            begun = (
                f'  # Begun from "{theirs}", edition {line.number}, which comes with the program.'
            )
            lines[at] = f"  edition 1\n{begun}"
        elif isinstance(line, _THEIRS):
            gone.append(at)
        elif _led_to(line):
            for old, new in renamed.items():
                lines[at] = lines[at].replace(f'"{old}"', f'"{new}"')
    if gone:
        lines[gone[0]] = "\n".join(_TO_FILL_IN)
        for at in reversed(gone[1:]):
            del lines[at]
    whole = "\n".join(lines) + "\n"
    return Copied(
        kind=file.kind,
        title=title,
        name=f"{slug(title)}.protocol",
        of=theirs,
        text=whole,
        settle=tuple(_settle(file)),
        lines_to_fill_in=tuple(
            number for number, line in enumerate(whole.splitlines(), 1) if line in _TO_FILL_IN[1:]
        ),
        examples=tuple(
            match[0]
            for match in re.finditer("^(?:exposure settings|whom to call)$", whole, re.MULTILINE)
        ),
    )


def _settle(file: tree.File) -> Iterator[str]:
    for line in file.header:
        if isinstance(line, tree.Note) and _SETTLE in line.text.plain:
            yield line.text.plain.partition(_SETTLE)[2].partition(":")[2].strip()


def _title(file: tree.File) -> str:
    assert file.title is not None
    return file.title.plain
