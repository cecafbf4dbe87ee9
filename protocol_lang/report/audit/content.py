"""The report of an audit as parts, forms and tables, with all their words."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby

from protocol_lang.audited import Audit, FileReport, Found, Since, Standing, WaiverUse
from protocol_lang.report.audit import gathered
from protocol_lang.report.audit.gathered import Gathered
from protocol_lang.report.audit.pieces import (
    Form,
    Heading,
    Items,
    Line,
    Numbers,
    Paragraph,
    Part,
    Piece,
    Report,
    Row,
    Signatures,
    Table,
    name,
)
from protocol_lang.wording import audit as words
from protocol_lang.wording.plain import begin

#: How many tasks the first page has room for.
_MOST_TASKS = 9
#: Of how many files a finding tells the words; of more, the lines alone.
_FEW_PLACES = 3
#: How many files a list names that the table of files repeats.
_MOST_NAMES = 40

_STANDINGS = (
    Standing.MET,
    Standing.FAILED,
    Standing.WAIVED,
    Standing.NOT_APPLICABLE,
    Standing.NOT_DECIDED,
)


def report(audit: Audit) -> Report:
    """Totals first; details of files with findings; everything else in tables."""
    found = gathered.findings(audit)
    packs = [words.pack(name(one.title), one.edition) for one in audit.packs]
    tasks = _tasks(audit, found)
    parts = [
        Part("findings", words.FINDINGS, tuple(_findings(audit, found))),
        Part("waivers", words.WAIVERS, tuple(_waivers(audit, found))),
        Part("rules", words.RULES, tuple(_rules(audit))),
        Part("files", words.FILES, tuple(_files(audit, found))),
        Part("completeness", words.COMPLETENESS, tuple(_completeness(audit))),
        Part("rests-on", words.RESTS_ON, tuple(_rests_on(audit))),
        Part("annex", words.ANNEX, tuple(_annex(audit))),
    ]
    return Report(
        title=words.TITLE,
        subtitle=words.judged_on(audit.on),
        first=tuple(_first(audit, tasks)),
        after=(Heading(words.ALL_TO_DO), _to_do(tasks)),
        parts=tuple(
            Part(part.key, words.part(n, part.title), part.pieces)
            for n, part in enumerate(parts, start=1)
        ),
        foot=words.foot(audit.version, audit.on, packs),
    )


#: (file of rules, rule) -> its sources.
_Sources = dict[tuple[str | None, str | None], tuple[str, ...]]


def pack_shown(audit: Audit, title: str) -> str:
    """A file of rules with its edition, found by its title."""
    for one in audit.packs:
        if one.title == title:
            return words.pack(name(title), one.edition)
    return name(title)


# --- First page ----------------------------------------------------------------------------------


def _first(audit: Audit, tasks: Sequence[tuple[str, ...]]) -> Iterator[Piece]:
    files = gathered.audited(audit)
    correct = sum(map(gathered.has_to_be_corrected, files))
    undecided = sum(map(gathered.undecided, files))
    waived = sum(map(gathered.waived, files))
    applied = sum(pack.rules for pack in audit.packs)
    yield Paragraph(words.upshot(len(files), correct, undecided, waived, applied), strong=True)
    three = (len(files), correct, waived)
    labels = words.three_numbers(*three)
    yield Numbers(tuple((f"{n:,}", label) for n, label in zip(three, labels, strict=True)))
    if undecided:
        yield Paragraph(words.no_approval(undecided), strong=True)
    if told_apart := words.how_counted(
        several=any(map(gathered.counted_twice, files)), others=len(audit.files) - len(files)
    ):
        yield Paragraph(told_apart)
    yield Heading(words.TO_DO)
    if tasks:
        yield _to_do(tasks[:_MOST_TASKS], len(tasks))
    else:
        yield Paragraph(words.NOTHING_TO_DO)
    yield Paragraph(words.PROVES)
    yield Paragraph(words.LOCAL_FIRST)
    yield Heading(words.SIGNED)
    yield Paragraph(words.SIGNED_MEANS)
    yield Signatures(words.SIGNED_HEAD, words.SIGNED_ROWS)


def _tasks(audit: Audit, found: tuple[Gathered, ...]) -> list[tuple[str, ...]]:
    return [
        (
            task.what,
            name(task.by) if task.by else words.NO_OWNER,
            words.day(task.until) if task.until else words.NO_DAY,
        )
        for task in gathered.tasks(audit, found, name)
    ]


def _to_do(tasks: Sequence[tuple[str, ...]], of: int = 0) -> Table:
    """``of``: how many there are, on the first page."""
    left = [words.more_to_do(of - shown) if of > shown else "" for shown in range(len(tasks) + 1)]
    rows = tuple(tasks)
    return Table("", words.TO_DO_HEAD, rows, (5, 2, 2), left=tuple(left) if of else ())


# --- Findings ------------------------------------------------------------------------------------


def _findings(audit: Audit, found: tuple[Gathered, ...]) -> Iterator[Piece]:
    sources: _Sources = {(one.pack, one.rule): one.sources for one in gathered.rules(audit)}
    if not found:
        yield Paragraph(words.NO_FINDINGS)
    for group, of_group in groupby(found, key=lambda one: one.group):
        yield Heading(words.FINDING_GROUPS.get(group, begin(group)))
        for one in of_group:
            yield _finding(audit, one, sources)
    yield Heading(words.CLOSED)
    closed = [
        (name(code), name(file)) for file, codes in sorted(audit.closed.items()) for code in codes
    ]
    if closed:
        yield Table("", words.CLOSED_HEAD, tuple(closed), (1, 3))
    else:
        yield Paragraph(words.NOTHING_CLOSED)


def _finding(audit: Audit, one: Gathered, sources: _Sources) -> Form:
    found = one.found
    named = sources.get((found.pack, found.rule)) or (words.NO_SOURCES,)
    rows = [
        _row(words.ROW_RULE, [_rule(audit, found)]),
        _row(words.ROW_KIND, [name(found.kind)]),
        *([_row(words.ROW_SOURCES, map(name, named))] if found.rule else []),
        _row(words.ROW_IDENTITY, _identity(one)),
        Row(words.ROW_WHERE, tuple(_where(one))),
        _row(words.ROW_CHOICES, _choices(found)),
        *_story(one),
        *([_row(words.ROW_BECAUSE, [name(found.because)])] if found.because else []),
        _change(audit, found),
        *([_row(words.ROW_WAIVED, _waived(audit, one))] if one.group == words.WAIVED else []),
        *([_row(words.ROW_BY, _by(one))] if one.group == words.TO_CORRECT else []),
    ]
    kinds = {words.TO_CORRECT: "correct", words.WAIVED: "waived"}
    return Form(
        name(found.sentence), tuple(rows), str(one.number), kinds.get(one.group, "consider")
    )


def _row(label: str, texts: Iterable[str], lead: str = "") -> Row:
    return Row(label, tuple(map(Line, texts)), lead)


def _rule(audit: Audit, found: Found) -> str:
    if found.rule is None:
        return words.OWN_QUESTION
    pack = pack_shown(audit, found.pack) if found.pack else ""
    return words.rule_of(name(found.rule), found.strength, pack)


def _identity(one: Gathered) -> list[str]:
    code = name(one.found.identity)
    by_since = Counter(at.found.since for at in one.at)
    if len(by_since) == 1:
        return [words.identity(code, one.found.since.value)]
    told = [words.since_in(since.value, by_since[since]) for since in Since if by_since[since]]
    return [words.identity(code, ", ".join(told))]


def _where(one: Gathered) -> Iterator[Line]:
    differ = len({at.found.since for at in one.at}) > 1
    for at in one.at:
        found = at.found
        told = [name(text) for text in (found.context, found.words) if text]
        deeper = tuple(map(Line, told)) if len(one.at) <= _FEW_PLACES else ()
        since = f", {found.since.value}" if differ else ""
        yield Line(words.at_line(name(at.file.file), found.line, since), deeper)


def _choices(found: Found) -> list[str]:
    told = [f"{name(choice)}: {name(value)}" for choice, value in found.choices]
    return told or [words.ANY_CHOICE]


def _story(one: Gathered) -> Iterator[Row]:
    story = one.found.story
    if not story:
        return
    lead = words.told_as_in(name(one.at[0].file.file)) if len(one.at) > 1 else ""
    steps = [
        (
            step.visit,
            Line(
                words.step(step.line, name(step.person) if step.person else None, name(step.text)),
                tuple(
                    Line(words.moves(name(source), [name(goal) for _, goal in goals]))
                    for source, goals in groupby(step.moves, key=lambda move: move[0])
                ),
            ),
        )
        for step in story
    ]
    yield Row(
        words.ROW_STORY,
        tuple(
            Line(words.visit(visit), tuple(line for _, line in of_visit))
            for visit, of_visit in groupby(steps, key=lambda pair: pair[0])
        ),
        lead,
    )


def _change(audit: Audit, found: Found) -> Row:
    if not found.changes:
        return _row(
            words.ROW_CHANGE, [words.NO_CHANGE if audit.changes else words.CHANGES_NOT_TRIED]
        )
    lines = []
    for change in found.changes:
        sentence, *to_write = change.splitlines() or [""]
        lines.append(Line(name(sentence), tuple(Line(name(line)) for line in to_write)))
    return Row(words.ROW_CHANGE, tuple(lines), words.change_lead(len(lines)))


def _waived(audit: Audit, one: Gathered) -> list[str]:
    known = {
        use.waiver.name: use.waiver
        for file in audit.files
        for use in file.waivers
        if use.state == "in use"
    }
    told: dict[str, None] = {}
    for at in one.at:
        waiver = known.get(at.found.waived or "")
        until = f"; {words.until(waiver.ends)}" if waiver else ""
        told[f"{name(at.found.waived or '')}{until}"] = None
    return list(told)


def _by(one: Gathered) -> list[str]:
    told: dict[str, None] = {}
    for at in one.at:
        by = at.found.by or at.file.owner
        until = words.until(at.found.until) if at.found.until else words.NO_DAY
        told[words.act(name(by) if by else words.NO_OWNER, until)] = None
    return list(told)


# --- Waivers -------------------------------------------------------------------------------------


def _waivers(audit: Audit, found: tuple[Gathered, ...]) -> Iterator[Piece]:
    uses = gathered.waivers(audit)
    if not uses:
        yield Paragraph(words.NO_WAIVERS)
    for state, of_state in groupby(uses, key=lambda pair: pair[0].state):
        yield Heading(words.WAIVER_STATES.get(state, begin(name(state))))
        for use, files in of_state:
            yield _waiver(audit, use, files, found)


def _waiver(
    audit: Audit, use: WaiverUse, files: Sequence[str], found: tuple[Gathered, ...]
) -> Form:
    waiver = use.waiver
    made_up = waiver.compensated_by
    rows = [
        _row(words.ROW_TOLERATES, _tolerates(audit, use, found)),
        _row(words.ROW_REASON, [name(waiver.reason)]),
        _row(words.ROW_TIME, _times(use)),
        _row(words.ROW_APPROVED, [words.approved_by(name(waiver.approved_by))]),
        _row(
            words.ROW_COMPENSATED,
            [words.made_up_by(name(made_up)) if made_up else words.NOT_COMPENSATED],
        ),
        *([_row(words.ROW_WHY, [name(use.why)])] if use.why else []),
        _row(words.ROW_WRITTEN, [words.at_line(name(waiver.file), waiver.line)]),
        _row(words.ROW_WHERE, [words.covered_in([name(file) for file in files])]),
    ]
    kind = "waived" if use.state == "in use" else "plain"
    return Form(name(waiver.name), tuple(rows), kind=kind)


def _times(use: WaiverUse) -> Iterator[str]:
    """Its own time, and those of the earlier ones that it is one with."""
    waiver = use.waiver
    by = name(waiver.renewed_by) if waiver.renewed_by else None
    yield words.time_of(waiver.starts, waiver.ends, waiver.renewed, by)
    for spell in use.follows:
        yield words.follows(name(spell.name), spell.starts, spell.ends)


def _tolerates(audit: Audit, use: WaiverUse, found: tuple[Gathered, ...]) -> list[str]:
    waiver = use.waiver
    told = []
    if waiver.identity is not None:
        told.append(words.tolerates_finding(name(waiver.identity)))
    if waiver.rule is not None:
        pack = pack_shown(audit, waiver.pack) if waiver.pack else None
        thing = name(waiver.thing) if waiver.thing else None
        choice = waiver.choice and (name(waiver.choice[0]), name(waiver.choice[1]))
        told.append(words.tolerates_rule(name(waiver.rule), pack, thing, choice))
    covered = [
        one.number
        for one in found
        if one.group == words.WAIVED
        and any(
            at.found.waived == waiver.name and at.found.identity in use.identities for at in one.at
        )
    ]
    return [*told, words.used_for(covered)] if covered else told


# --- Rules and files -----------------------------------------------------------------------------


def _rules(audit: Audit) -> Iterator[Piece]:
    counts = gathered.rules(audit)
    if not counts and not audit.never:
        yield Paragraph(words.NO_RULES)
        return
    rows = [
        (
            "\n".join(
                (
                    name(one.rule),
                    pack_shown(audit, one.pack),
                    words.sources([name(source) for source in one.sources]),
                )
            ),
            name(one.strength),
            *(f"{one.counts.get(standing, 0):,}" for standing in _STANDINGS),
        )
        for one in counts
    ]
    sums = [sum(one.counts.get(standing, 0) for one in counts) for standing in _STANDINGS]
    rows.append((words.RULES_TOTAL, "", *(f"{total:,}" for total in sums)))
    yield Table(
        words.RULES_CAPTION,
        words.RULES_HEAD,
        tuple(rows),
        (8, 2, 0, 0, 0, 0, 0),
        total=True,
        counts=words.IN_FILES,
    )
    yield Paragraph(words.NOT_APPLICABLE_IS_NO_APPROVAL)
    if audit.prevails:
        yield from _listed(words.PREVAILS, [name(told) for told in audit.prevails], "")
    never = [f"{name(rule)} ({pack_shown(audit, pack)})" for pack, rule in audit.never]
    yield from _listed(words.NEVER, never, words.NEVER_NONE)
    why = [
        words.reason(
            name(rule), standing.value, name(reason), words.in_files([name(f) for f in files], 5)
        )
        for rule, standing, reason, files in gathered.reasons(audit)
    ]
    if why:
        yield from _listed(words.REASONS, why, "")


def _listed(heading: str, texts: Sequence[str], none: str) -> Iterator[Piece]:
    yield Heading(heading)
    yield Items(tuple(map(Line, texts))) if texts else Paragraph(none)


def _files_listed(heading: str, texts: Sequence[str], none: str) -> Iterator[Piece]:
    """A list of files, cut where it would only repeat the table of files."""
    left = len(texts) - _MOST_NAMES
    cut = [*texts[:_MOST_NAMES], words.more_files(left)] if left > 0 else texts
    yield from _listed(heading, cut, none)


def _files(audit: Audit, found: tuple[Gathered, ...]) -> Iterator[Piece]:
    numbers = gathered.numbers(found)
    files = gathered.audited(audit)
    waiting = {file.file for file in gathered.not_in_force(audit)}
    late = {file.file for file in gathered.overdue(audit)}
    never = {file.file for file in gathered.without_review(audit)}
    rows = []
    for file in files:
        outcome = [gathered.fate(file).value]
        outcome += [
            words.findings_of(of_group, group)
            for group, of_group in numbers.get(file.file, {}).items()
        ]
        outcome += [words.OUTCOME_NOT_IN_FORCE] if file.file in waiting else []
        outcome += [words.OUTCOME_OVERDUE] if file.file in late else []
        outcome += [words.OUTCOME_NO_REVIEW] if file.file in never else []
        standings = [rule.standing for rule in file.rules]
        rows.append(
            (
                name(file.file),
                "\n".join(
                    (
                        words.titled(name(file.title) if file.title else None, file.edition),
                        words.owner(name(file.owner) if file.owner else None),
                    )
                ),
                "\n".join(outcome),
                *(f"{standings.count(standing):,}" for standing in _STANDINGS),
            )
        )
    every = [rule.standing for file in files for rule in file.rules]
    sums = (f"{every.count(standing):,}" for standing in _STANDINGS)
    rows.append((words.FILES_TOTAL, "", "", *sums))
    widths = (4, 4, 3, 0, 0, 0, 0, 0)
    yield Table(
        words.FILES_CAPTION,
        words.FILES_HEAD,
        tuple(rows),
        widths,
        total=True,
        counts=words.OF_RULES,
    )
    yield Heading(words.NOT_JUDGED)
    lines = [line for file in files if (line := _not_judged(file))]
    yield Items(tuple(lines)) if lines else Paragraph(words.ALL_JUDGED)


def _not_judged(file: FileReport) -> Line | None:
    told = [name(file.reason)] if file.reason else []
    told += [name(part) for part in file.not_checked]
    told += [
        words.reason(name(rule.rule), rule.standing.value, name(rule.reason or words.NO_REASON), "")
        for rule in file.rules
        if rule.standing is Standing.NOT_DECIDED
    ]
    if not told and not gathered.undecided(file):
        return None
    return Line(name(file.file), tuple(map(Line, told or [words.NO_REASON])))


# --- Completeness --------------------------------------------------------------------------------


def _completeness(audit: Audit) -> Iterator[Piece]:
    yield from _listed(words.ROOMS, [name(one) for one in audit.incomplete], words.ROOMS_NONE)
    waiting = [
        words.in_force_from(name(file.file), file.in_force) for file in gathered.not_in_force(audit)
    ]
    yield from _files_listed(words.NOT_IN_FORCE, waiting, words.NOT_IN_FORCE_NONE)
    late = [
        words.review_was_due(name(file.file), file.review_by)
        for file in gathered.overdue(audit)
        if file.review_by is not None
    ]
    yield from _files_listed(words.OVERDUE, late, words.OVERDUE_NONE)
    never = [name(file.file) for file in gathered.without_review(audit)]
    if never:
        yield from _files_listed(words.NO_REVIEW, never, "")
    others = [
        name(file.file) for file in audit.files if gathered.fate(file) is gathered.Fate.NO_PROTOCOL
    ]
    if others:
        yield from _listed(words.NOT_PROTOCOLS, others, "")


# --- What it rests on ----------------------------------------------------------------------------


def _assumptions(audit: Audit) -> dict[str, list[str]]:
    """Each line with the files it is taken as given for, in the order of files."""
    found: dict[str, list[str]] = {}
    for file in gathered.audited(audit):
        for line in dict.fromkeys(file.rests_on):
            found.setdefault(line, []).append(file.file)
    return found


def _rests_on(audit: Audit) -> Iterator[Piece]:
    assumptions = _assumptions(audit)
    if not assumptions:
        yield Paragraph(words.RESTS_ON_NOTHING)
        return
    yield Paragraph(words.RESTS_ON_LEAD)
    total = len(gathered.audited(audit))
    rows = tuple(
        (
            words.assumption(n),
            name(line),
            words.holds_in(len(files), total, [name(file) for file in files]),
        )
        for n, (line, files) in enumerate(assumptions.items(), start=1)
    )
    yield Table("", words.RESTS_ON_HEAD, rows, (1, 8, 4))


def _annex(audit: Audit) -> Iterator[Piece]:
    yield Heading(words.PACKS)
    if audit.packs:
        packs = tuple(
            (
                words.pack(name(pack.title), pack.edition),
                f"{pack.rules:,}",
                "\n".join(f"{name(key)}: {name(value)}" for key, value in pack.settings)
                or words.NO_SETTINGS,
                name(pack.fingerprint),
            )
            for pack in audit.packs
        )
        yield Table("", words.PACKS_HEAD, packs, (4, 0, 4, 4))
    else:
        yield Paragraph(words.NO_RULES)
    yield Paragraph(words.CHANGES_TRIED if audit.changes else words.CHANGES_NOT_TRIED)
    yield Heading(words.LOOKED_AT)
    yield Paragraph(words.LOOKED_AT_LEAD)
    marks = {line: words.assumption(n) for n, line in enumerate(_assumptions(audit), start=1)}
    rows = tuple(
        (
            "\n".join(
                (
                    name(file.file),
                    name(file.fingerprint) if file.fingerprint else words.NO_FINGERPRINT,
                    words.days(file.in_force, file.review_by),
                )
            ),
            "\n".join(map(name, file.looked_at)) or words.NOTHING_LOOKED_AT,
            ", ".join(marks[line] for line in dict.fromkeys(file.rests_on)),
        )
        for file in gathered.audited(audit)
    )
    yield Table("", words.LOOKED_AT_HEAD, rows, (4, 6, 2))
