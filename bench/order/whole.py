"""The competitor: the whole question put to the clause-learning solver, with no relaxation of ours.

The encoding is the best one known to us: one choice of a link out of every place where the mark
may be, an order literal for each pair that matters, the solver's own acyclicity constraint instead
of a grounded order relation, one literal for two whole blocks, and clauses made directly, without
a grounder. It is given every link between any two acts that concern a position, and it does get
what anybody reads off the closed order at once: a link that goes against the order, or across an
ender that surely lies between, is not written down. It is not told what can be reached.
"""

from __future__ import annotations

import time
from dataclasses import dataclass

from bench.order.families import Instance
from protocol_lang.order import Answer
from protocol_lang.order.bits import members
from protocol_lang.order.deciding import prepare
from protocol_lang.order.effects import START, Effects
from protocol_lang.order.question import Impossible, Question
from protocol_lang.order.relaxed import HIT, Graph, Link
from protocol_lang.order.solver import solve


@dataclass(frozen=True, slots=True)
class Measured:
    """An answer and what it took, in milliseconds of this process."""

    answer: Answer
    milliseconds: float
    links: int


def solve_whole(instance: Instance, conflicts: int = 2_000_000) -> Measured:
    """Answer the question with the solver alone."""
    begun = time.process_time()
    effects = prepare(instance.network, instance.question)
    if effects is None:
        return Measured(Impossible(), 1e3 * (time.process_time() - begun), 0)
    graph = every_link(effects, instance.question)
    answer = solve(effects, instance.question, graph, conflicts)
    return Measured(answer, 1e3 * (time.process_time() - begun), len(graph.links))


def every_link(effects: Effects, question: Question) -> Graph:
    """All links, from wherever a mark may come to be, that the closed order does not exclude."""
    assert question.carry is not None
    width = question.carry.positions
    sources: dict[int, list[int]] = {start: [START] for start in question.starts}
    for place in effects.positions:
        for event, exits in place.exits.items():
            for exit_ in exits:
                if exit_.target is None and event not in sources.setdefault(exit_.to, []):
                    sources[exit_.to].append(event)
    links: list[Link] = []
    for position, events in sources.items():
        place = effects.positions[position]
        for event in events:
            if event == START and position not in question.starts:
                continue
            node = (0 if event == START else effects.rank[event] + 1) * width + position
            later = -1 if event == START else effects.after[event]
            earlier = 0 if event == START else effects.before[event] | 1 << event
            always = place.always & later
            for last in members(place.movers & ~earlier):
                if always & effects.before[last]:
                    continue
                for index, exit_ in enumerate(place.exits[last]):
                    goal = HIT
                    if exit_.target is None:
                        goal = (effects.rank[last] + 1) * width + exit_.to
                    elif exit_.target not in question.targets:
                        continue
                    facts = (0, 0, exit_.case.worlds)
                    links.append(Link((node, last, index), goal, position, event, exit_, facts))
    begin = {link.name[0] for link in links if link.event == START}
    return Graph(effects, tuple(sorted(begin)), tuple(links))
