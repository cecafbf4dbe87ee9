"""A protocol in a text, timed."""

from __future__ import annotations

from pathlib import Path

from protocol_lang.contamination.unfold import Unfolded
from protocol_lang.pipeline import Checked, check_file
from protocol_lang.resources import folder
from protocol_lang.schedule.whole import timetable
from protocol_lang.timetable import Timetable
from protocol_lang.wording.examples import visit

SHIPPED = folder("protocols")
WIRED = SHIPPED / "imaging-room-2" / "intraoral-wired-sensor.protocol"
MINUTE = 60_000


def checked(where: Path, body: str, declared: str = "", choices: str = "") -> Checked:
    """The protocol with these steps after all stages; its text has no fault."""
    path = where / "a-short-visit.protocol"
    path.write_text(visit(body, declared, choices), "utf-8")
    found = check_file(path)
    assert found.unfolded is not None, found.outcome.findings
    return found


def unfolded_of(found: Checked) -> Unfolded:
    """The plan of what was checked."""
    assert found.unfolded is not None
    return found.unfolded


def timed(found: Checked, session: int = 240) -> Timetable:
    """The time table of what was checked."""
    assert found.unfolded is not None and found.judgement is not None
    assert found.judgement.layout is not None
    return timetable(found.unfolded, found.judgement.layout, session)
