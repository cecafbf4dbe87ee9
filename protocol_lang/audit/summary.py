"""The short page for people: what is to be corrected in which files, and what was not looked at."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

from protocol_lang.audit.views import Group, grouped, standing_of
from protocol_lang.audit.waiving import ENDED, IN_USE, NOT_BEGUN
from protocol_lang.audited import Audit, Found, Since, Standing, Waiver
from protocol_lang.findings import Weight
from protocol_lang.outcome import Standing as Ended
from protocol_lang.report.setting import Setting
from protocol_lang.wording import audit as words
from protocol_lang.wording import basis
from protocol_lang.wording.plain import begin, count, listed, number, quoted

#: Of long lists so many are told here; a report has them all.
MOST_TOLD = 20
#: The weight of what breaks nothing that must be kept: told last, and said to be so.
CONSIDER = Weight.CONSIDER.value
#: Files that are named beside a finding.
MOST_NAMED = 4


def render(audit: Audit, width: int = 72, colour: bool = False, ascii_only: bool = False) -> str:
    """The page, without a last line feed; as :func:`protocol_lang.report.page.render`."""
    page = Setting(width, colour, ascii_only)
    page.put(counts(audit), bold=True)
    groups = [group for group in grouped(audit).values() if group.open]
    groups.sort(key=lambda group: group.first.weight == CONSIDER)
    for place, group in enumerate(groups[:MOST_TOLD], 1):
        _finding(page, place, group)
    page.gap()
    more = len(groups) - MOST_TOLD
    if more > 0:
        page.row("And", [f"{count(more, 'finding')} more, in a report (-o)"], margin=0)
    page.row("Not checked", _short(_not_checked(audit)) or [basis.NOTHING_LEFT_OUT], margin=0)
    page.row("Rules", _rules(audit), margin=0)
    page.row("Waivers", _short(_waivers(audit)), margin=0)
    page.row("Since then", _since(audit), margin=0)
    page.row("Incomplete", _short(audit.incomplete), margin=0)
    page.gap()
    page.row("Caution", basis.CAUTIONS, margin=0)
    page.row("Date", [basis.day(audit.on.isoformat())], margin=0)
    return page.text()


def counts(audit: Audit) -> str:
    """How many files ended how, in one sentence."""
    plain = [file for file in audit.files if file.state == "not a protocol"]
    ended = Counter(standing_of(file) for file in audit.files if file not in plain)
    told = [
        f"{number(ended[one])} {words}"
        for one, words in (
            (Ended.CORRECT, "to correct"),
            (Ended.UNCHECKED, "not checked to the end"),
            (Ended.CLEAR, "with nothing to correct"),
        )
        if ended[one]
    ]
    told += [f"{number(len(plain))} that {'is' if len(plain) == 1 else 'are'} no protocol"] * bool(
        plain
    )
    return f"{begin(count(len(audit.files), 'file'))}: {listed(told) or 'nothing to look at'}."


def _finding(page: Setting, place: int, group: Group) -> None:
    first = group.first
    page.gap()
    page.put(first.sentence, f"{place}. ".ljust(page.indent), bold=True)
    page.row("where", _where(group))
    page.row("text", [f'"{first.words}"'] if first.words else [])
    page.row("because", [first.because] if first.because else [])
    rule = [f"{quoted(first.rule)} of {quoted(first.pack or '')}"] if first.rule else []
    page.row("rule", [f"{one} ({first.strength})" for one in rule])
    consider = f", {CONSIDER}" if first.weight == CONSIDER else ""
    page.row("more", [f"{first.kind} ({first.identity}){consider}{_newness(first)}"])


def _where(group: Group) -> list[str]:
    line = f", line {group.first.line}" if group.first.line else ""
    if group.first.file is not None:
        line += f" of {group.first.file}"
    named = [f"{group.open[0]}{line}", *group.open[1:MOST_NAMED]]
    more = len(group.open) - MOST_NAMED
    return [*named, f"and {count(more, 'file')} more"] if more > 0 else named


def _newness(found: Found) -> str:
    return "" if found.since is Since.NEW else f", {found.since.value}"


def _not_checked(audit: Audit) -> list[str]:
    told = []
    for file in audit.files:
        if file.state == "not checked":
            told.append(f"{file.file}: {file.reason or 'no reason is known'}")
        else:
            told += [f"{file.file}: {part}" for part in file.not_checked]
    return told


def _rules(audit: Audit) -> list[str]:
    told = []
    for pack in audit.packs:
        ended = Counter(
            rule.standing for file in audit.files for rule in file.rules if rule.pack == pack.title
        )
        counts = [f"{ended[one]:,} {one.value}" for one in Standing if ended[one]]
        edition = "" if pack.edition is None else f", edition {pack.edition}"
        told.append(
            f"{quoted(pack.title)}{edition}, {count(pack.rules, 'rule')}: "
            f"{listed(counts) or 'applied to nothing'}"
        )
    told += audit.prevails
    told += [f"{quoted(rule)} of {quoted(pack)} applied to no file" for pack, rule in audit.never]
    return _short(told)


def _waivers(audit: Audit) -> list[str]:
    """Those in use first, each once with its files, that which ends first before the others."""
    uses = [(use, file.file) for file in audit.files for use in file.waivers]
    uses += [(use, "") for use in audit.waivers]
    files: dict[Waiver, list[str]] = {}
    for use, file in uses:
        if use.state == IN_USE:
            files.setdefault(use.waiver, []).append(file)
    told = [
        words.in_brief(quoted(one.name), _about(one), one.approved_by, one.ends, files[one])
        for one in sorted(files, key=lambda one: (one.ends, one.name))
    ]
    for state in list(words.WAIVER_STATES)[1:]:
        told += [
            words.not_in_use(
                quoted(use.waiver.name), _about(use.waiver), _why(state, use.why), file
            )
            for use, file in uses
            if use.state == state
        ]
    return told


def _about(waiver: Waiver) -> str:
    """What a waiver tolerates."""
    if waiver.identity is not None:
        return words.tolerates_finding(waiver.identity)
    pack = None if waiver.pack is None else quoted(waiver.pack)
    return words.tolerates_rule(quoted(waiver.rule or ""), pack, waiver.thing, waiver.choice)


def _why(state: str, why: str | None) -> str:
    """``state`` is told too where the reason alone does not say it."""
    if why is None or state in (ENDED, NOT_BEGUN):
        return why or state
    return f"{state}, {why}"


def _since(audit: Audit) -> list[str]:
    if audit.earlier is None:
        return []
    found = Counter(one.since for file in audit.files for one in file.found)
    told = [f"{found[one]:,} {one.value}" for one in Since if found[one]]
    closed = sum(map(len, audit.closed.values()))
    unseen = sum(map(len, audit.unseen.values()))
    told += [f"{closed:,} closed"] if closed else []
    told += [f"{unseen:,} in what was not looked at"] if unseen else []
    return [listed(told) or "nothing has changed"]


def _short(told: Sequence[str] | Iterable[str]) -> list[str]:
    lines = list(told)
    more = len(lines) - MOST_TOLD
    return [*lines[:MOST_TOLD], f"and {more:,} more, in a report (-o)"] if more > 0 else lines
