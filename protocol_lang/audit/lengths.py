"""How long a waiver may last: in one place.

The figures are common practice, no source: what binds by a standard is tolerated for a quarter of a
year, advice for half a year, what the house alone asks for for a year. A file of rules may shorten
them by settings of these names, whose values begin with a number of days:

    settings
      longest waiver of must: 60 days, 30 days
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

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


def longest(strength: Strength, books: Iterable[RuleBook], settings: Mapping[str, str]) -> int:
    """The most days of a waiver; of several files of rules that say it the least."""
    most = [LONGEST[strength]]
    for book in books:
        for setting in book.settings:
            if setting.name.casefold() == SETTINGS[strength]:
                told = re.match(r"\d+", settings.get(setting.name, setting.values[0]))
                most += [int(told[0])] if told else []
    return min(most)
