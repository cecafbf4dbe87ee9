"""Answering the question: relaxation, then our own search, then the clause-learning solver."""

from __future__ import annotations

from collections.abc import Iterable

from protocol_lang.order.effects import Effects
from protocol_lang.order.network import with_order
from protocol_lang.order.question import (
    Answer,
    Bits,
    Budget,
    Carry,
    Effort,
    Found,
    Impossible,
    Network,
    Question,
)
from protocol_lang.order.relaxed import Graph, Passed, forward, graph_to
from protocol_lang.order.replay import replay
from protocol_lang.order.search import search
from protocol_lang.order.solver import solve


def decide(
    network: Network,
    question: Question,
    budget: Budget | None = None,
    effort: Effort | None = None,
    tables: Effects | None = None,
    passed: Passed | None = None,
) -> Answer:
    """Answer ``question`` about a closed ``network``.

    A :class:`Found` has been replayed by the plain definition; an :class:`Impossible` is a proof;
    past ``budget`` the answer is :class:`Undecided`. ``effort``, if given, is added to. ``tables``
    save time if they are of this very network, and more if they are of the carry and worlds in
    question too. ``passed``: the pass of relaxation over these tables from these starts, if it was
    made before.
    """
    effort = effort if effort is not None else Effort()
    begun = prepare(network, question, tables)
    if begun is None:
        return Impossible()
    graph: Graph | None = None
    if question.carry is not None:
        if passed is None or passed.reach.effects is not begun:
            effort.relaxed += 1
            passed = Passed(forward(begun, question.starts))
        graph = _graph(passed, question)
        if graph is None:
            effort.settled_by_relaxation += 1
            return Impossible()
    return _decide(network, question, begun, graph, budget or Budget(), effort)


def decide_all(
    network: Network,
    carry: Carry,
    starts: Iterable[int],
    targets: Iterable[int],
    worlds: Bits,
    budget: Budget | None = None,
    effort: Effort | None = None,
    tables: Effects | None = None,
    passed: Passed | None = None,
) -> dict[int, Answer]:
    """For each target: may a mark from one of ``starts`` hit it, in one of ``worlds``?

    One relaxed pass serves all targets; those that it leaves open are decided one by one. For
    ``tables`` and ``passed`` see :func:`decide`.
    """
    effort = effort if effort is not None else Effort()
    begin = frozenset(starts)
    answers: dict[int, Answer] = {}
    effects = _tables(network, carry, worlds & (1 << network.worlds) - 1, tables)
    if passed is None or passed.reach.effects is not effects:
        effort.relaxed += 1
        passed = Passed(forward(effects, begin))
    for target in sorted(set(targets)):
        question = Question(worlds, carry=carry, starts=begin, targets=frozenset({target}))
        graph = _graph(passed, question)
        if graph is None:
            effort.settled_by_relaxation += 1
            answers[target] = Impossible()
        else:
            answers[target] = _decide(network, question, effects, graph, budget or Budget(), effort)
    return answers


def any_run(network: Network, budget: Budget | None = None) -> Answer:
    """Is there any run at all?

    To be asked first of every plan: without a run everything would be "proved". The answer is the
    same in every world, because absent events keep their place.
    """
    return decide(network, Question(1), budget)


def prepare(network: Network, question: Question, tables: Effects | None = None) -> Effects | None:
    """The tables for a question, its order literals and worlds worked in; None if it is impossible.

    Worlds in which an event that must take place is absent, or in which a stand surely does not
    hold, are dropped.
    """
    worlds = question.worlds & (1 << network.worlds) - 1
    for event in range(network.events):
        if question.takes_place >> event & 1:
            worlds &= network.present[event]
    for stand in question.stands:
        worlds &= network.present[stand.event]
    if question.precedes:
        ordered = with_order(network, question.precedes)
        if ordered is None:
            return None
        network = ordered
    if question.stands and worlds:
        if tables is None or tables.network is not network or worlds & ~tables.worlds:
            tables = Effects(network, None, worlds)
        for stand in question.stands:
            worlds &= tables.condition_worlds(stand.event, {stand.register: stand.values})
    if not worlds:
        return None
    return _tables(network, question.carry, worlds, tables)


def _tables(network: Network, carry: Carry | None, worlds: Bits, known: Effects | None) -> Effects:
    """The tables known, as far as they are those wanted; else new ones."""
    if known is not None and known.network is network and known.carry is carry:
        if known.worlds == worlds:
            return known
        if not worlds & ~known.worlds:
            return known.narrowed(worlds)
    return Effects(network, carry, worlds, known)


def _graph(passed: Passed, question: Question) -> Graph | None:
    """The relaxed graph that leads to the question's targets; None if they are out of reach."""
    if question.targets.isdisjoint(passed.reach.targets):
        return None
    graph = graph_to(passed, question.targets, question.starts)
    return graph if graph.links else None


def _decide(
    network: Network,
    question: Question,
    effects: Effects,
    graph: Graph | None,
    budget: Budget,
    effort: Effort,
) -> Answer:
    answer = search(effects, question, graph, budget.own, effort)
    if answer is None:
        effort.handed_over += 1
        answer = solve(effects, question, graph, budget.conflicts)
    if isinstance(answer, Found):
        replay(network, question, answer)
    return answer
