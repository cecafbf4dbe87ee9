"""Rules on one protocol each: what is declared, what does not apply and why, and plain readings.

Each case is a rule and a protocol for which docs/meaning/rules.md says what comes of it.
"""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from protocol_lang.order.question import Question
from protocol_lang.rules import RuleVerdict, Subject, judge_rules
from protocol_lang.rules.deciding import Orders, TooHard
from tests.rules.kit import book_of, verdicts

DAY = date(2026, 11, 30)

ROOM = """room "Clinic room"
  edition 1
  takes words from "Dental imaging"

people
  operator, helper: staff
  patient: patient

waste streams
  clinical waste: yellow bag
  general waste

figures
  hand rub time: 20 seconds
  soaking time: 1 minute
  films in a box: 50

surfaces
  keyboard, tube, phone: surface

boxes
  glove box: box

things
  sensor: receptor; goes in the mouth; not heat safe; takes cover sleeve
  sleeve: cover; used once
  holder: holder; goes in the mouth; heat safe
  bite block: holder; goes in the mouth; heat safe; used once; goes to clinical waste
  gloves: gloves; worn on hands; used once; from glove box; goes to clinical waste
  thick gloves: gloves; worn on hands; used once; goes to general waste
  gown: gown; has outside, ties; worn on front; used once; goes to clinical waste
  wipe: wipe; has face, back; used once; treats to intermediate; stays wet 2 minutes
  swab: supply; used once

groups
  machine: keyboard, tube
"""

HEADER = """  edition 3
  in force from 2026-01-31
  review by 2027-01-31
  owner infection control lead
"""


@pytest.fixture(scope="module")
def where(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("rooms")
    (folder / "clinic-room.protocol").write_text(ROOM, "utf-8")
    return folder


def protocol(steps: str, header: str = "", sections: str = "") -> str:
    lines = "\n".join(f"  {line}" for line in steps.strip("\n").splitlines())
    return (
        f'protocol "Tried"\n{header}  takes words from "Clinic room"\n\n{sections}\n'
        f'phase "Visit"\n{lines}\n'
    )


def judged(
    where: Path,
    rule: str,
    steps: str = "[ ] operator cleans hands",
    header: str = "",
    sections: str = "",
    settings: dict[str, str] | None = None,
    on: date = DAY,
) -> RuleVerdict:
    """The verdict of one rule on a protocol of one phase."""
    lines = "\n".join(f"  {line}" for line in rule.strip("\n").splitlines())
    book = (
        'rules "Tried"\n  takes words from "Clinic room"\n\nsettings\n'
        f'  durations: long, short\n\nrule "it"\n  must\n{lines}\n'
    )
    (verdict,) = verdicts(book, protocol(steps, header, sections), settings, on, where)
    return verdict


def told(verdict: RuleVerdict) -> str:
    """The verdict, with its reason."""
    reason = "" if verdict.reason is None else f": {verdict.reason.kind}"
    return verdict.verdict.value + reason


# --- What is declared ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    "what, header, wanted",
    [
        ("owner", HEADER, "met"),
        ("owner", "", "failed"),
        ("edition", HEADER, "met"),
        ("edition", "", "failed"),
        ("source", HEADER, "failed"),
        ("source", HEADER + '  source "A handbook"\n', "met"),
        ("in force from", HEADER, "met"),
        ("in force from", "", "failed"),
        ("in force from", "  in force from 2026-11-30\n", "met"),
        ("in force from", "  in force from 2026-12-01\n", "failed"),
        ("review by", HEADER, "met"),
        ("review by", "  review by 2026-11-30\n", "met"),
        ("review by", "  review by 2026-11-29\n", "failed"),
    ],
)
def test_the_header_on_a_day(where: Path, what: str, header: str, wanted: str):
    assert told(judged(where, f"the header says {what}", header=header)) == wanted


