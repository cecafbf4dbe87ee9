"""From the path of a file to a protocol, with everything that is to be told on the way."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from protocol_lang.findings import Finding, Unchecked
from protocol_lang.language.reader import Reading, read
from protocol_lang.language.resolve import resolve
from protocol_lang.model.protocol import Protocol, Source
from protocol_lang.resources import folder
from protocol_lang.text import Text, Unreadable, read_text


@dataclass(frozen=True, slots=True)
class Loaded:
    """What one file and those that it takes words from come to.

    ``protocol``: None for a file of another kind. It holds all that could be understood, and
    nothing may be claimed about it unless ``complete``. ``findings``: in import order of the
    files, then by place. ``unchecked``: steps left out. ``files``: all that were read, in import
    order, the file itself last. ``texts``: their lines, by the name shown to people.
    """

    protocol: Protocol | None
    findings: tuple[Finding, ...]
    unchecked: tuple[Unchecked, ...]
    files: tuple[Source, ...]
    texts: Mapping[str, Text]
    complete: bool


#: Files read in this process, by name shown and content: a vocabulary is read once.
_READ: dict[tuple[str, bytes], Reading] = {}
_MOST_KEPT = 256


def read_once(text: Text) -> Reading:
    """The tree of a text; the same text is read once in a process."""
    key = (text.file, hashlib.blake2b("\n".join(text.lines).encode()).digest())
    reading = _READ.get(key)
    if reading is None:
        if len(_READ) >= _MOST_KEPT:
            _READ.pop(next(iter(_READ)))
        reading = _READ[key] = read(text)
    return reading


def load(path: Path, library: Path | None = None) -> Loaded:
    """Reads a file and all that it takes words from, and looks every name up.

    ``library``: the folder of protocols that travels with the program, unless told otherwise.
    Raises :class:`protocol_lang.text.Unreadable` for the file itself; another file that cannot be
    read is a finding where its words are taken.
    """
    library = library if library is not None else folder("protocols")
    return _resolved(_open(path, library))


def _resolved(opened: list[tuple[Text, bool]]) -> Loaded:
    readings = [read_once(text) for text, _ in opened]
    packaged = [mark for _, mark in opened]
    found = resolve([reading.file for reading in readings], packaged)
    sources = tuple(
        Source(r.file.kind, r.file.title.plain if r.file.title else "", text.file, mark)
        for r, (text, mark) in zip(readings, opened, strict=True)
    )
    text_findings = [finding for reading in readings for finding in reading.findings]
    return Loaded(
        protocol=found.protocol,
        findings=(*text_findings, *found.findings),
        unchecked=found.unchecked,
        files=sources,
        texts={text.file: text for text, _ in opened},
        complete=found.complete and not text_findings,
    )


def _open(path: Path, library: Path) -> list[tuple[Text, bool]]:
    # Until opening.py is here: the same order, none of its care.
    done: dict[Path, tuple[Text, bool]] = {}

    def one(here: Path, packaged: bool) -> None:
        if here in done:
            return
        text = read_text(here, here.name)
        for line in read_once(text).file.header:
            for title in getattr(line, "titles", ()):
                slug = "-".join(
                    "".join(c if c.isalnum() else " " for c in title.plain).lower().split()
                )
                for root in (path.parent, library):
                    found = sorted(root.rglob(f"{slug}.protocol"))
                    if not found and root == library:
                        found = sorted(root.rglob(f"*{slug}*.protocol"))
                    if found:
                        one(found[0], root == library)
                        break
                else:
                    raise Unreadable("file-missing", {"file": slug})
        done[here] = (text, packaged)

    one(path, False)
    return list(done.values())
