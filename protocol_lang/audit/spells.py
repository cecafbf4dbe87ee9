"""Waivers of the same that follow each other: one, as far as it goes how long that is tolerated.

Two are of the same if they match the same finding; unless each is for another value of one choice.
They are one if their times overlap, or fewer days lie between them than have to. One that was
renewed by somebody who may is the beginning of a time of its own.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from protocol_lang.audited import Spell, Waiver


@dataclass(frozen=True, slots=True)
class Line:
    """A waiver with those that it follows: from ``begins`` to ``ends``, both counted, it is
    tolerated without having been renewed. ``follows``: all of them, in order, also where it was."""

    begins: date
    ends: date
    follows: tuple[Spell, ...] = ()

    @property
    def days(self) -> int:
        """How many."""
        return (self.ends - self.begins).days + 1


def lined_up(matched: Mapping[Waiver, frozenset[str]], between: int) -> Mapping[Waiver, Line]:
    """For each waiver the line that it ends. ``matched``: the findings that each matches;
    ``between``: days that have to lie between two for them not to be one."""
    lines: dict[Waiver, Line] = {}
    for waiver in sorted(matched, key=_in_time):
        before = [
            one
            for one in lines
            if _of_the_same(one, waiver, matched) and _close(one, waiver, between)
        ]
        follows = dict.fromkeys(
            spell for one in before for spell in (*lines[one].follows, _spell(one))
        )
        whole = [] if waiver.renewed_by is not None else [lines[one] for one in before]
        lines[waiver] = Line(
            min([waiver.starts, *(one.begins for one in whole)]),
            max([waiver.ends, *(one.ends for one in whole)]),
            tuple(follows),
        )
    return lines


def _in_time(waiver: Waiver) -> tuple[date, date, str, str, int]:
    return waiver.starts, waiver.ends, waiver.name, waiver.file, waiver.line


def _of_the_same(one: Waiver, other: Waiver, matched: Mapping[Waiver, frozenset[str]]) -> bool:
    if not matched[one] & matched[other]:
        return False
    if one.choice is None or other.choice is None:
        return True
    (name, value), (other_name, other_value) = one.choice, other.choice
    same_choice = name.casefold() == other_name.casefold()
    return not same_choice or value.casefold() == other_value.casefold()


def _close(earlier: Waiver, later: Waiver, between: int) -> bool:
    return (later.starts - earlier.ends).days - 1 < between


def _spell(waiver: Waiver) -> Spell:
    return Spell(waiver.name, waiver.starts, waiver.ends)
