"""What nobody covers: things of a room that no protocol names, streams that nobody takes, protocols
that are out of force on the day."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import date

from protocol_lang.audit.asking import RoomSeen, Seen
from protocol_lang.audited import FileReport
from protocol_lang.wording.plain import listed, quoted


def incomplete(seen: Sequence[Seen], on: date) -> tuple[str, ...]:
    """Sentences in the order of rooms, then of files.

    A room is told apart by its title and by what it says: two clinics may each have a "Room 1".
    """
    reports = [one.report for one in seen]
    rooms: dict[tuple[str, str], list[RoomSeen]] = {}
    for one in seen:
        for room in one.rooms:
            rooms.setdefault((room.title, room.fingerprint), []).append(room)
    titles = {(report.title or "").casefold() for report in reports}
    told = [
        sentence
        for (title, _), known in sorted(rooms.items())
        for sentence in _room(title, known, titles)
    ]
    return (*told, *_days(reports, on))


def _room(title: str, known: Sequence[RoomSeen], titles: set[str]) -> Iterator[str]:
    used = {name for room in known for name in room.used}
    left = _ordered(name for room in known for name in room.things if name not in used)
    if left:
        yield f"No protocol names {listed(left)} of {quoted(title)}."
    thrown = {name for room in known for name in room.thrown}
    streams = {stream: to for room in known for stream, to in room.streams}
    idle = [name for name in streams if name not in thrown]
    if idle:
        yield f"No protocol throws anything into {listed(idle)} of {quoted(title)}."
    for stream, to in streams.items():
        if stream in thrown and to is not None and to.casefold() not in titles:
            yield (
                f"{_capital(stream)} of {quoted(title)} goes to {quoted(to)}, which is not among "
                "these files."
            )
    nobody = [name for name, to in streams.items() if to is None and name in thrown]
    if nobody:
        yield f"No protocol is told that takes what is in {listed(nobody)} of {quoted(title)}."


def _days(reports: Iterable[FileReport], on: date) -> Iterator[str]:
    for report in reports:
        if report.kind not in ("protocol", "day"):
            continue
        if report.in_force is not None and on < report.in_force:
            yield f"{report.file} is not in force before {report.in_force.isoformat()}."
        if report.review_by is not None and on > report.review_by:
            whose = f" by {report.owner}" if report.owner else ""
            yield f"{report.file} was to be reviewed{whose} by {report.review_by.isoformat()}."


def _ordered(names: Iterable[str]) -> list[str]:
    return list(dict.fromkeys(names))


def _capital(name: str) -> str:
    return name[:1].upper() + name[1:]
