"""How long a waiver may last, and what of several is one: in one place.

The figures are common practice, no source: what binds by a standard is tolerated for a quarter of a
year, advice for half a year, what the house alone asks for for a year. A file of rules may shorten
them by settings of these names, whose values begin with a number of days:

    settings
      longest waiver of must: 60 days, 30 days

Two waivers of the same with hardly any days between them are one, as far as that goes: what is put
right stays right for a while. Thirty days are common practice, no source: a month in which whoever
looks finds it put right. A file of rules may ask for more:

    settings
      fewest days between waivers: 60 days, 90 days
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping

from protocol_lang.model.rules import RuleBook, Strength

#: The most days, the first and the last counted, by the strength of what is waived. What is no rule
#: but a finding of the check counts as "must".
LONGEST: Mapping[Strength, int] = {
    Strength.MUST: 90,
    Strength.SHOULD: 180,
    Strength.LOCAL: 365,
}

#: The settings that shorten them.
SETTINGS: Mapping[Strength, str] = {
    strength: f"longest waiver of {strength.value}" for strength in Strength
}


#: So many days at least lie between two waivers of the same that are not one.
FEWEST_BETWEEN = 30
#: The setting that makes them more.
BETWEEN = "fewest days between waivers"


def longest(strength: Strength, books: Iterable[RuleBook], settings: Mapping[str, str]) -> int:
    """The most days of a waiver; of several files of rules that say it the least."""
    return min([LONGEST[strength], *_days(SETTINGS[strength], books, settings)])


def fewest_between(books: Iterable[RuleBook], settings: Mapping[str, str]) -> int:
    """The days that have to lie between two waivers of the same; of several files of rules that say
    it the most."""
    return max([FEWEST_BETWEEN, *_days(BETWEEN, books, settings)])


def _days(name: str, books: Iterable[RuleBook], settings: Mapping[str, str]) -> Iterator[int]:
    for book in books:
        for setting in book.settings:
            if setting.name.casefold() == name:
                told = re.match(r"\d+", settings.get(setting.name, setting.values[0]))
                if told:
                    yield int(told[0])
