"""Paper sizes, and how high letters must be to be read from where people stand."""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import Enum

from protocol_lang.trade.legibility import letter_parts

#: Typographic points in a millimetre.
POINTS_PER_MM = 72 / 25.4

#: Height of a capital letter of Noto Sans, as a part of the type size (OS/2 table: 714 of 1000).
CAPITAL_HEIGHT = 0.714


@dataclass(frozen=True, slots=True)
class Size:
    """In millimetres."""

    width: float
    height: float

    @property
    def upright(self) -> Size:
        """The same sheet, standing on its short side."""
        return Size(min(self.width, self.height), max(self.width, self.height))


class Paper(Enum):
    """Sheets that printers take, lying.

    A4, A3, A2: ISO 216; Letter, Tabloid: ANSI/ASME Y14.1, sizes A and B.
    """

    A4 = Size(297, 210)
    A3 = Size(420, 297)
    A2 = Size(594, 420)
    LETTER = Size(279.4, 215.9)
    TABLOID = Size(431.8, 279.4)

    @property
    def shown(self) -> str:
        """The name as printed and typed."""
        return {"LETTER": "Letter", "TABLOID": "Tabloid"}.get(self.name, self.name)


#: Beyond these no chart is asked for: from closer nobody reads a wall, from farther none can.
NEAREST, FARTHEST = 0.3, 10.0
BETWEEN = "The reading distance must be between 0.3 and 10 metres."

_METRES = {"": 1.0, "m": 1.0, "cm": 0.01, "mm": 0.001}


def distance_of(typed: str) -> float:
    """A reading distance as people write it, in metres: "2m", "2 m", "150 cm", "1,5 m", "2".

    ValueError, with a sentence for people, for anything else, or beyond what is sensible.
    """
    found = re.fullmatch(r"\s*([0-9]{1,6}(?:[.,][0-9]{1,6})?)\s*(m|cm|mm|)\s*", typed.casefold())
    if found is None:
        raise ValueError("Write the reading distance in metres or centimetres: 2 m, or 150 cm.")
    metres = float(found.group(1).replace(",", ".")) * _METRES[found.group(2)]
    if not NEAREST <= metres <= FARTHEST:
        raise ValueError(BETWEEN)
    return metres


def least_type(distance: float) -> float:
    """The least type size (points) whose capitals can be read from ``distance`` metres.

    ValueError when the distance is not between 0.3 and 10 metres.
    """
    if not NEAREST <= distance <= FARTHEST:
        raise ValueError(BETWEEN)
    return distance * 1000 * _letter_to_distance() * POINTS_PER_MM / CAPITAL_HEIGHT


def reading_distance(points: float) -> float:
    """From how many metres type of this size (points) can be read; undoes :func:`least_type`."""
    return points * CAPITAL_HEIGHT / POINTS_PER_MM / 1000 / _letter_to_distance()


def _letter_to_distance() -> float:
    """Letters of a message are at least this part of the distance from which they are read:
    ANSI Z535, 1:300 for the message (ratio taken from secondary literature)."""
    return 1 / float(letter_parts())
