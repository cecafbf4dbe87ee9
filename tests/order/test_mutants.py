"""Named mutants of the engine: each must be caught by the comparison with brute force.

A mutant replaces one function, or gives the engine a network or carry that lacks one notion while
the oracle gets the true one. It is caught when some instance gets a wrong answer, or an answer
that the replay refuses. A mutant that survives means that the tests above would miss such a slip.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace as changed

import pytest

from bench.order.families import any_order, exposures
from protocol_lang.order import (
    START,
    Budget,
    Carry,
    Found,
    Impossible,
    Network,
    Question,
    WrongAnswerError,
    decide,
    reach,
    replay,
)
from protocol_lang.order import relaxed as relaxed_module
from protocol_lang.order.effects import Effects, Position
from protocol_lang.order.partial import PartialOrder
from protocol_lang.order.relaxed import HIT
from protocol_lang.order.search import _Search
from protocol_lang.order.solver import FALSE, TRUE, _Encoding
from tests.order import brute, fuzz

#: Seeds a mutant may survive at most.
SEEDS = 12_000

Asked = tuple[Network, Question]


def caught(budget: Budget, mend: Callable[[Network, Question], Asked] | None = None) -> int | None:
    """The first seed at which the engine, as it is now, goes wrong; None if it never does."""
    for shape, first in ((fuzz.LOOSE, 20_000_000), (fuzz.SMALL, 21_000_000)):
        for seed, network, question in fuzz.instances(first, SEEDS // 2, shape):
            told = (network, question) if mend is None else mend(network, question)
            try:
                answer = decide(*told, budget)
                if isinstance(answer, Found):
                    replay(network, question, answer)
            except (WrongAnswerError, KeyError, StopIteration, IndexError, RecursionError):
                return seed
            if isinstance(answer, Found) is not brute.by_states(network, question):
                return seed
    return None


def test_the_engine_itself_is_not_caught():
    assert caught(Budget()) is None


# Mutants of what the engine is told


def without_blocks(network, question):
    return changed(network, blocks=()), question


def without_initial_values(network, question):
    registers = tuple(changed(register, initial=99) for register in network.registers)
    return changed(network, registers=registers), question


def without_conditions(network, question):
    return network, with_ways(question, lambda way: changed(way, when=()))


def without_worlds_of_ways(network, question):
    return network, with_ways(question, lambda way: changed(way, worlds=-1))


def with_all_events_present(network, question):
    every = (1 << network.worlds) - 1
    return changed(network, present=(every,) * network.events), question


def with_hits_judged_after(network, question):
    def after(way):
        hits = {}
        places = range(question.carry.positions)
        for p in places:
            struck = {t for q in way.moves.get(p, (p,)) for t in way.hits.get(q, ())}
            if struck:
                hits[p] = tuple(sorted(struck))
        return changed(way, hits=hits)

    return network, with_ways(question, after)


def with_ways_reversed(network, question):
    if question.carry is None:
        return network, question
    ways = tuple(mine[::-1] for mine in question.carry.ways)
    return network, changed(question, carry=Carry(question.carry.positions, ways))


def without_stands(network, question):
    return network, changed(question, stands=())


def without_order_literals(network, question):
    return network, changed(question, precedes=())


def without_sure_events(network, question):
    return network, changed(question, takes_place=0)


def with_ways(question, change):
    if question.carry is None:
        return question
    ways = tuple(tuple(change(way) for way in mine) for mine in question.carry.ways)
    return changed(question, carry=Carry(question.carry.positions, ways))


@pytest.mark.parametrize(
    "mend",
    [
        without_blocks,
        without_initial_values,
        without_conditions,
        without_worlds_of_ways,
        with_all_events_present,
        with_hits_judged_after,
        with_ways_reversed,
        without_stands,
        without_order_literals,
        without_sure_events,
    ],
)
def test_caught_when_the_engine_is_told_less(mend):
    assert caught(Budget(), mend) is not None


# Mutants of the tables, the relaxation and our own search


def position_visited_once(monkeypatch):
    def add(self, state, link, real=_Search.add):
        goal = self.effects.positions[link.exit.to]
        if link.goal != HIT and any(stay[0] is goal for stay in state.stays):
            return False
        return real(self, state, link)

    monkeypatch.setattr(_Search, "add", add)


def contradiction_overlooked(monkeypatch):
    """An event may then be used twice: first before and then after itself."""

    def precede_sets(self, firsts, seconds, real=PartialOrder.precede_sets):
        real(self, firsts, seconds)
        return True

    monkeypatch.setattr(PartialOrder, "precede_sets", precede_sets)


def enders_between_forgotten(monkeypatch):
    monkeypatch.setattr(_Search, "_free", lambda self, state, stay: 0)


def keeping_cases_of_an_ender_forgotten(monkeypatch):
    def keeping(self, state, place, ender, real=_Search._keeping):
        return [], real(self, state, place, ender)[1]

    monkeypatch.setattr(_Search, "_keeping", keeping)


def conditions_of_a_keeping_case_forgotten(monkeypatch):
    def choose_option(self, state, demand, option):
        state.demands = tuple(other for other in state.demands if other is not demand)

    monkeypatch.setattr(_Search, "choose_option", choose_option)


def conditions_of_a_hop_forgotten(monkeypatch):
    def add(self, state, link, real=_Search.add):
        exit_ = link.exit._replace(case=changed(link.exit.case, conditions=()))
        return real(self, state, changed(link, exit=exit_))

    monkeypatch.setattr(_Search, "add", add)


def worlds_of_links_not_intersected(monkeypatch):
    def add(self, state, link, real=_Search.add):
        facts = (link.facts[0], link.facts[1], self.effects.worlds)
        return real(self, state, changed(link, facts=facts))

    monkeypatch.setattr(_Search, "add", add)


def absent_ender_ends(monkeypatch):
    def init(self, network, carry, worlds, known=None, real=Effects.__init__):
        real(self, network, carry, worlds, known)
        for place in self.positions:
            place.sure = dict.fromkeys(place.sure, worlds)
            for event in place.sure:
                place.always |= 1 << event

    monkeypatch.setattr(Effects, "__init__", init)


def present_in_some_world_ends_in_all(monkeypatch):
    def sure_in(self, worlds):
        return sum(1 << event for event, mask in self.sure.items() if worlds & mask)

    monkeypatch.setattr(Position, "sure_in", sure_in)


def other_writes_between_forgotten(monkeypatch):
    def choose_write(self, state, wish, write, real=_Search.choose_write):
        stays = state.stays
        answer = real(self, state, wish, write)
        state.stays = stays
        return answer

    monkeypatch.setattr(_Search, "choose_write", choose_write)


def initial_value_forgotten(monkeypatch):
    def writes(self, state, wish, real=_Search.writes):
        return [write for write in real(self, state, wish) if write != START]

    monkeypatch.setattr(_Search, "writes", writes)


def late_writes_forgotten(monkeypatch):
    """Of the possible writes only those that surely come before."""

    def writers(self, register, event, real=Effects.writers):
        return [
            w for w in real(self, register, event) if w[0] < 0 or self.before[event] >> w[0] & 1
        ]

    monkeypatch.setattr(Effects, "writers", writers)


def block_rule_for_strangers(monkeypatch):
    """The rule of blocks applied to events that are not among a block's others."""

    def init(self, network, carry, worlds, known=None, real=Effects.__init__):
        real(self, network, carry, worlds, known)
        self.blocks.inside = [
            [(-1 & ~(1 << e), down, up) for _, down, up in mine]
            for e, mine in enumerate(self.blocks.inside)
        ]

    monkeypatch.setattr(Effects, "__init__", init)


