"""The audit from above: one finding of many files as one, outcomes, what is to be done."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from enum import Enum

from protocol_lang.audited import Audit, FileReport, Found, Standing, WaiverUse
from protocol_lang.wording import audit as words


class Fate(Enum):
    """What an inspector asks of a file first; the worst that is so."""

    NO_PROTOCOL = words.OUTCOME_NO_PROTOCOL
    TEXT = words.OUTCOME_TEXT
    CORRECT = words.OUTCOME_CORRECT
    UNDECIDED = words.OUTCOME_UNDECIDED
    WAIVED = words.OUTCOME_WAIVED
    GOOD = words.OUTCOME_GOOD


#: The state of a file that the audit passes by.
NOT_A_PROTOCOL = "not a protocol"
BROKEN_TEXT = "broken text"
NOT_CHECKED = "not checked"

_GROUPS = (words.TO_CORRECT, words.TO_CONSIDER, words.WAIVED)


@dataclass(frozen=True, slots=True)
class At:
    """One finding in one file."""

    file: FileReport
    found: Found


@dataclass(frozen=True, slots=True)
class Gathered:
    """One finding with every file it is in; ``group``: to correct, to consider or waived."""

    number: int
    group: str
    at: tuple[At, ...]

    @property
    def found(self) -> Found:
        """As it is in the first file."""
        return self.at[0].found


@dataclass(frozen=True, slots=True)
class Task:
    """What somebody has to do. ``until``: None where no day is set."""

    what: str
    by: str | None
    until: date | None


@dataclass(frozen=True, slots=True)
class RuleCount:
    """One rule over all files: in how many it stands how."""

    pack: str
    rule: str
    strength: str
    sources: tuple[str, ...]
    counts: Mapping[Standing, int]


def group_of(found: Found) -> str:
    """Waived, or what its weight says."""
    return words.WAIVED if found.waived is not None else found.weight


def findings(audit: Audit) -> tuple[Gathered, ...]:
    """To correct before to consider before waived; then in the order of files. Numbered from 1."""
    together: dict[tuple[object, ...], list[At]] = {}
    for file in audit.files:
        for found in file.found:
            cause = (found.identity, found.kind, found.sentence, found.pack, found.rule)
            together.setdefault((group_of(found), *cause), []).append(At(file, found))
    in_order = sorted(together.items(), key=lambda item: _rank(str(item[0][0])))
    return tuple(
        Gathered(number, str(key[0]), tuple(at)) for number, (key, at) in enumerate(in_order, 1)
    )


def _rank(group: str) -> int:
    return _GROUPS.index(group) if group in _GROUPS else len(_GROUPS)


def numbers(gathered: Iterable[Gathered]) -> dict[str, dict[str, list[int]]]:
    """File -> group -> numbers of the findings in it."""
    found: dict[str, dict[str, list[int]]] = {}
    for one in gathered:
        for at in one.at:
            found.setdefault(at.file.file, {}).setdefault(one.group, []).append(one.number)
    return found


def audited(audit: Audit) -> tuple[FileReport, ...]:
    """The files that the audit is about."""
    return tuple(file for file in audit.files if file.state != NOT_A_PROTOCOL)


def has_to_be_corrected(file: FileReport) -> bool:
    """Its text is at fault, or something to correct is not waived."""
    return file.state == BROKEN_TEXT or any(
        group_of(found) == words.TO_CORRECT for found in file.found
    )


def undecided(file: FileReport) -> bool:
    """Part of it was not judged."""
    return (
        file.state in (NOT_CHECKED, BROKEN_TEXT)
        or bool(file.not_checked)
        or any(rule.standing is Standing.NOT_DECIDED for rule in file.rules)
    )


def waived(file: FileReport) -> bool:
    """Something in it is tolerated for a time."""
    return any(found.waived is not None for found in file.found) or any(
        rule.standing is Standing.WAIVED for rule in file.rules
    )


def counted_twice(file: FileReport) -> bool:
    """More than one of these three is so of it."""
    return has_to_be_corrected(file) + undecided(file) + waived(file) > 1


def fate(file: FileReport) -> Fate:
    """The worst that is so of a file."""
    if file.state == NOT_A_PROTOCOL:
        return Fate.NO_PROTOCOL
    if file.state == BROKEN_TEXT:
        return Fate.TEXT
    if has_to_be_corrected(file):
        return Fate.CORRECT
    if undecided(file):
        return Fate.UNDECIDED
    return Fate.WAIVED if waived(file) else Fate.GOOD


def has_header(file: FileReport) -> bool:
    """Whether it was read so far that its days are known: what could not be read has no days that
    could be missing, and a room is not in force by itself."""
    return file.kind in ("protocol", "day")


def not_in_force(audit: Audit) -> tuple[FileReport, ...]:
    """Files whose day of coming into force is missing or still ahead."""
    return tuple(
        f for f in audited(audit) if has_header(f) and (f.in_force is None or f.in_force > audit.on)
    )


def overdue(audit: Audit) -> tuple[FileReport, ...]:
    """Files whose day of review has passed."""
    return tuple(f for f in audited(audit) if f.review_by is not None and f.review_by < audit.on)


def without_review(audit: Audit) -> tuple[FileReport, ...]:
    """Files that name no day of review."""
    return tuple(f for f in audited(audit) if has_header(f) and f.review_by is None)


def waivers(audit: Audit) -> tuple[tuple[WaiverUse, tuple[str, ...]], ...]:
    """Each waiver once for each state, with the files it was looked up for; those in use first.
    Those of side files that no file has anything for are among them, with no file."""
    alike: dict[tuple[object, ...], list[tuple[WaiverUse, str]]] = {}
    for file in audit.files:
        for use in file.waivers:
            key = (use.waiver, use.state, use.why, use.follows)
            alike.setdefault(key, []).append((use, file.file))
    seen: dict[WaiverUse, tuple[str, ...]] = {}
    for uses in alike.values():
        first, _ = uses[0]
        covered = dict.fromkeys(code for use, _ in uses for code in use.identities)
        seen[replace(first, identities=tuple(covered))] = tuple(file for _, file in uses)
    seen |= dict.fromkeys(audit.waivers, ())
    order = list(words.WAIVER_STATES)

    def rank(use: WaiverUse) -> tuple[object, ...]:
        at = order.index(use.state) if use.state in order else len(order)
        return at, use.waiver.ends, use.waiver.name, use.waiver.file, use.waiver.line

    return tuple((use, seen[use]) for use in sorted(seen, key=rank))


def rules(audit: Audit) -> tuple[RuleCount, ...]:
    """By file of rules, then in the order in which they stand there."""
    first: dict[tuple[str, str], str] = {}
    sources: dict[tuple[str, str], dict[str, None]] = {}
    counts: dict[tuple[str, str], Counter[Standing]] = {}
    for file in audit.files:
        for one in file.rules:
            key = (one.pack, one.rule)
            first.setdefault(key, one.strength)
            sources.setdefault(key, {}).update(dict.fromkeys(one.sources))
            counts.setdefault(key, Counter())[one.standing] += 1
    order = [pack.title for pack in audit.packs]
    keys = sorted(first, key=lambda key: order.index(key[0]) if key[0] in order else len(order))
    return tuple(RuleCount(*key, first[key], tuple(sources[key]), counts[key]) for key in keys)


def reasons(audit: Audit) -> tuple[tuple[str, Standing, str, tuple[str, ...]], ...]:
    """(rule, standing, why, files): what was not decided first."""
    found: dict[tuple[str, Standing, str], list[str]] = {}
    for standing in (Standing.NOT_DECIDED, Standing.NOT_APPLICABLE):
        for file in audit.files:
            for one in file.rules:
                if one.standing is standing:
                    why = one.reason or words.NO_REASON
                    found.setdefault((one.rule, standing, why), []).append(file.file)
    return tuple((*key, tuple(files)) for key, files in found.items())


# --- What is to be done --------------------------------------------------------------------------

#: Findings told one by one on the first page; more are told by their numbers.
_FEW = 5


def tasks(
    audit: Audit, gathered: tuple[Gathered, ...], name: Callable[[str], str]
) -> tuple[Task, ...]:
    """What somebody has to do, in the order of weight; the same for the same role and day as one.

    ``name``: how a name of an author is set among words of ours.
    """
    return (*_corrections(gathered, name), *_others(audit, name))


def _corrections(gathered: tuple[Gathered, ...], name: Callable[[str], str]) -> list[Task]:
    by_role: dict[tuple[str | None, date | None], list[tuple[Gathered, str]]] = {}
    for one in gathered:
        if one.group == words.TO_CORRECT:
            for at in one.at:
                key = (at.found.by or at.file.owner, at.found.until)
                by_role.setdefault(key, []).append((one, at.file.file))
    few = sum(one.group == words.TO_CORRECT for one in gathered) <= _FEW
    made = []
    for (by, until), all_of_role in by_role.items():
        of_number: dict[int, list[str]] = {}
        sentence: dict[int, str] = {}
        for one, file in all_of_role:
            of_number.setdefault(one.number, []).append(file)
            sentence[one.number] = name(one.found.sentence)
        if few or len(of_number) == 1:
            made += [
                Task(words.correct_one(n, sentence[n], len(files)), by, until)
                for n, files in of_number.items()
            ]
        else:
            files = {file for _, file in all_of_role}
            made.append(Task(words.correct_several(list(of_number), len(files)), by, until))
    return made


def _others(audit: Audit, name: Callable[[str], str]) -> list[Task]:
    said: dict[tuple[str, str | None, date | None], list[str]] = {}

    def note(kind: str, by: str | None, until: date | None, what: str) -> None:
        listed = said.setdefault((kind, by, until), [])
        if name(what) not in listed:
            listed.append(name(what))

    for file in audited(audit):
        if file.state == BROKEN_TEXT:
            note("text", file.owner, None, file.file)
        elif undecided(file):
            note("unjudged", file.owner, None, file.file)
    uses = waivers(audit)
    counting = {use.waiver for use, _ in uses if use.state == "in use"}
    for use, files in uses:
        if use.state == "in use":
            owners = {file.owner for file in audit.files if file.file in files}
            for by in sorted(owners, key=lambda one: one or ""):
                note("tolerated", by, use.waiver.ends, use.waiver.name)
        elif use.state not in ("not begun", "could not be judged") and use.waiver not in counting:
            note("waiver", use.waiver.approved_by, None, use.waiver.name)
    for file in overdue(audit):
        note("review", file.owner, None, file.file)
    order = {
        "text": words.mend_text,
        "unjudged": words.see_to_unjudged,
        "tolerated": words.correct_before,
        "waiver": words.see_to_waivers,
        "review": words.review,
    }
    return [
        Task(tell(named), by, until)
        for kind, tell in order.items()
        for (of, by, until), named in said.items()
        if of == kind
    ]
