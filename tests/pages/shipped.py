"""Shipped protocols, judged once for all tests of pages."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from pathlib import Path

from protocol_lang.chart.plan import numbers
from protocol_lang.chart.sheet import Checked, Panel, PanelKind, PanelLine, Row, Sheet, rows
from protocol_lang.contamination.judge import Judgement
from protocol_lang.contamination.unfold import Unfolded
from protocol_lang.model.steps import Step
from protocol_lang.model.walk import steps_of
from protocol_lang.pages import sheets
from protocol_lang.pages.choosing import alike, worlds_wanted
from protocol_lang.pipeline import Checked as CheckedFile
from protocol_lang.pipeline import check_file
from protocol_lang.resources import folder

PROTOCOLS = folder("protocols")
SENSOR = PROTOCOLS / "imaging-room-2" / "intraoral-wired-sensor.protocol"
HOLDERS = PROTOCOLS / "imaging-room-2" / "holders-and-bite-blocks.protocol"
SERIES = PROTOCOLS / "imaging-room-2" / "intraoral-series-wired-sensor.protocol"
PLATES = PROTOCOLS / "imaging-room-2" / "intraoral-phosphor-plates.protocol"
OPENING = PROTOCOLS / "imaging-room-2" / "opening-the-room.protocol"
CLOSING = PROTOCOLS / "imaging-room-2" / "closing-the-room.protocol"
PANORAMIC = PROTOCOLS / "imaging-room-3" / "panoramic-usual-visit.protocol"
AIRBORNE = PROTOCOLS / "imaging-room-3" / "panoramic-airborne-precautions.protocol"

#: Those of which all sheets are made in a few seconds.
QUICK = (SENSOR, OPENING, CLOSING, AIRBORNE)


def judged(path: Path) -> tuple[Unfolded, Judgement]:
    """A file checked just now, as far as sheets are made of it."""
    found = check_file(path, mend=False)
    assert found.unfolded is not None and found.judgement is not None, found.outcome.findings
    return found.unfolded, found.judgement


def unfolded(path: Path) -> Unfolded:
    found = checked(path).unfolded
    assert found is not None
    return found


@cache
def checked(path: Path) -> CheckedFile:
    found = check_file(path, mend=False)
    assert found.unfolded is not None and found.judgement is not None, found.outcome.findings
    return found


@cache
def _sheets(path: Path, choices: tuple[tuple[str, str], ...]) -> tuple[Sheet, ...]:
    found = checked(path)
    assert found.unfolded is not None and found.judgement is not None
    return sheets(found.unfolded, found.judgement, Checked(), dict(choices))


def all_sheets(path: Path) -> tuple[Sheet, ...]:
    return _sheets(path, ())


def one_sheet(path: Path, **choices: str) -> Sheet:
    (sheet,) = _sheets(path, tuple((n.replace("_", " "), v) for n, v in choices.items()))
    return sheet


def rows_of(sheet: Sheet) -> list[Row]:
    return [row for phase in sheet.phases for row in rows(phase.items)]


def panel(sheet: Sheet, kind: PanelKind) -> Panel | None:
    return next((one for one in sheet.panels if one.kind is kind), None)


def told(sheet: Sheet, kind: PanelKind) -> list[PanelLine]:
    found = panel(sheet, kind)
    return [] if found is None else list(found.lines)


def steps_shown(path: Path, **choices: str) -> Iterator[tuple[int, Step]]:
    """The steps of a sheet with their numbers, as the checklist has them."""
    plan = unfolded(path)
    wanted = {name.replace("_", " "): value for name, value in choices.items()}
    (settled, _, _), *rest = alike(plan, worlds_wanted(plan, wanted))
    assert not rest
    place_of = numbers(plan.protocol, settled)
    found = {
        place_of[step.place]: step
        for phase in plan.protocol.phases
        for step in steps_of(phase.items)
        if step.place in place_of
    }
    yield from sorted(found.items())
