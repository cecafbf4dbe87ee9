"""The words that a file itself declares and a chart may print, for those who translate them."""

from __future__ import annotations

from collections.abc import Iterator

from protocol_lang.language import tree


def declared_words(file: tree.File) -> tuple[tuple[str, str], ...]:
    """Each once with what it is ("person", "thing", "note" ...), in the order of the file; its
    title first."""
    found: dict[str, str] = {}
    if file.title is not None:
        found[file.title.plain] = file.kind
    for section in file.sections:
        for words, what in _words(section):
            found.setdefault(words, what)
    return tuple(found.items())


def _words(section: tree.Section) -> Iterator[tuple[str, str]]:
    match section:
        case tree.People() | tree.Places() | tree.Things():
            what = {tree.People: "person", tree.Places: "place", tree.Things: "thing"}
            for named in section.lines:
                if not isinstance(named, tree.Spoiled):
                    yield from ((name.plain, what[type(section)]) for name in named.names)
        case tree.Groups() | tree.Facts() | tree.Levels():
            what = {tree.Groups: "group", tree.Facts: "fact", tree.Levels: "level of treatment"}
            for one in section.lines:
                if not isinstance(one, tree.Spoiled):
                    yield one.name.plain, what[type(section)]
        case tree.Streams():
            for stream in section.lines:
                if isinstance(stream, tree.Spoiled):
                    continue
                yield stream.name.plain, "waste stream"
                if stream.note is not None and not stream.note.plain.startswith('to "'):
                    yield stream.note.plain, "note of a waste stream"
        case tree.ExposureSettings():
            for line in section.lines:
                if isinstance(line, tree.ExposureLine):
                    yield ", ".join(words.plain for words in line.of), "exposure setting"
                elif isinstance(line, tree.Note):
                    yield line.text.plain, "note"
        case tree.WhomToCall():
            for call in section.lines:
                if isinstance(call, tree.CallLine):
                    yield call.name.plain, "whom to call"
                    yield call.how.plain, "how to call"
                elif isinstance(call, tree.Note):
                    yield call.text.plain, "note"
        case _:
            pass
