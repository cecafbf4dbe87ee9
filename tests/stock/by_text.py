"""Counts what a checklist takes by reading its lines, as with a pencil: shares nothing with the
program.

It knows a few sentences, groups of things, "where", "otherwise", "for each" and "first time only",
which is enough for some shipped checklists; anything else that takes something would be missed, so
the files it is used on are looked through by hand.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field

#: Things that a group stands for: declared so in the room of the shipped clinic.
GROUPS = {"tube": 3}

_SENTENCES: tuple[tuple[str, str], ...] = (
    (r"(?:puts on|changes) (gloves|mask|visor)$", ""),
    (r"covers (?P<many>.+) with (wrap|film cover|bag)$", "many"),
    (r"lines .+ with (tray paper)$", ""),
    (r"slips (sleeve) over sensor$", ""),
    (r"puts sensor into (holder)$", ""),
    (r"(?:cleans|disinfects) (?P<many>.+) with a new (wipe)$", "many"),
    (r"hangs sensor on sensor hook by a new (wipe)$", ""),
    (r"takes (denture cup)$", ""),
)


@dataclass
class Line:
    """A line of a checklist with the lines under it."""

    text: str
    under: list[Line] = field(default_factory=list)


def lines_of(text: str) -> list[Line]:
    """The phases of a checklist, as lines in lines, by their indentation."""
    top = Line("")
    around: list[tuple[int, Line]] = [(-1, top)]
    begun = False
    for raw in text.splitlines():
        begun = begun or raw.startswith("phase")
        if not begun or not raw.strip() or raw.strip().startswith("#"):
            continue
        depth = len(raw) - len(raw.lstrip())
        if depth == 0 and not raw.startswith("phase"):
            begun = False
            continue
        while around[-1][0] >= depth:
            around.pop()
        line = Line(raw.strip())
        around[-1][1].under.append(line)
        around.append((depth, line))
    return top.under


def counted(lines: list[Line], choices: Mapping[str, str], rounds: int = 1) -> Counter[str]:
    """What is taken with these values of the choices; ``rounds``: of what is done for each."""
    found: Counter[str] = Counter()
    taken = False  # whether the last "where" was
    for line in lines:
        where = re.fullmatch(r"where (.+?) is (.+)", line.text)
        if where is not None:
            taken = choices.get(where[1]) == where[2]
            if taken:
                found += counted(line.under, choices, rounds)
        elif line.text.startswith("where operator does not wear gloves"):
            # The visits that are counted so take gloves off before the room is turned over.
            found += counted(line.under, choices, rounds)
        elif line.text.startswith("where "):
            taken = False
        elif line.text == "otherwise":
            if not taken:
                found += counted(line.under, choices, rounds)
        elif line.text.startswith("for each"):
            for number in range(rounds):
                inner = [one for one in line.under if number == 0 or one.text != "first time only"]
                found += counted(inner, choices, rounds)
        elif line.text.startswith("[ ]"):
            found += _step(line.text)
        else:
            found += counted(line.under, choices, rounds)
    return found


def _step(text: str) -> Counter[str]:
    for pattern, many in _SENTENCES:
        match = re.search(pattern, text)
        if match is not None:
            thing = next(one for one in reversed(match.groups()) if one is not None)
            number = 1
            if many:
                names = re.split(r", | and ", match["many"])
                number = sum(GROUPS.get(name, 1) for name in names)
            return Counter({thing: number})
    return Counter()
