"""Holders and bite blocks, beside the visits of a small day: what depends on the way of cleaning,
on what is found out, and on how often something was done again. Planted faults, each with a right
twin.

Sources: CDC, Guidelines for Infection Control in Dental Health-Care Settings, 2003 (cleaned by a
washer or by hand before sterilisation; inspected, and cleaned again where something is left; mask,
eyewear and gown where splashes are likely; a load is not used of which time, temperature and
pressure do not show that its cycle was reached). That such a load is packed anew, that the gloves
of washing are cleaned before a washer is emptied, and how often something is tried again: common
practice, no source.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.practice.kit import DAY, ROOM, SMALL_DAY, Planted, among, assert_told, kinds

HOLDERS = "holders-and-bite-blocks"
SMALL = (DAY, *SMALL_DAY)


def of(*changes: tuple[str, str]) -> tuple[tuple[str, str, str], ...]:
    return (SMALL, *((HOLDERS, old, new) for old, new in changes))


def indented(lines: str) -> str:
    return "".join(f"  {line}\n" for line in lines.splitlines())


def outdented(lines: str) -> str:
    return "".join(f"{line[2:]}\n" for line in lines.splitlines())


EITHER = "  either\n"
RUNS = "    [ ] operator runs washer with used holder\n"
GLOVES = (
    "    [ ] operator washes thick gloves on the hands at sink\n"
    "    [ ] operator disinfects thick gloves on the hands with a new cloth\n"
)
WAITS = "    [ ] operator waits 2 minutes\n"
EMPTIES = "    [ ] operator takes used holder out of washer\n"
BY_HAND = "  or\n    in one go\n      [ ] operator scrubs and rinses used holder at sink\n"
DRIES = "      [ ] operator dries used holder with a new cloth\n"
DEBRIS = "  where debris left\n"
AGAIN = "    again from cleaning, at most 2 times\n"
ONCE = "    again from cleaning, at most 1 time\n"
SORTS = "    [ ] operator sorts out used holder onto dirty side\n"
LOOKS = "    [ ] operator inspects used holder for debris\n"
SORTED = "  where used holder is not found clean\n" + SORTS
VISOR_ON = "  [ ] operator puts on visor\n"
VISOR_OFF = "  [ ] operator throws away visor by the strap\n"
OPENS = "  where used holder is packed\n    [ ] operator opens pouch of used holder\n"
PACKS = "  [ ] operator packs used holder with indicator in pouch\n"
LOADS = "  [ ] operator loads used holder into steriliser\n"
STARTS = "  [ ] operator starts the cycle of steriliser on used holder\n"
READS = "  [ ] printout: operator reads the printout of steriliser for used holder\n"
NOT_REACHED = "  where cycle not reached\n    [ ] operator takes used holder out of steriliser\n"
REPACK = "    again from pack, at most 2 times\n"
RELEASES = "    [ ] operator releases used holder as sterile\n"
UNLOADS = "    [ ] operator unloads used holder onto clean side\n"
CHECKS = "    [ ] operator checks the indicator of used holder\n"
DATES = "    [ ] operator dates used holder\n"
STOCKS = "    [ ] operator stocks sterile store with used holder in pouch\n"
BACK = "  otherwise\n    [ ] operator drops used holder in pouch back into holder box\n"
#: The end of the file.
NOTE = next(
    line + "\n"
    for line in (ROOM / f"{HOLDERS}.protocol").read_text("utf-8").splitlines()
    if line.strip().startswith('note "Three cycles')
)
TAKES_OUT = UNLOADS + CHECKS + DATES + STOCKS
IF_REACHED = "  where used holder is reached\n"
ALL_DONE = NOT_REACHED + REPACK + IF_REACHED + RELEASES + TAKES_OUT + BACK + NOTE
RELEASED_ALWAYS = outdented(RELEASES + TAKES_OUT)
ONLY_THEN = RELEASES + TAKES_OUT + BACK + NOTE
FOUND_OUT = "  cycle not reached, known after printout\n    ends used holder reached\n"
WASHES = "    [ ] operator washes hands\n"
ASIDE = "    [ ] operator drops used holder in pouch back into {}\n"


IN_WASHER = {"way": "operator loads used holder into washer"}
AT_SINK = {"way": "operator scrubs and rinses used holder at sink"}
BETWEEN = {"protocol (visit 2)": '"Holders and bite blocks"'}
FIRST = {"protocol (visit 1)": '"Intraoral, wired sensor"'}
LAST = {"protocol (visit 3)": '"Intraoral, wired sensor"'}
ROUND = FIRST | BETWEEN | LAST
REACHED_NEVER = {
    "cycle not reached": "yes",
    'cycle not reached (from "pack" 2)': "yes",
    'cycle not reached (from "pack" 3)': "yes",
}
THREE_TIMES = {
    "debris left": "yes",
    'debris left (from "cleaning" 2)': "yes",
    'debris left (from "cleaning" 3)': "yes",
}
IN_MOUTH = "place: operator places holder with sensor in mouth"
READ = "printout: operator reads the printout of steriliser for used holder"
PACKED = "operator packs used holder with indicator in pouch"
RELEASED = "operator releases used holder as sterile"
#: What comes of a holder that lies in the sterile store and is not sterile. In the box it lay with
#: others, which had met the sink.
RETURNS = [
    ("path-to-patient", IN_MOUTH),
    ("world-to-patient", IN_MOUTH),
    ("path-to-staff", "operator stocks sterile store with used holder in pouch"),
    ("clean-thing-reached", "operator opens the record at keyboard"),
    ("hands-at-end", "helper aims tube"),
]
FAULTS: dict[str, Planted] = {
    "the washer emptied with the gloves that filled it": Planted(
        of((RUNS + GLOVES + WAITS, RUNS)),
        RETURNS,
        ROUND | IN_WASHER,
        3,
        of((RUNS + GLOVES, RUNS + GLOVES + GLOVES)),
    ),
    "the washer emptied while the gloves are still wet": Planted(
        of((WAITS + EMPTIES, EMPTIES)),
        RETURNS,
        ROUND | IN_WASHER,
        3,
        of((GLOVES + WAITS, GLOVES + "    [ ] operator waits 3 minutes\n")),
    ),
    "gloves for the washer washed and disinfected in any order": Planted(
        of((RUNS + GLOVES, RUNS + "    any order\n" + indented(GLOVES))),
        RETURNS,
        ROUND | IN_WASHER,
        3,
        of((RUNS + GLOVES, RUNS + "    in order\n" + indented(GLOVES))),
    ),
    "scrubbed with bare eyes": Planted(
        of((VISOR_ON, ""), (VISOR_OFF, "")),
        [("path-to-staff", "operator scrubs and rinses used holder at sink")],
        AT_SINK,
        2,
        of((VISOR_ON, ""), (VISOR_OFF, ""), (EITHER, "  in order\n"), (BY_HAND + DRIES, "")),
    ),
    "debris seen, and the load goes on": Planted(
        of((DEBRIS + AGAIN + SORTED, "")),
        [("claim-can-fail", PACKED), *RETURNS],
        {"debris left": "yes"},
        1,
        of((DEBRIS + AGAIN + SORTED, SORTED)),
    ),
    "debris seen for the third time is forgotten": Planted(
        of((SORTED, "")),
        [("claim-can-fail", PACKED), *RETURNS],
        THREE_TIMES,
        1,
        of((AGAIN, ONCE)),
    ),
    "debris seen for the third time is overlooked": Planted(
        of((SORTS, LOOKS)),
        RETURNS,
        ROUND | THREE_TIMES,
        3,
        of((SORTS, SORTS + LOOKS)),
    ),
    "the printout read before the cycle has run, in one order": Planted(
        of((STARTS + READS, "  any order\n" + indented(STARTS + READS))),
        [("claim-can-fail", READ)],
        {},
        1,
        of((STARTS + READS, "  in order\n" + indented(STARTS + READS))),
    ),
    "nobody reads whether the cycle was reached": Planted(
        of((FOUND_OUT, ""), (OPENS, ""), (READS + ALL_DONE, RELEASED_ALWAYS)),
        [("claim-can-fail", RELEASED)],
        {},
        1,
        of((FOUND_OUT, ""), (OPENS, ""), (READS + ALL_DONE, READS + RELEASED_ALWAYS)),
    ),
    "a cycle that was not reached is released all the same": Planted(
        of((OPENS, ""), (ALL_DONE, RELEASED_ALWAYS)),
        [("claim-can-fail", RELEASED)],
        {"cycle not reached": "yes"},
        1,
        of((OPENS, ""), (ALL_DONE, "  where not cycle not reached\n" + ONLY_THEN)),
    ),
    "run once more, and not read once more": Planted(
        of((OPENS, ""), (ALL_DONE, NOT_REACHED + indented(LOADS + STARTS) + RELEASED_ALWAYS)),
        [("claim-can-fail", RELEASED)],
        {"cycle not reached": "yes"},
        1,
        of((REPACK, REPACK.replace("2 times", "1 time"))),
    ),
    "packed over a pack that was not opened": Planted(
        of((OPENS, "")),
        [("cover-on-twice", PACKED)],
        {"cycle not reached": "yes"},
        1,
        of((OPENS, OPENS + "    [ ] operator changes gloves\n")),
    ),
    "not reached three times, and put among what is sterile": Planted(
        of((ASIDE.format("holder box"), ASIDE.format("sterile store"))),
        RETURNS,
        ROUND | REACHED_NEVER,
        3,
        of((ASIDE.format("holder box"), WASHES + ASIDE.format("holder box"))),
    ),
    "not reached three times, and left as it is": Planted(
        of((BACK, "")),
        [("not-ready", PACKED)],
        REACHED_NEVER,
        1,
        of((REPACK, REPACK.replace("2 times", "1 time"))),
    ),
}


def test_as_shipped_nothing_is_to_be_corrected(tmp_path: Path) -> None:
    one = among(tmp_path, DAY, of())
    assert kinds(one) == [] and not one.outcome.unchecked


@pytest.mark.parametrize("name", FAULTS)
def test_a_planted_fault_is_told(tmp_path: Path, name: str) -> None:
    assert_told(among(tmp_path, DAY, FAULTS[name].changes), FAULTS[name])


@pytest.mark.parametrize("name", FAULTS)
def test_its_right_twin_is_silent(tmp_path: Path, name: str) -> None:
    assert kinds(among(tmp_path, DAY, FAULTS[name].twin)) == []