def late_facts_for_early_ones(monkeypatch):
    def case(self, event, way, worlds, held, real=Effects.case):
        found = real(self, event, way, worlds, held)
        return changed(found, early=found.late, late=found.early)

    monkeypatch.setattr(Effects, "case", case)


def failures_explained_by_nothing(monkeypatch):
    """A place that once led nowhere is given up on every route."""

    def explain(self, route, link, real=_Search.explain):
        real(self, route, link)
        return 0

    monkeypatch.setattr(_Search, "explain", explain)


def second_alternative_never_tried(monkeypatch):
    """An open ender is only ever put after the stay."""

    def complete(self, state, real=_Search.complete):
        for place, event, last in state.stays:
            for ender in range(len(state.order.before)):
                if self._free(state, (place, event, last)) >> ender & 1 and not (
                    state.order.precede(last, ender)
                ):
                    return None
        return real(self, state)

    monkeypatch.setattr(_Search, "complete", complete)


@pytest.mark.parametrize(
    "mutate",
    [
        position_visited_once,
        contradiction_overlooked,
        enders_between_forgotten,
        keeping_cases_of_an_ender_forgotten,
        conditions_of_a_keeping_case_forgotten,
        conditions_of_a_hop_forgotten,
        worlds_of_links_not_intersected,
        absent_ender_ends,
        present_in_some_world_ends_in_all,
        other_writes_between_forgotten,
        initial_value_forgotten,
        late_writes_forgotten,
        block_rule_for_strangers,
        late_facts_for_early_ones,
        failures_explained_by_nothing,
        second_alternative_never_tried,
    ],
)
def test_mutants_of_the_search_are_caught(monkeypatch, mutate):
    mutate(monkeypatch)
    assert caught(Budget(own=100_000)) is not None


