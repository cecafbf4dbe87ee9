"""Whether a rule really asks for more than another one: compared as they are written.

What a rule says of itself is not believed where it can be looked at: amounts, counts, days, levels
of treatment and waits are compared as numbers, the sentences as the same ones or more or fewer of
them, and so is what the two are about. A comparison is made only where it is certain, whatever the
protocol: if every protocol that keeps the one keeps the other. Where the two speak of different
things nothing is known, and that is told.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from enum import Enum
from functools import partial

from protocol_lang.model import rules as said
from protocol_lang.rules.judging import in_seconds


class Asks(Enum):
    """What a rule asks beside another one."""

    MORE = "more"
    NO_MORE = "no more"
    OF_LESS = "of less"
    BINDS_LESS = "binds less"
    NOT_KNOWN = "not known"


#: What breaking it weighs: advice is considered, what a standard or the house asks is corrected.
_BINDS = {said.Strength.SHOULD: 0, said.Strength.LOCAL: 1, said.Strength.MUST: 1}

#: The names of levels, the weakest first.
Levels = Sequence[str]


def asks(rule: said.Rule, other: said.Rule, levels: Levels = ()) -> Asks:
    """What ``rule`` asks beside ``other``. ``levels``: those that both files know, in their order.

    MORE: whoever keeps the rule keeps the other one. NO_MORE: whoever keeps the other one keeps the
    rule. OF_LESS: it is about fewer steps, things or visits, so that whoever keeps it need not keep
    the other. BINDS_LESS: it asks for more, but as advice only.
    """
    implies = partial(_implies, levels=_ranks(levels))
    of_as_much, of_no_more = _is_about(rule, other), _is_about(other, rule)
    more, no_more = implies(rule.duty, other.duty), implies(other.duty, rule.duty)
    if no_more and of_no_more:
        return Asks.NO_MORE
    if of_no_more and not of_as_much:
        return Asks.OF_LESS
    if not (more and of_as_much):
        return Asks.NOT_KNOWN
    if _BINDS[rule.strength] < _BINDS[other.strength]:
        return Asks.BINDS_LESS
    return Asks.MORE


# --- What the two are about ----------------------------------------------------------------------


def _is_about(rule: said.Rule, other: said.Rule) -> bool:
    """Whether the rule is about all that the other is about."""
    wide = not _brings(rule.duty) and not _brings(other.duty)
    return (
        _about_as_much(rule.about, other.about)
        and (wide or _names(rule.phases) == _names(other.phases))
        and set(map(_condition, rule.where)) <= set(map(_condition, other.where))
        and (
            not rule.phases or (bool(other.phases) and _names(other.phases) <= _names(rule.phases))
        )
        # What does not happen for a rule cannot bring what it asks for either.
        and _names(rule.but) == _names(other.but)
    )


def _brings(duty: said.Duty) -> bool:
    """Whether it asks that its first sentence happens: then it is no wider for counting what
    happens in other phases too."""
    if isinstance(duty, said.OneOf):
        return any(map(_brings, duty.ways))
    least = isinstance(duty, said.Times) and duty.least > 0
    return least or isinstance(duty, said.Always | said.EveryDays)


def _about_as_much(rule: said.About | None, other: said.About | None) -> bool:
    if rule is None or other is None:
        return rule is other
    if _plain(rule.kind) != _plain(other.kind):
        return False
    return all(
        name in other.traits and other.traits[name] == rule.traits[name] for name in rule.traits
    )


def _condition(asked: said.Asked) -> tuple[str, str, bool, bool]:
    return _plain(asked.name), _plain(asked.value), asked.so, asked.setting


def _names(names: Iterable[str]) -> set[str]:
    return set(map(_plain, names))


def _plain(name: str) -> str:
    return " ".join(name.casefold().split())


# --- What they ask -------------------------------------------------------------------------------

_Ranks = Mapping[str, int]


def _ranks(levels: Levels) -> _Ranks:
    return {_plain(name): rank for rank, name in enumerate(levels)}


def _implies(duty: said.Duty, other: said.Duty, levels: _Ranks) -> bool:
    """Whether whoever does ``duty`` does ``other``, for certain."""
    if isinstance(duty, said.OneOf):
        return all(_implies(way, other, levels) for way in duty.ways)
    if isinstance(other, said.OneOf):
        return any(_implies(duty, way, levels) for way in other.ways)
    compare = _COMPARED.get(type(duty))
    return type(duty) is type(other) and compare is not None and compare(duty, other, levels)


def _figure(duty: said.FigureIs, other: said.FigureIs, levels: _Ranks) -> bool:
    unit, amount = in_seconds(duty.amount, duty.unit)
    other_unit, limit = in_seconds(other.amount, other.unit)
    if _plain(duty.name) != _plain(other.name) or unit != other_unit:
        return False
    if duty.how not in ("=", other.how):
        return False
    return {"=": amount == limit, ">=": amount >= limit, "<=": amount <= limit}[other.how]


def _times(duty: said.Times, other: said.Times, levels: _Ranks) -> bool:
    if not _same(duty.what, other.what):
        return False
    most = other.most is None or (duty.most is not None and duty.most <= other.most)
    return most and duty.least >= other.least


def _every_days(duty: said.EveryDays, other: said.EveryDays, levels: _Ranks) -> bool:
    return _each_does(duty.what, other.what, levels) and duty.days <= other.days


def _declared(duty: said.Declared, other: said.Declared, levels: _Ranks) -> bool:
    return all(
        name in duty.traits and _as_declared(name, duty.traits[name], value, levels)
        for name, value in other.traits.items()
    )


def _as_declared(name: str, given: object, asked: object, levels: _Ranks) -> bool:
    """A level and a wet time may be more than is asked, as in
    :func:`~protocol_lang.rules.judging.is_declared`."""
    if name == "level":
        return _level(str(given), str(asked), levels)
    if name == "wet_minutes" and isinstance(given, int) and isinstance(asked, int):
        return given >= asked
    return given == asked


def _always(duty: said.Always, other: said.Always, levels: _Ranks) -> bool:
    return _each_does(duty.what, other.what, levels)


def _never(duty: said.Never, other: said.Never, levels: _Ranks) -> bool:
    return _all_of(other.what, duty.what)


def _before(duty: said.Before, other: said.Before, levels: _Ranks) -> bool:
    return (
        _all_of(other.what, duty.what)
        and _bound(duty.what, other.what)
        and _each_does(duty.first, other.first, levels)
        and _all_of(other.never, duty.never)
        # What is forbidden in between is looked at since the last of ``first``.
        and (not other.never or _same(duty.first, other.first))
    )


def _after(duty: said.After, other: said.After, levels: _Ranks) -> bool:
    return (
        _all_of(other.what, duty.what)
        and _bound(duty.what, other.what)
        and _each_does(duty.then, other.then, levels)
        and _as_soon(duty.before, other.before)
    )


def _not_between(duty: said.NotBetween, other: said.NotBetween, levels: _Ranks) -> bool:
    until = (
        duty.until is said.Until.END_OF_VISIT
        or (
            not isinstance(duty.until, said.Until)
            and not isinstance(other.until, said.Until)
            and _all_of(duty.until, other.until)
        )
        or duty.until is other.until
    )
    return (
        _all_of(other.what, duty.what)
        and _bound(duty.what, other.what)
        and _all_of(other.never, duty.never)
        and until
    )


def _as_soon(before: said.Happenings | said.Until, other: said.Happenings | said.Until) -> bool:
    """Whether what has to come by ``before`` has come by ``other``."""
    if isinstance(before, said.Until) or isinstance(other, said.Until):
        soonest = before is said.Until.END_OF_VISIT and other is said.Until.NEXT_PATIENT
        return before is other or soonest
    return _all_of(other, before)


def _equal(duty: said.Duty, other: said.Duty, levels: _Ranks) -> bool:
    return duty == other


def _whenever(duty: said.Whenever, other: said.Whenever, levels: _Ranks) -> bool:
    return (
        _all_of(other.what, duty.what)
        and _bound(duty.what, other.what)
        and _plain(duty.text) == _plain(other.text)
    )


_COMPARED: Mapping[type, Callable[..., bool]] = {
    said.Always: _always,
    said.Never: _never,
    said.Before: _before,
    said.After: _after,
    said.NotBetween: _not_between,
    said.Whenever: _whenever,
    said.Times: _times,
    said.EveryDays: _every_days,
    said.Declared: _declared,
    said.Marked: _equal,
    said.HeaderSays: _equal,
    said.FigureIs: _figure,
    said.NoTreatmentDependsOn: _equal,
}


# --- Sentences -----------------------------------------------------------------------------------


def _does(one: said.Happening, other: said.Happening, levels: _Ranks) -> bool:
    """Whether each time that ``one`` happens, ``other`` does."""
    if one.does != other.does or not _same_filled(one, other):
        return False
    if (one.minutes or 0) < (other.minutes or 0):
        return False
    if other.level is None or one.level is None:
        return other.level == one.level
    return _level(one.level, other.level, levels)


def _level(one: str, other: str, levels: _Ranks) -> bool:
    """Whether one level does all that the other does."""
    ours, asked = levels.get(_plain(one)), levels.get(_plain(other))
    if ours is None or asked is None:
        return _plain(one) == _plain(other)
    return ours >= asked


def _same_filled(one: said.Happening, other: said.Happening) -> bool:
    return {slot: _plain(name) for slot, name in one.filled.items()} == {
        slot: _plain(name) for slot, name in other.filled.items()
    }


def _each_does(some: said.Happenings, others: said.Happenings, levels: _Ranks) -> bool:
    """Whether whichever of ``some`` happens, one of ``others`` does."""
    return all(any(_does(one, other, levels) for other in others) for one in some)


def _all_of(some: said.Happenings, others: said.Happenings) -> bool:
    """Whether all of ``some`` are among ``others``, to the letter."""
    return all(any(_is(one, other) for other in others) for one in some)


def _same(some: said.Happenings, others: said.Happenings) -> bool:
    return _all_of(some, others) and _all_of(others, some)


def _bound(some: said.Happenings, others: said.Happenings) -> bool:
    """Whether the names that the rest of a rule speaks of are bound alike in both."""
    bound = [{_plain(name) for name in one.filled.values()} for one in (*some, *others)]
    return _same(some, others) or all(one == bound[0] for one in bound)


def _is(one: said.Happening, other: said.Happening) -> bool:
    same = one.does == other.does and one.minutes == other.minutes
    return same and one.level == other.level and _same_filled(one, other)
