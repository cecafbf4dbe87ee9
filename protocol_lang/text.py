"""From bytes to lines, and where something stands in them.

The one place that counts lines and columns. A :class:`Text` never holds a carriage return or a
byte-order mark; it may hold characters that :func:`unwelcome` finds, for the reader to report where
they stand. What cannot become a text at all raises :class:`Unreadable`.
"""

from __future__ import annotations

import os
import stat
import unicodedata
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

#: The most bytes in one file.
MAX_BYTES = 1 << 20
#: The most lines in one file.
MAX_LINES = 20_000
#: The most characters in one line.
MAX_LETTERS = 500

_BOM = b"\xef\xbb\xbf"
#: How a text in UTF-16 begins (The Unicode Standard, version 15, section 23.8).
_WIDE_BOMS = (b"\xff\xfe", b"\xfe\xff")

# Letters and marks that show nothing, and so could make two different names look the same.
# From the property Default_Ignorable_Code_Point of the Unicode Character Database, less what the
# general category already tells (Cc, Cf, Cs, Co); from memory, and U+2800, a blank of dots.
_INVISIBLE = frozenset(
    {0x034F, 0x115F, 0x1160, 0x17B4, 0x17B5, 0x2800, 0x3164, 0xFFA0}
    | set(range(0x180B, 0x1810))
    | set(range(0xFE00, 0xFE10))
    | set(range(0xE0100, 0xE01F0))
)

#: Signs that show nothing and are part of the spelling in some scripts: they part or join letters.
JOINERS = "\N{ZERO WIDTH NON-JOINER}\N{ZERO WIDTH JOINER}"
#: Those scripts, by the first word of the names of their letters (The Unicode Standard, version 15,
#: chapters 9, 12 and 13: Arabic and its relatives, the scripts of South Asia); from memory.
_JOINING = frozenset(
    {"ARABIC", "SYRIAC", "DEVANAGARI", "BENGALI", "GURMUKHI", "GUJARATI", "ORIYA", "TAMIL"}
    | {"TELUGU", "KANNADA", "MALAYALAM", "SINHALA"}
)


@dataclass(frozen=True, slots=True, order=True)
class Place:
    """Some words on one line of one file.

    ``file``: the name shown to people. ``line`` and ``column`` count from 1, columns in characters
    (code points) of the text as read; ``end`` is the column just after the last marked character.
    ``again``: the same words, read once more for a visit that begins before the last one is over.
    """

    file: str
    line: int
    column: int
    end: int
    again: bool = False


@dataclass(frozen=True, slots=True)
class Text:
    """A file as lines, without their ends. ``file``: the name shown to people."""

    file: str
    lines: tuple[str, ...]

    def place(self, line: int, start: int, end: int) -> Place:
        """The place of the characters ``start`` to ``end`` (from 0) of a line (from 1).

        At least one character is marked, so that there is always something to point at.
        """
        return Place(self.file, line, start + 1, max(end, start + 1) + 1)

    def marked(self, place: Place) -> str:
        """The words at a place of this text."""
        return self.lines[place.line - 1][place.column - 1 : place.end - 1]


class Unreadable(Exception):
    """A file that cannot become a text. ``kind`` and ``facts`` as in a finding."""

    def __init__(self, kind: str, facts: Mapping[str, str]) -> None:
        super().__init__(kind, facts)
        self.kind = kind
        self.facts = facts


def read_text(path: Path, name: str | None = None) -> Text:
    """Reads a file; ``name`` is the name shown to people (the path as given, when left out).

    Raises :class:`Unreadable`: the file is missing, may not be read, is a folder, is neither file
    nor folder (a pipe or device, which could block for ever), or :func:`decode` refuses it. Never
    reads more than :data:`MAX_BYTES` and one byte.
    """
    name = str(path) if name is None else name
    return decode(_regular_bytes(path, name), name)


def _regular_bytes(path: Path, name: str) -> bytes:
    facts = {"file": name}
    try:
        # Without waiting: opening a pipe would otherwise block until somebody writes into it.
        handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | _BINARY)
    except FileNotFoundError:
        raise Unreadable("file-missing", facts) from None
    except IsADirectoryError:
        raise Unreadable("file-is-folder", facts) from None
    except PermissionError:
        if path.is_dir():  # what Windows says of a folder
            raise Unreadable("file-is-folder", facts) from None
        raise Unreadable("file-not-permitted", facts) from None
    except (OSError, ValueError) as error:
        raise Unreadable("file-unreadable", facts | {"reason": _reason(error)}) from None
    try:
        kind = os.fstat(handle)
        if stat.S_ISDIR(kind.st_mode):
            raise Unreadable("file-is-folder", facts)
        if not stat.S_ISREG(kind.st_mode):
            raise Unreadable("file-not-regular", facts)
        if kind.st_size > MAX_BYTES:
            raise Unreadable("file-too-large", facts | {"limit": _mebibytes()})
        with os.fdopen(handle, "rb", closefd=False) as stream:
            return stream.read(MAX_BYTES + 1)
    except OSError as error:
        raise Unreadable("file-unreadable", facts | {"reason": _reason(error)}) from None
    finally:
        os.close(handle)


