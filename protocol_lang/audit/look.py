"""One file of an audit: checked, its rules judged, waivers counted in; told as a record."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from functools import lru_cache, partial
from pathlib import Path

from protocol_lang import __version__, prints
from protocol_lang.audit.asking import Ask, Job, RoomSeen, Seen
from protocol_lang.audit.waiver_files import waivers_in
from protocol_lang.audit.waiving import NOT_ALL, UNREAD, Kept, not_judged, waive
from protocol_lang.audited import FileReport, Found, RuleStanding, Standing, StoryLine
from protocol_lang.checks.streams import named_of_room
from protocol_lang.findings import Finding, Weight
from protocol_lang.identity import identity_of
from protocol_lang.language.load import load
from protocol_lang.model.rules import RuleBook
from protocol_lang.outcome import Outcome
from protocol_lang.pipeline import Checked, check_file
from protocol_lang.report import page
from protocol_lang.report.told import Told, tell
from protocol_lang.rules import RuleVerdict, Subject, judge_rules
from protocol_lang.text import Text, Unreadable
from protocol_lang.wording import ENTRIES
from protocol_lang.wording.rule_faults import reason as reason_said

#: Facts that say what a finding is about.
_ABOUT = ("thing", "what", "person", "who")


def look(job: Job, ask: Ask) -> Seen:
    """Everything that the audit wants to know of one file. Never raises for what a file says."""
    try:
        path = Path(job.path)
        checked = check_file(path, mend=ask.changes, on=ask.on, name=job.name, lasting=True)
    except Unreadable as problem:
        why = ENTRIES[problem.kind].sentence(problem.facts)
        return Seen(
            __version__, FileReport(job.name, "not checked", reason=why, cause="unreadable")
        )
    return seen(checked, job, ask)


def seen(checked: Checked, job: Job, ask: Ask) -> Seen:
    """The same of a file that has been checked."""
    outcome = checked.outcome
    told = tell(Outcome((outcome,), {name: t.lines for name, t in checked.texts.items()}))[0]
    found = [_found(one, job.name, checked.texts) for one in told.findings]
    if outcome.kind not in ("protocol", "day"):
        broken = any(one.weight == Weight.CORRECT.value for one in found)
        return Seen(__version__, _plain(job, checked, tuple(found), broken))
    verdicts = verdicts_of(checked, ask)
    of_rules: list[Found] = []
    standings: list[RuleStanding] = []
    for verdict in verdicts:
        fails = [_of_rule(one, verdict, job.name, checked.texts) for one in verdict.findings]
        of_rules += fails
        standings.append(_standing(verdict, fails))
    protocol = checked.protocol
    header = None if protocol is None else protocol.header
    looked_at = checked.unfolded is not None
    broken = not looked_at and bool(outcome.findings)
    report = FileReport(
        file=job.name,
        state="broken text" if broken else "checked" if looked_at else "not checked",
        kind=outcome.kind,
        title=outcome.title,
        edition=outcome.edition,
        owner=header.owner if header else None,
        in_force=header.in_force if header else None,
        review_by=header.review_by if header else None,
        fingerprint=_fingerprint(checked),
        reason=None if looked_at or not told.parts else told.parts[0].sentence,
        found=tuple(_once([*found, *of_rules])),
        rules=tuple(standings),
        rests_on=tuple(page.rests_on(outcome.coverage)) if outcome.coverage else (),
        looked_at=tuple(page.looked_at(told, outcome.coverage)) if outcome.coverage else (),
        not_checked=tuple(part.sentence for part in told.parts),
        cause=None if looked_at or broken else "undecided",
    )
    own = waivers_in(checked.texts[job.name])
    if report.state == "checked" and protocol is not None and checked.unfolded is not None:
        again = partial(_again, job, ask)
        kept = Kept(protocol, checked.unfolded, tuple(ask.settings), again)
        report = waive(report, kept, own, ask, books_of(ask))
    elif own:
        report = replace(report, waivers=not_judged(own, UNREAD if broken else NOT_ALL))
    return Seen(__version__, report, tuple(_rooms(checked)))


def books_of(ask: Ask) -> tuple[RuleBook, ...]:
    """The rules of the packs; each is read once in a process."""
    return tuple(book for book in map(_book, ask.packs) if book is not None)


@lru_cache(maxsize=64)
def _book(path: str) -> RuleBook | None:
    return load(Path(path)).rules


def verdicts_of(checked: Checked, ask: Ask) -> tuple[RuleVerdict, ...]:
    """What the rules of all packs say of a protocol."""
    if not ask.packs:
        return ()
    subject = Subject(checked.protocol, checked.unfolded, checked.judgement, checked.whole)
    return judge_rules(books_of(ask), subject, dict(ask.settings), ask.on)


def _again(job: Job, ask: Ask, only: tuple[str, str]) -> frozenset[tuple[str, str, str]]:
    """The same file with one value of a choice alone: (pack, rule, thing) of what fails then."""
    path, chosen = Path(job.path), dict([only])
    checked = check_file(path, chosen, mend=False, on=ask.on, name=job.name, lasting=True)
    return frozenset(
        (verdict.pack, verdict.rule.title, thing)
        for verdict in verdicts_of(checked, ask)
        for finding in verdict.findings
        for thing in _things(finding)
    )


# --- Findings ------------------------------------------------------------------------------------


def _found(told: Told, file: str, texts: Mapping[str, Text]) -> Found:
    finding = told.finding
    place = finding.place
    text = texts.get(place.file) if place else None
    lines = text.lines if text else ()
    words = None
    if place is not None and 1 <= place.line <= len(lines):
        words = lines[place.line - 1][place.column - 1 : place.end - 1]
    route = finding.route
    return Found(
        identity=identity_of(finding),
        kind=finding.kind,
        sentence=told.sentence,
        line=place.line if place else None,
        words=words,
        context=finding.context,
        choices=route.choices if route else (),
        story=tuple(
            StoryLine(
                step.visit,
                step.person,
                step.text,
                step.place.line if step.place else None,
                step.moves,
            )
            for step in (route.steps if route else ())
        ),
        because=told.because or told.advice,
        changes=tuple("\n".join((change.sentence, *change.lines)) for _, change in told.changes),
        weight=finding.weight.value,
        file=place.file if place and place.file != file else None,
        things=_things(finding),
    )


def _of_rule(finding: Finding, verdict: RuleVerdict, file: str, texts: Mapping[str, Text]) -> Found:
    entry = ENTRIES[finding.kind]
    told = Told(
        number=0,
        again=False,
        code=entry.number,
        finding=finding,
        sentence=entry.sentence(finding.facts),
        because=verdict.rule.because or entry.because(finding.facts),
        advice=entry.change(finding.facts),
        changes=(),
        follows=None,
    )
    rule = verdict.rule
    return replace(
        _found(told, file, texts),
        rule=rule.title,
        pack=verdict.pack,
        strength=rule.strength.value,
    )


def _standing(verdict: RuleVerdict, fails: Sequence[Found]) -> RuleStanding:
    rule, reason = verdict.rule, verdict.reason
    return RuleStanding(
        pack=verdict.pack,
        rule=rule.title,
        strength=rule.strength.value,
        standing=Standing(verdict.verdict.value),
        sources=rule.sources,
        found=tuple(dict.fromkeys(one.identity for one in fails)),
        reason=None if reason is None else reason_said(reason.kind, reason.facts),
    )


def _things(finding: Finding) -> tuple[str, ...]:
    named = (finding.facts[fact] for fact in _ABOUT if fact in finding.facts)
    return tuple(dict.fromkeys(name for names in named for name in names.split(", ")))


def _once(found: Iterable[Found]) -> list[Found]:
    """Each finding once: those of one cause at several places are one thing to put right, but each
    place is told."""
    return list(dict.fromkeys(found))


# --- Files ---------------------------------------------------------------------------------------


def _plain(job: Job, checked: Checked, found: tuple[Found, ...], broken: bool) -> FileReport:
    """A file that is no protocol: it was read, and that is all."""
    outcome = checked.outcome
    return FileReport(
        file=job.name,
        state="broken text" if broken else "not a protocol",
        kind=outcome.kind,
        title=outcome.title,
        fingerprint=_fingerprint(checked),
        found=found,
    )


def _fingerprint(checked: Checked) -> str:
    own = checked.texts[checked.outcome.file]
    return prints.of_texts([own, *checked.texts.values()])


def _rooms(checked: Checked) -> Iterable[RoomSeen]:
    """The rooms that the protocol takes words from, as it uses them."""
    protocol, unfolded = checked.protocol, checked.unfolded
    if protocol is None or unfolded is None:
        return
    known = named_of_room(unfolded)
    for source in protocol.files:
        if source.kind != "room":
            continue
        text = checked.texts.get(source.file)
        things = [t for t in protocol.things.values() if t.place.file == source.file]
        streams = [s for s in protocol.streams.values() if s.place.file == source.file]
        thrown = {t.stream for t in protocol.things.values() if t.name in known and t.stream}
        thrown |= {s.name for s in streams if s.name in known}
        yield RoomSeen(
            title=source.title,
            fingerprint="" if text is None else prints.of_texts([text]),
            things=tuple(thing.name for thing in things),
            used=tuple(thing.name for thing in things if thing.name in known),
            streams=tuple((stream.name, stream.to) for stream in streams),
            thrown=tuple(stream.name for stream in streams if stream.name in thrown),
        )
