"""What a waiver covers, for how long, and who may approve of it."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from protocol_lang.audit.asking import Ask, Job
from protocol_lang.audit.lengths import LONGEST
from protocol_lang.audit.look import look
from protocol_lang.audit.views import standing_of
from protocol_lang.audit.waiver_files import Faulty, read_waivers
from protocol_lang.audit.waiving import unmatched
from protocol_lang.audited import FileReport, Standing
from protocol_lang.model.rules import Strength
from protocol_lang.outcome import Standing as Ended
from tests.audit.clinics import (
    FAULTY,
    GLOVED,
    GLOVED_ALWAYS,
    GOOD,
    ON,
    RULES,
    SPELT_WRONG,
    WAIVER,
    write,
)

SIDE = 'waivers "Clinic north"\n  edition 1\n\n'


def looked_at(
    where: Path,
    text: str,
    waiver: str = WAIVER,
    on: date = ON,
    rules: str = RULES,
    changes: bool = False,
) -> FileReport:
    pack = write(where, "house-rules", rules)
    waivers = read_waivers(write(where, "side", SIDE + waiver))[0]
    path = write(where, "one", text)
    ask = Ask(on, packs=(str(pack),), waivers=waivers, changes=changes)
    return look(Job(str(path), "one.protocol"), ask).report


def use_of(report: FileReport) -> tuple[str, str]:
    (use,) = report.waivers
    return use.state, use.why or ""


def rule_of(report: FileReport) -> Standing:
    return next(one.standing for one in report.rules if one.rule == "Gloves stay on")


def test_a_waiver_of_a_rule_for_a_thing_and_a_choice(tmp_path: Path):
    report = looked_at(tmp_path, GLOVED)
    assert use_of(report) == ("in use", "")
    assert rule_of(report) is Standing.WAIVED
    assert [one.waived for one in report.found] == ["Gloves come off"]
    assert standing_of(report) is Ended.CLEAR


def test_without_it_the_rule_fails(tmp_path: Path):
    report = looked_at(tmp_path, GLOVED, WAIVER.replace("for gloves", "for sensor"))
    assert report.waivers == () and rule_of(report) is Standing.FAILED
    assert standing_of(report) is Ended.CORRECT


def test_what_also_fails_with_another_value_is_not_covered(tmp_path: Path):
    report = looked_at(tmp_path, GLOVED_ALWAYS)
    assert use_of(report) == ("not allowed", "it fails where staffing is paired as well")
    assert rule_of(report) is Standing.FAILED


@pytest.mark.parametrize(
    ("on", "state", "why"),
    [
        (date(2026, 11, 1), "not begun", "it begins on 2026-11-02"),
        (date(2026, 11, 2), "in use", ""),
        (date(2026, 12, 20), "in use", ""),
        (date(2026, 12, 21), "ended", "it ended on 2026-12-20"),
    ],
)
def test_its_first_and_last_day(tmp_path: Path, on: date, state: str, why: str):
    report = looked_at(tmp_path, GLOVED, on=on)
    assert use_of(report) == (state, why)
    assert (rule_of(report) is Standing.WAIVED) is (state == "in use")


@pytest.mark.parametrize(
    ("instead", "why"),
    [
        ({"2026-12-20": "2027-01-02"}, "it lasts longer than 60 days"),
        ({"health authority": "practice manager"}, "who owns the protocol approved of it"),
        ({"health authority": "the Practice Manager"}, "who owns the protocol approved of it"),
        ({"health authority": "operator"}, "not waived by the clinic's own people alone"),
        ({"made up for by wash": "made up for by rinse"}, 'no step with the label "rinse"'),
        ({"staffing is alone": "weather is bad"}, 'no choice "weather" with the value "bad"'),
        # Cyrillic letters, words that say only where, accents, two that are one.
        ({"health authority": "pr\u0430ctice manager"}, "letters of two scripts that look alike"),
        ({"health authority": "practice manager of the clinic"}, "who owns the protocol"),
        ({"health authority": "the clinic's practice-manager"}, "who owns the protocol"),
        ({"health authority": "Pract\u00edce manager"}, "who owns the protocol"),
        ({"health authority": "practice manager and manager of the practice"}, "who owns"),
        ({"health authority": "operator and practice manager"}, "the clinic's own people alone"),
    ],
)
def test_what_is_not_allowed(tmp_path: Path, instead: dict[str, str], why: str):
    waiver = WAIVER
    for old, new in instead.items():
        assert old in waiver
        waiver = waiver.replace(old, new)
    state, told = use_of(looked_at(tmp_path, GLOVED, waiver))
    assert state == "not allowed" and why in told


def test_what_makes_up_for_it_is_done_in_every_visit_that_it_is_about(tmp_path: Path):
    paired = GLOVED + "  where staffing is paired\n    [ ] other: operator cleans hands\n"
    told = (
        "not allowed",
        'the step with the label "other" is not done in every such visit',
    )
    waiver = WAIVER.replace("made up for by wash", "made up for by other")
    assert use_of(looked_at(tmp_path, paired, waiver)) == told
    alone = paired.replace("staffing is paired", "staffing is alone")
    assert use_of(looked_at(tmp_path, alone, waiver)) == ("in use", "")
    either = waiver.replace("  where staffing is alone\n", "")
    assert use_of(looked_at(tmp_path, alone, either)) == told


def test_what_makes_up_for_it_is_not_the_step_at_fault(tmp_path: Path):
    text = GLOVED.replace("[ ] operator takes off gloves", "[ ] off: operator takes off gloves")
    waiver = WAIVER.replace("made up for by wash", "made up for by off")
    assert use_of(looked_at(tmp_path, text, waiver)) == (
        "not allowed",
        'the step with the label "off" is the one that it is about',
    )


def test_the_clinics_own_people_may_waive_what_is_only_advice(tmp_path: Path):
    waiver = WAIVER.replace("health authority", "operator")
    rules = RULES.replace('on"\n  must', 'on"\n  local')
    assert use_of(looked_at(tmp_path, GLOVED, waiver, rules=rules)) == ("in use", "")


def test_without_an_owner_nobody_can_tell_that_another_approved(tmp_path: Path):
    text = GLOVED.replace("  owner practice manager\n", "")
    assert use_of(looked_at(tmp_path, text))[0] == "not allowed"


@pytest.mark.parametrize(("strength", "most"), [("must", 90), ("should", 180), ("local", 365)])
def test_the_longest_by_strength(tmp_path: Path, strength: str, most: int):
    assert LONGEST[Strength(strength)] == most
    first = date(2026, 11, 2).toordinal()
    rules = RULES.replace('on"\n  must', f'on"\n  {strength}')
    rules = rules[: rules.index("settings")] + rules[rules.index('rule "') :]
    for days, state in ((most, "in use"), (most + 1, "not allowed")):
        last = date.fromordinal(first + days - 1).isoformat()
        report = looked_at(tmp_path, GLOVED, WAIVER.replace("2026-12-20", last), rules=rules)
        assert use_of(report)[0] == state


def test_a_waiver_of_one_finding_by_its_code(tmp_path: Path):
    code = looked_at(tmp_path, FAULTY).found[0].identity
    about = WAIVER[WAIVER.index("  rule") : WAIVER.index("  reason")]
    waiver = WAIVER.replace(about, f"  finding {code}\n")
    report = looked_at(tmp_path, FAULTY, waiver)
    assert use_of(report) == ("in use", "")
    other = looked_at(tmp_path, FAULTY, waiver.replace(code, "aaaaaaaa"))
    assert other.waivers == () and standing_of(other) is Ended.CORRECT


def test_a_path_to_the_next_patient_is_never_waived(tmp_path: Path):
    text = """protocol "Path"
  edition 1
  owner practice manager
  takes words from "Imaging room 2"

