"""The search for smallest sets against doing every set by hand (docs/meaning/lapses.md).

Oracle: ``tests/oracles/lapsed.py``, which makes each set of lapses in each world anew, and the
simulator of the kernel. PROTOCOL_LANG_LONG=N looks at N seeds more (the largest run so far is told
in DEVELOPERS.md).
"""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import replace
from itertools import chain, combinations
from typing import Any

import pytest

from protocol_lang.lapses import combining, doing, making, search, spread
from protocol_lang.lapses.kinds import Kind
from tests.lapses.compare import Census, askable, differences, of_search
from tests.oracles.plans import Size

#: Seeds as they come, and some whose plans have what is rare: sets of two, contact times.
AS_THEY_COME = range(2_000, 2_090)
RARE = (
    2414,
    10147, 10159, 10360, 10367, 10434, 10439, 10527, 10588, 10634, 10698, 10953, 11103, 11184,
    11355, 11371, 11403, 11473, 11494, 11581, 11611, 11819, 11833, 11882, 12040, 12136, 12146,
    12157, 12171, 12402, 12623, 12738, 12748, 12753, 12801, 12804, 12863, 12902, 12918, 13022,
    13133, 13150, 20852, 32564, 32622, 40102, 42208, 42399,
)  # fmt: skip
USUAL = (*AS_THEY_COME, *RARE)
#: Plans so small that every set of three can be made by hand in hundreds of them.
SMALL = Size(acts=(4, 7), worlds=1, people=1, surfaces=2, classes=1, slack=0)
LONGER = Size(acts=(7, 10), worlds=2, people=2, surfaces=2, classes=2, slack=0)

Mutation = Callable[[pytest.MonkeyPatch], None]


def test_the_smallest_sets_are_those_that_doing_every_set_finds(capsys: pytest.CaptureFixture[str]):
    census = Census()
    assert list(differences(USUAL, census)) == []
    with capsys.disabled():
        print(f"\n{census}")
    assert census.plans > 100
    assert census.sizes[1] > 40
    assert census.sizes[2] > 30
    assert {kind.value for kind in Kind} <= set(census.kinds)
    assert all(census.verdicts.values())


def test_three_lapses_together():
    census = Census()
    assert list(differences(RARE[:16], census, most=3)) == []
    assert census.plans == 16


def test_three_lapses_together_in_many_small_plans(capsys: pytest.CaptureFixture[str]):
    census = Census()
    seeds = range(300_000, 300_300)
    assert list(differences(seeds, census, most=3, size=SMALL, at_most=9)) == []
    with capsys.disabled():
        print(f"\n{census}")
    assert census.plans > 200
    assert census.sizes[2] > 5


def every_set_asked(lapses: Any, smaller: Any, size: int, wanted: Any) -> combining.Combined:
    """In place of the pass over parts: every set is looked at."""
    del smaller, wanted
    return combining.Combined(set(combinations(range(len(lapses.all)), size)))


@pytest.mark.parametrize("most", [2, 3])
def test_sets_that_were_passed_over_open_nothing_new(most: int, monkeypatch: pytest.MonkeyPatch):
    found = []
    for seed in range(9_000, 9_060):
        asked = askable(seed, LONGER, 40)
        if asked is not None:
            found.append((seed, asked[2], of_search(asked[2], most)))
    assert len(found) > 20
    monkeypatch.setattr(search, "combined", every_set_asked)
    for seed, lapses, ours in found:
        assert of_search(lapses, most) == ours, seed


def test_longer_visits():
    census = Census()
    assert list(differences(range(5_000, 5_024), census, size=LONGER)) == []
    assert census.plans > 4


@pytest.mark.skipif("PROTOCOL_LANG_LONG" not in os.environ, reason="only when asked for")
def test_the_smallest_sets_at_length(capsys: pytest.CaptureFixture[str]):
    census = Census()
    many = int(os.environ["PROTOCOL_LANG_LONG"])
    assert list(differences(range(200_000, 200_000 + many), census)) == []
    of_three = Census()
    seeds = range(300_000, 300_000 + many)
    assert list(differences(seeds, of_three, most=3, size=SMALL, at_most=9)) == []
    with capsys.disabled():
        print(f"\n{census}\n{of_three}")


# --- Named faults, each of which the comparison has to notice ------------------------------------


def _no_larger_than_found(patch: pytest.MonkeyPatch) -> None:
    """Sets that hold a smaller one are listed all the same (rule 8)."""
    patch.setattr(search._Search, "_is_new", lambda self, what, one: True)


