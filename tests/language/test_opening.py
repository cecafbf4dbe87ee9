"""Taking words from other files: by title, from its own folder or the shipped one, nowhere else."""

from __future__ import annotations

import os
from collections import OrderedDict
from pathlib import Path

import pytest

from protocol_lang.language import opening as module
from protocol_lang.language.limits import MAX_FILES
from protocol_lang.language.opening import Opening, open_file, open_text, slug
from protocol_lang.resources import folder
from protocol_lang.text import Unreadable, decode


@pytest.fixture
def shipped(tmp_path: Path) -> Path:
    path = tmp_path / "shipped"
    write(path, "Germs", "data")
    write(path / "deep", "Imaging", "words", "Germs")
    return path


def write(where: Path, title: str, kind: str, *takes: str) -> Path:
    where.mkdir(parents=True, exist_ok=True)
    path = where / f"{slug(title)}.protocol"
    lines = [f'{kind} "{title}"', *(f'  takes words from "{other}"' for other in takes)]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def titles(opened: Opening) -> list[str]:
    return [file.file.title.plain for file in opened.files if file.file.title is not None]


def kinds(opened: Opening) -> list[str]:
    return [finding.kind for finding in opened.findings]


def test_the_shipped_protocols_open():
    library = folder("protocols")
    for path in library.rglob("*.protocol"):
        opened = open_file(path, library)
        assert opened.findings == () and opened.missing == ()
        assert all(file.packaged for file in opened.files)


def test_files_come_before_those_that_take_from_them(tmp_path: Path, shipped: Path):
    home = tmp_path / "home"
    write(home / "rooms", "Room 2", "room", "Imaging")
    main = write(home, "Visit", "protocol", "Room 2", "Germs")
    opened = open_file(main, shipped, "home/visit.protocol")
    assert titles(opened) == ["Germs", "Imaging", "Room 2", "Visit"]
    assert [file.packaged for file in opened.files] == [True, True, False, False]
    assert [file.text.file for file in opened.files] == [
        os.path.join("shipped", "germs.protocol"),
        os.path.join("shipped", "deep", "imaging.protocol"),
        os.path.join("home", "rooms", "room-2.protocol"),
        "home/visit.protocol",
    ]
    assert opened.findings == ()


def test_a_file_of_ones_own_goes_before_a_shipped_one(tmp_path: Path, shipped: Path):
    write(tmp_path / "home", "Germs", "data")
    main = write(tmp_path / "home", "Visit", "protocol", "Germs")
    [germs, _] = open_file(main, shipped).files
    assert not germs.packaged


def test_two_editions_of_one_title_do_not_go_together(tmp_path: Path, shipped: Path):
    germs = write(tmp_path / "home", "Germs", "data")
    main = write(tmp_path / "home", "Visit", "protocol", "Germs", "Imaging")
    germs.write_text(germs.read_text("utf-8") + "  edition 2\n", "utf-8")
    opened = open_file(main, shipped)
    assert kinds(opened) == ["words-found-twice"]
    assert [words.plain for words in opened.missing] == ["Germs"]


def test_two_copies_of_one_text_are_one_file(tmp_path: Path, shipped: Path):
    write(tmp_path / "home", "Germs", "data")
    main = write(tmp_path / "home", "Visit", "protocol", "Germs", "Imaging")
    opened = open_file(main, shipped)
    assert kinds(opened) == []
    assert titles(opened) == ["Germs", "Imaging", "Visit"]


def test_two_files_of_one_name_are_told(tmp_path: Path, shipped: Path):
    write(tmp_path / "home" / "a", "Room", "room")
    write(tmp_path / "home" / "b", "Room", "room")
    opened = open_file(write(tmp_path / "home", "Visit", "protocol", "Room"), shipped)
    assert kinds(opened) == ["words-found-twice"]
    a, b = os.path.join("a", "room.protocol"), os.path.join("b", "room.protocol")
    assert opened.findings[0].facts["files"] == f"{a}, {b}"


