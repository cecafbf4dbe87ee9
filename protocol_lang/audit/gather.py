"""Which files an audit looks at, under which names, and which it cannot look at.

A name is told from the folder that was given, with "/" between its parts: the same files have the
same names on every machine, wherever the folder lies. Where several folders are given, the end of
the path of each stands before it, as long as it takes to tell them apart.
"""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

#: Files that one audit looks at.
MOST_FILES = 20_000
#: Files and folders that are looked through for them.
MOST_ENTRIES = 400_000

_SUFFIX = ".protocol"


@dataclass(frozen=True, slots=True)
class Gathered:
    """A file to look at, or not: ``cause`` and ``reason`` tell why (as in a report)."""

    name: str
    path: Path
    cause: str | None = None
    reason: str | None = None


class TooMany(Exception):
    """More files than an audit looks at: ``sentence`` says so."""

    def __init__(self, sentence: str) -> None:
        super().__init__(sentence)
        self.sentence = sentence


def gather(paths: Sequence[Path]) -> tuple[Gathered, ...]:
    """The files named, and those in the folders named and below that end in ``.protocol``.

    Sorted by name, each file once. Links are not followed out of the folder: such a one is listed
    with the reason, and so is a folder that may not be read. Raises :class:`TooMany`.
    """
    found: dict[str, Gathered] = {}
    for path, before in zip(paths, _told_apart(paths), strict=True):
        alone = len(paths) == 1
        if os.path.isdir(path):
            for one in _in_folder(path):
                _add(found, one, "" if alone else before)
        else:
            _add(found, Gathered(_sound(path.name), path), "" if alone else os.path.dirname(before))
    return tuple(sorted(found.values(), key=lambda one: one.name))


def _add(found: dict[str, Gathered], one: Gathered, before: str) -> None:
    name = f"{before}/{one.name}" if before else one.name
    real = str(one.path.absolute()) if one.cause is not None else os.path.realpath(one.path)
    found.setdefault(real, Gathered(name, one.path, one.cause, one.reason))
    if len(found) > MOST_FILES:
        raise TooMany(f"There are more than {MOST_FILES:,} files. Name a smaller folder.")


def _told_apart(paths: Sequence[Path]) -> list[str]:
    """For each path its last parts, as few as tell all of them apart."""
    parts = [path.absolute().parts[1:] or ("",) for path in map(_normal, paths)]
    for many in range(1, max(map(len, parts), default=1) + 1):
        ends = ["/".join(map(_sound, one[-many:])) for one in parts]
        if len(set(ends)) == len(set(parts)):
            break
    return ends if parts else []


def _normal(path: Path) -> Path:
    return Path(os.path.normpath(path.absolute()))


def _in_folder(folder: Path) -> Iterator[Gathered]:
    inside = os.path.realpath(folder)
    closed: list[OSError] = []
    links: list[Path] = []
    real: set[str] = set()
    entries = 0
    for here, folders, files in os.walk(folder, followlinks=False, onerror=closed.append):
        folders.sort()
        entries += len(folders) + len(files)
        if entries > MOST_ENTRIES:
            told = _sound(folder.name)
            raise TooMany(
                f'"{told}" holds more than {MOST_ENTRIES:,} files and folders. Name a smaller one.'
            )
        links += [Path(here, name) for name in folders if Path(here, name).is_symlink()]
        for name in sorted(files):
            path = Path(here, name)
            if path.suffix.lower() != _SUFFIX:
                continue
            if path.is_symlink():
                links.append(path)
            else:
                real.add(os.path.realpath(path))
                yield Gathered(_named(path, folder), path)
    for link in links:
        yield from _linked(link, folder, inside, real)
    for error in closed:
        where = Path(os.fsdecode(error.filename)) if error.filename else folder
        why = f"a folder that cannot be read: {error.strerror or 'its name cannot be used'}"
        yield Gathered(_named(where, folder), where, "folder", why)


def _linked(link: Path, folder: Path, inside: str, real: set[str]) -> Iterator[Gathered]:
    """What is told of a link: nothing where it leads to what is looked at anyway."""
    leads = os.path.realpath(link)
    within = leads == inside or Path(leads).is_relative_to(inside)
    name = _named(link, folder)
    if not os.path.exists(leads):
        yield Gathered(name, link, "link", "a link that leads nowhere")
    elif not within:
        yield Gathered(name, link, "link", "a link that leads out of the folder; not followed")
    elif not os.path.isdir(leads) and leads not in real:
        yield Gathered(name, link)


def _named(path: Path, folder: Path) -> str:
    within = path.relative_to(folder).parts
    return "/".join(map(_sound, within)) or _sound(_normal(folder).name)


def _sound(name: str) -> str:
    """A name with bytes that are no text shown as escapes."""
    return os.fsencode(name).decode("utf-8", "backslashreplace")
