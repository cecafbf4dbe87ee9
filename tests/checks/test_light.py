"""The light of a darkroom, and its door, as facts of a place (common practice, no source)."""

from __future__ import annotations

from pathlib import Path

import pytest

from protocol_lang.pipeline import Checked, check_file

HEAD = """protocol "Darkroom"
  edition 1
  takes words from "Imaging room 2"

places
  darkroom, surgery

surfaces
  bench, processor: surface; in darkroom
  light switch: surface; kept clean; in darkroom

things
  film: receptor; takes cover packet; starts covered with packet
  packet: cover; used once; from sleeve box; goes to clinical waste

phase "Develop"
"""
VISIT = """  [ ] operator cleans hands
  [ ] operator goes to darkroom
  [ ] operator turns off the white light of darkroom by elbow
  [ ] operator turns on the safelight of darkroom by foot
  [ ] operator shuts the door of darkroom by elbow
  [ ] operator lets film fall out of packet onto bench in darkroom
  [ ] fed: operator feeds film into processor in darkroom
  [ ] operator slips packet over film
  [ ] operator turns on the white light of darkroom by elbow
  [ ] operator opens the door of darkroom by elbow
  [ ] operator leaves the room
"""


def _checked(where: Path, steps: str, head: str = HEAD) -> Checked:
    path = where / "darkroom.protocol"
    path.write_text(head + steps, "utf-8")
    return check_file(path, mend=False)


def _kinds(one: Checked) -> list[str]:
    return [finding.kind for finding in one.outcome.findings]


def test_the_right_order_is_silent(tmp_path: Path) -> None:
    assert _kinds(_checked(tmp_path, VISIT)) == []


@pytest.mark.parametrize(
    ("before", "claim"),
    [
        ("turns on the white light of darkroom by foot", "darkroom is not lit"),
        ("opens the door of darkroom by foot", "darkroom is not open"),
        ("leaves the room", "operator is in darkroom"),
    ],
)
def test_film_comes_out_only_in_the_dark_behind_a_shut_door(
    tmp_path: Path, before: str, claim: str
) -> None:
    text = VISIT.replace("  [ ] operator lets", f"  [ ] operator {before}\n  [ ] operator lets")
    found = _checked(tmp_path, text).outcome.findings
    assert claim in [fault.facts.get("claim") for fault in found if fault.kind == "claim-can-fail"]


@pytest.mark.parametrize("light", ["turns on the white light", "opens the door"])
def test_light_that_falls_on_the_film_in_one_permitted_order_is_found(
    tmp_path: Path, light: str
) -> None:
    """On and off again while the film lies on the bench: at feeding it is dark once more."""
    off = {
        "turns on the white light": "turns off the white light",
        "opens the door": "shuts the door",
    }
    flash = (
        "  any order\n    in order\n"
        f"      [ ] helper {light} of darkroom by foot\n"
        f"      [ ] helper {off[light]} of darkroom by foot\n"
    )
    planted = VISIT.replace("  [ ] fed: ", flash + "    [ ] ")
    (fault,) = _checked(tmp_path, planted).outcome.findings
    assert fault.kind == "claim-can-fail"
    fact = {"turns on the white light": "lit", "opens the door": "open"}[light]
    assert fault.facts["claim"] == f"darkroom is not {fact} since film unwrapped"
    twin = planted.replace(
        f"[ ] helper {light} of darkroom by foot\n",
        f"[ ] helper {light} of darkroom by foot\n          after fed\n",
    ).replace("    [ ] operator feeds", "    [ ] fed: operator feeds")
    assert _kinds(_checked(tmp_path, twin)) == []
    elsewhere = planted.replace("of darkroom by foot", "of surgery by foot")
    elsewhere = elsewhere.replace("the safelight of surgery", "the safelight of darkroom")
    assert _kinds(_checked(tmp_path, elsewhere)) == []


def test_a_switch_worked_by_hand_is_met(tmp_path: Path) -> None:
    head = HEAD.replace(
        "phase", "verb ACTOR feels the gum\n  meet ACTOR's hands, the patient's mouth\n\nphase"
    )
    gloved = """  [ ] operator cleans hands
  [ ] operator puts on gloves
  [ ] patient comes to surgery
  [ ] operator goes to surgery
  [ ] operator feels the gum
  [ ] patient leaves
  [ ] operator goes to darkroom
  [ ] operator turns off the white light of darkroom {how}
  in one go
    [ ] operator takes off gloves
    [ ] operator cleans hands
  [ ] operator leaves the room
"""
    assert _kinds(_checked(tmp_path, gloved.format(how="at light switch"), head)) == [
        "clean-thing-reached"
    ]
    assert _kinds(_checked(tmp_path, gloved.format(how="by foot"), head)) == []


def test_facts_of_several_places(tmp_path: Path) -> None:
    text = """  [ ] operator turns on the white light of darkroom by foot
  [ ] operator looks at the image
      only when darkroom and surgery are lit
  [ ] operator turns off the white light of darkroom by foot
"""
    (fault,) = _checked(tmp_path, text).outcome.findings
    assert fault.facts["claim"] == "surgery is lit"
    both = text.replace(
        "  [ ] operator looks",
        "  [ ] operator turns on the white light of surgery by elbow\n  [ ] operator looks",
    )
    assert _kinds(_checked(tmp_path, both)) == []


@pytest.mark.parametrize(
    ("said", "kind"),
    [
        ("darkroon is lit", "unknown-place"),
        ("operator is lit", "fact-whose"),
        ("darkroom is sterile", "unknown-name"),
        ("darkroom and surgary are lit", "unknown-place"),
    ],
)
def test_a_fact_of_a_place_is_of_a_place(tmp_path: Path, said: str, kind: str) -> None:
    text = f"  [ ] operator looks at the image\n      only when {said}\n"
    assert _kinds(_checked(tmp_path, text)) == [kind]
