"""Which protocols a set of charts is of, and by which code each edition is told."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from protocol_lang.cli import pictures
from protocol_lang.cli.exits import CannotCarryOut


def protocols(paths: tuple[str, ...]) -> list[Path]:
    """The files of all protocols meant, each once, in the order told.

    A file is meant itself; a day, all protocols that it names; a folder, every protocol in it but
    those that only go on with another. Raises :class:`CannotCarryOut` with a sentence.
    """
    from protocol_lang.cli.check import _files

    refused: list[CannotCarryOut] = []
    found: dict[Path, Path] = {}
    for path, named in _files(paths, refused):
        for one in _meant(path, named):
            found.setdefault(one.resolve(), one)
    if refused:
        raise refused[0]
    if not found:
        shown = pictures.shown(Path(paths[0]))
        raise CannotCarryOut(f'No file in "{shown}" is a protocol, so there is no chart to print.')
    return list(found.values())


def _meant(path: Path, named: bool) -> Iterator[Path]:
    from protocol_lang.cli.check import unreadable
    from protocol_lang.language.alone import load_alone
    from protocol_lang.resources import folder
    from protocol_lang.text import Unreadable

    library = folder("protocols")
    try:
        read = load_alone(path, library)
    except Unreadable as problem:
        raise CannotCarryOut(unreadable(problem)) from None
    if read.root.kind == "day" and named:
        yield from _of_day(path)
    elif named or (read.root.kind == "protocol" and not _follows(path)):
        yield path


def _follows(path: Path) -> bool:
    """Whether it is only done after another protocol, on whose chart it stands."""
    from protocol_lang.language.load import load

    protocol = load(path).protocol
    return protocol is not None and protocol.follows


def _of_day(path: Path) -> Iterator[Path]:
    """The files of the protocols that a day names."""
    from protocol_lang.findings import Finding
    from protocol_lang.language import tree
    from protocol_lang.language.alone import load_alone
    from protocol_lang.language.opening import find_titled
    from protocol_lang.resources import folder

    library = folder("protocols")
    day = load_alone(path, library)
    for line in day.root.header:
        if not isinstance(line, tree.PartsOfDay):
            continue
        for asked in line.titles:
            found = find_titled(asked, day.beside, library, str(path.parent), day.packaged)
            if isinstance(found, Finding):
                raise CannotCarryOut(
                    f'"{pictures.shown(path)}" names "{asked.plain}", and there is no such file. '
                    '"protocol-lang check" tells more.'
                )
            yield found.path


def fingerprint(path: Path) -> str:
    """Of all files that a protocol is read from. Raises :class:`CannotCarryOut`."""
    from protocol_lang.chart import edition
    from protocol_lang.cli.check import unreadable
    from protocol_lang.language.load import load
    from protocol_lang.text import Unreadable

    try:
        read = load(path)
    except Unreadable as problem:
        raise CannotCarryOut(unreadable(problem)) from None
    own = read.texts[read.files[-1].file]
    return edition.fingerprint([own, *read.texts.values()])