def test_words_are_not_looked_for_above_the_folder(tmp_path: Path, shipped: Path):
    write(tmp_path, "Room", "room")
    main = write(tmp_path / "home", "Visit", "protocol", "Room")
    assert kinds(open_file(main, shipped)) == ["words-not-found"]


@pytest.mark.parametrize(
    "title",
    ["../room", "/etc/passwd", "a\\b", "http://host/room", "C:room", ".room", "..", "…"],
)
def test_a_way_to_a_file_is_no_title(tmp_path: Path, shipped: Path, title: str):
    write(tmp_path, "Room", "room")
    path = tmp_path / "home" / "visit.protocol"
    path.parent.mkdir()
    path.write_text(f'protocol "Visit"\n  takes words from "{title}"\n', encoding="utf-8")
    opened = open_file(path, shipped)
    assert kinds(opened) == ["title-is-path"]
    place = opened.findings[0].place
    assert place is not None and opened.files[-1].text.marked(place) == title


def test_links_do_not_lead_out(tmp_path: Path, shipped: Path):
    outside = write(tmp_path / "outside", "Room", "room")
    home = tmp_path / "home"
    main = write(home, "Visit", "protocol", "Room")
    (home / "room.protocol").symlink_to(outside)
    (home / "folder").symlink_to(tmp_path / "outside", target_is_directory=True)
    assert kinds(open_file(main, shipped)) == ["words-not-found"]
    (home / "room.protocol").unlink()
    write(home / "in", "Room", "room")
    (home / "in" / "room.protocol").rename(home / "in" / "real.txt")
    (home / "room.protocol").symlink_to(home / "in" / "real.txt")
    assert kinds(open_file(main, shipped)) == []


def test_folders_that_are_hidden_are_left_out(tmp_path: Path, shipped: Path):
    write(tmp_path / "home" / ".old", "Room", "room")
    main = write(tmp_path / "home", "Visit", "protocol", "Room")
    assert kinds(open_file(main, shipped)) == ["words-not-found"]


def test_circles_are_shown(tmp_path: Path, shipped: Path):
    home = tmp_path / "home"
    write(home, "One", "room", "Two")
    write(home, "Two", "words", "Three")
    write(home, "Three", "words", "One")
    main = write(home, "Visit", "protocol", "One", "Two")
    opened = open_file(main, shipped)
    assert kinds(opened) == ["takes-words-in-circle"]
    assert opened.findings[0].facts["circle"] == '"One", "Two", "Three", "One"'
    assert titles(opened) == ["Three", "Two", "One", "Visit"]


def test_a_file_that_takes_words_from_itself(tmp_path: Path, shipped: Path):
    main = write(tmp_path / "home", "Room", "room", "Room")
    assert kinds(open_file(main, shipped)) == ["takes-words-in-circle"]
    text = decode(main.read_bytes(), "f")
    assert kinds(open_text(text, None, shipped)) == ["takes-words-in-circle"]


def test_a_first_file_without_a_title_is_not_opened_twice(tmp_path: Path, shipped: Path):
    main = write(tmp_path / "home", "Room", "room", "Room")
    main.write_text('room Room\n  takes words from "Room"\n', encoding="utf-8")
    opened = open_file(main, shipped)
    assert kinds(opened) == ["quotes-missing", "takes-words-in-circle"]
    assert len(opened.files) == 1


def test_each_file_once(tmp_path: Path, shipped: Path):
    home = tmp_path / "home"
    write(home, "Base", "words")
    write(home, "Left", "words", "Base")
    write(home, "Right", "words", "Base")
    opened = open_file(write(home, "Visit", "protocol", "Left", "Right", "Base"), shipped)
    assert titles(opened) == ["Base", "Left", "Right", "Visit"]
    assert opened.findings == ()


def test_faults_in_a_file_taken_from_are_told_once(tmp_path: Path, shipped: Path):
    home = tmp_path / "home"
    path = write(home, "Base", "words")
    path.write_text('words "Base"\n  edition x\n', encoding="utf-8")
    write(home, "Left", "words", "Base")
    opened = open_file(write(home, "Visit", "protocol", "Left", "Base"), shipped)
    assert kinds(opened) == ["not-a-number"]


