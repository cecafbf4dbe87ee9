"""What a translation file says, as frozen records; and which of its translations may be used."""

from __future__ import annotations

import unicodedata
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

#: The field of the header that says who of the clinic has looked the translation through.
REVIEWED_BY = "X-Reviewed-By"


@dataclass(frozen=True, slots=True)
class Entry:
    """One text and its translation.

    ``text``: as in the original; ``said``: its translation, "" where there is none yet.
    ``doubtful`` (``fuzzy`` in the file): somebody has to look at it before it counts. ``unused``:
    kept, though nothing asks for it. ``remark``: of the translator; ``about``: what the text is, as
    the program says; ``before``: the text for which a doubtful translation was made. ``plural`` and
    ``counted``: the second text and the translations by number, of texts that are counted. The rest
    is what other programs write, and stays.
    """

    text: str
    said: str = ""
    context: str | None = None
    doubtful: bool = False
    unused: bool = False
    remark: str = ""
    about: str = ""
    before: str | None = None
    plural: str = ""
    counted: tuple[tuple[int, str], ...] = ()
    flags: tuple[str, ...] = ()
    places: tuple[tuple[str, str], ...] = ()
    line: int = field(default=0, compare=False)

    @property
    def key(self) -> tuple[str | None, str]:
        """What is the same for two entries that mean the same text."""
        return self.context, unicodedata.normalize("NFC", self.text)

    @property
    def counts(self) -> bool:
        """Whether a chart may say it: translated, looked at, and with the numbers of the text."""
        return bool(self.said) and not self.doubtful and not self.unused and not self.differs

    @property
    def differs(self) -> bool:
        """Whether the translation tells other numbers than the text."""
        return bool(self.said) and numbers(self.said) != numbers(self.text)


@dataclass(frozen=True, slots=True)
class Catalogue:
    """A file. ``header``: its fields, in order; ``remark``: what stands above all; ``tail``: lines
    of remarks after the last entry; ``file``: the name shown to people."""

    entries: tuple[Entry, ...]
    header: Mapping[str, str] = field(default_factory=dict)
    remark: str = ""
    tail: tuple[str, ...] = ()
    file: str = ""

    @property
    def reviewed_by(self) -> str | None:
        """Who has looked the translation through; None while nobody has."""
        return self.header.get(REVIEWED_BY, "").strip() or None


@dataclass(frozen=True, slots=True)
class Texts:
    """All that is known of the texts of one protocol in one language.

    ``said``: by the text as printed (in Unicode's form NFC). ``reviewed_by``: who of the clinic has
    looked them through; None while nobody has.
    """

    language: str
    said: Mapping[str, str]
    reviewed_by: str | None = None

    def of(self, text: str) -> str | None:
        """The translation of a text; None if there is none."""
        return self.said.get(unicodedata.normalize("NFC", text))


def texts(language: str, own: Catalogue | None, others: Iterable[Catalogue]) -> Texts:
    """What the file beside a protocol (``own``) and those beside the files that it takes words from
    say together; the nearer goes before the farther.

    Who has looked it through is told by the protocol's own file alone: that person has seen the
    whole chart. An entry with a context belongs to another program, and is not used.
    """
    said: dict[str, str] = {}
    for catalogue in [*([] if own is None else [own]), *others]:
        for entry in catalogue.entries:
            if entry.context is None and entry.counts:
                said.setdefault(entry.key[1], entry.said)
    return Texts(language, said, None if own is None else own.reviewed_by)


def numbers(text: str) -> Counter[int]:
    """The numbers in a text, whatever the digits they are written with, and how often each."""
    found: Counter[int] = Counter()
    number: int | None = None
    for letter in [*text, " "]:
        digit = unicodedata.decimal(letter, None)
        if digit is not None:
            number = (number or 0) * 10 + digit
        elif number is not None:
            found[number] += 1
            number = None
    return found
