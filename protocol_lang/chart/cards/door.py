"""The card for the door: what is put on before somebody goes in, and what is taken off, in order.

From the sheet and what its steps do (:mod:`protocol_lang.chart.deeds`). Of the times at which a
person wears something, the one with the most equipment is on the card; the chart has the others.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from protocol_lang.chart.cards.common import (
    CardPaper,
    Cards,
    Press,
    capital,
    demand_steps,
    foot,
    head,
    split,
)
from protocol_lang.chart.deeds import AirWait, Deed, air_wait, deeds, settled
from protocol_lang.chart.paper import least_type
from protocol_lang.chart.pictograms.of_steps import look_of
from protocol_lang.chart.sheet import Group, Row, Sheet, Together, rows
from protocol_lang.chart.words import Words, words_of
from protocol_lang.model.protocol import Protocol
from protocol_lang.typesetter import CannotPrint, Format

TEMPLATE = Path(__file__).with_name("door.typ")

#: From where the card is read, in metres: somebody who dresses in front of it.
DISTANCE = 1.5
#: Type is never larger than this, in points.
LARGEST_TYPE = 34.0


def door_card(
    sheets: Sequence[Sheet],
    protocol: Protocol,
    format: Format = "pdf",
    paper: CardPaper = CardPaper.A4,
    *,
    pixels_per_inch: float = 144,
) -> Cards:
    """The cards of these sheets of ``protocol``: one for each person who puts something on.

    Raises :class:`CannotPrint` when nobody does, or for a letter that no font has.
    """
    demand_steps(sheets)
    cards = [card for sheet in sheets for card in _cards(sheet, protocol)]
    if not cards:
        raise CannotPrint(
            "Nobody puts on or takes off protective equipment in this protocol, so there is no "
            "card for the door."
        )
    words = words_of(sheets[0].language)
    sizes = {"least": least_type(DISTANCE), "most": LARGEST_TYPE}
    press = Press(TEMPLATE, sheets, words.door_card, cards, paper, sizes)
    made = press.measured()
    pages = [page for card in made for page in card]
    drawn = press.drawn(format, pixels_per_inch, {"made": made})
    if len(drawn) != (1 if format == "pdf" else len(pages)):
        raise AssertionError("a page overflowed")
    return Cards(drawn, len(pages), min(page["k"] for page in pages))


@dataclass(slots=True)
class Time:
    """A time at which a person wears something. ``on``, ``off``: the numbers of the steps that put
    on or take off, in order; ``things``: all that is worn in it."""

    on: list[int] = field(default_factory=list)
    off: list[int] = field(default_factory=list)
    things: set[str] = field(default_factory=set)

    @property
    def put_on(self) -> list[int]:
        """Before anything is taken off."""
        return [number for number in self.on if not self.off or number < self.off[0]]

    @property
    def taken_off(self) -> list[int]:
        """After all has been put on."""
        return [number for number in self.off if not self.on or number > self.on[-1]]

    @property
    def all(self) -> list[int]:
        return sorted({*self.on, *self.off})


def times_of(person: str, done: Iterable[Deed]) -> list[Time]:
    """The times at which this person wears something, in the order of the steps.

    What is taken off without having been put on was on before the sheet begins.
    """
    found: list[Time] = []
    worn: set[str] = set()
    for deed in done:
        on = {thing for who, thing in deed.puts_on if who == person}
        off = {thing for who, thing in deed.takes_off if who == person}
        if not on and not off:
            continue
        if not worn and (on or not found or found[-1].on):
            found.append(Time())
        time = found[-1]
        time.things |= on | off
        if on:
            time.on.append(deed.number)
        if off:
            time.off.append(deed.number)
        worn = (worn - off) | on
    return found


def _cards(sheet: Sheet, protocol: Protocol) -> Iterator[dict[str, Any]]:
    choices = settled(protocol, sheet)
    done = deeds(protocol, choices)
    clearing = air_wait(protocol, choices)
    for person, told in zip(sheet.as_named.persons, sheet.persons, strict=True):
        times = times_of(person, done.values())
        if times:
            most = max(times, key=lambda time: (len(time.things), _protects(time, protocol)))
            others = [time for time in times if time is not most]
            yield _Card(sheet, protocol, person, told, done, most, others).given(clearing)


def _protects(time: Time, protocol: Protocol) -> bool:
    """Whether a respirator is worn in it."""
    return any(protocol.things[name].keeps_air_out for name in time.things)


@dataclass(frozen=True, slots=True)
class _Card:
    """``person``: as the protocol names whose card it is; ``told_person``: as the sheet does."""

    sheet: Sheet
    protocol: Protocol
    person: str
    told_person: str
    done: Mapping[int, Deed]
    time: Time
    others: Sequence[Time]

    @property
    def words(self) -> Words:
        return words_of(self.sheet.language)

    def given(self, clearing: AirWait | None) -> dict[str, Any]:
        words = self.words
        panels = (
            ("on", words.put_on, words.put_on_when, self.steps_on()),
            ("off", words.take_off, words.take_off_when, self.steps_off()),
        )
        return {
            "head": head(self.sheet, words.door_card),
            "person": self.told_person if len(self.sheet.persons) > 1 else "",
            "panels": [
                {"kind": kind, "title": title, "when": when, "items": self.items(numbers, kind)}
                for kind, title, when, numbers in panels
                if numbers
            ],
            "continued": words.continued,
            "notes": self.notes(),
            "door": self.door(clearing),
            "foot": foot(self.sheet, words.who_wears_what),
        }

    # Which steps.

    def steps_on(self) -> list[int]:
        """From the hands that are cleaned for it, in the same phase, to the last that is put on."""
        numbers = self.time.put_on
        if not numbers:
            return []
        phase = self.phase_of(numbers[0])
        before = [n for n in self.cleaned() if n < numbers[0] and n in phase]
        end = self.time.off[0] if self.time.off else max(self.done) + 1
        checked = [n for n in self.phase_of(numbers[-1]) if n < end and self.is_handled(n)]
        return self.between(before[-1:] + numbers + checked, moves=False)

    def steps_off(self) -> list[int]:
        """From the first that is taken off to the hands that are cleaned after the last."""
        numbers = self.time.taken_off
        after = [n for n in self.cleaned() if numbers and n > numbers[-1]]
        return self.between(numbers + after[:1], moves=True) if numbers else []

    def between(self, numbers: Sequence[int], *, moves: bool) -> list[int]:
        """The steps about this person's equipment and hands, from the first number to the last."""
        return [
            number
            for number in range(min(numbers), max(numbers) + 1)
            if number in self.time.all
            or self.person in self.done[number].cleans
            or self.is_handled(number)
            or (moves and self.person in self.done[number].moves)
        ]

    def cleaned(self) -> list[int]:
        return [deed.number for deed in self.done.values() if self.person in deed.cleans]

    def is_handled(self, number: int) -> bool:
        """A step about what this person wears that neither puts it on nor takes it off."""
        deed = self.done[number]
        return (
            bool(deed.handles)
            and set(deed.handles) <= self.time.things
            and not deed.puts_on
            and not deed.takes_off
        )

    def phase_of(self, number: int) -> list[int]:
        """The numbers of the steps of the phase in which this one is."""
        every = ([row.number for row in rows(phase.items)] for phase in self.sheet.phases)
        return next(numbers for numbers in every if number in numbers)

    # How they are told.

    def items(self, numbers: Sequence[int], panel: str) -> list[dict[str, Any]]:
        wanted = set(numbers)
        found: list[dict[str, Any]] = []
        for phase in self.sheet.phases:
            if inside := list(self.told(phase.items, wanted, 0)):
                found.append({"kind": "phase", "text": phase.title})
                found += inside
        count = 0
        for item in found:
            if item["kind"] == "row":
                item["n"] = count = count + 1
                item["pictogram"] = self.pictogram(item["number"], panel)
        return found

    def told(
        self, items: Sequence[Row | Group], wanted: set[int], depth: int
    ) -> Iterator[dict[str, Any]]:
        headed = [one for one in items if isinstance(one, Group) and one.kind is Together.HEADED]
        ways = sum(any(row.number in wanted for row in rows(one.items)) for one in headed)
        for item in items:
            if isinstance(item, Row):
                if item.number in wanted:
                    yield self.row(item, depth)
                continue
            label = self.label(item, wanted)
            if ways == 1 and label in self.any_way:
                label = self.words.one_way
            inside = list(self.told(item.items, wanted, depth + bool(label)))
            if inside and label:
                yield {"kind": "label", "text": label, "depth": depth}
            yield from inside

    @property
    def any_way(self) -> tuple[str, str]:
        """What heads the ways of which any may be taken; of one alone something else is said."""
        return self.words.headings["either"], self.words.headings["or"]

    def label(self, group: Group, wanted: set[int]) -> str:
        """What a group says of its steps, if it has to be told here."""
        if group.kind is Together.HEADED:
            return group.heading or ""
        if group.kind not in (Together.ANY_ORDER, Together.MIXED):
            return ""
        parts = sum(any(row.number in wanted for row in rows((one,))) for one in group.items)
        return self.words.together[group.kind] if parts > 1 else ""

    def row(self, row: Row, depth: int) -> dict[str, Any]:
        who, text = split(row, self.sheet.persons)
        return {
            "kind": "row",
            "text": capital(text) if who in ("", self.told_person) else f"{capital(who)} {text}",
            "number": row.number,
            "step": self.words.step.format(n=row.number),
            "depth": depth,
        }

    def pictogram(self, number: int, panel: str) -> str:
        """Of a step; for one that is about something worn, that on the way on or off."""
        deed = self.done[number]
        looks = [look_of(name, self.protocol) for name in deed.handles]
        if deed.pictogram is None and looks and looks[0]:
            return f"{looks[0]}-{panel}"
        return deed.pictogram or ""

    def notes(self) -> list[str]:
        told = []
        if set(self.time.all) - {*self.time.put_on, *self.time.taken_off}:
            told.append(self.words.in_between)
        if later := sorted(n for time in self.others for n in time.all):
            told.append(
                self.words.worn_again.format(steps=self.words.steps_from(later[0], later[-1]))
            )
        return told

    def door(self, clearing: AirWait | None) -> dict[str, Any] | None:
        if clearing is None:
            return None
        minutes = self.words.minutes.format(n=clearing.minutes)
        begins = self.words.wait_begins.format(minutes=minutes, n=clearing.number)
        return {
            "pictogram": "do-not-enter",
            "title": self.words.keep_closed,
            "begins": begins,
            "not-before": self.words.not_before,
        }
