"""How long a visit takes, as a page for people."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from protocol_lang.report.setting import Setting
from protocol_lang.timetable import Bar, Contact, Course, Kept, Timetable
from protocol_lang.wording import basis
from protocol_lang.wording import minutes as words
from protocol_lang.wording.plain import count, quoted

_LABELS = {Kept.SURELY: "kept", Kept.TOO_SHORT: "too short", Kept.UNDECIDED: "not known"}
#: So many steps without a time are named, unless all are asked for.
_NAMED = 3
#: So many of the longest steps, and of those with time to spare, are listed.
_LISTED = 5


def render(
    table: Timetable,
    on: date | None = None,
    width: int = 72,
    colour: bool = False,
    ascii_only: bool = False,
    full: bool = False,
) -> str:
    """The page as text, without a last line feed; ``full``: every step is named."""
    page = Setting(width, colour, ascii_only)
    page.put(f"{table.title}. {words.upshot(table)}", bold=True)
    page.gap()
    page.put(words.VISITS, bold=True)
    for case in table.cases:
        page.put(words.choices(case.choices), " " * page.indent)
        page.put(words.case(case, table.session), " " * (page.indent + 2))
    page.gap()
    page.put(words.COURSE, bold=True)
    for label, texts in _course(table.course, full):
        page.row(label, texts)
    if table.contacts or table.drying:
        page.gap()
        page.put(words.CONTACTS, bold=True)
        for contact in table.contacts:
            page.row(_LABELS[contact.kept], _contact(contact))
        for drying in table.drying:
            page.row("dries", [words.drying(drying)])
    page.gap()
    page.put(words.GAINS, bold=True)
    for gain in table.gains:
        page.row(words.about(gain.saved), [words.gain(gain)])
    page.put(words.GAINS_REST if table.gains else words.NO_GAIN, " " * page.indent)
    page.gap()
    page.put(words.BASIS, bold=True)
    for text in _basis(table, full):
        page.put(text, " " * page.indent)
    page.gap()
    page.row("Caution", basis.CAUTIONS, margin=0)
    if on is not None:
        page.row("Date", [basis.day(on.isoformat())], margin=0)
    return page.text()


def _course(course: Course, full: bool) -> Iterator[tuple[str, list[str]]]:
    head = f"the longest visit, each step at the middle of its span: {words.about(course.ready)}"
    yield "in", [f"{words.choices(course.choices)}; {head}"]
    for person in dict.fromkeys(bar.person for bar in course.bars):
        mine = [bar for bar in course.bars if bar.person == person]
        busy = sum(bar.end - bar.start for bar in mine if not bar.wait)
        waits = sum(bar.end - bar.start for bar in mine if bar.wait)
        waiting = f", waiting {words.about(waits)}" if waits else ""
        yield person or "nobody", [f"busy {words.about(busy)}{waiting}"]
    waits_ = [bar for bar in course.bars if bar.wait]
    if waits_:
        yield "waits", [f"{words.about(bar.end - bar.start)}: {bar.text}" for bar in waits_]
    longest = sorted(
        (bar for bar in course.bars if bar.critical and not bar.wait),
        key=lambda bar: (bar.start - bar.end, bar.start),
    )[:_LISTED]
    if longest:
        yield "longest", [f"{words.about(bar.end - bar.start)}: {bar.text}" for bar in longest]
    loose = [bar for bar in course.bars if not bar.critical]
    if loose:
        loose.sort(key=lambda bar: -bar.slack)
        shown = loose if full or len(loose) <= _LISTED else loose[:_LISTED]
        told = [_loose(bar) for bar in shown]
        if len(shown) < len(loose):
            told.append(f"and {count(len(loose) - len(shown), 'other')} {basis.MORE}")
        yield "has time", told


def _loose(bar: Bar) -> str:
    return f"{words.about(bar.slack)}: {bar.text}"


def _contact(contact: Contact) -> list[str]:
    texts = [words.contact(contact)]
    because = words.because(contact)
    if because is not None:
        texts.append(because)
    texts += [f"  {number}. {text}" for number, text in enumerate(words.story(contact), start=1)]
    return texts


def _basis(table: Timetable, full: bool) -> Iterator[str]:
    yield from words.ASSUMED
    untold = words.untold(table.untold, None if full else _NAMED)
    if untold is not None:
        yield untold
    for clearing in table.clearing:
        yield words.clearing(clearing)
    for name, most, looked_at in table.rounds:
        yield words.rounds(name, most, looked_at)
    if table.mishaps:
        yield words.MISHAPS
    if any(case.open for case in table.cases):
        yield (
            "What is found out, left out or repeated on the way makes the spans wider. "
            f"{quoted('--choice')} looks at one value of a choice only."
        )
