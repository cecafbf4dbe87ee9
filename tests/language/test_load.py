"""From a path to a protocol: shipped files, annotated files, and what one run costs."""

from __future__ import annotations

import time
from pathlib import Path

import pytest

from protocol_lang.language.clashes import clashes
from protocol_lang.language.load import load, load_text
from protocol_lang.language.names import Name
from protocol_lang.language.sentences import Form
from protocol_lang.model.protocol import Protocol
from protocol_lang.model.steps import (
    Again,
    Border,
    Doing,
    Either,
    Item,
    RoundEnds,
    SideBySide,
    Step,
    Where,
)
from protocol_lang.resources import folder
from protocol_lang.text import Unreadable, decode
from tests.language.corpus import CORPUS, expected, faulty, told

SHIPPED = sorted(folder("protocols").rglob("*.protocol"))
#: Those that are torn below, 36 times each: every kind of line stands in one of them.
TORN = [
    path
    for path in SHIPPED
    if path.parent.name
    in ("data", "imaging-room-2", "imaging-room-3", "rules", "templates", "vocabulary")
]


def shown(path: Path) -> str:
    return str(path.relative_to(folder("protocols")))


@pytest.mark.parametrize("path", SHIPPED, ids=shown)
def test_shipped_files_are_understood_whole(path: Path) -> None:
    found = load(path)
    assert found.findings == () and found.unchecked == ()
    assert found.complete
    assert (found.protocol is not None) == (found.files[-1].kind in ("protocol", "day"))


@pytest.mark.parametrize("path", faulty("names"), ids=lambda path: path.stem)
def test_annotated_files(path: Path) -> None:
    found = load(path, name=path.name)
    text = found.texts[path.name]
    assert sorted(told(text, found.findings)) == sorted(expected(text))
    assert not found.complete


@pytest.mark.parametrize(
    "path", sorted((CORPUS / "names" / "good").glob("*.protocol")), ids=lambda path: path.stem
)
def test_good_files_are_silent(path: Path) -> None:
    found = load(path)
    assert found.findings == () and found.complete


def _steps(items: tuple[Item, ...]) -> list[Step]:
    steps: list[Step] = []
    for item in items:
        match item:
            case Step():
                steps.append(item)
            case SideBySide():
                steps += [step for _, inner in item.lanes for step in _steps(inner)]
            case Where():
                steps += [step for _, inner in item.branches for step in _steps(inner)]
            case Either():
                steps += [step for way in item.ways for step in _steps(way)]
            case Border() | Again() | RoundEnds():
                pass
            case _:
                steps += _steps(item.items)
    return steps


def _protocols() -> list[tuple[str, Protocol]]:
    found = [(shown(path), load(path).protocol) for path in SHIPPED]
    return [(name, protocol) for name, protocol in found if protocol is not None]


@pytest.mark.parametrize(
    "protocol", [p for _, p in _protocols()], ids=[name for name, _ in _protocols()]
)
def test_the_shipped_vocabulary_has_no_clash_in_any_room(protocol: Protocol) -> None:
    # A day may hold one verb twice, as it reads in each protocol: "gloves" names other things.
    every = [Form(at, f) for at, verb in enumerate(protocol.verbs) for f in verb.frames]
    forms = list({form.frame.place: form for form in every}.values())
    names = [Name(p.name, p.kind.value) for p in protocol.people.values()]
    names += [Name(t.name, t.kind, True) for t in protocol.things.values()]
    names += [Name(g.name, "group", members=g.members) for g in protocol.groups.values()]
    names += [Name(stream, "stream") for stream in protocol.streams]
    names += [Name(place, "place") for place in protocol.places]
    assert [clash.sentence for clash in clashes(forms, names)] == []


@pytest.mark.parametrize(
    "protocol", [p for _, p in _protocols()], ids=[name for name, _ in _protocols()]
)
def test_every_step_of_a_shipped_protocol_names_what_is_declared(protocol: Protocol) -> None:
    known = {*protocol.people, *protocol.things, *protocol.streams, *protocol.places}
    steps = [step for phase in protocol.phases for step in _steps(phase.items)]
    assert len(steps) > 5
    for step in steps:
        if isinstance(step.does, Doing):
            assert step.does.verb in protocol.verbs
            assert {name for names in step.does.filled.values() for name in names} <= known


