"""What is found out on the way, and what it soils: in whichever round that is."""

from __future__ import annotations

from pathlib import Path

from protocol_lang.pipeline import check_file

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
