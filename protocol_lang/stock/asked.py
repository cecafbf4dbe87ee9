"""What is asked for on the command line, and the numbers that no step tells.

A number is taken from the command; else from a figure of the protocol or its room; else it is a
usual one, and the answer says so.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction

from protocol_lang.model.protocol import Figure, Protocol
from protocol_lang.stock.faults import CannotCount
from protocol_lang.supplied import Assumed, Given, Range, Share
from protocol_lang.wording.plain import listed

#: The figures that are looked for, by their names in a protocol or a room.
VISITS, EVERY = "visits in a session", "time from visit to visit"
REPROCESSING, PLACES = "reprocessing time", "places in a load"
STERILISING, DRYING = "sterilising time", "drying time"
IN_A_BOX, WEIGHT = "{thing} in a box", "weight of {thing}"

#: Common practice, no source: to be put right with the options.
USUAL_VISITS, USUAL_EVERY, USUAL_OPENS = 12, 30, 8 * 60
USUAL_PLACES, USUAL_BETWEEN_LOADS, USUAL_DAYS = 12, 120, 20
USUAL_SERVICE = Fraction(95)
#: Minutes for cleaning, packing, heating up and cooling down, beside sterilising and drying; and
#: for all of it.
USUAL_AROUND, USUAL_REPROCESSING = 40, 75

#: Nothing larger is reckoned with.
MOST_VISITS, MOST_DAYS, MOST_MINUTES, MOST_PLACES = 200, 400, 24 * 60, 1_000

_MINUTES = {"second": Fraction(1, 60), "minute": Fraction(1), "min": Fraction(1),
            "hour": Fraction(60), "h": Fraction(60)}  # fmt: skip
_GRAMS = {"g": Fraction(1), "gram": Fraction(1), "kg": Fraction(1000), "kilogram": Fraction(1000),
          "mg": Fraction(1, 1000)}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Asked:
    """What is asked for; None: not told. Times in minutes, ``opens`` and ``loads`` after midnight.

    ``loads``: when loads begin; ``between``: else so long from the beginning of one to the next.
    ``service``: percent.
    """

    visits: Range | None = None
    every: int | None = None
    opens: int | None = None
    days: int | None = None
    service: Fraction | None = None
    cycle: int | None = None
    places: int | None = None
    loads: tuple[int, ...] = ()
    between: int | None = None
    mix: tuple[Share, ...] = ()


@dataclass(frozen=True, slots=True)
class Numbers:
    """Every number that is reckoned with, and where each comes from. Times as in :class:`Asked`.

    ``boxes``: how many of a thing are in one box.
    """

    visits: Range
    every: int
    opens: int
    days: int
    service: Fraction
    cycle: int
    places: int
    loads: tuple[int, ...]
    between: int
    boxes: Mapping[str, int]
    assumed: tuple[Assumed, ...] = field(default=())


# --- Reading what is written on the command line -------------------------------------------------


def visits_of(text: str) -> Range:
    """ "12", or "10 to 14"."""
    found = re.fullmatch(r"\s*(\d{1,4})\s*(?:to\s*(\d{1,4})\s*)?", text)
    if found is not None:
        visits = Range(int(found[1]), int(found[2] or found[1]))
        if 1 <= visits.least <= visits.most <= MOST_VISITS:
            return visits
    raise CannotCount(
        f'"{text}" is no number of visits. Write it as "12" or "10 to 14", from 1 to {MOST_VISITS}.'
    )


def clock_of(text: str) -> int:
    """ "8:30" as minutes after midnight."""
    found = re.fullmatch(r"\s*(\d{1,2}):(\d{2})\s*", text)
    if found is not None and int(found[1]) < 24 and int(found[2]) < 60:
        return 60 * int(found[1]) + int(found[2])
    raise CannotCount(f'"{text}" is no time of day. Write it as "8:30" or "14:00".')


def loads_of(text: str) -> tuple[tuple[int, ...], int | None]:
    """ "10:30, 13:00", or "every 90 minutes": times of day, or minutes from one to the next."""
    found = re.fullmatch(r"\s*every\s+(\d{1,4})\s*(?:min|minutes?)?\s*", text)
    if found is not None and 1 <= int(found[1]) <= MOST_MINUTES:
        return (), int(found[1])
    if found is None and ":" in text:
        times = tuple(clock_of(one) for one in text.split(","))
        if list(times) == sorted(set(times)):
            return times, None
    raise CannotCount(
        f'"{text}" does not say when loads begin. Write it as "10:30, 13:00, 16:00", the earliest '
        'first, or as "every 90 minutes".'
    )


def service_of(text: str) -> Fraction:
    """ "95", "99.5" or "95 %": percent."""
    found = re.fullmatch(r"\s*(\d{1,2}(?:\.\d{1,4})?)\s*%?\s*", text)
    if found is not None and 50 <= Fraction(found[1]) < 100:
        return Fraction(found[1])
    raise CannotCount(
        f'"{text}" is no service level. Write how many periods of a hundred the order is to last '
        "in, from 50 to 99.9999."
    )


# --- Figures -------------------------------------------------------------------------------------


def numbers_of(
    protocol: Protocol, asked: Asked, cycles: bool, loads: bool, patient: bool
) -> Numbers:
    """All numbers, each from the command, a figure, or as is usual.

    ``cycles``: something is treated and comes back; ``loads``: it is loads of something that are
    treated; ``patient``: somebody is a patient in what is done. What is not needed is not told as
    assumed. Raises :class:`CannotCount` for a figure that cannot be used.
    """
    figures = _by_name(protocol)
    assumed: list[Assumed] = []

    def tell(name: str, value: str, given: Given, option: str) -> None:
        assumed.append(Assumed(name, value, given, option))

    def pick(
        name: str, told: int | None, figure: int | None, usual: int, unit: str, option: str
    ) -> int:
        ways = ((told, Given.ASKED), (figure, Given.FIGURE), (usual, Given.USUAL))
        number, given = next((number, given) for number, given in ways if number is not None)
        tell(name, f"{number} {unit}".strip(), given, option)
        return number

    in_session = _whole(figures.get(VISITS), MOST_VISITS)
    if asked.visits is not None:
        visits, given = asked.visits, Given.ASKED
    elif in_session is not None:
        visits, given = Range(in_session, in_session), Given.FIGURE
    else:
        usual = USUAL_VISITS if patient else 1
        visits, given = Range(usual, usual), Given.USUAL
    many = str(visits.least) if visits.settled else f"{visits.least} to {visits.most}"
    tell(VISITS, many, given, "--visits")
    days = pick("days that the order lasts", asked.days, None, USUAL_DAYS, "", "--days")
    service = asked.service or USUAL_SERVICE
    if asked.mix or not visits.settled:
        given = Given.ASKED if asked.service else Given.USUAL
        tell("service level", f"{_plain(service)} %", given, "--service")
    every, opens, cycle = USUAL_EVERY, USUAL_OPENS, USUAL_REPROCESSING
    places, between = USUAL_PLACES, asked.between or USUAL_BETWEEN_LOADS
    if cycles:
        every = pick(
            EVERY, asked.every, _minutes(figures.get(EVERY)), USUAL_EVERY, "minutes", "--every"
        )
        opens = USUAL_OPENS if asked.opens is None else asked.opens
        given = Given.USUAL if asked.opens is None else Given.ASKED
        tell("the first visit begins", clock(opens), given, "--opens")
        cycle = pick(
            REPROCESSING, asked.cycle, _reprocessing(figures), USUAL_REPROCESSING, "minutes",
            "--cycle",
        )  # fmt: skip
    if cycles or loads:
        figure = _whole(figures.get(PLACES), MOST_PLACES)
        places = pick(PLACES, asked.places, figure, USUAL_PLACES, "", "--places")
    if cycles:
        times = listed(clock(one) for one in asked.loads)
        told = asked.loads or asked.between
        tell(
            "loads begin",
            times or f"every {between} minutes",
            Given.ASKED if told else Given.USUAL,
            "--loads",
        )
    return Numbers(
        visits, every, opens, days, service, cycle, places, asked.loads, between,
        _boxes(protocol, figures), tuple(assumed),
    )  # fmt: skip


def _by_name(protocol: Protocol) -> dict[str, Figure]:
    return {figure.name.casefold(): figure for figure in protocol.figures.values()}


def clock(minutes: int) -> str:
    """Minutes after midnight as "8:30"; on a later day with how many days later."""
    days, rest = divmod(minutes, 24 * 60)
    later = f" (day {days + 1})" if days else ""
    return f"{rest // 60}:{rest % 60:02}{later}"


def _plain(number: Fraction) -> str:
    return f"{float(number):.4f}".rstrip("0").rstrip(".")


def _reprocessing(figures: Mapping[str, Figure]) -> int | None:
    """The time of a load from beginning to end; sterilising and drying with what is around them."""
    whole = _minutes(figures.get(REPROCESSING))
    if whole is not None:
        return whole
    sterilising, drying = _minutes(figures.get(STERILISING)), _minutes(figures.get(DRYING))
    if sterilising is None:
        return None
    return sterilising + (drying or 0) + USUAL_AROUND


def _minutes(figure: Figure | None) -> int | None:
    """A time in whole minutes, rounded up."""
    if figure is None:
        return None
    factor = _MINUTES.get((figure.unit or "").casefold().removesuffix("s"))
    if factor is None:
        raise CannotCount(
            f'The figure "{figure.name}" has to be a time, such as "30 minutes" ({_where(figure)}).'
        )
    minutes = -(-figure.amount * factor // 1)
    if not 1 <= minutes <= MOST_MINUTES:
        raise CannotCount(
            f'The figure "{figure.name}" has to be from 1 minute to a day ({_where(figure)}).'
        )
    return int(minutes)


def _whole(figure: Figure | None, most: int = 100_000) -> int | None:
    if figure is None:
        return None
    if figure.amount.denominator != 1 or not 1 <= figure.amount <= most:
        raise CannotCount(
            f'The figure "{figure.name}" has to be a whole number from 1 to {most:,} '
            f"({_where(figure)})."
        )
    return int(figure.amount)


def _boxes(protocol: Protocol, figures: Mapping[str, Figure]) -> Mapping[str, int]:
    found = {}
    for thing in protocol.things:
        number = _whole(figures.get(IN_A_BOX.format(thing=thing).casefold()))
        if number is not None:
            found[thing] = number
    return found


def weights_of(protocol: Protocol) -> Mapping[str, Fraction]:
    """Grams of a piece, for each thing of which a figure tells its weight.

    Raises :class:`CannotCount` for a figure that is no weight.
    """
    figures = _by_name(protocol)
    found = {}
    for thing in protocol.things:
        figure = figures.get(WEIGHT.format(thing=thing).casefold())
        if figure is None:
            continue
        unit = (figure.unit or "").casefold()
        factor = _GRAMS.get(unit) or _GRAMS.get(unit.removesuffix("s"))
        if factor is None:
            raise CannotCount(
                f'The figure "{figure.name}" has to be a weight, such as "8 g" ({_where(figure)}).'
            )
        found[thing] = figure.amount * factor
    return found


def _where(figure: Figure) -> str:
    return f"{figure.place.file}, line {figure.place.line}"
