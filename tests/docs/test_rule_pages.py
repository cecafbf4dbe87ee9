"""The pages of the shipped rules are those of the files as they are."""

from __future__ import annotations

from tools.rules import PAGES, pages


def test_every_page_is_up_to_date() -> None:
    written = pages()
    assert {path.name for path in PAGES.glob("*.md")} == {path.name for path in written}
    for path, text in written.items():
        assert path.read_text("utf-8") == text, '"make docs" writes it anew.'


def test_a_page_says_whose_each_rule_is() -> None:
    text = (PAGES / "hand-hygiene.md").read_text("utf-8")
    assert "## Before gloves go on" in text
    assert "* CDC 2003, dental, hand hygiene: before gloving (from memory)" in text
