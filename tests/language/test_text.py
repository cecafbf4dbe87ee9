"""Level 0: bytes to lines, limits at their edges, and what a terminal is shown."""

from __future__ import annotations

import os
import stat
import sys
import unicodedata
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from protocol_lang.language.limits import MAX_BYTES, MAX_LINES
from protocol_lang.text import Place, Text, Unreadable, decode, read_text, shown, unwelcome


def refused(data: bytes) -> Unreadable:
    with pytest.raises(Unreadable) as caught:
        decode(data, "a.protocol")
    return caught.value


@pytest.mark.parametrize(
    "data",
    [
        b"one\ntwo\n",
        b"one\ntwo",
        b"\xef\xbb\xbfone\ntwo\n",
        b"one\r\ntwo\r\n",
        b"one\rtwo",
        b"one\r\ntwo\r",
    ],
)
def test_mark_and_line_ends_make_no_difference(data: bytes):
    assert decode(data, "f").lines == ("one", "two")


def test_only_real_line_ends_end_a_line():
    # Characters at which the standard library also splits lines.
    text = "a\x0bb\x0cc\x1cd\x85e\u2028f\u2029g"
    assert decode(text.encode(), "f").lines == (text,)


def test_size_at_the_edge():
    line = b"x" * 99 + b"\n"
    data = line * (MAX_BYTES // 100)
    data += b"y" * (MAX_BYTES - len(data))
    assert len(data) == MAX_BYTES
    decode(data, "f")
    assert refused(data + b"y").kind == "file-too-large"


def test_lines_at_the_edge():
    assert len(decode(b"x\n" * MAX_LINES, "f").lines) == MAX_LINES
    assert refused(b"x\n" * (MAX_LINES + 1)).kind == "file-too-many-lines"


@pytest.mark.parametrize("data", [b"", b"\n", b" \r\n\t", b"\xef\xbb\xbf"])
def test_nothing_but_blanks_is_empty(data: bytes):
    assert refused(data).kind == "file-empty"


@pytest.mark.parametrize(
    ("data", "line", "column"),
    [
        (b"\xff\xfea\x00", "1", "1"),  # UTF-16
        (b"one\r\n\xc3\xa9\xe9", "2", "2"),  # Latin-1 after a good letter
        (b"a\xed\xa0\x80", "1", "2"),  # a lone surrogate in bytes
        (b"a\xc0\xaf", "1", "2"),  # a letter in more bytes than it takes
        (b"a\xf4\x90\x80\x80", "1", "2"),  # beyond the last code point
    ],
)
def test_what_is_not_utf8_is_told_with_its_place(data: bytes, line: str, column: str):
    error = refused(data)
    assert error.kind == "file-not-utf8"
    assert (error.facts["line"], error.facts["column"]) == (line, column)


def test_files_that_are_none(tmp_path: Path):
    def kind(path: Path) -> str:
        with pytest.raises(Unreadable) as caught:
            read_text(path)
        return caught.value.kind

    assert kind(tmp_path / "missing") == "file-missing"
    assert kind(tmp_path) == "file-is-folder"
    assert kind(Path("a\0b")) == "file-unreadable"
    if hasattr(os, "mkfifo"):
        os.mkfifo(tmp_path / "pipe")  # opening it would wait for ever
        assert kind(tmp_path / "pipe") == "file-not-regular"
        assert kind(Path("/dev/zero")) == "file-not-regular"
    (tmp_path / "loop").symlink_to(tmp_path / "loop")
    assert kind(tmp_path / "loop") == "file-unreadable"
    (tmp_path / "large").write_bytes(b"x" * (10 * MAX_BYTES))
    assert kind(tmp_path / "large") == "file-too-large"


@pytest.mark.skipif(
    sys.platform == "win32" or os.geteuid() == 0, reason="here everything may be read"
)
def test_a_file_without_rights(tmp_path: Path):
    path = tmp_path / "secret"
    path.write_text("x")
    path.chmod(stat.S_IWUSR)
    with pytest.raises(Unreadable) as caught:
        read_text(path)
    assert caught.value.kind == "file-not-permitted"


def test_a_file_is_read_under_the_name_given(tmp_path: Path):
    (tmp_path / "x").write_bytes(b"one")
    assert read_text(tmp_path / "x", "shown").file == "shown"
    assert read_text(tmp_path / "x").file == str(tmp_path / "x")


def test_places_count_characters_from_one():
    text = Text("f", ("a 😀 b",))
    assert text.place(1, 2, 3) == Place("f", 1, 3, 4)
    assert text.marked(Place("f", 1, 3, 4)) == "😀"
    assert text.place(1, 4, 4) == Place("f", 1, 5, 6)  # never empty


@pytest.mark.parametrize(
    "letter",
    ["\x00", "\x1b", "\x7f", "\x85", "\u00ad", "\u200b", "\u200d", "\u202e", "\u2066", "\ufeff",
     "\u2028", "\ue000", "\u3164", "\u115f", "\u2800", "\U000e0041", "\ufe0f"],
)  # fmt: skip
def test_signs_that_nobody_sees_are_found(letter: str):
    [(position, name)] = unwelcome(f"ab{letter}c")
    assert position == 2
    assert name
    assert letter not in shown(f"ab{letter}c")


@pytest.mark.parametrize(
    "line", ["plain", "a\tb", "हाथ साफ़", "غسل اليدين", "ידיים", "手 洗い", "é e\u0301", "–“”×☐"]
)
def test_letters_of_every_language_are_welcome(line: str):
    assert list(unwelcome(line)) == []


@given(st.text())
def test_what_is_shown_cannot_steer_a_terminal(text: str):
    for letter in shown(text):
        assert unicodedata.category(letter) not in ("Cc", "Cf", "Cs", "Co", "Zl", "Zp")


def test_bytes_of_a_file_name_are_shown_as_escapes():
    assert shown(b"a\xff.protocol".decode("utf-8", "surrogateescape")) == "a\\udcff.protocol"
    assert shown("a\x1b[2Jb\n") == "a\\x1b[2Jb\\x0a"


@given(st.binary(max_size=200))
def test_any_bytes_become_lines_or_are_refused(data: bytes):
    try:
        text = decode(data, "f")
    except Unreadable as error:
        assert error.kind.startswith("file-")
    else:
        assert all("\n" not in line and "\r" not in line for line in text.lines)


# --- Signs that part or join letters -------------------------------------------------------------

NON_JOINER, JOINER = "\N{ZERO WIDTH NON-JOINER}", "\N{ZERO WIDTH JOINER}"


@pytest.mark.parametrize(
    "word",
    [
        f"می{NON_JOINER}شود",  # Persian: "becomes"
        f"دست{NON_JOINER}ها",  # Persian: "hands"
        f"क्{NON_JOINER}ष",  # Devanagari, the two letters side by side
        f"र्{JOINER}य",  # Devanagari, the half letter of Marathi and Nepali
        f"ന്{JOINER}റെ",  # Malayalam
        f"ක්{JOINER}ර",  # Sinhala
    ],
)
def test_signs_of_spelling_are_welcome_inside_a_word(word: str):
    assert list(unwelcome(f"  [ ] {word} x")) == []
    assert shown(word) == word


@pytest.mark.parametrize(
    "line",
    [
        f"oper{NON_JOINER}ator",
        f"oper{JOINER}ator",
        f"دست{NON_JOINER} ها",
        f"دست{NON_JOINER}{NON_JOINER}ها",
        f"{NON_JOINER}دست",
        f"دست{JOINER}",
        f"د{JOINER}a",
        f"د{NON_JOINER}क",
        f"د{JOINER}1",
        "\N{WOMAN}\N{ZERO WIDTH JOINER}\N{PERSONAL COMPUTER}",
    ],
)
def test_signs_of_spelling_are_refused_elsewhere(line: str):
    assert len(list(unwelcome(line))) >= 1
    assert "\\u200" in shown(line)
