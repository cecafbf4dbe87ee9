"""A file with all the files that it takes words from, opened by their titles.

``takes words from "Imaging room 2"`` asks for ``imaging-room-2.protocol``: in the folder of the
file that asks, else in a folder below it, the least deep one first, else among the files that
travel with the program, and nowhere else. No path, no address, no link that leads out of those
folders.
"""

from __future__ import annotations

import os
import time
import unicodedata
from collections import OrderedDict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import lru_cache
from pathlib import Path

from protocol_lang.findings import Finding, Weight
from protocol_lang.language import tree
from protocol_lang.language.limits import MAX_ENTRIES, MAX_FILES, MAX_TOTAL_BYTES
from protocol_lang.language.local import adapts
from protocol_lang.language.reader import Reading, read
from protocol_lang.language.reading.openers import nearest_of
from protocol_lang.language.tree import Words
from protocol_lang.prints import of_texts
from protocol_lang.text import Place, Text, Unreadable, read_text, without_joiners

_SUFFIX = ".protocol"

#: Rooms that are looked at for one that a protocol may have meant to take words from.
MOST_ROOMS = 12

#: Reading is a pure function of the text; shared rooms and vocabularies are read once a process.
#: More than one file may take from, and few enough that a process that reads thousands stays small.
_read = lru_cache(maxsize=MAX_FILES + 32)(read)


def reading_of(text: Text) -> Reading:
    """A text as a tree; what has been read in this process is not read again."""
    return _read(text)


@dataclass(frozen=True, slots=True)
class Opened:
    """A file that was opened and read. ``packaged``: it travels with the program.

    ``base``: of a local edition, which of the files before it is the one that it adapts.
    ``fingerprint``: of such a base, with all that it takes words from; ``path``: where it lies.
    """

    text: Text
    reading: Reading
    packaged: bool
    base: int | None = None
    fingerprint: str = ""
    path: Path | None = None

    @property
    def file(self) -> tree.File:
        """What the file says."""
        return self.reading.file


@dataclass(frozen=True, slots=True)
class Opening:
    """A file and everything it takes words from.

    ``files``: those taken from before those that take, so the file itself is the last; each once.
    ``findings``: what is wrong in any of them, and in how they take words from each other.
    ``missing``: the titles that could not be opened: their names are unknown, not misspelt.
    """

    files: tuple[Opened, ...]
    findings: tuple[Finding, ...]
    missing: tuple[Words, ...]


def open_file(
    path: Path,
    packaged: Path,
    name: str | None = None,
    instead: Mapping[str, Text] | None = None,
    base: Path | None = None,
) -> Opening:
    """Opens a file by its path; ``packaged``: the folder of the files that travel along.

    ``instead``: texts to be read in the place of files, by the name shown to people. ``base``: the
    file that it adapts, in the place of the one that is found by its title.

    Raises :class:`~protocol_lang.text.Unreadable` when the file itself cannot be read. Whatever is
    wrong with the files it takes words from is a finding at the title that asks for them.
    """
    text = (instead or {}).get(str(path) if name is None else name) or read_text(path, name)
    return _open(text, path, path.parent, packaged, instead, base)


def open_text(text: Text, folder: Path | None, packaged: Path, base: Path | None = None) -> Opening:
    """The same for a text at hand, which lies in ``folder`` or nowhere."""
    return _open(text, None, folder, packaged, None, base)


def _open(
    text: Text,
    path: Path | None,
    folder: Path | None,
    packaged: Path,
    instead: Mapping[str, Text] | None = None,
    base: Path | None = None,
) -> Opening:
    opener = _Opener(packaged, instead or {}, base)
    opener.first = None if path is None else os.path.realpath(path)
    inside = opener.first is not None and _is_below(opener.first, os.path.realpath(packaged))
    opener.visit(text, _read(text), folder, os.path.dirname(text.file), inside)
    ordered = sorted(
        {id(found): found for found in opener.findings}.values(),
        key=lambda found: (found.place is not None, found.place, found.kind),
    )
    return Opening(tuple(opener.opened), tuple(ordered), tuple(opener.missing))


