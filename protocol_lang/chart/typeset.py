"""The template of the chart, and what is asked of the typesetter for it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date
from pathlib import Path
from typing import Any

from protocol_lang import typesetter
from protocol_lang.typesetter import Format, families

__all__ = ["TEMPLATE", "Format", "compiled", "families", "queries", "query"]

TEMPLATE = Path(__file__).with_name("page.typ")


def query(given: Mapping[str, Any]) -> Any:
    """What the template measures: heights of head, foot and pieces, in points."""
    return typesetter.measured(TEMPLATE, "chart", given)


def queries(given: Iterable[Mapping[str, Any]]) -> list[Any]:
    """Several of these at once: the typesetter lets other threads go on while it works."""
    first, *rest = given
    if not rest:
        return [query(first)]
    from concurrent.futures import ThreadPoolExecutor

    with ThreadPoolExecutor(len(rest)) as beside:
        others = [beside.submit(query, one) for one in rest]
        return [query(first), *(other.result() for other in others)]


def compiled(
    given: Mapping[str, Any],
    format: Format,
    pixels_per_inch: float,
    dated: date | None,
) -> list[bytes]:
    """``dated``: the day that the PDF carries as its date; its standard asks for one."""
    return typesetter.compiled(
        TEMPLATE, "chart", given, format, pixels_per_inch=pixels_per_inch, dated=dated
    )
