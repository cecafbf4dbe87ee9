"""Germs: classes by how much they withstand, and the class of each germ that has a name."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from types import MappingProxyType
from typing import TYPE_CHECKING

from protocol_lang.trade.basis import Basis
from protocol_lang.trade.numbers import one_of
from protocol_lang.trade.tables import rows

if TYPE_CHECKING:
    from collections.abc import Mapping


@dataclass(frozen=True, slots=True)
class Pathogen:
    """A germ with a name.

    ``level``: the least level of germicide to assume; ``with_blood``: where blood is seen.
    ``claim``: what the label of the product should say, if more is asked than the level.
    """

    name: str
    germ_class: str
    level: str
    with_blood: str
    claim: str | None
    basis: Basis


@dataclass(frozen=True, slots=True)
class ItemClass:
    """Items by what they touch (Spaulding).

    ``heat_safe``: the least level for those that stand heat; ``otherwise``: for the others.
    """

    name: str
    touches: str
    heat_safe: str
    otherwise: str
    basis: Basis


@cache
def classes() -> tuple[str, ...]:
    """The classes of germs, the hardest first (CDC 2008, figure 1)."""
    return tuple(row.text("name") for row in rows("germs", "class"))


@cache
def pathogens() -> Mapping[str, Pathogen]:
    """The germs by name."""
    found = {
        row.text("name"): Pathogen(
            row.text("name"),
            row.text("class"),
            row.text("level"),
            row.text("blood" if "blood" in row.fields else "level"),
            row.text("claim") if "claim" in row.fields else None,
            row.basis,
        )
        for row in rows("germs", "pathogen")
    }
    return MappingProxyType(found)


@cache
def item_classes() -> Mapping[str, ItemClass]:
    """What kinds of items need between patients, by the name of the kind."""
    found = {
        row.text("kind"): ItemClass(
            row.text("kind"),
            row.text("touches"),
            row.text("heat_safe"),
            row.text("otherwise"),
            row.basis,
        )
        for row in rows("germs", "item")
    }
    return MappingProxyType(found)


def class_of(germ: str) -> str:
    """The class of a germ; ``germ`` may be the class itself.

    ValueError for a name that is neither.
    """
    if germ in classes():
        return germ
    one_of(germ, (*pathogens(), *classes()), "germ or class of germs")
    return pathogens()[germ].germ_class


def withstands(germ: str) -> int:
    """How much a germ or class withstands: 0 the least. ValueError for an unknown name."""
    return len(classes()) - 1 - classes().index(class_of(germ))
