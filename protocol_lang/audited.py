"""An audit as values: what was looked at, what was found in each file, what is waived until when.

Everything that a report shows is here, and nothing that differs between two runs over the same
files on the same day: no clock, no machine, no order of workers.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from enum import Enum


class Standing(Enum):
    """What became of a rule on a file, waivers counted in."""

    MET = "met"
    FAILED = "failed"
    WAIVED = "waived"
    NOT_APPLICABLE = "not applicable"
    NOT_DECIDED = "not decided"


class Since(Enum):
    """What a finding is beside an earlier report."""

    NEW = "new"
    OPEN = "still open"
    REOPENED = "reopened"


@dataclass(frozen=True, slots=True)
class StoryLine:
    """One step of a story: ``visit`` counts from 1; ``moves``: what the soil goes from and to."""

    visit: int
    person: str | None
    text: str
    line: int | None
    moves: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Found:
    """One finding in one file.

    ``identity``: a short code that rests on the cause and the things, not on lines or file names.
    ``rule`` and ``pack``: of a rule that failed. ``choices``: those that its story needs.
    ``weight``: "to correct" or "to consider". ``waived``: the name of the waiver in use.
    ``by``: the role that has to act, if not the owner of the file; ``until``: when, if that is set.
    ``file``: the name of the file in which ``line`` is, where it is not the one reported on.
    ``things``: names that the finding is about.
    """

    identity: str
    kind: str
    sentence: str
    line: int | None
    words: str | None
    context: str | None
    choices: tuple[tuple[str, str], ...]
    story: tuple[StoryLine, ...]
    because: str | None
    changes: tuple[str, ...]
    weight: str
    rule: str | None = None
    pack: str | None = None
    strength: str | None = None
    waived: str | None = None
    since: Since = Since.NEW
    by: str | None = None
    until: date | None = None
    file: str | None = None
    things: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class RuleStanding:
    """One rule on one file; ``found``: identities of its findings; ``reason``: in words."""

    pack: str
    rule: str
    strength: str
    standing: Standing
    sources: tuple[str, ...]
    found: tuple[str, ...] = ()
    reason: str | None = None


@dataclass(frozen=True, slots=True)
class Waiver:
    """That a finding, or a rule on a thing and a choice, is tolerated for a time.

    ``identity`` or ``rule`` (with ``pack``, ``thing``, ``choice``). ``approved_by``: a role that is
    not the owner. ``compensated_by``: the label of a step that makes up for it. ``renewed``: how
    often it was renewed before, as its author says; ``renewed_by``: the role that agreed to that.
    """

    name: str
    file: str
    line: int
    reason: str
    approved_by: str
    starts: date
    ends: date
    identity: str | None = None
    rule: str | None = None
    pack: str | None = None
    thing: str | None = None
    choice: tuple[str, str] | None = None
    compensated_by: str | None = None
    renewed: int = 0
    renewed_by: str | None = None


@dataclass(frozen=True, slots=True)
class Spell:
    """The time of a waiver: its ``name``, the first and the last day."""

    name: str
    starts: date
    ends: date


@dataclass(frozen=True, slots=True)
class WaiverUse:
    """What became of a waiver: "in use", "ended", "not begun", "matches nothing", "not allowed" or
    "could not be judged", with why.

    ``follows``: the earlier ones of the same that it is one with, since hardly any days lie between
    them.
    """

    waiver: Waiver
    state: str
    why: str | None = None
    identities: tuple[str, ...] = ()
    follows: tuple[Spell, ...] = ()


@dataclass(frozen=True, slots=True)
class FileReport:
    """One file: ``state``: "checked", "broken text", "not checked" or "not a protocol".

    ``reason``: why it was not checked to the end. ``fingerprint``: of all that it says and takes
    from other files. ``rests_on`` and ``looked_at``: as in the report of a check. ``cause``: of
    what was not checked, one word: see :data:`VICTIMS`.
    """

    file: str
    state: str
    kind: str | None = None
    title: str | None = None
    edition: int | None = None
    owner: str | None = None
    in_force: date | None = None
    review_by: date | None = None
    fingerprint: str | None = None
    reason: str | None = None
    found: tuple[Found, ...] = ()
    rules: tuple[RuleStanding, ...] = ()
    waivers: tuple[WaiverUse, ...] = ()
    rests_on: tuple[str, ...] = ()
    looked_at: tuple[str, ...] = ()
    not_checked: tuple[str, ...] = ()
    cause: str | None = None


#: Causes that lie in the machine as much as in the file: what has one of these is left out when two
#: reports are compared. The other causes: "unreadable", "link", "folder", "undecided" (it takes
#: more than is spent) and "fault" (of ours).
VICTIMS = frozenset({"memory", "time", "ended"})


@dataclass(frozen=True, slots=True)
class PackUsed:
    """A file of rules that was applied: where it is from, and its settings."""

    title: str
    edition: int | None
    fingerprint: str
    settings: tuple[tuple[str, str], ...]
    rules: int


@dataclass(frozen=True, slots=True)
class Audit:
    """The whole of it. ``files``: in the order of their names. ``on``: the day of judgement.

    ``closed``: identities that an earlier report had open and that are gone, by file. ``never``:
    rules (pack, title) that applied to no file. ``incomplete``: what the rooms have and no protocol
    names, streams that nobody takes, protocols out of force; in sentences. ``unseen``: identities
    that an earlier report had open, of files that could not be looked at to the end, or at all.
    ``history``: by file, every identity that was open once and is not now. ``waivers``: those that
    match nothing, or of which that is not known. ``prevails``: which of two rules holds that speak
    of each other, in sentences. ``changes``: whether changes were tried that put findings right.
    ``waiver_files`` (title, fingerprint) and ``earlier`` (the fingerprint of the
    earlier report): what the report rests on besides.
    """

    version: str
    on: date
    packs: tuple[PackUsed, ...]
    files: tuple[FileReport, ...]
    closed: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    never: tuple[tuple[str, str], ...] = ()
    incomplete: tuple[str, ...] = ()
    prevails: tuple[str, ...] = ()
    unseen: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    history: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    waivers: tuple[WaiverUse, ...] = ()
    waiver_files: tuple[tuple[str, str], ...] = ()
    earlier: str | None = None
    changes: bool = False
