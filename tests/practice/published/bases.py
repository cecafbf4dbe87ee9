"""Good protocols to which published mistakes and published good orders are small changes.

A base is a few files, by name; changes are (file, old text, new text), each old text there once.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache
from typing import NamedTuple

from tests.planting import planted, times
from tests.practice.kit import ROOM

SENSOR = "intraoral-wired-sensor"
FILM = "intraoral-film"
PLATES = "intraoral-phosphor-plates"
EQUIPMENT = "protective-equipment"
ON_AND_OFF = "on-and-off"
TORN = "intraoral-wired-sensor, a torn sleeve found"
OVERGLOVES = "intraoral-wired-sensor, overgloves for the record"
HOLDERS = "holders-and-bite-blocks"
CLOSING = "closing-the-room"
ROOM_2 = "imaging-room-2"
TURNING_OVER = "turning-over-the-room"
SMALL_ROOM = "a-small-room"

Change = tuple[str, str, str]
Changes = tuple[Change, ...]


class Files(NamedTuple):
    """The texts of the files by their names, and which of them is checked."""

    first: str
    texts: tuple[tuple[str, str], ...]

    def changed(self, changes: Iterable[Change]) -> Files:
        texts = dict(self.texts)
        for name, old, new in changes:
            number = times(texts[name], old)
            assert number == 1, f"{name} says {number} times {old!r}"
            texts[name] = planted(texts[name], old, new)
        return Files(self.first, tuple(texts.items()))


@cache
def base(name: str) -> Files:
    """The good protocol of that name."""
    return _MADE[name]() if name in _MADE else _shipped(name)


def _shipped(first: str) -> Files:
    names = (first, ROOM_2, TURNING_OVER, HOLDERS)  # the last two, where the first goes on to them
    texts = {name: (ROOM / f"{name}.protocol").read_text("utf-8") for name in names}
    return Files(first, tuple(texts.items()))


# --- Film, by machine and without mishaps: they are not the point ---


def _film() -> Files:
    whole = _shipped(FILM)
    text = dict(whole.texts)[FILM]
    by_machine = _between(text, "  where developing is by machine\n", "  otherwise\n")
    return whole.changed(
        (
            (FILM, _between(text, "can happen in", 'phase "Get ready"'), ""),
            (FILM, "  developing: by machine, in tanks\n", ""),
            (
                FILM,
                by_machine
                + _between(
                    text, "  otherwise\n    [ ] operator puts on spare", '\nphase "Turn over the d'
                ),
                "".join(line[2:] + "\n" for line in by_machine.split("\n")[1:-1]),
            ),
            (FILM, "  developer, fixer: bath; chemical; in darkroom\n", ""),
            (FILM, "  rinsing tray: surface; in darkroom\n", ""),
        )
    )


def _between(text: str, start: str, end: str) -> str:
    return text[text.index(start) : text.index(end, text.index(start))]


# --- A sensor whose sleeve is looked at when it comes off ---


def _torn() -> Files:
    return _shipped(SENSOR).changed(
        (
            (
                SENSOR,
                'phase "Get ready"\n',
                'can happen in "Take down"\n'
                "  sleeve found torn, right after bare the sensor\n"
                "    [ ] operator finds sleeve torn on sensor\n"
                "    [ ] operator sets sensor aside and takes the spare one\n\n"
                "facts of a thing\n"
                "  bared in the mouth\n\n"
                "verb STAFF finds COVER torn on RECEPTOR\n"
                "  no contact\n"
                "  sets RECEPTOR bared in the mouth\n\n"
                "verb STAFF sets RECEPTOR aside and takes the spare one\n"
                "  meet STAFF's hands, RECEPTOR\n"
                "  wash RECEPTOR\n"
                "  reduce RECEPTOR to high\n"
                "  meet STAFF's hands, RECEPTOR\n"
                "  ends RECEPTOR bared in the mouth\n\n"
                "leaves\n"
                "  sensor is not bared in the mouth\n\n"
                'phase "Get ready"\n',
            ),
            (
                SENSOR,
                "  [ ] operator lets sensor slide out of sleeve onto used half\n",
                "  [ ] bare the sensor: operator lets sensor slide out of sleeve onto used half\n",
            ),
        )
    )


# --- Overgloves over the used gloves, for the keyboard ---


def _overgloves() -> Files:
    take_out = "  [ ] take out: operator takes holder with sensor out of mouth\n"
    lay_out = "  [ ] operator lays out sleeve and wipe\n"
    return _shipped(SENSOR).changed(
        (
            (
                SENSOR,
                "choices, each visit\n",
                "boxes\n  overglove roll: box; kept clean\n\n"
                "things\n"
                "  overgloves: overgloves; has outside, inside; worn on hands over gloves; used "
                "once; laid out on clean half, from overglove roll; goes to clinical waste\n\n"
                "choices, each visit\n",
            ),
            (SENSOR, lay_out, lay_out.replace("sleeve and wipe", "sleeve, overgloves and wipe")),
            (
                SENSOR,
                take_out + "  [ ] operator lays holder with sensor on used half\n",
                take_out
                + "  [ ] operator lays holder with sensor on used half\n"
                + "  [ ] operator puts on overgloves\n"
                + "  [ ] operator works at keyboard\n"
                + "  [ ] operator takes off overgloves\n",
            ),
        )
    )


# --- Protective equipment alone, in one order after the other ---

_SMALL_ROOM = """room "A small room"
  edition 1
  takes words from "Dental imaging"

