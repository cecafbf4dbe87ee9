"""What the caller knows of a sheet and no plan tells: the day, files, rules, waivers."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date

from protocol_lang import prints
from protocol_lang.chart.sheet import Sheet, Waived
from protocol_lang.text import Text


def standing(
    sheet: Sheet,
    texts: Sequence[Text],
    rules: Iterable[str] = (),
    waivers: Iterable[tuple[date, date]] = (),
    on: date | None = None,
) -> Sheet:
    """The sheet with its fingerprint, the rules that were asked as well, and what is waived.

    ``texts``: of all files that the protocol was read from, its own first; the fingerprint is the
    one that an audit gives them, in full. ``rules``: the titles of the files of rules. ``waivers``:
    the first and the last day of each; those count that hold ``on`` the day of the sheet, both days
    included.
    A sheet with one of these must nowhere be said to be without faults: what draws it looks at
    ``waived`` before it looks at ``mark``. Without a day none counts.
    """
    ends = [last for first, last in waivers if on is not None and first <= on <= last]
    return replace(
        sheet,
        checked_on=on,
        fingerprint=prints.in_full(texts) if texts else None,
        rules=tuple(rules),
        waived=Waived(len(ends), min(ends)) if ends else None,
    )
