"""Named faults put into the engine on purpose: each must be seen by comparison with the simulator.

A comparison that a wrong engine survives proves little. Each mutant changes one rule of
docs/meaning/kernel.md as the engine follows it; it must differ from the simulator on one of the
plans of the usual run at least.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from protocol_lang.contamination import judge as judging
from protocol_lang.contamination import lives, marks, paths, visits
from protocol_lang.contamination.kernel import Acts, Amount, Outer, Plan
from tests.contamination.compare import Verdicts, of_engine, of_simulator
from tests.oracles.plans import random_plan

#: A mutant that lives for so many plans is not seen.
MOST_PLANS = 1_500

Mutation = Callable[[pytest.MonkeyPatch], None]


def _forget_a_layer(patch: pytest.MonkeyPatch) -> None:
    """Contact meets the body's own spot, whatever covers it (rule 3)."""
    old = marks.Token.touching

    def touching(self: marks.Token, target: Any) -> list[marks.Touch]:
        if isinstance(target, Outer):
            return [(self.layout.plan.bodies[target.body].spot, marks.DIRECT)]
        return old(self, target)

    patch.setattr(marks.Token, "touching", touching)


def _no_leaks(patch: pytest.MonkeyPatch) -> None:
    """Covers do not leak at contacts (rule 5)."""
    old = marks.Token.touching
    patch.setattr(
        marks.Token,
        "touching",
        lambda self, target: [one for one in old(self, target) if one[1] != marks.LEAK],
    )


def _a_tear_is_not_seen(patch: pytest.MonkeyPatch) -> None:
    """A torn cover is as good as a whole one (rule 5)."""
    patch.setattr(marks.Token, "torn", lambda self, layer: False)


def _a_tear_passes_a_trace_only(patch: pytest.MonkeyPatch) -> None:
    """What passes through a tear is a trace, as through a leak (rule 4)."""
    old = marks.Token.through

    def through(self: marks.Token, layer: int) -> int:
        return marks.LEAK if old(self, layer) else marks.DIRECT

    patch.setattr(marks.Token, "through", through)


def _a_tear_outlives_the_cover(patch: pytest.MonkeyPatch) -> None:
    """The next cover on the layer is torn as well (rule 5)."""
    old_registers, old_advance = marks._registers, marks.Token.advance

    def registers(plan: Plan, numbers: Any, body_of_layer: Any) -> Any:
        made = list(old_registers(plan, numbers, body_of_layer))
        for at in numbers.torn.values():
            writes = {event: value for event, value in made[at].writes.items() if value}
            made[at] = replace(made[at], writes=writes)
        return tuple(made)

    def advance(self: marks.Token, effect: Any) -> None:
        torn = {
            at: self.values[at] for at in self.layout.registers.torn.values() if at in self.values
        }
        old_advance(self, effect)
        self.values.update({at: 1 for at, value in torn.items() if value})

    patch.setattr(marks, "_registers", registers)
    patch.setattr(marks.Token, "advance", advance)


def _a_torn_cover_is_ready(patch: pytest.MonkeyPatch) -> None:
    """A torn cover of the right kind will do for the next patient (rule 12)."""
    old = judging._Asker._not_ready

    def not_ready(self: Any, kind: str, *rest: Any) -> Any:
        return iter(()) if kind == "torn" else old(self, kind, *rest)

    patch.setattr(judging._Asker, "_not_ready", not_ready)


def _no_leak_when_taken_off(patch: pytest.MonkeyPatch) -> None:
    """A leaking cover comes off without a brush (rule 6)."""
    patch.setattr(marks.Token, "taken_off", lambda self, effect: [])


def _a_brush_passes_all(patch: pytest.MonkeyPatch) -> None:
    """A brush passes the full amount (rule 4)."""
    old = marks.Contact.between

    def between(sources: Any, into: Any, amount: Any) -> Any:
        return old(sources, into, Amount.FULL)

    patch.setattr(marks.Contact, "between", between)


def _contact_in_a_chain(patch: pytest.MonkeyPatch) -> None:
    """What arrives in a meeting travels on in the same meeting, the other way round of rule 4."""
    old = marks.Spread._contact

    def contact(self: Any, here: Any, reached: Any, goals: Any) -> Any:
        once = old(self, here, reached, goals)
        return old(self, once, reached, goals)

    patch.setattr(marks.Spread, "_contact", contact)


