"""Parts of things in steps: each keeps its own soil, the whole stands for all, covers span some.

Common practice, no source: a cable lies over chin and clothes; the inside of an apron meets
clothes; a tray has a clean and a used half.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from protocol_lang.pipeline import check_file
from tests.practice.kit import kinds

HEAD = """protocol "Parts"
  edition 1
  takes words from "Imaging room 2"

surfaces
  plug board: surface; kept clean

things
  probe: receptor; has head, cable, plug; goes in the mouth; not heat safe; takes cover {sleeve}
  long sleeve: cover; used once; laid out on clean half, from sleeve box; goes to clinical waste
  tray: surface; has clean side, used side
  lead apron: apron; has inside, outside; from collar rack
  strong wipe: wipe; has face, back; used once; thrown away after use; from wipe tub; treats to high

verb ACTOR draws COVER off RECEPTOR
  meet ACTOR's hands, RECEPTOR's head
  uncover RECEPTOR's head from COVER
  retire what came off

verb ACTOR gets settings
  sets settings chosen
  no contact

verb ACTOR plugs RECEPTOR into SURFACE
  meet ACTOR's hands, RECEPTOR's plug, SURFACE

phase "Visit"
  [ ] operator gets settings
  [ ] operator cleans hands
  [ ] operator lays out long sleeve and wipe
"""
ON = "  [ ] operator cleans hands\n  [ ] operator puts on gloves\n"
OFF = "  in one go\n    [ ] operator takes off gloves\n    [ ] operator cleans hands\n"
BOTH = "long sleeve on head, cable"


def _found(where: Path, steps: str, sleeve: str = BOTH) -> list[str]:
    path = where / "parts.protocol"
    path.write_text(HEAD.format(sleeve=sleeve) + steps, "utf-8")
    return kinds(check_file(path, mend=False))


IN_MOUTH = f"""{ON}  [ ] operator slips long sleeve over probe
  [ ] operator places probe with its cable in mouth
  [ ] operator takes probe with its cable out of mouth
"""


LET_GO = "  [ ] operator draws long sleeve off probe\n" + OFF


@pytest.mark.parametrize(("sleeve", "found"), [(BOTH, False), ("long sleeve on head", True)])
def test_a_cable_under_the_sleeve_stays_clean_and_a_bare_one_does_not(
    sleeve: str, found: bool, tmp_path: Path
) -> None:
    """The sleeve of this test does not leak."""
    assert ("path-to-patient" in _found(tmp_path, IN_MOUTH + LET_GO, sleeve)) is found


def test_what_is_drawn_off_one_part_is_off_all_that_it_went_over(tmp_path: Path) -> None:
    assert "not-ready" not in _found(tmp_path, IN_MOUTH + LET_GO)


SOILED = f"{ON}  [ ] operator places probe in mouth\n  [ ] operator takes probe out of mouth\n"


def _cleaned(what: str) -> str:
    return (
        f"{OFF}{ON}  [ ] operator cleans {what} with a new strong wipe\n"
        f"{OFF}  [ ] operator disinfects {what} with a new strong wipe\n"
        "  [ ] operator plugs probe into plug board\n"
    )


@pytest.mark.parametrize(
    ("what", "found"),
    [
        ("probe", False),
        ("probe's head, probe's cable, and probe's plug", False),
        ("probe's head and probe's cable", True),
    ],
)
def test_the_whole_stands_for_each_part_and_a_part_for_itself(
    what: str, found: bool, tmp_path: Path
) -> None:
    assert ("clean-thing-reached" in _found(tmp_path, SOILED + _cleaned(what))) is found


@pytest.mark.parametrize(("part", "found"), [("inside", False), ("outside", True)])
def test_the_inside_of_an_apron_is_what_the_clothes_meet(
    part: str, found: bool, tmp_path: Path
) -> None:
    steps = f"""  [ ] operator lays lead apron over patient
  [ ] operator lifts lead apron off patient
{OFF.replace("    [ ] operator takes off gloves" + chr(10), "")}"""
    steps += (
        f"  [ ] operator cleans lead apron's {part} with a new strong wipe\n"
        f"  [ ] operator disinfects lead apron's {part} with a new strong wipe\n"
    )
    assert ("path-to-patient" in _found(tmp_path, steps)) is found


@pytest.mark.parametrize(("side", "found"), [("clean", True), ("used", False)])
def test_the_halves_of_a_tray_are_apart(side: str, found: bool, tmp_path: Path) -> None:
    """A used probe on one half; once it is clean it lies on the clean one, then is plugged in."""
    steps = (
        SOILED
        + f"  [ ] operator lays probe on tray's {side} side\n"
        + _cleaned("probe")
        + "  [ ] operator lays probe on tray's clean side\n"
    )
    assert ("path-to-patient" in _found(tmp_path, steps)) is found


def test_an_unknown_part_is_told(tmp_path: Path) -> None:
    steps = "  [ ] operator inspects probe's tail\n"
    assert "unknown-name" in _found(tmp_path, steps)
