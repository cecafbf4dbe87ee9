"""The story told of a failed rule: its steps are part of a permitted order that breaks the rule.

Oracle: ``tests/rules/reading.py``.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import chain

from protocol_lang.findings import Finding, Route
from tests.rules.reading import Asked, Deed, Judge, Run
from tests.rules.test_against_every_order import Pairs, pairs

#: What a finding says that it is about, by the form.
FORMS = {
    "always": "always", "never": "never", "before": "before", "before, never": "before",
    "after": "after", "after, to the end": "end", "after, to the next": "next",
    "between": "between", "between, to the end": "between", "whenever": "whenever",
    "at most": "times", "at least": "times",
}  # fmt: skip


def shows(one: Pairs, judge: Judge, finding: Finding) -> bool:
    """Whether some order that breaks the rule has the story in it."""
    route = finding.route
    assert route is not None
    about = judge.rule.about
    bound = {} if about is None else {about: finding.facts["thing"]}
    return any(
        all(_has(one, run, route, visit) for visit, run in enumerate(history, start=1))
        for way in judge.rule.ways
        if FORMS[way.form] == finding.facts["form"]
        for history in _breaking(judge, way, bound)
    )


def _breaking(judge: Judge, way: Asked, bound: dict[str, str]) -> Iterator[tuple[Run, ...]]:
    if way.form == "after, to the next":
        yield from judge.next_pairs(way, bound)
    else:
        yield from ((run,) for run in judge.runs if judge.broken(way, run.deeds, bound))


def _has(one: Pairs, run: Run, route: Route, visit: int) -> bool:
    """Whether a run makes the choices of the story, which are those of its first visit, and does
    its steps in that order."""
    chosen = dict(run.course)
    if visit == 1 and any(chosen.get(name, value) != value for name, value in route.choices):
        return False
    told = [step for step in route.steps if step.visit == visit]
    at = 0
    for deed in run.deeds:
        if at < len(told) and _is(one, deed, told[at].text, told[at].place):
            at += 1
    return at == len(told)


def _is(one: Pairs, deed: Deed, text: str, place: object) -> bool:
    line = getattr(place, "line", None)
    return one.written.lines[deed.number] == line and deed.doer in text


def _failed(some: Iterator[Pairs]) -> Iterator[tuple[Pairs, Judge, Finding]]:
    for one in some:
        if not one.runs:
            continue
        for rule, verdict in zip(one.rules, one.decided(), strict=True):
            judge = Judge(one.written.checklist, one.runs, rule)
            yield from ((one, judge, finding) for finding in verdict.findings)


#: So many steps a story has at least, by its form.
STEPS = {"before": 1, "never": 1, "whenever": 1, "end": 1, "after": 2, "between": 2, "next": 2}


def test_every_story_breaks_its_rule():
    seen = dict.fromkeys(FORMS.values(), 0)
    some = chain(pairs(5_000, 120), pairs(15_000, 20, two_visits=True))
    for one, judge, finding in _failed(some):
        told = f"seed {one.seed}\n{one.written.text}\n{judge.rule.text('it')}\n{finding}"
        assert shows(one, judge, finding), told
        assert finding.route is not None
        form = finding.facts["form"]
        assert len(finding.route.steps) >= STEPS.get(form, 0), told
        seen[form] += 1
    print(seen)
    assert all(number >= 40 for number in seen.values()), seen