# Mutants of the clauses


def blocks_left_out(monkeypatch):
    monkeypatch.setattr(_Encoding, "_blocks", lambda self: None)


def stays_left_out(monkeypatch):
    monkeypatch.setattr(_Encoding, "_stay", lambda self, used, links, end: None)


def worlds_left_out(monkeypatch):
    def mask(self, worlds):
        return TRUE if worlds & self.effects.worlds else FALSE

    monkeypatch.setattr(_Encoding, "mask", mask)


def values_left_out(monkeypatch):
    def has_value(self, event, condition, wanted=True):
        return [TRUE]

    monkeypatch.setattr(_Encoding, "has_value", has_value)


def a_kept_ender_never_considered(monkeypatch):
    monkeypatch.setattr(_Encoding, "_applies", lambda self, case: FALSE)


def edges_of_open_pairs_left_out(monkeypatch):
    def pair(self, a, b):
        key = (min(a, b), max(a, b))
        if key not in self.orders:
            self.orders[key] = self.fresh()
        return self.orders[key] if a < b else -self.orders[key]

    monkeypatch.setattr(_Encoding, "pair", pair)


@pytest.mark.parametrize(
    "mutate",
    [
        blocks_left_out,
        stays_left_out,
        worlds_left_out,
        values_left_out,
        a_kept_ender_never_considered,
        edges_of_open_pairs_left_out,
    ],
)
def test_mutants_of_the_clauses_are_caught(monkeypatch, mutate):
    mutate(monkeypatch)
    assert caught(Budget(own=0)) is not None


# Mutants that lose strength, not truth: caught by what the relaxation must settle alone


def excluded_by_the_forward_pass(instance) -> bool:
    question = instance.question
    assert isinstance(decide(instance.network, question), Impossible)
    return not reach(instance.network, question.carry, question.starts, question.worlds).targets


def test_forced_before_forgotten(monkeypatch):
    assert excluded_by_the_forward_pass(exposures(8))
    real = relaxed_module.steps

    def steps(effects, node, facts, movers):
        _, event = relaxed_module.place_of(effects, node)
        if event != START:
            facts = (effects.before[event], effects.after[event], facts[2])
        return real(effects, node, facts, movers)

    monkeypatch.setattr(relaxed_module, "steps", steps)
    assert not excluded_by_the_forward_pass(exposures(8))


def test_block_rule_on_links_forgotten(monkeypatch):
    assert excluded_by_the_forward_pass(any_order(6))
    monkeypatch.setattr(
        Effects, "between", lambda self, first, second: (self.before[second], self.after[first])
    )
    assert not excluded_by_the_forward_pass(any_order(6))