@pytest.mark.parametrize(
    "figure, wanted",
    [
        ("the figure hand rub time is at least 20 seconds", "met"),
        ("the figure hand rub time is at least 21 seconds", "failed"),
        ("the figure hand rub time is at most 20 seconds", "met"),
        ("the figure hand rub time is at most 19 seconds", "failed"),
        ("the figure hand rub time is 20 seconds", "met"),
        ("the figure hand rub time is 1 minute", "failed"),
        ("the figure soaking time is at least 60 seconds", "met"),
        ("the figure soaking time is at most 59 seconds", "failed"),
        ("the figure hand rub time is at least 20 millilitres", "failed"),
        ("the figure films in a box is at most 50", "met"),
        ("the figure drying time is at most 50 seconds", "not applicable: no-figure"),
    ],
)
def test_figures(where: Path, figure: str, wanted: str):
    assert told(judged(where, figure)) == wanted


@pytest.mark.parametrize(
    "rule, wanted",
    [
        ("for wipe\nis declared treats to low", "met"),
        ("for wipe\nis declared treats to intermediate", "met"),
        ("for wipe\nis declared treats to high", "failed"),
        ("for wipe\nis declared stays wet 1 minute", "met"),
        ("for wipe\nis declared stays wet 2 minutes", "met"),
        ("for wipe\nis declared stays wet 3 minutes", "failed"),
        ("for receptor\nis declared treats to low", "failed"),
        ("for gloves\nis declared used once", "met"),
        ("for holder\nis declared used once", "failed"),
        ("for holder; used once\nis declared heat safe; goes in the mouth", "met"),
        ("for receptor\nis declared heat safe", "failed"),
        ("for thing; heat safe\nis declared goes in the mouth", "met"),
        ("for gloves\nis declared goes to clinical waste", "failed"),
        ("for gloves\nbut not thick gloves\nis declared goes to clinical waste", "met"),
        ("for mask\nis declared used once", "not applicable: no-such"),
        ("for receptor; heat safe\nis declared used once", "not applicable: no-such"),
        ("for holder\nbut not holder, bite block\nis declared used once",
         "not applicable: no-such"),
    ],
)  # fmt: skip
def test_declared_traits(where: Path, rule: str, wanted: str):
    assert told(judged(where, rule)) == wanted


def test_each_thing_that_is_not_declared_so_is_told(where: Path):
    verdict = judged(where, "for thing; goes in the mouth\nis declared used once")
    assert [one.facts["thing"] for one in verdict.findings] == ["sensor", "holder"]


@pytest.mark.parametrize(
    "rule, wanted",
    [
        ('for gloves\nbut not thick gloves\ngoes into what is marked "yellow bag"', "met"),
        ('for gloves\ngoes into what is marked "Yellow"', "failed"),
        ('for gloves\ngoes into what is marked "red bag"', "failed"),
        ('for receptor\ngoes into what is marked "red bag"', "not applicable: no-stream"),
    ],
)
def test_marks_of_waste_streams(where: Path, rule: str, wanted: str):
    assert told(judged(where, rule)) == wanted


# --- Settings, where, phases ---------------------------------------------------------------------

CHOICES = "choices, each visit\n  staffing: alone, paired\n  sort: one, two\n"
NESTED = """where staffing is alone
  where sort is one
    [ ] operator cleans hands
otherwise
  [ ] operator works at phone
"""


@pytest.mark.parametrize(
    "settings, wanted", [({}, "failed"), ({"durations": "short"}, "not applicable: setting")]
)
def test_the_first_value_of_a_setting_holds(where: Path, settings: dict[str, str], wanted: str):
    rule = "where durations is long\nalways staff works at tube"
    assert told(judged(where, rule, settings=settings)) == wanted


