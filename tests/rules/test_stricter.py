"""Whether a rule asks for more than another: believed only where every protocol bears it out."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import pytest

from protocol_lang.model import rules as said
from protocol_lang.model.rules import Rule, RuleBook, Strength
from protocol_lang.resources import folder
from protocol_lang.rules import Verdict, judge_rules
from protocol_lang.rules.relations import relations
from protocol_lang.rules.stricter import Asks, asks
from tests.rules import random_texts
from tests.rules.kit import book_of, subject_of

HEAD = 'rules "Some"\n  edition 1\n  takes words from "Imaging room 2"\n'


def rules_of(*duties: str) -> tuple[RuleBook, list[Rule]]:
    """A rule for each duty; lines that come before it stand in it too."""
    text = HEAD + "".join(
        f'\nrule "{number}"\n  must\n{duty}\n' for number, duty in enumerate(duties)
    )
    book = book_of(text)
    return book, list(book.rules)


def compared(one: str, other: str) -> Asks:
    book, (rule, its) = rules_of(
        *("\n".join(f"  {x}" for x in d.split(" | ")) for d in (one, other))
    )
    return asks(rule, its, book.levels)


TREATED = (
    "after staff aims surface | comes surface is treated to at least {} | before the visit ends"
)
WAITED = "before staff works at surface | comes staff waits at least {} minutes"


@pytest.mark.parametrize(
    ("one", "other", "told"),
    [
        # Amounts, in any unit of time; a count; days; a distance.
        ("the figure age is at most 180 days", "the figure age is at most 365 days", Asks.MORE),
        ("the figure age is at most 26 weeks", "the figure age is at most 182 days", Asks.NO_MORE),
        ("the figure age is at most 53 weeks", "the figure age is at most 365 days", Asks.NO_MORE),
        ("the figure time is at least 60 seconds", "the figure time is at least 20 seconds", Asks.MORE),  # noqa: E501
        ("the figure time is at least 20 seconds", "the figure time is at least 1 minutes", Asks.NO_MORE),  # noqa: E501
        ("the figure way is 3 metres", "the figure way is at least 2 metres", Asks.MORE),
        ("the figure way is at least 3 metres", "the figure way is at least 2 feet", Asks.NOT_KNOWN),  # noqa: E501
        ("the figure way is at most 3 metres", "the figure way is at least 2 metres", Asks.NOT_KNOWN),  # noqa: E501
        ("the figure way is at least 3 metres", "the figure room is at least 2 metres", Asks.NOT_KNOWN),  # noqa: E501
        ("at most 2 times staff makes an exposure", "at most 3 times staff makes an exposure", Asks.MORE),  # noqa: E501
        ("at most 4 times staff makes an exposure", "at most 3 times staff makes an exposure", Asks.NO_MORE),  # noqa: E501
        ("at least 2 times staff touches surface", "at least 1 times staff touches surface", Asks.MORE),  # noqa: E501
        ("at least every 7 days staff waits", "at least every 31 days staff waits", Asks.MORE),
        ("at least every 92 days staff waits", "at least every 31 days staff waits", Asks.NO_MORE),
        # A level, a wait.
        (TREATED.format("intermediate"), TREATED.format("low"), Asks.MORE),
        (TREATED.format("low"), TREATED.format("intermediate"), Asks.NO_MORE),
        (WAITED.format(5), WAITED.format(2), Asks.MORE),
        (WAITED.format(2), WAITED.format(5), Asks.NO_MORE),
        # Other sentences.
        ("never staff touches surface", "never staff works at surface", Asks.NOT_KNOWN),
        ("never staff touches surface |   or staff waits", "never staff touches surface", Asks.MORE),  # noqa: E501
        ("always hands of staff are cleaned", "always hands of staff are cleaned", Asks.NO_MORE),
        # What it is about.
        ("where staffing is alone | always staff waits", "always staff waits", Asks.NO_MORE),
        ("always staff waits", "where staffing is alone | always staff waits", Asks.MORE),
        (
            "where staffing is alone | at most 2 times staff touches surface",
            "at most 3 times staff touches surface",
            Asks.OF_LESS,
        ),
        ("but not tube | never staff touches surface", "never staff touches surface", Asks.NOT_KNOWN),  # noqa: E501
        # One of several ways.
        ("the figure age is at most 9 days", "either |   the figure age is at most 9 days | or | "
         "  the header says owner", Asks.MORE),
    ],
)  # fmt: skip
def test_it_is_told_from_what_is_written(one: str, other: str, told: Asks):
    assert compared(one, other) is told


def test_advice_that_tightens_a_must_binds_less():
    _, (rule, its) = rules_of(
        "  the figure age is at most 9 days", "  the figure age is at most 99 days"
    )
    advice = replace(rule, strength=Strength.SHOULD)
    assert asks(advice, its) is Asks.BINDS_LESS
    assert asks(replace(rule, strength=Strength.LOCAL), its) is Asks.MORE
    assert asks(advice, replace(its, strength=Strength.SHOULD)) is Asks.MORE


def test_of_the_shipped_rules_what_is_said_to_tighten_does():
    rules = sorted((folder("protocols") / "rules").glob("*.protocol"))
    books = [book_of(path.read_text("utf-8"), path.parent) for path in rules]
    found = [one for one in relations(books) if one.tightens]
    assert found and all(one.asks is Asks.MORE for one in found)


# --- Against doing it ----------------------------------------------------------------------------


def variants(rng: random.Random, rule: Rule, others: list[Rule]) -> Iterator[Rule]:
    """The rule with one thing changed: its sentences, a number, what it is about."""
    duty: Any = rule.duty
    for name in ("what", "first", "then", "never", "before", "until"):
        given = getattr(duty, name, None)
        if not isinstance(given, tuple):
            continue
        more = [each for one in others for each in sentences(one, name)]
        if more:
            yield replace(rule, duty=replace(duty, **{name: (*given, rng.choice(more))}))
        if len(given) > 1:
            yield replace(rule, duty=replace(duty, **{name: given[1:]}))
    if isinstance(duty, said.Times):
        most = None if duty.most is None else duty.most + rng.choice((-1, 1))
        yield replace(rule, duty=replace(duty, most=most, least=max(0, duty.least - 1)))
    if isinstance(duty, said.After):
        yield replace(rule, duty=replace(duty, before=said.Until.END_OF_VISIT))
    yield replace(rule, where=())
    yield replace(rule, phases=() if rule.phases else ("Take",))
    yield replace(rule, but=())
    yield rule


def sentences(rule: Rule, name: str) -> tuple[said.Happening, ...]:
    """Those of one part of a rule."""
    part = getattr(rule.duty, name, ())
    return part if isinstance(part, tuple) else ()


def test_whoever_keeps_the_stricter_one_keeps_the_other():
    """Random rules and variants of them, judged on random protocols by the decider of rules, which
    knows nothing of this comparison: a rule that is kept, or about nothing, where the one that it
    is said to tighten is broken, would show a comparison that is wrong."""
    tally: Counter[Asks] = Counter()
    told_apart = 0
    for seed in range(900, 903):
        rng = random.Random(seed)
        book = book_of(random_texts.book(list(random_texts.rules(rng, 2))))
        first = [one for one in book.rules if not isinstance(one.duty, said.OneOf)]
        rules = [made for one in first for made in (one, *variants(rng, one, first))]
        pairs = [
            (i, j, asked)
            for i, rule in enumerate(rules)
            for j, other in enumerate(rules)
            if i != j
            and rule.title == other.title
            and (asked := asks(rule, other, book.levels)) in (Asks.MORE, Asks.NO_MORE)
        ]
        tally.update(asked for *_, asked in pairs)
        for number in range(12):
            subject = subject_of(random_texts.checklist(random.Random(seed * 100 + number)).text)
            broken = [
                one.verdict is Verdict.FAILED
                for one in judge_rules([replace(book, rules=tuple(rules))], subject)
            ]
            for i, j, asked in pairs:
                kept, other = (i, j) if asked is Asks.MORE else (j, i)
                assert broken[kept] or not broken[other], (rules[kept].duty, rules[other].duty)
                told_apart += broken[kept] and not broken[other]
    assert tally[Asks.MORE] > 50 and tally[Asks.NO_MORE] > 50 and told_apart > 20, (
        tally,
        told_apart,
    )
