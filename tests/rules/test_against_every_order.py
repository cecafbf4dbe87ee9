"""The decider of rules against doing every permitted order one by one, on random small protocols.

Oracle: ``tests/rules/reading.py``, written from docs/meaning/rules.md alone. A fixed budget in the
usual run; PROTOCOL_LANG_LONG=N looks at N pairs of a protocol and a rule more.
"""

from __future__ import annotations

import os
import random
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

import pytest

from protocol_lang.model.rules import RuleBook
from protocol_lang.rules import RuleVerdict, Subject, judge_rules
from tests.rules import random_texts
from tests.rules.kit import book_of, subject_of
from tests.rules.random_texts import Written
from tests.rules.reading import Judge, Rule, Run, TooMany, runs_of

#: A protocol with more orders than this is passed over.
MOST_RUNS = 400
#: So many protocols are judged by one file of rules.
TOGETHER = 20
#: In the usual run.
PROTOCOLS = 200
TIMES = 4
#: Protocols, and rules on each, of what one visit leaves to the next.
LEAVING = 80
VISITS = 20
#: Protocols in which people wait.
WAITING = 60

#: Each form has to fail, and to be met, so often.
LEAST = 50


@dataclass(frozen=True)
class Pairs:
    """A random protocol, its permitted orders, and random rules with what is decided of them."""

    seed: int
    written: Written
    runs: list[Run]
    subject: Subject
    rules: list[Rule]
    book: RuleBook

    def decided(self) -> tuple[RuleVerdict, ...]:
        return judge_rules([self.book], self.subject)

    def wanted(self) -> list[str]:
        if not self.runs:
            return ["not decided"] * len(self.rules)
        return [Judge(self.written.checklist, self.runs, rule).verdict() for rule in self.rules]


def pairs(
    first: int, protocols: int, two_visits: bool = False, waits: bool = False
) -> Iterator[Pairs]:
    """Random protocols, each with random rules of each form; ``two_visits``: with rules about what
    one visit leaves to the next, where nearly every step hangs on a choice; ``waits``: about waits,
    where people wait."""
    for start in range(first, first + protocols, TOGETHER):
        rng = random.Random(start)
        if two_visits:
            rules = [random_texts.leaving(rng) for _ in range(VISITS)]
        elif waits:
            rules = [one for _ in range(TIMES) for one in random_texts.about_waits(rng)]
        else:
            rules = list(random_texts.rules(rng, TIMES))
        book = book_of(random_texts.book(rules))
        for seed in range(start, min(start + TOGETHER, first + protocols)):
            made = random_texts.branching if two_visits else random_texts.checklist
            made = random_texts.waiting if waits else made
            written = made(random.Random(seed))
            try:
                runs = runs_of(written.checklist, MOST_RUNS)
            except TooMany:
                continue
            yield Pairs(seed, written, runs, subject_of(written.text), rules, book)


def compared(some: Iterator[Pairs], tally: Counter[tuple[str, str]]) -> Counter[tuple[str, str]]:
    """Asserts that every verdict is the same; counts (form, verdict)."""
    for one in some:
        for rule, verdict, wanted in zip(one.rules, one.decided(), one.wanted(), strict=True):
            told = f"seed {one.seed}\n{one.written.text}\n{rule.text(verdict.rule.title)}"
            assert verdict.verdict.value == wanted, f"{verdict.verdict.value}, not {wanted}: {told}"
            tally[rule.ways[0].form if len(rule.ways) == 1 else "either", wanted] += 1
    return tally


def shown(tally: Counter[tuple[str, str]]) -> None:
    """Print what occurred how often (shown by pytest -s or -rP)."""
    verdicts = ("met", "failed", "not applicable", "not decided")
    print(f"\n{sum(tally.values())} pairs of a protocol and a rule")
    print(f"{'':24}" + "".join(f"{verdict:>16}" for verdict in verdicts))
    for form in (*random_texts.FORMS, "either"):
        print(f"{form:24}" + "".join(f"{tally[form, verdict]:>16}" for verdict in verdicts))


def test_every_verdict_is_the_same():
    tally = compared(pairs(0, PROTOCOLS), Counter())
    shown(tally)
    assert sum(tally.values()) >= 2_000
    for form in (*random_texts.FORMS, "either"):
        for verdict in ("met", "failed"):
            assert tally[form, verdict] >= LEAST, (form, verdict, tally[form, verdict])


def test_what_one_visit_leaves_to_the_next_is_the_same():
    """Two visits one after the other, each with choices of its own, and one clinic."""
    tally = compared(pairs(10_000, LEAVING, two_visits=True), Counter())
    shown(tally)
    for verdict in ("met", "failed"):
        assert tally["after, to the next", verdict] >= 200


def test_what_is_decided_of_waits_is_the_same():
    tally = compared(pairs(20_000, WAITING, waits=True), Counter())
    shown(tally)
    for form in random_texts.FORMS:
        for verdict in ("met", "failed"):
            assert tally[form, verdict] >= 10, (form, verdict, tally[form, verdict])


@pytest.mark.skipif("PROTOCOL_LANG_LONG" not in os.environ, reason="only when asked for")
def test_every_verdict_is_the_same_at_length():
    tally: Counter[tuple[str, str]] = Counter()
    first = 1_000_000
    while sum(tally.values()) < int(os.environ["PROTOCOL_LANG_LONG"]):
        compared(pairs(first, TOGETHER), tally)
        compared(pairs(first, 2, two_visits=True), tally)
        compared(pairs(first, 4, waits=True), tally)
        first += TOGETHER
    shown(tally)
