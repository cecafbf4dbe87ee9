"""A folder with good, bad, broken and hostile files: what is told of each, and that none stops the
rest."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from protocol_lang.audit import gather as gathering
from protocol_lang.audit.gather import TooMany, gather
from protocol_lang.audit.views import grouped, standing
from protocol_lang.audited import Audit
from protocol_lang.outcome import Standing
from tests.audit.clinics import FAULTY, GOOD, SPELT_WRONG, audited, hostile, room, write

pytestmark = pytest.mark.skipif(os.name == "nt", reason="pipes and links are told apart elsewhere")


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    where = tmp_path_factory.mktemp("clinics") / "clinic"
    where.mkdir()
    room(where)
    hostile(where)
    write(where, "faulty", FAULTY)
    write(where, "north/faulty-too", FAULTY.replace('"Faulty"', '"Faulty too"'))
    write(where, "spelt-wrong", SPELT_WRONG)
    return where


@pytest.fixture(scope="module")
def made(folder: Path) -> Audit:
    return audited(folder, workers=2)


@pytest.mark.parametrize(
    ("name", "state", "cause", "told"),
    [
        ("good.protocol", "checked", None, ""),
        ("faulty.protocol", "checked", None, ""),
        ("spelt-wrong.protocol", "broken text", None, ""),
        ("empty.protocol", "not checked", "unreadable", "is empty"),
        ("large.protocol", "not checked", "unreadable", "larger than 1 MiB"),
        ("binary.protocol", "not checked", "unreadable", "not a text"),
        ("pipe.protocol", "not checked", "unreadable", "neither a file nor a folder"),
        ("out.protocol", "not checked", "link", "leads out of the folder"),
        ("gone.protocol", "not checked", "link", "leads nowhere"),
        ("in-ring.protocol", "broken text", None, ""),
        ("steer\x1b[2J<b>=1+1\n.protocol", "checked", None, ""),
        ("imaging-room-2.protocol", "not a protocol", None, ""),
    ],
)
def test_what_is_told_of_each(made: Audit, name: str, state: str, cause: str | None, told: str):
    (file,) = (one for one in made.files if one.file == name)
    assert (file.state, file.cause) == (state, cause)
    assert told in (file.reason or "")
    assert (file.state == "not checked") <= bool(file.reason)


def test_every_file_is_listed_once_and_in_order(made: Audit):
    names = [file.file for file in made.files]
    assert names == sorted(set(names)) and len(names) == 15


def test_what_a_link_leads_to_outside_is_not_read(made: Audit):
    assert "secret words" not in repr(made)


def test_a_circle_is_told(made: Audit):
    kinds = {file.file: {one.kind for one in file.found} for file in made.files}
    assert kinds["in-ring.protocol"] == {"takes-words-in-circle"}


def test_the_same_finding_of_many_files_is_one_with_the_list(made: Audit):
    shared = [group for group in grouped(made).values() if group.first.kind == "cover-not-on"]
    assert [group.files for group in shared] == [("faulty.protocol", "north/faulty-too.protocol")]
    assert shared[0].open == shared[0].files


def test_the_whole_is_to_correct_and_an_empty_one_is_not_clear(made: Audit, tmp_path: Path):
    assert standing(made) is Standing.CORRECT
    assert standing(audited(tmp_path)) is Standing.UNCHECKED


def test_only_what_could_not_be_looked_at_is_partly_checked(tmp_path: Path):
    write(tmp_path, "good", GOOD)
    write(tmp_path, "empty", "")
    assert standing(audited(tmp_path)) is Standing.UNCHECKED


def test_a_link_within_is_looked_at_once(tmp_path: Path):
    write(tmp_path, "good", GOOD)
    (tmp_path / "again.protocol").symlink_to(tmp_path / "good.protocol")
    assert [one.name for one in gather([tmp_path])] == ["good.protocol"]


def test_names_do_not_depend_on_where_the_folder_lies(tmp_path: Path, monkeypatch):
    for clinic in ("a/clinic", "b/clinic"):
        write(tmp_path / clinic, "deep/good", GOOD)
    one = [found.name for found in gather([tmp_path / "a" / "clinic"])]
    monkeypatch.chdir(tmp_path / "b" / "clinic")
    assert one == [found.name for found in gather([Path(".")])] == ["deep/good.protocol"]
    both = gather([tmp_path / "a" / "clinic", tmp_path / "b" / "clinic"])
    assert [f.name for f in both] == [
        "a/clinic/deep/good.protocol",
        "b/clinic/deep/good.protocol",
    ]


def test_more_files_than_the_limit_are_refused(tmp_path: Path, monkeypatch):
    monkeypatch.setattr(gathering, "MOST_FILES", 2)
    for number in range(3):
        write(tmp_path, f"good-{number}", GOOD)
    with pytest.raises(TooMany, match="more than 2 files"):
        gather([tmp_path])


def test_imports_never_leave_their_folder(tmp_path: Path):
    """A title that is a path is refused, and a file beside the folder is not found."""
    write(tmp_path, "outside", 'words "Outside"\n  edition 1\n')
    inner = tmp_path / "clinic"
    write(inner, "one", GOOD.replace('"Imaging room 2"', '"Imaging room 2", "Outside"'))
    write(inner, "two", GOOD.replace('"Imaging room 2"', '"Imaging room 2", "../outside"'))
    kinds = [{one.kind for one in file.found} for file in audited(inner).files]
    assert kinds == [{"words-not-found"}, {"title-is-path"}]
