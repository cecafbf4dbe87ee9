"""Waivers that follow each other: one as far as their length goes, unless somebody renewed them."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import pytest

from protocol_lang.audit.asking import Ask, Job
from protocol_lang.audit.lengths import FEWEST_BETWEEN, LONGEST
from protocol_lang.audit.look import look
from protocol_lang.audit.waiver_files import read_waivers
from protocol_lang.audited import FileReport, Spell, WaiverUse
from protocol_lang.model.rules import Strength
from tests.audit.clinics import GLOVED, RULES, WAIVER, write

MOST = LONGEST[Strength.MUST]
FIRST = date(2026, 3, 2)
LAST = FIRST + timedelta(MOST - 1)
#: Rules that leave the lengths as they are.
PLAIN = RULES[: RULES.index("settings")] + RULES[RULES.index('rule "') :]
AGAIN = "  renewed by ministry of health\n"


def waiver(name: str, starts: date, days: int, more: str = "", about: str | None = None) -> str:
    ends = starts + timedelta(days - 1)
    made = WAIVER.replace("Gloves come off", name)
    made = made.replace("2026-11-02 to 2026-12-20", f"{starts} to {ends}") + more
    if about is None:
        return made
    return made[: made.index("  rule")] + f"  {about}\n" + made[made.index("  reason") :]


def report(where: Path, on: date, *waivers: str, rules: str = PLAIN, own: str = "") -> FileReport:
    pack = write(where, "house-rules", rules)
    side = write(where, "side", 'waivers "Side"\n  edition 1\n\n' + "\n".join(waivers))
    path = write(where, "one", f"{GLOVED}\n{own}" if own else GLOVED)
    ask = Ask(on, packs=(str(pack),), waivers=read_waivers(side)[0])
    return look(Job(str(path), "one.protocol"), ask).report


def uses(where: Path, on: date, *waivers: str, rules: str = PLAIN) -> dict[str, WaiverUse]:
    return {one.waiver.name: one for one in report(where, on, *waivers, rules=rules).waivers}


def after(days: int) -> date:
    """The first day of a waiver with so many days between it and the first one."""
    return LAST + timedelta(days + 1)


@pytest.mark.parametrize("between", [-20, 0, 1, FEWEST_BETWEEN - 1])
def test_two_end_to_end_are_one_and_too_long(tmp_path: Path, between: int):
    starts = after(between)
    on = max(starts, LAST + timedelta(1))
    told = uses(tmp_path, on, waiver("One", FIRST, MOST), waiver("Two", starts, MOST))
    assert told["One"].state == "ended"
    assert told["Two"].state == "not allowed"
    ends = starts + timedelta(MOST - 1)
    assert f'with "One", which it follows, it lasts from {FIRST} to {ends}' in (
        told["Two"].why or ""
    )
    assert told["Two"].follows == (Spell("One", FIRST, LAST),)


def test_the_first_holds_for_its_own_time(tmp_path: Path):
    told = uses(tmp_path, LAST, waiver("Two", after(0), MOST), waiver("One", FIRST, MOST))
    assert {name: use.state for name, use in told.items()} == {
        "One": "in use",
        "Two": "not allowed",
    }


def test_so_many_days_between_make_two_of_them(tmp_path: Path):
    starts = after(FEWEST_BETWEEN)
    told = uses(tmp_path, starts, waiver("One", FIRST, MOST), waiver("Two", starts, MOST))
    assert told["Two"].state == "in use" and told["Two"].follows == ()


def test_a_file_of_rules_may_ask_for_more_days_between(tmp_path: Path):
    starts = after(FEWEST_BETWEEN)
    both = waiver("One", FIRST, MOST), waiver("Two", starts, MOST)
    for days, state in ((FEWEST_BETWEEN + 1, "not allowed"), (FEWEST_BETWEEN - 9, "in use")):
        said = f"settings\n  fewest days between waivers: {days} days, 90 days\n\n"
        rules = PLAIN.replace('rule "', f'{said}rule "', 1)
        assert uses(tmp_path / state, starts, *both, rules=rules)["Two"].state == state


def test_short_ones_may_follow_each_other_as_long_as_one_could_last(tmp_path: Path):
    half = MOST // 2
    third = FIRST + timedelta(2 * half)
    first_two = waiver("One", FIRST, half), waiver("Two", FIRST + timedelta(half), half)
    told = uses(tmp_path, third - timedelta(1), *first_two)
    assert told["Two"].state == "in use" and [one.name for one in told["Two"].follows] == ["One"]
    told = uses(tmp_path, third, *first_two, waiver("Three", third, 1 + MOST - 2 * half))
    assert told["Three"].state == "not allowed"
    assert [one.name for one in told["Three"].follows] == ["One", "Two"]


def test_who_is_outside_the_clinic_may_renew(tmp_path: Path):
    one, starts = waiver("One", FIRST, MOST), after(0)
    assert uses(tmp_path, starts, one, waiver("Two", starts, MOST, AGAIN))["Two"].state == "in use"
    for role, why in (
        ("practice manager", "who owns the protocol renewed it"),
        ("operator", "nothing is renewed by the clinic's own people alone"),
    ):
        by = AGAIN.replace("ministry of health", role)
        use = uses(tmp_path, starts, one, waiver("Two", starts, MOST, by))["Two"]
        assert (use.state, use.why) == ("not allowed", why)


def test_that_its_author_calls_it_renewed_is_no_renewal(tmp_path: Path):
    said = waiver("Two", after(0), MOST, "  renewed 1 time\n")
    assert uses(tmp_path, after(0), waiver("One", FIRST, MOST), said)["Two"].state == "not allowed"


def test_what_follows_a_renewed_one_is_one_with_that(tmp_path: Path):
    second = waiver("Two", after(0), MOST, AGAIN)
    starts = after(0) + timedelta(MOST)
    told = uses(tmp_path, starts, waiver("One", FIRST, MOST), second, waiver("Three", starts, 1))
    assert told["Three"].state == "not allowed"
    assert f"from {after(0)} to {starts}" in (told["Three"].why or "")
    assert [one.name for one in told["Three"].follows] == ["One", "Two"]


def test_one_by_its_code_and_one_by_rule_and_thing_are_of_the_same(tmp_path: Path):
    (code,) = {one.identity for one in report(tmp_path, FIRST).found}
    second = waiver("Two", after(0), MOST, about=f"finding {code}")
    assert uses(tmp_path, after(0), waiver("One", FIRST, MOST), second)["Two"].state == (
        "not allowed"
    )


def test_one_in_the_protocol_and_one_in_a_side_file_are_of_the_same(tmp_path: Path):
    own = waiver("One", FIRST, MOST)
    told = report(tmp_path, after(0), waiver("Two", after(0), MOST), own=own)
    assert [one.state for one in told.waivers] == ["ended", "not allowed"]


def test_what_was_never_allowed_makes_no_other_longer(tmp_path: Path):
    """Somebody who may not approve did; then somebody who may: nothing was tolerated before."""
    refused = waiver("One", FIRST, MOST).replace("health authority", "practice manager")
    told = uses(tmp_path, after(0), refused, waiver("Two", after(0), MOST))
    assert told["One"].state == "not allowed" and told["Two"].state == "in use"


def test_another_thing_or_value_is_not_the_same(tmp_path: Path):
    other = waiver("One", FIRST, MOST).replace("staffing is alone", "staffing is paired")
    told = uses(tmp_path, after(0), other, waiver("Two", after(0), MOST))
    assert told["Two"].state == "in use"
