"""Questions that every form of the report asks of an audit."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from protocol_lang.audited import Audit, FileReport, Found
from protocol_lang.audited import Standing as OfRule
from protocol_lang.outcome import Standing


@dataclass(frozen=True, slots=True)
class Group:
    """One finding wherever it is: ``first`` as it was found in the first of ``files``.

    ``open``: the files in which it is not waived.
    """

    first: Found
    files: tuple[str, ...]
    open: tuple[str, ...]


def grouped(audit: Audit) -> Mapping[str, Group]:
    """For each identity the files that have it, in the order of the audit; each finding is told
    once."""
    where: dict[str, list[tuple[str, Found]]] = {}
    for file in audit.files:
        for found in file.found:
            where.setdefault(found.identity, []).append((file.file, found))
    return {
        identity: Group(
            first=sites[0][1],
            files=tuple(dict.fromkeys(name for name, _ in sites)),
            open=tuple(dict.fromkeys(name for name, found in sites if found.waived is None)),
        )
        for identity, sites in where.items()
    }


def open_of(file: FileReport) -> Iterator[Found]:
    """What is to be corrected in a file, and is not waived."""
    return (one for one in file.found if one.weight == "to correct" and one.waived is None)


def standing_of(file: FileReport) -> Standing:
    """How a file ended, waivers counted in."""
    undecided = any(rule.standing is OfRule.NOT_DECIDED for rule in file.rules)
    if file.state == "broken text" or next(open_of(file), None) is not None:
        return Standing.CORRECT
    if file.state == "not checked" or file.not_checked or undecided:
        return Standing.UNCHECKED
    return Standing.CLEAR


def standing(audit: Audit) -> Standing:
    """How the whole ended: the first of the standings that holds for some file.

    Where nothing was looked at, nothing is clear.
    """
    found = {standing_of(file) for file in audit.files} or {Standing.UNCHECKED}
    return next(one for one in Standing if one in found)
