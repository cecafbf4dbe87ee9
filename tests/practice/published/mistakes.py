"""Published mistakes, each as a small change to a good protocol, and exactly what is told of it.

What is expected is everything that is new against the good protocol: kinds of findings of the check
and titles of rules of the shipped files. A mistake that is not told stays here, with the reason.
What no protocol can say stands in :data:`OUTSIDE`.
"""

from __future__ import annotations

from enum import Enum
from typing import NamedTuple

from tests.practice.published.bases import (
    EQUIPMENT,
    FILM,
    ON_AND_OFF,
    OVERGLOVES,
    PLATES,
    ROOM_2,
    SENSOR,
    TORN,
    Changes,
    taken_off,
)
from tests.practice.published.told import Told

CDC = "CDC, Guidelines for Infection Control in Dental Health-Care Settings, 2003"
CDC_ANSWERS = "CDC, answers on dental radiology (second-hand)"
CDC_OFF = "CDC, sequence for removing personal protective equipment"
UNIVERSITY = "A university exposure-control protocol"
NAVY = "US Navy dental technician manual"


class Weight(Enum):
    """How grave the source takes it to be."""

    ERROR = "error"
    CONSIDER = "to be considered"


class How(Enum):
    """How a mistake is told. It counts as told only with the weight that its source gives it."""

    TOLD = "told"
    TOO_MILD = "told too mildly"
    TOO_HARD = "told too hard"
    NOT = "not told"


class Mistake(NamedTuple):
    """``base``: the good protocol. ``check`` and ``rules``: everything new that is told, and
    nothing else; ``aside``: what of it tells only how the change had to be written. ``how``: what
    comes of that, and ``why`` it is not told, or not with its weight. ``given``: what the files say
    that other files may not, and without which it would not be told."""

    title: str
    source: str
    base: str
    changes: Changes
    check: frozenset[str] = frozenset()
    rules: frozenset[str] = frozenset()
    weight: Weight = Weight.ERROR
    aside: frozenset[str] = frozenset()
    how: How = How.TOLD
    why: str = ""
    given: str = ""

    def judged(self, told: Told) -> How:
        """How it is told by everything new that is told of the changed protocol."""
        if told.to_correct - self.aside:
            return How.TOLD if self.weight is Weight.ERROR else How.TOO_HARD
        if told.to_consider - self.aside:
            return How.TOLD if self.weight is Weight.CONSIDER else How.TOO_MILD
        return How.NOT


def _of(base: str, *changes: tuple[str, str]) -> Changes:
    return tuple((base, old, new) for old, new in changes)


def _out(base: str, *lines: str) -> Changes:
    return tuple((base, line, "") for line in lines)


def _still(base: str, *lines: str) -> Changes:
    """Steps that are not done; something has to stand in a block."""
    return tuple((base, line, "    [ ] operator keeps hands still\n") for line in lines)


_GLOVES_ON = """  in one go
    [ ] operator cleans hands
    [ ] operator puts on gloves
"""
_GLOVES_OFF = """  in one go
    [ ] operator takes off gloves
    [ ] operator cleans hands
"""
_PLACE = 'phase "Place and expose"\n'
_TAKE_OUT = "  [ ] take out: operator takes holder with sensor out of mouth\n"
_ALONE_OFF = """    in one go
      [ ] operator takes off gloves
      [ ] operator cleans hands
    [ ] operator aims tube
"""
_BACK_ON = """    [ ] operator comes back from the barrier
    in one go
      [ ] operator cleans hands
      [ ] operator puts on gloves
"""
#: Alone, and the same gloves on at the machine and in the mouth.
GLOVES_KEPT_ON = _of(
    SENSOR,
    (_ALONE_OFF, "    [ ] operator aims tube\n"),
    (_BACK_ON, "    [ ] operator comes back from the barrier\n"),
)
_CLEAN_SENSOR = "  [ ] operator cleans sensor with a new wipe\n"
_DISINFECT_SENSOR = "  [ ] operator disinfects sensor with a new wipe\n"
_SENSOR_DRY = "  [ ] operator waits until sensor is dry\n"
_BY_THE_OUTSIDE = "  [ ] operator pulls overgloves on by the outside\n"
_CUP_AWAY = "  [ ] operator throws cup into lined bin\n"
_DARK = 'phase "In the dark"\n'
_FALL = (
    "  [ ] operator lets film 1 fall out of packet onto darkroom counter in darkroom\n"
    '      short "Film 1 falls on the towel"\n'
)

