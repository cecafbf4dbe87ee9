"""The pictures in ``diagrams/`` are those of the protocols as they are now, and fit to hang up."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest

from protocol_lang.diagram import Page, room_page, steps_page, text
from protocol_lang.diagram.page import set_out
from protocol_lang.pages import picture
from protocol_lang.pages.room_picture import room_picture
from tests.diagram.test_picture import outside, overlapping
from tools.diagrams import ROOM, ROOT, names, shipped

NAMES = list(names())


@cache
def checked(place: Path):
    return dict(shipped((place,)))[place]


@cache
def page_at(place: Path, sort: str) -> Page:
    one = checked(place)
    if sort == ROOM:
        return room_page(room_picture(one.unfolded, one.judgement))
    return steps_page(picture(one.unfolded, one.judgement, {}))


every = pytest.mark.parametrize("place", NAMES, ids=[place.name for place in NAMES])
both = pytest.mark.parametrize("sort", ["", ROOM], ids=["order", "room"])


@every
@both
def test_the_picture_is_up_to_date_and_nothing_in_it_overlaps(place, sort):
    kept = place.with_name(place.name + sort)
    page = page_at(place, sort)
    written = kept.with_suffix(".gv").read_text(encoding="utf-8")
    assert written == text(page), "run: make diagrams"
    assert kept.with_suffix(".svg").is_file()
    for panel in set_out(page)["panels"]:
        assert not overlapping(panel)
    assert not outside(page)


#: What is followed, and parts of the patient that the picture names and others that nobody touches.
FOLLOWED = {
    "intraoral-wired-sensor": ("saliva", "mouth", "wound"),
    "dressing-change": ("blood", "wound", "mouth"),
    "taking-blood-at-the-chair": ("blood", "vein", "mouth"),
    "ultrasound-probe-between-patients": ("body fluid", "body cavity", "mouth"),
}


@pytest.mark.parametrize("place", [place for place in NAMES if place.name in FOLLOWED])
def test_the_room_picture_calls_the_soil_by_its_name_and_tells_where_it_is(place):
    soil, part, other = FOLLOWED[place.name]
    one = checked(place)
    room = room_picture(one.unfolded, one.judgement)
    assert room.soil == soil
    assert f"How far the {soil} of one patient can get" in set_out(page_at(place, ROOM))["under"]
    (source,) = (spot for spot in room.spots if spot.text == "patient")
    assert part in source.note.split(", ") and other not in source.note


@every
def test_phases_stand_from_left_to_right(place):
    (panel,) = set_out(page_at(place, ""))["panels"]
    lefts = [zone["x"] for zone in panel["zones"]]
    assert lefts == sorted(lefts)
    rights = [zone["x"] + zone["w"] for zone in panel["zones"]]
    assert all(right <= left for right, left in zip(rights, lefts[1:], strict=False))


def test_nothing_is_left_of_protocols_that_are_gone():
    kept = {path.with_suffix("") for path in (ROOT / "diagrams").rglob("*.*")}
    assert kept == {place.with_name(place.name + sort) for place in NAMES for sort in ("", ROOM)}