@pytest.mark.parametrize(
    "rule, wanted",
    [
        ("where staffing is alone and sort is one\nalways staff cleans hands", "met"),
        ("where staffing is alone and sort is two\nalways staff cleans hands", "failed"),
        ("where staffing is alone\nalways staff cleans hands", "failed"),
        ("where staffing is not alone\nalways staff works at phone", "met"),
        # "sort" is not come to where two are there: it may have any value there
        ("where sort is one\nalways staff cleans hands", "failed"),
        ("where sort is not one\nalways staff works at phone", "failed"),
        ("where sort is not one and staffing is paired\nalways staff works at phone", "met"),
        ("where sort is two and staffing is paired\nnever staff works at phone", "failed"),
        ("where sort is one and sort is not one\nalways staff cleans hands",
         "not applicable: no-course"),
        ("where sort is three\nalways staff cleans hands", "not applicable: no-choice"),
        ("where sort is not three\nnever staff works at tube", "met"),
        ("where precautions is airborne\nalways staff cleans hands", "not applicable: no-choice"),
        ('only in phase "Visit"\nwhere staffing is paired\nalways staff works at phone', "met"),
        ('only in phase "Another"\nnever staff works at phone', "not applicable: no-phase"),
    ],
)  # fmt: skip
def test_where(where: Path, rule: str, wanted: str):
    assert told(judged(where, rule, NESTED, sections=CHOICES)) == wanted


def test_a_phase_is_about_what_is_always_or_never_done_too(where: Path):
    text = protocol("[ ] operator cleans hands") + 'phase "After"\n  [ ] operator works at phone\n'
    rules = 'rules "T"\n  takes words from "Clinic room"\n\n' + "".join(
        f'rule "{number}"\n  must\n  only in phase "Visit"\n  {form}\n\n'
        for number, form in enumerate(
            ("always staff works at phone", "never staff works at phone",
             "at least 1 times staff works at phone", "at most 0 times staff works at phone")
        )
    )  # fmt: skip
    told_ = [one.verdict.value for one in verdicts(rules, text, where=where)]
    assert told_ == ["failed", "met", "failed", "met"]


# --- But, kinds, streams -------------------------------------------------------------------------

AFTER_GLOVES = "after gloves come off staff\ncomes hands of staff are cleaned\n"
GLOVES = "[ ] operator puts on gloves\n[ ] operator takes off gloves\n"


@pytest.mark.parametrize(
    "but, wanted",
    [
        ("", "failed"),
        ("but not phone\n", "met"),
        ("but not surface\n", "met"),
        ("but not machine\n", "failed"),
        ("but not keyboard, tube, phone\n", "met"),
        ("but not operator\n", "not applicable: no-step"),
        ("but not staff\n", "not applicable: no-step"),
        ("but not helper\n", "failed"),
    ],
)
def test_but(where: Path, but: str, wanted: str):
    rule = f"{but}{AFTER_GLOVES}before staff touches surface"
    steps = GLOVES + "[ ] operator works at phone\n[ ] operator cleans hands"
    assert told(judged(where, rule, steps)) == wanted


def test_a_group_that_does_not_count(where: Path):
    rule = f"but not machine\n{AFTER_GLOVES}before staff touches surface"
    steps = GLOVES + "[ ] operator works at tube\n[ ] operator cleans hands"
    assert told(judged(where, rule, steps)) == "met"


@pytest.mark.parametrize(
    "rule, wanted",
    [
        ("always gloves are thrown into clinical waste", "met"),
        ("always gloves are thrown into general waste", "failed"),
        ("always gloves are thrown away", "met"),
        ("never supply is thrown into clinical waste", "met"),
        ("always supply is thrown into general waste", "met"),
        ("never mask is thrown away", "not applicable: no-such"),
        ("never companion touches thing", "not applicable: no-such"),
        ("never staff touches sensor", "met"),
        ("never thick gloves come off staff", "met"),
        ("always gloves come off staff", "met"),
    ],
)
def test_what_is_thrown_where(where: Path, rule: str, wanted: str):
    """The step says where to; else the thing is declared to go there."""
    steps = GLOVES + "[ ] operator takes swab\n[ ] operator throws swab into general waste"
    steps += "\n[ ] helper puts on thick gloves"
    assert told(judged(where, rule, steps)) == wanted


def test_two_kinds_of_gloves_are_told_apart(where: Path):
    """What a step names comes off, and not whatever may be on there."""
    steps = GLOVES + "[ ] operator puts on thick gloves\n[ ] operator takes off thick gloves"
    rule = "at most 1 times thick gloves come off staff"
    assert told(judged(where, rule, steps)) == "met"
    assert told(judged(where, "at most 1 times gloves come off staff", steps)) == "failed"


