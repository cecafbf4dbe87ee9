"""What is found out on the way, and what it soils: in whichever round that is."""

from __future__ import annotations

from pathlib import Path

from protocol_lang.pipeline import check_file
from protocol_lang.wording import ENTRIES

TEXT = """protocol "Splashes"
  edition 1
  takes words from "Imaging room 2"

found out on the way
  splashed, known after look
    pass the patient's mouth to side table

surfaces
  side table: surface; takes cover bag; starts covered with bag

phase "Visit"
  for each image, 1 to 3
    first time only
      in one go
        [ ] operator cleans hands
        [ ] operator puts on gloves
    [ ] look: operator looks at the image
    first time only
      [ ] operator takes bag off side table
  in one go
    [ ] operator takes off gloves
    [ ] operator cleans hands
  [ ] helper cleans hands
  [ ] helper works at side table
  [ ] helper washes hands
  [ ] operator covers side table with bag
"""


def _kinds(where: Path, text: str) -> list[str]:
    path = where / "splashes.protocol"
    path.write_text(text, "utf-8")
    return [found.kind for found in check_file(path, mend=False).outcome.findings]


def test_a_splash_in_a_later_round_is_followed(tmp_path: Path) -> None:
    """In the first round the bag takes it; from the second on the table is bare."""
    assert _kinds(tmp_path, TEXT) == ["path-to-staff"]


def test_in_the_first_round_alone_the_bag_takes_it(tmp_path: Path) -> None:
    once = TEXT.replace("1 to 3", "1 to 1")
    assert "path-to-staff" not in _kinds(tmp_path, once)


AGAIN = """protocol "Once more"
  edition 1
  takes words from "Imaging room 2"

found out on the way
  splashed, known after look
    pass the patient's mouth to side table

surfaces
  side table: surface

phase "Visit"
  [ ] wipe: operator cleans hands
  [ ] operator lays out wipe
  in one go
    [ ] operator cleans hands
    [ ] operator puts on gloves
  [ ] operator cleans side table with a new wipe
  [ ] operator disinfects side table with a new wipe
  [ ] operator waits until side table is dry
  in one go
    [ ] operator takes off gloves
    [ ] operator cleans hands
  [ ] look: operator looks at the image
  where splashed
    again from wipe, at most 1 time
"""
STILL = "  [ ] helper cleans hands\n  [ ] helper works at side table\n  [ ] helper washes hands\n"


def test_what_is_found_out_when_it_is_done_again_comes_before_it_is_known_again(
    tmp_path: Path,
) -> None:
    """Both times the table can be splashed after it was wiped; the last time nothing is done."""
    assert _kinds(tmp_path, AGAIN) == []
    assert _kinds(tmp_path, AGAIN + STILL) == ["path-to-staff"]


def test_it_is_found_out_anew_when_it_is_done_again(tmp_path: Path) -> None:
    """Who waits until it is not splashed any more meets a clean table; whoever wipes it once
    does not know that."""
    seen = AGAIN + "  otherwise\n" + "".join(f"  {line}\n" for line in STILL.splitlines())
    assert _kinds(tmp_path, seen) == []
    once = seen.replace("    again from wipe, at most 1 time\n", "    [ ] helper washes hands\n")
    assert _kinds(tmp_path, once) == []
    blind = once.replace("  otherwise\n", "  where not splashed or splashed\n")
    assert _kinds(tmp_path, blind) == ["path-to-staff"]


def test_a_step_waits_for_the_label_of_its_own_time_round(tmp_path: Path) -> None:
    """ "after" inside what is done again speaks of that time: the first does not wait for the
    second, which comes later."""
    text = AGAIN.replace("    pass the patient's mouth to side table\n", "").replace(
        "  [ ] look:",
        "  any order\n    [ ] helper cleans hands\n        after seen\n"
        "    [ ] seen: operator looks at the image\n  [ ] look:",
    )
    assert _kinds(tmp_path, text) == []


REACHED = """protocol "Twice"
  edition 1
  takes words from "Imaging room 2"

facts
  good

found out on the way
  image blurred, known after look
    ends good

phase "Visit"
  [ ] look: operator looks at the image
      sets good
  where image blurred
    again from look, at most 1 time
  where good
    [ ] operator keeps hands still
        only when good
  otherwise
    [ ] say: come back tomorrow
"""


def test_what_is_found_out_ends_what_the_step_has_set(tmp_path: Path) -> None:
    """The step sets it, and where that is found out it is not so after all: each time anew."""
    assert _kinds(tmp_path, REACHED) == []
    unasked = REACHED.replace("  where good\n", "  where good or not good\n")
    assert _kinds(tmp_path, unasked) == ["never-done", "claim-can-fail"]
    sure = unasked.replace("    ends good\n", "")
    assert _kinds(tmp_path, sure) == ["never-done"]


def test_it_comes_right_after_the_step_in_every_order(tmp_path: Path) -> None:
    """Who waits for the step only may come before or after what is found out in it."""
    text = REACHED.partition("phase")[0] + (
        'phase "Visit"\n  any order\n    [ ] look: operator looks at the image\n'
        "        sets good\n    [ ] helper keeps hands still\n"
        "  [ ] operator keeps hands still\n      only when good\n"
    )
    assert _kinds(tmp_path, text) == ["claim-can-fail"]
    assert _kinds(tmp_path, text.replace("ends good", "sets good")) == []


def test_nothing_happens_between_a_step_and_what_is_found_out_in_it(tmp_path: Path) -> None:
    """Right after the step the image is not good any more, where it was blurred."""
    phone = (
        'can happen in "Visit"\n  phone rings, right after look\n'
        "    [ ] operator keeps hands still\n        only when not good\n\n"
    )
    text = REACHED.replace('phase "Visit"', phone + 'phase "Visit"')
    assert _kinds(tmp_path, text) == ["claim-can-fail"]
    blurred = text.replace("    [ ] operator keeps", "    where image blurred\n  {}", 1)
    blurred = blurred.format("    [ ] operator keeps").replace(
        "        only when not", " " * 10 + "only when not", 1
    )
    assert _kinds(tmp_path, blurred) == []


def test_a_line_that_nothing_found_out_can_do_is_told(tmp_path: Path) -> None:
    path = tmp_path / "twice.protocol"
    path.write_text(REACHED.replace("ends good", "polish tube"), "utf-8")
    (finding,) = check_file(path, mend=False).outcome.findings
    because = ENTRIES[finding.kind].because(finding.facts)
    assert because is not None and '"meet", "brush", "pass", "sets" or "ends"' in because


NAMED_WITH_IS = """protocol "Names with a small word"
  edition 1
  takes words from "Imaging room 2"

facts
  door is shut

found out on the way
  part is hidden, known after look

phase "Visit"
  [ ] look: operator looks at the image
      sets door is shut
  where part is {negated}hidden
    [ ] operator cleans hands
  [ ] operator looks at the image
      only when door is {negated}shut
"""


def test_a_name_may_hold_the_word_is(tmp_path: Path) -> None:
    """The longest known name wins, in conditions and claims as in sentences."""
    path = tmp_path / "names.protocol"
    path.write_text(NAMED_WITH_IS.format(negated=""), "utf-8")
    assert [finding.kind for finding in check_file(path, mend=False).outcome.findings] == []
    path.write_text(NAMED_WITH_IS.format(negated="not "), "utf-8")
    (finding,) = check_file(path, mend=False).outcome.findings
    assert (finding.kind, finding.facts["claim"]) == ("claim-can-fail", "not door is shut")
