"""Slips of somebody who comes from a word processor: each message names a mend to type."""

from __future__ import annotations

from pathlib import Path

import pytest

from protocol_lang.cli.entry import main
from protocol_lang.wording.examples import visit

Caught = pytest.CaptureFixture[str]
STEP = "  [ ] operator cleans hands\n"
KEYBOARD = "surfaces\n  keyboard: surface"


def _said(where: Path, text: str, capsys: Caught, encoding: str = "utf-8") -> tuple[int, str]:
    path = where / "slip.protocol"
    path.write_text(text, encoding)
    code = main(["check", str(path)])
    told = capsys.readouterr()
    return code, " ".join((told.out + told.err).split())


@pytest.mark.parametrize(
    ("text", "mend"),
    [
        (visit("\N{NO-BREAK SPACE} [ ] operator cleans hands"), "Delete what stands before"),
        (visit("\t[ ] operator cleans hands"), "Put blanks in the place of the tabs."),
        (
            visit(STEP + "  \N{BULLET} operator waits"),
            'If it is a step, write "[ ] operator waits"',
        ),
        (visit(STEP + "  2. operator waits"), 'If it is a step, write "[ ] operator waits"'),
        (visit(STEP + '      note "Warm.'), 'Write a second " where the quoted words end.'),
        (visit(STEP, KEYBOARD), "Keep one of the two, or give one of them another name."),
        (visit("  [ ] operator cleans hands and opens the record at keyboard"), "Begin a new line"),
        (
            visit("  [ ] operator covers chair arms with bag"),
            'write "; takes cover bag" at the end',
        ),
        (visit(STEP, "surfaces\n  lamp: surface; made of aluminium"), "Materials are: "),
    ],
)
def test_the_message_names_the_mend(tmp_path: Path, text: str, mend: str, capsys: Caught) -> None:
    code, said = _said(tmp_path, text, capsys)
    assert code == 1
    assert mend in said


def test_a_sign_that_is_no_tab_is_not_called_one(tmp_path: Path, capsys: Caught) -> None:
    _, said = _said(tmp_path, visit("\N{NO-BREAK SPACE} [ ] operator cleans hands"), capsys)
    assert "tab " not in said


@pytest.mark.parametrize(
    ("encoding", "what"),
    [("utf-16", "in UTF-16, not in UTF-8"), ("latin-1", "is not a text in UTF")],
)
def test_another_encoding_is_told_with_what_to_do(
    tmp_path: Path, encoding: str, what: str, capsys: Caught
) -> None:
    code, said = _said(
        tmp_path, visit("  [ ] say: ol\N{LATIN SMALL LETTER A WITH ACUTE}"), capsys, encoding
    )
    assert code == 2
    assert what in said
    assert "Save it as plain text with the encoding UTF-8." in said