def test_two_things_thrown_away_in_one_step(where: Path):
    steps = "[ ] operator puts on gown\n[ ] operator puts on gloves\n"
    steps += "[ ] operator takes off gown and gloves together"
    for thing in ("gown", "gloves"):
        assert told(judged(where, f"always {thing} is thrown away", steps)) == "met"


# --- Claims --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "rule, wanted",
    [
        ("whenever staff works at phone\nonly when staff wears gloves", "met"),
        ("whenever staff works at phone\nonly when staff does not wear gloves", "failed"),
        # nobody is bound: each of them
        ("whenever patient comes in\nonly when staff wears gloves", "failed"),
        ("whenever patient comes in\nonly when staff does not wear gloves", "failed"),
        ("whenever patient comes in\nonly when operator wears gloves", "met"),
        ("whenever patient comes in\nonly when operator's hands are covered with gloves", "met"),
        ("whenever patient comes in\nonly when helper's hands are bare", "met"),
        ("whenever patient comes in\nonly when staff is not behind the barrier", "met"),
    ],
)
def test_claims(where: Path, rule: str, wanted: str):
    steps = "[ ] operator puts on gloves\n[ ] operator works at phone\n[ ] patient comes in"
    assert told(judged(where, rule, steps)) == wanted


@pytest.mark.parametrize(
    "claim, wanted",
    [
        ("receptor is covered", "met"),
        ("receptor is covered with sleeve", "met"),
        ("receptor is covered with cover", "met"),
        ("receptor is bare", "failed"),
        ("receptor is not covered", "failed"),
        ("staff is behind the barrier or receptor is covered", "met"),
        ("record open", "failed"),
    ],
)
def test_claims_about_covers(where: Path, claim: str, wanted: str):
    rule = f"whenever receptor goes into the mouth of patient\nonly when {claim}"
    steps = "[ ] operator slips sleeve over sensor\n[ ] operator places sensor in mouth"
    assert told(judged(where, rule, steps)) == wanted


def test_beyond_the_budget_a_rule_is_not_decided(where: Path, monkeypatch: pytest.MonkeyPatch):
    """What is found is found all the same."""
    real = Orders._ask

    def ask(self: Orders, question: Question) -> object:
        if self.too_hard in self.names.act(question.stands[0].event):  # type: ignore[attr-defined]
            raise TooHard
        return real(self, question)

    monkeypatch.setattr(Orders, "_ask", ask)
    rule = "before thing goes into the mouth of patient\ncomes thing is cleaned"
    steps = "[ ] patient bites on holder\n[ ] operator places sensor in mouth"
    for too_hard, wanted in (("", "not decided: too-hard"), ("sensor", "failed")):
        monkeypatch.setattr(Orders, "too_hard", too_hard, raising=False)
        assert told(judged(where, rule, steps)) == wanted


# --- Ways ----------------------------------------------------------------------------------------

TREATED = "  after holder goes into the mouth of patient\n  comes holder is treated to at least low"


@pytest.mark.parametrize(
    "steps, wanted",
    [
        ("[ ] patient bites on bite block", []),
        ("[ ] patient bites on holder", ["holder"]),
        ("[ ] patient bites on holder\n[ ] operator disinfects holder with a new wipe", []),
    ],
)
def test_either_is_asked_of_each_thing(where: Path, steps: str, wanted: list[str]):
    rule = "for holder\neither\n  is declared used once\nor\n" + TREATED
    verdict = judged(where, rule + "\n  before the next patient", steps)
    assert [one.facts["thing"] for one in verdict.findings] == wanted


@pytest.mark.parametrize(
    "rule, wanted",
    [
        ("either\n  the figure drying time is at most 5 minutes\nor\n  always staff washes hands",
         "failed"),
        ("either\n  the figure drying time is at most 5 minutes\nor\n  always staff cleans hands",
         "met"),
        ("either\n  the figure drying time is 5 minutes\nor\n  the figure fixing time is 5 minutes",
         "not applicable: no-figure"),
        # nobody makes an exposure: nothing is to come after one
        ("either\n  after staff makes an exposure\n  comes staff cleans hands\n"
         "  before the visit ends\nor\n  always staff washes hands", "met"),
    ],
)  # fmt: skip
def test_a_way_of_which_nothing_is_told_is_none(where: Path, rule: str, wanted: str):
    assert told(judged(where, rule)) == wanted


