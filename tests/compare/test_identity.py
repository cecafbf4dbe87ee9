"""The code of a finding stays for as long as its cause and its things do."""

from __future__ import annotations

import re
import shutil
from dataclasses import replace
from pathlib import Path

import pytest

from protocol_lang.findings import Finding, Route, RouteStep
from protocol_lang.identity import identity_of
from protocol_lang.pipeline import check_file
from protocol_lang.text import Place
from tests.compare.kit import ROOM, WIRED

DROPPED = "  [ ] operator disinfects sensor with a new wipe\n"

#: Changes that have nothing to do with the cause.
HARMLESS = {
    "an empty line": ('phase "Place and expose"\n', '\nphase "Place and expose"\n'),
    "a comment": ('phase "Get ready"\n', '# Who comes first\nphase "Get ready"\n'),
    "a note": (
        "  [ ] operator lays out sleeve and wipe\n",
        '  [ ] operator lays out sleeve and wipe\n      note "Two wipes at least."\n',
    ),
    "a renamed phase": ('phase "Place and expose"', 'phase "At the chair"'),
    "a harmless step": (
        "  [ ] patient comes in\n",
        "  [ ] patient comes in\n  [ ] say: good morning\n",
    ),
    "a harmless step that touches": (
        "  [ ] operator opens the record at keyboard\n",
        "  [ ] operator works at keyboard\n  [ ] operator opens the record at keyboard\n",
    ),
    "another owner": ("owner infection control lead", "owner practice lead"),
    "a choice": ("shielding: none, collar\n", "shielding: none, collar\n  chair: old, new\n"),
}


def codes(where: Path, *changes: tuple[str, str]) -> list[tuple[str, str]]:
    """Kind and code of each finding of the shipped protocol with these changes."""
    where.mkdir()
    shutil.copy(ROOM / "imaging-room-2.protocol", where)
    text = (ROOM / f"{WIRED}.protocol").read_text("utf-8")
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new, 1)
    path = where / f"{WIRED}.protocol"
    path.write_text(text, "utf-8")
    return [(one.kind, identity_of(one)) for one in check_file(path).outcome.findings]


@pytest.mark.parametrize("dropped", [DROPPED, "  [ ] operator lets sensor slide out"])
@pytest.mark.parametrize("name", HARMLESS)
def test_a_harmless_change_leaves_it_the_same(name: str, dropped: str, tmp_path: Path):
    fault = (dropped, "" if dropped.endswith("\n") else "  [ ] say: done\n  # lets sensor slide")
    before = codes(tmp_path / "before", fault)
    assert before
    assert codes(tmp_path / "after", fault, HARMLESS[name]) == before


def test_another_thing_makes_it_another(tmp_path: Path):
    sensor = codes(tmp_path / "one", (DROPPED, ""))
    arms = codes(
        tmp_path / "other", ("      [ ] operator disinfects chair arms with a new wipe\n", "")
    )
    assert {kind for kind, _ in sensor} == {kind for kind, _ in arms} == {"path-to-patient"}
    assert not {code for _, code in sensor} & {code for _, code in arms}


def place(file: str, line: int) -> Place:
    return Place(file, line, 3, 9)


FOUND = Finding(
    "path-to-patient",
    place("a.protocol", 4),
    {
        "who": "the next patient's mouth",
        "from_what": "the patient's mouth",
        "soil": "saliva",
        "first": "one step",
    },
    context='step 5 in "Visit"',
    route=Route(
        (("staffing", "alone"),),
        (
            RouteStep(1, "operator", "one step", place("a.protocol", 4), (("mouth", "sensor"),)),
            RouteStep(2, "operator", "one step", place("a.protocol", 4), (("sensor", "mouth"),)),
        ),
    ),
)


def test_it_rests_on_no_place_no_run_and_nothing_beside():
    assert FOUND.route is not None
    steps = tuple(
        replace(step, text="other words", place=place("b.protocol", 9), visit=step.visit + 1)
        for step in reversed(FOUND.route.steps)
    )
    other = replace(
        FOUND,
        place=place("b.protocol", 44),
        context='step 6 in "Other"',
        route=Route((("staffing", "paired"),), steps, ("germs",)),
        facts={
            **FOUND.facts,
            "first": "other words",
            "follows": "more",
            "who": "the next  patient's mouth",
        },
    )
    assert identity_of(other) == identity_of(FOUND)


@pytest.mark.parametrize(
    "other",
    [
        replace(FOUND, kind="path-to-staff"),
        replace(FOUND, facts={**FOUND.facts, "who": "the next patient's eyes"}),
        replace(FOUND, facts={**FOUND.facts, "leaks": "sleeve"}),
        replace(FOUND, route=None),
        replace(
            FOUND,
            route=Route((), (RouteStep(1, None, "one step", None, (("mouth", "holder"),)),)),
        ),
    ],
)
def test_it_rests_on_kind_facts_and_things(other: Finding):
    assert identity_of(other) != identity_of(FOUND)


def test_it_is_short_and_the_same_on_every_machine():
    code = identity_of(Finding("left-over", None, {"thing": "wipe"}))
    assert re.fullmatch("[a-z2-7]{8}", code)
    # sha256 of "left-over", U+001E, "thing", U+001F, "wipe", by the command sha256sum; in base 32.
    assert code == "hjgrpvcj"
