"""From the path of a file to a protocol: with what follows it in a visit, or all that a day
names."""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

from protocol_lang.findings import Finding, Unchecked
from protocol_lang.language import tree
from protocol_lang.language.alone import Loaded, in_order, load_alone, load_text_alone
from protocol_lang.language.limits import MAX_FILES
from protocol_lang.language.opening import Titled, find_titled, slug
from protocol_lang.language.resolve import header_of
from protocol_lang.language.tree import Words
from protocol_lang.model.compose import Composed, Turn, day_of, one_after_the_other
from protocol_lang.model.protocol import Protocol, Role
from protocol_lang.resources import folder
from protocol_lang.text import Text, Unreadable

__all__ = ["Loaded", "load", "load_text"]


def load(
    path: Path,
    library: Path | None = None,
    name: str | None = None,
    instead: Mapping[str, Text] | None = None,
    base: Path | None = None,
) -> Loaded:
    """Reads a file, all that it takes words from and all that it is put together with.

    As :func:`~protocol_lang.language.alone.load_alone`, which it raises with; ``library``: unless
    told otherwise, the folder of protocols that travels with the program. ``instead``: texts to be
    read in the place of files, by the names shown to people: what a change would come to.
    ``base``: what a local edition adapts, in the place of the file that is found by its title.
    """
    library = library or folder("protocols")
    return _assembled(load_alone(path, library, name, instead, base), path, library, instead)


def load_text(
    text: Text,
    beside: Path | None = None,
    library: Path | None = None,
    base: Path | None = None,
) -> Loaded:
    """The same for a text at hand that lies in the folder ``beside``, or nowhere."""
    library = library or folder("protocols")
    return _assembled(load_text_alone(text, beside, library, base), None, library)


def _assembled(
    root: Loaded,
    path: Path | None,
    library: Path,
    instead: Mapping[str, Text] | None = None,
) -> Loaded:
    """The file with what its header names; as it is, if it names nothing."""
    day = root.root.kind == "day"
    if not day and not any(isinstance(line, tree.Then) for line in root.root.header):
        return root
    assembler = _Assembler(library, instead)
    if path is not None:
        assembler.known[Path(os.path.realpath(path))] = root
    composed = assembler.day(root) if day else assembler.visit(root)
    every = (*assembler.used, root)
    files = dict.fromkeys(source for loaded in every for source in loaded.files)
    own = root.files[-1]
    ordered = (*(source for source in files if source != own), own)
    findings = [*assembler.findings]
    protocol = root.protocol
    if composed is not None:
        findings += composed.findings
        protocol = replace(composed.protocol, files=ordered)
    whole = bool(composed) and not findings and all(loaded.complete for loaded in every)
    return Loaded(
        protocol=protocol,
        findings=_once(in_order([*_of(every), *findings], ordered)),
        unchecked=_unchecked(every),
        files=ordered,
        texts={name: text for loaded in every for name, text in loaded.texts.items()},
        complete=whole,
        root=root.root,
        beside=root.beside,
        packaged=root.packaged,
        adapted=root.adapted,
        base=root.base,
    )


def _of(every: Iterable[Loaded]) -> list[Finding]:
    return [finding for loaded in every for finding in loaded.findings]


def _unchecked(every: Iterable[Loaded]) -> tuple[Unchecked, ...]:
    return tuple(part for loaded in every for part in loaded.unchecked)


