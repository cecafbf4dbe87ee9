"""Published mistakes, each as a small change to a protocol of the clinic, and what has to tell it.

A mistake is told by the check, by a rule of a shipped file, or by both. What cannot be written as a
protocol at all stands in :data:`OUTSIDE`, with the reason.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import NamedTuple

from protocol_lang.findings import Weight
from protocol_lang.language.load import load
from protocol_lang.model.rules import RuleBook
from protocol_lang.resources import folder
from protocol_lang.rules import Subject, Verdict, judge_rules
from tests.practice.kit import among

SENSOR = "intraoral-wired-sensor"
SERIES = "intraoral-series-wired-sensor"
FILM = "intraoral-film"
PLATES = "intraoral-phosphor-plates"
EQUIPMENT = "protective-equipment"
ROOM_FILE = "imaging-room-2"

CDC = "CDC, Guidelines for Infection Control in Dental Health-Care Settings, 2003"


class Mistake(NamedTuple):
    """``file``: the protocol; ``changes``: (file, old text, new text), each there once. ``check``:
    kinds of findings of which the check has at least one; ``rules``: titles of rules of which at
    least one is not kept (besides those of the protocol as it is). ``error``: to be corrected, else
    to be considered."""

    title: str
    source: str
    file: str
    changes: tuple[tuple[str, str, str], ...]
    check: frozenset[str] = frozenset()
    rules: frozenset[str] = frozenset()
    error: bool = True


def _out(file: str, *lines: str) -> tuple[tuple[str, str, str], ...]:
    return tuple((file, line, "") for line in lines)


_GLOVES_ON = """  in one go
    [ ] operator cleans hands
    [ ] operator puts on gloves
"""
_TAKE_OUT = "  [ ] take out: operator takes holder with sensor out of mouth\n"
_ALONE_OFF = """    in one go
      [ ] operator takes off gloves
      [ ] operator cleans hands
    [ ] operator aims tube
