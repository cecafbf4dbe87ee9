"""A panoramic image of somebody who needs no precautions: the shipped protocol, one changed line at
a time.

Each fault shows only under some choice, in one way, in one order, in a later round or over several
visits; beside each stands a change of the same place that is right as well.

Sources, by the short names used below:

* CDC 2003: Guidelines for Infection Control in Dental Health-Care Settings, MMWR 52(RR-17);
* CDC hands: Guideline for Hand Hygiene in Health-Care Settings, 2002;
* NCRP 145: report 145, 2003 (where an exposure is made from).
"""

from __future__ import annotations

from pathlib import Path

import pytest

from protocol_lang.findings import Finding
from protocol_lang.pipeline import check_file
from protocol_lang.resources import folder
from tests.planting import planted
from tests.practice.kit import Changes, kinds

ROOM = folder("protocols") / "imaging-room-3"
VISIT = "panoramic-usual-visit"


def told(where: Path, changes: Changes) -> list[tuple[str, str, Finding]]:
    """What is found: its kind, and the words at which it is."""
    for name in ("imaging-room-3", VISIT):
        text = (ROOM / f"{name}.protocol").read_text("utf-8")
        for old, new in changes if name == VISIT else ():
            text = planted(text, old, new)
        (where / f"{name}.protocol").write_text(text, "utf-8")
    one = check_file(where / f"{VISIT}.protocol", mend=False)
    kinds(one)
    lines = text.split("\n")
    return [(found.kind, _line(lines, found), found) for found in one.outcome.findings]


def _line(lines: list[str], found: Finding) -> str:
    assert found.place is not None
    return lines[found.place.line - 1].strip().removeprefix("[ ] ").partition(": ")[2] or (
        lines[found.place.line - 1].strip().removeprefix("[ ] ")
    )


def world(found: Finding) -> dict[str, str]:
    """The choices and ways with which its story goes."""
    assert found.route is not None
    return {name.partition(" at line ")[0]: value for name, value in found.route.choices}


@pytest.mark.parametrize("name", [VISIT, "a-day-in-imaging-room-3"])
def test_as_shipped_nothing_is_to_be_corrected(name: str) -> None:
    one = check_file(ROOM / f"{name}.protocol", mend=False)
    assert kinds(one) == [] and not one.outcome.unchecked


LANE = """      [ ] operator goes to booth
      [ ] operator opens the record at keyboard
      [ ] operator goes to imaging room
"""
WIPED = """  [ ] operator cleans touched parts with a new wipe
      short "Clean chin rest, handles, temple stops"
  [ ] operator disinfects touched parts with a new wipe
      short "Disinfect chin rest, handles, temple stops"
"""
WIPED_MEANWHILE = "".join(
    f"      [ ] operator {line}\n"
    for line in (
        "cleans hands",
        "puts on gloves",
        "cleans touched parts with a new wipe",
        "disinfects touched parts with a new wipe",
        "takes off gloves",
        "cleans hands",
    )
)
STOPS = "    [ ] operator closes temple stops at the head of patient\n"
GLOVES_OFF = """    in one go
      [ ] operator takes off gloves
      [ ] operator cleans hands
"""
TO_EXPOSE = "  [ ] operator goes to booth\n  [ ] operator exposes"
OPENED = "  [ ] operator opens temple stops at the head of patient\n"
CLEAN = "  [ ] operator cleans hands\n"
ONCE_MORE = "    [ ] patient steps out holding handles\n    again"
BAG_OFF = "    [ ] patient takes bag off bite block\n"
BLOCK = """  where bites on is a metal block
    [ ] operator pulls metal block out of block socket and drops it into used block box
        short "Metal block out, into the used block box"
"""
GLOVES_ON = """  in one go
    [ ] operator cleans hands
    [ ] operator puts on gloves
"""
SOCKET = """    [ ] operator cleans block socket with a new wipe
    [ ] operator disinfects block socket with a new wipe
"""
HUNG = """  where shielding is apron
    [ ] operator hangs apron on apron rack
"""
WAITED = "  [ ] operator waits 2 minutes\n"

