"""Every word that a finding says, per kind of finding, as functions of its facts.

One module per family of findings; :data:`ENTRIES` gathers them. Nothing else in the project words
a finding, so that one person can review or translate all of it here.
"""

from __future__ import annotations

from collections.abc import Mapping

from protocol_lang.wording.entry import Entry

__all__ = ["ENTRIES", "Entry"]


def _gather() -> Mapping[str, Entry]:
    from protocol_lang.wording import (
        local_faults,
        name_faults,
        part_faults,
        product_faults,
        room_faults,
        rule_faults,
        text_faults,
        verdicts,
        waiver_faults,
    )

    entries: dict[str, Entry] = {}
    families = (
        text_faults.ENTRIES,
        name_faults.ENTRIES,
        room_faults.ENTRIES,
        part_faults.ENTRIES,
        product_faults.ENTRIES,
        rule_faults.ENTRIES,
        verdicts.ENTRIES,
        waiver_faults.ENTRIES,
        local_faults.ENTRIES,
    )
    for family in families:
        for entry in family:
            if entry.kind in entries:
                raise AssertionError(f"two wordings for {entry.kind}")
            entries[entry.kind] = entry
    return entries


ENTRIES: Mapping[str, Entry] = _gather()