def rooms_near(folder: Path | None, packaged: Path) -> tuple[str, ...]:
    """The titles of the rooms in a folder and below, then of those that travel along, each once.

    At most :data:`MOST_ROOMS`. Told by the names of the files and by their first lines.
    """
    titles: dict[str, str] = {}
    for root in [packaged] if folder is None else [folder, packaged]:
        for name, paths in sorted((_files_below(root) or {}).items()):
            if name in titles or len(titles) >= MOST_ROOMS:
                continue
            try:
                file = _read(read_text(_nearest(paths)[0])).file
            except Unreadable:
                continue
            if file.kind == "room" and file.title is not None and slug(file.title.plain) == name:
                titles[name] = file.title.plain
    return tuple(titles.values())


@dataclass(frozen=True, slots=True)
class Titled:
    """A file found by its title: its path, the name shown to people."""

    path: Path
    name: str


def find_titled(
    asked: Words, folder: Path | None, packaged: Path, shown: str, inside: bool
) -> Titled | Finding:
    """The file of a title, as for words that are taken; or why there is none.

    ``shown``: the folder of the file that asks, as people see it; ``inside``: that file travels
    with the program.
    """
    title = asked.plain
    if any(sign in title for sign in "/\\:") or title.startswith(".") or not slug(title):
        return Finding("title-is-path", asked.place, {"title": title})
    opener = _Opener(packaged)
    found = opener.find(asked, folder, inside)
    if found is None:
        return opener.findings[-1]
    path, root, within = found
    return Titled(path, opener.shown(path, root, shown, within))


def slug(title: str) -> str:
    """The name of a file, without its ending, that is made of a title.

    Letters, their marks and digits of every script stay, in small letters; all else becomes a
    hyphen, never two in a row.
    """
    plain = unicodedata.normalize("NFC", without_joiners(title)).casefold()
    kept = (c if unicodedata.category(c)[0] in "LMN" else " " for c in plain)
    return "-".join("".join(kept).split())


def kept_name(title: str, edition: int) -> str:
    """The name, without its ending, of a copy of one edition of a protocol that is kept."""
    return f"{slug(title)}-edition-{edition}"


