"""What all cards share: paper, what stands in head and foot, and how a step is told."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from enum import Enum
from pathlib import Path
from typing import Any

from protocol_lang import typesetter
from protocol_lang.chart import edition
from protocol_lang.chart.around import code_in_words, mark
from protocol_lang.chart.inks import INKS
from protocol_lang.chart.paper import Size
from protocol_lang.chart.pictograms import drawing
from protocol_lang.chart.sheet import Draft, Row, Sheet, rows
from protocol_lang.chart.translate import OPENS, plain
from protocol_lang.chart.words import Words, words_of
from protocol_lang.typesetter import CannotPrint, Format, families

#: The folder of all templates: cards and charts share some.
_ROOT = Path(__file__).parents[1]


class CardPaper(Enum):
    """Upright sheets, in millimetres. A4, A5: ISO 216; Letter: ANSI/ASME Y14.1, A."""

    A4 = Size(210, 297)
    A5 = Size(148, 210)
    LETTER = Size(215.9, 279.4)


@dataclass(frozen=True, slots=True)
class Cards:
    """``pages``: one PDF of all pages, or each page as SVG or PNG. ``sheets``: how many there are.

    ``type_size``: of the smallest step, in points.
    """

    pages: tuple[bytes, ...]
    sheets: int
    type_size: float


@dataclass(frozen=True, slots=True)
class Press:
    """What a template is given, and how its pages are made.

    ``kind``: what the cards are, in words, for the title of the document.
    """

    template: Path
    sheets: Sequence[Sheet]
    kind: str
    cards: Sequence[Mapping[str, Any]]
    paper: CardPaper
    more: Mapping[str, Any] = field(default_factory=dict)

    def measured(self) -> Any:
        """What the template measures before it draws."""
        given = self._given({"use": "measure"})
        return typesetter.measured(self.template, "card", given, _ROOT)

    def drawn(
        self, format: Format, pixels_per_inch: float, made: Mapping[str, Any]
    ) -> tuple[bytes, ...]:
        """The pages; ``made``: what the template is told to draw beside what it was given.

        Every format is set as PDF first: only there is a letter that no font has an error. Raises
        :class:`CannotPrint` for such a letter.
        """
        given = self._given({"use": "draw", **made})
        dated = self.sheets[0].in_force
        pages = typesetter.compiled(self.template, "card", given, dated=dated, root=_ROOT)
        if format != "pdf":
            pages = typesetter.compiled(
                self.template,
                "card",
                given,
                format,
                pixels_per_inch=pixels_per_inch,
                root=_ROOT,
            )
        return tuple(pages)

    def _given(self, use: Mapping[str, Any]) -> dict[str, Any]:
        first = self.sheets[0]
        alone = len(self.sheets) == 1
        words = words_of(first.language)
        parts = [f"{name}: {value}" for name, value in first.choices] if alone else []
        return {
            "document": {
                "title": plain(words.comma.join([first.title, *parts, self.kind])),
                "description": plain(f"{self.kind}: {first.title}"),
            },
            "language": first.language,
            "rtl": words.right_to_left,
            "fonts": list(families()),
            "inks": dict(INKS),
            "paper": {"width": self.paper.value.width, "height": self.paper.value.height},
            "cards": list(self.cards),
            "drawings": {name: drawing(name) for name in sorted(set(_named(self.cards)))},
            **self.more,
            **use,
        }


def demand_steps(sheets: Sequence[Sheet]) -> None:
    """Raises :class:`CannotPrint` when a sheet has no step."""
    if not sheets or not all(map(steps_of, sheets)):
        raise CannotPrint("There is no step to print.")


def _named(value: object) -> Iterable[str]:
    """The pictograms that are named anywhere in what a template is given."""
    if isinstance(value, Mapping):
        if name := value.get("pictogram"):
            yield str(name)
        if value.get("exposes"):
            yield "radiation"
        for inner in value.values():
            yield from _named(inner)
    elif isinstance(value, list | tuple):
        for inner in value:
            yield from _named(inner)


def steps_of(sheet: Sheet) -> list[Row]:
    """The steps of a sheet in the order of their numbers."""
    return [row for phase in sheet.phases for row in rows(phase.items)]


def head(sheet: Sheet, kind: str) -> dict[str, Any]:
    """What stands at the head of a card of this kind."""
    words = words_of(sheet.language)
    facts = [sheet.room] if sheet.room else []
    if sheet.edition is not None:
        facts.append(words.edition.format(n=sheet.edition))
    if sheet.in_force:
        facts.append(words.in_force.format(day=words.day(sheet.in_force)))
    if sheet.review_by:
        facts.append(words.review_by.format(day=words.day(sheet.review_by)))
    return {
        "kind": kind,
        "title": sheet.title,
        "choices": [[name, value] for name, value in sheet.choices],
        "facts": facts,
    }


def foot(sheet: Sheet, *cautions: str) -> dict[str, Any]:
    """What stands at the foot: cautions, the code, and whether it may be hung up."""
    words = words_of(sheet.language)
    code = None if sheet.fingerprint is None else edition.code(sheet.fingerprint)
    return {
        "cautions": [*words.cautions, *cautions, *sheet.cautions],
        "code": code and code_in_words(code, words),
        "sheet-of": words.sheet_of,
        **_mark(sheet, words),
    }


def _mark(sheet: Sheet, words: Words) -> dict[str, Any]:
    draft = isinstance(sheet.mark, Draft)
    return {
        "draft": draft,
        "draft-word": words.draft if draft else "",
        "mark": mark(sheet, words),
    }


def split(row: Row, known: Iterable[str]) -> tuple[str, str]:
    """Who does a step, and the words for what; nobody if the sentence does not begin with one of
    ``known``, or with who does it."""
    for person in dict.fromkeys([row.person, *known]):
        if person and (rest := without(person, row.text)):
            return person, rest
    return "", row.text


def without(person: str, text: str) -> str | None:
    """The text after the name of who does it, if it begins with that; marked if it was."""
    mark = OPENS if text.startswith(OPENS) else ""
    begin = f"{mark}{plain(person)} "
    if not text.startswith(begin) or mark != person[: len(mark)]:
        return None
    return mark + text[len(begin) :]


def capital(text: str) -> str:
    """The text with a capital at its beginning, behind a mark if it has one."""
    at = 1 if text.startswith(OPENS) else 0
    return text[:at] + text[at : at + 1].upper() + text[at + 1 :]
