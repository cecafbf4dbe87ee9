"""The commands that explain, start and neaten, from the command line to the file."""

from __future__ import annotations

import os

import pytest

from protocol_lang.cli import main
from protocol_lang.cli.exits import CannotCarryOut, ExitCode
from protocol_lang.cli.titles import file_name
from protocol_lang.report.explained import Subject, Unknown, find, subjects
from protocol_lang.resources import folder
from protocol_lang.wording import ENTRIES
from protocol_lang.wording.constructs import CONSTRUCTS

# --- explain -------------------------------------------------------------------------------------


@pytest.mark.parametrize("entry", ENTRIES.values(), ids=lambda entry: entry.kind)
def test_every_kind_of_finding_is_explained_by_name_and_by_number(entry, capsys):
    assert main(["explain", entry.kind]) == ExitCode.CLEAR
    by_name = capsys.readouterr().out
    assert main(["explain", entry.number.lower()]) == ExitCode.CLEAR
    assert capsys.readouterr().out == by_name
    assert by_name.startswith(f"{entry.kind} ({entry.number}), a kind of finding\n")
    assert ("Good:" in by_name) == bool(entry.good)
    assert ("Faulty:" in by_name) == bool(entry.faulty)


@pytest.mark.parametrize("construct", CONSTRUCTS, ids=lambda construct: construct.name)
def test_every_construct_is_explained_by_each_of_its_names(construct, capsys):
    for name in (construct.name, *construct.also):
        assert main(["explain", *name.split()]) == ExitCode.CLEAR
        shown = capsys.readouterr().out
        assert shown.startswith(f"{construct.name}, a word of the language")
        assert "Good:" in shown and "Faulty:" in shown


def test_names_of_constructs_and_kinds_are_each_used_once():
    names = [each.name for each in subjects()]
    assert len(names) == len(set(names))
    further = [name for each in subjects() for name in each.also]
    assert len(further) == len(set(further))
    assert not set(names) & set(further)


def test_an_example_is_shown_as_it_would_be_written(capsys):
    main(["explain", "clean-thing-reached"])
    shown = capsys.readouterr().out
    example = "".join(
        f"    {line}".rstrip() + "\n" for line in ENTRIES["clean-thing-reached"].good.splitlines()
    )
    assert example in shown


def test_a_verb_is_explained_by_its_form_and_by_a_word_of_it(capsys):
    assert main(["explain", "cleans hands"]) == ExitCode.CLEAR
    shown = capsys.readouterr().out
    assert shown.startswith("ACTOR cleans hands, a verb\n")
    assert "Rubs bare hands with alcohol" in shown
    assert "      reduce ACTOR's hands to hand rub\n" in shown
    assert main(["explain", "disinfects"]) == ExitCode.CLEAR
    assert capsys.readouterr().out.count(", a verb\n") == 4


def test_explain_alone_lists_all_that_can_be_explained(capsys):
    assert main(["explain"]) == ExitCode.CLEAR
    shown = capsys.readouterr().out.splitlines()
    for entry in ENTRIES.values():
        assert f"    {entry.kind} ({entry.number})" in shown
    for construct in CONSTRUCTS:
        assert f"    {construct.name}" in shown
    assert "    ACTOR cleans hands" in shown


@pytest.mark.parametrize(
    ("word", "nearest"),
    [("in one goo", "in one go"), ("path-to-pateint", "path-to-patient"), ("zebra", None)],
)
def test_an_unknown_word_is_told_and_the_nearest_only_when_sure(word, nearest, capsys):
    assert main(["explain", word]) == ExitCode.NOT_CARRIED_OUT
    told = capsys.readouterr()
    assert not told.out
    assert f'Nothing is explained under "{word}".' in told.err
    assert ("The nearest is" in told.err) == bool(nearest)
    if nearest:
        assert f'The nearest is "{nearest}".' in told.err


def test_of_two_near_names_neither_is_offered():
    def subject(name: str) -> Subject:
        return Subject(subjects()[0].sort, name, (), "")

    assert find("stepp", [subject("steps"), subject("step p")]) == Unknown("stepp", None)
    assert find("stepp", [subject("steps"), subject("zebra")]) == Unknown("stepp", "steps")


def test_control_characters_in_a_word_are_shown_as_escapes(capsys):
    assert main(["explain", "a\x1b[2Jb"]) == ExitCode.NOT_CARRIED_OUT
    assert "\x1b" not in capsys.readouterr().err


# --- start ---------------------------------------------------------------------------------------


@pytest.fixture(autouse=True)
def in_a_folder_of_its_own(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)


