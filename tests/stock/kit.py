"""Shipped files, loaded once, and small texts of our own."""

from __future__ import annotations

from collections import Counter
from functools import cache
from pathlib import Path

from protocol_lang.language.load import load
from protocol_lang.model.protocol import Protocol
from protocol_lang.resources import folder
from protocol_lang.stock.ranges import Counted, counted
from protocol_lang.stock.turns import parts_of

ROOMS = folder("protocols")
SENSOR = ROOMS / "imaging-room-2" / "intraoral-wired-sensor.protocol"
SERIES = ROOMS / "imaging-room-2" / "intraoral-series-wired-sensor.protocol"
TURNOVER = ROOMS / "imaging-room-2" / "turning-over-the-room.protocol"
HOLDERS = ROOMS / "imaging-room-2" / "holders-and-bite-blocks.protocol"
PANORAMIC = ROOMS / "imaging-room-3" / "panoramic-usual-visit.protocol"
DAY = ROOMS / "imaging-room-2" / "a-day-in-imaging-room-2.protocol"
PLATES_DAY = ROOMS / "imaging-room-2" / "a-day-with-plates.protocol"

ROOM = """room "Small room"
  edition 1
  takes words from "Dental imaging"

people
  operator: staff
  helper: staff
  patient: patient

waste streams
  clinical waste: yellow bag
  general waste

surfaces
  sensor hook: surface; kept clean
  shelf: surface

boxes
  glove box, wipe tub, mask box: box; kept clean

things
  gloves: gloves; worn on hands; used once; from glove box; goes to clinical waste
  mask: mask; has front, ties; worn on nose and mouth; used once; from mask box; goes to general waste
  wipe: wipe; has face, back; used once; thrown away after use; from wipe tub; treats to intermediate; stays wet 2 minutes; goes to clinical waste
"""  # noqa: E501

HEAD = """protocol "A short visit"
  edition 1
  takes words from "Small room"

"""


@cache
def protocol_of(path: Path) -> Protocol:
    """A shipped file, understood in full."""
    loaded = load(path)
    assert loaded.protocol is not None and loaded.complete
    return loaded.protocol


@cache
def counts_of(path: Path) -> tuple[Counted, ...]:
    """Its parts, counted."""
    return tuple(counted(part, {}, {}) for part in parts_of(protocol_of(path)))


def small(where: Path, text: str, room: str = ROOM) -> Path:
    """A protocol of our own, beside its room."""
    (where / "small-room.protocol").write_text(room, "utf-8")
    path = where / "a-short-visit.protocol"
    path.write_text(HEAD + text, "utf-8")
    return path


def taken(one: Counted, **choices: str) -> list[Counter[str]]:
    """What is taken in the ways with these choices, each different answer once."""
    found: list[Counter[str]] = []
    for way in one.ways:
        if any(
            all(each.get(name.replace("_", " "), value) == value for name, value in choices.items())
            for each in way.choices
        ):
            sums = Counter(way.used.taken) + Counter(way.used.each)
            if sums not in found:
                found.append(sums)
    return found
