"""The names that a file itself declares and a chart may print, for those who translate them."""

from __future__ import annotations

from collections.abc import Iterator

from protocol_lang.language import tree


def declared_names(file: tree.File) -> tuple[tuple[str, str], ...]:
    """Each name once with what it is ("person", "thing" ...), in the order of the file; its title
    first."""
    found: dict[str, str] = {}
    if file.title is not None:
        found[file.title.plain] = file.kind
    for section in file.sections:
        for words, what in _names(section):
            found.setdefault(words.plain, what)
    return tuple(found.items())


def _names(section: tree.Section) -> Iterator[tuple[tree.Words, str]]:
    if isinstance(section, tree.People | tree.Places | tree.Things):
        what = {tree.People: "person", tree.Places: "place", tree.Things: "thing"}[type(section)]
        for line in section.lines:
            if not isinstance(line, tree.Spoiled):
                yield from ((name, what) for name in line.names)
    elif isinstance(section, tree.Streams | tree.Groups | tree.Facts):
        what = {tree.Streams: "waste stream", tree.Groups: "group", tree.Facts: "fact"}[
            type(section)
        ]
        for one in section.lines:
            if not isinstance(one, tree.Spoiled):
                yield one.name, what
