"""An ultrasound probe between patients, blood taken at a chair, a dressing changed: the shipped
protocols of rooms without X-rays, one changed place at a time.

Each fault shows only under some choice, in one order, in a later round, after a mishap or in a
second visit; beside each stands a change of the same place that is right as well.

Sources, by the short names used below:

* CDC 2008: Guideline for Disinfection and Sterilization in Healthcare Facilities (classes of items;
  table 1, high level: 12 minutes or more);
* CDC hands: Guideline for Hand Hygiene in Health-Care Settings, 2002;
* OSHA: 29 CFR 1910.1030 (sharps; from memory);
* practice: common practice, no source.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from protocol_lang.resources import folder
from protocol_lang.wording import ENTRIES
from tests.practice.kit import Planted, among, assert_told, kinds, told

ROOMS = {
    "ultrasound-probe-between-patients": folder("protocols") / "ultrasound-room",
    "taking-blood-at-the-chair": folder("protocols") / "blood-taking-room",
    "dressing-change": folder("protocols") / "treatment-room",
}
PROBE, BLOOD, DRESSING = ROOMS

RINSE = """    [ ] examiner rinses inner probe at clean water
        short "Rinse: nothing of the bath for the next patient"
"""
GEL_OFF = "    [ ] examiner wipes the gel off belly probe with a new wipe\n"
SOAK = "    [ ] examiner soaks inner probe in strong bath\n"
NEW_GLOVES = """    in one go
      [ ] examiner takes off gloves
      [ ] examiner cleans hands
      [ ] examiner puts on gloves
"""
LAST = """    where scan is over the belly
      [ ] examiner cleans hands
    otherwise
      [ ] examiner washes hands
          note "Of the bath too: a rub takes off no chemical."
"""
CONSOLE = """  [ ] examiner cleans console with a new wipe
  [ ] examiner disinfects console with a new wipe
"""

FEEL = """  in one go
    [ ] feel: nurse cleans hands
    [ ] nurse puts on gloves
  [ ] nurse feels for the vein of patient
"""
SKIN = "  [ ] nurse disinfects the skin of patient with a new swab\n"
BAND = """    [ ] nurse cleans cloth band with a new wipe
    [ ] nurse disinfects cloth band with a new wipe
"""
RESTS = """  [ ] nurse cleans arm rests with a new wipe
  [ ] nurse disinfects arm rests with a new wipe
"""
PRICKED = "    [ ] nurse washes hands\n    [ ] nurse puts on gloves\n"
DROPPED = """    [ ] nurse drops needle into sharps box
        short "Needle into the sharps box, at once"
"""

FIRST_OFF = """  in one go
    [ ] nurse takes off gloves
    [ ] nurse cleans hands
  [ ] look: nurse looks at the wound of patient
"""
STERILE = """  in one go
    [ ] nurse cleans hands
    [ ] nurse puts on sterile gloves
        short "Sterile gloves"
"""
SECOND_GLOVES = """    in one go
      [ ] nurse takes off gloves
      [ ] nurse cleans hands
      [ ] nurse puts on sterile gloves
"""
SWABS = """  [ ] nurse lays out swab
      short "Swabs onto the cloth, by the corners of their pack"
"""
STROKE = """    [ ] nurse cleans the wound of patient with a new swab by forceps
        short "One stroke, one swab"
"""
TROLLEY = """  [ ] nurse cleans trolley with a new wipe
  [ ] nurse disinfects trolley with a new wipe
  [ ] nurse waits until trolley is dry
"""
SECOND_OLD = """    [ ] nurse takes the old "second old dressing" off the second wound of patient
        short "Second old dressing off"
    [ ] nurse throws second old dressing into clinical waste
"""
SECOND_TURN = """  where wounds is two
    in one go
      [ ] nurse cleans hands
      [ ] nurse puts on gloves
