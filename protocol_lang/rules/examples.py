"""The examples of rules, tried: a good one has to keep its rule, and a faulty one to break it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path

from protocol_lang.checks import findings_of
from protocol_lang.contamination.rounds import Judged, judge_protocol
from protocol_lang.contamination.unfold import TooMany
from protocol_lang.findings import Finding
from protocol_lang.language.load import load_text
from protocol_lang.model.rules import Example, Rule, RuleBook
from protocol_lang.rules.judging import Subject, judge_rules
from protocol_lang.rules.verdicts import RuleVerdict, Verdict
from protocol_lang.text import decode


def examples_tried(
    book: RuleBook, beside: Path | None, library: Path | None = None
) -> Iterator[Finding]:
    """A finding for each example that does not do what it is there to show.

    ``beside``: the folder of the file of rules; the examples take words from the files there.
    """
    for rule in book.rules:
        for example in rule.examples:
            found = _tried(book, rule, example, beside, library)
            if found is not None:
                yield found


def _tried(
    book: RuleBook, rule: Rule, example: Example, beside: Path | None, library: Path | None
) -> Finding | None:
    facts = {"rule": rule.title}
    loaded = load_text(decode(example.text.encode(), "example.protocol"), beside, library)
    if loaded.protocol is None or not loaded.complete:
        first = loaded.findings[0] if loaded.findings else None
        wrong = "" if first is None else _quoted(example.text, first)
        return Finding("rule-example-text", example.place, {**facts, "wrong": wrong})
    judged = judge_protocol(loaded.protocol)
    subject = Subject(loaded.protocol, None, None)
    in_the_way: Sequence[Finding] = ()
    if isinstance(judged, Judged):
        subject = Subject(loaded.protocol, judged.unfolded, judged.judgement)
        if not judged.judgement.judged:
            in_the_way, _ = findings_of(judged.unfolded, judged.judgement, False)
    elif not isinstance(judged, TooMany):
        in_the_way = judged
    verdict = _of(book, rule, subject)
    wanted = Verdict.MET if example.good else Verdict.FAILED
    if verdict.verdict is wanted:
        return None
    kind = "rule-good-example" if example.good else "rule-faulty-example"
    facts["verdict"] = verdict.verdict.value
    if verdict.reason is not None:
        facts |= {**verdict.reason.facts, "why": verdict.reason.kind}
        if verdict.reason.kind == "not-judged" and in_the_way:
            facts["wrong"] = _quoted(example.text, in_the_way[0])
    return Finding(kind, example.place, facts)


def _of(book: RuleBook, rule: Rule, subject: Subject) -> RuleVerdict:
    """The verdict of one rule, with the settings that it asks for."""
    settings = {asked.name: asked.value for asked in rule.where if asked.setting and asked.so}
    (verdict,) = judge_rules([replace(book, rules=(rule,))], subject, settings)
    return verdict


def _quoted(text: str, finding: Finding) -> str:
    """The line of the example in which the first finding is."""
    lines = text.splitlines()
    if finding.place is None or finding.place.line > len(lines):
        return ""
    return lines[finding.place.line - 1].strip()
