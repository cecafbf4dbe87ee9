"""Phosphor plates, from the box to the scanner and back, with one change at a time.

Each fault shows only with one choice, on one way, at the moment of a mishap, in one order or over
several visits; beside each stands a change of the same place that is right as well.

Sources, by the short names used below:

* CDC 2003: Guidelines for Infection Control in Dental Health-Care Settings, MMWR 52(RR-17);
* Souza 2017 (Clin Oral Investig) and a dental school's survey of 2008: half of the plates in use
  carried bacteria although each had been in an envelope;
* WHO 2009: Guidelines on Hand Hygiene in Health Care.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from protocol_lang.findings import Finding
from protocol_lang.pipeline import check_file
from protocol_lang.resources import folder
from tests.practice.kit import Changes, checked, kinds, visits

PLATES = "intraoral-phosphor-plates"
FIRST_IN = "operator places plate holder with plate 1 in mouth"
SECOND_IN = "operator places plate holder with plate 2 in mouth"

CLEAN_2 = """    where images is two
      [ ] operator cleans plate 2 with a new wipe
      [ ] operator disinfects plate 2 with a new wipe
"""
CLEAN_1 = """    in order
      [ ] operator cleans plate 1 with a new wipe
      [ ] operator disinfects plate 1 with a new wipe
"""
FLOOR = """    [ ] operator changes gloves
        note "The floor has been on them."
"""
AFTER_FEEDING = """          only when plate 2 is not in bright light
    [ ] operator cleans hands
"""
OFF = """    in one go
      [ ] operator takes off gloves
      [ ] operator cleans hands
    where shielding is collar
      [ ] operator takes collar off patient
      [ ] operator cleans hands
"""
COLLAR = """      [ ] operator takes collar off patient
      [ ] operator washes hands
    [ ] operator keeps"""
FEEDS_2 = "operator feeds plate 2 into scanner with the feeding hand"

#: What is changed; the kinds of what is found and the words at each; the choices of the first story
#: that have to be so; the visits that it takes.
FAULTS: dict[str, tuple[Changes, dict[str, str], dict[str, str], int]] = {
    # CDC 2003; Souza 2017: an envelope is no reason to leave out the disinfection. Plate 2 only.
    "the second plate goes back as it is": (
        ((CLEAN_2, ""), ("    [ ] operator waits until plate 2 is dry\n", "    [ ] say: back\n")),
        {"path-to-patient": SECOND_IN},
        {"images": "two"},
        2,
    ),
    # CDC 2003: cleaned before it is disinfected, in every permitted order.
    "cleaning and disinfecting in any order": (
        ((CLEAN_1, CLEAN_1.replace("    in order\n", "    any order\n")),),
        {
            "path-to-patient": FIRST_IN,
            "clean-thing-reached": "operator puts plate 1 back into plate box",
        },
        {},
        2,
    ),
    # Common practice, no source: the floor is never clean. Shows at the moment of that mishap only.
    "gloves kept on after a plate was picked up from the floor": (
        ((FLOOR, ""),),
        {"world-to-patient": SECOND_IN},
        {"images": "two", "what happens": "plate dropped"},
        1,
    ),
    # The technique's own rule (common practice, no source): the clean hand feeds. On that way only.
    "the used hand feeds the second plate": (
        ((FEEDS_2, "operator feeds plate 2 into scanner with the used hand"),),
        {"path-to-patient": FIRST_IN, "clean-thing-reached": "operator lays out wipe"},
        {"images": "two", "way": "operator takes off gloves"},
        2,
    ),
    # Light between the exposure and the scan wipes the image out; with the second plate only.
    "the second plate lies in bright light": (
        (
            (
                "    [ ] operator drops plate 2 into plate cup\n",
                "    [ ] operator drops plate 2 into plate cup\n"
                "    [ ] operator leaves plate 2 in bright light\n",
            ),
        ),
        {
            "claim-can-fail": "operator feeds plate 2 into scanner",
        },
        {"images": "two"},
        1,
    ),
    # WHO 2009: hands are cleaned after they touched what was in a mouth. The envelope may leak.
    "hands not cleaned after feeding, then typing": (
        (
            (AFTER_FEEDING, "          only when plate 2 is not in bright light\n"),
            ("  [ ] patient leaves\n", "  [ ] operator works at keyboard\n  [ ] patient leaves\n"),
        ),
        {"path-to-patient": FIRST_IN, "claim-not-clean": FIRST_IN},
        {"way": "operator takes plate 1 out of plate cup"},
        2,
    ),
}

#: Changes of the same places that are right as well.
TWINS: dict[str, Changes] = {
    "the second plate is cleaned first": ((CLEAN_1 + CLEAN_2, CLEAN_2 + CLEAN_1),),
    "the scanner is wiped before the plates": (
        (
            "  any order\n    in order\n      [ ] operator cleans plate 1",
            "  any order, mixed\n    in order\n      [ ] operator cleans plate 1",
        ),
    ),
    "washed instead of changed after the floor": (
        (
            FLOOR,
            "    [ ] operator takes off gloves\n    [ ] operator washes hands\n"
            "    [ ] operator puts on gloves\n",
        ),
    ),
    "both plates first out of the envelopes, hands washed before feeding": (
        (
            OFF,
            OFF.replace(
                "[ ] operator cleans hands\n    where", "[ ] operator washes hands\n    where"
            ),
        ),
    ),
    "the first plate in bright light after it was scanned": (
        (
            "  [ ] operator erases plate 1 at scanner\n",
            "  [ ] operator leaves plate 1 in bright light\n"
            "  [ ] operator erases plate 1 at scanner\n",
        ),
    ),
    "typing after hands are cleaned": (
        ("  [ ] patient leaves\n", "  [ ] operator works at keyboard\n  [ ] patient leaves\n"),
    ),
}


def told(where: Path, changes: Changes) -> dict[str, tuple[str, Finding]]:
    """What is found: by its kind, the words at which it is."""
    one = checked(where, changes, name=PLATES)
    kinds(one)
    lines = (where / f"{PLATES}.protocol").read_text("utf-8").split("\n")
    return {
        found.kind: (lines[found.place.line - 1].strip().removeprefix("[ ] "), found)
        for found in one.outcome.findings
        if found.place is not None and PLATES in found.place.file
    }


def test_as_shipped_nothing_is_to_be_corrected() -> None:
    one = check_file(folder("protocols") / "imaging-room-2" / f"{PLATES}.protocol", mend=False)
    assert kinds(one) == [] and not one.outcome.unchecked


@pytest.mark.parametrize("name", FAULTS)
def test_a_fault_is_found_where_it_shows(name: str, tmp_path: Path) -> None:
    changes, wanted, with_choices, over = FAULTS[name]
    found = told(tmp_path, changes)
    assert wanted.items() <= {kind: words for kind, (words, _) in found.items()}.items()
    first = found[next(iter(wanted))][1]
    assert first.route is not None
    choices = {key.partition(" at line ")[0]: value for key, value in first.route.choices}
    assert with_choices.items() <= choices.items()
    assert visits(first) == over


@pytest.mark.parametrize("name", TWINS)
def test_what_is_right_as_well_is_silent(name: str, tmp_path: Path) -> None:
    assert told(tmp_path, TWINS[name]) == {}
