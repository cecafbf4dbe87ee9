"""Texts read and judged, for the tests of rules."""

from __future__ import annotations

import tempfile
from collections.abc import Mapping
from datetime import date
from functools import cache
from pathlib import Path

from protocol_lang.contamination.rounds import Judged, judge_protocol
from protocol_lang.language.load import load_text
from protocol_lang.model.rules import RuleBook
from protocol_lang.rules import RuleVerdict, Subject, judge_rules
from protocol_lang.text import decode
from tests.rules.reading import ROOM


@cache
def folder() -> Path:
    """A folder with the small room in it."""
    where = Path(tempfile.mkdtemp())
    (where / "small-room.protocol").write_text(ROOM, "utf-8")
    return where


def book_of(text: str, where: Path | None = None) -> RuleBook:
    loaded = load_text(decode(text.encode(), "random.protocol"), where or folder())
    assert not loaded.findings, [(f.kind, f.place, f.facts) for f in loaded.findings]
    assert loaded.rules is not None
    return loaded.rules


def subject_of(text: str, where: Path | None = None) -> Subject:
    loaded = load_text(decode(text.encode(), "small.protocol"), where or folder())
    assert not loaded.findings, [(f.kind, f.place, f.facts) for f in loaded.findings]
    assert loaded.protocol is not None
    judged = judge_protocol(loaded.protocol)
    assert isinstance(judged, Judged), judged
    return Subject(loaded.protocol, judged.unfolded, judged.judgement)


def verdicts(
    rules: str,
    protocol: str,
    settings: Mapping[str, str] | None = None,
    on: date | None = None,
    where: Path | None = None,
) -> tuple[RuleVerdict, ...]:
    """What is decided of each rule in a text on a protocol in a text."""
    return judge_rules([book_of(rules, where)], subject_of(protocol, where), settings, on)