@dataclass(slots=True)
class _Opener:
    packaged: Path
    instead: Mapping[str, Text] = field(default_factory=dict)
    # The file that the first one adapts, if it is not to be looked for.
    base: Path | None = None
    opened: list[Opened] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    missing: list[Words] = field(default_factory=list)
    # The real path of the first file, unless it is a text that lies nowhere.
    first: str | None = None
    # The titles of the files on the way from the first one to this one. They tell the files apart:
    # a file whose title is not its name, or a second one of the same title, is not opened.
    way: list[str] = field(default_factory=list)
    done: dict[Path, str] = field(default_factory=dict)
    by_slug: dict[str, Path] = field(default_factory=dict)
    folders: dict[Path, Mapping[str, tuple[Path, ...]] | None] = field(default_factory=dict)
    letters: int = 0
    told_limit: bool = False

    def visit(
        self,
        text: Text,
        reading: Reading,
        folder: Path | None,
        shown: str,
        packaged: bool,
    ) -> None:
        """Opens what a file takes words from, then adds the file itself."""
        title = "" if reading.file.title is None else reading.file.title.plain
        self.way.append(title)
        self.findings += reading.findings
        adapting = adapts(reading.file)
        base = None
        if adapting is not None and reading.file.kind == "protocol":
            base = self._adapt(adapting, folder, shown, packaged)
            if base is None:
                self.missing.append(adapting.title)
        for line in reading.file.header:
            if isinstance(line, tree.TakesWords):
                for asked in line.titles:
                    if not self._take(asked, folder, shown, packaged):
                        self.missing.append(asked)
        self.opened.append(Opened(text, reading, packaged, base))
        self.way.pop()

    # --- The base of a local edition -------------------------------------------------------------

    def _adapt(
        self, line: tree.Adapts, folder: Path | None, shown: str, packaged: bool
    ) -> int | None:
        """Opens the protocol that a file adapts, with all that it takes words from.

        Where it stands among the opened ones; None, and told, when it cannot be had.
        """
        asked = line.title
        if any(sign in asked.plain for sign in "/\\:") or not slug(asked.plain):
            self._report("title-is-path", asked, {"title": asked.plain})
            return None
        if slug(asked.plain) in map(slug, self.way):
            self._report("base-in-circle", asked, {"title": asked.plain})
            return None
        found = self._base(line, folder, packaged)
        if found is None:
            return None
        path, name, inside = found
        if os.path.realpath(path) == self.first:
            self._report("base-in-circle", asked, {"title": asked.plain})
            return None
        try:
            text = self.instead.get(name) or read_text(path, name)
        except Unreadable as error:
            facts = {**error.facts, "title": asked.plain, "why": error.kind}
            self._report("words-unreadable", asked, facts)
            return None
        file = _read(text).file
        if file.kind != "protocol":
            self._report("base-not-protocol", asked, {"title": asked.plain, "kind": file.kind})
            return None
        if file.title is not None and slug(file.title.plain) != slug(asked.plain):
            facts = {"title": asked.plain, "found": file.title.plain}
            self._report("title-differs", asked, facts)
            return None
        before = len(self.opened)
        self.done[path] = name
        self.visit(text, _read(text), path.parent, os.path.dirname(name), inside)
        closure = [one.text for one in self.opened[before:]]
        fingerprint = of_texts([text, *closure])
        self._pinned(line, file, fingerprint, folder, packaged)
        self.opened[-1] = replace(self.opened[-1], fingerprint=fingerprint, path=path)
        return len(self.opened) - 1

    def _base(
        self, line: tree.Adapts, folder: Path | None, packaged: bool
    ) -> tuple[Path, str, bool] | None:
        """The file of the base: its path, the name shown to people, whether it travels along.

        A copy of that edition that was kept goes before the newest one.
        """
        if self.base is not None and len(self.way) == 1:
            inside = _is_below(os.path.realpath(self.base), os.path.realpath(self.packaged))
            return self.base, str(self.base), inside
        shown = os.path.dirname(line.place.file)
        kept = self._kept(line, folder, packaged)
        if kept is not None:
            path, root, inside = kept
            return path, self.shown(path, root, shown, inside), inside
        found = self.find(line.title, folder, packaged)
        if found is None:
            return None
        path, root, inside = found
        return path, self.shown(path, root, shown, inside), inside

    def _kept(
        self, line: tree.Adapts, folder: Path | None, packaged: bool
    ) -> tuple[Path, Path, bool] | None:
        """A copy of that edition that the clinic has kept."""
        name = kept_name(line.title.plain, line.edition)
        if folder is None or packaged:
            return None
        paths = _nearest((self._index(folder) or {}).get(name, ()))
        return (paths[0], folder, False) if len(paths) == 1 else None

    def _pinned(
        self,
        line: tree.Adapts,
        base: tree.File,
        fingerprint: str,
        folder: Path | None,
        packaged: bool,
    ) -> None:
        """Tells where the base is not the one that the local edition was written for."""
        edition = next((x.number for x in base.header if isinstance(x, tree.Edition)), None)
        title = line.title.plain
        facts = {
            "title": title,
            "asked": str(line.edition),
            "found": "none" if edition is None else str(edition),
            "fingerprint": fingerprint,
        }
        others = (("the base", base.place),)
        if edition is not None and edition > line.edition:
            self._tell("base-newer", line, facts, others, Weight.CONSIDER)
        elif edition != line.edition:
            self._tell("base-other-edition", line, facts, others)
        elif line.fingerprint is not None and line.fingerprint.plain.casefold() != fingerprint:
            self._tell("base-changed", line, facts, others)
        elif self._kept(line, folder, packaged) is not None and self.base is None:
            newer = self._newest(line, folder, packaged)
            if newer is not None and newer > line.edition:
                facts["found"] = str(newer)
                self._tell("base-newer", line, {**facts, "kept": "yes"}, (), Weight.CONSIDER)

    def _newest(self, line: tree.Adapts, folder: Path | None, packaged: bool) -> int | None:
        """The edition of the file that bears the title itself, beside a copy that was kept."""
        places = [] if folder is None or packaged else [folder]
        for root in [*places, self.packaged]:
            paths = _nearest((self._index(root) or {}).get(slug(line.title.plain), ()))
            if len(paths) == 1:
                try:
                    file = _read(read_text(paths[0])).file
                except Unreadable:
                    return None
                return next((x.number for x in file.header if isinstance(x, tree.Edition)), None)
        return None

    def _tell(
        self,
        kind: str,
        line: tree.Adapts,
        facts: Mapping[str, str],
        others: tuple[tuple[str, Place], ...],
        weight: Weight = Weight.CORRECT,
    ) -> None:
        self.findings.append(Finding(kind, line.place, facts, others, weight=weight))

    def _take(self, asked: Words, folder: Path | None, shown: str, packaged: bool) -> bool:
        """Opens one file by its title, unless that was done before; false when it cannot be."""
        title = asked.plain
        if any(sign in title for sign in "/\\:") or title.startswith(".") or not slug(title):
            return self._report("title-is-path", asked, {"title": title})
        if slug(title) == slug(self.way[-1]) and self._shares_title(asked, folder, packaged):
            return False
        if self._circle(asked):
            return False
        found = self.find(asked, folder, packaged)
        if found is None:
            return False
        path, root, inside = found
        if self.first is not None and os.path.realpath(path) == self.first:
            titles = self.way[:1] * 2
            return self._report("takes-words-in-circle", asked, {"circle": _quoted(titles)})
        if path in self.done:
            return True
        known = self.by_slug.setdefault(slug(title), path)
        name = self.shown(path, root, shown, inside)
        if known != path:
            if _same_text(known, path):
                return True  # a copy that lies nearer to another file
            facts = {"title": title, "files": f"{self.done.get(known, known.name)}, {name}"}
            return self._report("words-found-twice", asked, facts)
        if len(self.done) >= MAX_FILES:
            return self._report_limit("too-many-files", asked, str(MAX_FILES))
        try:
            text = self.instead.get(name) or read_text(path, name)
        except Unreadable as error:
            self.done[path] = name
            facts = {**error.facts, "title": title, "why": error.kind}
            return self._report("words-unreadable", asked, facts)
        self.letters += sum(len(line.encode()) + 1 for line in text.lines)
        if self.letters > MAX_TOTAL_BYTES:
            return self._report_limit("too-large-together", asked, f"{MAX_TOTAL_BYTES >> 20} MiB")
        self.done[path] = name
        reading = _read(text)
        if not self._suits(asked, reading.file):
            return False
        self.visit(text, reading, path.parent, os.path.dirname(name), inside)
        return True

    def _suits(self, asked: Words, file: tree.File) -> bool:
        if file.title is None:
            return True  # its first line has been reported
        if slug(file.title.plain) != slug(asked.plain):
            facts = {"title": asked.plain, "found": file.title.plain}
            return self._report("title-differs", asked, facts)
        if file.kind == "protocol":
            return self._report("takes-from-protocol", asked, {"title": asked.plain})
        return True

    def _shares_title(self, asked: Words, folder: Path | None, packaged: bool) -> bool:
        """Whether the file that asks has the title of another one, which it asks for."""
        places = [] if folder is None or packaged else [folder]
        for root in [*places, self.packaged]:
            for path in (self._index(root) or {}).get(slug(asked.plain), ()):
                real = os.path.realpath(path)
                if real != self.first and path not in self.done:
                    facts = {"title": asked.plain, "file": path.name}
                    self._report("title-shared", asked, facts)
                    return True
        return False

    def _circle(self, asked: Words) -> bool:
        """Whether a file of this title is on the way to itself."""
        way = [slug(title) for title in self.way]
        if slug(asked.plain) not in way:
            return False
        titles = self.way[way.index(slug(asked.plain)) :]
        self._report("takes-words-in-circle", asked, {"circle": _quoted([*titles, titles[0]])})
        return True

    def find(
        self, asked: Words, folder: Path | None, packaged: bool
    ) -> tuple[Path, Path, bool] | None:
        """The file of a title, the folder it was looked for in, and whether it travels along."""
        name = slug(asked.plain)
        places = [] if folder is None or packaged else [(folder, False)]
        near: set[str] = set()
        for root, inside in [*places, (self.packaged, True)]:
            index = self._index(root)
            if index is None:
                facts = {"folder": str(root), "limit": f"{MAX_ENTRIES:,}"}
                self._report("folder-too-large", asked, facts)
                return None
            paths = _nearest(index.get(name, ()))
            if len(paths) > 1:
                files = ", ".join(sorted(str(p.relative_to(root)) for p in paths))
                self._report("words-found-twice", asked, {"title": asked.plain, "files": files})
                return None
            if paths:
                return paths[0], root, inside
            near |= index.keys()
        facts = {"title": asked.plain, "name": name + _SUFFIX}
        meant = nearest_of((other, name) for other in sorted(near))
        if meant is not None:
            facts["meant"] = meant.replace("-", " ").capitalize()
        self._report("words-not-found", asked, facts)
        return None

    def _index(self, root: Path) -> Mapping[str, tuple[Path, ...]] | None:
        if root not in self.folders:
            self.folders[root] = _files_below(root)
        return self.folders[root]

    def shown(self, path: Path, root: Path, shown: str, inside: bool) -> str:
        """The name that people see: as the first file was named, or from the shipped folder on."""
        parts = path.relative_to(root).parts
        base = root.name if inside else shown
        return os.path.join(base, *parts) if base else os.path.join(*parts)

    def _report(self, kind: str, asked: Words, facts: Mapping[str, str]) -> bool:
        self.findings.append(Finding(kind, asked.place, facts))
        return False

    def _report_limit(self, kind: str, asked: Words, limit: str) -> bool:
        if not self.told_limit:
            self.told_limit = True
            self._report(kind, asked, {"limit": limit})
        return False


