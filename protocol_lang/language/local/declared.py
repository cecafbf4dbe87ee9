"""The changes of a local edition in what its base, and the files of the base, declare by name."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from protocol_lang.findings import Finding
from protocol_lang.language import tree
from protocol_lang.language.names import nearest
from protocol_lang.language.spaces import Key, key_of, name_text
from protocol_lang.language.tree import Words

#: What a section declares, by the words that people have for it.
_SORTS: dict[type[tree.Node], str] = {
    tree.Things: "thing",
    tree.People: "person",
    tree.Places: "place",
    tree.Streams: "waste stream",
    tree.Groups: "group",
    tree.Choices: "choice",
    tree.FoundOut: "fact that is found out",
    tree.CanHappen: "mishap",
    tree.Facts: "fact",
    tree.Figures: "figure",
    tree.ExposureSettings: "exposure setting",
    tree.WhomToCall: "one to call",
    tree.Products: "product",
}

#: The same by the heading after "without".
BY_HEADING: dict[str, str] = {
    "surfaces": "thing",
    "boxes": "thing",
    "things": "thing",
    "people": "person",
    "places": "place",
    "waste streams": "waste stream",
    "groups": "group",
    "choices": "choice",
    "found out on the way": "fact that is found out",
    "can happen": "mishap",
    "facts": "fact",
    "figures": "figure",
    "exposure settings": "exposure setting",
    "whom to call": "one to call",
    "products": "product",
}

#: Sections without names: what is said anew takes the place of all that the base says there.
WHOLE = (tree.BeginsWith, tree.Leaves, tree.Air)


def sort_of(section: tree.Node) -> str | None:
    """What the lines of a section declare; None if they have no names."""
    return _SORTS.get(type(section))


def named_in(line: tree.Node) -> tuple[Words, ...]:
    """The names that a line of a section declares. An exposure setting has one, of several words
    set apart by commas."""
    match line:
        case tree.ThingLine(names=names) | tree.PersonLine(names=names):
            return names
        case tree.PlaceLine(names=names):
            return names
        case tree.ExposureLine(of=words):
            text = ", ".join(one.plain for one in words)
            return (Words(text, words[0].place),)
        case (
            tree.ChoiceLine(name=name)
            | tree.FoundOutLine(name=name)
            | tree.Mishap(name=name)
            | tree.FactLine(name=name)
            | tree.StreamLine(name=name)
            | tree.GroupLine(name=name)
            | tree.FigureLine(name=name)
            | tree.CallLine(name=name)
            | tree.ProductLine(name=name)
        ):
            return (name,)
        case _:
            return ()


def alone(line: Any, name: Words) -> Any:
    """A line of a section with this one of its names."""
    if isinstance(line, tree.ThingLine | tree.PersonLine | tree.PlaceLine):
        return replace(line, names=(name,))
    return line


@dataclass(slots=True)
class Declared:
    """The files of a base, in which names are said anew or taken out."""

    files: list[tree.File]
    findings: list[Finding] = field(default_factory=list)

    def instead(self, section: tree.Section) -> None:
        """Says what a section declares in the place of what bears the same names."""
        if isinstance(section, WHOLE):
            self._whole(section)
            return
        if isinstance(section, tree.Verb):
            self._verb(section)
            return
        sort = sort_of(section)
        if sort is None:
            return
        for line in getattr(section, "lines", ()):
            for name in named_in(line):
                self._one(sort, name, section, alone(line, name))

    def without(self, section: tree.Without) -> None:
        """Takes names out."""
        sort = BY_HEADING[section.heading.plain]
        for line in section.lines:
            if not isinstance(line, tree.NamesLine):
                continue
            names: Iterable[Words] = line.names
            if sort == "exposure setting":
                text = ", ".join(name.plain for name in line.names)
                names = (Words(text, line.place),)
            for name in names:
                self._one(sort, name, None, None)

    def _one(
        self, sort: str, name: Words, section: tree.Section | None, new: tree.Node | None
    ) -> None:
        key = key_of(name_text(name))
        found = False
        for at, file in enumerate(self.files):
            sections: list[tree.Section] = []
            for old in file.sections:
                put = None if found or sort_of(old) != sort else _changed(old, key, section, new)
                found = found or put is not None
                sections += [old] if put is None else put
            if found:
                self.files[at] = replace(file, sections=tuple(sections))
                return
        names = list(self._names(sort))
        facts = {"name": name_text(name), "sort": sort}
        near = nearest(name_text(name), names)
        if near is not None:
            facts["meant"] = near
        self.findings.append(Finding("change-unknown-name", name.place, facts))

    def _names(self, sort: str) -> Iterator[str]:
        for file in self.files:
            for section in file.sections:
                if sort_of(section) == sort:
                    for line in getattr(section, "lines", ()):
                        yield from (name_text(name) for name in named_in(line))

    def _whole(self, new: tree.Section) -> None:
        """In the place of the first such section; others of the base are taken out."""
        found = False
        for at, file in enumerate(self.files):
            sections: list[tree.Section] = []
            for old in file.sections:
                if type(old) is not type(new):
                    sections.append(old)
                elif not found:
                    found = True
                    sections.append(new)
            self.files[at] = replace(file, sections=tuple(sections))
        if not found:
            facts = {"name": _heading(new), "sort": "heading"}
            self.findings.append(Finding("change-unknown-name", new.place, facts))

    def _verb(self, new: tree.Verb) -> None:
        for at, file in enumerate(self.files):
            for position, old in enumerate(file.sections):
                if isinstance(old, tree.Verb) and old.form.plain == new.form.plain:
                    sections = list(file.sections)
                    sections[position] = new
                    self.files[at] = replace(file, sections=tuple(sections))
                    return
        forms = [
            section.form.plain
            for file in self.files
            for section in file.sections
            if isinstance(section, tree.Verb)
        ]
        facts = {"name": new.form.plain, "sort": "verb"}
        near = nearest(new.form.plain, forms)
        if near is not None:
            facts["meant"] = near
        self.findings.append(Finding("change-unknown-name", new.form.place, facts))


def _heading(section: tree.Section) -> str:
    return {tree.BeginsWith: "begins with", tree.Leaves: "leaves"}.get(type(section), "air")


def _changed(
    old: Any, key: Key, section: tree.Section | None, new: tree.Node | None
) -> list[tree.Section] | None:
    """A section in which a name is said anew, or taken out: what stands in its place; None if it
    does not declare the name.

    ``section``: that in which it is said anew; if its heading says something else, the line stands
    under it.
    """
    same = section is None or isinstance(old, tree.Things) or _says(old) == _says(section)
    lines: list[tree.Node] = []
    found = False
    for line in old.lines:
        names = named_in(line)
        here = [name for name in names if key_of(name_text(name)) == key]
        if not here or found:
            lines.append(line)
            continue
        found = True
        rest = tuple(name for name in names if name not in here)
        if rest:
            lines.append(replace(line, names=rest))
        if new is not None and same:
            lines.append(new)
    if not found:
        return None
    made: list[tree.Section] = [replace(old, lines=tuple(lines))] if lines else []
    if new is not None and not same:
        other: Any = section
        made.append(replace(other, lines=(new,)))
    return made


def _says(section: Any) -> tuple[object, ...]:
    """What a heading says beyond its sort."""
    match section:
        case tree.Choices(fixed=fixed):
            return (fixed,)
        case tree.Facts(of=of):
            return (of,)
        case tree.CanHappen(phases=phases):
            return phases
        case _:
            return ()


def lines_by_name(files: Sequence[tree.File]) -> dict[tuple[str, Key], tree.Node]:
    """What the files declare by name, each as a line of its own, by sort and name."""
    found: dict[tuple[str, Key], tree.Node] = {}
    for file in files:
        for section in file.sections:
            sort = sort_of(section)
            if sort is None:
                continue
            for line in getattr(section, "lines", ()):
                for name in named_in(line):
                    found.setdefault((sort, key_of(name_text(name))), alone(line, name))
    return found
