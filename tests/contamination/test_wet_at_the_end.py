"""A disinfection counts only once its wet time is surely over: by a wait, in each way taken.

The contact time of a label is the least time for which the surface must stay wet: CDC, Guidelines
for Infection Control in Dental Health-Care Settings, 2003, environmental infection control; CDC,
Guideline for Disinfection and Sterilization in Healthcare Facilities, 2008.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from protocol_lang.pipeline import check_file
from tests.practice.kit import Planted, among, assert_told, kinds, told

SENSOR = "intraoral-wired-sensor"
WAITS = "  [ ] operator waits until chair arms are dry"
SITS_DOWN = ("path-to-patient", "patient sits down on chair arms")


def either(*ways: str) -> str:
    lines = []
    for opener, way in zip(("either", "or"), ways, strict=True):
        lines += [f"  {opener}", f"  {way}"]
    return "\n".join(lines)


def last(*waits: str) -> tuple[tuple[str, str, str], ...]:
    """The visit with its last wait written in another way."""
    return ((SENSOR, WAITS, either(*waits) if len(waits) > 1 else "".join(waits)),)


TWO_MINUTES = "  [ ] operator waits 2 minutes"
STILL = "  [ ] operator keeps hands still"

FAULTS = {
    "no wait after the last disinfection": Planted(last(""), [SITS_DOWN], {}, 2, last(WAITS)),
    "a wait that is too short": Planted(
        last("  [ ] operator waits 1 minute"), [SITS_DOWN], {}, 2, last(TWO_MINUTES)
    ),
    "a wait in one way only": Planted(
        last(WAITS, STILL),
        [SITS_DOWN],
        {"way": "operator keeps hands still"},
        2,
        last(WAITS, TWO_MINUTES),
    ),
}


@pytest.mark.parametrize("name", FAULTS)
def test_what_is_still_wet_when_the_visit_ends_is_not_disinfected(
    tmp_path: Path, name: str
) -> None:
    one = among(tmp_path, SENSOR, FAULTS[name].changes)
    assert_told(one, FAULTS[name])
    assert told(one, "path-to-patient").facts["wet"] == "chair arms"
    assert "touched" not in told(one, "path-to-patient").facts


@pytest.mark.parametrize("name", FAULTS)
def test_with_a_wait_that_suffices_it_is(tmp_path: Path, name: str) -> None:
    assert kinds(among(tmp_path, SENSOR, FAULTS[name].twin)) == []


def test_the_change_is_a_wait(tmp_path: Path) -> None:
    among(tmp_path, SENSOR, last(""))
    outcome = check_file(tmp_path / f"{SENSOR}.protocol").outcome  # this time with changes
    offered = [remedy.facts["text"] for remedy in outcome.findings[0].remedies]
    assert any("disinfects" not in text and "waits until" in text for text in offered)
