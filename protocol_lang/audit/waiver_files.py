"""Waivers as they are written: in a file of their own, or in the protocol that they are about."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from protocol_lang.audited import Waiver
from protocol_lang.language import tree
from protocol_lang.language.load import load
from protocol_lang.language.opening import reading_of
from protocol_lang.text import Text


class Faulty(Exception):
    """A file of waivers that cannot be used: ``why`` says it, with the place."""

    def __init__(self, why: str) -> None:
        super().__init__(why)
        self.why = why


def read_waivers(path: Path) -> tuple[tuple[Waiver, ...], str, Text]:
    """The waivers of a file, its title, and its text.

    Raises :class:`~protocol_lang.text.Unreadable`, and :class:`Faulty` for a file of another kind
    or with faults.
    """
    from protocol_lang.wording import ENTRIES

    name = path.name
    loaded = load(path, name=name)
    for finding in loaded.findings:
        where = f"line {finding.place.line}: " if finding.place is not None else ""
        raise Faulty(f"{where}{ENTRIES[finding.kind].sentence(finding.facts)}")
    root = loaded.root
    if root.kind != "waivers":
        raise Faulty(f'It begins with "{root.kind}", not with "waivers".')
    title = "" if root.title is None else root.title.plain
    return tuple(_waivers(root, name)), title, loaded.texts[name]


def waivers_in(text: Text) -> tuple[Waiver, ...]:
    """The waivers that stand in a protocol."""
    return tuple(_waivers(reading_of(text).file, text.file))


def _waivers(file: tree.File, name: str) -> Iterator[Waiver]:
    for section in file.sections:
        if isinstance(section, tree.Waiver) and section.title is not None:
            lines = {line.rule: line for line in section.lines if isinstance(line, tree.WaiverLine)}
            made = _waiver(section, section.title.plain, lines, name)
            if made is not None:
                yield made


def _waiver(
    section: tree.Waiver, title: str, lines: dict[str, tree.WaiverLine], name: str
) -> Waiver | None:
    """The record of a waiver; None where it lacks something, which has been told."""
    days = lines["waiver_days"].days if "waiver_days" in lines else ()
    reason, approver = lines.get("waiver_reason"), _named(lines, "waiver_approved")
    if len(days) != 2 or reason is None or approver is None:
        return None
    rule = lines.get("waiver_rule")
    where = lines.get("waiver_where")
    choice = None if where is None else where.choice
    return Waiver(
        name=title,
        file=name,
        line=section.place.line,
        reason=reason.quoted[0].plain,
        approved_by=approver,
        starts=days[0],
        ends=days[1],
        identity=_named(lines, "waiver_finding"),
        rule=None if rule is None else rule.quoted[0].plain,
        pack=None if rule is None else rule.quoted[1].plain,
        thing=_named(lines, "waiver_for"),
        choice=None if choice is None else (choice[0].plain, choice[1].plain),
        compensated_by=_named(lines, "waiver_made_up"),
        renewed=int(_named(lines, "waiver_renewed") or 0),
        renewed_by=_named(lines, "waiver_renewed_by"),
    )


def _named(lines: dict[str, tree.WaiverLine], rule: str) -> str | None:
    line = lines.get(rule)
    return None if line is None or line.name is None else line.name.plain
