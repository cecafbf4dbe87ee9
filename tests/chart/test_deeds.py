"""What the steps of a sheet do: their numbers, equipment on and off, the wait for clear air."""

import itertools
from dataclasses import replace
from pathlib import Path

import pytest

from protocol_lang.chart.deeds import AirWait, air_wait, deeds, settled
from protocol_lang.chart.plan import numbered, sheet
from protocol_lang.chart.sheet import rows
from protocol_lang.language.load import load
from protocol_lang.model.protocol import Protocol
from protocol_lang.resources import folder

FILES = sorted(folder("protocols").rglob("*.protocol"))


def shipped(name: str) -> Protocol:
    found = load(next(path for path in FILES if path.stem == name)).protocol
    assert found is not None
    return found


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_numbers_are_those_of_the_sheet(path: Path):
    protocol = load(path).protocol
    if protocol is None or not protocol.phases:
        return
    settled_ones = [one for one in protocol.choices if one.known_after is None]
    for values in list(itertools.product(*(one.values for one in settled_ones)))[:6]:
        choices = {one.name: value for one, value in zip(settled_ones, values, strict=True)}
        made = sheet(protocol, choices)
        told = [(row.number, row.text) for phase in made.phases for row in rows(phase.items)]
        steps = [(n, step.short or step.text) for n, step in numbered(protocol, choices)]
        assert steps == told
        assert list(deeds(protocol, choices)) == [number for number, _ in told]


def test_a_change_of_gloves_is_off_and_on():
    protocol = shipped("intraoral-series-wired-sensor")
    choices = {one.name: one.values[0] for one in protocol.choices if one.known_after is None}
    changed = [one for one in deeds(protocol, choices).values() if one.puts_on and one.takes_off]
    for one in changed:
        assert one.puts_on == one.takes_off and one.cleans
    assert any(one.exposes for one in deeds(protocol, choices).values())


def test_what_a_sheet_does_not_name_makes_no_difference():
    protocol = shipped("intraoral-wired-sensor")
    made = sheet(protocol, {"staffing": "paired", "shielding": "none"})
    assert settled(protocol, made) == {"staffing": "paired", "shielding": "none"}
    bare = replace(made, choices=(("staffing", "paired"),))
    assert settled(protocol, bare) == {"staffing": "paired", "shielding": "none"}


@pytest.mark.parametrize(
    ("name", "precautions", "minutes"),
    [  # CDC 2003, environmental infection control, table B.1: 6 air changes, 99.9 percent: 69 min
        ("panoramic-airborne-precautions", "airborne", 69),
        ("panoramic-airborne-precautions", "usual", None),
        ("protective-equipment-airborne-precautions", "airborne", 69),
        ("protective-equipment-airborne-precautions", "gut infection", None),
    ],
)
def test_the_wait_for_clear_air(name, precautions, minutes):
    protocol = shipped(name)
    found = air_wait(protocol, {"precautions": precautions})
    assert (found and found.minutes) == minutes
    if found:
        texts = dict(numbered(protocol, {"precautions": precautions}))
        assert texts[found.number].short == "Nobody goes in for 69 minutes"


def test_no_wait_where_nothing_is_said_of_air():
    protocol = shipped("protective-equipment")
    assert air_wait(protocol, {"taking off": "one by one"}) is None
    airborne = shipped("panoramic-airborne-precautions")
    assert isinstance(air_wait(airborne, {"precautions": "airborne"}), AirWait)
    assert air_wait(replace(airborne, air=None), {"precautions": "airborne"}) is None
