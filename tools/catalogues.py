"""Brings the catalogues of a chart's words up to date: ``python -m tools.catalogues``.

Every word of ``protocol_lang/chart/words.py`` is put into each catalogue, in the order in which it
stands there; translations that are there stay, and one that nothing asks for any more is taken out,
since it stays in the history of the project.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from typing import Any

import polib

from protocol_lang.chart.words import ENGLISH, FOLDER, LANGUAGES, Counted, by_name

#: What stands above each catalogue.
REMARK = """The words that a wall chart adds, in {language}.
Written by the makers of the program, not by a native speaker: to be reviewed by
a native speaker of the clinic before a chart in this language is used."""


def messages() -> Iterator[tuple[str, str, str]]:
    """Field, English words, and the words for many of what is counted; each once."""
    seen: dict[tuple[str, str, str], None] = {}
    for name, value in by_name(ENGLISH).items():
        for one, many in _strings(value):
            if one:
                seen[name, one, many] = None
    yield from seen


def _strings(value: Any) -> Iterator[tuple[str, str]]:
    if isinstance(value, str):
        yield value, ""
    elif isinstance(value, Counted):
        yield value.one, value.many
    else:
        for one in value.values() if hasattr(value, "values") else value:
            yield from _strings(one)


def refreshed(language: str, old: polib.POFile) -> polib.POFile:
    """The catalogue with all messages; ``old``: as it is."""
    forms = int(old.metadata["Plural-Forms"].partition("nplurals=")[2].partition(";")[0])
    known = {(entry.msgctxt, entry.msgid): entry for entry in old}
    made = polib.POFile(wrapwidth=78)
    made.header = REMARK.format(language=LANGUAGES[language])
    made.metadata = old.metadata
    for name, one, many in messages():
        entry = known.get((name, one)) or polib.POEntry(msgctxt=name, msgid=one)
        entry.msgid_plural = many
        if many:
            entry.msgstr = ""
            entry.msgstr_plural = {n: entry.msgstr_plural.get(n, "") for n in range(forms)}
        made.append(entry)
    return made


def main() -> int:
    """Refresh all catalogues. Return 0."""
    for language in LANGUAGES:
        if language == "en":
            continue
        path = FOLDER / f"{language}.po"
        made = refreshed(language, polib.pofile(str(path), encoding="utf-8"))
        path.write_text(str(made).rstrip("\n") + "\n", "utf-8")
        missing = len(made) - len(made.translated_entries())
        print(f"{path.name}: {len(made)} messages, {missing} without a translation")
    return 0


if __name__ == "__main__":
    sys.exit(main())
