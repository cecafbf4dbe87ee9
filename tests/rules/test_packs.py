"""The shipped files of rules: every rule with its source, its reason and two examples that do what
they are there for; the figures of the trade's own data; and what they say of the shipped rooms."""

from __future__ import annotations

import re
from datetime import date
from fractions import Fraction
from functools import cache
from pathlib import Path

import pytest

from protocol_lang.language.load import load
from protocol_lang.model.rules import FigureIs, OneOf, Rule, RuleBook
from protocol_lang.pipeline import Checked, check_file
from protocol_lang.resources import folder
from protocol_lang.rules import Subject, Verdict, judge_rules
from protocol_lang.rules.examples import examples_tried
from protocol_lang.trade import contact, exposure, intervals, steam
from protocol_lang.trade.air import clearance_minutes
from tests.practice.kit import ROOM, ROOM_3

PACKS = sorted((folder("protocols") / "rules").glob("*.protocol"))
ON = date(2026, 12, 1)

#: The rules that shipped protocols do not keep: none, whatever is chosen.
NOT_KEPT: frozenset[tuple[str, str]] = frozenset()


@cache
def book(path: Path) -> RuleBook:
    loaded = load(path)
    assert loaded.complete, loaded.findings
    assert loaded.rules is not None
    return loaded.rules


RULES = [(path, number) for path in PACKS for number in range(len(book(path).rules))]


def _name(case: tuple[Path, int]) -> str:
    return f"{case[0].stem}-{case[1] + 1}"


def test_there_are_packs_for_each_subject() -> None:
    assert {path.stem for path in PACKS} == {
        "airborne-precautions", "dental-imaging-infection-prevention", "hand-hygiene",
        "house-rules", "items-by-class", "operator-at-an-exposure",
        "protective-equipment-on-and-off", "steam-cycles", "waste",
    }  # fmt: skip


@pytest.mark.parametrize("path", PACKS, ids=lambda path: path.stem)
def test_every_example_does_what_it_is_there_for(path: Path) -> None:
    assert not list(examples_tried(book(path), path.parent))


@pytest.mark.parametrize("case", RULES, ids=_name)
def test_every_rule_has_source_reason_and_both_examples(case: tuple[Path, int]) -> None:
    rule = book(case[0]).rules[case[1]]
    assert rule.sources and rule.because, rule.title
    assert {example.good for example in rule.examples} == {True, False}, rule.title


#: How it is known what a source says; a quotation by somebody else is told as second-hand.
_KNOWN_BY = re.compile(
    r"\bread\b|second-hand|from memory|comput|inferred|inference|[Cc]ommon practice, no source"
    r"|the infection control lead of the clinic|local law may ask"
)


@pytest.mark.parametrize("path", PACKS, ids=lambda path: path.stem)
def test_every_source_of_a_rule_says_how_it_is_known(path: Path) -> None:
    """Read, second-hand, from memory, computed or inferred; or that there is none."""
    silent = [
        (rule.title, source)
        for rule in book(path).rules
        for source in rule.sources
        if not _KNOWN_BY.search(source)
    ]
    assert not silent


@pytest.mark.parametrize("path", PACKS, ids=lambda path: path.stem)
def test_a_pack_has_edition_owner_and_days(path: Path) -> None:
    header = book(path).header
    assert header.edition and header.owner and header.in_force and header.review_by


# --- Figures, against the data of the trade ------------------------------------------------------


def _figure(pack: str, title: str) -> FigureIs:
    """The last figure that the rule asks for: of several ways, the one that the title is about."""
    (path,) = [path for path in PACKS if path.stem == pack]
    (rule,) = [rule for rule in book(path).rules if rule.title == title]
    duties = rule.duty.ways if isinstance(rule.duty, OneOf) else (rule.duty,)
    figure = duties[-1]
    assert isinstance(figure, FigureIs)
    return figure


