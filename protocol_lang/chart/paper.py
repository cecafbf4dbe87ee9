"""Paper sizes, and how high letters must be to be read from where people stand."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from protocol_lang.trade.legibility import letter_parts

#: Typographic points in a millimetre.
POINTS_PER_MM = 72 / 25.4

#: Height of a capital letter of Noto Sans, as a part of the type size (OS/2 table: 714 of 1000).
CAPITAL_HEIGHT = 0.714


@dataclass(frozen=True, slots=True)
class Size:
    """Landscape, in millimetres."""

    width: float
    height: float


class Paper(Enum):
    """Sheets that printers take. A4, A3: ISO 216; Letter, Tabloid: ANSI/ASME Y14.1, A and B."""

    A4 = Size(297, 210)
    A3 = Size(420, 297)
    LETTER = Size(279.4, 215.9)
    TABLOID = Size(431.8, 279.4)

    @property
    def shown(self) -> str:
        """The name as printed and typed."""
        return {"LETTER": "Letter", "TABLOID": "Tabloid"}.get(self.name, self.name)


#: Beyond these no chart is asked for: from closer nobody reads a wall, from farther none can.
NEAREST, FARTHEST = 0.3, 10.0


def least_type(distance: float) -> float:
    """The least type size (points) whose capitals can be read from ``distance`` metres.

    ValueError when the distance is not between 0.3 and 10 metres.
    """
    if not NEAREST <= distance <= FARTHEST:
        raise ValueError("The reading distance must be between 0.3 and 10 metres.")
    return distance * 1000 * _letter_to_distance() * POINTS_PER_MM / CAPITAL_HEIGHT


def reading_distance(points: float) -> float:
    """From how many metres type of this size (points) can be read; undoes :func:`least_type`."""
    return points * CAPITAL_HEIGHT / POINTS_PER_MM / 1000 / _letter_to_distance()


def _letter_to_distance() -> float:
    """Letters of a message are at least this part of the distance from which they are read:
    ANSI Z535, 1:300 for the message (ratio taken from secondary literature)."""
    return 1 / float(letter_parts())
