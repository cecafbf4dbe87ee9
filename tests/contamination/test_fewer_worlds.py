"""Tables of fewer worlds that take over what is told of more, against tables made alone."""

from __future__ import annotations

from protocol_lang.contamination.judge import judge
from protocol_lang.order.effects import Effects
from tests.oracles.plans import random_plans


def test_what_registers_hold_in_a_world_does_not_depend_on_the_others():
    told = fewer = 0
    for plan in random_plans(60, seed=21):
        layout = judge(plan).layout
        if layout is None or plan.worlds < 2:
            continue
        network = layout.network
        for world in range(plan.worlds):
            alone = Effects(network, None, 1 << world)
            taken = Effects(network, None, 1 << world, layout.possible)
            twice = taken.narrowed(1 << world)
            for register in range(len(network.registers)):
                for event in range(network.events):
                    writers = alone.writers(register, event)
                    assert taken.writers(register, event) == writers
                    assert taken.possible(register, event) == alone.possible(register, event)
                    assert twice.possible(register, event) == alone.possible(register, event)
                    told += bool(writers)
                    fewer += len(writers) < len(layout.possible.writers(register, event))
    assert told > 1_000
    assert fewer > 50
