"""What the levels of treatment end, and which of them a germ asks for."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from protocol_lang.trade.basis import Basis
from protocol_lang.trade.germs import class_of, classes, pathogens, withstands
from protocol_lang.trade.numbers import one_of
from protocol_lang.trade.tables import rows

#: The level at which every class of living germs ends, whatever products fail to do.
STERILE = "sterile"


@dataclass(frozen=True, slots=True)
class Level:
    """A level of treatment.

    ``hardest``: the hardest class that it ends. ``reading``: where guidance differs on that, whose
    reading it is; None where it does not.
    """

    name: str
    hardest: str
    reading: str | None
    default: bool
    basis: Basis


@cache
def all_levels() -> tuple[Level, ...]:
    """The levels with all of their readings, the weakest first."""
    return tuple(
        Level(
            row.text("name"),
            row.text("hardest"),
            row.text("reading") if "reading" in row.fields else None,
            row.default or row.question is None,
            row.basis,
        )
        for row in rows("germicides", "level")
    )


@cache
def readings() -> tuple[str, ...]:
    """On which level ends mycobacteria guidance differs: the readings, the default first."""
    found = [level for level in all_levels() if level.reading is not None]
    found.sort(key=lambda level: not level.default)
    return tuple(dict.fromkeys(level.reading for level in found if level.reading is not None))


@cache
def levels(reading: str | None = None) -> tuple[Level, ...]:
    """The levels in one reading (None: the default), the weakest first.

    ValueError for a reading that there is not.
    """
    if reading is None:
        return tuple(level for level in all_levels() if level.default)
    one_of(reading, readings(), "reading of the levels")
    return tuple(level for level in all_levels() if level.reading in (None, reading))


@cache
def exceptions() -> frozenset[tuple[str, str]]:
    """Pairs of classes: a claim against the first does not tell of the second, though it is below.

    They hold for claims and products, not for what is sterile.
    """
    return frozenset(
        (row.text("ends"), row.text("but_not")) for row in rows("germicides", "exception")
    )


def covers(claim: str, germ: str, reading: str | None = None) -> bool:
    """Whether a treatment is taken to end a germ.

    ``claim``: a level, or what the label claims: a germ or a class of germs. ``germ``: a germ or
    a class. ``reading``: see :func:`readings`. What ends a class is taken to end the classes below
    it, but for :func:`exceptions`. ValueError for an unknown name.

    Source: CDC, Guideline for Disinfection and Sterilization, 2008, figure 1 and the levels.
    """
    by_name = {level.name: level for level in levels(reading)}
    if claim not in by_name:
        one_of(claim, (*by_name, *pathogens(), *classes()), "level, germ or class of germs")
    hardest = by_name[claim].hardest if claim in by_name else class_of(claim)
    if withstands(germ) > withstands(hardest):
        return False
    return claim == STERILE or (hardest, class_of(germ)) not in exceptions()


def minimum_level(germ: str, *, with_blood: bool = False, reading: str | None = None) -> str:
    """The weakest level that ends a germ or class; ``with_blood``: where blood is seen.

    A germ may ask for a claim of the product besides: ``Pathogen.claim``. ValueError for an unknown
    name, and for prions, which no level ends.
    """
    names = [level.name for level in levels(reading)]
    enough = next((name for name in names if covers(name, germ, reading)), None)
    if enough is None:
        raise ValueError(f"No level of treatment ends {germ}: they need a procedure of their own.")
    if with_blood and germ in pathogens():
        return max(enough, pathogens()[germ].with_blood, key=names.index)
    return enough
