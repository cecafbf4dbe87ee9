"""Check values: published inputs and what has to come of them, in one place, asked of the program.

Numbers are asked of the trade's data, verdicts of the shipped rules and of the check. Sources stand
beside each. "From memory": nobody looked the value up in the document.
"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from functools import partial
from pathlib import Path
from typing import NamedTuple

import pytest

from protocol_lang.contamination.rounds import Judged, judge_protocol
from protocol_lang.language.load import load_text
from protocol_lang.pipeline import check_file
from protocol_lang.resources import folder
from protocol_lang.rules import Subject, Verdict, judge_rules
from protocol_lang.text import decode
from protocol_lang.trade.air import clearance_minutes, clearance_time
from protocol_lang.trade.contact import dilution_ppm, wettings
from protocol_lang.trade.exposure import dose_part, least_cord
from protocol_lang.trade.germicides import covers
from protocol_lang.trade.germs import withstands
from protocol_lang.trade.legibility import acuity_factor, contrast, least_contrast, letter_height
from protocol_lang.trade.waste import times_the_limit
from tests.practice.published.bases import (
    ON_AND_OFF,
    ROOM_2,
    SENSOR,
    Changes,
    base,
    taken_off,
)
from tests.practice.published.mistakes import GLOVES_KEPT_ON
from tests.practice.published.told import books, told_of

ROOM = folder("protocols") / "imaging-room-2"

PASS, FAIL = "pass", "FAIL"

_HANDS = "  [ ] operator cleans hands\n"


class Value(NamedTuple):
    """``asked``: the question as the program is asked it; ``answer``: what is published."""

    title: str
    source: str
    asked: Callable[[], object]
    answer: object


# --- Ways to ask ---------------------------------------------------------------------------------


def by_rule(title: str, declared: str, steps: str = _HANDS, **settings: str) -> str:
    """The verdict of one shipped rule on a protocol of a few lines in room 2."""
    whole = (
        'protocol "A few lines"\n  edition 1\n'
        '  takes words from "Imaging room 2", "Reprocessing"\n\n'
        f'{declared}\nphase "All"\n{steps}'
    )
    loaded = load_text(decode(whole.encode(), "a-few-lines.protocol"), ROOM)
    assert loaded.protocol is not None and loaded.complete, loaded.findings
    judged = judge_protocol(loaded.protocol)
    assert isinstance(judged, Judged)
    (book,) = [book for book in books() if any(rule.title == title for rule in book.rules)]
    chosen = {name.replace("_", " "): value for name, value in settings.items()}
    subject = Subject(loaded.protocol, judged.unfolded, judged.judgement)
    (found,) = [one for one in judge_rules([book], subject, chosen) if one.rule.title == title]
    return {Verdict.MET: PASS, Verdict.FAILED: FAIL}[found.verdict]


def figure(title: str, figures: str, **settings: str) -> str:
    """The same, on figures that the protocol states."""
    lines = "".join(f"  {line.strip()}\n" for line in figures.split(";"))
    return by_rule(title, f"figures\n{lines}", **settings)


def by_everything(name: str, changes: Changes = ()) -> str:
    """Whether the check or a rule of a standard has anything to be corrected."""
    return FAIL if told_of(base(name).changed(changes)).published else PASS


def every(days: str) -> str:
    return by_rule(
        "A spore test every week",
        "surfaces\n  steriliser: surface; kept clean\n",
        f"  every {days}\n    [ ] operator puts the spore test into steriliser\n",
    )


def off(order: str) -> str:
    """Whether equipment may be taken off in that order."""
    return by_everything(ON_AND_OFF, taken_off(order))


# --- The values ----------------------------------------------------------------------------------

AIR = "CDC 2003, environment, table B.1"
BLEACH = "CDC 2008, on hypochlorite"
SENSORS = "CDC answers on sensors (second-hand)"
AIR_6_99 = "Fewer than 8 air changes: 46 minutes to 99 percent"
AIR_6_99_9 = "Fewer than 8 air changes: 69 minutes to 99.9 percent"
AIR_2_99_9 = "Fewer than 4 air changes: 207 minutes to 99.9 percent"
AIR_12_99_9 = "Fewer than 15 air changes: 35 minutes to 99.9 percent"

_DISINFECT = "  [ ] operator disinfects sensor with a new wipe\n"
_DRY = "  [ ] operator waits until sensor is dry\n"
NOT_DISINFECTED: Changes = ((SENSOR, _DISINFECT, ""), (SENSOR, _DRY, ""))
_FLUID = "treats with everyday fluid"
LOW_LEVEL: Changes = ((ROOM_2, _FLUID, f"{_FLUID}; treats to low"),)
NO_SLEEVE: Changes = (
    (SENSOR, "  [ ] operator slips sleeve over sensor\n", ""),
    (SENSOR, "lets sensor slide out of sleeve onto used half", "lays sensor on used half"),
)
HIGH_LEVEL_HOLDER = (
    """things
  bite block: holder; goes in the mouth; heat safe; from sterile store
  strong bath: bath; treats to high; stays wet 12 minutes
