"""How long steam acts."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import cache

from protocol_lang.trade.basis import Basis
from protocol_lang.trade.numbers import Number, exact, one_of
from protocol_lang.trade.tables import rows

#: Stands in a profile that does not tell types of machine or items apart.
ANY = "any"


@dataclass(frozen=True, slots=True)
class Cycle:
    """A steam cycle: least minutes at a temperature from ``coolest`` to ``hottest`` (°C).

    ``dry_least``, ``dry_most``: minutes of drying; None where the profile gives none. What the
    minutes count from differs between profiles: CDC 2008 gives the exposure, the UK figures hold
    from when the whole load has the temperature.
    """

    profile: str
    machine: str
    item: str
    coolest: Fraction
    hottest: Fraction
    minutes: Fraction
    dry_least: Fraction | None
    dry_most: Fraction | None
    basis: Basis


@cache
def cycles() -> tuple[Cycle, ...]:
    """All published cycles."""
    return tuple(
        Cycle(
            row.text("profile"),
            row.text("type"),
            row.text("item"),
            row.number("from"),
            row.number("to"),
            row.number("minutes"),
            row.maybe("dry_least"),
            row.maybe("dry_most"),
            row.basis,
        )
        for row in rows("steam", "steam")
    )


def cycle(profile: str, machine: str, item: str, celsius: Number) -> Cycle:
    """The cycle of a profile ("CDC 2008", "UK hold", "UK dental") at a temperature.

    ``machine``: "gravity" or "prevacuum". ValueError for an unknown name, and for a temperature
    at which the profile gives no time: times between two of them are not made up.
    """
    known = cycles()
    one_of(profile, tuple(dict.fromkeys(one.profile for one in known)), "profile for steam")
    machines = tuple(dict.fromkeys(one.machine for one in known if one.machine != ANY))
    one_of(machine, machines, "type of steam cycle")
    items = tuple(dict.fromkeys(one.item for one in known if one.item != ANY))
    one_of(item, items, "kind of load")
    at = exact(celsius, "temperature")
    for one in known:
        if (
            one.profile == profile
            and one.machine in (machine, ANY)
            and one.item in (item, ANY)
            and one.coolest <= at <= one.hottest
        ):
            return one
    raise ValueError(f"{profile} gives no time for {item} in a {machine} cycle at {celsius} °C.")


def steam_minutes(profile: str, machine: str, item: str, celsius: Number) -> Fraction:
    """The least minutes of :func:`cycle`, with the same errors."""
    return cycle(profile, machine, item, celsius).minutes
