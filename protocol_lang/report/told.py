"""Findings in their order, numbered, with their words: what every form of the report sets down."""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass, replace

from protocol_lang.findings import Finding, Remedy, Unchecked, Weight
from protocol_lang.outcome import FileOutcome, Outcome
from protocol_lang.text import Place
from protocol_lang.wording import ENTRIES, remedies
from protocol_lang.wording.plain import listed
from protocol_lang.wording.remedies import Change

#: The role of a place at which the same was found again.
HERE_TOO = "here too"


@dataclass(frozen=True, slots=True)
class Told:
    """A finding with its words.

    ``number``: counted through the whole report, the same for the same finding in a file that
    several protocols read; ``again``: it has been told under an earlier file. ``code``: the
    permanent short name of its kind. ``advice``: the mend, where the kind alone makes it certain;
    ``changes``: the mends that were tried, each with what it was made from; ``locally``: lines by
    which a local edition changes what stands there in its base.
    """

    number: int
    again: bool
    code: str
    finding: Finding
    sentence: str
    because: str | None
    advice: str | None
    changes: tuple[tuple[Remedy, Change], ...]
    follows: str | None
    locally: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ToldPart:
    """A part that was not checked, with its words."""

    code: str
    part: Unchecked
    sentence: str


@dataclass(frozen=True, slots=True)
class ToldFile:
    """One file: its findings in their order, and what was not checked."""

    outcome: FileOutcome
    findings: tuple[Told, ...]
    parts: tuple[ToldPart, ...]


def tell(outcome: Outcome) -> tuple[ToldFile, ...]:
    """The words for everything in ``outcome``, files in the order given.

    Raises KeyError when a kind of finding has no wording or a fact is missing: a fault of ours.
    """
    numbers: dict[Hashable, int] = {}
    return tuple(_file(file, numbers) for file in outcome.files)


def tell_counts(file: FileOutcome) -> tuple[int, int, int]:
    """How many of a file are to correct, to consider, and not checked, as its report counts."""
    weights = [finding.weight for finding in in_order(file.findings, file.file)]
    correct = weights.count(Weight.CORRECT)
    return correct, len(weights) - correct, len(file.unchecked)


def sentences_to_correct(file: FileOutcome) -> tuple[str, ...]:
    """The sentence of each finding that is to be corrected, in the order of the report."""
    told = _file(file, {})
    return tuple(one.sentence for one in told.findings if one.finding.weight is Weight.CORRECT)


def in_order(findings: Sequence[Finding], file: str) -> list[Finding]:
    """The total order: to correct before to consider, then by place, then by kind and facts.

    What has no place concerns the whole file and comes first; places in ``file`` itself come before
    places in the files that it reads. Equal findings are one; findings that say the same of several
    places are one, which names the other places.
    """

    def key(finding: Finding) -> tuple[object, ...]:
        return (
            finding.weight is not Weight.CORRECT,
            _where(finding.place, file),
            finding.kind,
            sorted(finding.facts.items()),
            finding.context or "",
        )

    alike: dict[Hashable, list[Finding]] = {}
    for finding in sorted(findings, key=key):
        alike.setdefault(_says(finding), []).append(finding)
    return [_one(group) for group in alike.values()]


def _where(place: Place | None, file: str) -> tuple[object, ...]:
    if place is None:
        return (0,)
    return (1, place.file != file, place.file, place.line, place.column, place.end)


def _says(finding: Finding) -> Hashable:
    """What a finding says, wherever it is: the same sentence and the same changes."""
    changes = tuple((remedy.kind, frozenset(remedy.facts.items())) for remedy in finding.remedies)
    facts = frozenset(pair for pair in finding.facts.items() if pair[0] != "locally")
    return (finding.kind, facts, changes)


def _one(alike: Sequence[Finding]) -> Finding:
    """One finding for several that say the same: the first, with the places of the others."""
    first, *others = alike
    known = {first.place, *(place for _, place in first.others)}
    places = dict.fromkeys(one.place for one in others if one.place and one.place not in known)
    return replace(first, others=(*first.others, *((HERE_TOO, place) for place in places)))


def _identity(finding: Finding) -> Hashable:
    return (finding.kind, finding.place, frozenset(finding.facts.items()), finding.context)


def _file(file: FileOutcome, numbers: dict[Hashable, int]) -> ToldFile:
    findings = tuple(_finding(found, file, numbers) for found in in_order(file.findings, file.file))
    parts = sorted(
        file.unchecked,
        key=lambda part: (_where(part.place, file.file), part.kind, sorted(part.facts.items())),
    )
    return ToldFile(file, findings, tuple(_part(part, findings) for part in parts))


def _finding(finding: Finding, file: FileOutcome, numbers: dict[Hashable, int]) -> Told:
    entry = ENTRIES[finding.kind]
    # A finding without a place is of this file alone, whatever else looks like it.
    name = (_identity(finding), None if finding.place else file.file)
    again = name in numbers
    number = numbers.setdefault(name, len(numbers) + 1)
    return Told(
        number=number,
        again=again,
        code=entry.number,
        finding=finding,
        sentence=entry.sentence(finding.facts),
        because=entry.because(finding.facts),
        advice=entry.change(finding.facts),
        changes=tuple((remedy, remedies.said(remedy)) for remedy in finding.remedies),
        follows=finding.facts.get("follows"),
        locally=tuple(finding.facts.get("locally", "").splitlines()),
    )


def _part(part: Unchecked, findings: Sequence[Told]) -> ToldPart:
    entry = ENTRIES[part.kind]
    facts = dict(part.facts)
    if "which" in facts:
        facts["which"] = _by_number(facts["which"], findings)
    return ToldPart(entry.number, part, entry.sentence(facts))


def _by_number(which: str, findings: Sequence[Told]) -> str:
    """ "numbers 1 and 3" for kinds of finding that are told here; other words stay as they are."""
    kinds = {kind.strip() for kind in which.split(",")}
    if not kinds <= {told.finding.kind for told in findings}:
        return which
    numbers = [str(told.number) for told in findings if told.finding.kind in kinds]
    return f"{'number' if len(numbers) == 1 else 'numbers'} {listed(numbers)}"
