"""How often a step is surely done, told from the lines around it, whatever the order of steps."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field

from protocol_lang.model.compose import WHICH
from protocol_lang.model.conditions import AnyWhere, ChoiceIs, Condition, EveryWhere, NotWhere
from protocol_lang.model.rules import Asked
from protocol_lang.model.steps import Either, ForEach, Item, MayBeLeftOut, Step, Where
from protocol_lang.model.walk import parts_of

#: How many days may pass between two times, by the words for it.
_DAYS = {
    "visit": 1, "patient": 1, "morning": 1, "day": 1, "evening": 1, "noon": 1, "session": 1,
    "second day": 2, "other day": 2, "week": 7, "monday": 7, "tuesday": 7, "wednesday": 7,
    "thursday": 7, "friday": 7, "second week": 14, "two weeks": 14, "month": 31, "quarter": 92,
    "three months": 92, "half year": 184, "six months": 184, "year": 366,
}  # fmt: skip

_NUMBER_OF_DAYS = re.compile(r"every (\d+) (day|week|month|year)s?")


@dataclass(frozen=True, slots=True)
class Often:
    """A step that is surely done again within so many ``days``."""

    days: int
    step: Step


@dataclass(slots=True)
class HowOften:
    """``is_about``: whether a step counts; ``known``: what the rule asks of choices. ``found``: all
    steps that count, in the order written, once :meth:`of` has gone through them."""

    is_about: Callable[[Step], bool]
    known: Mapping[str, Asked]
    found: list[Step] = field(default_factory=list)

    def of(self, items: Iterable[Item], days: int = 1) -> Often | None:
        """The most often that one of the steps is surely done; None: that is not told.

        ``days``: how many may pass until the items are done again.
        """
        return min(
            (one for item in items if (one := self._of_item(item, days)) is not None),
            key=lambda one: one.days,
            default=None,
        )

    def _of_item(self, item: Item, days: int) -> Often | None:
        match item:
            case Step():
                if not self.is_about(item):
                    return None
                self.found.append(item)
                return Often(days, item)
            case MayBeLeftOut(items=inner, when=when):
                within = days_of(when)
                told = self.of(inner, days if within is None else max(days, within))
                return None if within is None else told
            case Either(ways):
                return _least([self.of(way, days) for way in ways])
            case Where(branches):
                return self._of_branches(branches, days)
            case ForEach(least=0, items=inner):
                self.of(inner, days)
                return None
            case _:
                return self.of((one for part in parts_of(item) for one in part), days)

    def _of_branches(
        self, branches: Iterable[tuple[Condition | None, tuple[Item, ...]]], days: int
    ) -> Often | None:
        """What is sure whichever branch is taken, of those that the rule lets be taken."""
        told: list[Often | None] = []
        for condition, inner in branches:
            holds = True if condition is None else self._holds(condition)
            if holds is False:
                continue
            told.append(self.of(inner, days))
            if holds:
                return _least(told)
        return None  # it may be that none of them is taken

    def _holds(self, condition: Condition) -> bool | None:
        match condition:
            case ChoiceIs(choice) if choice == WHICH:
                return True  # how often it is done within the protocol, whenever that is done
            case ChoiceIs(choice, value):
                asked = self.known.get(choice)
                if asked is None:
                    return None
                if asked.value == value:
                    return asked.so
                return False if asked.so else None
            case NotWhere(part):
                inner = self._holds(part)
                return None if inner is None else not inner
            case EveryWhere(parts):
                told = [self._holds(part) for part in parts]
                return False if False in told else None if None in told else True
            case AnyWhere(parts):
                told = [self._holds(part) for part in parts]
                return True if True in told else None if None in told else False
            case _:
                return None


def _least(told: Iterable[Often | None]) -> Often | None:
    """What is sure in all of them."""
    worst: Often | None = None
    for one in told:
        if one is None:
            return None
        if worst is None or one.days > worst.days:
            worst = one
    return worst


def days_of(when: str | None) -> int | None:
    """How many days may pass, by the words of a line; None where they do not say."""
    if when is None:
        return None
    number = _NUMBER_OF_DAYS.fullmatch(when.casefold())
    if number is not None:
        return int(number[1]) * {"day": 1, "week": 7, "month": 31, "year": 366}[number[2]]
    return _DAYS.get(when.casefold().removeprefix("every "))


__all__ = ["HowOften", "Often", "days_of"]
