"""Start, slack and critical path, beside a worked example of a handbook and a reference library."""

from __future__ import annotations

import random

import networkx as nx

from protocol_lang.order import Network, close
from protocol_lang.order.network import Cycle, before_from_pairs
from protocol_lang.schedule.critical import times
from protocol_lang.schedule.least import least
from protocol_lang.schedule.work import Work

#: Building a plant: activity to weeks and what it waits for. Worked example of the chapter on
#: PERT/CPM in Hillier and Lieberman, Introduction to Operations Research; figures from memory.
PLANT = {
    "excavate": (2, ""),
    "foundation": (4, "excavate"),
    "rough wall": (10, "foundation"),
    "roof": (6, "rough wall"),
    "exterior plumbing": (4, "rough wall"),
    "interior plumbing": (5, "exterior plumbing"),
    "exterior siding": (7, "roof"),
    "exterior painting": (9, "exterior plumbing, exterior siding"),
    "electrical work": (7, "rough wall"),
    "wallboard": (8, "interior plumbing, electrical work"),
    "flooring": (4, "wallboard"),
    "interior painting": (5, "wallboard"),
    "exterior fixtures": (2, "exterior painting"),
    "interior fixtures": (6, "flooring, interior painting"),
}
#: As printed there: 44 weeks; slack in weeks of what is not on the critical path.
WEEKS = 44
SLACK = {
    "roof": 4,
    "exterior siding": 4,
    "exterior painting": 4,
    "exterior fixtures": 4,
    "electrical work": 2,
    "flooring": 1,
}


def work_of(lengths: list[int], pairs: set[tuple[int, int]]) -> Work:
    """Tasks that need nobody's hands, so that they are as much side by side as the order allows."""
    network = close(
        Network(len(lengths), before_from_pairs(len(lengths), pairs), (), 1, (1,) * len(lengths))
    )
    assert not isinstance(network, Cycle)
    return Work(tuple(lengths), (None,) * len(lengths), network.before)


def test_the_plant_of_the_handbook():
    names = [*PLANT, "finish"]
    lengths = [weeks for weeks, _ in PLANT.values()] + [0]
    pairs = {
        (names.index(one), names.index(name))
        for name, (_, waits) in PLANT.items()
        for one in waits.split(", ")
        if one
    }
    pairs |= {(task, len(PLANT)) for task in range(len(PLANT))}
    work = work_of(lengths, pairs)
    found = least(work, None, len(PLANT))
    assert found is not None and found.exact and found.ticks == WEEKS
    when = times(work, found.order, len(PLANT))
    slack = dict(zip(PLANT, when.slack, strict=False))
    assert {name: one for name, one in slack.items() if one} == SLACK
    critical = [name for name in PLANT if slack[name] == 0]
    assert critical == [
        "excavate",
        "foundation",
        "rough wall",
        "exterior plumbing",
        "interior plumbing",
        "wallboard",
        "interior painting",
        "interior fixtures",
    ]


def test_the_longest_path_is_that_of_the_reference_library():
    for seed in range(60):
        dice = random.Random(seed)
        count = dice.randint(2, 12)
        lengths = [dice.randint(0, 9) for _ in range(count)] + [0]
        pairs = {
            (a, b) for a in range(count) for b in range(a + 1, count) if dice.random() < 0.25
        } | {(task, count) for task in range(count)}
        work = work_of(lengths, pairs)
        found = least(work, None, count)
        assert found is not None
        graph: nx.DiGraph[int] = nx.DiGraph()
        graph.add_weighted_edges_from((a, b, lengths[a]) for a, b in pairs)
        assert found.ticks == nx.dag_longest_path_length(graph)
        when = times(work, found.order, count)
        for task in range(count):
            # Slack by its meaning: so much longer, and not a tick more, and the end is the same.
            slack = when.slack[task]
            assert slack is not None
            for more, later in ((slack, 0), (slack + 1, 1)):
                longer = [*lengths]
                longer[task] += more
                then = least(work_of(longer, pairs), None, count)
                assert then is not None and then.ticks == found.ticks + later


def test_what_need_not_be_done_before_has_no_slack():
    work = work_of([3, 4, 0], {(0, 2)})
    assert times(work, (0, 1, 2), 2).slack == (0, None, 0)


#: Six jobs of six steps: pairs of person and time. The problem of Fisher and Thompson,
#: Probabilistic learning combinations of local job-shop scheduling rules, 1963; from memory.
SIX_BY_SIX = """
2 1  0 3  1 6   3 7   5 3   4 6
1 8  2 5  4 10  5 10  0 10  3 4
2 5  3 4  5 8   0 9   1 1   4 7
1 5  0 5  2 5   3 3   4 8   5 9
2 9  1 3  4 5   5 4   0 3   3 1
1 3  3 3  5 9   0 10  4 4   2 1
"""


def test_the_published_least_time_of_six_people_with_six_jobs():
    """It is 55, as has been proved many times over."""
    lengths: list[int] = []
    who: list[int | None] = []
    pairs = set()
    for line in SIX_BY_SIX.split("\n")[1:-1]:
        numbers = [int(one) for one in line.split()]
        for person, time in zip(numbers[::2], numbers[1::2], strict=True):
            if len(lengths) % 6:
                pairs.add((len(lengths) - 1, len(lengths)))
            lengths.append(time)
            who.append(person)
    pairs |= {(task, 36) for task in range(36)}
    network = close(Network(37, before_from_pairs(37, pairs), (), 1, (1,) * 37))
    assert not isinstance(network, Cycle)
    work = Work((*lengths, 0), (*who, None), network.before)
    found = least(work, None, 36)
    assert found is not None and found.exact and found.ticks == 55
    assert not found.forced
