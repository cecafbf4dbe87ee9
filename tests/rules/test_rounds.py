"""How often something is done where it is repeated: the decider against all rounds spelt out.

The oracle writes every round as steps of its own, for every number of rounds, and counts them.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import product

import pytest

from protocol_lang.contamination.judge import judge
from protocol_lang.contamination.unfold import Unfolded, unfold
from protocol_lang.rules import Subject, judge_rules
from tests.rules import random_texts
from tests.rules.kit import book_of, subject_of, verdicts
from tests.rules.reading import FAILED, MET

#: A line of steps: what is touched; or a repetition.
Part = "str | Repeated"


@dataclass(frozen=True)
class Repeated:
    """``sort``: "each", "first", "last", "perhaps", "either" (its items are its ways)."""

    sort: str
    items: tuple[object, ...]
    least: int = 0
    most: int = 0


def each(least: int, most: int, *items: object) -> Repeated:
    return Repeated("each", items, least, most)


def counts(items: Iterable[object], first: bool = True, last: bool = True) -> set[int]:
    """How often the phone may be touched."""
    found = {0}
    for item in items:
        here = set(_of(item, first, last))
        found = {one + other for one, other in product(found, here)}
    return found


def _of(item: object, first: bool, last: bool) -> Iterator[int]:
    if not isinstance(item, Repeated):
        yield int(item == "phone")
        return
    match item.sort:
        case "each":
            for number in range(item.least, item.most + 1):
                found = {0}
                for now in range(1, number + 1):
                    here = counts(item.items, now == 1, now == number)
                    found = {one + other for one, other in product(found, here)}
                yield from found
        case "first":
            yield from counts(item.items, first, last) if first else {0}
        case "last":
            yield from counts(item.items, first, last) if last else {0}
        case "perhaps":
            yield 0
            yield from counts(item.items, first, last)
        case "either":
            for way in item.items:
                yield from counts((way,), first, last)


def written(items: Iterable[object], indent: str = "  ") -> str:
    return "".join(_lines(item, indent) for item in items)


_OPENING = {
    "first": "first time only",
    "last": "last time only",
    "perhaps": "may be left out",
}
_names = iter(f"view {number}" for number in range(10_000))


def _lines(item: object, indent: str) -> str:
    if not isinstance(item, Repeated):
        return f"{indent}[ ] operator works at {item}\n"
    deeper = indent + "  "
    if item.sort == "either":
        first, second = (written((way,), deeper) for way in item.items)
        return f"{indent}either\n{first}{indent}or\n{second}"
    opening = _OPENING.get(item.sort, f"for each {next(_names)}, {item.least} to {item.most}")
    return f"{indent}{opening}\n{written(item.items, deeper)}"


CASES: dict[str, tuple[object, ...]] = {
    "one to eighteen": (each(1, 18, "phone"),),
    "five to eight": (each(5, 8, "phone"),),
    "six and no other": (each(6, 6, "phone", "keyboard"),),
    "two in each, one beside": ("phone", each(2, 7, "phone", "tube", "phone")),
    "the first time only": (each(1, 9, Repeated("first", ("phone",)), "keyboard"),),
    "the last time only": (each(1, 9, "keyboard", Repeated("last", ("phone",))),),
    "first, last and each": (
        each(4, 9, Repeated("first", ("phone", "phone")), "phone", Repeated("last", ("phone",))),
    ),
    "perhaps in each": (each(1, 6, Repeated("perhaps", ("phone",))),),
    "two ways": (each(2, 6, Repeated("either", ("phone", "tube"))),),
    "one in another": (each(1, 4, each(2, 5, "phone"), "tube"),),
    "the last time of the outer": (each(1, 5, Repeated("last", (each(1, 5, "phone"),)), "tube"),),
    "the last time of the inner": (each(1, 5, each(1, 5, "tube", Repeated("last", ("phone",)))),),
    "two after each other": (each(1, 6, "phone"), "tube", each(4, 7, "phone")),
    "few": (each(1, 3, "phone"), each(0, 2, "phone")),
}


def differs(case: str) -> str | None:
    """Where the verdicts about a case are not what counting says."""
    items = CASES[case]
    told = counts(items)
    protocol = (
        f'protocol "Rounds"\n  takes words from "Small room"\n\nphase "All"\n{written(items)}'
    )
    asked: list[tuple[str, str]] = []
    for number in (max(told) - 1, max(told), max(told) + 1):
        if number >= 0:
            asked.append((f"at most {number} times", MET if max(told) <= number else FAILED))
    for number in (min(told), min(told) + 1):
        asked.append((f"at least {number} times", MET if min(told) >= number else FAILED))
    rules = 'rules "Rounds"\n  takes words from "Small room"\n\n' + "\n".join(
        f'rule "{often}"\n  must\n  {often} staff works at phone\n' for often, _ in asked
    )
    for verdict, (often, wanted) in zip(verdicts(rules, protocol), asked, strict=True):
        if verdict.verdict.value != wanted:
            return f"{often}: {verdict.verdict.value}, not {wanted}, of {sorted(told)}"
        if wanted == FAILED:
            worst = max(told) if often.startswith("at most") else min(told)
            if verdict.findings[0].facts["number"] != str(worst):
                return f"{often}: {verdict.findings[0].facts}, not {worst}"
    return None


@pytest.mark.parametrize("case", CASES)
def test_counts_as_if_every_round_were_written(case: str):
    assert differs(case) is None


def test_again_from_a_step():
    """One time, and at most two times more."""
    protocol = """protocol "Again"
  takes words from "Small room"