def _same_text(one: Path, other: Path) -> bool:
    try:
        return read_text(one, "").lines == read_text(other, "").lines
    except Unreadable:
        return False


def _quoted(titles: Iterable[str]) -> str:
    return ", ".join(f'"{title}"' for title in titles)


def _files_below(root: Path) -> Mapping[str, tuple[Path, ...]] | None:
    """The protocol files in a folder and below it by the names that titles ask for.

    Links to folders are not followed, links to files only when they stay below the folder. Folders
    whose name begins with a dot are left out. None when there is too much to look through. What was
    found is kept for the next file of the same folder, as long as no folder has changed.
    """
    kept = _listings.pop(root, None)
    if kept is None or not kept.holds():
        kept = _listed(root)
    if kept is None:
        return None
    if kept.lasts:
        _listings[root] = kept
        if len(_listings) > MOST_LISTINGS:
            _listings.popitem(last=False)
    return kept.found


#: Folders whose files are remembered in a process: those that travel along, and a few that hold
#: the files that are looked at one after the other.
MOST_LISTINGS = 8

#: How old the last change of a folder must be for its listing to be kept, in nanoseconds: a second
#: change within the same tick of a coarse clock would not show.
_SETTLED = 3_000_000_000


@dataclass(frozen=True, slots=True)
class _Listing:
    """The files ``found`` below a folder. ``folders``: each folder that was looked through, with
    what tells whether something was put there or taken away since. ``lasts``: that tells all."""

    found: Mapping[str, tuple[Path, ...]]
    folders: tuple[tuple[str, _State | None], ...]
    lasts: bool

    def holds(self) -> bool:
        """Whether every folder is as it was."""
        return all(_state(folder) == state for folder, state in self.folders)