def _once(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Each finding once: files that several take words from are read for each of them."""
    found = {(f.kind, f.place, tuple(sorted(f.facts.items()))): f for f in findings}
    return tuple(found.values())


@dataclass(slots=True)
class _Assembler:
    """Opens the protocols that a file names, each once."""

    library: Path
    instead: Mapping[str, Text] | None = None
    findings: list[Finding] = field(default_factory=list)
    known: dict[Path, Loaded] = field(default_factory=dict)
    used: list[Loaded] = field(default_factory=list)

    def visit(self, root: Loaded) -> Composed | None:
        """The file and what follows it; None if that is not known."""
        chain = self.chain(root, [_title(root)])
        if chain is None:
            return None
        whole = Composed(chain[-1], ())
        findings: list[Finding] = []
        for one in reversed(chain[:-1]):
            whole = one_after_the_other(one, whole.protocol)
            findings += whole.findings
        return Composed(whole.protocol, tuple(findings))

    def day(self, root: Loaded) -> Composed | None:
        """All that a day names; None if part of it is not known."""
        named: dict[str, list[tuple[Words, tuple[Protocol, ...] | None]]] = {}
        seen: dict[str, Words] = {}
        for line in root.root.header:
            if not isinstance(line, tree.PartsOfDay):
                continue
            for asked in line.titles:
                first = seen.setdefault(slug(asked.plain), asked)
                if first is not asked:
                    self._tell("part-twice", asked, {"title": asked.plain}, first)
                    continue
                loaded = self._open(asked, root)
                chain = None if loaded is None else self.chain(loaded, [_title(loaded)])
                named.setdefault(line.role, []).append((asked, chain))
        if "visits" not in named:
            self.findings.append(Finding("day-without-visits", root.root.place))
            return None
        turns = [*self._visits(named["visits"]), *self._night(named)]
        turns += [Turn(Role.BESIDE, chain) for _, chain in named.get("beside", ()) if chain]
        if self.findings or any(chain is None for ones in named.values() for _, chain in ones):
            return None
        return day_of(header_of(root.root), turns)

    def _visits(self, named: Iterable[tuple[Words, tuple[Protocol, ...] | None]]) -> list[Turn]:
        for asked, chain in named:
            if chain and chain[0].follows:
                self._tell("visit-is-a-part", asked, {"title": asked.plain})
        return [Turn(Role.VISIT, chain) for _, chain in named if chain]

    def _night(
        self, named: dict[str, list[tuple[Words, tuple[Protocol, ...] | None]]]
    ) -> list[Turn]:
        """Closing the room and opening it again: one more thing that happens between visits."""
        closing = next((chain for _, chain in named.get("closing", ()) if chain), ())
        opening = next((chain for _, chain in named.get("opening", ()) if chain), ())
        morning = opening[0] if closing and opening else None
        if closing and opening and any(one is opening[0] for one in closing):
            opening = ()
        chain = (*closing, *opening)
        if not chain:
            return []
        return [Turn(Role.CLOSING if closing else Role.OPENING, chain, morning=morning)]

    def chain(self, loaded: Loaded, way: list[str]) -> tuple[Protocol, ...] | None:
        """A protocol and those that follow it, one after the other."""
        if loaded.protocol is None:
            return None
        then = next((x for x in loaded.root.header if isinstance(x, tree.Then)), None)
        if then is None:
            return (loaded.protocol,)
        title = then.title
        if slug(title.plain) in map(slug, way):
            circle = ", ".join(f'"{one}"' for one in [*way, title.plain])
            self._tell("parts-in-circle", title, {"circle": circle})
            return None
        later = self._open(title, loaded)
        rest = None if later is None else self.chain(later, [*way, title.plain])
        return None if rest is None else (loaded.protocol, *rest)

    def _open(self, asked: Words, asking: Loaded) -> Loaded | None:
        """The protocol of a title, opened and read; or a finding why there is none."""
        shown = os.path.dirname(asking.files[-1].file)
        found = find_titled(asked, asking.beside, self.library, shown, asking.packaged)
        if isinstance(found, Finding):
            self.findings.append(found)
            return None
        known = self._read(asked, found)
        if known is None:
            return None
        if known.root.title is not None and slug(known.root.title.plain) != slug(asked.plain):
            facts = {"title": asked.plain, "found": known.root.title.plain}
            self._tell("title-differs", asked, facts)
            return None
        if known.root.kind != "protocol":
            self._tell("part-not-protocol", asked, {"title": asked.plain, "kind": known.root.kind})
            return None
        return known

    def _read(self, asked: Words, found: Titled) -> Loaded | None:
        real = Path(os.path.realpath(found.path))
        if real in self.known:
            return self.known[real]
        if len(self.known) >= MAX_FILES:
            self._tell("too-many-files", asked, {"limit": str(MAX_FILES)})
            return None
        try:
            loaded = load_alone(found.path, self.library, found.name, self.instead)
        except Unreadable as error:
            facts = {**error.facts, "title": asked.plain, "why": error.kind}
            self._tell("words-unreadable", asked, facts)
            return None
        self.known[real] = loaded
        self.used.append(loaded)
        return loaded

    def _tell(
        self, kind: str, asked: Words, facts: dict[str, str], first: Words | None = None
    ) -> None:
        others = () if first is None else (("first", first.place),)
        self.findings.append(Finding(kind, asked.place, facts, others=others))


def _title(loaded: Loaded) -> str:
    return "" if loaded.root.title is None else loaded.root.title.plain