phase "All"
  [ ] place: operator works at phone
  may be left out
    again from place, at most 2 times
"""
    rules = 'rules "Again"\n  takes words from "Small room"\n\n' + "\n".join(
        f'rule "{often}"\n  must\n  {often} staff works at phone\n'
        for often in ("at most 2 times", "at most 3 times", "at least 1 times", "at least 2 times")
    )
    assert [one.verdict.value for one in verdicts(rules, protocol)] == [FAILED, MET, MET, FAILED]


def test_what_comes_after_three_rounds_is_nothing_new():
    """Orders over rounds: three are spelt out, and the answer is that of all of them."""
    rules = """rules "Rounds"
  takes words from "Small room"

rule "after"
  must
  after staff works at phone
  comes hands of staff are cleaned
  before staff works at keyboard

rule "before"
  must
  before staff works at tube
  comes staff works at keyboard
  but never staff works at phone

rule "end"
  must
  after staff works at tube
  comes staff works at phone
  before the visit ends
"""
    for most in (3, 4, 9):
        protocol = f"""protocol "Rounds"
  takes words from "Small room"

phase "All"
  for each view, 1 to {most}
    [ ] operator works at keyboard
    [ ] operator works at tube
    [ ] operator works at phone
    last time only
      [ ] operator cleans hands
"""
        told = [one.verdict.value for one in verdicts(rules, protocol)]
        assert told == [FAILED, MET, MET], most


def _repeated_text(rng: random.Random) -> str:
    """A random checklist of which each phase is done one to five times."""
    made = random_texts.checklist(rng).text
    head, *phases = made.split("phase ")
    told = []
    for number, phase in enumerate(phases):
        title, *lines = phase.strip().splitlines()
        once = (
            [] if rng.random() < 0.5 else ["    first time only", "      [ ] operator cleans hands"]
        )
        last = (
            [] if rng.random() < 0.5 else ["    last time only", "      [ ] helper works at phone"]
        )
        inner = [*once, *(f"  {line}" for line in lines), *last]
        told.append(
            "\n".join([f"phase {title}", f"  for each view {number}, 1 to 5", *inner]) + "\n"
        )
    return head + "\n".join(told[:1] if rng.random() < 0.7 else told)


def test_orders_over_few_rounds_are_those_over_all():
    """The verdicts with as many rounds as the program spells out, and with every round."""
    tally: Counter[tuple[str, bool]] = Counter()
    for start in range(2):
        rng = random.Random(start)
        book = book_of(random_texts.book(random_texts.rules(rng, 4)))
        for seed in range(10 * start, 10 * start + 10):
            few = subject_of(_repeated_text(random.Random(seed)))
            assert few.protocol is not None and few.unfolded is not None
            every = unfold(few.protocol)
            if not isinstance(every, Unfolded) or len(every.plan.acts) > 120:
                continue
            judgement = judge(every.plan)
            whole = Subject(few.protocol, every, judgement)
            for one, other in zip(
                judge_rules([book], few), judge_rules([book], whole), strict=True
            ):
                assert one.verdict is other.verdict, (seed, one.rule.title, one.verdict)
                tally[one.verdict.value, bool(few.unfolded.depths)] += 1
    print(tally)
    assert tally[MET, True] >= 100 and tally[FAILED, True] >= 100