#: What is changed, what is found and at which words, and the choices of the first story.
FAULTS: dict[str, tuple[Changes, dict[str, str], dict[str, str]]] = {
    # CDC 2003: after the patient. In one order only, the patient holds the handles once more.
    "the handles wiped while the patient steps out": (
        ((LANE, LANE + WIPED_MEANWHILE), (WIPED, "")),
        {"path-to-patient": "patient takes own denture back from own tray"},
        {"loose": "a denture"},
    ),
    # CDC hands: gloves come off after the task. In the second round a second
    # pair would go over them.
    "gloves kept on from one round to the next": (
        ((STOPS + GLOVES_OFF, STOPS),),
        {"cover-on-twice": "operator puts on gloves"},
        {"patient moved": "yes", "way": "operator cleans hands (way 2)"},
    ),
    # CDC hands: after contact with a patient. In the way without gloves, and the visit after.
    "a button pressed by hands that turned the head": (
        ((STOPS + "  " + CLEAN, STOPS),),
        {"path-to-patient": "operator opens temple stops at the head of patient"},
        {"way": "operator cleans hands"},
    ),
    # CDC hands: after contact with a patient, before what is kept clean.
    "hands not cleaned after the stops are opened": (
        ((OPENED + CLEAN, OPENED),),
        {"clean-thing-reached": "operator opens the record at keyboard"},
        {"patient moved": "no"},
    ),
    # CDC 2003: a new cover for every time that it is taken off. Found in the second round.
    "the bag off before the second round": (
        ((ONCE_MORE, BAG_OFF + ONCE_MORE),),
        {
            "cover-not-on": "patient takes bag off bite block",
            "not-ready": "patient takes bag off bite block",
        },
        {"bites on": "the covered block", "patient moved": "yes"},
    ),
    # CDC 2003: what was in a mouth is taken with gloves. Over three visits.
    "bare hands on the metal block": (
        ((BLOCK, "  where bites on is a metal block\n"), (GLOVES_ON, BLOCK + GLOVES_ON)),
        {
            "path-to-patient": "patient bites on metal block",
            "clean-thing-reached": "operator puts on gloves",
        },
        {"bites on": "a metal block"},
    ),
    # CDC 2003: a sterile block into a soiled socket is no longer sterile. From visit to visit.
    "the socket not cleaned": (
        ((SOCKET, ""),),
        {
            "path-to-patient": "patient bites on metal block",
            "path-to-staff": "operator fits metal block into block socket",
            "clean-thing-reached": "operator takes own tray",
        },
        {"bites on": "a metal block"},
    ),
    # The label of the wipe, two minutes; CDC 2003: hung where the next patient's comes from.
    "the apron hung up before it is dry": (
        ((WAITED + HUNG, HUNG + WAITED),),
        {
            "path-to-patient": "patient bites on bite block",
            "clean-thing-reached": "operator hangs apron on apron rack",
        },
        {"bites on": "the covered block", "shielding": "apron"},
    ),
    # NCRP 145: from behind the barrier, in every round.
    "the button pressed from beside the patient": (
        ((TO_EXPOSE, "  [ ] operator exposes"),),
        {"claim-can-fail": "operator exposes from booth with exposure button"},
        {},
    ),
}


@pytest.mark.parametrize("name", FAULTS)
def test_a_fault_that_only_some_visits_show(tmp_path: Path, name: str) -> None:
    changes, expected, choices = FAULTS[name]
    found = told(tmp_path, changes)
    assert {(kind, line) for kind, line, _ in found} == set(expected.items())
    assert choices.items() <= world(found[0][2]).items()


TWINS: dict[str, Changes] = {
    "the handles wiped meanwhile, after the patient is out": (
        (LANE, LANE + WIPED_MEANWHILE.replace("hands\n", "hands\n          after out\n", 1)),
        (WIPED, ""),
        ("      [ ] patient steps out", "      [ ] out: patient steps out"),
    ),
    "gloves off at the booth, if they are on": (
        (STOPS + GLOVES_OFF, STOPS),
        (
            TO_EXPOSE,
            TO_EXPOSE.replace(
                "  [ ] operator exposes",
                f"  where operator wears gloves\n{GLOVES_OFF}  [ ] operator exposes",
            ),
        ),
    ),
    # What is on them from before is not this patient's saliva, and is harmless on skin.
    "a head turned by hands that came from the control panel": (
        (f"  {CLEAN}    [ ] operator turns", "    [ ] operator turns"),
    ),
    "hands cleaned on the way to the record": (
        (OPENED + CLEAN, OPENED),
        (LANE, "    " + CLEAN + LANE),
    ),
    "a new bag for the second round": (
        (
            ONCE_MORE,
            ONCE_MORE.replace(
                "    again",
                "    where bites on is the covered block\n  "
                + BAG_OFF
                + "    "
                + CLEAN
                + "      [ ] operator covers bite block with bag\n    again",
            ),
        ),
    ),
    "gloves changed after the metal block": ((BLOCK, BLOCK + "    [ ] operator changes gloves\n"),),
    "the socket treated with the other parts": (
        (SOCKET, ""),
        ("touched parts", "touched parts, block socket"),
    ),
    "waited until the apron is dry": (
        (
            WAITED + HUNG,
            HUNG.replace("    [ ]", "    [ ] operator waits until apron is dry\n    [ ]") + WAITED,
        ),
    ),
    "out of the room by the lobby to the booth": (
        (TO_EXPOSE, "  [ ] operator goes to lobby\n" + TO_EXPOSE),
    ),
}


@pytest.mark.parametrize("name", TWINS)
def test_what_is_right_as_well_is_silent(tmp_path: Path, name: str) -> None:
    assert told(tmp_path, TWINS[name]) == []
