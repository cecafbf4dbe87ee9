"""Rules that speak of each other: both hold, and a looser one takes nothing from the other."""

from __future__ import annotations

from pathlib import Path

import pytest

from protocol_lang.language.load import load
from protocol_lang.model.rules import RuleBook
from protocol_lang.rules.relations import Prevails, Relation, relations
from protocol_lang.wording.rule_faults import prevails

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


@pytest.mark.parametrize(
    ("which", "tightens", "words"),
    [
        ("both", True, "both hold"),
        ("the other", False, "a waiver is needed"),
        ("not applied", True, "by which was not judged"),
        ("no such rule", False, "there is no such rule"),
    ],
)
def test_it_is_told_in_a_sentence(which: str, tightens: bool, words: str) -> None:
    told = prevails(which, tightens, ("Hands", "House"), ("Hands", "Published"))
    assert told.startswith('"Hands" of "House" ' + ("tightens" if tightens else "loosens"))
    assert words in told


def test_an_audit_says_which_prevails() -> None:
    from protocol_lang.audit.whole import prevailing

    relation = Relation("A", "House", False, "B", "Published", Prevails.THE_OTHER)
    assert prevailing(relation) == (
        '"A" of "House" loosens "B" of "Published": "B" of "Published" still holds, and where it '
        "is not kept a waiver is needed"
    )