"""

PLANTED: dict[tuple[str, str], Planted] = {
    # CDC 2008: what was in a strong bath is rinsed. Only after a scan inside, for the next patient.
    (PROBE, "not rinsed after the bath"): Planted(
        ((PROBE, RINSE, ""),),
        [("world-to-patient", "examiner scans inside patient with inner probe")],
        {"scan": "inside"},
        2,
        ((PROBE, RINSE, RINSE + RINSE),),
    ),
    # CDC 2008: cleaning comes first; gel keeps out what disinfects. Only over the belly.
    (PROBE, "disinfected with the gel on"): Planted(
        ((PROBE, GEL_OFF, "    [ ] examiner inspects belly probe\n"),),
        [
            ("path-to-patient", "examiner scans the belly of patient with belly probe"),
            ("clean-thing-reached", "examiner hangs belly probe on probe hook"),
            ("hands-at-end", "examiner hangs belly probe on probe hook"),
        ],
        {"scan": "over the belly"},
        2,
        ((PROBE, GEL_OFF, GEL_OFF + "    [ ] examiner cleans belly probe with a new wipe\n"),),
    ),
    # CDC hands: from a soiled place to a clean one. The cover leaks, the old gloves do the rest.
    (PROBE, "into the bath and out with the gloves of the scan"): Planted(
        ((PROBE, NEW_GLOVES + SOAK, SOAK),),
        [
            ("path-to-patient", "examiner scans inside patient with inner probe"),
            ("path-to-staff", "examiner stores inner probe in probe case"),
            ("clean-thing-reached", "examiner stores inner probe in probe case"),
        ],
        {"scan": "inside"},
        2,
        ((PROBE, NEW_GLOVES, NEW_GLOVES.replace("cleans", "washes")),),
    ),
    # CDC 2008: a rub is for germs. What the bath left on the hands comes to the next probe.
    (PROBE, "a rub after the bath"): Planted(
        ((PROBE, LAST, "    [ ] examiner cleans hands\n"),),
        [("world-to-patient", "examiner scans inside patient with inner probe")],
        {"scan": "inside"},
        2,
        ((PROBE, LAST, "    [ ] examiner washes hands\n"),),
    ),
    # CDC 2008: what gloved hands touch is cleaned and disinfected. Bare hands leave a trace only.
    (PROBE, "the console disinfected after scans over the belly only"): Planted(
        (
            (
                PROBE,
                CONSOLE,
                "  where scan is over the belly\n"
                + "".join(f"  {line}\n" for line in CONSOLE.rstrip().split("\n")),
            ),
        ),
        [
            ("path-to-patient", "examiner scans inside patient with inner probe"),
            ("clean-thing-reached", "examiner lays out gel pack and wipe"),
        ],
        {"scan": "inside"},
        2,
        ((PROBE, CONSOLE, CONSOLE.partition("\n")[0] + "\n" + CONSOLE),),
    ),
    # practice: what is disinfected is not felt again. One of two orders does.
    (BLOOD, "felt in any order with the skin"): Planted(
        (
            (
                BLOOD,
                "  [ ] nurse feels for the vein of patient\n" + SKIN,
                "  any order\n    [ ] nurse feels for the vein of patient\n  " + SKIN,
            ),
        ),
        [("claim-can-fail", "entered: nurse enters the vein of patient with needle")],
        {"tourniquet": "paper", "vein missed": "yes"},
        1,
        ((BLOOD, SKIN, SKIN + SKIN),),
    ),
    # CDC hands: blood is washed off, or met with gloves. Only if the first needle missed.
    (BLOOD, "felt with bare hands"): Planted(
        (
            (
                BLOOD,
                FEEL,
                "  [ ] feel: nurse feels for the vein of patient\n  in one go\n"
                "    [ ] nurse cleans hands\n    [ ] nurse puts on gloves\n",
            ),
        ),
        [
            ("path-to-patient", "entered: nurse enters the vein of patient with needle"),
            ("claim-not-clean", "entered: nurse enters the vein of patient with needle"),
            ("clean-thing-reached", "nurse puts on gloves"),
        ],
        {"vein missed": "yes"},
        2,
        ((BLOOD, FEEL, FEEL + "  [ ] nurse feels for the vein of patient\n"),),
    ),
    # CDC 2008: noncritical, so low level at least. Only with a band of cloth, for the next patient.
    (BLOOD, "the cloth band hung up as it is"): Planted(
        ((BLOOD, BAND, "    [ ] nurse inspects cloth band\n"),),
        [
            ("path-to-patient", "entered: nurse enters the vein of patient with needle"),
            ("claim-not-clean", "entered: nurse enters the vein of patient with needle"),
            ("clean-thing-reached", "nurse hangs cloth band on tourniquet hook"),
        ],
        {"tourniquet": "cloth", "vein missed": "yes"},
        2,
        ((BLOOD, BAND, BAND.partition("\n")[0] + "\n" + BAND),),
    ),
    # CDC hands and OSHA: after a prick hands are washed. Only if there was one.
    (BLOOD, "a rub after a prick"): Planted(
        ((BLOOD, PRICKED, PRICKED.replace("washes", "cleans")),),
        [
            ("path-to-patient", "entered: nurse enters the vein of patient with needle"),
            ("claim-not-clean", "entered: nurse enters the vein of patient with needle"),
            ("clean-thing-reached", "nurse puts on gloves"),
        ],
        {"vein missed": "yes", "what happens": "glove pricked"},
        2,
        ((BLOOD, PRICKED, "    [ ] nurse washes hands\n" + PRICKED),),
    ),
    # OSHA: at once into the box. What is laid out on the tray next time goes into a vein.
    (BLOOD, "the needle lies on the tray first"): Planted(
        ((BLOOD, DROPPED, "    [ ] nurse drops needle onto clean tray\n" + DROPPED),),
        [
            ("path-to-patient", "entered: nurse enters the vein of patient with needle"),
            ("claim-not-clean", "entered: nurse enters the vein of patient with needle"),
            ("path-to-staff", "nurse lays out needle, tube, swab, gauze, plaster and wipe"),
            ("clean-thing-reached", "nurse lays out needle, tube, swab, gauze, plaster and wipe"),
        ],
        {"vein missed": "no"},
        2,
        ((BLOOD, DROPPED, "    [ ] nurse drops needle onto arm rests\n" + DROPPED),),
    ),
    # CDC hands: gloves off, hands, new gloves. Only with a second wound are they kept on.
    (DRESSING, "the forceps fetched with the gloves of the old dressing"): Planted(
        (
            (
                DRESSING,
                SECOND_GLOVES + "    [ ] nurse takes forceps\n",
                "    [ ] nurse takes forceps\n" + SECOND_GLOVES,
            ),
        ),
        [("path-to-patient", "nurse cleans the wound of patient with a new swab by forceps")],
        {"wounds": "two"},
        2,
        (
            (DRESSING, SWABS, ""),
            (DRESSING, STROKE, "    [ ] nurse lays out swab\n" + STROKE),
            (
                DRESSING,
                SECOND_TURN,
                SECOND_TURN.replace(
                    "wounds is two\n",
                    "wounds is two\n    [ ] nurse cleans hands\n    [ ] nurse lays out swab\n",
                ),
            ),
        ),
    ),
    # practice: the cleaner wound first. Only with two wounds.
    (DRESSING, "both old dressings off first"): Planted(
        (
            (DRESSING, SECOND_OLD, "    [ ] nurse keeps hands still\n"),
            (DRESSING, FIRST_OFF, "  where wounds is two\n" + SECOND_OLD + FIRST_OFF),
        ),
        [("claim-can-fail", "nurse cleans the wound of patient with a new swab by forceps")],
        {"wounds": "two", "wound looks infected": "yes", "how many: stroke": "1"},
        1,
        (
            (
                DRESSING,
                SECOND_TURN + SECOND_OLD,
                SECOND_TURN + "    [ ] nurse keeps hands still\n" + SECOND_OLD,
            ),
        ),
    ),
    # CDC 2008 and the label: the cloth lies on what has dried. One of two orders has it wet.
    (DRESSING, "the cloth in any order with the wait"): Planted(
        (
            (DRESSING, TROLLEY, TROLLEY.replace("  [ ] nurse waits until trolley is dry\n", "")),
            (
                DRESSING,
                "  [ ] nurse opens cloth over trolley\n",
                "  any order\n"
                "    [ ] nurse waits until trolley is dry\n"
                "    [ ] nurse opens cloth over trolley\n",
            ),
        ),
        [("claim-can-fail", "nurse opens cloth over trolley")],
        {"wounds": "one", "wound looks infected": "yes", "how many: stroke": "1"},
        1,
        ((DRESSING, TROLLEY, TROLLEY.replace("until trolley is dry", "2 minutes")),),
    ),
}


@pytest.mark.parametrize("case", PLANTED, ids="-".join)
def test_a_planted_fault_is_told_and_its_twin_is_not(tmp_path: Path, case: tuple[str, str]) -> None:
    planted = PLANTED[case]
    room = ROOMS[case[0]]
    assert_told(among(tmp_path, case[0], planted.changes, room), planted)
    assert kinds(among(tmp_path, case[0], planted.twin, room)) == []


@pytest.mark.parametrize(
    ("case", "said"),
    [
        ((DRESSING, "the forceps fetched with the gloves of the old dressing"), "Blood"),
        ((BLOOD, "the cloth band hung up as it is"), "Blood"),
        ((PROBE, "into the bath and out with the gloves of the scan"), "Body fluid"),
        ((PROBE, "disinfected with the gel on"), "Soil from the belly"),
    ],
)
def test_what_travels_is_called_by_its_name(
    tmp_path: Path, case: tuple[str, str], said: str
) -> None:
    found = among(tmp_path, case[0], PLANTED[case].changes, ROOMS[case[0]])
    sentence = ENTRIES["path-to-patient"].sentence(told(found, "path-to-patient").facts)
    assert sentence.startswith(f"{said} of one patient can reach ")