#: Film fed with the used gloves, held at its edges: where sources disagree.
BY_THE_EDGES = _of(
    FILM,
    (_CUP_AWAY + _GLOVES_OFF, _CUP_AWAY),
    *(
        (
            f"{spaces}[ ] operator feeds film {one} into processor in darkroom\n"
            f'{spaces}    short "Bare hands: feed film {one}"\n',
            f"{spaces}[ ] operator feeds film {one} by its edges into processor in darkroom\n",
        )
        for spaces, one in (("  ", 1), ("    ", 2))
    ),
    ('\nphase "Turn over the darkroom"\n', _GLOVES_OFF + '\nphase "Turn over the darkroom"\n'),
)

MISTAKES = (
    # --- Before the image ---
    Mistake(
        "Gloved before the record is written",
        "A dental college protocol: gloves on only when imaging starts",
        SENSOR,
        _of(
            SENSOR,
            (
                "  [ ] operator cleans hands\n  [ ] operator opens the record at keyboard\n",
                _GLOVES_ON + "  [ ] operator opens the record at keyboard\n",
            ),
            (_PLACE + _GLOVES_ON, _PLACE),
        ),
        rules=frozenset({"Records are opened with bare hands"}),
    ),
    Mistake(
        "Gloved, and the patient fetched through the door",
        UNIVERSITY + ": no gloves to collect a patient",
        SENSOR,
        _of(
            SENSOR,
            (
                "choices, each visit\n",
                "surfaces\n  door handle: surface; everyday\n\nchoices, each visit\n",
            ),
            (
                "  [ ] patient comes in\n",
                _GLOVES_ON
                + "  [ ] operator opens the door by door handle\n  [ ] patient comes in\n",
            ),
            (_PLACE + _GLOVES_ON, _PLACE),
        ),
        check=frozenset({"world-to-patient"}),
    ),
    Mistake(
        "A box of sleeves opened with used gloves",
        UNIVERSITY + ": what is needed is laid out first",
        SENSOR,
        _of(SENSOR, (_TAKE_OUT, _TAKE_OUT + "  [ ] operator lays out sleeve\n")),
        check=frozenset(
            {"clean-thing-reached", "hands-at-end", "path-to-patient", "path-to-staff"}
        ),
    ),
    Mistake(
        "The box of films opened with used gloves",
        UNIVERSITY + ": what is needed is laid out first",
        FILM,
        _of(
            FILM,
            (
                "  where images is two\n    [ ] operator takes film 2 in a new packet\n"
                '        short "Film 2 out of the box"\n'
                "    [ ] operator lays film 2 on clean half\n",
                "",
            ),
            (
                "    [ ] operator lifts film 2 from clean half\n",
                "    [ ] operator takes film 2 in a new packet\n",
            ),
        ),
        check=frozenset({"clean-thing-reached", "path-to-patient", "path-to-staff"}),
    ),
    # --- At the machine and the record ---
    Mistake(
        "The keyboard touched with used gloves",
        "Keyboards of a dental college: 80 % with pathogens; Malta 2016",
        SENSOR,
        _of(SENSOR, (_TAKE_OUT, _TAKE_OUT + "  [ ] operator works at keyboard\n")),
        check=frozenset({"clean-thing-reached", "path-to-patient", "path-to-staff"}),
        rules=frozenset({"From a used receptor to the keyboard", "No used glove at the keyboard"}),
    ),
    Mistake(
        "The mouse touched with used gloves",
        "Malta 2016: germs on keyboard and mouse",
        SENSOR,
        _of(
            SENSOR,
            ("choices, each visit\n", "surfaces\n  mouse: surface\n\nchoices, each visit\n"),
            (_TAKE_OUT, _TAKE_OUT + "  [ ] operator works at mouse\n"),
            (
                "  [ ] operator opens the record at keyboard\n",
                "  [ ] operator opens the record at keyboard\n  [ ] operator works at mouse\n",
            ),
        ),
        check=frozenset({"clean-thing-reached", "path-to-patient", "path-to-staff"}),
        rules=frozenset({"From a used receptor to the keyboard"}),
    ),
    Mistake(
        "The exposure button pressed with used gloves, bare",
        "Katz 1989: the button skipped by 27 %",
        SENSOR,
        (
            *GLOVES_KEPT_ON,
            *_still(
                SENSOR,
                "    [ ] operator takes film cover off control panel and exposure button\n",
                "    [ ] operator covers control panel and exposure button with film cover\n",
            ),
            (
                ROOM_2,
                "surface; takes cover film cover; starts covered with film cover",
                "surface; takes cover film cover",
            ),
        ),
        check=frozenset({"path-to-patient", "path-to-staff"}),
        rules=frozenset({"No used glove on the bare machine"}),
    ),
    Mistake(
        "Tube head, cone and arm neither covered nor cleaned",
        CDC_ANSWERS,
        SENSOR,
        (
            *GLOVES_KEPT_ON,
            *_still(
                SENSOR,
                "    [ ] operator takes wrap off tube\n",
                "    [ ] operator covers tube with wrap\n",
            ),
            (
                ROOM_2,
                "surface; made of painted metal; takes cover wrap; starts covered with wrap",
                "surface; made of painted metal; takes cover wrap",
            ),
        ),
        check=frozenset(
            {"clean-thing-reached", "hands-at-end", "path-to-patient", "path-to-staff"}
        ),
        rules=frozenset(
            {
                "No used glove on the bare machine",
                "Tube head, cone and arm get a new cover, or are disinfected",
            }
        ),
    ),
    Mistake(
        "A cover left for the next patient",
        CDC + " (as quoted, second-hand)",
        SENSOR,
        _still(
            SENSOR,
            "    [ ] operator takes bag off head rest\n",
            "    [ ] operator covers head rest with bag\n",
        ),
        check=frozenset({"cover-not-changed", "path-to-patient"}),
        rules=frozenset(
            {
                "Noncritical surfaces: low level at least, or a cover",
                "What the patient touched gets a new cover, or is disinfected",
            }
        ),
    ),
    # --- The sensor ---
    Mistake(
        "A sleeve on the sensor, and nothing else",
        "Hokett 2000: 44 to 51 % of the sheaths leaked; " + CDC_ANSWERS,
        SENSOR,
        _out(SENSOR, _CLEAN_SENSOR, _DISINFECT_SENSOR, _SENSOR_DRY),
        check=frozenset({"claim-not-clean", "clean-thing-reached", "path-to-patient"}),
        rules=frozenset(
            {
                "A receptor is disinfected for the next patient, covered or not",
                "Always covered in the mouth: intermediate level at least",
            }
        ),
    ),
    Mistake(
        "A torn sleeve noticed, and the sensor used again",
        CDC + " (as quoted, second-hand)",
        TORN,
        _of(
            SENSOR,
            ("    [ ] operator sets sensor aside and takes the spare one\n", ""),
        ),
        check=frozenset({"claim-can-fail"}),
    ),
    Mistake(
        "Disinfected without being cleaned",
        CDC + " (as quoted, second-hand)",
        SENSOR,
        _out(SENSOR, _CLEAN_SENSOR),
        check=frozenset({"claim-not-clean", "clean-thing-reached", "path-to-patient"}),
        rules=frozenset({"Cleaning comes before disinfection"}),
    ),
    Mistake(
        "A holder only wiped between patients",
        CDC + " (as quoted, second-hand); CDC 2008, dental section (second-hand)",
        SENSOR,
        (
            (
                ROOM_2,
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
            (
                SENSOR,
                "  [ ] operator waits until sensor is dry\n",
                "  [ ] operator waits until holder is dry\n"
                "  [ ] operator waits until sensor is dry\n",
            ),
        ),
        check=frozenset({"path-to-patient"}),
        rules=frozenset(
            {"Holders are sterilised, or used once", "Semicritical, stands heat: sterilised"}
        ),
    ),
    Mistake(
        "Plates treated once a week",
        "A study of 2010: 28 of 50 plates grew bacteria in spite of weekly gas sterilisation",
        PLATES,
        _of(
            PLATES,
            (
                "    in order\n      [ ] operator cleans plate 1 with a new wipe\n"
                "      [ ] operator disinfects plate 1 with a new wipe\n",
                "    every week\n      [ ] operator cleans plate 1 with a new wipe\n"
                "      [ ] operator disinfects plate 1 with a new wipe\n",
            ),
        ),
        check=frozenset(
            {
                "claim-not-clean",
                "clean-thing-reached",
                "hands-at-end",
                "path-to-patient",
                "world-to-patient",
            }
        ),
        rules=frozenset(
            {
                "A receptor is disinfected for the next patient, covered or not",
                "Always covered in the mouth: intermediate level at least",
            }
        ),
    ),
    # --- Packets and film ---
    Mistake(
        "A packet carried without being dried",
        CDC + " (as quoted, second-hand)",
        FILM,
        _out(FILM, "  [ ] operator dries film 1 with a new gauze\n"),
        rules=frozenset({"Packets are dried before they travel"}),
        weight=Weight.CONSIDER,
    ),
    Mistake(
        "A used packet in the bare hand",
        CDC + " (as quoted, second-hand)",
        FILM,
        _of(
            FILM,
            (
                "  [ ] into the cup: operator drops film 1 into cup\n",
                "  [ ] operator takes off gloves\n  [ ] operator cleans hands\n"
                "  [ ] into the cup: operator drops film 1 into cup\n"
                "  [ ] operator cleans hands\n  [ ] operator puts on gloves\n",
            ),
        ),
        check=frozenset({"claim-not-clean", "clean-thing-reached", "path-to-patient"}),
        rules=frozenset({"Gloves for used packets and envelopes"}),
    ),
    Mistake(
        "A used packet in the pocket",
        CDC + " (as quoted, second-hand)",
        FILM,
        _of(
            FILM,
            (
                "choices, each visit\n",
                "verb STAFF puts RECEPTOR into the pocket\n"
                "  meet STAFF's hands, RECEPTOR, STAFF's front\n\n"
                "verb STAFF takes RECEPTOR out of the pocket\n"
                "  meet STAFF's hands, RECEPTOR, STAFF's front\n\nchoices, each visit\n",
            ),
            (
                "  [ ] into the cup: operator drops film 1 into cup\n",
                "  [ ] operator puts film 1 into the pocket\n"
                "  [ ] operator takes film 1 out of the pocket\n"
                "  [ ] into the cup: operator drops film 1 into cup\n",
            ),
        ),
        check=frozenset({"path-to-patient"}),
    ),
    Mistake(
        "The film touched with the used glove as it comes out",
        "A letter of 1996: film touched as it comes out of its packet",
        FILM,
        _of(
            FILM,
            (
                _FALL,
                "  [ ] operator pulls film 1 out of packet onto darkroom counter\n",
            ),
            (
                "  [ ] operator feeds film 1 into processor in darkroom\n"
                '      short "Bare hands: feed film 1"\n',
                "  [ ] operator feeds film 1 into processor\n",
            ),
        ),
        check=frozenset({"claim-not-clean", "clean-thing-reached", "path-to-patient"}),
        rules=frozenset({"What comes out of a packet is not touched on the way"}),
    ),
    Mistake(
        "The film that fell picked up with the used glove",
        "A letter of 1996: film touched as it comes out of its packet",
        FILM,
        _of(
            FILM,
            (
                _FALL,
                _FALL + "  [ ] operator lifts film 1 from darkroom counter\n"
                "  [ ] operator lays film 1 on darkroom counter\n",
            ),
        ),
        check=frozenset({"clean-thing-reached", "path-to-patient"}),
        rules=frozenset({"Receptors lie on the clean half or on the used half"}),
        aside=frozenset({"Receptors lie on the clean half or on the used half"}),
    ),
    Mistake(
        "Clean film fed with the used gloves",
        NAVY + ": gloves off before film is fed",
        FILM,
        _of(
            FILM,
            (_CUP_AWAY + _GLOVES_OFF, _CUP_AWAY),
            (
                '\nphase "Turn over the darkroom"\n',
                _GLOVES_OFF + '\nphase "Turn over the darkroom"\n',
            ),
        ),
        check=frozenset({"claim-can-fail", "clean-thing-reached"}),
        rules=frozenset({"Clean film is fed with bare hands"}),
    ),
    Mistake(
        "Clean film fed with the used gloves, by its edges",
        NAVY + ": gloves off before film is fed; against it: " + UNIVERSITY,
        FILM,
        BY_THE_EDGES,
        check=frozenset({"clean-thing-reached"}),
        rules=frozenset({"Clean film is fed with bare hands"}),
    ),
    Mistake(
        "A used packet opened with bare hands",
        CDC + " (as quoted, second-hand)",
        FILM,
        _of(FILM, (_DARK, _DARK + _GLOVES_OFF), (_CUP_AWAY + _GLOVES_OFF, _CUP_AWAY)),
        check=frozenset({"claim-not-clean", "clean-thing-reached", "path-to-patient"}),
        rules=frozenset({"Gloves for used packets and envelopes"}),
    ),
    # --- Hands, gloves, overgloves ---
    Mistake(
        "Hands not cleaned between two pairs of gloves",
        "CDC 2002, hand hygiene; holes in 9 to 41 % of gloves",
        SENSOR,
        _of(
            SENSOR,
            (_ALONE_OFF, _ALONE_OFF.replace("      [ ] operator cleans hands\n", "")),
        ),
        check=frozenset({"duty-can-fail"}),
        rules=frozenset({"After gloves come off"}),
    ),
    Mistake(
        "Overgloves used again for the next patient",
        "An inference from a university exposure-control protocol",
        FILM,
        _of(
            FILM,
            (
                "overgloves: overgloves; has outside, inside; worn on hands over gloves; used "
                "once; laid out on clean half, from overglove roll; goes to lined bin",
                "overgloves: overgloves; has outside, inside; worn on hands over gloves; laid out "
                "on clean half, from overglove roll; goes to lined bin",
            ),
        ),
        rules=frozenset({"Overgloves are used once"}),
    ),
    Mistake(
        "The outside of the overgloves touched with the used glove, then a clean keyboard",
        "An inference from a university exposure-control protocol",
        OVERGLOVES,
        _of(
            SENSOR,
            ("  [ ] operator puts on overgloves\n", _BY_THE_OUTSIDE),
        ),
        check=frozenset({"clean-thing-reached", "path-to-patient", "path-to-staff"}),
        rules=frozenset({"Overgloves go on by the inside"}),
    ),
    Mistake(
        "The outside of the overgloves touched with the used glove, on the way to the darkroom",
        "An inference from a university exposure-control protocol",
        FILM,
        _of(
            FILM,
            ("    [ ] operator puts on overgloves\n", "  " + _BY_THE_OUTSIDE),
        ),
        # What they touch on the way is disinfected afterwards in this room: no path to anybody.
        rules=frozenset({"Overgloves go on by the inside"}),
    ),
    # --- Mask and eyewear ---
    Mistake(
        "The mask put straight with used gloves",
        "Mask transfer 2020: all of 50 masks contaminated",
        EQUIPMENT,
        _of(
            EQUIPMENT,
            ('phase "Take off"\n', 'phase "Take off"\n  [ ] operator adjusts mask\n'),
        ),
        check=frozenset({"claim-not-clean"}),
        rules=frozenset({"The front of mask and eyewear is not touched"}),
    ),
    Mistake(
        "The eyewear put straight with used gloves",
        "Mask transfer 2020: what is worn on the face soils the glove, and the glove the face",
        EQUIPMENT,
        _of(
            EQUIPMENT,
            ('phase "Take off"\n', 'phase "Take off"\n  [ ] operator adjusts eyewear\n'),
        ),
        check=frozenset({"claim-not-clean"}),
        rules=frozenset({"The front of mask and eyewear is not touched"}),
    ),
    Mistake(
        "The mask off before the gloves",
        CDC_OFF,
        ON_AND_OFF,
        taken_off("MASK GLOVES EYE GOWN HH"),
        check=frozenset({"clean-thing-reached", "path-to-staff"}),
        rules=frozenset(
            {
                "Gloves come off first",
                "The mask comes off after eyewear",
                "The mask comes off after the gown",
            }
        ),
    ),
    Mistake(
        "The eyewear off before the gloves",
        CDC_OFF,
        ON_AND_OFF,
        taken_off("EYE GLOVES GOWN MASK HH"),
        check=frozenset({"clean-thing-reached", "path-to-staff"}),
        rules=frozenset({"Gloves come off first"}),
    ),
    Mistake(
        "The front of the mask touched on the way off",
        CDC_OFF,
        ON_AND_OFF,
        taken_off("GLOVES EYE GOWN MASK-FRONT MASK HH"),
        check=frozenset(
            {"claim-not-clean", "clean-thing-reached", "duty-can-fail", "path-to-staff"}
        ),
        rules=frozenset({"The front of mask and eyewear is not touched"}),
    ),
    Mistake(
        "Hands not cleaned after the last of it",
        CDC_OFF,
        ON_AND_OFF,
        taken_off("GLOVES EYE GOWN MASK"),
        check=frozenset({"hands-at-end"}),
        rules=frozenset(
            {"After gloves for the last time", "Hands are cleaned after the last of it"}
        ),
    ),
    Mistake(
        "Hands cleaned before the mask, and not after it",
        CDC_OFF,
        ON_AND_OFF,
        taken_off("GLOVES EYE GOWN HH MASK"),
        check=frozenset({"hands-at-end"}),
        rules=frozenset({"Hands are cleaned after the last of it"}),
    ),
    Mistake(
        "Gloves never taken off",
        CDC_OFF,
        ON_AND_OFF,
        taken_off("EYE GOWN MASK HH"),
        check=frozenset(
            {"claim-can-fail", "gloves-off-the-dirty-side", "not-ready", "path-to-staff"}
        ),
        rules=frozenset(
            {
                "Gloves are for one patient",
                "Gloves come off first",
                "Nobody leaves the room in gloves",
            }
        ),
    ),
    Mistake(
        "Out of the room with gloves on",
        CDC + ", equipment off before the work area is left (from memory); CDC 2020 (inferred)",
        ON_AND_OFF,
        taken_off("LEAVES GLOVES EYE GOWN MASK HH"),
        check=frozenset({"gloves-off-the-dirty-side"}),
        rules=frozenset({"Nobody leaves the room in gloves"}),
    ),
    Mistake(
        "Into the corridor with gloves on",
        CDC + ", equipment off before the work area is left (from memory); CDC 2020 (inferred)",
        ON_AND_OFF,
        taken_off("OUT GLOVES EYE GOWN MASK HH"),
        check=frozenset({"gloves-off-the-dirty-side"}),
        given="the room says which of its places gloves do not leave (a dirty side)",
    ),
    # --- Everybody alike ---
    Mistake(
        "A way of its own for a known infection",
        "CDC 2008: a known infection does not change how items are processed",
        SENSOR,
        _of(
            SENSOR,
            (
                "choices, fixed for the clinic\n",
                "choices, each visit\n  known infection: no, yes\n\n"
                "choices, fixed for the clinic\n",
            ),
            (
                "    in order\n      [ ] operator cleans chair arms with a new wipe\n"
                "      [ ] operator disinfects chair arms with a new wipe\n",
                "    where known infection is yes\n"
                "      [ ] operator cleans chair arms with a new wipe\n"
                "      [ ] operator disinfects chair arms with a new wipe\n",
            ),
        ),
        check=frozenset({"path-to-patient"}),
        rules=frozenset(
            {
                "A known infection changes no treatment",
                "Noncritical surfaces: low level at least, or a cover",
                "What the patient touched gets a new cover, or is disinfected",
            }
        ),
    ),
)

#: What no protocol can say, with the reason.
OUTSIDE = {
    "A button or switch sprayed instead of wiped": (
        "it harms the machine, not a patient: the words have wiping only, and spraying is told as "
        "a sentence that no verb knows"
    ),
}
