"""The verbs of the words files that come with the program, as pages for ``explain``."""

from __future__ import annotations

from collections.abc import Iterator

from protocol_lang.language import reader, tree
from protocol_lang.report.explained import Sort, Subject
from protocol_lang.resources import folder
from protocol_lang.text import Text, read_text


def packaged_verbs() -> tuple[Subject, ...]:
    """Every verb that a words file of the program declares, in the order of the files.

    A file that this program brings along and that cannot be read is a fault of ours; its error
    goes on to the caller.
    """
    paths = sorted(folder("protocols").rglob("*.protocol"))
    texts = (read_text(path) for path in paths)
    return tuple(verb for text in texts for verb in _verbs(text))


def _verbs(text: Text) -> Iterator[Subject]:
    if not any(line.startswith("verb ") for line in text.lines):
        return
    file = reader.read(text).file
    for section in file.sections:
        if isinstance(section, tree.Verb):
            yield _subject(section, text)


def _subject(verb: tree.Verb, text: Text) -> Subject:
    others = [line.form.plain for line in verb.lines if isinstance(line, tree.Also)]
    forms = [verb.form.plain, *others]
    notes = [line.text.plain for line in verb.lines if isinstance(line, tree.Note)]
    meaning = (
        " ".join(notes) or "What it does to soil is said by its lines, done from the top down."
    )
    bare = (" ".join(word for word in form.split() if not word.isupper()) for form in forms)
    names = dict.fromkeys(name for name in (*forms[1:], *bare) if name)
    return Subject(Sort.VERB, forms[0], tuple(names), meaning, written=_written(verb, text))


def _written(verb: tree.Verb, text: Text) -> str:
    """The lines of the verb as they stand in its file."""
    first = verb.place.line - 1
    lines = [text.lines[first]]
    for line in text.lines[first + 1 :]:
        if line[:1].strip():
            break
        lines.append(line)
    return "\n".join(lines).rstrip()
