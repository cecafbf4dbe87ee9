"""Published orders of putting on and taking off protective equipment.

Sources: CDC, sequence for putting on and removing personal protective equipment (two examples of
removal); CDC, 2020, putting on for respiratory infections; UK health protection guidance on
removal; World Health Organization (gown and gloves together, from memory).
"""

from __future__ import annotations

from itertools import permutations
from pathlib import Path

import pytest

from protocol_lang.pipeline import check_file

ROOM = """room "A small room"
  edition 1
  takes words from "Dental imaging"

people
  operator: staff
  patient: patient

waste streams
  clinical waste

boxes
  glove box, mask box, gown shelf, eyewear box: box; kept clean

things
  gloves: gloves; worn on hands; used once; from glove box; goes to clinical waste
  mask: mask; has front, ties; worn on nose and mouth; used once; from mask box
  eyewear: eyewear; has front, strap; worn on eyes; used once; from eyewear box
  gown: gown; has outside, ties; worn on front; used once; from gown shelf

verb STAFF lets EYEWEAR fall into STREAM
  allowed while just out of gloves
  meet STAFF's hands, EYEWEAR's strap
  retire EYEWEAR into STREAM
"""

OFF = {
    "GLOVES": "operator takes off gloves",
    "EYE": "operator takes off eyewear by the strap",
    "GOWN": "operator takes off gown inside out",
    "MASK": "operator takes off mask by the ties",
    "HH": "operator cleans hands",
    "GOWN+GLOVES": "operator takes off gown and gloves together",
    "MASK FRONT": "operator adjusts mask",
}
ON = {
    "HH": "operator cleans hands",
    "GOWN": "operator puts on gown",
    "MASK": "operator puts on mask",
    "EYE": "operator puts on eyewear",
    "GLOVES": "operator puts on gloves",
}
PUBLISHED_ON = {
    "CDC poster": "GOWN MASK EYE GLOVES",
    "CDC 2020, hands first": "HH GOWN MASK EYE GLOVES",
    "hands again before gloves (CDC 2003: before gloving)": "HH GOWN MASK EYE HH GLOVES",
    "UK: order of putting on matters less": "HH MASK GOWN EYE GLOVES",
}
PUBLISHED_OFF = {
    "CDC poster, example 1": "GLOVES EYE GOWN MASK HH",
    "CDC poster, example 2": "GOWN+GLOVES EYE MASK HH",
    "UK guidance": "GLOVES GOWN EYE MASK HH",
    "UK guidance, hands cleaned on leaving": "GLOVES GOWN EYE HH MASK HH",
    "WHO, from memory": "GOWN+GLOVES HH EYE MASK HH",
}


def found(where: Path, on: str, off: str) -> list[str]:
    """What is found when equipment is put on in one order and taken off in another."""
    lines = [f"  [ ] {ON[word]}" for word in on.split()]
    lines.append("  [ ] patient spatters onto operator")
    for word in off.replace("MASK FRONT", "MASK_FRONT").split():
        lines.append(f"  [ ] {OFF[word.replace('_', ' ')]}")
        if word == "EYE":
            lines.append("  [ ] operator lets eyewear fall into clinical waste")
    text = "\n".join(
        ['protocol "On and off"', "  edition 1", '  takes words from "A small room"', "",
         'phase "All"', *lines, ""]
    )  # fmt: skip
    (where / "a-small-room.protocol").write_text(ROOM, "utf-8")
    path = where / "on-and-off.protocol"
    path.write_text(text, "utf-8")
    outcome = check_file(path, mend=False).outcome
    assert outcome.coverage is not None, outcome.findings
    return [finding.kind for finding in outcome.findings]


@pytest.mark.parametrize("order", PUBLISHED_ON.values(), ids=PUBLISHED_ON)
def test_published_orders_of_putting_on_are_clear(order: str, tmp_path: Path):
    assert found(tmp_path, order, "GLOVES EYE GOWN MASK HH") == []


@pytest.mark.parametrize("order", PUBLISHED_OFF.values(), ids=PUBLISHED_OFF)
def test_published_orders_of_taking_off_are_clear(order: str, tmp_path: Path):
    assert found(tmp_path, "HH GOWN MASK EYE GLOVES", order) == []


def test_of_the_24_orders_exactly_two_are_clear(tmp_path: Path):
    """What the published orders share: gloves first, mask last, eyewear and gown in either
    order."""
    clear = {
        order
        for order in permutations(("GLOVES", "EYE", "GOWN", "MASK"))
        if not found(tmp_path, "HH GOWN MASK EYE GLOVES", " ".join((*order, "HH")))
    }
    assert clear == {("GLOVES", "EYE", "GOWN", "MASK"), ("GLOVES", "GOWN", "EYE", "MASK")}


@pytest.mark.parametrize(
    ("order", "kind"),
    {
        "MASK GLOVES EYE GOWN HH": "path-to-staff",
        "EYE GLOVES GOWN MASK HH": "path-to-staff",
        "GLOVES EYE GOWN MASK": "hands-at-end",
        "EYE GOWN MASK HH": "claim-can-fail",
        "GLOVES EYE GOWN HH MASK": "hands-at-end",
        "GLOVES EYE GOWN MASK FRONT MASK HH": "path-to-staff",
    }.items(),
)
def test_published_mistakes_are_told_with_their_reason(order: str, kind: str, tmp_path: Path):
    """CDC poster: mask before gloves, eyewear before gloves, hands not cleaned at the end, the
    front of the mask touched."""
    assert kind in found(tmp_path, "HH GOWN MASK EYE GLOVES", order)
