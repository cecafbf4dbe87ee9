"""What is told of a protocol by the check and by all shipped files of rules."""

from __future__ import annotations

import tempfile
from collections.abc import Iterable
from functools import cache
from pathlib import Path
from typing import NamedTuple

from protocol_lang.findings import Weight
from protocol_lang.language.load import load
from protocol_lang.model.rules import RuleBook, Strength
from protocol_lang.pipeline import Checked, check_file
from protocol_lang.resources import folder
from protocol_lang.rules import Subject, Verdict, judge_rules
from tests.practice.published.bases import Change, Files, base


@cache
def books() -> tuple[RuleBook, ...]:
    """All shipped files of rules."""
    found = []
    for path in sorted((folder("protocols") / "rules").glob("*.protocol")):
        loaded = load(path)
        assert loaded.rules is not None and loaded.complete
        found.append(loaded.rules)
    return tuple(found)


class Told(NamedTuple):
    """Kinds of findings of the check, to be corrected (``check``) or considered (``hints``), and
    titles of rules that are not kept: by a standard (``must``), by advice (``should``), and those
    of the clinic (``house``)."""

    check: frozenset[str] = frozenset()
    hints: frozenset[str] = frozenset()
    must: frozenset[str] = frozenset()
    should: frozenset[str] = frozenset()
    house: frozenset[str] = frozenset()

    @property
    def kinds(self) -> frozenset[str]:
        return self.check | self.hints

    @property
    def rules(self) -> frozenset[str]:
        return self.must | self.should | self.house

    @property
    def published(self) -> frozenset[str]:
        """What is to be corrected whatever the clinic asks for beyond what is published."""
        return self.check | self.must

    @property
    def to_correct(self) -> frozenset[str]:
        return self.published | self.house

    @property
    def to_consider(self) -> frozenset[str]:
        return self.hints | self.should

    def without(self, other: Told) -> Told:
        """What is new against the other."""
        return Told(*(mine - others for mine, others in zip(self, other, strict=True)))


def told_of(files: Files, settings: dict[str, str] | None = None) -> Told:
    """Everything that is told of the files. Each has to be checked and judged to the end."""
    with tempfile.TemporaryDirectory() as where:
        for name, text in files.texts:
            (Path(where) / f"{name}.protocol").write_text(text, "utf-8")
        return told_of_checked(
            check_file(Path(where) / f"{files.first}.protocol", mend=False), settings
        )


def told_of_checked(one: Checked, settings: dict[str, str] | None = None) -> Told:
    """Everything that is told of a protocol that has been checked."""
    assert one.judgement is not None, one.outcome.findings
    assert one.outcome.findings or not one.outcome.unchecked, one.outcome.unchecked
    verdicts = judge_rules(books(), Subject(one.protocol, one.unfolded, one.judgement), settings)
    undecided = [one.rule.title for one in verdicts if one.verdict is Verdict.NOT_DECIDED]
    assert not undecided, undecided
    failed = {v.rule.title: v.rule.strength for v in verdicts if v.verdict is Verdict.FAILED}
    by = {
        strength: frozenset(title for title, one in failed.items() if one is strength)
        for strength in Strength
    }
    kinds = {
        weight: frozenset(f.kind for f in one.outcome.findings if f.weight is weight)
        for weight in Weight
    }
    return Told(
        kinds[Weight.CORRECT],
        kinds[Weight.CONSIDER],
        by[Strength.MUST],
        by[Strength.SHOULD],
        by[Strength.LOCAL],
    )


@cache
def told_of_base(name: str) -> Told:
    """What is told of a good protocol as it is."""
    return told_of(base(name))


def new(name: str, changes: Iterable[Change], settings: dict[str, str] | None = None) -> Told:
    """What is told of the changed protocol and not of the good one."""
    before = told_of(base(name), settings) if settings else told_of_base(name)
    return told_of(base(name).changed(changes), settings).without(before)