verb ACTOR feels the gum
  meet ACTOR's hands, the patient's mouth

phase "All"
  [ ] wash: operator feels the gum
"""
    found = looked_at(tmp_path, text).found
    (path,) = (one for one in found if one.kind == "path-to-patient")
    about = WAIVER[WAIVER.index("  rule") : WAIVER.index("  reason")]
    waiver = WAIVER.replace(about, f"  finding {path.identity}\n")
    report = looked_at(tmp_path, text, waiver)
    assert use_of(report) == ("not allowed", "a path to the next patient is never waived")
    assert all(one.waived is None for one in report.found)


@pytest.mark.parametrize(
    ("kind", "why"),
    [
        ("path-to-patient", "a path to the next patient is never waived"),
        ("order-circle", "what cannot be done as it is written is never waived"),
    ],
)
def test_what_leaves_a_path_open_or_cannot_be_done_is_never_waived(
    tmp_path: Path, kind: str, why: str
):
    """One order of two that lets soil through, and steps that wait for each other."""
    text = {
        "path-to-patient": """protocol "Either order"
  edition 1
  owner practice manager
  takes words from "Imaging room 2"

verb ACTOR brings THING to the gum
  meet THING, the patient's mouth

verb ACTOR boils THING
  meet ACTOR's front, THING
  wash THING
  reduce THING to sterile

phase "All"
  any order
    [ ] operator brings chair arms to the gum
    [ ] operator boils chair arms
""",
        "order-circle": """protocol "Circle"
  edition 1
  owner practice manager
  takes words from "Imaging room 2"

phase "All"
  any order
    [ ] first: operator cleans hands
        after second
    [ ] second: operator opens the record at keyboard
        after first
