"""What is said of waivers that cannot stand (W…).

The facts that each kind fills in:

====================  ==============================================================================
waiver-lacks          form: the line that is missing, as it is written
waiver-about-both
waiver-ends-first
waiver-where-not
====================  ==============================================================================
"""

from __future__ import annotations

from protocol_lang.wording.entry import Entry
from protocol_lang.wording.examples import visit

_STEP = "  [ ] operator cleans hands\n"
_GOOD = (
    'waiver "Old wipes"\n  finding abcd2345\n  reason "The new ones come in January."\n'
    "  approved by infection control lead\n  from 2026-11-02 to 2027-01-15"
)


def _with(line: str, instead: str) -> str:
    assert line in _GOOD
    return visit(_STEP, _GOOD.replace(line, instead))


ENTRIES: tuple[Entry, ...] = (
    Entry(
        kind="waiver-lacks",
        number="W01",
        sentence=lambda facts: f"The waiver has no line: {facts['form']}.",
        explanation=(
            "A waiver says what is tolerated, why, who approved of it, and from which day to "
            "which. It is about one finding, by its code, or about one rule for one thing, never "
            "about a whole file."
        ),
        faulty=_with('  reason "The new ones come in January."\n', ""),
        good=visit(_STEP, _GOOD),
    ),
    Entry(
        kind="waiver-about-both",
        number="W02",
        sentence=lambda facts: "The waiver is about a finding and about a rule.",
        explanation=(
            "A waiver is about one finding, by its code, or about one rule for one thing. For "
            "both, write two."
        ),
        faulty=_with(
            "  finding abcd2345", '  finding abcd2345\n  rule "Wet time" of "House"\n  for sensor'
        ),
        good=visit(_STEP, _GOOD),
    ),
    Entry(
        kind="waiver-ends-first",
        number="W03",
        sentence=lambda facts: "The waiver ends before it begins.",
        explanation='After "from" stands the first day of the waiver, after "to" the last one.',
        faulty=_with("to 2027-01-15", "to 2026-01-15"),
        good=visit(_STEP, _GOOD),
    ),
    Entry(
        kind="waiver-where-not",
        number="W04",
        sentence=lambda facts: "A waiver names the value of a choice for which it is.",
        explanation=(
            'After "where" stand a choice and its value: "where staffing is alone". For several '
            "values, write a waiver for each."
        ),
        faulty=_with(
            "  finding abcd2345",
            '  rule "Wet time" of "House"\n  for sensor\n  where staffing is not alone',
        ),
        good=visit(_STEP, _GOOD),
    ),
)
