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