""",
    }[kind]
    found = looked_at(tmp_path, text, changes=True).found
    (one,) = (one for one in found if one.kind == kind)
    about = WAIVER[WAIVER.index("  rule") : WAIVER.index("  reason")]
    waiver = WAIVER.replace(about, f"  finding {one.identity}\n")
    report = looked_at(tmp_path, text, waiver, changes=True)
    assert use_of(report) == ("not allowed", why)
    assert all(one.waived is None for one in report.found)


def test_one_that_matches_nothing_is_told(tmp_path: Path):
    waivers = read_waivers(write(tmp_path, "side", SIDE + WAIVER))[0]
    report = looked_at(tmp_path, GOOD)
    assert [use.state for use in unmatched(waivers, [report])] == ["matches nothing"]
    assert unmatched(waivers, [looked_at(tmp_path, GLOVED)]) == ()


@pytest.mark.parametrize(
    ("text", "why"),
    [
        (SPELT_WRONG, "the file could not be read"),
        (GLOVED.replace("cleans hands", "cleens hands", 1), "the file could not be read"),
    ],
)
def test_one_in_a_file_that_cannot_be_read_is_listed(tmp_path: Path, text: str, why: str):
    nothing = WAIVER.replace("for gloves", "for sensor")
    report = looked_at(tmp_path, f"{text}\n{WAIVER}", nothing)
    assert report.state == "broken text"
    assert use_of(report) == ("could not be judged", why)


def test_one_of_a_side_file_does_not_match_nothing_where_a_file_was_not_read(tmp_path: Path):
    waivers = read_waivers(write(tmp_path, "side", SIDE + WAIVER))[0]
    reports = [looked_at(tmp_path, SPELT_WRONG), looked_at(tmp_path, GOOD)]
    (use,) = unmatched(waivers, reports)
    assert use.state == "could not be judged"
    assert "not judged to the end: one.protocol" in (use.why or "")
    killed = FileReport("two.protocol", "not checked", cause="memory", reason="too much")
    (use,) = unmatched(waivers, [killed])
    assert use.state == "could not be judged" and "two.protocol" in (use.why or "")


def test_a_rule_that_was_not_decided_may_hide_what_a_waiver_is_about(tmp_path: Path):
    waivers = read_waivers(write(tmp_path, "side", SIDE + WAIVER))[0]
    report = looked_at(tmp_path, FAULTY)
    assert rule_of(report) is Standing.NOT_DECIDED
    assert [use.state for use in unmatched(waivers, [report])] == ["could not be judged"]
    own = looked_at(tmp_path, f"{FAULTY}\n{WAIVER}", WAIVER.replace("for gloves", "for sensor"))
    assert use_of(own) == ("could not be judged", "part of the file was not checked")


def test_it_may_stand_in_the_protocol_itself(tmp_path: Path):
    nothing = WAIVER.replace("for gloves", "for sensor")
    report = looked_at(tmp_path, f"{GLOVED}\n{WAIVER}", nothing)
    assert use_of(report) == ("in use", "") and rule_of(report) is Standing.WAIVED
    report = looked_at(tmp_path, f"{GLOVED}\n{nothing}", nothing)
    assert use_of(report)[0] == "matches nothing"


def test_all_that_it_says_is_kept(tmp_path: Path):
    text = f"{SIDE}{WAIVER}  renewed 2 times\n  renewed by ministry of health\n"
    ((waiver,), title, _) = read_waivers(write(tmp_path, "side", text))
    assert title == "Clinic north"
    assert (waiver.rule, waiver.pack, waiver.thing) == ("Gloves stay on", "House rules", "gloves")
    assert waiver.choice == ("staffing", "alone") and waiver.renewed == 2
    assert waiver.renewed_by == "ministry of health"
    assert waiver.reason.startswith("The new door") and waiver.compensated_by == "wash"


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (SIDE + WAIVER.replace("  for gloves\n", ""), "for THING"),
        (SIDE + WAIVER.replace("  approved by health authority\n", ""), "approved by ROLE"),
        (SIDE + WAIVER.replace("to 2026-12-20", "to 2026-02-30"), "line 10"),
        (GLOVED, "begins with"),
    ],
)
def test_a_side_file_that_cannot_be_used(tmp_path: Path, text: str, told: str):
    with pytest.raises(Faulty) as caught:
        read_waivers(write(tmp_path, "side", text))
    assert told in caught.value.why


def test_one_that_names_another_thing_is_told_how_to_name_what_was_found(tmp_path: Path):
    waiver = WAIVER.replace("for gloves", "for sensor")
    report = looked_at(tmp_path, GLOVED, waiver)
    waivers = read_waivers(write(tmp_path, "side", SIDE + waiver))[0]
    (use,) = unmatched(waivers, [report])
    (code,) = {one.identity for one in report.found}
    assert use.state == "matches nothing"
    assert use.why == f"the rule fails for gloves; it can be named so, or as finding {code}"
    other = read_waivers(write(tmp_path, "other", SIDE + waiver.replace("stay on", "stay off")))[0]
    assert [one.why for one in unmatched(other, [report])] == [None]
