"""Which protocols a set of charts is of, and by which code each edition is told."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from protocol_lang.cli import pictures
from protocol_lang.cli.exits import CannotCarryOut

if TYPE_CHECKING:
    from protocol_lang.language.alone import Loaded
    from protocol_lang.language.tree import Words


def protocols(paths: tuple[str, ...]) -> list[Path]:
    """The files of all protocols meant, each once, in the order told.

    A file is meant itself; a day, all protocols that it names; a folder, every protocol in it but
    those that others there go on with, on whose charts they stand. Raises :class:`CannotCarryOut`
    with a sentence.
    """
    from protocol_lang.cli.check import _files

    refused: list[CannotCarryOut] = []
    found: dict[Path, Path] = {}
    listed = list(_files(paths, refused))
    if refused:
        raise refused[0]
    on_others = _gone_on_with([path for path, named in listed if not named])
    for path, named in listed:
        for one in _meant(path, named, on_others):
            found.setdefault(Path(os.path.realpath(one)), one)
    if not found:
        shown = pictures.shown(Path(paths[0]))
        raise CannotCarryOut(f'No file in "{shown}" is a protocol, so there is no chart to print.')
    return list(found.values())


def _meant(path: Path, named: bool, on_others: frozenset[str]) -> Iterator[Path]:
    """``on_others``: what stands on the charts of other protocols."""
    root = _read(path).root
    if root.kind == "day" and named:
        yield from _of_day(path)
    elif named or (root.kind == "protocol" and _slug(root.title) not in on_others):
        yield path


def _gone_on_with(paths: list[Path]) -> frozenset[str]:
    """The titles that these protocols name as what they go on with, in the form of file names."""
    from protocol_lang.language import tree

    headers = [line for path in paths for line in _read(path).root.header]
    return frozenset(_slug(line.title) for line in headers if isinstance(line, tree.Then))


def _slug(title: Words | None) -> str:
    from protocol_lang.language.opening import slug

    return "" if title is None else slug(title.plain)


def _read(path: Path) -> Loaded:
    """One file as it is written. Raises :class:`CannotCarryOut`."""
    from protocol_lang.cli.check import unreadable
    from protocol_lang.language.alone import load_alone
    from protocol_lang.resources import folder
    from protocol_lang.text import Unreadable

    try:
        return load_alone(path, folder("protocols"))
    except Unreadable as problem:
        raise CannotCarryOut(unreadable(problem)) from None


def _of_day(path: Path) -> Iterator[Path]:
    """The files of the protocols that a day names."""
    from protocol_lang.findings import Finding
    from protocol_lang.language import tree
    from protocol_lang.language.opening import find_titled
    from protocol_lang.resources import folder

    library = folder("protocols")
    day = _read(path)
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
    from protocol_lang import prints
    from protocol_lang.cli.check import unreadable
    from protocol_lang.language.load import load
    from protocol_lang.text import Unreadable

    try:
        read = load(path)
    except Unreadable as problem:
        raise CannotCarryOut(unreadable(problem)) from None
    own = read.texts[read.files[-1].file]
    return prints.in_full([own, *read.texts.values()])
