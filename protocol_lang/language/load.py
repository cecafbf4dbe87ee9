"""From the path of a file to a protocol, with everything that is to be told on the way."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from protocol_lang.findings import Finding, Unchecked
from protocol_lang.language.opening import Opening, open_file, open_text
from protocol_lang.language.resolve import resolve
from protocol_lang.model.protocol import Protocol, Source
from protocol_lang.resources import folder
from protocol_lang.text import Text


@dataclass(frozen=True, slots=True)
class Loaded:
    """What one file and those that it takes words from come to.

    ``protocol``: None for a file of another kind. It holds all that could be understood, and
    nothing may be claimed about it unless ``complete``. ``findings``: by file, each after those
    that it takes words from, and by place. ``unchecked``: steps left out. ``files``: all that were
    read, in that order, the file itself last. ``texts``: their lines, by the name shown to people.
    """

    protocol: Protocol | None
    findings: tuple[Finding, ...]
    unchecked: tuple[Unchecked, ...]
    files: tuple[Source, ...]
    texts: Mapping[str, Text]
    complete: bool


def load(path: Path, library: Path | None = None, name: str | None = None) -> Loaded:
    """Reads a file and all that it takes words from, and looks every name up.

    ``library``: the folder of protocols that travels with the program, unless told otherwise;
    ``name``: the name shown to people, the path as written unless told otherwise. Each file is read
    once in a process. Raises :class:`protocol_lang.text.Unreadable` for the file itself; another
    file that cannot be read is a finding where its words are taken.
    """
    return _resolved(open_file(path, library or folder("protocols"), name))


def load_text(text: Text, beside: Path | None = None, library: Path | None = None) -> Loaded:
    """The same for a text at hand that lies in the folder ``beside``, or nowhere."""
    return _resolved(open_text(text, beside, library or folder("protocols")))


def _resolved(opening: Opening) -> Loaded:
    files = opening.files
    sources = tuple(
        Source(
            kind=opened.file.kind,
            title=opened.file.title.plain if opened.file.title is not None else "",
            file=opened.text.file,
            packaged=opened.packaged,
        )
        for opened in files
    )
    found = resolve([opened.file for opened in files], sources, hazy=bool(opening.missing))
    return Loaded(
        protocol=found.protocol,
        findings=_in_order((*opening.findings, *found.findings), sources),
        unchecked=found.unchecked,
        files=sources,
        texts={opened.text.file: opened.text for opened in files},
        complete=found.complete and not opening.findings,
    )


def _in_order(findings: Sequence[Finding], sources: Sequence[Source]) -> tuple[Finding, ...]:
    order = {source.file: at for at, source in enumerate(sources)}

    def at(finding: Finding) -> tuple[int, int, int, str]:
        place = finding.place
        if place is None:
            return (-1, 0, 0, finding.kind)
        return (order.get(place.file, len(order)), place.line, place.column, finding.kind)

    return tuple(sorted(findings, key=at))
