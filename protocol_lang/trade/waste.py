"""Which stream waste goes to, by jurisdiction."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from protocol_lang.trade.basis import Basis
from protocol_lang.trade.numbers import Number, exact, one_of
from protocol_lang.trade.tables import rows


@dataclass(frozen=True, slots=True)
class WasteStream:
    """A stream of waste: what its bag or box looks like, and what it holds."""

    jurisdiction: str
    name: str
    colour: str
    holds: str
    basis: Basis


@dataclass(frozen=True, slots=True)
class Sorting:
    """Where an item goes. ``basis.inferred``: no document names the item; ask locally."""

    item: str
    stream: WasteStream
    basis: Basis


@cache
def jurisdictions() -> tuple[str, ...]:
    """The jurisdictions of which streams are known."""
    return tuple(dict.fromkeys(row.text("jurisdiction") for row in rows("waste", "stream")))


@cache
def streams(jurisdiction: str) -> tuple[WasteStream, ...]:
    """The streams of a jurisdiction; where sources disagree on one, the default.

    ValueError for a jurisdiction of which none are known.
    """
    one_of(jurisdiction, jurisdictions(), "jurisdiction")
    return tuple(
        WasteStream(
            jurisdiction, row.text("name"), row.text("colour"), row.text("holds"), row.basis
        )
        for row in rows("waste", "stream")
        if row.text("jurisdiction") == jurisdiction and (row.default or row.question is None)
    )


@cache
def sorted_items(jurisdiction: str) -> tuple[Sorting, ...]:
    """The items of which it is known where they go. ValueError as for :func:`streams`."""
    by_name = {stream.name: stream for stream in streams(jurisdiction)}
    return tuple(
        Sorting(row.text("item"), by_name[row.text("stream")], row.basis)
        for row in rows("waste", "item")
        if row.text("jurisdiction") == jurisdiction
    )


def stream_for(jurisdiction: str, item: str) -> Sorting:
    """Where an item goes. ValueError for a jurisdiction or an item that is not known."""
    found = {sorting.item: sorting for sorting in sorted_items(jurisdiction)}
    one_of(item, tuple(found), f"stream ({jurisdiction}) for the item")
    return found[item]


def times_the_limit(substance: str, milligrams: Number) -> float:
    """How many times the limit so many mg/L are; from 1 on the waste is hazardous.

    ``substance``: "silver" or "lead" (40 CFR 261.24, table 1). ValueError for another one, and for
    less than nothing.
    """
    found = {row.text("what"): row for row in rows("waste", "limit")}
    one_of(substance, tuple(found), "limit for the substance")
    return float(
        exact(milligrams, "content in mg/L", least=0) / found[substance].number("milligrams")
    )