def test_a_file_that_cannot_be_read(tmp_path: Path, shipped: Path):
    home = tmp_path / "home"
    write(home, "Base", "words").write_bytes(b"\xff")
    opened = open_file(write(home, "Visit", "protocol", "Base"), shipped)
    assert kinds(opened) == ["words-unreadable"]
    assert opened.findings[0].facts["why"] == "file-not-utf8"
    with pytest.raises(Unreadable):
        open_file(home / "base.protocol", shipped)
    (home / "base.protocol").unlink()
    (home / "base.protocol").mkdir()
    assert kinds(open_file(home / "visit.protocol", shipped)) == ["words-not-found"]


def test_titles_and_kinds_are_compared(tmp_path: Path, shipped: Path):
    home = tmp_path / "home"
    write(home, "Base", "words").write_text('words "Other"\n', encoding="utf-8")
    write(home, "Second visit", "protocol")
    opened = open_file(write(home, "Visit", "protocol", "Base", "Second visit"), shipped)
    assert kinds(opened) == ["title-differs", "takes-from-protocol"]


def test_a_near_title_is_named_when_it_is_sure(tmp_path: Path, shipped: Path):
    opened = open_file(write(tmp_path / "home", "Visit", "protocol", "Imagin"), shipped)
    assert opened.findings[0].facts["meant"] == "Imaging"
    opened = open_file(write(tmp_path / "home", "Visit", "protocol", "Something"), shipped)
    assert "meant" not in opened.findings[0].facts


def test_number_of_files_at_the_edge(tmp_path: Path, shipped: Path):
    home = tmp_path / "home"
    for number in range(MAX_FILES + 2):
        write(home, f"W {number}", "words")
    good = write(home, "Visit", "protocol", *(f"W {n}" for n in range(MAX_FILES)))
    assert kinds(open_file(good, shipped)) == []
    more = write(home, "Visit", "protocol", *(f"W {n}" for n in range(MAX_FILES + 2)))
    assert kinds(open_file(more, shipped)) == ["too-many-files"]


