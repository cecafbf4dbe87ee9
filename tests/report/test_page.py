"""The page for people: what stands on it, in which order, and that every width can hold it."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from protocol_lang.findings import Finding, Route, RouteStep, Weight
from protocol_lang.outcome import Coverage, FileOutcome, OrderCount, Outcome, Standing
from protocol_lang.report.letters import CLOSE, OPEN, fit, width, wrap
from protocol_lang.report.page import render
from protocol_lang.report.told import in_order, tell
from protocol_lang.text import Place
from tests.report import samples

WIDTHS = (24, 40, 50, 60, 72, 96, 200)


@pytest.mark.parametrize("name", samples.ALL)
@pytest.mark.parametrize("columns", WIDTHS)
@pytest.mark.parametrize("full", [False, True])
def test_no_line_is_longer_than_the_page(name, columns, full):
    page = render(samples.ALL[name], columns, full=full)
    assert max(width(line) for line in page.split("\n")) <= columns


@pytest.mark.parametrize("name", samples.ALL)
def test_lines_end_without_blanks_and_no_two_blank_lines_follow(name):
    page = render(samples.ALL[name], 72)
    assert not re.search(r" $", page, re.MULTILINE)
    assert "\n\n\n" not in page
    assert page == page.strip("\n")


@pytest.mark.parametrize("name", samples.ALL)
def test_ascii_only_is_ascii_and_keeps_the_marks(name):
    page = render(samples.ALL[name], 72, ascii_only=True, full=True)
    assert page.isascii()
    if "⟦" in render(samples.ALL[name], 72):
        assert "[[" in page and "]]" in page


@pytest.mark.parametrize("name", samples.ALL)
@pytest.mark.parametrize("columns", WIDTHS)
def test_colour_only_repeats(name, columns):
    plain = render(samples.ALL[name], columns)
    coloured = render(samples.ALL[name], columns, colour=True)
    assert coloured != plain
    assert re.sub("\x1b\\[[0-9]m", "", coloured) == plain
    # Ink never runs over the end of a line: pagers and printers begin each line anew.
    for line in coloured.split("\n"):
        inks = re.findall("\x1b\\[([0-9])m", line)
        assert not inks or inks[-1] == "0"


def test_the_page_of_one_path_reads_as_a_story():
    page = render(samples.FAULTY, 72)
    story = [
        "two to correct, one to consider",
        "1.  Saliva of one patient can reach the mouth of a later patient.",
        "[ ] ⟦operator aims tube⟧",
        "with staffing: alone and shielding: none",
        "visit 1",
        "operator places holder with sensor in mouth",
        "from patient's mouth to operator's gloves",
        "operator aims tube",
        "from operator's gloves to tube head and cone",
        "visit 2",
        "from operator's gloves to patient's mouth",
        "Any one of these two changes puts it right",
        "[ ] operator takes off gloves",
        "path-to-patient (C01)",
        "2.  ",
        "claim-can-fail (O03)",
        "To consider",
        "3.  ",
        "left-over (C08)",
        "Checked",
        "every permitted order of the steps, about 10^9 of them",
        "Rests on",
        "Not checked   nothing was left out",
        "Caution",
        "Local codes",
    ]
    at = 0
    for part in story:
        found = page.find(part, at)
        assert found >= 0, f"{part!r} is missing, or stands too early, in\n{page}"
        at = found


def test_nothing_to_correct_says_what_that_means():
    page = render(samples.CLEAN, 72)
    assert page.startswith("intraoral-wired-sensor.protocol: nothing to correct.\n")
    assert "no soil of a patient reaches a\nlater patient, staff, or a thing" in page


def test_one_visit_only_claims_nothing_about_the_next_patient():
    file = samples.CLEAN.files[0]
    coverage = replace(samples.COVERAGE, any_number_of_visits=False)
    page = render(replace(samples.CLEAN, files=(replace(file, coverage=coverage),)), 96)
    assert "a later patient" not in page
    assert "Only one visit was looked at." in page


def test_part_not_checked_is_loud_and_no_approval():
    page = render(samples.PARTLY, 96)
    assert page.split("\n")[0].endswith("nothing to correct, one part not checked.")
    assert "part was not checked: this is no approval." in page
    assert "no soil of a patient reaches" not in page


def test_what_was_not_checked_names_the_finding_in_the_way():
    assert "because of number 1" in render(samples.IN_CIRCLES, 72)


def test_full_lists_what_short_only_counts():
    short, full = render(samples.CLEAN, 72), render(samples.CLEAN, 72, full=True)
    for words in ("bacterial spores", "CDC 2003, surfaces", "operator keeps hands still (line "):
        assert words not in short
        assert words in full.replace("\n", " ")
    assert "--full" in short and "--full" not in full


def test_a_finding_in_a_file_that_two_protocols_read_is_told_once():
    page = render(samples.SEVERAL, 72)
    assert page.count("left-over (C08)") == 1
    assert "told above as number 2" in page
    assert "Five files in all: two to correct, one part not checked." in page


def test_the_same_in_several_places_is_one_finding_that_names_them():
    places = [Place(samples.FILE, line, 7, 12) for line in (30, 16, 24)]
    found = [Finding("left-over", place, {"thing": "wipe"}) for place in places]
    page = render(samples.one(*found), 72)
    assert page.startswith(f"{samples.FILE}: one to correct.")
    assert [page.index(f"here too, line {line}") for line in (24, 30)] == sorted(
        page.index(f"here too, line {line}") for line in (24, 30)
    )
    assert f"{samples.FILE}:16:7" in page


def test_choices_of_single_visits_stand_with_the_visit():
    route = Route(
        (("staffing (visit 1)", "alone"), ("shielding", "none"), ("staffing (visit 2)", "paired")),
        tuple(RouteStep(visit, None, "a step", None, (("a", "b"),)) for visit in (1, 2)),
    )
    page = render(samples.one(replace(samples.PATH, route=route, remedies=())), 72)
    for line in ("with shielding: none\n", "visit 1, staffing: alone\n", "visit 2, staffing: pair"):
        assert line in page


def test_a_route_that_is_only_the_place_itself_is_not_told_twice():
    place = samples.DOUBT.place
    route = Route((), (RouteStep(1, None, "a step", place),))
    page = render(samples.one(replace(samples.DOUBT, route=route)), 72)
    assert "route" not in page


def test_choices_are_told_though_the_route_is_only_the_place_itself():
    place = samples.DOUBT.place
    route = Route((("staffing", "alone"),), (RouteStep(1, None, "a step", place),))
    page = render(samples.one(replace(samples.DOUBT, route=route)), 72)
    assert "route     with staffing: alone\n" in page
    assert "a step" not in page


@pytest.mark.parametrize("columns", [60, 72])
def test_the_path_of_a_file_stays_whole_where_it_can(columns):
    name = "protocols/imaging-room-2/intraoral-wired-sensor"
    finding = replace(samples.DOUBT, place=Place(name, 30, 7, 12))
    assert f"{name}:30:7" in render(samples.one(finding), columns).split()


@pytest.mark.parametrize(
    ("number", "exact", "said"),
    [
        (1, True, "the one permitted order of the steps"),
        (24, True, "every permitted order of the steps, 24 of them"),
        (24, False, "every permitted order of the steps, at least 24 of them"),
        (10**47, True, "about 10^47 of them"),
        (10**47, False, "at least 10^47 of them"),
        (10**20_000, True, "about 10^20000 of them"),
    ],
    ids=["one", "few", "at least few", "many", "at least many", "more than a float holds"],
)
def test_number_of_orders(number, exact, said):
    coverage = Coverage(steps=3, orders=OrderCount(number, exact))
    file = FileOutcome("a.protocol", coverage=coverage)
    assert said in render(Outcome((file,)), 96)


def test_a_lower_bound_is_never_rounded_up():
    coverage = Coverage(steps=3, orders=OrderCount(9 * 10**9, exact=False))
    page = render(Outcome((FileOutcome("a.protocol", coverage=coverage),)), 96)
    assert "at least 10^9 of them" in page


def test_a_protocol_that_nobody_looked_at_cannot_be_reported_as_clear():
    with pytest.raises(ValueError, match="neither checked nor said to be unchecked"):
        FileOutcome("a.protocol")


def test_the_standing_of_several_files_is_the_heaviest():
    assert samples.SEVERAL.standing is Standing.CORRECT
    assert samples.PARTLY.standing is Standing.UNCHECKED
    assert samples.CLEAN.standing is Standing.CLEAR
    assert samples.one(samples.DOUBT).standing is Standing.CLEAR


# --- Order ---------------------------------------------------------------------------------------

_PLACES = st.one_of(
    st.none(),
    st.builds(
        lambda file, line, column: Place(file, line, column, column + 1),
        st.sampled_from([samples.FILE, samples.ROOM]),
        st.integers(1, 9),
        st.integers(1, 9),
    ),
)
_FINDINGS = st.lists(
    st.builds(
        Finding,
        kind=st.sampled_from(["left-over", "never-done", "no-permitted-order"]),
        place=_PLACES,
        facts=st.just({"thing": "wipe", "step": "s", "steps": "s"}),
        weight=st.sampled_from(Weight),
    ),
    max_size=12,
)


@given(_FINDINGS, st.randoms())
@settings(max_examples=60, deadline=None)
def test_the_order_does_not_depend_on_the_order_of_finding(findings, random):
    shuffled = list(findings)
    random.shuffle(shuffled)
    # Of equal findings one stays, to correct rather than to consider.
    assert in_order(findings, samples.FILE) == in_order(shuffled, samples.FILE)


@given(_FINDINGS)
@settings(max_examples=60, deadline=None)
def test_to_correct_comes_before_to_consider_then_place_then_kind(findings):
    ordered = in_order(findings, samples.FILE)
    weights = [finding.weight is Weight.CONSIDER for finding in ordered]
    assert weights == sorted(weights)
    for one, two in pairwise(ordered):
        if one.weight is two.weight and one.place == two.place:
            assert one.kind <= two.kind
        if one.weight is two.weight and one.place and two.place:
            home = (one.place.file != samples.FILE, two.place.file != samples.FILE)
            assert home[0] <= home[1]
            if one.place.file == two.place.file:
                assert one.place <= two.place


def test_numbers_run_through_all_files():
    numbers = [found.number for file in tell(samples.SEVERAL) for found in file.findings]
    assert numbers == [1, 2, 2]


# --- Letters -------------------------------------------------------------------------------------


@given(st.text(alphabet="ab 中é\N{COMBINING ACUTE ACCENT}/-.", max_size=60), st.integers(2, 20))
@settings(max_examples=200, deadline=None)
def test_wrapping_loses_no_letter_and_fits(text, columns):
    lines = wrap(text, columns)
    assert "".join(lines).replace(" ", "") == text.replace(" ", "")
    assert all(width(line) <= columns for line in lines)


def test_wide_letters_take_two_columns_and_marks_none():
    # Unicode Standard Annex #11, East Asian Width: CJK ideographs are wide.
    assert width("手袋") == 4
    assert width("e\N{COMBINING ACUTE ACCENT}") == 1
    assert width(f"{OPEN}ab{CLOSE}") == 2


@pytest.mark.parametrize("ascii_only", [False, True])
@pytest.mark.parametrize(
    "evil", ["\x1b[2J", "a\rb", "a\nb", "\N{RIGHT-TO-LEFT OVERRIDE}x", "\udc80", "\x7f", "\x9b31m"]
)
def test_nothing_that_an_author_writes_steers_the_screen(evil, ascii_only):
    place = Place(evil, 1, 1, 2)
    step = RouteStep(1, evil, evil, place, ((evil, evil),))
    facts = {"thing": evil, "follows": evil}
    finding = Finding(
        "left-over", place, facts, ((evil, place),), evil, Route(((evil, evil),), (step,), (evil,))
    )
    file = FileOutcome(evil, title=evil, findings=(finding,), coverage=samples.COVERAGE)
    page = render(Outcome((file,), {evil: (evil,)}), 72, ascii_only=ascii_only, full=True)
    assert all(letter.isprintable() or letter in "\n" for letter in page)
    assert page.encode("utf-8")


def test_letters_with_accents_stay_readable_in_ascii():
    assert fit("Röntgen, ½", True) == "Rontgen, 1"
    assert fit("गीला", True).isascii()


def test_of_a_room_without_findings_that_is_said_once():
    outcome = Outcome((FileOutcome("room.protocol", "room", "Room"),))
    page = render(outcome)
    assert page.startswith("room.protocol: nothing to correct.\n\nNot checked")
