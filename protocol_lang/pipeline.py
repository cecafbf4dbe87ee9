"""From a path to verdicts: the order of the stages on one screen, and what could not be checked.

text and tree and names (``language``) -> plan (``contamination.unfold``) -> judgement
(``contamination.judge``, as many times round as it takes: ``contamination.rounds``) -> findings
(``checks``). A stage that cannot go on says why, and then the file is never called clear.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from protocol_lang.checks import findings_of
from protocol_lang.checks.coverage import coverage_of
from protocol_lang.checks.header import days_of
from protocol_lang.contamination.judge import Judgement
from protocol_lang.contamination.rounds import Judged, judge_protocol
from protocol_lang.contamination.unfold import TooMany, Unfolded
from protocol_lang.findings import Finding, Unchecked
from protocol_lang.language.load import Loaded, load
from protocol_lang.language.local.hints import with_hints
from protocol_lang.model.protocol import Choice, Protocol
from protocol_lang.outcome import FileOutcome
from protocol_lang.text import Text

if TYPE_CHECKING:
    from protocol_lang.comparison import Comparison, RuleChange
    from protocol_lang.model.rules import RuleBook

#: Of a day with more acts than this no changes are tried: each trial is a check of the whole day.
MOST_ACTS_TO_CHANGE = 120


@dataclass(frozen=True, slots=True)
class Checked:
    """One file after all stages that it got to.

    ``protocol``: None for a file of another kind. ``unfolded`` and ``judgement``: None where the
    text or the room does not let a plan be made. ``texts``: the lines of every file read.
    ``whole``: all that the text says was understood.
    """

    outcome: FileOutcome
    protocol: Protocol | None
    unfolded: Unfolded | None
    judgement: Judgement | None
    texts: Mapping[str, Text]
    whole: bool = True


class NoSuchChoice(Exception):
    """A choice was asked for that the protocol does not have: ``sentence`` says so."""

    def __init__(self, sentence: str) -> None:
        super().__init__(sentence)
        self.sentence = sentence


def check_file(
    path: Path,
    only: Mapping[str, str] | None = None,
    mend: bool = True,
    on: date | None = None,
    name: str | None = None,
    lasting: bool = False,
    instead: Mapping[str, Text] | None = None,
    base: Path | None = None,
) -> Checked:
    """Every stage on one file.

    ``only``: choices to which the check is limited. ``mend``: whether changes are looked for that
    put findings right. ``on``: the day on which the header is judged. ``name``: how people see
    the file, its path unless told otherwise. ``lasting``: findings are the same whether changes
    are looked for or not, for whoever follows them up by their identities. ``instead``: texts to be
    read in the place of files, by the names of ``texts``: a change that is tried and not written.
    ``base``: what a local edition adapts, in the place of the file that is found by its title.
    Raises
    :class:`~protocol_lang.text.Unreadable` if the file itself cannot be read, and
    :class:`NoSuchChoice`.
    """
    return check_loaded(load(path, name=name, instead=instead, base=base), only, mend, on, lasting)


def check_loaded(
    loaded: Loaded,
    only: Mapping[str, str] | None = None,
    mend: bool = True,
    on: date | None = None,
    lasting: bool = False,
) -> Checked:
    """The same of a file that has been read. Raises :class:`NoSuchChoice`."""
    name = loaded.files[-1].file
    kind = loaded.files[-1].kind
    protocol = loaded.protocol
    told = with_hints(loaded.findings, loaded.adapted)
    outcome = (
        FileOutcome(
            name,
            kind,
            loaded.files[-1].title or None,
            protocol.header.edition if protocol is not None else None,
            (*told, *_of_rules(loaded)),
            loaded.unchecked,
        )
        if kind not in ("protocol", "day")
        else None
    )
    if protocol is None or not loaded.complete:
        return Checked(
            outcome or _text_only(name, kind, loaded.files[-1].title, told, loaded.unchecked),
            protocol,
            None,
            None,
            loaded.texts,
            whole=False,
        )
    asked = _asked(protocol, only or {})
    judged = judge_protocol(protocol, asked)
    if not isinstance(judged, Judged):
        return Checked(
            _not_unfolded(protocol, kind, name, judged, told, loaded.unchecked),
            protocol,
            None,
            None,
            loaded.texts,
        )
    unfolded, judgement = judged.unfolded, judged.judgement
    mend = mend and (kind != "day" or len(unfolded.plan.acts) <= MOST_ACTS_TO_CHANGE)
    findings, unchecked = findings_of(unfolded, judgement, mend, lasting)
    findings = with_hints(findings, loaded.adapted)
    unchecked += _left_aside(protocol, asked)
    return Checked(
        FileOutcome(
            name,
            kind,
            protocol.header.title,
            protocol.header.edition,
            (*told, *findings, *days_of(protocol.header, on)),
            (*loaded.unchecked, *unchecked),
            coverage_of(unfolded, judgement, asked) if _judged_to_the_end(judgement) else None,
        ),
        protocol,
        unfolded,
        judgement,
        loaded.texts,
    )


def _of_rules(loaded: Loaded) -> tuple[Finding, ...]:
    """The examples of a file of rules that do not do what they are there to show."""
    if loaded.rules is None or not loaded.complete:
        return ()
    from protocol_lang.rules.examples import examples_tried

    return tuple(examples_tried(loaded.rules, loaded.beside))


def compared(
    old: Checked, new: Checked, books: Sequence[RuleBook] = (), on: date | None = None
) -> Comparison:
    """What is different between two editions that have been checked.

    ``books``: rules by which both are judged, on that day.
    """
    from protocol_lang.compare import compare
    from protocol_lang.compare.editions import Given

    old_given, new_given = (
        Given(
            one.outcome,
            one.protocol,
            one.unfolded,
            one.judgement,
            frozenset(text.lines for text in one.texts.values()),
        )
        for one in (old, new)
    )
    comparison = compare(old_given, new_given)
    return replace(comparison, rules=_rules_changed(old, new, books, on)) if books else comparison


def _rules_changed(
    old: Checked, new: Checked, books: Sequence[RuleBook], on: date | None
) -> tuple[RuleChange, ...]:
    """The rules that end otherwise for the new edition."""
    from protocol_lang.comparison import RuleChange
    from protocol_lang.rules import Subject, judge_rules

    was, is_now = (
        judge_rules(books, Subject(one.protocol, one.unfolded, one.judgement, one.whole), on=on)
        for one in (old, new)
    )
    return tuple(
        RuleChange(one.rule.title, one.pack, one.verdict.value, other.verdict.value)
        for one, other in zip(was, is_now, strict=True)
        if one.verdict is not other.verdict
    )


def _judged_to_the_end(judgement: Judgement) -> bool:
    """Whether something can be claimed: every question about what is judged is decided."""
    return bool(
        judgement.judged
        and not judgement.undecided
        and not (judgement.paths is not None and judgement.paths.undecided)
    )


def _left_aside(protocol: Protocol, asked: Mapping[str, str]) -> tuple[Unchecked, ...]:
    """Choices of a visit that were not asked for: visits with them may come in between."""
    free = [
        choice
        for choice in protocol.choices
        if choice.name in asked and not choice.fixed and len(choice.values) > 1
    ]
    if not free:
        return ()
    values = ", ".join(
        f"{choice.name}: {value}"
        for choice in free
        for value in choice.values
        if value != asked[choice.name]
    )
    return (Unchecked("other-choices", {"choices": values}),)


def _text_only(
    name: str,
    kind: str,
    title: str,
    findings: tuple[Finding, ...],
    unchecked: tuple[Unchecked, ...],
) -> FileOutcome:
    """A protocol whose text has faults: its order is not judged, and that is said."""
    why = Unchecked("because-of-findings", {"which": _kinds(findings)})
    return FileOutcome(name, kind, title or None, None, findings, (*unchecked, why))


def _not_unfolded(
    protocol: Protocol,
    kind: str,
    name: str,
    why: TooMany | tuple[Finding, ...],
    findings: tuple[Finding, ...],
    unchecked: tuple[Unchecked, ...],
) -> FileOutcome:
    if isinstance(why, TooMany):
        facts = {
            "question": f"all {why.number:,} {why.what}",
            "spent": f"at most {why.most:,} are looked at",
        }
        reason = Unchecked("too-hard", facts)
    else:
        findings = (*findings, *why)
        reason = Unchecked("because-of-findings", {"which": _kinds(why)})
    return FileOutcome(
        name,
        kind,
        protocol.header.title,
        protocol.header.edition,
        findings,
        (*unchecked, reason),
    )


def _kinds(findings: tuple[Finding, ...]) -> str:
    return ", ".join(dict.fromkeys(finding.kind for finding in findings))


def _asked(protocol: Protocol, only: Mapping[str, str]) -> Mapping[str, str]:
    """The choices asked for, each one that the protocol has."""
    choices: dict[str, Choice] = {choice.name: choice for choice in protocol.choices}
    for name, value in only.items():
        if name not in choices:
            known = ", ".join(choices) or "none"
            raise NoSuchChoice(
                f'"{protocol.header.title}" has no choice called "{name}". Its choices: {known}.'
            )
        if value not in choices[name].values:
            raise NoSuchChoice(
                f'The choice "{name}" has no value "{value}". '
                f"Its values: {', '.join(choices[name].values)}."
            )
    return only
