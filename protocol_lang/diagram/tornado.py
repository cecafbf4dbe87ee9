"""The picture of which rate matters most: a tornado chart for each kind of path.

Rates stand under each other, the one that sways the sum most on top; the bar of each goes from the
sum with that rate at its least to the sum with it at its most, all others being as usual.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from math import floor, log10
from pathlib import Path
from typing import Any

from protocol_lang import typesetter
from protocol_lang.diagram.inks import INKS
from protocol_lang.diagram.lean import lean
from protocol_lang.diagram.page import Format
from protocol_lang.lapsed import Ranking, Sway

TEMPLATE = Path(__file__).with_name("tornado.typ")

#: The lines of the scale are at most so many, and so far apart: these, times a power of ten.
_MOST_LINES = 8
_APART = (1, 2, 5, 10)


def draw_tornado(
    rankings: Sequence[Ranking],
    title: str,
    under: Sequence[str],
    foot: str,
    words: Mapping[str, str],
    noted: Callable[[Ranking], str],
    said: Callable[[Sway], str],
    share: Callable[[float], str],
    format: Format = "svg",
) -> bytes:
    """The picture as bytes. ``words``: what a kind of path is called, and the four parts of the
    key ("least", "most", "usual", "drawn"). ``noted``, ``said``, ``share``: a ranking, a rate and a
    share in words.

    Raises :class:`~protocol_lang.typesetter.CannotPrint` for a letter that no font has (in PDF).
    """
    given = {
        "inks": dict(INKS),
        "families": list(typesetter.families()),
        "lang": "en",
        "title": title,
        "under": list(under),
        "foot": foot,
        "alt": _in_words(rankings, words, noted, share),
        "key": [{"look": one, "text": words[one]} for one in ("least", "most", "usual", "drawn")],
        "panels": [_panel(one, words[one.opens], noted(one), said, share) for one in rankings],
    }
    (made,) = typesetter.compiled(TEMPLATE, "tornado", given, format, pixels_per_inch=144)
    return lean(made.decode(), title, str(given["alt"])).encode() if format == "svg" else made


def _panel(
    one: Ranking,
    title: str,
    note: str,
    said: Callable[[Sway], str],
    share: Callable[[float], str],
) -> dict[str, Any]:
    ends = [one.usual, one.low, one.high]
    ends += [end for sway in one.sways for end in (sway.low, sway.high)]
    least, most, apart = scale(min(ends), max(ends))
    lines = round((most - least) / apart)
    return {
        "title": title,
        "note": note,
        "from": least,
        "to": most,
        "usual": one.usual,
        "low": one.low,
        "high": one.high,
        "ticks": [
            {"at": least + at * apart, "text": _figure(least + at * apart, apart)}
            for at in range(lines + 1)
        ],
        "rates": [
            {
                "name": sway.rate[:1].upper() + sway.rate[1:],
                "note": said(sway),
                "low": sway.low,
                "high": sway.high,
            }
            for sway in one.sways
        ],
    }


def scale(least: float, most: float) -> tuple[float, float, float]:
    """(where a scale begins, where it ends, how far its lines are apart): round figures, with both
    ends inside."""
    wide = max(most - least, abs(most) * 0.02, 1e-9)
    power = 10.0 ** floor(log10(wide / _MOST_LINES))
    apart = next(one * power for one in _APART if wide / (one * power) <= _MOST_LINES - 1)
    first = floor(least / apart + 1e-9)
    last = -floor(-most / apart + 1e-9)
    return max(0.0, first * apart), max(last, first + 1) * apart, apart


def _figure(value: float, apart: float) -> str:
    """A figure of the scale, in percent or, from once a visit on, as a number."""
    if abs(value) < 1 - 1e-9:
        places = max(0, -floor(log10(apart * 100) + 1e-9))
        return f"{value * 100:.{places}f} %"
    places = max(0, -floor(log10(apart) + 1e-9))
    return f"{value:.{places}f}"


def _in_words(
    rankings: Sequence[Ranking],
    words: Mapping[str, str],
    noted: Callable[[Ranking], str],
    share: Callable[[float], str],
) -> str:
    """The picture for those who do not see it."""
    told = []
    for one in rankings:
        rates = "; ".join(
            f"{sway.rate}, {share(sway.low)} to {share(sway.high)}" for sway in one.sways
        )
        told.append(f"{words[one.opens]}: {noted(one)}. {rates}.")
    return "Which rate matters most. " + " ".join(told)
