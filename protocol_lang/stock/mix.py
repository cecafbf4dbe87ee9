"""A mix of visits: which part of them goes in which way.

Written as "60 % staffing=alone; exposure=4". What a share leaves open is taken to go in the way
that uses the most, of each thing by itself; but nothing that is found out on the way is so unless
the share says it.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from protocol_lang.stock.faults import CannotCount
from protocol_lang.stock.ranges import Counted, Way, shown_choice
from protocol_lang.supplied import Share
from protocol_lang.wording.plain import listed

#: What a share calls the protocol of a day that its visits follow, and a mishap.
VISIT, HAPPENS = "visit", "happens"

#: Of what cannot be read so much is shown, in letters.
MOST_SHOWN = 80

#: More shares than this are not read.
MOST_SHARES = 500


@dataclass(frozen=True, slots=True)
class Weighed:
    """A share of the visits with what one of them takes: ``uses`` of what the room orders or has
    treated; ``back`` of what comes back, by thing."""

    part: Fraction
    uses: Mapping[str, int]
    back: Mapping[str, int]


def is_share(text: str) -> bool:
    """Whether the text is a share itself, and not the name of a file with shares."""
    return re.match(r"\s*\d[\d.]*\s*%", text) is not None


def share_of(text: str) -> Share:
    """One share. Raises :class:`CannotCount` for what cannot be read."""
    found = re.fullmatch(r"\s*(\d{1,3}(?:\.\d{1,9})?)\s*%\s*(.*?)\s*", text)
    settled: dict[str, str] = {}
    pieces = [] if found is None else [one for one in found[2].split(";") if one.strip()]
    for piece in pieces:
        name, equals, value = piece.partition("=")
        name, value = " ".join(name.split()), " ".join(value.split())
        if not equals or not name or not value or name in settled:
            found = None
            break
        settled[name] = value
    if found is None or not 0 < Fraction(found[1]) <= 100:
        raise CannotCount(
            f'"{" ".join(text.split())[:MOST_SHOWN]}" is no share of the visits. Write it as '
            '"60 % staffing=alone; exposure=4".'
        )
    return Share(Fraction(found[1]) / 100, settled)


def shares_of(lines: Iterable[str]) -> tuple[Share, ...]:
    """The shares of a file: one on a line; what stands after # is for people."""
    found = [share_of(line) for line in (line.partition("#")[0] for line in lines) if line.strip()]
    return tuple(found)


def weighed(mix: Sequence[Share], visits: Sequence[Counted]) -> tuple[Weighed, ...]:
    """The shares of a mix with what a visit of each takes at most.

    Raises :class:`CannotCount` for a share of visits that there are not, and where the shares are
    not all of the visits.
    """
    if len(mix) > MOST_SHARES:
        raise CannotCount(f"A mix has at most {MOST_SHARES} shares, and this one has {len(mix)}.")
    whole = sum(share.part for share in mix)
    if whole != 1:
        raise CannotCount(
            f"The shares of the mix come to {float(whole * 100):g} %. They have to come to 100 %."
        )
    _once_for_the_clinic(mix, visits)
    return tuple(_weighed(share, visits) for share in mix)


def _once_for_the_clinic(mix: Sequence[Share], visits: Sequence[Counted]) -> None:
    """What is fixed for the clinic has one value in all shares."""
    fixed = {choice.name.casefold() for one in visits for choice in one.choices if choice.fixed}
    known: dict[str, str] = {}
    for share in mix:
        for name, value in share.settled.items():
            before = known.setdefault(name.casefold(), value)
            if name.casefold() in fixed and before.casefold() != value.casefold():
                raise CannotCount(
                    f'"{name}" is fixed for the clinic, and the mix gives it as "{before}" and as '
                    f'"{value}". Give it the same value in all shares, or once with --choice.'
                )


def _weighed(share: Share, visits: Sequence[Counted]) -> Weighed:
    wanted = dict(share.settled)
    title = wanted.pop(VISIT, None)
    meant = [
        one for one in visits if title is None or one.part.title.casefold() == title.casefold()
    ]
    if not meant:
        known = listed((f'"{one.part.title}"' for one in visits), "or")
        raise CannotCount(f'There is no visit "{title}" in this day. A visit is {known}.')
    mishap = wanted.pop(HAPPENS, None)
    uses: dict[str, int] = {}
    back: dict[str, int] = {}
    problems: list[CannotCount] = []
    for one in meant:
        try:
            ways = _agreeing(one, wanted)
            more = _more(one, mishap)
        except CannotCount as problem:
            problems.append(problem)
            continue
        for way in ways:
            _most(uses, _plus(_taken(way), more))
        _most(back, _come_back(one, ways, more))
    if len(problems) == len(meant):
        raise problems[0]
    return Weighed(share.part, uses, back)


def _agreeing(counted: Counted, wanted: Mapping[str, str]) -> tuple[Way, ...]:
    """The ways of a visit in which the choices have these values."""
    known = {shown_choice(choice.name).casefold(): choice for choice in counted.choices}
    settled: dict[str, str] = {}
    for name, value in wanted.items():
        choice = known.get(name.casefold())
        if choice is None:
            names = listed(shown_choice(one.name) for one in counted.choices if not one.rounds)
            raise CannotCount(
                f'"{counted.part.title}" has no choice called "{name}". '
                f"Its choices: {names or 'none'}."
            )
        values = {one.casefold(): one for one in choice.values}
        if value.casefold() not in values:
            raise CannotCount(
                f'The choice "{name}" has no value "{value}". '
                f"Its values: {', '.join(choice.values)}."
            )
        settled[choice.name] = values[value.casefold()]
    found = counted.with_values(settled)
    if not found:
        told = listed(f"{name}={value}" for name, value in wanted.items())
        raise CannotCount(f'No visit of "{counted.part.title}" goes with {told}.')
    return found


def _more(counted: Counted, mishap: str | None) -> Mapping[str, int]:
    """What a mishap takes beyond the visit, at most."""
    if mishap is None:
        return {}
    for more in counted.turn.mishaps:
        if more.mishap.casefold() == mishap.casefold():
            return {one.thing: max(0, one.number.most) for one in more.counts}
    known = listed((f'"{one.mishap}"' for one in counted.turn.mishaps), "or")
    raise CannotCount(
        f'In "{counted.part.title}" "{mishap}" does not happen. '
        f"What can happen: {known or 'nothing'}."
    )


def _taken(way: Way) -> dict[str, int]:
    return _plus(way.used.taken, way.used.each)


def _plus(one: Mapping[str, int], other: Mapping[str, int]) -> dict[str, int]:
    return {name: one.get(name, 0) + other.get(name, 0) for name in (*one, *other)}


def _most(found: dict[str, int], other: Mapping[str, int]) -> None:
    for name, number in other.items():
        found[name] = max(found.get(name, 0), number)


def _come_back(counted: Counted, ways: Iterable[Way], more: Mapping[str, int]) -> dict[str, int]:
    """How many of what comes back these ways take at most."""
    names = {count.thing for count, _ in counted.turn.back}
    found: dict[str, int] = {}
    for way in ways:
        _most(found, {name: n for name, n in _plus(_taken(way), more).items() if name in names})
    return found
