"""The shipped room with places, one changed line at a time.

Sources: CDC, Guidelines for Environmental Infection Control in Health-Care Facilities, 2003, table
B.1 (6 air changes an hour: 69 minutes to 99.9 percent, 46 to 99); NCRP report 145, 2003 (where an
exposure is made from). That a respirator is worn in the room of a patient under airborne
precautions: CDC, Guideline for Isolation Precautions, 2007, from memory.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from protocol_lang.pipeline import Checked, check_file
from protocol_lang.resources import folder
from tests.planting import planted, times
from tests.practice.kit import Changes, kinds

ROOM = folder("protocols") / "imaging-room-3"
NAMES = ("imaging-room-3", "panoramic-airborne-precautions")


def checked(where: Path, changes: Changes = ()) -> Checked:
    """The shipped protocol with changes to its text or to that of its room, checked."""
    texts = {name: (ROOM / f"{name}.protocol").read_text("utf-8") for name in NAMES}
    for old, new in changes:
        saying = [name for name, text in texts.items() if times(text, old)]
        assert saying, f"nothing says {old!r}"
        texts |= {name: planted(texts[name], old, new) for name in saying}
    for name, text in texts.items():
        (where / f"{name}.protocol").write_text(text, "utf-8")
    return check_file(where / f"{NAMES[-1]}.protocol", mend=False)


def test_as_shipped_nothing_is_to_be_corrected(tmp_path: Path) -> None:
    assert kinds(checked(tmp_path)) == []


LOBBY = "  [ ] operator goes to lobby\n"
AIRBORNE = "  where precautions is airborne\n"
OFF = "    [ ] operator takes off respirator by the ties\n"
FAULTS: dict[str, tuple[Changes, list[str]]] = {
    "the respirator comes off before leaving": (
        (
            (OFF, ""),
            (
                LOBBY + AIRBORNE + "    [ ] operator cl",
                AIRBORNE + OFF + LOBBY + AIRBORNE + "    [ ] operator cl",
            ),
        ),
        ["air-breathed"],
    ),
    "a surgical mask": (
        (("keeps out germs of the air; ", ""),),
        ["air-breathed", "air-breathed"],
    ),
    # With the two minutes of the disinfection the air is clear at the end, but not on going in.
    "waited too short a time": ((("waits 69 minutes", "waits 68 minutes"),), ["air-breathed"]),
    "waited to 99 percent only": (
        (("waits 69 minutes", "waits 46 minutes"),),
        ["air-breathed", "air-not-clear"],
    ),
    "slower ventilation": (
        (("6 air changes an hour", "5 air changes an hour"),),
        ["air-breathed", "air-not-clear"],
    ),
    "exposed from beside the patient": (
        (
            (
                "  [ ] operator goes to booth\n  [ ] operator exposes from booth",
                "  [ ] operator exposes from imaging room",
            ),
            (
                "control panel, exposure button: surface; kept clean; in booth",
                "control panel: surface; kept clean; in booth\n"
                "  exposure button: surface; kept clean",
            ),
        ),
        ["near-an-exposure"],
    ),
    "a booth from which the patient is not seen": (
        (("booth: barrier; patient in view", "booth: barrier"),),
        ["near-an-exposure"],
    ),
    "the button pressed from elsewhere": (
        (
            (
                "  [ ] operator goes to booth\n  [ ] operator exposes from booth",
                "  [ ] operator exposes from booth",
            ),
        ),
        ["claim-can-fail"],
    ),
    "the operator stays in the room": (
        (
            (
                "  [ ] operator waits 2 minutes\n  [ ] operator goes to lobby\n",
                "  [ ] operator waits 2 minutes\n",
            ),
        ),
        ["not-ready"],
    ),
    "the patient stays in the room": (
        (("  [ ] patient leaves\n", ""),),
        ["air-breathed", "not-ready"],
    ),
    "no step goes into the room again": (
        (
            (
                'phase "Turn over the room"\n  [ ] operator goes to imaging room\n',
                'phase "Turn over the room"\n',
            ),
        ),
        ["touched-from-afar"],
    ),
}


@pytest.mark.parametrize("name", FAULTS)
def test_what_a_changed_line_does(tmp_path: Path, name: str) -> None:
    changes, told = FAULTS[name]
    assert sorted(dict.fromkeys(kinds(checked(tmp_path, changes)))) == sorted(dict.fromkeys(told))


TWINS: dict[str, Changes] = {
    "two waits that add up": (
        (
            "    [ ] operator waits 69 minutes\n        short",
            "    [ ] operator waits 60 minutes\n    [ ] operator waits 9 minutes\n        short",
        ),
    ),
    "cleared to 99 percent, as local rules may have it": (
        ("cleared to 99.9 percent", "cleared to 99 percent"),
        ("waits 69 minutes", "waits 46 minutes"),
    ),
    "faster ventilation": (
        ("6 air changes an hour", "12 air changes an hour"),
        ("waits 69 minutes", "waits 35 minutes"),
    ),
    "two metres away, square to the beam": (
        (
            "booth: barrier; patient in view",
            "booth: 2 m from the patient; 90 degrees from the beam",
        ),
    ),
}


@pytest.mark.parametrize("name", TWINS)
def test_what_is_right_as_well_is_silent(tmp_path: Path, name: str) -> None:
    assert kinds(checked(tmp_path, TWINS[name])) == []
