"""What is said of rules: of those that a protocol does not keep, or that were not applied to it,
and of files of rules that cannot be judged by (G…).

The facts: rule-failed (rule, pack, strength; form, and what belongs to it: see ``_BROKEN``; about:
for what, where that is not said otherwise); rule-twice, rule-strength (title, count), rule-form
(lines: their opening words), rule-list and rule-wait (text), rule-header (known), rule-example-text
(rule, wrong: the line), rule-good-example and rule-faulty-example (rule, verdict; why: the kind of
the reason, with its facts; wrong: the line that stands in the way).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from protocol_lang.wording.entry import Entry, Facts
from protocol_lang.wording.plain import begin, count, listed, quoted

_HEAD = """rules "Our rules"
  edition 1
  takes words from "Dental imaging"
  examples in "Imaging room 2"
"""

_RULE = """
rule "Hands are cleaned in every visit"
  must
  always hands of staff are cleaned
"""


def _book(*rules: str) -> str:
    return _HEAD + "".join(rules)


_GOOD = _book(_RULE)


def _strength(facts: Facts) -> str:
    many = "no strength" if facts["count"] == "0" else "more than one strength"
    return f"The rule {quoted(facts['title'])} has {many}."


def _not_shown(facts: Facts) -> str:
    """Why an example is neither: ``why`` is the kind of the reason, with its facts beside it."""
    verdicts = {
        "not applicable": "In the example there is nothing that the rule is about",
        "not decided": "The example could not be judged",
    }
    if facts["verdict"] not in verdicts:
        return ""
    said = verdicts[facts["verdict"]]
    if "why" in facts:
        said = f"{said}: {reason(facts['why'], facts)}"
    wrong = f" This stands in the way: {facts['wrong']}." if facts.get("wrong") else ""
    return f"{said}.{wrong}"


def _after(facts: Facts) -> str:
    return (
        f"After {quoted(facts['since'])}, {quoted(facts['step'])} can come before "
        f"{facts['missing']}."
    )


def _before(facts: Facts) -> str:
    if "since" in facts:
        return _after(facts)
    return f"{begin(quoted(facts['step']))} can come before {facts['missing']}."


def _end(facts: Facts) -> str:
    return f"After {quoted(facts['since'])}, the visit can end before {facts['missing']}."


def _next(facts: Facts) -> str:
    return (
        f"After {quoted(facts['since'])}, {quoted(facts['step'])} can come in the next visit "
        f"before {facts['missing']}."
    )


def _between(facts: Facts) -> str:
    until = facts["until"]
    return f"After {quoted(facts['since'])} and before {until}, {quoted(facts['step'])} can come."


def _times(facts: Facts) -> str:
    most = facts.get("most")
    asked = f"at most {most}" if most is not None else f"at least {facts['least']}"
    times = count(int(facts["number"]), "time")
    return f"In a visit it can happen {times} that {facts['what']}; the rule asks for {asked}."


def _every(facts: Facts) -> str:
    asked = f"the rule asks for every {count(int(facts['days']), 'day')} at least"
    if "often" not in facts:
        return f"How often {quoted(facts['step'])} is done is not told in days; {asked}."
    often = count(int(facts["often"]), "day")
    return f"{quoted(facts['step'])} is done every {often}; {asked}."


def _depends(facts: Facts) -> str:
    return (
        f"Where {quoted(facts['choice'])} is {facts['second']}, not the same is treated as where "
        f"it is {facts['first']}: {facts['differing']}."
    )


#: How a rule is broken, by the form of what it asks.
_BROKEN: Mapping[str, Callable[[Facts], str]] = {
    "after": _after,
    "before": _before,
    "end": _end,
    "next": _next,
    "between": _between,
    "whenever": lambda facts: (
        f"When {quoted(facts['step'])} begins, it need not be so that {facts['claim']}."
    ),
    "always": lambda facts: f"It can be left out that {facts['missing']}.",
    "never": lambda facts: f"{quoted(facts['step'])} is done.",
    "times": _times,
    "declared": lambda facts: f"{quoted(facts['what'])} is not declared: {facts['traits']}.",
    "marked": lambda facts: (
        f"{quoted(facts['what'])} goes into {quoted(facts['stream'])}, which is not marked "
        f"{quoted(facts['mark'])}."
    ),
    "header": lambda facts: f'The header does not say "{facts["what"]}".',
    "overdue": lambda facts: f"The day of review, {facts['day']}, has passed.",
    "not-in-force": lambda facts: f"The protocol is not in force before {facts['day']}.",
    "figure": lambda facts: (
        f"{quoted(facts['figure'])} is {facts['given']}; the rule asks for {facts['wanted']}."
    ),
    "every": _every,
    "depends": _depends,
}


def _failed(facts: Facts) -> str:
    """How a rule is broken; and for what, where the words alone do not tell it."""
    said = _BROKEN[facts["form"]](facts)
    if "about" not in facts:
        return said
    return f"{said} It is so for {listed(facts['about'].split(', '))}."


#: Why a rule was not applied, or not decided.
_REASONS: Mapping[str, Callable[[Facts], str]] = {
    "no-such": lambda facts: f"the protocol has no {facts['name']}",
    "no-step": lambda facts: f"no step does this: {facts['text']}",
    "no-choice": lambda facts: (
        f"the protocol has no choice {quoted(facts['choice'])}"
        + (f" with the value {facts['value']}" if "value" in facts else "")
    ),
    "no-phase": lambda facts: (
        f"the protocol has no phase {facts['phases']}"
        + (f" (it has {quoted(facts['nearest'])})" if "nearest" in facts else "")
    ),
    "no-course": lambda facts: "no course of the visit is meant",
    "no-figure": lambda facts: f"no figure {quoted(facts['figure'])} is stated",
    "no-stream": lambda facts: f"it is not declared where {facts['thing']} goes",
    "about-nothing": lambda facts: "it names nothing that it is about",
    "nothing": lambda facts: "nothing in the protocol is what it is about",
    "setting": lambda facts: f"{quoted(facts['name'])} is set to {facts['value']}",
    "not-judged": lambda facts: "the protocol could not be judged to the end",
    "too-hard": lambda facts: "deciding it went over the limit",
    "cannot-be-asked": lambda facts: f"rules cannot ask this: {facts['what']}",
}


def reason(kind: str, facts: Facts) -> str:
    """Why a rule was not applied, or not decided, as a part of a sentence."""
    return _REASONS[kind](facts)


_ASKS = {
    "more": "both hold. Compared as they are written, it asks for more",
    "no more": "both hold. Compared as they are written, it asks for nothing that the other does "
    "not ask for: nothing is tightened",
    "of less": "both hold. Compared as they are written, it is about less than the other, which "
    "has to be kept beside it",
    "binds less": "both hold. Compared as they are written, it asks for more, but binds less",
    "not known": "both hold. That it asks for more is declared, not verified",
}


def prevails(
    which: str,
    tightens: bool,
    rule: tuple[str, str],
    other: tuple[str, str],
    asks: str = "not known",
) -> str:
    """Which of two rules, each with the title of its file, holds; ``which`` as in
    :class:`protocol_lang.rules.relations.Prevails`, ``asks`` as in
    :class:`protocol_lang.rules.stricter.Asks`."""
    one, two = (f"{quoted(title)} of {quoted(pack)}" for title, pack in (rule, other))
    said = f"{one} {'tightens' if tightens else 'loosens'} {two}"
    match which:
        case "both":
            return f"{said}: {_ASKS[asks]}"
        case "the other":
            return f"{said}: {two} still holds, and where it is not kept a waiver is needed"
        case "not applied":
            return f"{said}, by which was not judged"
        case _:
            return f"{said}, but there is no such rule"


ENTRIES = (
    Entry(
        kind="rule-failed",
        number="G20",
        sentence=_failed,
        because=lambda facts: (
            f"The rule is {quoted(facts['rule'])} of {quoted(facts['pack'])} ({facts['strength']})."
        ),
        explanation=(
            "A rule of the files by which an audit judges is not kept in every permitted order and "
            "with every choice. The route shows one order in which it is not kept. Whether a rule "
            "holds is a matter of the steps as they are written; whether soil gets anywhere is "
            "another, which the check decides."
        ),
        faulty="",
        good="",
    ),
    Entry(
        kind="rule-twice",
        number="G01",
        sentence=lambda facts: f"There are two rules called {quoted(facts['title'])}.",
        explanation=(
            "A rule is spoken of by its title: in reports, in waivers and by other rules. So each "
            "title stands once in a file."
        ),
        faulty=_book(_RULE, _RULE),
        good=_GOOD,
    ),
    Entry(
        kind="rule-strength",
        number="G02",
        sentence=_strength,
        change=lambda facts: 'Write one of "must", "should" and "local" under its title.',
        explanation=(
            "A rule says how much it binds: must (a standard demands it), should (advice), local "
            "(the house asks for it). What breaks a rule that only should be kept is something to "
            "consider; what breaks the others is to be corrected."
        ),
        faulty=_book(_RULE.replace("  must\n", "")),
        good=_GOOD,
    ),
    Entry(
        kind="rule-without-duty",
        number="G03",
        sentence=lambda facts: "The rule asks for nothing.",
        explanation=(
            'A rule needs a line that says what it asks, such as "always …", "never …", "before …" '
            'with "comes …", or "whenever …" with "only when …".'
        ),
        faulty=_book('\nrule "Hands"\n  must\n  because "Hands carry most of it."\n'),
        good=_GOOD,
    ),
    Entry(
        kind="rule-form",
        number="G04",
        sentence=lambda facts: (
            f"These lines together make no rule, or more than one: {facts['lines']}."
        ),
        because=lambda facts: (
            'What a rule can ask: "always"; "never"; "before", "comes" and, if need be, "but '
            'never"; "after", "comes" and "before"; "after", "until" and "never"; "whenever" and '
            '"only when"; "at most", "at least", "at least every"; "is declared"; "goes into what '
            'is marked"; "the header says"; "the figure"; "no treatment depends on"; "either" and '
            '"or".'
        ),
        explanation=(
            "Each rule asks for one thing, so that a report can say which is not kept. The lines "
            "that make it up stand under each other in the order shown. Two things asked are two "
            "rules; of two things one, of which either will do, is written with either and or."
        ),
        faulty=_book(_RULE + "  never staff makes an exposure\n"),
        good=_GOOD,
    ),
    Entry(
        kind="rule-ways",
        number="G05",
        sentence=lambda facts: 'After "either" no second way follows.',
        explanation=(
            'The ways to keep a rule stand under "either" and, each, under an "or" beside it.'
        ),
        faulty=_book('\nrule "Hands"\n  must\n  either\n    always hands of staff are cleaned\n'),
        good=_GOOD,
    ),
    Entry(
        kind="rule-list",
        number="G06",
        sentence=lambda facts: "A sentence of a rule names one of each, and this one a list.",
        explanation=(
            'Where any of several things will do, each has a sentence of its own, under "or". A '
            "kind stands for anything of that kind."
        ),
        faulty=_book(
            '\nrule "Panel"\n  must\n  never operator works at keyboard and control panel\n'
        ).replace('"Dental imaging"', '"Imaging room 2"'),
        good=_GOOD,
    ),
    Entry(
        kind="rule-wait",
        number="G07",
        sentence=lambda facts: (
            f'In a rule it stays open whether "{facts["text"]}" means just so long, or longer too.'
        ),
        because=lambda facts: 'Write "waits at least", with the number of minutes.',
        explanation=(
            'Of a wait a rule says "staff waits", whatever for; "staff waits at least 2 minutes"; '
            'or "staff waits until receptor is dry". Whether a wet time or a time for clearing is '
            "waited out is decided by the check itself, over all orders."
        ),
        faulty=_book('\nrule "Wait"\n  must\n  always staff waits 2 minutes\n'),
        good=_GOOD,
    ),
    Entry(
        kind="rule-header",
        number="G08",
        sentence=lambda facts: "A header has no such line.",
        because=lambda facts: f"It may say: {facts['known']}.",
        explanation=(
            "Asked of a header is that it names an owner, an edition or a source; or the day from "
            "which it is in force, or by which it is reviewed, and these are then held against the "
            "day of judgement."
        ),
        faulty=_book('\nrule "Head"\n  must\n  the header says author\n'),
        good=_GOOD,
    ),
    Entry(
        kind="rule-where-or",
        number="G09",
        sentence=lambda facts: 'Under a rule "where" joins by "and" only.',
        explanation="A rule that holds in one case or in another is written as two rules.",
        faulty=_book(
            _RULE.replace(
                "  must\n", "  must\n  where precautions is airborne or precautions is gut\n"
            )
        ),
        good=_GOOD,
    ),
    Entry(
        kind="rule-where-form",
        number="G10",
        sentence=lambda facts: 'Under a rule "where" asks for the value of a choice.',
        explanation=(
            "Which choices there are differs from protocol to protocol; a protocol without that "
            "choice is one to which the rule does not apply. What has to be so at some moment is "
            'asked with "whenever" and "only when".'
        ),
        faulty=_book(_RULE.replace("  must\n", "  must\n  where settings chosen\n")),
        good=_GOOD,
    ),
    Entry(
        kind="rule-example-text",
        number="G11",
        sentence=lambda facts: (
            f"This example of {quoted(facts['rule'])} is no protocol that can be read."
        ),
        because=lambda facts: f"The line is: {facts['wrong']}" if facts.get("wrong") else None,
        explanation=(
            "An example is a small protocol: what it declares, then its steps. It takes words from "
            'the files that the rules take words from, and from those named after "examples in".'
        ),
        faulty=_book(_RULE, "  good example\n    [ ] operator cleans the moon\n"),
        good=_GOOD,
    ),
    Entry(
        kind="rule-good-example",
        number="G12",
        sentence=lambda facts: f"The good example of {quoted(facts['rule'])} does not keep it.",
        because=lambda facts: _not_shown(facts) or None,
        explanation=(
            "A good example shows how the rule is kept. It is tried whenever the file is checked."
        ),
        faulty=_book(_RULE, "  good example\n    [ ] operator looks at the image\n"),
        good=_book(_RULE, "  good example\n    [ ] operator cleans hands\n"),
    ),
    Entry(
        kind="rule-faulty-example",
        number="G13",
        sentence=lambda facts: f"The faulty example of {quoted(facts['rule'])} does not break it.",
        because=lambda facts: _not_shown(facts) or None,
        explanation=(
            "A faulty example shows how a rule is not kept. If it does not, the rule asks for less "
            "than its author thinks."
        ),
        faulty=_book(_RULE, "  faulty example\n    [ ] operator cleans hands\n"),
        good=_book(_RULE, "  faulty example\n    [ ] operator looks at the image\n"),
    ),
)