# --- Every so many days --------------------------------------------------------------------------

WEEKLY = "every week\n  [ ] operator works at tube"
EVERY = "at least every 7 days staff works at tube"


@pytest.mark.parametrize(
    "rule, steps, wanted",
    [
        (EVERY, "[ ] operator works at tube", "met"),
        (EVERY, WEEKLY, "met"),
        ("at least every 6 days staff works at tube", WEEKLY, "failed"),
        (EVERY, "every second week\n  [ ] operator works at tube", "failed"),
        (EVERY, "every 7 days\n  [ ] operator works at tube", "met"),
        (EVERY, "every 8 days\n  [ ] operator works at tube", "failed"),
        (EVERY, "may be left out\n  [ ] operator works at tube", "failed"),
        (EVERY, "every month\n  every week\n    [ ] operator works at tube", "failed"),
        (EVERY, "every week\n  [ ] operator works at phone", "not applicable: no-step"),
        (EVERY, "either\n  [ ] operator works at tube\nor\n  [ ] operator works at phone",
         "failed"),
        (EVERY, "either\n  [ ] operator works at tube\nor\n  [ ] helper works at tube", "met"),
        (EVERY, "where staffing is alone\n  [ ] operator works at tube", "failed"),
        ("where staffing is alone\n" + EVERY,
         "where staffing is alone\n  [ ] operator works at tube", "met"),
        ("at least every 7 days surface is treated to at least low",
         "every week\n  [ ] operator disinfects tube with a new wipe", "met"),
        ("but not tube\nat least every 7 days surface is treated to at least low",
         "every week\n  [ ] operator disinfects tube with a new wipe", "not applicable: no-step"),
        ("at least every 7 days staff works at tube\n  or staff works at phone",
         "every month\n  [ ] operator works at tube\nevery week\n  [ ] operator works at phone",
         "met"),
    ],
)  # fmt: skip
def test_every_so_many_days(where: Path, rule: str, steps: str, wanted: str):
    sections = "choices, each visit\n  staffing: alone, paired\n"
    assert told(judged(where, rule, steps, sections=sections)) == wanted


# --- Waits ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "rule, steps, wanted",
    [
        ("always staff waits", "[ ] operator waits 1 minute", "met"),
        ("always staff waits", "[ ] operator cleans hands", "failed"),
        ("always helper waits", "[ ] operator waits 1 minute", "failed"),
        ("always staff waits at least 2 minutes", "[ ] operator waits 2 minutes", "met"),
        ("always staff waits at least 3 minutes", "[ ] operator waits 2 minutes", "failed"),
        ("always staff waits at least 1 minute", "[ ] operator waits 1 minute", "met"),
        # what is told without minutes may be short; two short waits are not a long one
        ("always staff waits at least 1 minute", "[ ] operator waits until tube is dry", "failed"),
        ("always staff waits at least 4 minutes",
         "[ ] operator waits 2 minutes\n[ ] operator waits 2 minutes", "failed"),
        ("at least 2 times staff waits",
         "[ ] operator waits 2 minutes\n[ ] operator waits until tube is dry", "met"),
        ("always staff waits until surface is dry", "[ ] operator waits until tube is dry", "met"),
        ("always staff waits until phone is dry", "[ ] operator waits until tube is dry", "failed"),
        ("always staff waits until surface is dry", "[ ] operator waits 9 minutes", "failed"),
        # a choice may leave it out
        ("always staff waits", "may be left out\n  [ ] operator waits 2 minutes", "failed"),
        ("after staff disinfects surface with a new wipe\ncomes staff waits until surface is dry\n"
         "before staff works at surface",
         "[ ] operator disinfects tube with a new wipe\n[ ] operator waits until tube is dry\n"
         "[ ] operator works at tube", "met"),
        # the same surface is meant throughout
        ("after staff disinfects surface with a new wipe\ncomes staff waits until surface is dry\n"
         "before staff works at surface",
         "[ ] operator disinfects tube with a new wipe\n[ ] operator waits until phone is dry\n"
         "[ ] operator works at tube", "failed"),
        ("whenever staff waits at least 2 minutes\nonly when staff's hands are bare",
         "[ ] operator puts on gloves\n[ ] operator waits 2 minutes", "failed"),
        ("but not operator\nnever staff waits", "[ ] operator waits 2 minutes", "met"),
        ("before staff waits at least 9 minutes\ncomes hands of staff are cleaned",
         "[ ] operator waits 2 minutes", "not applicable: no-step"),
        ("at least every 7 days staff waits at least 2 minutes",
         "every week\n  [ ] operator waits 2 minutes", "met"),
        ("at least every 6 days staff waits at least 2 minutes",
         "every week\n  [ ] operator waits 2 minutes", "failed"),
    ],
)  # fmt: skip
def test_waits(where: Path, rule: str, steps: str, wanted: str):
    assert told(judged(where, rule, steps)) == wanted