""",
    """  [ ] patient bites on bite block
  [ ] operator cleans hands
  [ ] operator cleans bite block with a new wipe
  [ ] operator soaks bite block in strong bath
""",
)
COUNTER = """surfaces
  counter: surface

things
  cloth: wipe; has face, back; used once; thrown away after use; from wipe tub; treats to """
COUNTER_TREATED = """  [ ] operator cleans hands
  [ ] operator cleans counter with a new cloth
  [ ] operator disinfects counter with a new cloth
"""
GERMS = ("C. difficile", "M. tuberculosis", "norovirus", "Candida", "S. aureus", "HBV")


def refused(changes: float, percent: float) -> str:
    try:
        clearance_time(changes, percent)
    except ValueError:
        return "refused"
    return "answered"


def enough_contrast(grey: str) -> bool:
    return contrast(grey, "#ffffff") >= least_contrast("AA", "text")


VALUES = (
    Value("6 air changes, 99 %", AIR, partial(clearance_minutes, 6, 99), 46),
    Value("6 air changes, 99.9 %", AIR, partial(clearance_minutes, 6, 99.9), 69),
    Value("12 air changes, 99.9 %", AIR, partial(clearance_minutes, 12, 99.9), 35),
    Value("2 air changes, 99.9 %", AIR, partial(clearance_minutes, 2, 99.9), 207),
    *(
        Value(
            f"{minutes} minutes at {changes} air changes",
            AIR,
            partial(
                figure,
                title,
                f"air changes: {changes} an hour; clearing time: {minutes} minutes",
                cleared_to=cleared,
            ),
            verdict,
        )
        for title, cleared, changes, minutes, verdict in (
            (AIR_6_99, "99 percent", 6, 46, PASS),
            (AIR_6_99, "99 percent", 6, 45, FAIL),
            (AIR_6_99_9, "99.9 percent", 6, 69, PASS),
            (AIR_6_99_9, "99.9 percent", 6, 68, FAIL),
            (AIR_12_99_9, "99.9 percent", 12, 35, PASS),
            (AIR_12_99_9, "99.9 percent", 12, 34, FAIL),
            (AIR_2_99_9, "99.9 percent", 2, 207, PASS),
            (AIR_2_99_9, "99.9 percent", 2, 206, FAIL),
        )
    ),
    Value(
        "6 air changes, 99 %, mixed three times as badly",
        "MMWR 1994;43(RR-13), table S3-1 (computed)",
        lambda: round(clearance_time(6, 99, 3), 1),
        138.2,
    ),
    Value("no air changes", AIR, partial(refused, 0, 99), "refused"),
    Value("more cleared than there is", AIR, partial(refused, 6, 101), "refused"),
    Value("less than nothing cleared", AIR, partial(refused, 6, -1), "refused"),
    Value("5 % bleach, 1 to 100", "WHO 2014, annex G", partial(dilution_ppm, 5, 100), 500),
    Value("5.25 %, 1 to 100", BLEACH, partial(dilution_ppm, Fraction("5.25"), 100), 525),
    Value("6.15 %, 1 to 100", BLEACH, partial(dilution_ppm, Fraction("6.15"), 100), 615),
    Value(
        "5.25 %, 1 to 500: more than 100 ppm",
        "CDC 2008, table 1",
        partial(dilution_ppm, Fraction("5.25"), 500),
        105,
    ),
    Value(
        "sensor: barrier, nothing else",
        SENSORS,
        partial(by_everything, SENSOR, NOT_DISINFECTED),
        FAIL,
    ),
    Value("sensor: barrier, low level", SENSORS, partial(by_everything, SENSOR, LOW_LEVEL), FAIL),
    Value("sensor: barrier, intermediate level", SENSORS, partial(by_everything, SENSOR), PASS),
    Value(
        "sensor: bare, intermediate level", SENSORS, partial(by_everything, SENSOR, NO_SLEEVE), FAIL
    ),
    Value(
        "a holder that stands heat, high level only",
        "CDC 2008, dental section (second-hand)",
        partial(by_rule, "Semicritical, stands heat: sterilised", *HIGH_LEVEL_HOLDER),
        FAIL,
    ),
    Value(
        "tube head touched with used gloves, its cover changed, nothing soiled",
        "CDC 2003, dental, surfaces (as quoted, second-hand)",
        partial(by_everything, SENSOR, GLOVES_KEPT_ON),
        PASS,
    ),
    *(
        Value(
            f"a counter treated to {level} level",
            "CDC 2003, dental, surfaces (as quoted, second-hand)",
            partial(by_rule, "No strong bath for surfaces", f"{COUNTER}{level}\n", COUNTER_TREATED),
            verdict,
        )
        for level, verdict in (("high", FAIL), ("intermediate", PASS))
    ),
    Value(
        "a label of 10 minutes on what dries in 2",
        "CDC 2008, the authors on contact time",
        lambda: (wettings(10, 2) <= 1, wettings(10, 2) <= 5),
        (False, True),
    ),
    *(
        Value(
            f"gravity, 121 °C, wrapped, {minutes} minutes",
            "CDC 2008, table 7",
            partial(
                figure,
                "Gravity: 30 minutes below 132 °C",
                f"sterilising temperature: 121 °C; sterilising time: {minutes} minutes",
                method="CDC 2008 gravity",
            ),
            verdict,
        )
        for minutes, verdict in ((20, FAIL), (29, FAIL), (30, PASS))
    ),
    *(
        Value(f"a spore test every {days}", "CDC 2003, dental, VI", partial(every, days), verdict)
        for days, verdict in (("week", PASS), ("8 days", FAIL))
    ),
    *(
        Value(
            f"a wrapped pack of {days} days",
            "HTM 01-05 (2013)",
            partial(
                figure, "Wrapped packs are kept for a year at most", f"age of packs: {days} days"
            ),
            verdict,
        )
        for days, verdict in ((365, PASS), (366, FAIL))
    ),
    *(
        Value(
            f"{what} for {seconds} seconds, by {source}",
            source,
            partial(figure, title, f"{what} time: {seconds} seconds", hand_washing=setting),
            verdict,
        )
        for what, seconds, title, source, setting, verdict in (
            ("hand rub", 10, "Hands are rubbed long enough", "WHO 2009", "WHO 2009", FAIL),
            ("hand rub", 20, "Hands are rubbed long enough", "WHO 2009", "WHO 2009", PASS),
            ("hand wash", 30, "Hands are washed long enough", "WHO 2009", "WHO 2009", FAIL),
            (
                "hand wash",
                30,
                "Hands are washed long enough, rubbing alone",
                "CDC 2002 (15 s from memory)",
                "CDC 2002",
                PASS,
            ),
        )
    ),
    *(
        Value(f"off: {order}", source, partial(off, order), verdict)
        for order, source, verdict in (
            ("GLOVES EYE GOWN MASK HH", "CDC, removing protective equipment", PASS),
            ("GLOVES GOWN OUT HH EYE MASK HH", "CDC 2020 (from memory)", PASS),
            ("GLOVES GOWN EYE OUT MASK HH", "UK health protection guidance", PASS),
            ("MASK GLOVES EYE GOWN HH", "CDC, removing protective equipment", FAIL),
        )
    ),
    Value(
        "germs, hardest first",
        "CDC 2008, figure 1",
        lambda: tuple(sorted(sorted(GERMS), key=withstands, reverse=True)),
        GERMS,
    ),
    Value(
        "a claim against tuberculosis and one against HBV, each for the other",
        "CDC 2008, levels of germicides; EPA practice",
        lambda: (covers("M. tuberculosis", "HBV"), covers("HBV", "M. tuberculosis")),
        (True, False),
    ),
    Value("from 1 m to 2 m", "the inverse square law", partial(dose_part, 1, 2), Fraction(1, 4)),
    Value(
        "letters read from 3 m: message, signal word",
        "ANSI Z535 (second-hand; computed)",
        lambda: (letter_height(3), letter_height(3, "signal word")),
        (10, 20),
    ),
    Value(
        "factors for eyes of 0.5 and 0.4",
        "DIN 1450",
        lambda: (acuity_factor(0.5), acuity_factor(0.4)),
        (Fraction("1.4"), Fraction("1.75")),
    ),
    Value(
        "fixer with 3000 mg silver in a litre, a limit of 5",
        "40 CFR 261.24; texts of waste services",
        partial(times_the_limit, "silver", 3000),
        600,
    ),
    Value("12 ft of cord", "WAC 246-225A", lambda: round(float(least_cord()), 2), 3.66),
    *(
        Value(
            f"a cord of {metres} m",
            "WAC 246-225A",
            partial(
                figure,
                "The cord of a mobile set is long enough",
                f"cord of the exposure button: {metres} metres",
            ),
            verdict,
        )
        for metres, verdict in (("3.66", PASS), ("3.65", FAIL))
    ),
    *(
        Value(
            f"{grey} on white, AA",
            "WCAG 2.x, success criterion 1.4.3",
            partial(enough_contrast, grey),
            enough,
        )
        for grey, enough in (("#777777", False), ("#767676", True))
    ),
)

#: Check values that cannot be asked of the program in these words, and why.
NOT_ASKED = {
    "five wettings of a surface, step by step in a protocol": (
        "a wipe is declared to stay wet for so long, and a protocol waits until what it treated is "
        "dry; how often to wet for a label is asked of the figures, above"
    ),
}


@pytest.mark.parametrize("value", VALUES, ids=lambda value: value.title)
def test_a_published_value(value: Value) -> None:
    assert value.source
    assert value.asked() == value.answer


def test_the_mask_off_first_is_told_at_the_first_step(tmp_path: Path) -> None:
    """CDC poster and CDC 2020: MASK, GLOVES, EYE, GOWN, hands is wrong from its first step on."""
    files = base(ON_AND_OFF).changed(taken_off("MASK GLOVES EYE GOWN HH"))
    for name, text in files.texts:
        (tmp_path / f"{name}.protocol").write_text(text, "utf-8")
    one = check_file(tmp_path / f"{files.first}.protocol", mend=False)
    assert one.judgement is not None
    steps = {
        verdict.rule.title: {finding.facts["step"] for finding in verdict.findings}
        for verdict in judge_rules(books(), Subject(one.protocol, one.unfolded, one.judgement))
        if verdict.verdict is Verdict.FAILED
    }
    assert steps["Gloves come off first"] == {"operator takes off mask by the ties"}


def test_what_is_not_asked_has_its_reason() -> None:
    assert all(NOT_ASKED.values())
    assert not set(NOT_ASKED) & {value.title for value in VALUES}
    assert len({value.title for value in VALUES}) == len(VALUES)