WRAPPED = "wrapped instruments"
FIGURES: dict[tuple[str, str], Fraction | int] = {
    ("steam-cycles", "Gravity: 30 minutes below 132 °C"): steam.steam_minutes(
        "CDC 2008", "gravity", WRAPPED, 121
    ),
    ("steam-cycles", "Gravity: 15 minutes at least"): steam.steam_minutes(
        "CDC 2008", "gravity", WRAPPED, 132
    ),
    ("steam-cycles", "Prevacuum: 4 minutes at least"): steam.steam_minutes(
        "CDC 2008", "prevacuum", WRAPPED, 132
    ),
    ("steam-cycles", "UK: 15 minutes below 126 °C"): steam.steam_minutes(
        "UK hold", "gravity", WRAPPED, 121
    ),
    ("steam-cycles", "UK: 10 minutes below 134 °C"): steam.steam_minutes(
        "UK hold", "gravity", WRAPPED, 126
    ),
    ("steam-cycles", "UK: 3 minutes at least"): steam.steam_minutes(
        "UK hold", "gravity", WRAPPED, 134
    ),
    ("steam-cycles", "Wrapped packs are kept for a year at most"): intervals.storage_days(
        wrapped=True
    ),
    (
        "steam-cycles",
        "Unwrapped where patients are treated: a day at most",
    ): intervals.storage_days(wrapped=False, clinical=True),
    ("steam-cycles", "Unwrapped elsewhere: a week at most"): intervals.storage_days(
        wrapped=False, clinical=False
    ),
    ("operator-at-an-exposure", "Two metres away"): exposure.least_distance("NCRP 145"),
}


@pytest.mark.parametrize("case", FIGURES, ids=lambda case: case[1])
def test_a_figure_is_that_of_the_data(case: tuple[str, str]) -> None:
    assert _figure(*case).amount == FIGURES[case]


def _figures(rule: Rule) -> list[FigureIs]:
    duties = rule.duty.ways if isinstance(rule.duty, OneOf) else (rule.duty,)
    return [duty for duty in duties if isinstance(duty, FigureIs)]


def test_hands_are_cleaned_as_long_as_published() -> None:
    """WHO 2009: rub 20 to 30 seconds, wash 40 to 60; CDC 2002: wash 15 (from memory)."""
    (path,) = [path for path in PACKS if path.stem == "hand-hygiene"]
    asked = {
        (figure.name, figure.amount)
        for rule in book(path).rules
        for figure in _figures(rule)
        if figure.unit == "seconds"
    }
    rub, wash = contact.hand_seconds("rub"), contact.hand_seconds("wash", "WHO 2009")
    assert ("hand rub time", rub.least) in asked
    assert ("hand wash time", wash.least) in asked
    assert ("hand wash time", contact.hand_seconds("wash", "CDC 2002").least) in asked


def test_clearing_times_are_those_of_the_formula() -> None:
    """CDC 2003, environmental infection control, table B.1: between two rows of the table, as long
    as the row with fewer air changes says, so that nobody goes in too early."""
    (path,) = [path for path in PACKS if path.stem == "airborne-precautions"]
    rows = (2, 4, 6, 8, 10, 12, 15, 20, 50)
    seen = set()
    for rule in book(path).rules:
        figures = {figure.name: figure.amount for figure in _figures(rule)}
        percent = re.search(r"([\d.]+) percent", rule.title)
        if set(figures) == {"air changes", "clearing time"} and percent is not None:
            beyond = int(figures["air changes"])
            fewest = rows[rows.index(beyond) - 1]
            assert figures["clearing time"] == clearance_minutes(fewest, float(percent[1]))
            seen.add((percent[1], fewest))
    assert seen == {(percent, row) for percent in ("99", "99.9") for row in rows[:-1]}


# --- The shipped rooms ---------------------------------------------------------------------------

SHIPPED = [
    path
    for room in (ROOM, ROOM_3)
    for path in sorted(room.glob("*.protocol"))
    if path.stem != room.name
]


@cache
def _checked(path: Path) -> Checked:
    return check_file(path, mend=False)


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_a_shipped_protocol_keeps_all_of_them(path: Path) -> None:
    one = _checked(path)
    subject = Subject(one.protocol, one.unfolded, one.judgement)
    verdicts = judge_rules([book(pack) for pack in PACKS], subject, on=ON)
    assert len(verdicts) == len(RULES)
    failed = {(v.pack, v.rule.title) for v in verdicts if v.verdict is Verdict.FAILED}
    assert failed <= NOT_KEPT
    assert not [v.rule.title for v in verdicts if v.verdict is Verdict.NOT_DECIDED]
    for verdict in verdicts:
        assert (verdict.verdict is Verdict.NOT_APPLICABLE) is (verdict.reason is not None)
    assert any(v.verdict is Verdict.MET and v.pack != "House rules" for v in verdicts)
