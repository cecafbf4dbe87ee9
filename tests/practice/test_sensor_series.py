"""The shipped series of images with a wired sensor: faults that show in one visit of many only,
each planted by one small change, and beside each a change that is fine and stays silent.

What is not given a source here is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from protocol_lang.findings import Finding
from protocol_lang.pipeline import check_file
from tests.planting import planted
from tests.practice.kit import ROOM, passed

NAME = "intraoral-series-wired-sensor"
ALONE = {"staffing": "alone", "company": "nobody", "teaching": "none", "shielding": "none"}

#: (old text, new text), everywhere in the protocol.
Series = Callable[..., list[Finding]]

GLOVES = "      [ ] operator changes gloves\n"
TRAY_AGAIN = f"""      [ ] operator takes tray paper off used half
{GLOVES}      [ ] operator lines used half with tray paper
"""
NEW_WRAP = "    [ ] operator covers cone with wrap\n"
WRAP_AGAIN = f"""    [ ] operator takes wrap off cone
    [ ] operator changes gloves
{NEW_WRAP}"""
PHONE = """      [ ] operator works at phone
          short "Answer the phone"
"""
CLEAN = "      [ ] operator cleans hands\n"
GLOVES_ON = "      [ ] operator puts on gloves\n"
SUPERVISOR = """        [ ] supervisor cleans hands
        [ ] supervisor puts on gloves
