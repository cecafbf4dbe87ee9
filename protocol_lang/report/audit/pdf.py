"""The report as a tagged PDF (PDF/UA-1, PDF/A-2a), to be printed and signed.

Deterministic: the same audit gives the same bytes; its date is the day of judgement.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Iterable
from dataclasses import fields, is_dataclass
from pathlib import Path
from typing import Any, Literal

from protocol_lang import typesetter
from protocol_lang.audited import Audit
from protocol_lang.report.audit.content import report
from protocol_lang.report.audit.pieces import Report
from protocol_lang.typesetter import CannotPrint
from protocol_lang.wording import audit as words

TEMPLATE = Path(__file__).with_name("report.typ")
_PROBE = Path(__file__).with_name("letters.typ")

#: ISO 216 A4, or ANSI/ASME Y14.1 size A.
Paper = Literal["a4", "us-letter"]

#: A place where a line may end without a sign; the template makes it so. The authors' texts have
#: none left: it is one of the signs that are shown as escapes.
_MAY_END = "\u200b"
_LONG_WORD = 14


def render(audit: Audit, paper: Paper = "a4") -> bytes:
    """The report as one PDF.

    Letters that no font of the program has are written as their numbers, and the report says so.
    Raises :class:`~protocol_lang.typesetter.CannotPrint` when the fonts are missing.
    """
    whole = report(audit)
    lacking = _without_font(_letters(whole))
    given = {
        "fonts": list(typesetter.families()),
        "paper": paper,
        "page-of": words.page_of("\0", "\1").split("\0")[0],
        "of": words.page_of("\0", "\1").split("\0")[1].removesuffix("\1"),
        "report": _plain(whole, lambda text: _soft(_stand_in(text, lacking))),
        "note": words.STAND_INS if lacking else "",
    }
    (made,) = typesetter.compiled(TEMPLATE, "report", given, dated=audit.on)
    return made


def _plain(value: Any, change: Callable[[str], str]) -> Any:
    """Records as mappings that name their kind, texts changed."""
    if isinstance(value, str):
        return change(value)
    if isinstance(value, tuple):
        return [_plain(one, change) for one in value]
    if is_dataclass(value):
        inner = {one.name: _plain(getattr(value, one.name), change) for one in fields(value)}
        return {**inner, "piece": type(value).__name__.lower()}
    return value


# --- Letters without a font ----------------------------------------------------------------------


def _letters(whole: Report) -> list[str]:
    """Every word that has a letter beyond ASCII, once."""
    found: dict[str, None] = {}

    def note(text: str) -> str:
        if not text.isascii():
            found.update(dict.fromkeys(word for word in text.split() if not word.isascii()))
        return text

    _plain(whole, note)
    return list(found)


def _without_font(texts: Iterable[str]) -> frozenset[str]:
    """Those letters of the texts that cannot be set."""
    lacking: set[str] = set()
    texts = list(texts)
    while texts:
        given = {
            "fonts": list(typesetter.families()),
            "texts": [_stand_in(text, lacking) for text in texts],
        }
        try:
            typesetter.compiled(_PROBE, "probe", given)
        except CannotPrint as cannot:
            # A letter that has a font may be complained of with the one beside it: one at a time.
            new = {one for one in cannot.letters if not one.isascii()} - lacking
            if not new:
                raise
            lacking |= new
        else:
            break
    return frozenset(lacking)


def _stand_in(text: str, lacking: Iterable[str]) -> str:
    if text.isascii() or not lacking:
        return text
    return "".join(_number(one) if one in lacking else one for one in text)


def _number(letter: str) -> str:
    return letter.encode("ascii", "backslashreplace").decode()


# --- Long words ----------------------------------------------------------------------------------


def _soft(text: str) -> str:
    """The text with places inside long words at which a line may end."""
    return re.sub(rf"\S{{{_LONG_WORD},}}", lambda found: _softened(found[0]), text)


def _softened(word: str) -> str:
    pieces: list[str] = []
    since = 0
    for at, letter in enumerate(word):
        pieces.append(letter)
        since += 1
        following = word[at + 1] if at + 1 < len(word) else ""
        if not following or not _parts(letter, following):
            continue
        if (letter in "/\\._-:,;=&?" and since > 2) or since >= _LONG_WORD:
            pieces.append(_MAY_END)
            since = 0
    return "".join(pieces)


def _parts(letter: str, following: str) -> bool:
    """Whether the two may stand on two lines without being written otherwise than together."""
    if letter.isascii() and following.isascii():
        return not (letter == "\\" or following in "/\\._-:,;=&?)\"'")
    plain = ("LATIN", "GREEK", "CYRILLIC", "CJK", "HANGUL", "HIRAGANA", "KATAKANA")
    return all(
        one.isascii() or unicodedata.name(one, "").startswith(plain) for one in (letter, following)
    ) and not unicodedata.combining(following)
