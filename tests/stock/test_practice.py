"""What published guidance asks of a visit, asked of the counts; and of the times taken as usual."""

from __future__ import annotations

from pathlib import Path

import pytest

from protocol_lang.model.protocol import Role
from protocol_lang.stock import Asked, asked
from protocol_lang.trade.steam import cycles
from tests.stock.kit import DAY, HOLDERS, PLATES_DAY, SENSOR, counts_of, protocol_of


@pytest.mark.parametrize("path", [DAY, PLATES_DAY], ids=lambda one: one.stem)
def test_each_patient_has_gloves_and_covers_of_their_own(path: Path):
    """CDC, Guidelines for Infection Control in Dental Health-Care Settings, 2003: a new pair of
    gloves for each patient; barriers are removed and replaced between patients."""
    room = protocol_of(path)
    covered = [one.starts_covered for one in room.things.values() if one.starts_covered]
    for one in counts_of(path):
        if one.part.role is not Role.VISIT or one.part.overlapping:
            continue
        for way in one.ways:
            assert way.used.taken["gloves"] >= 1
            for cover in covered:
                assert way.used.taken[cover] >= covered.count(cover)


def test_each_pack_has_an_indicator_inside():
    """CDC 2003, sterilisation monitoring: an internal chemical indicator in every package."""
    (loads,) = counts_of(HOLDERS)
    for way in loads.ways:
        assert way.used.each["indicator"] == way.used.each["pouch"] >= 1


def test_no_load_is_shorter_than_published_times():
    """CDC, Guideline for Disinfection and Sterilization in Healthcare Facilities, 2008, table 7:
    exposure and drying of wrapped instruments; what is around them takes time as well."""
    times = [
        one.minutes + one.dry_most
        for one in cycles()
        if one.item == "wrapped instruments" and one.dry_most is not None
    ]
    assert len(times) == 3
    longest = max(times)
    assert longest < asked.USUAL_REPROCESSING


def test_the_times_that_a_protocol_states_are_used():
    """15 minutes at 132 degrees and 20 to dry, as the shipped protocol says, and 40 around them."""
    numbers = asked.numbers_of(
        protocol_of(HOLDERS), Asked(), cycles=True, loads=True, patient=False
    )
    assert numbers.cycle == 15 + 20 + asked.USUAL_AROUND
    without = asked.numbers_of(protocol_of(SENSOR), Asked(), cycles=True, loads=True, patient=True)
    assert without.cycle == asked.USUAL_REPROCESSING