def _washing_is_enough(patch: pytest.MonkeyPatch) -> None:
    """Rinsed soil counts as gone: the state is forgotten from visit to visit (rules 8 and 12)."""
    inner = marks.Spread._over_ways

    def over(self: Any) -> Any:
        (way,) = inner(self)
        hits = {
            place: tuple(
                self.number(marks.GoesOn(self.goals[n].position & ~marks.RINSED)) for n in found
            )
            for place, found in way.hits.items()
        }
        return (replace(way, hits=hits),)

    patch.setattr(marks.Spread, "_over_ways", over)


def _disinfects_what_is_caked(patch: pytest.MonkeyPatch) -> None:
    """A treatment acts on caked soil too (rule 8)."""

    def treated(self: Any, here: set[int], spot: int, level: int, worlds: int) -> set[int]:
        if not self._ends(level, spot, worlds):
            return here
        return {place for place in here if not self._is_at(place, spot)}

    patch.setattr(marks.Spread, "_treated", treated)


def _a_chemical_is_treated_like_a_germ(patch: pytest.MonkeyPatch) -> None:
    """Disinfecting ends chemicals, and rinsing does not (rule 8)."""
    old = marks.Spread._treated

    def treated(self: Any, here: set[int], *rest: Any) -> set[int]:
        chemical, self.chemical = self.chemical, False
        try:
            return old(self, here, *rest)
        finally:
            self.chemical = chemical

    patch.setattr(marks.Spread, "_treated", treated)


def _rinsing_ends_germs(patch: pytest.MonkeyPatch) -> None:
    """A level for chemicals ends germs of its classes as well (rule 8)."""
    old = marks.Spread._treated

    def treated(self: Any, here: set[int], spot: int, level: int, worlds: int) -> set[int]:
        rinses = self.layout.plan.levels[level].acts is Acts.CHEMICALS
        if rinses and self._ends(level, spot, worlds):
            return {place for place in here if not self._is_at(place, spot)}
        return old(self, here, spot, level, worlds)

    patch.setattr(marks.Spread, "_treated", treated)


def _chemicals_are_not_followed(patch: pytest.MonkeyPatch) -> None:
    """Only germs are looked at (rule 2)."""
    old = paths.Paths._origins_of

    def origins_of(self: Any, group: Any) -> Any:
        return iter(()) if group.chemical else old(self, group)

    patch.setattr(paths.Paths, "_origins_of", origins_of)


def _no_floors(patch: pytest.MonkeyPatch) -> None:
    """Treating at the floor ends nothing beyond the level's own classes (rule 8)."""
    patch.setattr(
        marks,
        "ends",
        lambda plan, level, spot, worlds, klass: klass in plan.levels[level].ends,
    )


def _nothing_disturbs(patch: pytest.MonkeyPatch) -> None:
    """A touch within the wet time does not matter (rule 9)."""
    old = marks._registers

    def registers(plan: Plan, numbers: Any, body_of_layer: Any) -> Any:
        made = list(old(plan, numbers, body_of_layer))
        for treatment in range(len(plan.treatments)):
            at = numbers.undisturbed(treatment)
            writes = {event: value for event, value in made[at].writes.items() if value}
            made[at] = replace(made[at], writes=writes)
        return tuple(made)

    patch.setattr(marks, "_registers", registers)


def _one_visit_only(patch: pytest.MonkeyPatch) -> None:
    """Nothing goes on to the next visit (rule 12)."""
    patch.setattr(marks.Spread, "_over_ways", lambda self: ())
    patch.setattr(marks.Spread, "_closing_ways", lambda self, event, layer: ())


def _covers_take_their_soil_along(patch: pytest.MonkeyPatch) -> None:
    """Soil on the cover that is on at the end does not go on to the next visit (rule 12)."""
    patch.setattr(marks.Spread, "_closing_ways", lambda self, event, layer: ())


def _two_visits_at_most(patch: pytest.MonkeyPatch) -> None:
    """Soil is followed for two visits and no further (rule 14)."""
    old = visits.Soil._visit
    began: dict[int, int] = {}

    def visit(self: Any, starts: Any, worlds: Any, origin: Any, own: bool, *rest: Any) -> Any:
        began[id(self)] = 1 if own else began.get(id(self), 1) + 1
        return old(self, starts, worlds, origin, own, *rest) if began[id(self)] <= 2 else []

    patch.setattr(visits.Soil, "_visit", visit)


def _clinics_are_mixed(patch: pytest.MonkeyPatch) -> None:
    """Choices that are fixed for the clinic change from visit to visit (rule 12)."""
    old = visits.Soil.hits

    def hits(self: Any, origin: Any, part: int, grouping: Any) -> Any:
        plan = self._layout.plan
        object.__setattr__(
            self._layout, "plan", replace(plan, clinic=(self._layout.worlds,) * len(plan.clinic))
        )
        try:
            return old(self, origin, part, grouping)
        finally:
            object.__setattr__(self._layout, "plan", plan)

    patch.setattr(visits.Soil, "hits", hits)


