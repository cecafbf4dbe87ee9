"""How often covers, gloves and habits fail, as studies counted."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import cache

from protocol_lang.trade.basis import Basis
from protocol_lang.trade.numbers import one_of
from protocol_lang.trade.tables import subject


@dataclass(frozen=True, slots=True)
class Rate:
    """A share, in percent, from ``least`` to ``most`` (the same where one figure is given).

    ``count`` of ``of`` cases; None where the study was read without them.
    """

    what: str
    least: Fraction
    most: Fraction
    count: int | None
    of: int | None
    basis: Basis


@cache
def rates(about: str) -> tuple[Rate, ...]:
    """The rates about "cover", "plate", "glove", "transfer" or "habit". ValueError for others."""
    tables = subject("rates").tables
    one_of(about, tuple(tables), "table of rates about")
    found = []
    for row in tables[about].rows:
        least = row.maybe("least")
        most = row.maybe("most")
        percent = row.maybe("percent")
        count, of = row.maybe("count"), row.maybe("of")
        if percent is not None:
            least = most = percent
        if least is None or most is None:
            raise ValueError(f"rates.toml, {about}: {row.fields['what']} has no figure.")
        found.append(
            Rate(
                row.text("what"),
                least,
                most,
                None if count is None else int(count),
                None if of is None else int(of),
                row.basis,
            )
        )
    return tuple(found)
