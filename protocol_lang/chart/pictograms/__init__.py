"""The pictograms of charts and cards: drawings of our own, one file each, beside this module.

They keep to the shapes and colours of ISO 3864-1 and, where ISO 7010 has a sign of that meaning, to
its meaning: a white symbol on a blue disc for what must be done, a red ring and bar over a black
symbol for what must not, a black symbol in a yellow triangle for a warning. None is a copy of a
registered sign, so none replaces one where law asks for it.

A file is read when it is first asked for.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum
from functools import cache
from pathlib import Path

_FOLDER = Path(__file__).parent


class Kind(Enum):
    """What a sign tells, as ISO 3864-1 divides them."""

    MANDATORY = "to be done"
    PROHIBITION = "not to be done"
    WARNING = "warning"


#: Colours in sRGB, near those that ISO 3864-4 and ISO 7010 name: RAL 5005 signal blue, RAL 9003
#: signal white (both as ISO 7010 tells), RAL 3001 signal red, RAL 1003 signal yellow, RAL 9004
#: signal black (from memory). Values on a screen and in print are near, not equal.
COLOURS: Mapping[str, str] = {
    "blue": "#005387",
    "white": "#ffffff",
    "red": "#a52019",
    "yellow": "#f9a800",
    "black": "#111111",
}


@dataclass(frozen=True, slots=True)
class Pictogram:
    """``meaning``: in a few words. ``code``: of the sign of ISO 7010 whose meaning it has.

    ``basis``: where the code is from: "ISO 7010" as read in its list, or "from memory".
    """

    name: str
    kind: Kind
    meaning: str
    code: str | None = None
    basis: str | None = None

    @property
    def file(self) -> Path:
        """Where its drawing lies: SVG, 100 by 100 units."""
        return _FOLDER / f"{self.name}.svg"


#: Not read in ISO 7010 itself, but in a rule on signs for X-ray equipment.
SAFETY_CODE = "a Canadian rule on signs for X-ray equipment"


def _all() -> tuple[Pictogram, ...]:
    do, read, memory = Kind.MANDATORY, "ISO 7010", "from memory"
    return (
        Pictogram("wash-hands", do, "Wash the hands", "M011", read),
        Pictogram("rub-hands", do, "Rub the hands with alcohol"),
        Pictogram("gloves-on", do, "Put on gloves", "M009", read),
        Pictogram("gloves-off", do, "Take off gloves"),
        Pictogram("mask-on", do, "Put on a mask", "M016", read),
        Pictogram("mask-off", do, "Take off the mask"),
        Pictogram("respirator-on", do, "Put on a respirator", "M017", read),
        Pictogram("respirator-off", do, "Take off the respirator"),
        Pictogram("eyewear-on", do, "Put on eye protection", "M004", read),
        Pictogram("eyewear-off", do, "Take off the eye protection"),
        Pictogram("face-shield-on", do, "Put on a face shield", "M013", read),
        Pictogram("face-shield-off", do, "Take off the face shield"),
        Pictogram("gown-on", do, "Put on a gown", "M010", read),
        Pictogram("gown-off", do, "Take off the gown"),
        Pictogram("apron-on", do, "Put on an apron", "M026", read),
        Pictogram("apron-off", do, "Take off the apron"),
        Pictogram("lay-out", do, "Lay out"),
        Pictogram("cover", do, "Cover"),
        Pictogram("uncover", do, "Take the cover off"),
        Pictogram("sleeve", do, "Slip the sleeve over the sensor"),
        Pictogram("sleeve-off", do, "Let the sensor slide out of the sleeve"),
        Pictogram("place-in-mouth", do, "Place in the mouth"),
        Pictogram("take-out-of-mouth", do, "Take out of the mouth"),
        Pictogram("behind-the-barrier", do, "Stand behind the barrier"),
        Pictogram("expose", do, "Press the exposure button"),
        Pictogram("clean", do, "Clean with a wipe"),
        Pictogram("disinfect", do, "Disinfect and keep wet"),
        Pictogram("wait", do, "Wait"),
        Pictogram("pack", do, "Pack"),
        Pictogram("sterilise", do, "Sterilise with steam"),
        Pictogram("throw-away", do, "Throw away into the bin", "M030", read),
        Pictogram("read-instructions", do, "Read the instructions", "M002", read),
        Pictogram("close-door", do, "Keep the door closed"),
        Pictogram("do-not-touch", Kind.PROHIBITION, "Do not touch", "P010", memory),
        Pictogram("do-not-enter", Kind.PROHIBITION, "Do not enter", "P004", memory),
        # Read in a rule on signs for dental X-ray rooms, not in ISO 7010 itself.
        Pictogram(
            "radiation", Kind.WARNING, "Ionising radiation", "W003", "a rule for X-ray rooms"
        ),
    )


#: Every pictogram by its name, in the order of a visit.
PICTOGRAMS: Mapping[str, Pictogram] = {one.name: one for one in _all()}


@cache
def drawing(name: str) -> str:
    """The drawing of a pictogram as SVG text; KeyError for a name that there is not."""
    return PICTOGRAMS[name].file.read_text(encoding="utf-8")