people
  operator: staff
  patient: patient

waste streams
  clinical waste

places
  imaging room: dirty side
  corridor

boxes
  glove box, mask box, gown shelf, eyewear box: box; kept clean

things
  gloves: gloves; worn on hands; used once; from glove box; goes to clinical waste
  mask: mask; has front, ties; worn on nose and mouth; used once; from mask box; goes to clinical waste
  eyewear: eyewear; has front, strap; worn on eyes; used once; from eyewear box; goes to clinical waste
  gown: gown; has outside, ties; worn on front; used once; from gown shelf; goes to clinical waste
"""  # noqa: E501

_STEPS_ON = {
    "HH": "operator cleans hands",
    "GOWN": "operator puts on gown",
    "MASK": "operator puts on mask",
    "EYE": "operator puts on eyewear",
    "GLOVES": "operator puts on gloves",
}
_STEPS_OFF = {
    "GLOVES": "operator takes off gloves",
    "EYE": "operator throws away eyewear by the strap",
    "GOWN": "operator takes off gown inside out",
    "MASK": "operator takes off mask by the ties",
    "HH": "operator cleans hands",
    "GOWN+GLOVES": "operator takes off gown and gloves together",
    "MASK-FRONT": "operator adjusts mask",
    "OUT": "operator goes to corridor",
    "LEAVES": "operator leaves the room",
}
_USUAL_ON = "HH GOWN MASK EYE HH GLOVES"
_USUAL_OFF = "GLOVES EYE GOWN MASK HH"
_COME = "  [ ] operator goes to imaging room\n  [ ] patient comes to imaging room\n"
_WORK = "  [ ] patient spatters onto operator\n"


def _steps(words: dict[str, str], order: str) -> str:
    return "".join(f"  [ ] {words[word]}\n" for word in order.split())


def _on_and_off() -> Files:
    text = (
        'protocol "On and off"\n  edition 1\n  in force from 2026-11-02\n'
        "  review by 2027-11-02\n  owner infection control lead\n"
        '  takes words from "A small room"\n\nphase "On"\n'
        + _COME
        + _steps(_STEPS_ON, _USUAL_ON)
        + '\nphase "At work"\n'
        + _WORK
        + '\nphase "Off"\n'
        + _steps(_STEPS_OFF, _USUAL_OFF)
    )
    text += "  [ ] operator leaves the room\n  [ ] patient leaves\n"
    return Files(ON_AND_OFF, ((ON_AND_OFF, text), (SMALL_ROOM, _SMALL_ROOM)))


def put_on(order: str) -> Changes:
    """Equipment put on in another order: HH is hands cleaned, EYE eyewear."""
    return ((ON_AND_OFF, _COME + _steps(_STEPS_ON, _USUAL_ON), _COME + _steps(_STEPS_ON, order)),)


def taken_off(order: str) -> Changes:
    """Equipment taken off in another order: OUT is out of the room, into the corridor."""
    usual = 'phase "Off"\n' + _steps(_STEPS_OFF, _USUAL_OFF)
    return ((ON_AND_OFF, usual, 'phase "Off"\n' + _steps(_STEPS_OFF, order)),)


_MADE = {FILM: _film, TORN: _torn, OVERGLOVES: _overgloves, ON_AND_OFF: _on_and_off}
