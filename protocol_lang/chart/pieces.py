"""A sheet cut into pieces that stand one under the other in a column.

A piece is never divided. What may begin a column, and at which cost, is told here; how high a piece
is, only the typesetter knows. All that a piece prints is in ``data``, as plain values for the
template.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from protocol_lang.chart.sheet import (
    Group,
    Hands,
    Row,
    Sheet,
    Together,
)
from protocol_lang.chart.translate import plain
from protocol_lang.chart.words import Words

#: What it costs to begin a column with a piece; None: it must not.
FREE, BETWEEN_ROWS, INSIDE_GROUP, INSIDE_SUB_LIST = 0, 30, 60, 150


@dataclass(frozen=True, slots=True)
class Piece:
    """``kind``: "band", "warning", "note", "label", "row" or "lanes"; ``phase`` counts from 0.

    ``within``: the groups it lies in, the outermost first, as (number of the group, kind).
    ``before``/``after``: the state of each ribbon at its top and from its badge on; equal where
    nothing changes. ``lanes``: only of "lanes": the pieces of each lane.
    """

    kind: str
    phase: int
    break_cost: int | None
    data: Mapping[str, Any]
    within: tuple[tuple[int, str], ...] = ()
    before: tuple[str, ...] = ()
    after: tuple[str, ...] = ()
    lanes: tuple[tuple[Piece, ...], ...] = ()
    words: tuple[str, ...] = ()


def tokens(persons: Iterable[str]) -> dict[str, str]:
    """The shortest beginnings that tell the persons apart, in capitals: O and H, or OPE and OBS.

    A name that is the beginning of another is used whole.
    """
    short: dict[str, str] = {}
    bare = {person: plain(person) for person in persons}
    for person, name in bare.items():
        others = [other.casefold() for other in bare.values() if other != name]
        length = next(
            (
                n
                for n in range(1, len(name) + 1)
                if not any(other.startswith(name[:n].casefold()) for other in others)
            ),
            len(name),
        )
        short[person] = name[:length].upper()
    return short


def pieces(sheet: Sheet, words: Words) -> tuple[Piece, ...]:
    """All pieces of a sheet, in the order of reading."""
    cutter = _Cutter(sheet, words)
    for index, phase in enumerate(sheet.phases):
        cutter.phase, cutter.last = index, None
        cutter.hands = dict(phase.hands_before)
        cutter.out.append(cutter.band(index, continued=False))
        for note in (*((words.runs_on,) if phase.runs_on else ()), *phase.notes):
            cutter.add("note", None, {"text": note})
        cutter.warning(phase.do_not_touch)
        cutter.items(phase.items, (), first_cost=None, cost=BETWEEN_ROWS)
    return tuple(cutter.out)


def openers(sheet: Sheet, words: Words) -> tuple[tuple[Piece, ...], ...]:
    """For each phase, what opens a column in which it goes on.

    The band; and, where the phase has it, what must not be touched, to be said again on a new page.
    """
    cutter = _Cutter(sheet, words)
    found = []
    for index, phase in enumerate(sheet.phases):
        cutter.phase = index
        cutter.hands = dict(phase.hands_before)
        cutter.out = [cutter.band(index, continued=True)]
        cutter.warning(phase.do_not_touch)
        found.append(tuple(cutter.out))
    return tuple(found)


class _Cutter:
    """Walks a sheet and keeps the state of the hands and the number of the group."""

    def __init__(self, sheet: Sheet, words: Words) -> None:
        self.sheet = sheet
        self.words = words
        self.tokens = tokens(sheet.persons)
        self.last: str | None = None  # who did the step before, while no name need be repeated
        self.told = sheet.persons  # whose changes are told in words beside a row
        self.out: list[Piece] = []
        self.phase = 0
        self.hands: dict[str, Hands] = {}
        self.group = 0

    def ribbons(self) -> tuple[str, ...]:
        return tuple(self.hands[person].state.name for person in self.sheet.persons)

    def band(self, index: int, *, continued: bool) -> Piece:
        title = self.sheet.phases[index].title
        before = self.ribbons()
        begins = [] if continued else [self.said(person) for person in self.sheet.persons]
        data = {
            "title": title,
            "letter": str(index + 1),
            "continued": self.words.continued if continued else "",
            "tokens": [self.tokens[person] for person in self.sheet.persons],
            "begins": begins,
        }
        return Piece(
            "band", index, FREE, data, before=before, after=before, words=tuple(title.split())
        )

    def add(
        self,
        kind: str,
        cost: int | None,
        data: Mapping[str, Any],
        within: tuple[tuple[int, str], ...] = (),
        before: tuple[str, ...] | None = None,
    ) -> None:
        after = self.ribbons()
        long = tuple(
            word
            for value in data.values()
            for text in (value if isinstance(value, list) else [value])
            if isinstance(text, str)
            for word in text.split()
        )
        self.out.append(
            Piece(
                kind,
                self.phase,
                cost,
                data,
                within,
                after if before is None else before,
                after,
                words=long,
            )
        )

    def warning(self, things: tuple[str, ...]) -> None:
        if things:
            said = {"head": self.words.do_not_touch, "text": ", ".join(things)}
            self.add("warning", None, said)

    def items(
        self,
        items: Iterable[Row | Group],
        within: tuple[tuple[int, str], ...],
        *,
        first_cost: int | None,
        cost: int | None,
    ) -> None:
        now = first_cost
        for item in items:
            if isinstance(item, Row):
                self.row(item, within, now)
            elif item.kind is Together.SIDE_BY_SIDE and not within:
                self.side_by_side(item, now)
            else:
                self.grouped(item, within, now)
            now = cost

    def grouped(self, group: Group, within: tuple[tuple[int, str], ...], cost: int | None) -> None:
        self.group += 1
        inner = (*within, (self.group, group.kind.name))
        if group.kind is Together.HEADED:
            word = group.heading
        elif group.kind is Together.LANE:
            word = group.person
        else:
            word = self.words.together[group.kind]
        self.add("label", cost, {"text": word or ""}, inner)
        if group.kind is Together.IN_ONE_GO:
            inside = INSIDE_SUB_LIST * 4
        elif within:
            inside = INSIDE_SUB_LIST
        else:
            inside = INSIDE_GROUP
        self.items(group.items, inner, first_cost=None, cost=inside)

    def side_by_side(self, group: Group, cost: int | None) -> None:
        """Lanes beside each other; each carries the ribbon of its own person only."""
        before = self.ribbons()
        lanes: list[tuple[Piece, ...]] = []
        heads: list[dict[str, str]] = []
        done: dict[str, Hands] = dict(self.hands)
        for lane in group.items:
            if isinstance(lane, Row):
                raise ValueError("a block side by side holds lanes of people, not single steps")
            person = lane.person or ""
            inner = _Cutter(self.sheet, self.words)
            inner.phase, inner.hands, inner.group = self.phase, dict(self.hands), self.group
            inner.last = person
            inner.told = tuple(name for name in self.told if name == person)
            inner.items(lane.items, ((-1, "LANE"),), first_cost=None, cost=None)
            self.group = inner.group
            own = [self.sheet.persons.index(person)] if person in self.sheet.persons else []
            lanes.append(
                tuple(
                    Piece(
                        piece.kind,
                        piece.phase,
                        None,
                        _in_lane(piece, own),
                        piece.within[1:],
                        tuple(piece.before[i] for i in own),
                        tuple(piece.after[i] for i in own),
                        words=piece.words,
                    )
                    for piece in inner.out
                )
            )
            heads.append({"token": self.tokens.get(person, ""), "person": person})
            if person in inner.hands:
                done[person] = inner.hands[person]
        self.hands, self.last = done, None
        after = self.ribbons()
        self.out.append(
            Piece(
                "lanes",
                self.phase,
                cost,
                {"text": self.words.together[group.kind], "heads": heads},
                (),
                before,
                after,
                tuple(lanes),
                tuple(word for lane in lanes for piece in lane for word in piece.words),
            )
        )

    def row(self, row: Row, within: tuple[tuple[int, str], ...], cost: int | None) -> None:
        before = self.ribbons()
        changed = [
            person
            for person in self.told
            if person in row.hands and row.hands[person] != self.hands[person]
        ]
        self.hands.update({person: row.hands[person] for person in changed})
        lead, rest = self.split(row)
        data = {
            "number": str(row.number),
            "lead": lead,
            "text": rest,
            "notes": list(row.notes),
            "wait": ""
            if row.wait_minutes is None
            else self.words.minutes.format(n=row.wait_minutes),
            "after": self.words.after.format(n=", ".join(map(str, row.after))) if row.after else "",
            "changes": [self.said(person) for person in changed],
            "warning": ", ".join(row.do_not_touch),
            "warning_head": self.words.do_not_touch if row.do_not_touch else "",
            "lane": self.sheet.persons.index(row.person)
            if row.person in self.sheet.persons
            else -1,
            "state": self.hands[row.person].state.name if row.person in self.hands else "",
            "depth": len(within),
        }
        self.add("row", cost, data, within, before)

    def said(self, person: str) -> dict[str, str]:
        """How a person's hands are, in words; whose, by the token, where there are several."""
        hands = self.hands[person]
        return {
            "who": self.tokens[person] if len(self.sheet.persons) > 1 else "",
            "words": self.words.hands_are(hands),
            "state": hands.state.name,
        }

    def split(self, row: Row) -> tuple[str, str]:
        """Who acts, to be set quietly, and the rest.

        The name is left out where the sheet has only one person's hands, where the same person did
        the step just before, and in the lane of that person.
        """
        text, person = row.text, row.person
        before, self.last = self.last, person if person in self.hands else None
        if not person or not text.casefold().startswith(person.casefold() + " "):
            return "", _capital(text)
        rest = text[len(person) + 1 :]
        if self.sheet.persons == (person,) or before == person:
            return "", _capital(rest)
        return _capital(text[: len(person)]), rest


def _capital(text: str) -> str:
    """The first letter as a capital; the rest as written."""
    return text[:1].upper() + text[1:]


def _in_lane(piece: Piece, own: list[int]) -> dict[str, Any]:
    """What a piece prints, in a lane that has the ribbon ``own`` or none."""
    if piece.kind != "row":
        return dict(piece.data)
    depth = len(piece.within) - 1
    return {**piece.data, "lane": 0 if piece.data["lane"] in own else -1, "depth": depth}