_BINARY = getattr(os, "O_BINARY", 0)


def _reason(error: OSError | ValueError) -> str:
    return getattr(error, "strerror", None) or "its name cannot be used"


def _mebibytes() -> str:
    return f"{MAX_BYTES >> 20} MiB"


def decode(data: bytes, name: str) -> Text:
    """Bytes to lines: UTF-8, a byte-order mark dropped, every kind of line end the same.

    Whether the last line ends makes no difference. Raises :class:`Unreadable`: too large, too many
    lines, not UTF-8 (with line and column), nothing in it but blanks.
    """
    facts = {"file": name}
    if len(data) > MAX_BYTES:
        raise Unreadable("file-too-large", facts | {"limit": _mebibytes()})
    data = data.removeprefix(_BOM)
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError as error:
        before = _lines(data[: error.start].decode("utf-8", "replace"))
        place = {"line": str(len(before)), "column": str(len(before[-1]) + 1)}
        wide = {"wide": "yes"} if data.startswith(_WIDE_BOMS) else {}
        raise Unreadable("file-not-utf8", facts | place | wide) from None
    if not text.strip():
        raise Unreadable("file-empty", facts)
    lines = _lines(text)
    if not lines[-1]:
        del lines[-1]
    if len(lines) > MAX_LINES:
        raise Unreadable("file-too-many-lines", facts | {"limit": f"{MAX_LINES:,}"})
    return Text(name, tuple(lines))


def _lines(text: str) -> list[str]:
    # Not str.splitlines: it also cuts at characters that we want to report as unwelcome.
    return text.replace("\r\n", "\n").replace("\r", "\n").split("\n")


def unwelcome(line: str) -> Iterator[tuple[int, str]]:
    """The characters of a line that may not stand in a text: position (from 0) and name.

    Controls other than the tab, marks that turn the direction of writing, everything that shows
    nothing but is not a blank, lone surrogates, private characters. Letters of every script are
    welcome, and so are :data:`JOINERS` between two letters of a script that is spelt with them.
    """
    if line.isascii() and line.isprintable():
        return
    for position, letter in enumerate(line):
        if letter != "\t" and not _is_shown(letter) and not _joins(line, position):
            yield position, unicodedata.name(letter, f"U+{ord(letter):04X}").lower()


def without_joiners(text: str) -> str:
    """The text without signs that nobody can see: what two names are compared by."""
    return "".join(letter for letter in text if letter not in JOINERS)


def _joins(text: str, position: int) -> bool:
    """Whether a joiner or non-joiner stands there, between letters of one script that has them."""
    if text[position] not in JOINERS or not 0 < position < len(text) - 1:
        return False
    before, after = (_script(text[at]) for at in (position - 1, position + 1))
    return before == after and before in _JOINING


def _script(letter: str) -> str:
    """The script of a letter or of a mark that belongs to one, as its name begins."""
    if unicodedata.category(letter)[0] not in "LM":
        return ""
    return unicodedata.name(letter, "").partition(" ")[0]


def _is_shown(letter: str) -> bool:
    code = ord(letter)
    return (
        unicodedata.category(letter) not in ("Cc", "Cf", "Cs", "Co", "Zl", "Zp")
        and code not in _INVISIBLE
        and code & 0xFFFE != 0xFFFE
    )


def shown(text: str) -> str:
    """A text for a terminal: whatever could steer it or hide in it is written as an escape.

    Meant for one line: a line end or a tab becomes an escape as well. File names too must come
    through here (bytes that are no UTF-8 are lone surrogates in them).
    """
    if text.isascii() and text.isprintable():
        return text
    return "".join(
        letter if _is_shown(letter) or _joins(text, at) else _escape(letter)
        for at, letter in enumerate(text)
    )


def _escape(letter: str) -> str:
    code = ord(letter)
    if code <= 0xFF:
        return f"\\x{code:02x}"
    return f"\\u{code:04x}" if code <= 0xFFFF else f"\\U{code:08x}"