def test_a_folder_with_too_much_in_it(
    tmp_path: Path, shipped: Path, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setattr(module, "MAX_ENTRIES", 3)
    home = tmp_path / "home"
    for number in range(4):
        write(home, f"W {number}", "words")
    opened = open_file(write(home, "Visit", "protocol", "W 1"), shipped)
    assert kinds(opened) == ["folder-too-large"]


def test_files_that_are_too_large_together(
    tmp_path: Path, shipped: Path, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setattr(module, "MAX_TOTAL_BYTES", 30)
    opened = open_file(write(tmp_path / "home", "Visit", "protocol", "Imaging"), shipped)
    assert kinds(opened) == ["too-large-together"]


@pytest.mark.parametrize(
    ("title", "name"),
    [
        ("Imaging room 2", "imaging-room-2"),
        ("Intraoral, wired sensor", "intraoral-wired-sensor"),
        ("  Ein-Bild  (groß) ", "ein-bild-gross"),
        ("एक्स-रे कक्ष", "एक्स-रे-कक्ष"),
        ("...", ""),
    ],
)
def test_titles_become_names_of_files(title: str, name: str):
    assert slug(title) == name


def test_a_copy_in_a_folder_below_does_not_count(tmp_path: Path, shipped: Path):
    home = tmp_path / "home"
    mine = write(home, "Room", "room")
    write(home / "old", "Room", "room")
    write(home / "old" / "older", "Room", "room")
    opened = open_file(write(home, "Visit", "protocol", "Room"), shipped, "visit.protocol")
    assert kinds(opened) == []
    assert opened.files[0].text.file == "room.protocol"
    mine.unlink()
    opened = open_file(home / "visit.protocol", shipped, "visit.protocol")
    assert opened.files[0].text.file == os.path.join("old", "room.protocol")
    write(home / "new", "Room", "room")
    assert kinds(open_file(home / "visit.protocol", shipped)) == ["words-found-twice"]


def test_a_title_that_two_files_share_is_told_as_such(tmp_path: Path, shipped: Path):
    write(tmp_path / "home", "Room", "room")
    path = tmp_path / "home" / "visit.protocol"
    path.write_text('protocol "Room"\n  takes words from "Room"\n', encoding="utf-8")
    opened = open_file(path, shipped)
    assert kinds(opened) == ["title-shared"]
    assert opened.findings[0].facts == {"title": "Room", "file": "room.protocol"}


# --- Folders that are looked through once --------------------------------------------------------


@pytest.fixture
def looks(monkeypatch: pytest.MonkeyPatch) -> list[Path]:
    """The folders that are looked through, one after the other."""
    monkeypatch.setattr(module, "_listings", OrderedDict())
    seen: list[Path] = []
    listed = module._listed

    def noted(root: Path) -> object:
        seen.append(root)
        return listed(root)

    monkeypatch.setattr(module, "_listed", noted)
    return seen


def _long_ago(*folders: Path) -> None:
    """They have not been changed for a while."""
    for one in folders:
        os.utime(one, (1_000_000_000, 1_000_000_000))


def test_a_folder_of_many_files_is_looked_through_once(
    tmp_path: Path, shipped: Path, looks: list[Path]
):
    home = tmp_path / "home"
    write(home / "below", "Room", "room")
    files = [write(home, f"Visit {number}", "protocol", "Room") for number in range(5)]
    _long_ago(home, home / "below")
    for path in files:
        assert titles(open_file(path, shipped))[0] == "Room"
    assert looks.count(home) == 1


def test_a_folder_that_has_just_changed_is_looked_through_again(
    tmp_path: Path, shipped: Path, looks: list[Path]
):
    home = tmp_path / "home"
    path = write(home, "Visit", "protocol", "Room")
    assert kinds(open_file(path, shipped)) == ["words-not-found"]
    write(home, "Room", "room")
    assert kinds(open_file(path, shipped)) == []
    assert looks.count(home) == 2


@pytest.mark.parametrize("deep", ["", "below", "below/further"])
def test_what_comes_and_goes_in_a_folder_below_is_seen(
    tmp_path: Path, shipped: Path, looks: list[Path], deep: str
):
    home = tmp_path / "home"
    path = write(home, "Visit", "protocol", "Room")
    (home / "below" / "further").mkdir(parents=True)
    folders = (home, home / "below", home / "below" / "further")
    _long_ago(*folders)
    assert kinds(open_file(path, shipped)) == ["words-not-found"]
    room = write(home / deep, "Room", "room")
    assert kinds(open_file(path, shipped)) == []
    _long_ago(*folders)
    assert kinds(open_file(path, shipped)) == []
    room.unlink()
    assert kinds(open_file(path, shipped)) == ["words-not-found"]


def test_where_there_are_links_nothing_is_kept(tmp_path: Path, shipped: Path, looks: list[Path]):
    """What a link leads to may change, and the folder that holds the link does not tell."""
    home = tmp_path / "home"
    path = write(home, "Visit", "protocol", "Room")
    inside, outside = write(home / "old", "Other", "room"), write(tmp_path / "away", "Room", "room")
    inside.write_text('room "Room"\n', "utf-8")
    (home / "room.protocol").symlink_to(home / "aim")
    (home / "aim").symlink_to(inside)
    _long_ago(home, home / "old")
    assert kinds(open_file(path, shipped)) == []
    (home / "aim").unlink()
    (home / "aim").symlink_to(outside)
    _long_ago(home)
    assert kinds(open_file(path, shipped)) == ["words-not-found"]


def test_few_folders_are_kept(tmp_path: Path, shipped: Path, looks: list[Path]):
    for number in range(3 * module.MOST_LISTINGS):
        home = tmp_path / f"home {number}"
        path = write(home, "Visit", "protocol", "Imaging")
        _long_ago(home)
        open_file(path, shipped)
    assert len(module._listings) <= module.MOST_LISTINGS
