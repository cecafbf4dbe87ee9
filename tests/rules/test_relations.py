"""Rules that speak of each other: both hold, and a looser one takes nothing from the other."""

from __future__ import annotations

from pathlib import Path

import pytest

from protocol_lang.language.load import load
from protocol_lang.model.rules import RuleBook
from protocol_lang.rules.relations import Prevails, relations

PUBLISHED = """rules "Published"
  edition 1

rule "Hands"
  must
  always hands of staff are cleaned
"""


def _book(where: Path, text: str) -> RuleBook:
    title = text.partition('"')[2].partition('"')[0]
    path = where / f"{title.lower()}.protocol"
    path.write_text(text, "utf-8")
    loaded = load(path)
    assert loaded.complete and loaded.rules is not None, loaded.findings
    return loaded.rules


@pytest.mark.parametrize(
    ("line", "prevails"),
    [
        ('tightens "Hands" of "Published"', Prevails.BOTH),
        ('loosens "hands" of "published"', Prevails.THE_OTHER),
        ('loosens "Gloves" of "Published"', Prevails.NO_SUCH_RULE),
        ('tightens "Hands" of "Another"', Prevails.NOT_APPLIED),
    ],
)
def test_what_prevails(line: str, prevails: Prevails, tmp_path: Path) -> None:
    house = PUBLISHED.replace("Published", "House").replace("  must\n", f"  local\n  {line}\n")
    books = [_book(tmp_path, PUBLISHED), _book(tmp_path, house)]
    (relation,) = relations(books)
    assert (relation.pack, relation.prevails) == ("House", prevails)
    assert relation.tightens is line.startswith("tightens")


def test_rules_that_say_nothing_of_each_other(tmp_path: Path) -> None:
    assert relations([_book(tmp_path, PUBLISHED)]) == ()