#: (device, number, time of the last change) of a folder.
_State = tuple[int, int, int]

_listings: OrderedDict[Path, _Listing] = OrderedDict()


def _state(folder: str) -> _State | None:
    try:
        known = os.stat(folder)
    except OSError:
        return None
    return known.st_dev, known.st_ino, known.st_mtime_ns


def _listed(root: Path) -> _Listing | None:
    """The folder looked through; None when there is too much of it."""
    found: dict[str, list[Path]] = {}
    inside = os.path.realpath(root)
    begun = time.time_ns()
    looked_at = [(os.fspath(root), _state(os.fspath(root)))]
    entries = 0
    links = False
    for here, folders, files in os.walk(root):
        folders[:] = sorted(name for name in folders if not name.startswith("."))
        looked_at += [(path, _state(path)) for path in (os.path.join(here, f) for f in folders)]
        entries += len(folders) + len(files)
        if entries > MAX_ENTRIES:
            return None
        for name in files:
            stem, suffix = os.path.splitext(name)
            if suffix.casefold() != _SUFFIX:
                continue
            path = Path(here, name)
            if path.is_symlink():
                links = True  # what it leads to may change, and no folder tells
                if not _is_below(os.path.realpath(path), inside):
                    continue
            plain = unicodedata.normalize("NFC", without_joiners(stem)).casefold()
            found.setdefault(plain, []).append(path)
    settled = all(one is not None and begun - one[2] > _SETTLED for _, one in looked_at)
    return _Listing(
        {name: tuple(sorted(paths)) for name, paths in found.items()},
        tuple(looked_at),
        settled and not links,
    )


def _nearest(paths: tuple[Path, ...]) -> tuple[Path, ...]:
    """Those in the folder itself, else those least deep below it: copies lie deeper."""
    least = min((len(path.parts) for path in paths), default=0)
    return tuple(path for path in paths if len(path.parts) == least)


def _is_below(path: str, folder: str) -> bool:
    return Path(path).is_relative_to(folder)
