"""What is said of files of rules that cannot be judged by (G…).

The facts: rule-twice, rule-strength (title, count), rule-form (lines: their opening words),
rule-list and rule-wait (text), rule-header (known), rule-example-text (rule, wrong: the line),
rule-good-example and rule-faulty-example (rule, verdict).
"""

from __future__ import annotations

from protocol_lang.wording.entry import Entry, Facts
from protocol_lang.wording.plain import quoted

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
    if facts["verdict"] == "not applicable":
        return "In the example there is nothing that the rule is about."
    if facts["verdict"] == "not decided":
        return "The example could not be judged."
    return ""


ENTRIES = (
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
            "Each rule asks for one thing, so that a report can say which one is broken. The lines "
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
        sentence=lambda facts: "A rule does not speak of waits.",
        explanation=(
            "Whether a wet time or a time for clearing is waited out is decided by the check "
            "itself, over all orders. A rule says how long it has to be: of a product, with "
            '"is declared stays wet 2 minutes"; of what is stated as a figure, with "the figure".'
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
            "choice is one to which the rule does not apply. What has to be so at a moment is asked "
            'with "whenever" and "only when".'
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
            "A faulty example shows how the rule is broken. If it does not, the rule asks for less "
            "than its author thinks."
        ),
        faulty=_book(_RULE, "  faulty example\n    [ ] operator cleans hands\n"),
        good=_book(_RULE, "  faulty example\n    [ ] operator looks at the image\n"),
    ),
)
