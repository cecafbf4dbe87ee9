"""A step that throws a thing into another stream of waste than the thing's own line says."""

from __future__ import annotations

from pathlib import Path

from protocol_lang.findings import Finding
from protocol_lang.pipeline import check_file
from protocol_lang.wording.examples import visit

THINGS = """things
  gauze: supply; used once; from wipe tub; goes to clinical waste
  beaker: supply; used once; from wipe tub
"""

BEFORE = """
  [ ] operator cleans hands
  [ ] operator takes gauze
  [ ] operator takes beaker
"""


def _found(where: Path, steps: str, choices: str = "") -> list[Finding]:
    path = where / "waste.protocol"
    path.write_text(visit(BEFORE + steps, THINGS, choices), "utf-8")
    found = check_file(path, mend=False).outcome.findings
    return [told for told in found if told.kind == "wrong-stream"]


def test_another_stream_is_told_at_the_step_with_both_names(tmp_path: Path) -> None:
    (told,) = _found(tmp_path, "  [ ] operator throws gauze into general waste\n")
    assert told.facts == {
        "thing": "gauze",
        "stream": "general waste",
        "asked": "clinical waste",
    }
    assert [sort for sort, _ in told.others] == ["the thing"]


def test_its_own_stream_and_a_thing_without_one_are_not_told(tmp_path: Path) -> None:
    steps = "  [ ] operator throws gauze into clinical waste\n"
    assert not _found(tmp_path, steps + "  [ ] operator throws beaker into general waste\n")


def test_of_a_list_only_what_goes_elsewhere_is_told(tmp_path: Path) -> None:
    (told,) = _found(tmp_path, "  [ ] operator throws beaker, gauze into general waste\n")
    assert told.facts["thing"] == "gauze"


def test_a_step_is_told_once_whatever_is_chosen(
    tmp_path: Path,
) -> None:
    choices = "choices, each visit\n  staffing: alone, paired\n"
    steps = (
        "  where staffing is alone\n    [ ] operator throws gauze into general waste\n"
        "  otherwise\n    [ ] operator throws gauze into clinical waste\n"
    )
    (told,) = _found(tmp_path, steps, choices)
    assert told.facts["stream"] == "general waste"