# --- Treatments and choices ----------------------------------------------------------------------

ALIKE = """where staffing is alone
  [ ] operator disinfects sensor with a new wipe
otherwise
  [ ] helper disinfects sensor with a new wipe
"""
OTHER = "where staffing is alone\n  [ ] operator disinfects sensor with a new wipe\n"


@pytest.mark.parametrize(
    "choice, steps, wanted",
    [
        ("staffing", ALIKE, "met"),
        ("staffing", OTHER, "failed"),
        ("sort", OTHER, "met"),
        ("precautions", OTHER, "not applicable: no-choice"),
    ],
)
def test_no_treatment_depends_on_a_choice(where: Path, choice: str, steps: str, wanted: str):
    rule = f"no treatment depends on {choice}"
    assert told(judged(where, rule, steps, sections=CHOICES)) == wanted


# --- What does not apply, and what cannot be decided ---------------------------------------------


def test_a_rule_about_a_step_that_nobody_does(where: Path):
    rule = "after staff makes an exposure\ncomes staff cleans hands\nbefore the visit ends"
    verdict = judged(where, rule)
    assert told(verdict) == "not applicable: no-step"
    assert verdict.reason is not None
    assert verdict.reason.facts["text"] == "staff makes an exposure"
    rule = "after mask comes off staff\ncomes staff cleans hands\nbefore the visit ends"
    assert told(judged(where, rule)) == "not applicable: no-such"


def test_without_a_protocol_nothing_is_decided():
    book = book_of('rules "T"\n  takes words from "Small room"\n\nrule "it"\n  must\n'
                   "  always staff cleans hands\n")  # fmt: skip
    (verdict,) = judge_rules([book], Subject(None, None, None))
    assert told(verdict) == "not decided: not-judged"


def test_what_is_declared_is_decided_without_orders(where: Path):
    """Hands that are gloved already cannot be gloved: no order of such a protocol is looked at."""
    steps = "[ ] operator puts on gloves\n[ ] operator puts on gloves"
    assert told(judged(where, "always staff puts on gloves", steps)) == "not decided: not-judged"
    assert told(judged(where, "for gloves\nis declared used once", steps)) == "met"
    assert told(judged(where, "where sort is one\nfor gloves\nis declared used once", steps)) == (
        "not applicable: no-choice"
    )
    assert told(judged(where, EVERY, "every week\n  [ ] operator works at tube\n" + steps)) == "met"


def test_should_is_to_consider_and_must_to_correct(where: Path):
    book = 'rules "T"\n  takes words from "Clinic room"\n\n' + "".join(
        f'rule "{strength}"\n  {strength}\n  always staff works at tube\n\n'
        for strength in ("must", "should", "local")
    )
    told_ = verdicts(book, protocol("[ ] operator cleans hands"), where=where)
    assert [one.findings[0].weight.value for one in told_] == [
        "to correct", "to consider", "to correct",
    ]  # fmt: skip
