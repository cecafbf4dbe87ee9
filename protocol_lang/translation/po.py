"""The PO form: the one place that knows the library which reads and writes it (polib).

The library lets pass what would lose text (a string without its quotes, a second translation of
the same text), so every line is looked at before. Translations are data: nothing in them is looked
up or carried out, and what could steer a screen or hide is refused.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from protocol_lang.text import MAX_LETTERS, Text, unwelcome
from protocol_lang.translation.catalogue import Catalogue, Entry

if TYPE_CHECKING:
    import polib

#: The most entries of one file.
MOST_ENTRIES = 5_000

_STRING = r'"(?:[^"\\]|\\[\\"ntrvbf])*"'
_LINE = re.compile(
    rf"(?:\#~?\s*)?(?:(?:msgctxt|msgid|msgid_plural|msgstr|msgstr\[[0-5]\])\s+)?{_STRING}\s*"
)
_BEFORE = re.compile(rf"\#~?\|\s*(?:(?:msgctxt|msgid|msgid_plural)\s+)?{_STRING}\s*")
_OPENING = re.compile(r"\s*(?:#~\s*)?(msgctxt|msgid|msgid_plural|msgstr)\b")


class BadCatalogue(Exception):
    """A file that is no translation file. ``sentence``: where, what is wrong, and the mend."""

    def __init__(self, file: str, line: int, wrong: str) -> None:
        self.sentence = f'"{file}" cannot be used, because of line {line}: {wrong}'
        super().__init__(self.sentence)


def read(text: Text) -> Catalogue:
    """What a translation file says.

    Raises :class:`BadCatalogue` for the first line that is not in the form, for signs that show
    nothing or steer a screen, and when a text is translated twice.
    """
    import polib

    for number, line in enumerate(text.lines, start=1):
        if wrong := _wrong(line):
            raise BadCatalogue(text.file, number, wrong)
    body = "\n".join(text.lines)
    try:
        # The last line makes the text one that cannot be taken for the name of a file.
        found = polib.pofile(f"{body}\n# \0", encoding="utf-8", wrapwidth=0)
    except (OSError, ValueError, KeyError, IndexError) as error:
        told = re.search(r"line (\d+)", str(error))
        number = min(int(told[1]), len(text.lines)) if told else 1
        raise BadCatalogue(
            text.file,
            number,
            'it does not follow from what stands before it. A text has a line "msgid", and under '
            'it a line "msgstr".',
        ) from None
    if len(found) > MOST_ENTRIES:
        raise BadCatalogue(
            text.file, len(text.lines), f"more than {MOST_ENTRIES:,} texts. Divide the file."
        )
    entries = tuple(map(_entry, found))
    _look_at(entries, text.file)
    header = {name: " ".join(value.split()) for name, value in found.metadata.items()}
    for name, value in header.items():
        if any(True for _ in unwelcome(name + value)):
            raise BadCatalogue(text.file, 1, f"the header has a sign that shows nothing: {name!r}.")
    return Catalogue(
        entries, header, found.header.replace("\0", "").strip(), _tail(text.lines), text.file
    )


def written(catalogue: Catalogue) -> str:
    """The same as the text of a file; :func:`read` gives the catalogue back."""
    import polib

    made = polib.POFile(wrapwidth=78, encoding="utf-8")
    made.header = catalogue.remark
    made.metadata = {
        **catalogue.header,
        "MIME-Version": "1.0",
        "Content-Type": "text/plain; charset=UTF-8",
        "Content-Transfer-Encoding": "8bit",
    }
    for entry in catalogue.entries:
        flags = [flag for flag in entry.flags if flag != "fuzzy"]
        made.append(
            polib.POEntry(
                msgid=entry.text,
                msgstr=entry.said,
                msgctxt=entry.context,
                msgid_plural=entry.plural,
                msgstr_plural=dict(entry.counted),
                obsolete=entry.unused,
                tcomment=entry.remark,
                comment=entry.about,
                flags=[*(["fuzzy"] if entry.doubtful else []), *flags],
                previous_msgid=None if entry.unused else entry.before,
                occurrences=list(entry.places),
            )
        )
    text = str(made).rstrip("\n") + "\n"
    return text + "".join(f"{line}\n" for line in ("", *catalogue.tail) if catalogue.tail)


def _entry(found: polib.POEntry) -> Entry:
    return Entry(
        text=found.msgid,
        said=found.msgstr,
        context=found.msgctxt,
        doubtful="fuzzy" in found.flags,
        unused=bool(found.obsolete),
        remark=found.tcomment,
        about=found.comment,
        before=found.previous_msgid,
        plural=found.msgid_plural,
        counted=tuple(sorted((int(n), said) for n, said in found.msgstr_plural.items())),
        flags=tuple(flag for flag in found.flags if flag != "fuzzy"),
        places=tuple((str(file), str(line)) for file, line in found.occurrences),
        line=found.linenum or 0,
    )


def _wrong(line: str) -> str | None:
    """What is wrong with a line by itself, and the mend."""
    if len(line) > MAX_LETTERS:
        return f"it has more than {MAX_LETTERS} letters. Go on in a line of its own."
    for position, name in unwelcome(line):
        return f"column {position + 1} has a sign that shows nothing ({name}). Take it out."
    bare = line.strip()
    if not bare or _LINE.fullmatch(bare) or _BEFORE.fullmatch(bare):
        return None
    if bare.startswith("#") and not bare.startswith(("#~", "#|")):
        return None
    if _OPENING.match(bare):
        return (
            'what stands after "msgid" or "msgstr" must be in straight quotes, with \\" for a '
            "quote inside."
        )
    return (
        'it is none of a translation file: such lines begin with "msgid", "msgstr", a quote or "#".'
    )


def _look_at(entries: tuple[Entry, ...], file: str) -> None:
    """What texts must not hold, and that none in use is there twice."""
    seen: dict[tuple[str | None, str], int] = {}
    for entry in entries:
        if not entry.text:
            raise BadCatalogue(file, entry.line, "an empty text besides the header. Take it out.")
        for one in (entry.text, entry.said, entry.plural, *(said for _, said in entry.counted)):
            if len(one) > MAX_LETTERS:
                raise BadCatalogue(
                    file, entry.line, f"a text of more than {MAX_LETTERS} letters. Shorten it."
                )
            for _, name in unwelcome(one.replace("\t", "\n")):
                raise BadCatalogue(
                    file,
                    entry.line,
                    f"a sign that shows nothing ({name}) in a text or translation. Take it out.",
                )
        if entry.unused:
            continue
        if entry.key in seen:
            raise BadCatalogue(
                file,
                entry.line,
                f"this text is there already, from line {seen[entry.key]}. Keep one of the two.",
            )
        seen[entry.key] = entry.line


def _tail(lines: tuple[str, ...]) -> tuple[str, ...]:
    """The remarks after the last entry, which belong to none; without entries all are above it."""
    last = -1
    for at, line in enumerate(lines):
        if '"' in line and _LINE.fullmatch(line.strip()):
            last = at
    rest = lines[last + 1 :] if last >= 0 else ()
    return tuple(line.strip() for line in rest if line.strip())
