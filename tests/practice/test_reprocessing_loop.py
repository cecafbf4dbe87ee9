"""From the first patient's mouth through the holder, the box, the steriliser and the store to the
mouth of a later patient: the shipped protocols, one changed line at a time.

Sources: CDC, Guidelines for Infection Control in Dental Health-Care Settings, 2003 (cleaning before
sterilisation; semicritical items that stand heat are sterilised); CDC 2008, table 1 (levels).
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from protocol_lang.pipeline import Checked, check_file
from protocol_lang.resources import folder
from tests.planting import planted
from tests.practice.kit import DAY, SMALL_DAY

SHIPPED = folder("protocols") / "imaging-room-2"
HOLDERS = "holders-and-bite-blocks"
ROOM = "imaging-room-2"
VISIT = "intraoral-wired-sensor"

Check = Callable[..., Checked]


@pytest.fixture
def check(tmp_path: Path) -> Check:
    """Checks one of the shipped files (by default the day) with lines of some replaced."""

    def run(changes: dict[str, tuple[str, str]], name: str = DAY) -> Checked:
        for path in SHIPPED.glob("*.protocol"):
            text = path.read_text("utf-8")
            old, new = changes.get(path.stem, ("", ""))
            if path.stem in changes:
                text = planted(text, old, new)
            if path.stem == DAY and changes:
                assert SMALL_DAY[0] in text
                text = text.replace(*SMALL_DAY)
            (tmp_path / path.name).write_text(text, "utf-8")
        return check_file(tmp_path / f"{name}.protocol")

    return run


def kinds(checked: Checked) -> list[str]:
    return [finding.kind for finding in checked.outcome.findings]


def without(sentence: str) -> tuple[str, str]:
    """The step left out; deeper in, since it stands in a way or a branch."""
    text = (SHIPPED / f"{HOLDERS}.protocol").read_text("utf-8")
    (line,) = (one for one in text.splitlines() if one.endswith(f"[ ] {sentence}"))
    return f"{line}\n", ""


def test_as_shipped_nothing_gets_round(check):
    found = check({})
    assert kinds(found) == [] and found.outcome.unchecked == ()
    coverage = found.outcome.coverage
    assert coverage is not None and coverage.handed_over == ()


def test_alone_the_holders_begin_soiled(check):
    assert kinds(check({}, HOLDERS)) == []
    unwashed = {HOLDERS: without("operator releases used holder as sterile")}
    assert "clean-thing-reached" in kinds(check(unwashed, HOLDERS))
    # What makes the difference is the box: with nothing in it there is nothing to find.
    text = (SHIPPED / f"{HOLDERS}.protocol").read_text("utf-8")
    assert "begins with\n  holder box is used\n" in text


def _round_trip(found: Checked) -> list[tuple[int, str]]:
    paths = [one for one in found.outcome.findings if one.kind == "path-to-patient"]
    assert paths and paths[0].route is not None
    return [(step.visit, step.text) for step in paths[0].route.steps]


@pytest.mark.parametrize(
    "sentence",
    ["operator scrubs and rinses used holder at sink", "operator releases used holder as sterile"],
)
def test_a_holder_that_is_not_made_sterile_carries_soil_on(check, sentence):
    found = check({HOLDERS: without(sentence)})
    if "releases" in sentence:
        # The indicator cannot be checked then: that is told, and the soil as well.
        assert "claim-can-fail" in kinds(found)
    story = _round_trip(found)
    assert [visit for visit, _ in story] == sorted(visit for visit, _ in story)
    assert len({visit for visit, _ in story}) == 3
    texts = [text.partition(" (from ")[0] for _, text in story]
    assert "operator drops holder into holder box" in texts
    assert "operator stocks sterile store with used holder in pouch" in texts


def test_the_day_names_the_files_of_its_story(check):
    found = check({HOLDERS: without("operator scrubs and rinses used holder at sink")})
    (path,) = [one for one in found.outcome.findings if one.kind == "path-to-patient"]
    assert path.route is not None
    files = {Path(step.place.file).stem for step in path.route.steps if step.place is not None}
    assert {VISIT, HOLDERS} <= files


def test_used_holders_put_straight_back(check):
    """No reprocessing at all: the box that they are dropped into is the one they are taken from."""
    straight = {
        VISIT: ("drops holder into holder box", "drops holder into sterile store"),
        ROOM: ("  holder box: to", "  sterile store\n  holder box: to"),
    }
    assert "path-to-patient" in kinds(check(straight, VISIT))


def test_no_protocol_takes_them(check):
    found = check({DAY: ('  beside the visits "Holders and bite blocks"\n', "")})
    assert kinds(found) == ["not-taken-back"]
    (finding,) = found.outcome.findings
    assert finding.facts["thing"] == "holder"


def test_they_are_never_given_back(check):
    stays = {HOLDERS: ("operator stocks sterile store with", "operator stocks pouch box with")}
    assert kinds(check(stays)) == ["not-given-back"]


def test_laid_out_first_they_come_back_to_where_they_are_kept(check):
    laid_out = "used once; laid out on clean half, from sterile store; goes to holder box"
    ready = {
        ROOM: ("used once; from sterile store; goes to holder box", laid_out),
        VISIT: ("lays out sleeve and wipe", "lays out sleeve, wipe and holder"),
    }
    assert kinds(check(ready)) == []
    elsewhere = ready | {HOLDERS: ("operator stocks sterile store", "operator stocks pouch box")}
    assert kinds(check(elsewhere)) == ["not-given-back"]


def test_they_come_back_with_less_than_is_asked(check):
    found = check({ROOM: ("comes back sterile", "comes back high")})
    assert kinds(found) == ["given-back-too-low"]
    (finding,) = found.outcome.findings
    assert (finding.facts["level"], finding.facts["asked"]) == ("high", "sterile")


def test_things_that_nobody_deals_with_are_listed(check):
    lamp = {ROOM: ("  floor: surface; dirty\n", "  floor: surface; dirty\n  lamp: surface\n")}
    coverage = check(lamp).outcome.coverage
    assert coverage is not None and "lamp" in coverage.untouched
    shipped = check({}).outcome.coverage
    assert shipped is not None and "lamp" not in shipped.untouched
    assert "tube head" not in shipped.untouched
    one = check(lamp, VISIT).outcome.coverage
    assert one is not None and one.untouched == ()
