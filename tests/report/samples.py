"""Outcomes as a check hands them over, made by hand: one of each shape a report has to set down."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

from protocol_lang.findings import Finding, Remedy, Route, RouteStep, Unchecked, Weight
from protocol_lang.outcome import (
    ChoiceSeen,
    Coverage,
    FileOutcome,
    FileRead,
    Line,
    OrderCount,
    Outcome,
    Remainder,
)
from protocol_lang.text import Place

FILE = "intraoral-wired-sensor.protocol"
ROOM = "imaging-room-2.protocol"

_FOLDER = Path(__file__).parents[2] / "protocols" / "imaging-room-2"
TEXT = tuple((_FOLDER / FILE).read_text("utf-8").splitlines())


def place(words: str, nth: int = 1, end: bool = True) -> Place:
    """Where ``words`` stand for the ``nth`` time in the sample protocol."""
    for number, line in enumerate(TEXT, start=1):
        if words in line:
            nth -= 1
            if nth == 0:
                column = line.index(words) + 1
                return Place(FILE, number, column, column + len(words))
    raise ValueError(words)


def _stop(visit: int, words: str, nth: int = 1, **moves: str) -> RouteStep:
    person = words.split()[0]
    pairs = tuple((key.replace("_", " "), value) for key, value in moves.items())
    return RouteStep(visit, person, words, place(words, nth), pairs)


COVERAGE = Coverage(
    steps=58,
    choices=(
        ChoiceSeen("staffing", ("alone", "paired")),
        ChoiceSeen("shielding", ("none", "collar"), fixed=True),
    ),
    combinations=4,
    orders=OrderCount(3_110_400_000, exact=True),
    starts=(
        ("operator's hands", "not clean"),
        ("helper's hands", "not clean"),
        ("keyboard", "kept clean"),
        ("sensor hook", "kept clean"),
        ("floor", "dirty"),
    ),
    leaking=("sleeve",),
    thrown_away=("wipe",),
    remainder=(
        Remainder("intermediate", "sensor", ("bacterial spores",), "CDC 2003, digital sensors"),
        Remainder("intermediate", "chair arms", ("bacterial spores",), "CDC 2003, surfaces"),
        Remainder("intermediate", "used half", ("bacterial spores",), "CDC 2003, surfaces"),
    ),
    without_contact=(
        Line("what will happen; glasses and appliances out", place("say: what")),
        Line("operator keeps hands still", place("operator keeps hands still")),
    ),
    own_verbs=(Line("ACTOR feels the gum", None),),
    handed_over=(("holder", "Holders and bite blocks"),),
    files=(
        FileRead("protocol", "Intraoral, wired sensor", FILE),
        FileRead("room", "Imaging room 2", ROOM, packaged=True),
        FileRead("words", "Dental imaging", "dental-imaging.protocol", packaged=True),
        FileRead("data", "Germs and treatment", "germs-and-treatment.protocol", packaged=True),
    ),
)

PATH = Finding(
    "path-to-patient",
    place("operator aims tube"),
    {
        "who": "the next patient's mouth",
        "from_what": "the patient's mouth",
        "soil": "saliva",
        "first": "operator places holder with sensor in mouth",
        "last": "operator places holder with sensor in mouth",
    },
    context='step 16 in "Place and expose"',
    route=Route(
        (("staffing", "alone"), ("shielding", "none")),
        (
            RouteStep(
                1,
                "operator",
                "operator places holder with sensor in mouth",
                place("operator places holder with sensor in mouth"),
                (("patient's mouth", "operator's gloves"),),
            ),
            RouteStep(
                1,
                "operator",
                "operator aims tube",
                place("operator aims tube"),
                (("operator's gloves", "tube head"), ("operator's gloves", "cone")),
            ),
            RouteStep(
                2,
                "operator",
                "operator sets tube roughly",
                place("operator sets tube roughly"),
                (("tube head", "operator's hands"),),
            ),
            RouteStep(
                2,
                "operator",
                "operator puts on gloves",
                place("operator puts on gloves"),
                (("operator's hands", "operator's gloves"),),
            ),
            RouteStep(
                2,
                "operator",
                "operator places holder with sensor in mouth",
                place("operator places holder with sensor in mouth"),
                (("operator's gloves", "patient's mouth"),),
            ),
        ),
        ("mycobacteria", "bacterial spores"),
    ),
    remedies=(
        Remedy(
            "add-step",
            {
                "text": "in one go\n  [ ] operator takes off gloves\n  [ ] operator cleans hands",
                "after": "operator places holder with sensor in mouth",
            },
        ),
        Remedy(
            "clean-before",
            {
                "what": "tube head",
                "step": "operator sets tube roughly",
                "text": "operator cleans tube with a new wipe\n"
                "operator disinfects tube with a new wipe",
            },
        ),
    ),
)

CLAIM = Finding(
    "claim-can-fail",
    place("operator exposes with exposure button"),
    {
        "step": "operator exposes with exposure button",
        "claim": "patient in view",
        "person": "operator",
        "follows": "nothing is said about steps that come after it",
    },
    others=(("what makes it hold", place("operator goes behind the barrier")),),
    context='step 18 in "Place and expose"',
    route=Route(
        (("staffing", "alone"),),
        (
            _stop(1, "operator exposes with exposure button"),
            _stop(1, "operator goes behind the barrier"),
        ),
    ),
    remedies=(
        Remedy(
            "add-after",
            {
                "step": "operator exposes with exposure button",
                "label": "behind",
                "of": "operator goes behind the barrier",
                "new": "yes",
            },
        ),
    ),
)

CIRCLE = Finding(
    "order-circle",
    place("operator cleans hands"),
    {"steps": '"operator cleans hands" and "operator opens the record at keyboard"'},
    others=(("waits for the other", place("operator opens the record at keyboard")),),
    context='step 1 in "Get ready"',
)

DOUBT = Finding(
    "left-over",
    place("sleeve and wipe"),
    {"thing": "the second sleeve"},
    context='step 4 in "Get ready"',
    weight=Weight.CONSIDER,
)

EVERYWHERE = Finding("no-permitted-order", None, {"steps": '"rub" and "record"'})


def one(*findings: Finding, unchecked: tuple[Unchecked, ...] = (), **more: object) -> Outcome:
    """A report on the sample protocol."""
    file = FileOutcome(
        FILE,
        title="Intraoral, wired sensor",
        edition=1,
        findings=findings,
        unchecked=unchecked,
        coverage=COVERAGE,
    )
    return Outcome((file,), {FILE: TEXT}, on=date(2026, 11, 2), version="0.1.0", **more)


CLEAN = one()
FAULTY = one(DOUBT, PATH, CLAIM)
PARTLY = one(
    unchecked=(
        Unchecked(
            "too-hard",
            {
                "question": "whether soil from the patient's mouth reaches the keyboard",
                "spent": "the limit of counted steps",
            },
        ),
    )
)
IN_CIRCLES = Outcome(
    (
        FileOutcome(
            FILE,
            title="Intraoral, wired sensor",
            edition=1,
            findings=(CIRCLE,),
            unchecked=(Unchecked("because-of-findings", {"which": "order-circle"}),),
        ),
    ),
    {FILE: TEXT},
    on=date(2026, 11, 2),
)
SHARED = Finding("left-over", Place(ROOM, 3, 1, 5), {"thing": "wrap"}, context="people")
SEVERAL = Outcome(
    (
        replace(FAULTY.files[0], findings=(SHARED, PATH)),
        replace(CLEAN.files[0], file="second.protocol", findings=(SHARED,)),
        replace(CLEAN.files[0], file="third.protocol"),
        FileOutcome("room.protocol", kind="room", title="A room"),
        FileOutcome(
            "गीला-कमरा.protocol",
            unchecked=(
                Unchecked("not-readable", {"file": "गीला-कमरा.protocol", "why": "it is not text"}),
            ),
        ),
    ),
    {FILE: TEXT, ROOM: ("", "", "people and more")},
)

ALL = {
    "clean": CLEAN,
    "faulty": FAULTY,
    "partly": PARTLY,
    "in circles": IN_CIRCLES,
    "several": SEVERAL,
    "everywhere": one(EVERYWHERE),
}