"""
_CLEAN_SENSOR = "  [ ] operator cleans sensor with a new wipe\n"
_DISINFECT_SENSOR = "  [ ] operator disinfects sensor with a new wipe\n"
_SENSOR_DRY = "  [ ] operator waits until sensor is dry\n"
_MOUTHS = frozenset({"path-to-patient", "not-ordered"})

MISTAKES = (
    Mistake(
        "Gloved before the record is written",
        "A dental college protocol: gloves on only when imaging starts",
        SENSOR,
        (
            (
                SENSOR,
                "  [ ] operator cleans hands\n  [ ] operator opens the record at keyboard\n",
                _GLOVES_ON + "  [ ] operator opens the record at keyboard\n",
            ),
            (SENSOR, 'phase "Place and expose"\n' + _GLOVES_ON, 'phase "Place and expose"\n'),
        ),
        rules=frozenset({"Records are opened with bare hands"}),
    ),
    Mistake(
        "The keyboard touched with used gloves",
        "Keyboards of a dental college: 80 % with pathogens; Malta 2016",
        SENSOR,
        ((SENSOR, _TAKE_OUT, _TAKE_OUT + "  [ ] operator works at keyboard\n"),),
        check=frozenset({"clean-thing-reached"}),
        rules=frozenset({"No used glove at the keyboard"}),
    ),
    Mistake(
        "A box of supplies opened with used gloves",
        "A university exposure-control protocol: what is needed is laid out first",
        SENSOR,
        ((SENSOR, _TAKE_OUT, _TAKE_OUT + "  [ ] operator lays out sleeve\n"),),
        check=frozenset({"clean-thing-reached"}),
    ),
    Mistake(
        "The exposure button pressed with used gloves, bare",
        "Katz 1989: the button skipped by 27 %",
        SENSOR,
        (
            (SENSOR, _ALONE_OFF, "    [ ] operator aims tube\n"),
            (
                SENSOR,
                "    [ ] operator comes back from the barrier\n    in one go\n"
                "      [ ] operator cleans hands\n      [ ] operator puts on gloves\n",
                "    [ ] operator comes back from the barrier\n",
            ),
            (
                SENSOR,
                "    [ ] operator takes film cover off control panel and exposure button\n",
                "    [ ] operator keeps hands still\n",
            ),
            (
                SENSOR,
                "    [ ] operator covers control panel and exposure button with film cover\n",
                "    [ ] operator keeps hands still\n",
            ),
            (
                ROOM_FILE,
                "surface; takes cover film cover; starts covered with film cover",
                "surface; takes cover film cover",
            ),
        ),
        check=_MOUTHS | {"hands-at-end"},
    ),
    Mistake(
        "Tube head, cone and arm neither covered nor cleaned",
        "CDC answers on dental radiology (second-hand)",
        SENSOR,
        (
            (SENSOR, _ALONE_OFF, "    [ ] operator aims tube\n"),
            (
                SENSOR,
                "    [ ] operator comes back from the barrier\n    in one go\n"
                "      [ ] operator cleans hands\n      [ ] operator puts on gloves\n",
                "    [ ] operator comes back from the barrier\n",
            ),
            (
                SENSOR,
                "    [ ] operator takes wrap off tube\n",
                "    [ ] operator keeps hands still\n",
            ),
            (
                SENSOR,
                "    [ ] operator covers tube with wrap\n",
                "    [ ] operator keeps hands still\n",
            ),
            (
                ROOM_FILE,
                "surface; takes cover wrap; starts covered with wrap",
                "surface; takes cover wrap",
            ),
        ),
        check=_MOUTHS,
        rules=frozenset(
            {
                "Tube head, cone and arm get a new cover, or are disinfected",
                "Noncritical surfaces: low level at least, or a cover",
            }
        ),
    ),
    Mistake(
        "A cover left for the next patient",
        CDC,
        SENSOR,
        (
            (
                SENSOR,
                "    [ ] operator takes bag off head rest\n",
                "    [ ] operator keeps hands still\n",
            ),
            (
                SENSOR,
                "    [ ] operator covers head rest with bag\n",
                "    [ ] operator keeps hands still\n",
            ),
        ),
        check=frozenset({"cover-not-changed"}),
    ),
    Mistake(
        "A sleeve on the sensor, and nothing else",
        "Hokett 2000: 44 to 51 % of the sheaths leaked; CDC answers (second-hand)",
        SENSOR,
        _out(SENSOR, _CLEAN_SENSOR, _DISINFECT_SENSOR, _SENSOR_DRY),
        check=_MOUTHS,
        rules=frozenset({"A receptor is disinfected for the next patient, covered or not"}),
    ),
    Mistake(
        "A torn sleeve noticed, and the sensor used again",
        CDC,
        SERIES,
        _out(SERIES, "    [ ] operator sets sensor aside and takes the spare one\n"),
        check=frozenset({"claim-can-fail", "not-ready"}) | _MOUTHS,
    ),
    Mistake(
        "A packet carried without being dried",
        CDC + " (as quoted, second-hand)",
        FILM,
        _out(FILM, "  [ ] operator dries film 1 with a new gauze\n"),
        rules=frozenset({"Packets are dried before they travel"}),
        error=False,
    ),
    Mistake(
        "A used packet in the bare hand",
        CDC + " (as quoted, second-hand)",
        FILM,
        (
            (
                FILM,
                "  [ ] operator takes film 1 out of cup\n",
                "  [ ] operator takes off gloves\n  [ ] operator cleans hands\n"
                "  [ ] operator takes film 1 out of cup\n"
                "  [ ] operator drops film 1 into cup\n"
                "  [ ] operator cleans hands\n  [ ] operator puts on gloves\n"
                "  [ ] operator takes film 1 out of cup\n",
            ),
        ),
        rules=frozenset({"Gloves for used packets and envelopes"}),
    ),
    Mistake(
        "The film touched with the used glove",
        "A letter of 1996: film touched as it comes out of its packet",
        FILM,
        (
            (
                FILM,
                "  [ ] operator lets film 1 fall out of packet onto darkroom counter in darkroom\n"
                '      short "Film 1 falls on the towel"\n',
                "  [ ] operator lets film 1 fall out of packet onto darkroom counter in darkroom\n"
                "  [ ] operator lifts film 1 from darkroom counter\n"
                "  [ ] operator lays film 1 on darkroom counter\n",
            ),
        ),
        check=frozenset({"clean-thing-reached"}),
    ),
    Mistake(
        "Clean film fed with the used gloves",
        "US Navy dental technician manual: gloves off before film is fed",
        FILM,
        (
            (
                FILM,
                "  [ ] operator throws cup into lined bin\n  in one go\n"
                "    [ ] operator takes off gloves\n    [ ] operator cleans hands\n",
                "  [ ] operator throws cup into lined bin\n",
            ),
            (
                FILM,
                "      [ ] operator feeds film 2 into processor in darkroom\n"
                '          short "Bare hands: feed film 2"\n',
                "      [ ] operator feeds film 2 into processor in darkroom\n"
                "    [ ] operator takes off gloves\n    [ ] operator cleans hands\n",
            ),
            (
                FILM,
                "  otherwise\n    [ ] operator puts on spare gloves\n",
                "  otherwise\n    [ ] operator takes off gloves\n"
                "    [ ] operator cleans hands\n    [ ] operator puts on spare gloves\n",
            ),
        ),
        check=frozenset({"claim-can-fail", "clean-thing-reached"}),
        rules=frozenset({"Clean film is fed with bare hands"}),
    ),
    Mistake(
        "A used packet opened with bare hands",
        CDC + " (as quoted, second-hand)",
        FILM,
        (
            (
                FILM,
                'phase "In the dark"\n',
                'phase "In the dark"\n  [ ] operator takes off gloves\n'
                "  [ ] operator cleans hands\n",
            ),
            (
                FILM,
                "  [ ] operator throws cup into lined bin\n  in one go\n"
                "    [ ] operator takes off gloves\n    [ ] operator cleans hands\n",
                "  [ ] operator throws cup into lined bin\n",
            ),
        ),
        check=frozenset({"path-to-patient"}),
        rules=frozenset({"Gloves for used packets and envelopes"}),
    ),
    Mistake(
        "Hands not cleaned between two pairs of gloves",
        "CDC 2002, hand hygiene; holes in 9 to 41 % of gloves",
        SENSOR,
        ((SENSOR, _ALONE_OFF, _ALONE_OFF.replace("      [ ] operator cleans hands\n", "")),),
        check=frozenset({"duty-can-fail"}),
        rules=frozenset({"After gloves come off"}),
    ),
    Mistake(
        "A holder only wiped between patients",
        CDC + "; CDC 2008, dental section (second-hand)",
        SENSOR,
        (
            (
                ROOM_FILE,
                "holder: holder; goes in the mouth; heat safe; used once; from sterile store; "
                "goes to holder box",
                "holder: holder; goes in the mouth; heat safe",
            ),
            (
                SENSOR,
                "  [ ] operator drops holder into holder box\n",
                "  [ ] operator keeps hands still\n",
            ),
            (
                SENSOR,
                _CLEAN_SENSOR,
                "  [ ] operator cleans holder with a new wipe\n"
                "  [ ] operator disinfects holder with a new wipe\n" + _CLEAN_SENSOR,
            ),
        ),
        check=_MOUTHS,
        rules=frozenset(
            {"Holders are sterilised, or used once", "Semicritical, stands heat: sterilised"}
        ),
    ),
    Mistake(
        "Disinfected without being cleaned",
        CDC,
        SENSOR,
        _out(SENSOR, _CLEAN_SENSOR),
        check=_MOUTHS,
        rules=frozenset({"Cleaning comes before disinfection"}),
    ),
    Mistake(
        "The mask put straight with used gloves",
        "Mask transfer 2020: all of 50 masks contaminated",
        SERIES,
        (
            (
                SERIES,
                "    [ ] look: operator looks at the image\n",
                "    [ ] operator adjusts mask\n    [ ] look: operator looks at the image\n",
            ),
        ),
        rules=frozenset({"The front of mask and eyewear is not touched"}),
    ),
    Mistake(
        "The mask off before the gloves",
        "CDC, sequence for removing personal protective equipment",
        EQUIPMENT,
        (
            (
                EQUIPMENT,
                "  where taking off is one by one\n    [ ] operator takes off gloves\n",
                "  where taking off is one by one\n    [ ] operator takes off mask by the ties\n"
                "    [ ] operator takes off gloves\n",
            ),
            (
                EQUIPMENT,
                "    [ ] operator cleans hands\n    [ ] operator takes off eyewear by the strap\n"
                '        short "Eyewear off by the strap"\n'
                "  [ ] operator takes off mask by the ties\n"
                '      short "Mask off by the ties"\n',
                "    [ ] operator cleans hands\n    [ ] operator takes off eyewear by the strap\n"
                "    [ ] operator takes off mask by the ties\n",
            ),
        ),
        check=frozenset({"path-to-staff", "not-ordered"}),
        rules=frozenset({"Gloves come off first"}),
    ),
    Mistake(
        "A way of its own for a known infection",
        "CDC 2008: a known infection does not change how items are processed",
        SENSOR,
        (
            (
                SENSOR,
                "choices, fixed for the clinic\n",
                "choices, each visit\n  known infection: no, yes\n\n"
                "choices, fixed for the clinic\n",
            ),
            (
                SENSOR,
                "    in order\n      [ ] operator cleans chair arms with a new wipe\n"
                "      [ ] operator disinfects chair arms with a new wipe\n",
                "    where known infection is yes\n"
                "      [ ] operator cleans chair arms with a new wipe\n"
                "      [ ] operator disinfects chair arms with a new wipe\n",
            ),
        ),
        check=_MOUTHS,
        rules=frozenset({"A known infection changes no treatment"}),
    ),
    Mistake(
        "Plates treated once a week",
        "A study of 2010: 28 of 50 plates grew bacteria in spite of weekly gas sterilisation",
        PLATES,
        (
            (
                PLATES,
                "    in order\n      [ ] operator cleans plate 1 with a new wipe\n"
                "      [ ] operator disinfects plate 1 with a new wipe\n",
                "    every week\n      [ ] operator cleans plate 1 with a new wipe\n"
                "      [ ] operator disinfects plate 1 with a new wipe\n",
            ),
        ),
        check=_MOUTHS,
        rules=frozenset({"A receptor is disinfected for the next patient, covered or not"}),
    ),
    Mistake(
        "Overgloves used again for the next patient",
        "An inference from a university exposure-control protocol",
        FILM,
        (
            (
                FILM,
                "overgloves: overgloves; has outside, inside; worn on hands over gloves; used "
                "once; laid out on clean half, from overglove roll; goes to lined bin",
                "overgloves: overgloves; has outside, inside; worn on hands over gloves; laid out "
                "on clean half, from overglove roll; goes to lined bin",
            ),
        ),
        rules=frozenset({"Overgloves are used once"}),
    ),
)

#: What no protocol can say, with the reason.
OUTSIDE = {
    "A button or switch sprayed instead of wiped": (
        "it harms the machine, not a patient: the words have wiping only, and spraying is told as "
        "a sentence that no verb knows"
    ),
}


@cache
def books() -> tuple[RuleBook, ...]:
    """All shipped files of rules."""
    found = []
    for path in sorted((folder("protocols") / "rules").glob("*.protocol")):
        loaded = load(path)
        assert loaded.rules is not None and loaded.complete
        found.append(loaded.rules)
    return tuple(found)


class Seen(NamedTuple):
    """What is found: kinds of findings of the check to be corrected, and rules not kept, each with
    whether it is to be corrected."""

    check: frozenset[str]
    rules: dict[str, bool]


def seen(where: Path, mistake: Mistake) -> Seen:
    """The changed protocol, checked and judged by all shipped rules."""
    one = among(where, mistake.file, mistake.changes)
    subject = Subject(one.protocol, one.unfolded, one.judgement)
    rules = {
        verdict.rule.title: any(f.weight is Weight.CORRECT for f in verdict.findings)
        for verdict in judge_rules(books(), subject)
        if verdict.verdict is Verdict.FAILED
    }
    kinds = {f.kind for f in one.outcome.findings if f.weight is Weight.CORRECT}
    return Seen(frozenset(kinds), rules)
