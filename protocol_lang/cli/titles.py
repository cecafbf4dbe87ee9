"""Titles of new protocols, and the names of their files."""

from __future__ import annotations

import unicodedata

from protocol_lang.cli import terminal
from protocol_lang.cli.exits import CannotCarryOut

_LONGEST = 80

#: File names that some systems keep for devices, whatever follows the dot.
_DEVICES = frozenset(
    {"con", "prn", "aux", "nul", *(f"{port}{n}" for port in ("com", "lpt") for n in range(10))}
)


def slug_of(title: str) -> str:
    """The letters and figures of a title in small type, joined by hyphens."""
    folded = unicodedata.normalize("NFC", title).casefold()
    return "-".join("".join(c if c.isalnum() else " " for c in folded).split())


def _taken_from() -> set[str]:
    """The slugs of the packaged files that protocols take words from: those without a phase."""
    from protocol_lang.resources import folder

    return {
        file.stem
        for file in folder("protocols").rglob("*.protocol")
        if not any(line.startswith("phase ") for line in file.read_text("utf-8").splitlines())
    }


def file_name(title: str) -> str:
    """The name of the file for a title: its letters and figures in small type, joined by hyphens.

    Raises :class:`CannotCarryOut` for a title that cannot be one.
    """
    shown = terminal.visible_in_line(title)
    if shown != title or '"' in title:
        raise CannotCarryOut(
            f'"{shown}" cannot be the title of a protocol: it has a sign that a title may not have.'
        )
    if slug_of(title) in _taken_from():
        raise CannotCarryOut(
            f'"{title}" is the title of a file that comes with the program, and that protocols '
            "take words from. Choose another title."
        )
    if len(title) > _LONGEST:
        raise CannotCarryOut(f"The title has more than {_LONGEST} letters. Choose a shorter one.")
    composed = unicodedata.normalize("NFC", title).casefold()
    parts = "".join(c if unicodedata.category(c)[0] in "LMN" else " " for c in composed).split()
    slug = "-".join(parts)
    if not slug:
        raise CannotCarryOut(f'"{shown}" has no letters from which a file could be named.')
    if slug in _DEVICES:
        raise CannotCarryOut(
            f'"{shown}" cannot be the name of a file on every system. Choose another name.'
        )
    return slug
