"""What an audit is asked for, and what comes back of one file: plain values that go to a process of
their own and back."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from protocol_lang.audited import FileReport, Waiver

#: Memory of a process in which a file is looked at, in MiB. The largest shipped day needs 220.
MOST_MEMORY = 2_048
#: Seconds by the clock after which such a process is ended: a last guard. What a question may cost
#: is counted in steps by the engine, so that the same file ends in the same way on every machine.
MOST_SECONDS = 300


@dataclass(frozen=True, slots=True)
class Ask:
    """What holds for every file. ``packs``: paths of files of rules; ``settings``: their values.

    ``on``: the day of judgement. ``waivers``: those of side files. ``memory``: in MiB; ``seconds``:
    by the clock. ``changes``: whether changes are tried that put findings right, which can
    take many times as long as all else.
    """

    on: date
    packs: tuple[str, ...] = ()
    settings: tuple[tuple[str, str], ...] = ()
    waivers: tuple[Waiver, ...] = ()
    memory: int = MOST_MEMORY
    seconds: float = MOST_SECONDS
    changes: bool = False


@dataclass(frozen=True, slots=True)
class Job:
    """A file to look at: its ``path`` (absolute), and its ``name`` in the report."""

    path: str
    name: str


@dataclass(frozen=True, slots=True)
class RoomSeen:
    """A room as one protocol uses it.

    ``title`` and ``fingerprint``: which room. ``things``: what it declares; ``used``: those of them
    that the protocol does something with. ``streams``: its waste streams, each with the title of
    the protocol that takes what is in it, or none; ``thrown``: those into which the protocol throws
    something away.
    """

    title: str
    fingerprint: str
    things: tuple[str, ...]
    used: tuple[str, ...]
    streams: tuple[tuple[str, str | None], ...]
    thrown: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Seen:
    """What came of one file. ``version``: of the program that looked at it."""

    version: str
    report: FileReport
    rooms: tuple[RoomSeen, ...] = ()
