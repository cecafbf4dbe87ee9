"""A touch that may or may not happen is taken as one that happens (kernel.md, rule 14).

The law that this rests on: where a plan has no misstep, leaving contacts out of it adds no verdict
of any kind. It is looked at on random plans, by the simulator, which follows that page directly,
and by the engine; and by hand for the two rules in which a contact does more than carry soil.
"""

from __future__ import annotations

import random
from collections import Counter
from dataclasses import fields, replace

import pytest

from protocol_lang.contamination.kernel import (
    Act,
    Held,
    Layer,
    Meet,
    Pass,
    Plan,
    Reached,
    Treatment,
    Wash,
    Wet,
    WetEnd,
)
from tests.contamination.compare import Verdicts, of_engine
from tests.oracles.plans import random_plan
from tests.oracles.simulator import Outcome, simulate
from tests.oracles.test_simulator import (
    G1,
    GLOVE,
    HAND_BODY,
    INTERMEDIATE,
    MOUTH_BODY,
    ROOM,
    SENSOR_BODY,
    TUBE_BODY,
    W1,
    in_sequence,
    reached,
)

PLANS = 1_500


def without_some_contacts(plan: Plan, seed: int) -> Plan:
    """Each contact is left out or stays, as a coin falls; of a plan with contacts at least one."""
    chance = random.Random(seed)
    contacts = [
        (number, place)
        for number, act in enumerate(plan.acts)
        for place, effect in enumerate(act.effects)
        if isinstance(effect, Meet | Pass)
    ]
    gone = {contact for contact in contacts if chance.random() < 0.5}
    gone |= set(chance.sample(contacts, min(1, len(contacts))))

    def rest(number: int, act: Act) -> Act:
        return replace(
            act,
            effects=tuple(
                effect for place, effect in enumerate(act.effects) if (number, place) not in gone
            ),
        )

    return replace(plan, acts=tuple(rest(number, act) for number, act in enumerate(plan.acts)))


def test_leaving_contacts_out_adds_no_verdict():
    fewer: Counter[str] = Counter()
    looked_at = 0
    for seed in range(700_000, 700_000 + PLANS):
        plan = random_plan(seed)
        whole = simulate(plan, None)
        if whole.missteps or not whole.possible:
            continue
        looked_at += 1
        rest = simulate(without_some_contacts(plan, seed), None)
        for field in fields(Outcome):
            before, after = getattr(whole, field.name), getattr(rest, field.name)
            assert after <= before, f"seed {seed}, {field.name}: {after - before}"
            fewer[field.name] += after < before
    # It has to matter: each verdict that a contact can bring about went away somewhere.
    assert looked_at > PLANS / 2
    assert fewer["hits"] > 200
    assert fewer["left_over"] > 5 and fewer["ambiguous"] > 0
    # What is on layers, what is so and what is wet does not rest on contacts at all.
    assert not any(fewer[name] for name in ("possible", "missteps", "claims", "not_ready"))


@pytest.mark.parametrize("part", range(2))
def test_the_engine_keeps_the_law(part: int):
    looked_at = 0
    for seed in range(710_000 + part, 710_300, 2):
        plan = random_plan(seed)
        whole = of_engine(plan)
        if whole.misstep_worlds or not whole.possible:
            continue
        looked_at += 1
        rest = of_engine(without_some_contacts(plan, seed))
        for name in Verdicts.__dataclass_fields__:
            if name != "possible":
                assert getattr(rest, name) <= getattr(whole, name), f"seed {seed}, {name}"
    assert looked_at > 75


def test_a_touch_that_disturbs_is_one_too_many():
    """Rule 9: without the touch of the bare clean hand the sensor is treated to the end."""
    room = replace(ROOM, treatments=(Treatment((SENSOR_BODY,), INTERMEDIATE),))
    soiled = Meet((SENSOR_BODY, MOUTH_BODY))
    touch = Meet((HAND_BODY, SENSOR_BODY))
    begin, end = (Wash((SENSOR_BODY,)), Wet(0)), WetEnd(0)
    with_touch = simulate(in_sequence(soiled, begin, touch, end, room=room), None)
    without = simulate(in_sequence(soiled, begin, end, room=room), None)
    assert reached(with_touch, Reached.PATIENT) and not reached(without, Reached.PATIENT)


def test_a_touch_that_uses_a_cover_up_is_one_too_many():
    """Rule 13: the wrap that was on from the start need not go, if nothing touched it."""
    room = replace(ROOM, layers=(*ROOM.layers[:2], Layer("tube head", W1)))
    with_touch = simulate(in_sequence(Meet((HAND_BODY, TUBE_BODY)), room=room), None)
    assert with_touch.left_over == {(0, W1)}
    assert simulate(in_sequence((), room=room), None).left_over == frozenset()


def test_a_misstep_in_a_contact_can_hide_what_comes_after_it():
    """Why the law speaks of plans without missteps: nothing is held, so the run ends there."""
    held = Held(0, ((G1, GLOVE),))
    soil = Meet((TUBE_BODY, MOUTH_BODY))
    hidden = simulate(in_sequence(Meet((held, HAND_BODY)), soil), None)
    assert hidden.missteps and not hidden.hits
    assert simulate(in_sequence(soil), None).hits