def _only_the_sure(patch: pytest.MonkeyPatch) -> None:
    """Only the listed order is looked at (rule 6)."""
    old = spread.bound

    def bound(lapses: Any, sets: Any, *more: Any) -> spread.Bound:
        return spread.Bound(old(lapses, sets, *more).surely, dict.fromkeys(spread.Opens, 0))

    patch.setattr(search, "bound", bound)
    patch.setattr(search, "several_orders", lambda *_: dict.fromkeys(spread.Opens, 0))


def _perhaps_is_sure(patch: pytest.MonkeyPatch) -> None:
    """What relaxation leaves open is taken for open."""
    old = spread.bound

    def bound(lapses: Any, sets: Any, *more: Any) -> spread.Bound:
        told = old(lapses, sets, *more)
        both = {what: told.surely[what] | told.perhaps[what] for what in spread.Opens}
        return spread.Bound(both, dict.fromkeys(spread.Opens, 0))

    patch.setattr(search, "bound", bound)


def _one_visit(patch: pytest.MonkeyPatch) -> None:
    """No visit follows one with lapses (rule 5)."""
    old = making.Lapses.made
    patch.setattr(making.Lapses, "made", lambda self, *a, **k: replace(old(self, *a, **k), ready=0))


def _new_ones_over_old(patch: pytest.MonkeyPatch) -> None:
    """The second half of a change that is not made is done all the same (rule 3)."""
    patch.setattr(doing.Doing, "_nothing_to_put_on", lambda self, effects, now: False)


def _begins_as_written(patch: pytest.MonkeyPatch) -> None:
    """What a visit with lapses leaves on is not on when the next one begins (rule 5)."""
    patch.setattr(doing.Doing, "_next", lambda self, end, made: self._started(made, self._start))


def _leaks_nowhere(patch: pytest.MonkeyPatch) -> None:
    """A cover that leaks is as good as whole (rule 1)."""
    patch.setattr(doing, "_leaking", lambda made: frozenset())


def _clean_removal(patch: pytest.MonkeyPatch) -> None:
    """Taking off uncleanly is as good as cleanly (rule 1)."""
    old = doing.Doing._do

    def do(self: Any, act: int, now: Any, made: Any, without: bool, leaking: Any) -> Any:
        return old(
            self, act, now, [one for one in made if one is not Kind.UNCLEAN], without, leaking
        )

    patch.setattr(doing.Doing, "_do", do)


def _never_bare(patch: pytest.MonkeyPatch) -> None:
    """A step done with the bare hand is done with the glove (rule 1)."""
    patch.setattr(doing, "bare", lambda targets, body, spot: targets)


def _all_go_together(patch: pytest.MonkeyPatch) -> None:
    """Lapses that touch the same covers are taken one by one (rule 3)."""
    patch.setattr(making.Lapses, "_by_themselves", lambda self, lapses: len(lapses) > 1)


def _no_own_leak(patch: pytest.MonkeyPatch) -> None:
    """The cover on which a visit begins never leaks (rule 1)."""
    old = doing.Doing._started
    patch.setattr(doing.Doing, "_started", lambda self, made, start: old(self, frozenset(), start))


def _parts_speak_for_all(patch: pytest.MonkeyPatch) -> None:
    """Two lapses open nothing together that none of them opens alone."""
    patch.setattr(search, "combined", lambda *_: combining.Combined())


def _lapses_do_not_meet(patch: pytest.MonkeyPatch) -> None:
    """Soil that one lapse lets through is not looked for where another one helps it on."""
    patch.setattr(combining._Pass, "_joined", lambda self, group, helped, reached: iter(()))


def _nothing_is_connected(patch: pytest.MonkeyPatch) -> None:
    """Lapses that change the same cover are thought to do so one by one."""
    patch.setattr(combining._Combining, "_connected", lambda self: None)


def _too_much_told_is_forgotten(patch: pytest.MonkeyPatch) -> None:
    """Sets of which the pass over parts told too much speak for those that hold them."""
    old = combining._Combining.told

    def told(self: Any) -> combining.Combined:
        return replace(old(self), perhaps={})

    patch.setattr(combining._Combining, "told", told)


MUTANTS: list[Mutation] = [
    _parts_speak_for_all,
    _lapses_do_not_meet,
    _nothing_is_connected,
    _too_much_told_is_forgotten,
    _no_larger_than_found,
    _only_the_sure,
    _perhaps_is_sure,
    _one_visit,
    _new_ones_over_old,
    _begins_as_written,
    _leaks_nowhere,
    _clean_removal,
    _never_bare,
    _all_go_together,
    _no_own_leak,
]


@pytest.mark.parametrize("mutant", MUTANTS, ids=lambda one: one.__name__.strip("_"))
def test_a_wrong_search_is_noticed(mutant: Mutation, monkeypatch: pytest.MonkeyPatch):
    mutant(monkeypatch)
    assert next(differences(chain(RARE, range(2_000, 3_200)), Census()), None) is not None, (
        mutant.__doc__
    )