def test_start_writes_a_protocol_with_that_title(tmp_path, capsys):
    assert main(["start", "Panoramic,  room 4"]) == ExitCode.CLEAR
    assert [path.name for path in tmp_path.iterdir()] == ["panoramic-room-4.protocol"]
    text = (tmp_path / "panoramic-room-4.protocol").read_text("utf-8")
    assert '\nprotocol "Panoramic, room 4"\n' in text
    assert "New protocol" not in text
    assert text.endswith("\n") and not text.endswith("\n\n")
    assert '"panoramic-room-4.protocol" was written.' in capsys.readouterr().out


def test_a_new_file_gets_the_permissions_of_any_new_file(tmp_path):
    main(["start", "One"])
    (tmp_path / "other").write_text("")
    assert (tmp_path / "one.protocol").stat().st_mode == (tmp_path / "other").stat().st_mode


@pytest.mark.parametrize("link", [False, True])
def test_start_never_touches_what_is_there(tmp_path, capsys, link):
    path = tmp_path / "one.protocol"
    if link:
        path.symlink_to("nowhere")
    else:
        path.write_text("mine")
    assert main(["start", "One"]) == ExitCode.NOT_CARRIED_OUT
    assert "is there already, and was left as it is" in capsys.readouterr().err
    assert path.is_symlink() == link
    assert link or path.read_text() == "mine"
    assert len(list(tmp_path.iterdir())) == 1


def test_where_files_have_one_name_only_start_still_replaces_nothing(tmp_path, monkeypatch, capsys):
    def refuses(*_args, **_more):
        raise OSError(1, "Operation not permitted")

    monkeypatch.setattr(os, "link", refuses)
    assert main(["start", "One"]) == ExitCode.CLEAR
    assert main(["start", "One"]) == ExitCode.NOT_CARRIED_OUT
    assert "is there already" in capsys.readouterr().err
    assert [path.name for path in tmp_path.iterdir()] == ["one.protocol"]


def test_a_disk_that_is_full_leaves_nothing_half_written(tmp_path, monkeypatch, capsys):
    def full(_handle):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    assert main(["start", "One"]) == ExitCode.NOT_CARRIED_OUT
    assert "could not be written: No space left on device." in capsys.readouterr().err
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize(
    ("title", "name"),
    [
        ("Imaging room 12", "imaging-room-12"),
        ("Intraoral, film", "intraoral-film"),
        ("../../etc/passwd", "etc-passwd"),
        ("Röntgen", "röntgen"),
        ("गीला कमरा", "गीला-कमरा"),
        ("a.b", "a-b"),
    ],
)
def test_names_of_files_are_letters_figures_and_hyphens(title, name):
    assert file_name(title) == name


@pytest.mark.parametrize(
    "title", ["", "...", "con", "LPT1", 'a "b"', "a\x07b", "\N{RIGHT-TO-LEFT OVERRIDE}x", "a" * 81]
)
def test_titles_that_cannot_be_are_refused(title):
    with pytest.raises(CannotCarryOut):
        file_name(title)


def test_the_template_has_the_title_that_start_replaces_once():
    template = (folder("protocols") / "templates" / "new-protocol.protocol").read_text("utf-8")
    assert template.count('protocol "New protocol"') == 1


# --- neaten --------------------------------------------------------------------------------------


NEAT = """protocol "Hands"
  edition 1

phase "Start"
  # Before anything else.
  [ ] operator cleans hands
"""
UNTIDY = NEAT.replace('"Hands"\n', '"Hands"\n\n\n').replace("  [ ]", "  [ ]   ")
FAULTY = NEAT.replace("edition 1", "edition one")


def test_neaten_shows_the_neat_text_and_leaves_the_file(tmp_path, capsys):
    path = tmp_path / "a.protocol"
    path.write_text(UNTIDY)
    assert main(["neaten", "a.protocol"]) == ExitCode.CLEAR
    assert capsys.readouterr().out == NEAT
    assert path.read_text() == UNTIDY


