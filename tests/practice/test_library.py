"""Every shipped protocol outside imaging rooms 2 and 3: in no choice is there anything to correct,
no rule of any pack is broken, and each says where it comes from and what is left to settle.

Rooms 2 and 3 are held to more, in tests/rules; the faults that are told of these protocols stand in
the test files named after their folders.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from protocol_lang.language.load import load
from protocol_lang.pipeline import check_file
from protocol_lang.resources import folder
from protocol_lang.rules import Subject, Verdict, judge_rules
from tests.practice.kit import ROOM, ROOM_3, kinds
from tests.rules.test_packs import ON, PACKS, book

LIBRARY = [
    path
    for path in sorted(folder("protocols").rglob("*.protocol"))
    if path.parent not in (ROOM, ROOM_3)
    and path.parent.name != "templates"
    and path.read_text("utf-8").startswith(("protocol ", "day "))
]
VISITS = [path for path in LIBRARY if not path.stem.startswith("a-day-")]


def test_what_a_clinic_asks_for_is_there() -> None:
    assert {path.stem for path in LIBRARY} == {
        "a-day-in-imaging-room-4", "cephalometric", "cone-beam-ct", "dressing-change",
        "equipment-leaving-for-repair", "extra-oral-image-first", "intraoral-child",
        "intraoral-film-daylight-loader", "intraoral-hand-held-unit", "intraoral-with-help",
        "intraoral-wired-sensor-second-site",
        "spill-of-saliva-or-blood", "taking-blood-at-the-chair",
        "ultrasound-probe-between-patients", "waste-lead-foil-and-fixer",
    }  # fmt: skip


@pytest.mark.parametrize("path", LIBRARY, ids=lambda path: path.stem)
def test_nothing_is_to_be_corrected_and_no_rule_is_broken(path: Path) -> None:
    one = check_file(path, mend=False)
    assert kinds(one) == [] and not one.outcome.unchecked
    subject = Subject(one.protocol, one.unfolded, one.judgement)
    verdicts = judge_rules([book(pack) for pack in PACKS], subject, on=ON)
    assert not [
        (verdict.pack, verdict.rule.title)
        for verdict in verdicts
        if verdict.verdict in (Verdict.FAILED, Verdict.NOT_DECIDED)
    ]
    # Hands at least are in each of them: a pack that says nothing of any would have gone blind.
    met = {verdict.pack for verdict in verdicts if verdict.verdict is Verdict.MET}
    assert "Hand hygiene" in met


@pytest.mark.parametrize("path", VISITS, ids=lambda path: path.stem)
def test_each_names_its_sources_and_what_is_left_to_settle(path: Path) -> None:
    protocol = load(path).protocol
    assert protocol is not None and protocol.header.sources
    assert any("For the local lead" in note for note in protocol.header.notes)


def test_the_page_of_the_library_names_them_all() -> None:
    """By title, with the file: whoever looks for a protocol begins there."""
    protocols = folder("protocols")
    page = (protocols.parent / "docs" / "library.md").read_text("utf-8")
    shipped = [*LIBRARY, *ROOM.glob("*.protocol"), *ROOM_3.glob("*.protocol")]
    links = {
        f"[{title[2]}](../{path.relative_to(protocols.parent).as_posix()})"
        for path in shipped
        if (title := re.match(r'(protocol|day) "([^"]+)"', path.read_text("utf-8")))
    }
    assert links == set(re.findall(r"\*\*(\[[^\]]+\]\([^)]+\))\*\*", page))
