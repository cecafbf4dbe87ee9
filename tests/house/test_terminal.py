"""What reaches the screen, and in which letters."""

from __future__ import annotations

import io
import json
import sys
import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from protocol_lang.cli import terminal

# Default_Ignorable and bidirectional controls after the Unicode Standard, section 23.2 to 23.9,
# and Unicode Standard Annex 9, table 1 (code points from memory).
MISLEADING = [
    *map(chr, range(0x0A)), *map(chr, range(0x0B, 0x20)), *map(chr, range(0x7F, 0xA0)),
    "\u061c", "\u200b", "\u200e", "\u200f", "\u202a", "\u202b", "\u202c", "\u202d", "\u202e",
    "\u2066", "\u2067", "\u2068", "\u2069", "\u2028", "\u2029", "\ufeff", "\u2060",
]  # fmt: skip


def screen(monkeypatch: pytest.MonkeyPatch, encoding: str) -> io.BytesIO:
    written = io.BytesIO()
    stream = io.TextIOWrapper(written, encoding=encoding, newline="", write_through=True)
    monkeypatch.setattr(sys, "stdout", stream)
    terminal.prepare()
    return written


@pytest.mark.parametrize("sign", MISLEADING, ids=lambda sign: f"{ord(sign):04x}")
def test_a_misleading_sign_is_shown_as_an_escape(sign):
    assert terminal.visible(f"a{sign}b") == f"a\\u{ord(sign):04x}b"


@pytest.mark.parametrize("text", ["ग्लव्स", "قفازات", "手套", "Küche", "क्‍ष", "a\nb", "☐ ⟦x⟧ 🦷"])
def test_ordinary_text_is_shown_as_it_is(text):
    assert terminal.visible(text) == text


@given(st.text(st.characters(exclude_categories=())))
def test_nothing_shown_controls_the_screen(text):
    shown = terminal.visible(text)
    assert terminal.visible(shown) == shown
    assert not [c for c in shown if unicodedata.category(c) in ("Cc", "Cs", "Zl") and c != "\n"]
    assert "\n" not in terminal.visible_in_line(text)


def test_bytes_of_a_file_name_that_are_not_text_are_shown_as_bytes():
    name = b"room-\xff.protocol".decode("utf-8", "surrogateescape")
    assert terminal.visible(name) == r"room-\xff.protocol"


@given(st.text(st.characters(exclude_categories=())))
@pytest.mark.parametrize("encoding", ["ascii", "cp1252", "utf-8", "cp437"])
def test_every_text_can_be_written_in_every_encoding(encoding, text):
    with pytest.MonkeyPatch.context() as patch:
        written = screen(patch, encoding)
        terminal.say(text)
        terminal.finish()
        assert written.getvalue().decode(encoding).endswith("\n")


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("Zoë “aims” – 10² ≤ 134°", 'Zoe "aims" - 10^2 <= 134 degrees '),
        ("⟦Saal⟧ → ☐ next", "[[Saal]] -> [ ] next"),
        ("e\u0301", "e"),
        ("हाथ", r"\u0939\u093e\u0925"),
        ("½ dose", "1/2 dose"),
    ],
)
def test_a_screen_without_the_letter_gets_a_readable_stand_in(monkeypatch, text, expected):
    written = screen(monkeypatch, "ascii")
    terminal.say(text)
    assert written.getvalue().decode("ascii") == expected + "\n"


@given(st.text(st.characters(exclude_categories=())))
def test_text_for_programs_passes_unchanged(text):
    with pytest.MonkeyPatch.context() as patch:
        written = screen(patch, "ascii")
        terminal.say(json.dumps(text))
        # A delete sign is ASCII: JSON leaves it, the screen shows it as an escape that JSON reads.
        assert json.loads(written.getvalue()) == text
