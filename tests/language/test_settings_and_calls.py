"""The table of exposure settings, and whom to call: what the lines of a room come to."""

from __future__ import annotations

from pathlib import Path

from protocol_lang.language.load import Loaded, load, load_text
from protocol_lang.model.protocol import ExposureSetting, Protocol
from protocol_lang.text import decode

ROOM = """room "A room"
  edition 1
  takes words from "Dental imaging"

people
  operator: staff
  patient: patient

exposure settings
  adult, molar: 65 kV, 7 mA, 0.16 s
  child: 12 pulses
  note "Examples."

whom to call
  adviser: extension 214
  note "Day and night."
"""

VISIT = """protocol "A visit"
  edition 1
  takes words from "A room"

phase "Visit"
  [ ] operator cleans hands
"""


def visit(tmp_path: Path, room: str = ROOM, more: str = "", name: str = "visit") -> Loaded:
    (tmp_path / "a-room.protocol").write_text(room, "utf-8")
    text = VISIT.replace('phase "Visit"', f'{more}\n\nphase "Visit"')
    return load_text(decode(text.encode(), f"{name}.protocol"), tmp_path)


def protocol(loaded: Loaded) -> Protocol:
    assert loaded.complete and loaded.protocol is not None, loaded.findings
    return loaded.protocol


def test_what_a_room_says_is_said_for_its_protocols(tmp_path):
    found = protocol(visit(tmp_path))
    assert [(one.name, one.values) for one in found.exposures.values()] == [
        ("adult, molar", ("65 kV", "7 mA", "0.16 s")),
        ("child", ("12 pulses",)),
    ]
    assert found.notes_of_exposures == ("Examples.",)
    assert [(one.name, one.how) for one in found.calls.values()] == [("adviser", "extension 214")]
    assert found.notes_of_calls == ("Day and night.",)


def test_a_protocol_adds_its_own(tmp_path):
    more = "exposure settings\n  adult, front: 60 kV\n  child: 12 pulses"
    found = protocol(visit(tmp_path, more=more))
    assert list(found.exposures) == ["adult, molar", "child", "adult, front"]


def test_two_values_for_one_are_told(tmp_path):
    for more, name in (
        ("exposure settings\n  adult, molar: 70 kV", "adult molar"),
        ("whom to call\n  adviser: extension 9", "adviser"),
    ):
        loaded = visit(tmp_path, more=more)
        assert [finding.kind for finding in loaded.findings] == ["declared-twice"]
        assert loaded.findings[0].facts["name"] == name


def test_parts_of_a_visit_keep_what_each_says(tmp_path):
    (tmp_path / "a-room.protocol").write_text(ROOM, "utf-8")
    then = """protocol "After it"
  edition 1
  takes words from "A room"
  follows another protocol

whom to call
  porter: extension 7

phase "After"
  [ ] operator cleans hands
"""
    (tmp_path / "after-it.protocol").write_text(then, "utf-8")
    path = tmp_path / "visit.protocol"
    path.write_text(VISIT.replace("\n\nphase", '\n  then "After it"\n\nphase', 1), "utf-8")
    found = protocol(load(path))
    assert list(found.calls) == ["adviser", "porter"]
    assert list(found.exposures) == ["adult, molar", "child"]
    assert found.notes_of_exposures == ("Examples.",)


def test_values_stand_as_they_are_written(tmp_path):
    """No number is worked out or rounded: 0.160 is not 0.16."""
    room = ROOM.replace("0.16 s", "0.160 s")
    found = protocol(visit(tmp_path, room))
    setting = found.exposures["adult, molar"]
    assert isinstance(setting, ExposureSetting)
    assert setting.values[-1] == "0.160 s"