def test_neaten_writes_when_asked_and_says_which_files_changed(tmp_path, capsys):
    (tmp_path / "a.protocol").write_text(UNTIDY)
    (tmp_path / "b.protocol").write_text(NEAT)
    (tmp_path / "c.protocol").write_bytes(NEAT.replace("\n", "\r\n").encode())
    mode = (tmp_path / "a.protocol").stat().st_mode | 0o111
    (tmp_path / "a.protocol").chmod(mode)
    names = ["a.protocol", "b.protocol", "c.protocol"]
    assert main(["neaten", *names, "--write"]) == ExitCode.CLEAR
    assert capsys.readouterr().out.splitlines() == [
        '"a.protocol" was changed.',
        '"b.protocol" is neat already.',
        '"c.protocol" was changed.',
    ]
    assert [(tmp_path / name).read_bytes() for name in names] == [NEAT.encode()] * 3
    assert (tmp_path / "a.protocol").stat().st_mode == mode
    assert sorted(path.name for path in tmp_path.iterdir()) == names
    main(["neaten", *names, "--write"])
    assert capsys.readouterr().out.count("is neat already") == 3


def test_a_file_with_faults_is_left_as_it_is_and_the_faults_are_told(tmp_path, capsys):
    (tmp_path / "a.protocol").write_text(FAULTY)
    (tmp_path / "b.protocol").write_text(UNTIDY)
    assert main(["neaten", "a.protocol", "b.protocol", "--write"]) == ExitCode.TO_CORRECT
    told = capsys.readouterr()
    assert (tmp_path / "a.protocol").read_text() == FAULTY
    assert (tmp_path / "b.protocol").read_text() == NEAT
    assert told.err.startswith("a.protocol: one to correct.\n")
    assert "a.protocol:2:" in told.err
    assert told.out == '"b.protocol" was changed.\n'


def test_what_cannot_be_read_keeps_no_other_file_from_being_neat(tmp_path, capsys):
    (tmp_path / "a.protocol").mkdir()
    (tmp_path / "b.protocol").write_text(UNTIDY)
    assert main(["neaten", "a.protocol", "b.protocol", "--write"]) == ExitCode.NOT_CARRIED_OUT
    assert "a.protocol" in capsys.readouterr().err
    assert (tmp_path / "b.protocol").read_text() == NEAT


def test_neaten_writes_through_no_link(tmp_path, capsys):
    (tmp_path / "a.protocol").write_text(UNTIDY)
    (tmp_path / "b.protocol").symlink_to("a.protocol")
    assert main(["neaten", "b.protocol", "--write"]) == ExitCode.NOT_CARRIED_OUT
    assert "is a link or no file" in capsys.readouterr().err
    assert (tmp_path / "a.protocol").read_text() == UNTIDY


def test_a_full_disk_leaves_the_file_as_it_was(tmp_path, monkeypatch, capsys):
    def full(_handle):
        raise OSError(28, "No space left on device")

    (tmp_path / "a.protocol").write_text(UNTIDY)
    monkeypatch.setattr(os, "fsync", full)
    assert main(["neaten", "a.protocol", "--write"]) == ExitCode.NOT_CARRIED_OUT
    assert "could not be written: No space left on device." in capsys.readouterr().err
    assert [path.name for path in tmp_path.iterdir()] == ["a.protocol"]
    assert (tmp_path / "a.protocol").read_text() == UNTIDY


@pytest.mark.parametrize(
    "path", sorted(folder("protocols").rglob("*.protocol")), ids=lambda p: p.stem
)
def test_shipped_files_are_neat(path, capsys):
    assert main(["neaten", str(path)]) == ExitCode.CLEAR
    assert capsys.readouterr().out == path.read_text("utf-8")


def test_a_new_protocol_can_be_checked_and_has_nothing_to_correct(capsys):
    assert main(["start", "Ours"]) == ExitCode.CLEAR
    capsys.readouterr()
    assert main(["check", "ours.protocol"]) == ExitCode.CLEAR, capsys.readouterr().out
    assert "ours.protocol: nothing to correct.\n" in capsys.readouterr().out


@pytest.mark.parametrize("title", ["Imaging room 2", "dental imaging"])
def test_a_title_that_words_are_taken_from_is_refused(title):
    with pytest.raises(CannotCarryOut, match="Choose another title"):
        file_name(title)


def test_neat_text_for_a_file_is_the_same_in_every_encoding(tmp_path):
    """Letters that a screen lacks must not be lost on the way into a file."""
    import os
    import subprocess
    import sys

    text = (
        'protocol "Über गीला"\n  edition 1\n  takes words from "Imaging room 2"\n\nphase "All"\n'
        "  [ ] operator cleans hands\n"
    )
    path = tmp_path / "one.protocol"
    path.write_text(text, "utf-8")
    made = subprocess.run(
        [sys.executable, "-m", "protocol_lang", "neaten", str(path)],
        capture_output=True,
        env={**os.environ, "PYTHONIOENCODING": "cp1252", "PYTHONPATH": os.pathsep.join(sys.path)},
    )
    assert made.stdout.decode("utf-8") == text
