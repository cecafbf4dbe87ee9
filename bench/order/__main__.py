"""Prints how fast the one question is answered, beside a solver on the whole question.

``python -m bench.order [--quick]``. Times are processor time of this process in milliseconds, on
whatever machine this is; all else is the same on every machine. "Alone" is the clause-learning
solver on the whole question (see whole.py). A row of a seeded family shows its worst member.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from bench.order import families
from bench.order.families import Instance
from bench.order.whole import solve_whole
from protocol_lang.order import Effort, Found, Impossible, Undecided, decide

#: Events above which the solver is not run alone: minutes, and nothing to be learnt.
WHOLE_UP_TO = 265


@dataclass(frozen=True, slots=True)
class Row:
    """One instance measured; ``alone`` is None where the solver was not run."""

    instance: Instance
    answer: str
    ours: float
    effort: Effort
    alone: float | None

    @property
    def ratio(self) -> float | None:
        """How many times longer the solver alone takes."""
        return None if self.alone is None else self.alone / self.ours


class AnswersDifferError(Exception):
    """Two ways of answering the same question do not agree: an error of ours."""


def measure(instance: Instance, repeats: int) -> Row:
    """Answer an instance both ways; ours is the least time of ``repeats``."""
    times = []
    for _ in range(repeats):
        effort = Effort()
        begun = time.process_time()
        answer = decide(instance.network, instance.question, effort=effort)
        times.append(1e3 * (time.process_time() - begun))
    alone = None
    if instance.network.events <= WHOLE_UP_TO:
        measured = solve_whole(instance)
        alone = measured.milliseconds
        if type(measured.answer) is not type(answer) and not isinstance(answer, Undecided):
            raise AnswersDifferError(f"{instance.family}, {instance.name}")
    if instance.safe is not None and isinstance(answer, Impossible) is not instance.safe:
        raise AnswersDifferError(f"{instance.family}, {instance.name}: known otherwise")
    name = {Found: "run found", Impossible: "proved"}.get(type(answer), "not decided")
    return Row(instance, name, min(times), effort, alone)


HEADER = (
    f"{'family':<16}{'instance':<26}{'events':>7}{'ours ms':>9}{'nodes':>7}{'expl.':>7}"
    f"{'handed':>7}{'alone ms':>10}{'ratio':>7}  answer"
)


def line(row: Row) -> str:
    """A row of the table."""
    alone = "-" if row.alone is None else f"{row.alone:.1f}"
    ratio = (
        "-" if row.ratio is None else f"{row.ratio:.0f}" if row.ratio >= 10 else f"{row.ratio:.1f}"
    )
    return (
        f"{row.instance.family:<16}{row.instance.name:<26}{row.instance.network.events:>7}"
        f"{row.ours:>9.2f}{row.effort.nodes:>7}{row.effort.explanations:>7}"
        f"{row.effort.handed_over:>7}{alone:>10}{ratio:>7}  {row.answer}"
    )


def singles(title: str, instances: Iterable[Instance]) -> list[Row]:
    """One line for each instance."""
    print(f"\n{title}\n{HEADER}")
    rows = []
    for instance in instances:
        rows.append(measure(instance, 5))
        print(line(rows[-1]), flush=True)
    return rows


def seeded(title: str, instances: Iterable[Instance]) -> list[Row]:
    """The three worst lines of a seeded family, and what occurred in it."""
    print(f"\n{title}\n{HEADER}")
    rows = sorted((measure(instance, 1) for instance in instances), key=lambda row: -row.ours)
    for row in rows[:3]:
        print(line(row))
    slower = sum(1 for row in rows if row.ratio is not None and row.ratio < 1)
    alone = [row.alone for row in rows if row.alone is not None]
    print(
        f"  {len(rows)} in all: {_share(rows, 'proved')} proved, "
        f"{_share(rows, 'run found')} with a run, {_share(rows, 'not decided')} not decided;\n"
        f"  settled by relaxation {sum(row.effort.settled_by_relaxation for row in rows)}, "
        f"handed over {sum(row.effort.handed_over for row in rows)}; "
        f"median {rows[len(rows) // 2].ours:.1f} ms, "
        f"total {sum(row.ours for row in rows):.0f} ms;\n"
        f"  solver alone: worst {max(alone, default=0):.1f} ms, total {sum(alone):.0f} ms, "
        f"faster than ours {slower} times",
        flush=True,
    )
    return rows


def _share(rows: Sequence[Row], answer: str) -> int:
    return sum(1 for row in rows if row.answer == answer)


def main(arguments: Sequence[str]) -> int:
    """Print all tables and the bars. 0, or 1 when a bar is missed."""
    few = 10 if "--quick" in arguments else 1
    # The solver is loaded on first use; that is not what is measured here.
    solve_whole(families.exposures(1))
    settled = singles(
        "Settled by the relaxed pass",
        [families.any_order(n) for n in (6, 20, 40)]
        + [families.two_people(n) for n in (6, 8, 20, 40)],
    )
    exposures = singles(
        "Exposures on a bare machine, gloves changed each time, a helper at no fixed time",
        [families.exposures(n) for n in (5, 8, 10, 20, 30, 40)],
    )
    floating = seeded(
        "Visits of 6 to 20 exposures with three people free to act at any time",
        [families.floating(seed) for seed in range(200 // few)],
    )
    options = seeded(
        "Visits with 8 and 12 binary options, all worlds in one question",
        [families.choices(n, seed) for n in (8, 12) for seed in range(10 // min(few, 5))],
    )
    random_rows = [
        seeded(
            f"Random orders of {events} events, dense in reductions and covers",
            [families.dense(events, seed) for seed in range(60 // few)],
        )
        for events in (60, 100, 200)
    ]
    formulas = seeded(
        "Satisfiability written as a plan: 10, 16 and 22 variables",
        [
            families.satisfiability(n, families.random_formula(n, s), f"{n} variables, seed {s}")
            for n in (10, 16, 22)
            for s in range(20 // min(few, 5))
        ],
    )
    growth = singles(
        "Growth to 500 events",
        [make(n) for n in (60, 80, 100, 122) for make in (families.any_order, families.two_people)]
        + [families.exposures(55)],
    )
    everything = [*settled, *exposures, *floating, *options, *formulas, *growth]
    everything += [row for rows in random_rows for row in rows]
    worst = max(everything, key=lambda row: row.ours)
    print(f"\nWorst of {len(everything)}\n{HEADER}\n{line(worst)}")
    print("\nNot compared here: a checker that walks through states one by one.")
    return _bars(settled, exposures, floating, random_rows[-1], everything)


def _bars(
    settled: list[Row],
    exposures: list[Row],
    floating: list[Row],
    random_200: list[Row],
    everything: list[Row],
) -> int:
    large = [row for row in settled if row.instance.network.events >= 160]
    realistic = [*settled, *exposures, *floating]
    bars = [
        ("settled, about 170 events: at most 20 ms", max(r.ours for r in large), 20.0),
        (
            "settled, about 170 events: solver alone at least 20 times slower (20 / least ratio)",
            20 / min(r.ratio or 0.001 for r in large),
            1.0,
        ),
        ("exposures: at most 300 ms", max(r.ours for r in exposures), 300.0),
        ("floating lanes: at most 300 ms", max(r.ours for r in floating), 300.0),
        ("random orders of 200 events: at most 2000 ms", max(r.ours for r in random_200), 2000.0),
        ("not decided: none", float(_share(everything, "not decided")), 0.0),
        (
            "realistic instances on which the solver alone is faster: none",
            float(sum(1 for r in realistic if r.ratio is not None and r.ratio < 1)),
            0.0,
        ),
    ]
    print("\nBars")
    missed = 0
    for text, value, bar in bars:
        good = value <= bar
        missed += not good
        print(f"  {'good  ' if good else 'MISSED'}  {text}: {value:.2f}")
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