"""
FLOOR, USED_HALF = "out of mouth onto floor", "out of mouth onto used half"
ASIDE = "    [ ] operator sets sensor aside and takes the spare one\n"


@pytest.fixture
def series(tmp_path: Path) -> Series:
    """The shipped series with changes, checked for one setting of choices and with few rounds."""

    def run(
        *changes: tuple[str, str], rounds: int = 1, only: dict[str, str] = ALONE
    ) -> list[Finding]:
        text = (ROOM / f"{NAME}.protocol").read_text("utf-8")
        for old, new in (*changes, ("1 to 20", f"1 to {rounds}")):
            text = planted(text, old, new)
        for name in ("imaging-room-2", "turning-over-the-room"):
            (tmp_path / f"{name}.protocol").write_text(
                (ROOM / f"{name}.protocol").read_text("utf-8"), "utf-8"
            )
        path = tmp_path / f"{NAME}.protocol"
        path.write_text(text, "utf-8")
        checked = check_file(path, only, mend=False)
        assert checked.judgement is not None
        return list(checked.outcome.findings)

    return run


def only(findings: list[Finding], kind: str) -> Finding:
    assert [finding.kind for finding in findings] == [kind]
    return findings[0]


def step_at(finding: Finding) -> str:
    """The line that the finding points at."""
    assert finding.place is not None
    lines = Path(finding.place.file).read_text("utf-8").splitlines()
    return lines[finding.place.line - 1].strip()


def test_as_shipped_with_all_choices_and_rounds() -> None:
    checked = check_file(ROOM / f"{NAME}.protocol", mend=False)
    assert not checked.outcome.findings
    assert not checked.outcome.unchecked
    assert checked.unfolded is not None
    # Three rounds stand for eighteen.
    assert list(checked.unfolded.depths.values()) == [3]


class TestTheSensorFalls:
    """A sensor that lay on the floor is not used as it is: CDC, Guidelines for Infection Control in
    Dental Health-Care Settings, 2003, semicritical items; the tray paper: common practice, no
    source."""

    def test_tray_paper_with_floor_dirt_shows_in_the_second_round(self, series: Series) -> None:
        kept = (TRAY_AGAIN, GLOVES)
        assert not series(kept, rounds=1)
        findings = series(kept, rounds=2)
        assert [one.kind for one in findings] == ["path-to-patient", "world-to-patient"]
        first, second = findings
        assert first.facts["last"] == "operator places holder with sensor in mouth (exposure 2)"
        assert first.route is not None
        assert [step.visit for step in first.route.steps] == [1, 2, 2, 2, 2]
        assert second.facts["origin"] == "floor, bin or drain"
        assert "[ ] place:" in step_at(second)

    def test_on_the_used_half_the_tray_paper_may_stay(self, series: Series) -> None:
        assert not series(
            (TRAY_AGAIN, GLOVES),
            (FLOOR, USED_HALF),
            ("drops holder with sensor onto floor", "drops holder with sensor onto used half"),
            ("picks up sensor from floor", "picks up sensor from used half"),
            rounds=2,
        )

    def test_one_sleeve_is_too_few_only_if_it_falls(self, series: Series) -> None:
        finding = only(series(("2 sleeves", "1 sleeves")), "too-few-laid-out")
        assert (finding.facts["thing"], finding.facts["laid"]) == ("sleeve", "1")
        assert "slips sleeve over sensor" in step_at(finding)

    def test_more_than_enough_may_be_laid_out(self, series: Series) -> None:
        assert not series(("2 sleeves and 2 wipes", "4 sleeves and 3 wipes"))


class TestThePhoneRings:
    """WHO, Guidelines on Hand Hygiene in Health Care, 2009: before an aseptic task, and after
    touching what is around."""

    def test_gloves_on_with_hands_from_the_phone(self, series: Series) -> None:
        gloved = PHONE + CLEAN + GLOVES_ON
        finding = only(series((gloved, PHONE + GLOVES_ON)), "world-to-patient")
        assert finding.facts["first"] == "operator works at phone"
        assert finding.facts["part"] == "the patient's mouth"
        assert "[ ] place:" in step_at(finding)

    def test_bare_hands_are_cleaned_before_gloves_all_the_same(self, series: Series) -> None:
        bare = f"    otherwise\n{CLEAN}{PHONE}"
        assert not series((bare + CLEAN, bare))


class TestThePatientGags:
    """CDC 2003: covers that are soiled are changed; the cone is bared, so it needs a new one."""

    def test_a_cone_left_bare_shows_when_the_room_is_turned_over(self, series: Series) -> None:
        finding = only(series((NEW_WRAP, "")), "cover-not-on")
        assert finding.facts["cover"] == "wrap"
        assert finding.place is not None
        assert finding.place.file.endswith("turning-over-the-room.protocol")

    def test_a_cone_that_was_not_splashed_keeps_its_wrap(self, series: Series) -> None:
        assert not series((WRAP_AGAIN, ""), (" and onto cone", ""))


class TestTheSupervisor:
    """CDC 2002: hands are cleaned before gloves; who comes in has unclean hands."""

    def test_uncleaned_hands_show_only_where_there_is_one(self, series: Series) -> None:
        hasty = (SUPERVISOR, SUPERVISOR.partition("\n")[2])
        assert not series(hasty)
        finding = only(series(hasty, only=ALONE | {"teaching": "student"}), "world-to-patient")
        assert finding.facts["first"] == "supervisor puts on gloves"
        assert "supervisor corrects holder" in step_at(finding)

    def test_washing_will_do(self, series: Series) -> None:
        washed = (SUPERVISOR, SUPERVISOR.replace("cleans", "washes"))
        assert not series(washed, only=ALONE | {"teaching": "student"})


class TestATornSleeve:
    """CDC 2003 and 2008: without its barrier a sensor is semicritical; intermediate level is then
    not enough."""

    def test_the_sensor_is_not_kept_in_use(self, series: Series) -> None:
        finding = only(series((ASIDE, "")), "claim-can-fail")
        assert finding.facts["claim"] == "sensor is not bared in the mouth"
        assert "sensor is not bared in the mouth" in step_at(finding)

    def test_it_may_be_set_aside_with_fresh_gloves(self, series: Series) -> None:
        assert not series((ASIDE, f"    [ ] operator changes gloves\n{ASIDE}"))


class TestWhatTheRoomIsLeftLike:
    """What one visit finds out, the protocol that follows can ask for as a fact."""

    def test_a_step_that_this_visit_never_needs_is_left_to_others(self) -> None:
        for name in ("turning-over-the-room", "a-visit-without-an-image"):
            assert not check_file(ROOM / f"{name}.protocol", mend=False).outcome.findings

    def test_in_the_visit_itself_it_is_told(self, series: Series) -> None:
        step = "  where cone soiled\n    [ ] operator looks at the image\n"
        before = "  [ ] operator cleans hands\n  [ ] operator opens the record at keyboard\n"
        only(series((before, step + before), only={}), "never-done")


LOOKS = "    [ ] look: operator looks at the image\n"
EITHER_LOOKS = """    either
      [ ] operator looks at the image
    or
      [ ] helper looks at the image
"""


def test_operator_or_helper_looks_at_the_image(series: Series):
    paired = ALONE | {"staffing": "paired", "company": "parent", "teaching": "student"}
    assert not series((LOOKS, EITHER_LOOKS), rounds=3, only=paired)
    touches = EITHER_LOOKS.replace("helper looks at the image", "helper works at used half")
    first, _ = series((LOOKS, touches), rounds=3, only=paired)
    assert first.kind == "path-to-patient"
    assert {"helper's hands", "tray paper"} <= passed(first)