def _own_saliva_is_foreign(patch: pytest.MonkeyPatch) -> None:
    """Soil counts in its own visit as in later ones (rule 11)."""
    old = visits.Meanings.of
    patch.setattr(
        visits.Meanings, "of", lambda self, goal, origin, own: old(self, goal, origin, False)
    )


def _amount_does_not_matter(patch: pytest.MonkeyPatch) -> None:
    """A trace counts as the full amount (rule 11)."""
    old = marks.position
    patch.setattr(marks, "position", lambda spot, rinsed, trace: old(spot, rinsed, False))


def _wells_run_dry(patch: pytest.MonkeyPatch) -> None:
    """A lasting source is ended like any soil (rule 2)."""
    old = visits.Soil.starts

    def starts(self: Any, origin: Any) -> frozenset[int]:
        return frozenset(self._spread.plain(place) for place in old(self, origin))

    patch.setattr(visits.Soil, "starts", starts)


def _groups_may_be_torn(patch: pytest.MonkeyPatch) -> None:
    """Acts done in one go may be interrupted (rule 1)."""
    patch.setattr(judging, "lay_out", lambda plan: marks.lay_out(replace(plan, together=())))


def _thrown_away_for_good_is_not_looked_at(patch: pytest.MonkeyPatch) -> None:
    """What has been retired may be used again (rule 6)."""
    patch.setattr(judging._Asker, "_used_again", lambda self: iter(()))


def _left_on_is_not_left_over(patch: pytest.MonkeyPatch) -> None:
    """A cover that was on from the start may stay on (rule 13)."""

    def may_stay_on(plan: Plan, piece: int) -> tuple[int, ...]:
        return tuple(range(len(plan.layers)))

    patch.setattr(lives, "may_stay_on", may_stay_on)


def _easiest_class_speaks_for_all(patch: pytest.MonkeyPatch) -> None:
    """Only the easiest class is looked at."""
    patch.setattr(paths, "class_groups", lambda layout: marks.class_groups(layout)[-1:])


def _parts_of_a_meeting_one_way(patch: pytest.MonkeyPatch) -> None:
    """A meeting passes soil from its first target only (rule 4)."""
    old = marks.Token.all_touching

    def all_touching(self: marks.Token, targets: Any) -> list[marks.Touch]:
        return old(self, targets)[:2]

    patch.setattr(marks.Token, "all_touching", all_touching)


MUTANTS = [
    _forget_a_layer,
    _no_leaks,
    _a_tear_is_not_seen,
    _a_tear_passes_a_trace_only,
    _a_tear_outlives_the_cover,
    _a_torn_cover_is_ready,
    _no_leak_when_taken_off,
    _a_brush_passes_all,
    _contact_in_a_chain,
    _washing_is_enough,
    _disinfects_what_is_caked,
    _a_chemical_is_treated_like_a_germ,
    _rinsing_ends_germs,
    _chemicals_are_not_followed,
    _no_floors,
    _nothing_disturbs,
    _one_visit_only,
    _covers_take_their_soil_along,
    _two_visits_at_most,
    _clinics_are_mixed,
    _own_saliva_is_foreign,
    _amount_does_not_matter,
    _wells_run_dry,
    _groups_may_be_torn,
    _thrown_away_for_good_is_not_looked_at,
    _left_on_is_not_left_over,
    _easiest_class_speaks_for_all,
    _parts_of_a_meeting_one_way,
]


@pytest.fixture(scope="module")
def expected() -> dict[int, Verdicts]:
    """What the simulator says, looked up once for all mutants."""
    return {}


@pytest.mark.parametrize("mutant", MUTANTS, ids=lambda mutant: mutant.__name__.strip("_"))
def test_the_mutant_is_caught(mutant: Mutation, expected: dict[int, Verdicts]):
    with pytest.MonkeyPatch.context() as patch:
        mutant(patch)
        for seed in range(MOST_PLANS):
            plan = random_plan(seed)
            if seed not in expected:
                expected[seed] = of_simulator(plan)
            if of_engine(plan) != expected[seed]:
                return
    pytest.fail(f"{mutant.__doc__} Nothing saw it in {MOST_PLANS} plans.")


def test_the_unchanged_engine_is_not_caught(expected: dict[int, Verdicts]):
    for seed in range(100):
        assert of_engine(random_plan(seed)) == of_simulator(random_plan(seed)), seed
