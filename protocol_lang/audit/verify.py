"""Whether a report comes out again: a report that is at hand, beside the audit made anew."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields

from protocol_lang.audited import VICTIMS, Audit, FileReport

#: What is said of each field of a file that may differ.
_PARTS = {
    "state": "how it ended",
    "found": "what was found",
    "rules": "what came of the rules",
    "waivers": "what came of the waivers",
    "not_checked": "what was not checked",
}


def differences(report: Audit, anew: Audit) -> tuple[str, ...]:
    """What differs, in sentences; none if the same report comes out.

    Files whose process was ended by the machine in either of them are not compared:
    :func:`not_compared`.
    """
    return tuple(_differences(report, anew))


def not_compared(report: Audit, anew: Audit) -> tuple[str, ...]:
    """The files that one of the two could not look at for want of time or memory."""
    return tuple(sorted(_victims(report) | _victims(anew)))


def _victims(audit: Audit) -> set[str]:
    return {file.file for file in audit.files if file.cause in VICTIMS}


def _differences(report: Audit, anew: Audit) -> Iterator[str]:
    if report.version != anew.version:
        yield f"It was made by version {report.version}; this is {anew.version}."
    if report.packs != anew.packs:
        yield "The files of rules, or their settings, are not the same."
    if report.waiver_files != anew.waiver_files:
        yield "The files of waivers are not the same."
    if report.earlier != anew.earlier:
        yield "The earlier report that it rests on is not the same."
    if report.changes != anew.changes:
        yield "Changes were tried for one of them alone."
    left_out = {*not_compared(report, anew)}
    then = {file.file: file for file in report.files if file.file not in left_out}
    now = {file.file: file for file in anew.files if file.file not in left_out}
    for name in sorted({*then, *now}):
        if name not in now:
            yield f"{name} is in the report and not here."
        elif name not in then:
            yield f"{name} is here and not in the report."
        else:
            yield from _file(then[name], now[name])
    if left_out:
        return
    rest = ("on", "closed", "unseen", "history", "never", "incomplete", "prevails", "waivers")
    for part in rest:
        if getattr(report, part) != getattr(anew, part):
            yield f'What the report says of the whole is not the same: "{part}".'


def _file(then: FileReport, now: FileReport) -> Iterator[str]:
    if then == now:
        return
    if then.fingerprint != now.fingerprint:
        yield f"{then.file}, or a file that it takes from, does not say the same."
        return
    other = [
        one.name for one in fields(FileReport) if getattr(then, one.name) != getattr(now, one.name)
    ]
    told = [_PARTS[name] for name in other if name in _PARTS] or [", ".join(other)]
    yield f"{then.file} says the same, but this differs: {', '.join(told)}."
