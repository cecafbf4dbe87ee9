"""The room picture: its data from the engine's answers, and what is drawn."""

from __future__ import annotations

from pathlib import Path

import pytest

from protocol_lang.chart.inks import INKS as OF_CHARTS
from protocol_lang.diagram import Contact, Far, Kind, Room, Spot, draw, room_page, text
from protocol_lang.diagram.inks import INKS
from protocol_lang.diagram.page import set_out
from protocol_lang.pages.room_picture import mended, room_picture
from protocol_lang.pipeline import check_file
from protocol_lang.resources import folder as shipped_folder
from tests.chart.test_inks import contrast
from tests.diagram.test_picture import AWKWARD, outside, overlapping
from tests.planting import left_out

SENSOR = "imaging-room-2/intraoral-wired-sensor.protocol"


def leaving_out(folder: Path, without: str) -> Path:
    """The shipped protocol without one line, beside all that it takes words from."""
    import shutil

    shutil.copytree(shipped_folder("protocols"), folder / "protocols")
    path = folder / "protocols" / SENSOR
    path.write_text(left_out(path.read_text(encoding="utf-8"), without), encoding="utf-8")
    return path


def drawn(path: Path):
    checked = check_file(path)
    assert checked.unfolded is not None and checked.judgement is not None
    return checked, room_picture(checked.unfolded, checked.judgement)


def fars(room: Room) -> dict[str, Far]:
    return {spot.text: spot.far for spot in room.spots}


def test_of_a_good_protocol_nothing_gets_to_the_next_patient():
    _, room = drawn(shipped_folder("protocols") / SENSOR)
    far = fars(room)
    assert far["patient"] is Far.SOURCE and far["next patient"] is Far.NEVER
    assert far["operator's gloves"] is Far.ENDED and far["sensor"] is Far.ENDED
    assert far["keyboard"] is Far.NEVER and far["sensor hook"] is Far.NEVER
    # What is dropped in there is not clean, and nobody said that it should be.
    assert [name for name, one in far.items() if one is Far.ONWARD] == ["holder box"]


def test_a_fault_is_seen_in_the_room_and_gone_with_the_change(tmp_path):
    checked, room = drawn(leaving_out(tmp_path, "operator disinfects sensor with a new wipe"))
    far = fars(room)
    assert far["next patient"] is Far.ONWARD and far["sensor hook"] is Far.ONWARD
    meet = {frozenset((one.one, one.other)): one.far for one in room.contacts}
    assert meet[frozenset(("sensor", "sensor hook"))] is Far.ONWARD
    assert meet[frozenset(("sensor", "/next"))] is Far.ONWARD
    (finding,) = checked.outcome.findings
    better = mended(checked.unfolded, checked.judgement, finding)
    assert better is not None and len(better.changes) == 1
    after = room_picture(better.unfolded, better.judgement)
    assert fars(after)["next patient"] is Far.NEVER
    page = room_page(room, after, ("As it is", "With the change"))
    one, other = set_out(page)["panels"]
    places = [[(box["x"], box["y"]) for box in panel["boxes"]] for panel in (one, other)]
    assert places[0] == places[1]  # the same things in the same places
    assert sum(box["far"] == "onward" for box in one["boxes"]) > 5
    assert sum(box["far"] == "onward" for box in other["boxes"]) == 1
    assert not overlapping(one) and not overlapping(other) and not outside(page)
    assert "to the next patient, where these meet" in page.alt


def room_of(*texts: str) -> Room:
    spots = tuple(
        Spot(f"s{n}", words, Kind.IN_USE, Far.ENDED, words) for n, words in enumerate(texts)
    )
    return Room(texts[0], spots, (Contact("s0", f"s{len(texts) - 1}", Far.ENDED),))


@pytest.mark.parametrize("words", AWKWARD)
def test_user_text_is_only_ever_text(words):
    page = room_page(room_of(words, "second"))
    for line in text(page).splitlines():
        asked, _, told = line.partition(" // ")
        if not line.strip().startswith("//"):
            assert words not in asked
        assert told.isascii()
    (panel,) = set_out(page)["panels"]
    assert len(panel["boxes"]) == 2 and len(panel["lines"]) == 1
    assert draw(page).startswith(b"<svg")


@pytest.mark.parametrize(
    "faulty",
    [
        {"contacts": (Contact("s0", "nowhere", Far.NEVER),)},
        {"contacts": (Contact("s0", "s1", Far.NEVER), Contact("s1", "s0", Far.ENDED))},
        {"spots": (Spot("a", "x", Kind.SURFACE, Far.NEVER),) * 2},
    ],
)
def test_faulty_rooms_are_refused(faulty):
    good = room_of("one", "two")
    with pytest.raises(ValueError):
        Room(**{"title": "R", "spots": good.spots, "contacts": good.contacts, **faulty})


def test_the_inks_are_those_of_charts():
    shared = INKS.keys() & OF_CHARTS.keys()
    assert len(shared) >= 7
    assert all(INKS[name] == OF_CHARTS[name] for name in shared)


@pytest.mark.parametrize(
    ("what", "on", "least"),
    [  # WCAG 2.x: 4.5 for letters (1.4.3), 3 for shapes that mean something (1.4.11)
        ("ink", "ground", 4.5),
        ("quiet", "ground", 4.5),
        ("ink", "clean tint", 4.5),
        ("quiet", "soil tint", 4.5),
        ("soil", "ground", 3.0),
        ("quiet", "paper", 3.0),
        ("paper", "soil", 4.5),
    ],
)
def test_contrast(what, on, least):
    assert contrast(INKS[what], INKS[on]) >= least
