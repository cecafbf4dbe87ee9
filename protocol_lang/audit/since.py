"""Beside an earlier report: what is new, still open, reopened, closed, or not to be told.

Findings are the same when their identities are, in the same file. A file is the same by its name;
or, where the name is gone, by its title, if one file alone has it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from protocol_lang.audited import Audit, FileReport, Found, Since

Identities = Mapping[str, tuple[str, ...]]


def beside(audit: Audit, earlier: Audit) -> Audit:
    """The audit with what the earlier report knew counted in.

    What was open is closed only where its file was looked at to the end and has it no longer; else
    it is ``unseen``, and is still open when it is found again.
    """
    before = _renamed(earlier, audit)
    history = _called(earlier.history, before)
    open_then = _called(_open(earlier), before)
    for name, identities in _called(earlier.unseen, before).items():
        open_then[name] = tuple(dict.fromkeys((*open_then.get(name, ()), *identities)))
    closed: dict[str, tuple[str, ...]] = {}
    unseen: dict[str, tuple[str, ...]] = {}
    past: dict[str, tuple[str, ...]] = {}
    now = {file.file: file for file in audit.files}
    for name in sorted({*open_then, *history, *now}):
        file = now.get(name)
        found = {one.identity for one in file.found} if file is not None else set()
        gone = tuple(one for one in open_then.get(name, ()) if one not in found)
        if gone and file is not None and _to_the_end(file):
            closed[name] = gone
        elif gone:
            unseen[name] = gone
        kept = (*history.get(name, ()), *closed.get(name, ()))
        past[name] = tuple(sorted({one for one in kept if one not in found}))
    return replace(
        audit,
        files=tuple(_file(one, open_then, history) for one in audit.files),
        closed=closed,
        unseen=unseen,
        history={name: identities for name, identities in past.items() if identities},
    )


def _file(file: FileReport, open_then: Identities, history: Identities) -> FileReport:
    was_open, was_closed = open_then.get(file.file, ()), history.get(file.file, ())

    def since(one: Found) -> Since:
        if one.identity in was_open:
            return Since.OPEN
        return Since.REOPENED if one.identity in was_closed else Since.NEW

    return replace(file, found=tuple(replace(one, since=since(one)) for one in file.found))


def _open(audit: Audit) -> Identities:
    return {
        file.file: tuple(dict.fromkeys(one.identity for one in file.found))
        for file in audit.files
        if file.found
    }


def _to_the_end(file: FileReport) -> bool:
    return file.state in ("checked", "not a protocol") and not file.not_checked


def _renamed(earlier: Audit, audit: Audit) -> dict[str, str]:
    """For files of the earlier report whose names are gone, the names they have now."""
    names = {file.file for file in audit.files}
    now = _by_title(audit)
    return {
        file: now[title]
        for title, file in _by_title(earlier).items()
        if file not in names and title in now
    }


def _by_title(audit: Audit) -> dict[tuple[str | None, str], str]:
    """The file of each title that one file alone has."""
    files: dict[tuple[str | None, str], list[str]] = {}
    for file in audit.files:
        if file.title:
            files.setdefault((file.kind, file.title.casefold()), []).append(file.file)
    return {title: names[0] for title, names in files.items() if len(names) == 1}


def _called(known: Identities, names: Mapping[str, str]) -> dict[str, tuple[str, ...]]:
    return {names.get(name, name): identities for name, identities in known.items()}