def test_files_come_in_import_order_each_once() -> None:
    path = folder("protocols") / "imaging-room-2" / "intraoral-wired-sensor.protocol"
    found = load(path, name="mine.protocol")
    assert [source.kind for source in found.files] == ["data", "words", "data", "room", "protocol"]
    assert found.files[-1].file == "mine.protocol"
    assert set(found.texts) == {source.file for source in found.files}
    assert found.protocol is not None and found.protocol.files == found.files


def test_a_name_declared_in_two_files_is_told_with_both_places(tmp_path: Path) -> None:
    room = tmp_path / "annex.protocol"
    room.write_text(
        'room "Annex"\n  takes words from "Imaging room 2"\n\nthings\n  Keyboard: surface\n'
    )
    protocol = tmp_path / "p.protocol"
    protocol.write_text(
        'protocol "P"\n  takes words from "Annex"\n\nphase "V"\n'
        "  [ ] operator opens the record at keyboard\n"
    )
    found = load(protocol)
    (finding,) = found.findings
    assert finding.kind == "declared-twice"
    assert finding.place is not None and finding.place.file.endswith("annex.protocol")
    ((role, first),) = finding.others
    assert role == "first" and first.file.endswith("imaging-room-2.protocol")


def test_two_rooms_that_share_a_vocabulary_are_no_trouble(tmp_path: Path) -> None:
    for name in ("East", "West"):
        (tmp_path / f"{name.lower()}.protocol").write_text(
            f'room "{name}"\n  takes words from "Dental imaging"\n\n'
            f"things\n  {name} sink: surface\n"
        )
    protocol = tmp_path / "p.protocol"
    protocol.write_text(
        'protocol "P"\n  takes words from "East", "West"\n\npeople\n  nurse: staff\n\n'
        'phase "V"\n  [ ] nurse works at east sink and west sink\n'
    )
    assert load(protocol).findings == ()


def test_a_file_that_is_missing_is_the_only_finding(tmp_path: Path) -> None:
    protocol = tmp_path / "p.protocol"
    protocol.write_text(
        'protocol "P"\n  takes words from "Nowhere at all"\n\n'
        'phase "V"\n  [ ] nurse works at east sink\n      only when moon full\n'
    )
    found = load(protocol)
    assert [finding.kind for finding in found.findings] == ["words-not-found"]
    assert not found.complete


def test_a_file_that_cannot_be_read_at_all(tmp_path: Path) -> None:
    with pytest.raises(Unreadable):
        load(tmp_path / "no.protocol")


def test_loading_twice_gives_the_same() -> None:
    path = SHIPPED[0]
    assert load(path) == load(path)


def test_reading_again_is_quick() -> None:
    """The shared files are read once in a process; names are looked up each time."""
    path = folder("protocols") / "imaging-room-2" / "intraoral-wired-sensor.protocol"
    load(path)
    start = time.process_time()
    load(path)
    assert time.process_time() - start < 0.5


@pytest.mark.parametrize("path", TORN, ids=shown)
def test_mutilated_files_are_told_about_and_never_more(path: Path) -> None:
    """Each line in turn left out, doubled or cut: findings lie in the files, nothing is raised."""
    lines = path.read_text(encoding="utf-8").split("\n")
    for at in range(0, len(lines), max(1, len(lines) // 12)):
        for changed in (
            [*lines[:at], *lines[at + 1 :]],
            [*lines[: at + 1], *lines[at:]],
            [*lines[:at], lines[at][: len(lines[at]) // 2] or "x", *lines[at + 1 :]],
        ):
            text = "\n".join(changed)
            if not text.strip():
                continue
            found = load_text(decode(text.encode(), "changed.protocol"), path.parent)
            for finding in found.findings:
                if finding.place is not None:
                    marked = found.texts[finding.place.file].marked(finding.place)
                    assert marked
            assert not (found.findings and found.complete)
