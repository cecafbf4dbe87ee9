"""Plates that are scanned while the next patient sits down: faults that show only where one visit
runs into the next, and right twins.

In the same day without the words "may run into the next visit" none of the faults is there. That
nobody touches what another person still has in hand is common practice, no source; that a plate
goes into the mouth clean and in a barrier, CDC 2003 (Guidelines for Infection Control in Dental
Health-Care Settings, MMWR 52(RR-17)).
"""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.practice.kit import among, kinds, kinds_and_lines

DAY = "a-day-with-plates"
PLATES = "intraoral-phosphor-plates-with-a-helper"
RUNS_ON = "  may run into the next visit\n"
#: The day without the wired sensor: the same faults, told sooner.
FEWER = (DAY, ', "Intraoral, wired sensor"', "")

LINED = "  [ ] helper lines plate tray with tray sheet\n"
CUP = '  [ ] operator takes plate cup\n      short "Cup on the used half"\n'
GLOVES_OFF = """  in one go
    [ ] helper takes off gloves
    [ ] helper cleans hands
  [ ] helper feeds plate 1 into scanner
"""
GLOVES_ON = """  in one go
    [ ] helper cleans hands
    [ ] helper puts on gloves
"""
FEEDS = "  [ ] helper feeds plate 1 into scanner\n"
SLIDES_2 = "    [ ] helper tears open envelope and lets plate 2 slide onto plate tray\n"
FEEDS_2 = "    [ ] helper feeds plate 2 into scanner\n"
SETTINGS = "  [ ] helper chooses settings at control panel\n"
HAPPENS = 'can happen in "Place and expose"\n'
CALLED = """can happen in "Scan"
  called away, between any two steps of helper
    [ ] helper chooses settings at control panel
    where helper does not wear gloves
      [ ] helper cleans hands

"""
CALLED_WELL = """can happen in "Scan"
  called away, between any two steps of helper
    where helper wears gloves
      [ ] helper takes off gloves
      [ ] helper cleans hands
      [ ] helper chooses settings at control panel
      [ ] helper cleans hands
      [ ] helper puts on gloves
    otherwise
      [ ] helper cleans hands
      [ ] helper chooses settings at control panel
      [ ] helper cleans hands

"""
LEAVES = "  [ ] patient leaves\n"
HOLDS = "  [ ] patient holds chair arms\n"

Changes = tuple[tuple[str, str], ...]

#: Changes to the protocol of the plates; what is found, with the step at which it is told; the
#: choices that have to be so.
FAULTS: dict[str, tuple[Changes, tuple[str, str], dict[str, str]]] = {
    # The sheet of the visit before is still on the tray.
    "the tray is lined when the room is got ready": (
        ((LINED, ""), (CUP, CUP + LINED.replace("helper", "operator"))),
        ("cover-on-twice", "operator lines plate tray with tray sheet"),
        {"protocol": "running into"},
    ),
    # Whoever turns over the room has changed the covers before, and the next visit touches them.
    "settings are chosen with used gloves": (
        ((GLOVES_OFF, SETTINGS + GLOVES_OFF),),
        ("path-to-patient", "operator places plate holder with plate 1 in mouth"),
        {},
    ),
    # Only while the helper wears gloves.
    "the helper is called away to choose settings": (
        ((HAPPENS, CALLED + HAPPENS),),
        ("path-to-patient", "operator places plate holder with plate 1 in mouth"),
        {"what happens": "called away"},
    ),
    "settings are chosen with used gloves for a second image": (
        ((SLIDES_2, f"{SLIDES_2}  {SETTINGS}"),),
        ("path-to-patient", "operator places plate holder with plate 1 in mouth"),
        {"images": "two"},
    ),
    # The arms of the chair have been cleaned by then.
    "the patient sits on while the plates are scanned": (
        ((LEAVES, ""), (FEEDS, HOLDS + LEAVES + FEEDS)),
        ("path-to-patient", "patient sits down on chair arms"),
        {},
    ),
}

TWINS: dict[str, Changes] = {
    "the tray is lined before gloves are put on": ((GLOVES_ON + LINED, LINED + GLOVES_ON),),
    "settings are chosen with clean hands": (
        (GLOVES_OFF, GLOVES_OFF.replace(FEEDS, SETTINGS + FEEDS)),
    ),
    "the helper is called away and takes off the gloves": ((HAPPENS, CALLED_WELL + HAPPENS),),
    "settings are chosen with clean hands between two plates": (
        (
            FEEDS_2,
            f"    [ ] helper cleans hands\n  {SETTINGS}    [ ] helper cleans hands\n{FEEDS_2}",
        ),
    ),
    "the patient sits on until the helper takes over": ((LEAVES, HOLDS + LEAVES),),
}


def _changed(changes: Changes, apart: bool = False) -> list[tuple[str, str, str]]:
    told = [FEWER, *((PLATES, old, new) for old, new in changes)]
    if apart:
        told += [
            (PLATES, f'phase "{title}"\n{RUNS_ON}', f'phase "{title}"\n')
            for title in ("Scan", "Erase, clean, put back")
        ]
    return told


@pytest.mark.parametrize("name", FAULTS)
def test_a_fault_shows_where_one_visit_runs_into_the_next(name: str, tmp_path: Path):
    changes, first, choices = FAULTS[name]
    found = among(tmp_path, DAY, _changed(changes))
    assert kinds_and_lines(found)[0] == first
    route = found.outcome.findings[0].route
    assert route is not None
    assert {1, 2} <= {step.visit for step in route.steps}
    told = dict(route.choices)
    assert all(value in told[choice] for choice, value in choices.items())


@pytest.mark.parametrize("name", FAULTS)
def test_apart_there_is_no_such_fault(name: str, tmp_path: Path):
    changes, _, _ = FAULTS[name]
    assert kinds(among(tmp_path, DAY, _changed(changes, apart=True))) == []


@pytest.mark.parametrize("name", TWINS)
def test_a_right_twin_is_clear(name: str, tmp_path: Path):
    assert kinds(among(tmp_path, DAY, _changed(TWINS[name]))) == []
    assert kinds(among(tmp_path, PLATES, _changed(TWINS[name]))) == []


def test_as_shipped_all_is_clear_and_the_report_says_what_may_run_on(tmp_path: Path):
    found = among(tmp_path, DAY, ())
    assert kinds(found) == [] and found.outcome.unchecked == ()
    coverage = found.outcome.coverage
    assert coverage is not None and not coverage.visits_apart
    assert coverage.running_on == ("Scan", "Erase, clean, put back")
    alone = among(tmp_path, PLATES, ()).outcome.coverage
    assert alone is not None and alone.visits_apart and alone.running_on == coverage.running_on
