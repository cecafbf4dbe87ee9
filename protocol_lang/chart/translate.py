"""A sheet in another language. Pure: no files.

Every text of the protocol on a sheet goes through :func:`mapped`: what is translated is replaced,
what is not stays and is marked with two private signs of Unicode around it, which no protocol can
hold. Whoever sets a text in type shows them as a small mark and tells the language of the text
between them; whoever needs the bare text takes :func:`plain`.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import cache

from protocol_lang.chart.sheet import (
    Draft,
    Group,
    Hands,
    Mark,
    Panel,
    PanelKind,
    PanelLine,
    Row,
    Sheet,
    SheetPhase,
)
from protocol_lang.chart.words import ENGLISH, Words, words_of
from protocol_lang.translation.catalogue import Texts
from protocol_lang.translation.refresh import Wanted

#: Around a text that stands in the language of the protocol.
OPENS, CLOSES = "\ue000", "\ue001"
#: What such a text is marked with, as the foot names it: the language of the protocol.
ORIGINAL = "EN"

Change = Callable[[str, str], str]


def plain(text: str) -> str:
    """A text without marks."""
    return text.replace(OPENS, "").replace(CLOSES, "")


def wanted(sheets: tuple[Sheet, ...]) -> tuple[Wanted, ...]:
    """The texts of the protocol on these sheets, each once, in the order of reading."""
    found: dict[str, Wanted] = {}

    def keep(text: str, about: str) -> str:
        if text:
            found.setdefault(text, Wanted(text, about))
        return text

    for sheet in sheets:
        mapped(sheet, keep, ENGLISH)
    return tuple(found.values())


def translated(sheet: Sheet, texts: Texts) -> Sheet:
    """The sheet in the language of ``texts``; what they lack stays and is marked.

    The cautions tell that something is missing, and who has looked the translation through, or that
    nobody of the clinic has. The sheet must be in the language of its protocol.
    """
    words = words_of(texts.language)
    missing: dict[str, None] = {}

    def change(text: str, about: str) -> str:
        said = texts.of(text) if text else text
        if said is not None:
            return said
        missing[text] = None
        return f"{OPENS}{text}{CLOSES}"

    made = mapped(sheet, change, words)
    cautions = list(made.cautions)
    if missing:
        cautions.append(words.not_translated.format(mark=ORIGINAL))
    if texts.reviewed_by is None:
        cautions.append(words.not_reviewed)
    else:
        cautions.append(words.reviewed.format(who=texts.reviewed_by))
    return replace(made, language=texts.language, cautions=tuple(cautions), original=sheet)


def untranslated(sheet: Sheet) -> tuple[str, ...]:
    """The texts of a sheet that are marked as standing in the language of the protocol."""
    found: dict[str, None] = {}
    inside = re.compile(f"{OPENS}([^{CLOSES}]*){CLOSES}")

    def look(text: str, about: str) -> str:
        found.update(dict.fromkeys(inside.findall(text)))
        return text

    mapped(sheet, look, ENGLISH)
    return tuple(found)


def mapped(sheet: Sheet, change: Change, words: Words) -> Sheet:
    """The sheet with each text of the protocol as ``change`` makes it of the text and of what it
    is; what the program itself said in English is said in ``words``."""
    return _Mapping(sheet, change, words).sheet()


@dataclass(slots=True)
class _Mapping:
    given: Sheet
    change: Change
    words: Words

    def sheet(self) -> Sheet:
        one = self.given
        return replace(
            one,
            title=self.change(one.title, "title"),
            room=None if one.room is None else self.change(one.room, "room"),
            owner=None if one.owner is None else self.change(one.owner, "owner"),
            choices=tuple(
                (self.change(name, "choice"), self.change(value, "value of a choice"))
                for name, value in one.choices
            ),
            persons=tuple(self.person(name) for name in one.persons),
            never_touch=self.names(one.never_touch),
            phases=tuple(map(self.phase, one.phases)),
            mark=self.mark(one.mark),
            cautions=tuple(map(self.caution, one.cautions)),
            panels=tuple(map(self.panel, one.panels)),
            rules=tuple(self.change(title, "title of rules") for title in one.rules),
        )

    def person(self, name: str) -> str:
        return self.change(name, "person")

    def hands(self, of: Mapping[str, Hands]) -> dict[str, Hands]:
        return {self.person(name): hands for name, hands in of.items()}

    def names(self, names: tuple[str, ...]) -> tuple[str, ...]:
        return tuple(self.change(name, "name") for name in names)

    def notes(self, notes: tuple[str, ...]) -> tuple[str, ...]:
        return tuple(self.change(note, "note") for note in notes)

    def phase(self, phase: SheetPhase) -> SheetPhase:
        return replace(
            phase,
            title=self.change(phase.title, "phase"),
            notes=self.notes(phase.notes),
            do_not_touch=self.names(phase.do_not_touch),
            touch_only=self.names(phase.touch_only),
            hands_before=self.hands(phase.hands_before),
            items=tuple(map(self.item, phase.items)),
        )

    def item(self, item: Row | Group) -> Row | Group:
        if isinstance(item, Row):
            return self.row(item)
        return replace(
            item,
            items=tuple(map(self.item, item.items)),
            person=None if item.person is None else self.person(item.person),
            heading=None if item.heading is None else self.heading(item.heading),
        )

    def row(self, row: Row) -> Row:
        skipped = row.must_not_skip
        return replace(
            row,
            text=self.change(row.text, "step"),
            person=None if row.person is None else self.person(row.person),
            hands=self.hands(row.hands),
            notes=self.notes(row.notes),
            do_not_touch=self.names(row.do_not_touch),
            touch_only=self.names(row.touch_only),
            hand=None if row.hand is None else self.words.which_hand.get(row.hand, row.hand),
            must_not_skip=None if skipped is None else self.change(skipped, "consequence"),
        )

    def heading(self, heading: str) -> str:
        """What stands above a group: words of the program, with words of the protocol in them."""
        said = self.framed(heading, self.words.headings)
        return self.change(heading, "condition") if said is None else said

    def framed(self, text: str, patterns: Mapping[str, str]) -> str | None:
        """A text that the program made of words of its own and of the protocol's, if it is one."""
        for pattern, said in patterns.items():
            found = _pattern(pattern).fullmatch(text)
            if found is None:
                continue
            filled = found.groupdict()
            if "what" in filled:
                filled["what"] = self.change(filled["what"], "words in a text")
            if "names" in filled:
                filled["names"] = self.listed(filled["names"])
            return said.format(**filled)
        return None

    def listed(self, names: str) -> str:
        """Names that were joined to a list."""
        return self.words.comma.join(self.names(tuple(names.split(", "))))

    def panel(self, panel: Panel) -> Panel:
        return replace(
            panel,
            lines=tuple(self.line(line, panel.kind) for line in panel.lines),
            notes=tuple(self.note_of(note, panel.kind) for note in panel.notes),
        )

    def line(self, line: PanelLine, kind: PanelKind) -> PanelLine:
        """What the panels of :mod:`protocol_lang.pages.panels` say, piece by piece."""
        told = line.told
        if told:
            told = self.told(told, kind)
        noted = re.fullmatch(r"(.+) \((.+)\)", line.what) if kind is PanelKind.WASTE else None
        if noted is not None:
            what = f"{self.listed(noted[1])} ({self.change(noted[2], 'note of a waste stream')})"
        elif kind in _OF_TEXTS:
            what = self.change(line.what, "line of a panel")
        else:
            what = self.listed(line.what)
        return replace(line, what=what, told=told)

    def told(self, told: str, kind: PanelKind) -> str:
        if (said := self.framed(told, self.words.phrases)) is not None:
            return said
        if kind in (PanelKind.COVERED, PanelKind.WASTE, PanelKind.STERILISED):
            return self.listed(told)
        if kind is PanelKind.SETTINGS:
            return self.words.comma.join(
                one if _FIGURE.fullmatch(one) else self.change(one, "exposure setting")
                for one in told.split(", ")
            )
        if kind is PanelKind.HAPPENS:
            parts = (
                self.framed(part, self.words.phrases) or self.change(part, "what is done then")
                for part in told.split("; ")
            )
            return self.words.semicolon.join(parts)
        return self.change(told, "words in a panel")

    def note_of(self, note: str, kind: PanelKind) -> str:
        """A note under a panel; under what may happen with the name of what it is about."""
        event, colon, rest = note.partition(": ")
        if kind is PanelKind.HAPPENS and colon:
            return f"{self.change(event, 'line of a panel')}: {self.change(rest, 'note')}"
        return self.change(note, "note")

    def mark(self, mark: Mark) -> Mark:
        if not isinstance(mark, Draft):
            return mark
        if found := re.fullmatch(r"(\d+) faults? to correct", mark.reason):
            return Draft(self.words.faults.format(n=int(found[1])))
        said = self.words.reasons.get(mark.reason)
        return mark if said is None else Draft(said)

    def caution(self, caution: str) -> str:
        due = self.given.review_by
        if due is not None and caution == ENGLISH.review_overdue.format(day=ENGLISH.day(due)):
            return self.words.review_overdue.format(day=self.words.day(due))
        return self.change(caution, "caution")


#: In these panels ``what`` is a text and no list of names.
_OF_TEXTS = frozenset({PanelKind.SETTINGS, PanelKind.HAPPENS, PanelKind.CALL})
#: A number with the sign of its unit, which is the same in every language (the SI brochure, 9th
#: edition, 5.2: symbols of units are not translated).
_FIGURE = re.compile(r"[\d.,]+(?: ?(?:kV|mA|mAs|s|ms|mm|cm|m|mGy|µGy|%))?")


@cache
def _pattern(pattern: str) -> re.Pattern[str]:
    """An English pattern with slots as what recognises it: ``{n}`` and ``{m}`` are numbers."""
    parts = re.split(r"(\{\w+\})", pattern)
    slots = {
        "{n}": r"(?P<n>\d+)",
        "{m}": r"(?P<m>\d+)",
        "{what}": "(?P<what>.+?)",
        "{names}": "(?P<names>.+)",
    }
    return re.compile("".join(slots.get(part, re.escape(part)) for part in parts))
