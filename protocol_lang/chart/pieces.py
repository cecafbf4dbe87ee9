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
    Panel,
    PanelKind,
    PanelLine,
    Row,
    Sheet,
    Together,
    rows,
)
from protocol_lang.chart.translate import plain
from protocol_lang.chart.words import Words

#: What it costs to begin a column with a piece; None: it must not.
FREE, BETWEEN_ROWS, INSIDE_GROUP, INSIDE_SUB_LIST = 0, 30, 60, 150

#: What stands under a heading of its own and may begin a column or a page.
HEADS = frozenset({"never", "band", "panel"})
#: Panels whose lines are a table: what, and at the other edge what is told of it.
_TABLES = frozenset({PanelKind.SETTINGS, PanelKind.STANDS, PanelKind.CALL})


@dataclass(frozen=True, slots=True)
class Piece:
    """``kind``: "never", "band", "touch", "warning", "note", "label", "row" or "lanes"; of panels
    "panel", "entry" and "remark". ``phase`` counts from 0, the panels after the phases, in the
    order of the sheet.

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
    names = list(persons)
    short: dict[str, str] = {}
    for full in names:
        name = plain(full)
        others = [plain(other).casefold() for other in names if other != full]
        length = next(
            (
                n
                for n in range(1, len(name) + 1)
                if not any(other.startswith(name[:n].casefold()) for other in others)
            ),
            len(name),
        )
        short[full] = name[:length].upper()
    return short


def pieces(sheet: Sheet, words: Words) -> tuple[Piece, ...]:
    """What is done, in the order of reading: what is laid out before, then all steps."""
    cutter = _Cutter(sheet, words)
    for index, panel in enumerate(sheet.panels):
        if panel.kind is PanelKind.LAY_OUT:
            cutter.panel(index, panel)
    for index, phase in enumerate(sheet.phases):
        cutter.phase, cutter.last = index, None
        cutter.hands = dict(phase.hands_before)
        cutter.out.append(cutter.band(index, continued=False))
        for note in (*((words.runs_on,) if phase.runs_on else ()), *phase.notes):
            cutter.add("note", None, {"text": note})
        cutter.keep_off(phase.touch_only, phase.do_not_touch)
        cutter.items(phase.items, (), first_cost=None, cost=BETWEEN_ROWS)
    return tuple(cutter.out)


def never(sheet: Sheet, words: Words) -> tuple[Piece, ...]:
    """What used hands never touch, to stand once before the steps and not in every head."""
    if not sheet.never_touch:
        return ()
    said = {"head": words.never_touch, "text": words.comma.join(sheet.never_touch)}
    long = tuple(word for text in said.values() for word in plain(text).split())
    return (Piece("never", 0, FREE, said, words=long),)


def pieces_beside(sheet: Sheet, words: Words) -> tuple[Piece, ...]:
    """What is told beside the steps: the other panels, in the order of printing."""
    cutter = _Cutter(sheet, words)
    order = list(PanelKind)
    for index, panel in sorted(
        enumerate(sheet.panels), key=lambda one: (order.index(one[1].kind), one[0])
    ):
        if panel.kind is not PanelKind.LAY_OUT:
            cutter.panel(index, panel)
    return tuple(cutter.out)


def openers(sheet: Sheet, words: Words) -> tuple[tuple[Piece, ...], ...]:
    """For each phase and then each panel, what opens a column in which it goes on.

    The band; and, where the phase has it, what may and must not be touched, to be said again on a
    new page.
    """
    cutter = _Cutter(sheet, words)
    found = []
    for index, phase in enumerate(sheet.phases):
        cutter.phase = index
        cutter.hands = dict(phase.hands_before)
        cutter.out = [cutter.band(index, continued=True)]
        cutter.keep_off(phase.touch_only, phase.do_not_touch)
        found.append(tuple(cutter.out))
    for index, panel in enumerate(sheet.panels):
        cutter.out = []
        cutter.panel_head(index, panel, continued=True)
        found.append(tuple(cutter.out))
    return tuple(found)


def pictograms(sheet: Sheet) -> tuple[str, ...]:
    """The names of the pictograms beside the steps of a sheet, each once."""
    shown = (row.pictogram for phase in sheet.phases for row in rows(phase.items))
    return tuple(dict.fromkeys(filter(None, shown)))


def ranges(numbers: Iterable[int]) -> str:
    """Numbers of steps as people write them: 38–41, 45."""
    runs: list[list[int]] = []
    for number in sorted(set(numbers)):
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    # Two neighbours are no range.
    told = [f"{run[0]}–{run[-1]}" if len(run) > 2 else ", ".join(map(str, run)) for run in runs]
    return ", ".join(told)


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
        """The state of each person's hands; none where nothing is told of hands, as in a panel."""
        if not self.hands:
            return ()
        return tuple(self.hands[person].state.name for person in self.sheet.persons)

    def band(self, index: int, *, continued: bool) -> Piece:
        title = self.sheet.phases[index].title
        before = self.ribbons()
        begins = [] if continued else [self.said(person) for person in self.sheet.persons]
        data = {
            "title": title,
            "letter": str(index + 1),
            "continued": self.words.comma + self.words.continued if continued else "",
            "tokens": [self.tokens[person] for person in self.sheet.persons],
            "begins": begins,
        }
        return Piece(
            "band",
            index,
            FREE,
            data,
            before=before,
            after=before,
            words=tuple(plain(title).split()),
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
            for name, value in data.items()
            if name != "pictogram"  # a name that is not printed
            for text in (value if isinstance(value, list) else [value])
            if isinstance(text, str)
            for word in plain(text).split()
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

    def keep_off(self, only: tuple[str, ...], never: tuple[str, ...]) -> None:
        """The few things that used hands have to do with, above those that they must not touch."""
        if only:
            said = {"head": self.words.touch_only, "text": self.listed(only)}
            self.add("touch", None, said)
        if never:
            said = {"head": self.words.do_not_touch, "text": self.listed(never)}
            self.add("warning", None, said)

    def listed(self, things: Iterable[str]) -> str:
        return self.words.comma.join(things)

    def panel(self, index: int, panel: Panel) -> None:
        self.panel_head(index, panel, continued=False)
        counted = any(line.count is not None for line in panel.lines)
        for place, line in enumerate(panel.lines):
            data = self.entry(panel.kind, line) | {"counted": counted, "first": place == 0}
            self.add("entry", BETWEEN_ROWS if place else None, data)
        for note in panel.notes:
            self.add("remark", None, {"text": note})

    def panel_head(self, index: int, panel: Panel, *, continued: bool) -> None:
        self.phase, self.hands = len(self.sheet.phases) + index, {}
        title = self.words.panels[panel.kind]
        said = {
            "title": title,
            "kind": panel.kind.name,
            "continued": self.words.comma + self.words.continued if continued else "",
        }
        self.out.append(Piece("panel", self.phase, FREE, said, words=tuple(title.split())))

    def entry(self, kind: PanelKind, line: PanelLine) -> dict[str, Any]:
        steps = ""
        if line.steps and kind is PanelKind.HAPPENS:
            steps = self.words.go_on.format(n=self.listed(map(str, line.steps)))
        elif line.steps:
            steps = ranges(line.steps)
        return {
            "what": _capital(line.what),
            "told": line.told,
            "count": "" if line.count is None else str(line.count),
            "minutes": "" if line.minutes is None else self.words.minutes.format(n=line.minutes),
            "steps": steps,
            "goes-on": bool(steps) and kind is PanelKind.HAPPENS,
            "table": kind in _TABLES,
        }

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
            "hand": self.words.which_hand.get(row.hand, row.hand) if row.hand else "",
            "wait": self.clock(row),
            "meanwhile": self.words.meanwhile.format(steps=ranges(row.meanwhile))
            if row.meanwhile
            else "",
            "after": self.words.after.format(n=self.listed(map(str, row.after)))
            if row.after
            else "",
            "changes": [self.said(person) for person in changed],
            "skip": row.must_not_skip or "",
            "skip_head": self.words.must_not_skip if row.must_not_skip else "",
            "touch": self.listed(row.touch_only),
            "touch_head": self.words.touch_only if row.touch_only else "",
            "warning": self.listed(row.do_not_touch),
            "warning_head": self.words.do_not_touch if row.do_not_touch else "",
            "lane": self.sheet.persons.index(row.person)
            if row.person in self.sheet.persons
            else -1,
            "state": self.hands[row.person].state.name if row.person in self.hands else "",
            "depth": len(within),
            "pictogram": row.pictogram or "",
        }
        self.add("row", cost, data, within, before)

    def clock(self, row: Row) -> str:
        """The minutes of a time that has to pass: of waiting, else of staying wet."""
        minutes = row.wet_minutes if row.wait_minutes is None else row.wait_minutes
        return "" if minutes is None else self.words.minutes.format(n=minutes)

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
    """The first letter as a capital; the rest as written, and all of a text that is marked."""
    return text[:1].upper() + text[1:]


def _in_lane(piece: Piece, own: list[int]) -> dict[str, Any]:
    """What a piece prints, in a lane that has the ribbon ``own`` or none."""
    if piece.kind != "row":
        return dict(piece.data)
    return {
        **piece.data,
        "lane": 0 if piece.data["lane"] in own else -1,
        "depth": len(piece.within) - 1,
    }
