"""Why a treatment, or a cover, did not keep soil from getting on: said beside the story.

CDC 2003 and 2008: what is soiled is cleaned before it is disinfected or sterilised, and a barrier
that may leak is no reason to leave that out. WHO 2009: visibly soiled hands are washed, not rubbed.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from protocol_lang.pipeline import check_file
from protocol_lang.resources import folder
from protocol_lang.wording import ENTRIES

HEAD = """protocol "Small"
  edition 1
  takes words from "Imaging room 2"

verb ACTOR feels the gum
  meet ACTOR's hands, the patient's mouth

verb ACTOR boils RECEPTOR
  no contact
  reduce RECEPTOR to high

phase "Small"
"""
IN_MOUTH = """  [ ] operator cleans hands
  [ ] operator puts on gloves
  [ ] operator slips sleeve over sensor
  [ ] operator places sensor in mouth
  [ ] operator takes sensor out of mouth
  [ ] operator lets sensor slide out of sleeve onto used half
"""
BARE = """  [ ] operator takes tray paper off used half
  in one go
    [ ] operator takes off gloves
    [ ] operator cleans hands
  [ ] operator lines used half with tray paper
"""


def _because(tmp_path: Path, steps: str) -> set[str]:
    room = folder("protocols") / "imaging-room-2" / "imaging-room-2.protocol"
    (tmp_path / room.name).write_text(room.read_text("utf-8"), "utf-8")
    path = tmp_path / "small.protocol"
    path.write_text(HEAD + steps, "utf-8")
    outcome = check_file(path, mend=False).outcome
    assert outcome.findings and outcome.coverage is not None, outcome
    return {
        said
        for finding in outcome.findings
        if (said := ENTRIES[finding.kind].because(finding.facts)) is not None
    }


RUBBED = """  [ ] operator feels the gum
  [ ] operator cleans hands
  [ ] operator works at keyboard
  [ ] operator washes hands
"""
BOILED = IN_MOUTH + "  [ ] operator boils sensor\n" + BARE
LEAKED = IN_MOUTH + BARE


@pytest.mark.parametrize(
    ("steps", "said"),
    [
        (RUBBED, '"operator cleans hands" ends traces only; there is more on operator\'s hands.'),
        (
            BOILED,
            'Sensor is not cleaned before "operator boils sensor", so that does not count.',
        ),
        (LEAKED, 'Sleeve is taken to leak, as in "operator places sensor in mouth".'),
    ],
)
def test_it_is_said_why_soil_is_still_there(steps: str, said: str, tmp_path: Path):
    assert said in _because(tmp_path, steps)
