"""Children, and people who gag or need help: the shipped protocols, one changed place at a time.

Each fault shows only under some choice, after a mishap or in a second visit; beside each stands a
change of the same place that is right as well.

Sources, by the short names used below:

* CDC 2003: Guidelines for Infection Control in Dental Health-Care Settings, MMWR 52(RR-17);
* CDC hands: Guideline for Hand Hygiene in Health-Care Settings, 2002 (soap where hands are soiled);
* CDC poster: sequence for removing personal protective equipment.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from protocol_lang.resources import folder
from tests.practice.kit import Planted, among, assert_told, kinds

ROOM = folder("protocols") / "visits-with-help"
CHILD, HELP = "intraoral-child", "intraoral-with-help"

PARENT = """    [ ] parent washes hands
        note "Saliva may be on the cheeks that were held: a rub is not enough."
"""
APRON = "    [ ] parent takes off apron\n"
HANG = "    [ ] parent hangs apron on apron rack\n"
ASIDE = """  where sensor is bared in the mouth
    [ ] operator sets sensor aside and takes the spare one
        short "Sleeve bitten: take the spare sensor"
"""
DROP = "  [ ] operator drops small holder into holder box\n"
SHOW = "    [ ] operator drops holder to show into holder box\n"
_LINE = "  holder to show: holder; goes in the mouth; heat safe; used once; from sterile store"
#: A holder that is thrown away afterwards, as its own line says then.
SHOWN_ONCE = (CHILD, _LINE + "; goes to holder box\n", _LINE + "; goes to clinical waste\n")
GAG = "    [ ] operator changes gloves\n    [ ] operator covers cone with wrap\n"
SICK = "    [ ] operator throws bowl into clinical waste\n    [ ] operator changes gloves\n"
WHEELS = "    [ ] operator moves wheelchair to the machine\n    [ ] operator cleans hands\n"
CARER = "    [ ] carer washes hands\n    [ ] carer takes off apron\n"
VISOR = "  [ ] operator throws away visor by the strap\n"
GOWN = "  [ ] operator takes off plastic apron inside out\n"
MASK = "  [ ] operator takes off mask by the ties\n"

PLANTED: dict[tuple[str, str], Planted] = {
    # CDC hands: what can be seen or felt on hands is washed off. Only if the parent held the head.
    (CHILD, "a parent who held the head rubs the hands"): Planted(
        ((CHILD, PARENT, PARENT.replace("washes", "cleans")),),
        [("path-to-patient", "parent puts on apron")],
        {"parent": "holds the head"},
        2,
        ((CHILD, PARENT, PARENT + "    [ ] parent cleans hands\n"),),
    ),
    # CDC 2003: without its cover a sensor needs high level. Only if the sleeve was bitten through.
    (CHILD, "a bitten sleeve is not acted on"): Planted(
        ((CHILD, ASIDE, ""),),
        [("claim-can-fail", "sensor is not bared in the mouth")],
        {
            "parent": "waits outside",
            "shown first": "nothing",
            "shielding": "none",
            "what happens": "child bites through the sleeve",
        },
        1,
        ((CHILD, DROP + ASIDE, ASIDE + DROP),),
    ),
    # CDC 2003: what has been handled by one patient is sterilised before the next.
    (CHILD, "the holder that was shown goes back among the clean ones"): Planted(
        (
            SHOWN_ONCE,
            (
                CHILD,
                SHOW,
                "    [ ] operator puts holder to show back into sterile store\n"
                "    [ ] operator throws holder to show into clinical waste\n",
            ),
        ),
        [
            ("path-to-patient", "place: operator places small holder with sensor in mouth"),
            ("claim-not-clean", "place: operator places small holder with sensor in mouth"),
        ],
        {"shown first": "a holder"},
        2,
        (SHOWN_ONCE, (CHILD, SHOW, "    [ ] operator throws holder to show into clinical waste\n")),
    ),
    # CDC 2003: an apron that was met by soiled hands. The next parent takes it from the rack.
    (CHILD, "the apron hung up before hands are washed"): Planted(
        ((CHILD, PARENT + APRON + HANG, APRON + HANG + PARENT),),
        [("path-to-patient", "parent puts on apron")],
        {"parent": "holds the head"},
        2,
        ((CHILD, PARENT + APRON + HANG, PARENT + APRON + "    [ ] parent cleans hands\n" + HANG),),
    ),
    # CDC 2003: clean covers go on with clean hands. Only if somebody gags.
    (HELP, "the new wrap put on with the gloves of the mouth"): Planted(
        ((HELP, GAG, GAG.partition("\n")[2]),),
        [
            ("path-to-patient", "place: operator places holder with sensor in mouth"),
            ("claim-not-clean", "place: operator places holder with sensor in mouth"),
            ("path-to-staff", "operator throws away visor by the strap"),
            (
                "clean-thing-reached",
                "operator covers control panel and exposure button with film cover",
            ),
        ],
        {"what happens": "patient gags"},
        2,
        (
            (
                HELP,
                GAG,
                "    [ ] operator takes off gloves\n    [ ] operator washes hands\n"
                "    [ ] operator puts on gloves\n" + GAG.partition("\n")[2],
            ),
        ),
    ),
    # Common practice, no source: what came from outside is not carried to what others wear.
    (HELP, "from the wheelchair to the collar"): Planted(
        ((HELP, WHEELS, WHEELS.partition("\n")[0] + "\n"),),
        [("path-to-patient", "operator puts collar on patient")],
        {"seat": "own wheelchair", "shielding": "collar"},
        2,
        ((HELP, WHEELS, WHEELS.replace("operator cleans", "operator washes")),),
    ),
    # CDC hands: as for a parent.
    (HELP, "a carer who held the head rubs the hands"): Planted(
        ((HELP, CARER, CARER.replace("washes", "cleans")),),
        [("path-to-patient", "carer puts on apron")],
        {"company": "a carer who holds the head"},
        2,
        ((HELP, CARER, "    [ ] carer cleans hands\n" + CARER),),
    ),
    # CDC poster: eyewear, gown, mask. Only after somebody gagged or was sick there is saliva on it.
    (HELP, "the mask off before visor and apron"): Planted(
        ((HELP, VISOR + GOWN + MASK, MASK + VISOR + GOWN),),
        [("path-to-staff", "operator takes off plastic apron inside out")],
        {"what happens": "patient is sick"},
        1,
        ((HELP, VISOR + GOWN + MASK, GOWN + VISOR + MASK),),
    ),
}


@pytest.mark.parametrize("case", PLANTED, ids="-".join)
def test_a_planted_fault_is_told_and_its_twin_is_not(tmp_path: Path, case: tuple[str, str]) -> None:
    planted = PLANTED[case]
    assert_told(among(tmp_path, case[0], planted.changes, ROOM), planted)
    assert kinds(among(tmp_path, case[0], planted.twin, ROOM)) == []
