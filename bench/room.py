"""What a whole room costs: all visits of a day, all choices, all moments of all mishaps.

First the shipped days, as whole processes and by stages. Then how the cost of one visit grows with
the number of mishaps that can happen in it, and with the number of times that something is done in
it; and how the cost of a day grows with the number of its visits. Processor time, best of several
runs.
"""

from __future__ import annotations

import os
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

from bench.check import bar, whole_process
from protocol_lang.checks import findings_of
from protocol_lang.contamination.rounds import Judged, judge_protocol
from protocol_lang.contamination.unfold import unfold
from protocol_lang.language.load import load
from protocol_lang.resources import folder

RUNS = 3
#: Bar: seconds of processor time for a whole room.
WHOLE_ROOM = 3.0
MISHAPS = (0, 1, 2, 4, 8)
ROUNDS = (1, 2, 3, 6, 18, 100)
VISITS = (1, 2, 4, 8)

T = TypeVar("T")


def timed(work: Callable[[], T]) -> tuple[float, T]:
    """(milliseconds of processor time, what came of it): the best of several runs."""
    begun = time.process_time()
    came = work()
    best = (time.process_time() - begun) * 1000
    for _ in range(RUNS - 1):
        begun = time.process_time()
        came = work()
        best = min(best, (time.process_time() - begun) * 1000)
    return best, came


def stages(path: Path) -> tuple[dict[str, float], Judged, int]:
    """Milliseconds of each stage of a check, what was judged, and how many findings there are."""
    reading, loaded = timed(lambda: load(path))
    protocol = loaded.protocol
    assert protocol is not None and loaded.complete, loaded.findings
    judging, judged = timed(lambda: judge_protocol(protocol))
    assert isinstance(judged, Judged), judged
    depths = judged.unfolded.depths
    unfolding, _ = timed(lambda: unfold(protocol, None, depths))
    telling, told = timed(lambda: findings_of(judged.unfolded, judged.judgement))
    took = {
        "reading": reading,
        "to acts": unfolding,
        "judging": max(judging - unfolding, 0.0),
        "telling": telling,
    }
    return took, judged, len(told[0])


def row(first: str, path: Path) -> str:
    """One line of a table: its head, then size and milliseconds."""
    took, judged, found = stages(path)
    plan = judged.unfolded.plan
    looked_at = "-".join(str(deep) for deep in judged.unfolded.depths.values()) or "all"
    shares = "".join(f"{took[stage]:9.0f}" for stage in took)
    return (
        f"{first:>10} {len(plan.acts):6d} {plan.worlds:8d} {looked_at:>9}{shares}"
        f"{sum(took.values()):9.0f} {found:9d}"
    )


HEAD = (
    "             acts  courses    rounds  reading  to acts  judging  telling  all, ms  findings\n"
    "                            looked at"
)


def visit(title: str, mishaps: int, rounds: int, then: str = "") -> str:
    """A visit with gloves on and off in each round, and so many things that can happen in it."""
    happens = "".join(
        f"  call {number}, between any two steps of operator\n"
        "    where operator wears gloves\n"
        "      [ ] operator takes off gloves\n      [ ] operator cleans hands\n"
        "      [ ] operator works at keyboard\n      [ ] operator cleans hands\n"
        "      [ ] operator puts on gloves\n"
        "    otherwise\n      [ ] operator cleans hands\n"
        "      [ ] operator works at keyboard\n"
        for number in range(mishaps)
    )
    return (
        f'protocol "{title}"\n  edition 1\n  takes words from "Imaging room 2"\n{then}\n'
        "found out on the way\n  image blurred, known after look\n\n"
        + (f'can happen in "Images of {title}"\n{happens}\n' if mishaps else "")
        + f'phase "Images of {title}"\n'
        "  [ ] operator cleans hands\n  [ ] operator chooses settings at control panel\n"
        f"  for each exposure, 1 to {rounds}\n"
        "    in one go\n      [ ] operator cleans hands\n      [ ] operator puts on gloves\n"
        "    [ ] place: operator keeps hands still\n"
        "    [ ] look: operator looks at the image\n"
        "    where image blurred\n      again from place, at most 2 times\n"
        "    in one go\n      [ ] operator takes off gloves\n      [ ] operator cleans hands\n"
    )


def day(titles: list[str]) -> str:
    """A day with these visits."""
    listed = ", ".join(f'"{title}"' for title in titles)
    return f'day "A day"\n  edition 1\n  visits {listed}\n'


def shipped_days() -> None:
    """Print what each shipped day costs, and which stage takes which share."""
    for path in sorted(folder("protocols").rglob("*.protocol")):
        if not path.read_text("utf-8").startswith("day "):
            continue
        print(f"{path.parent.name}/{path.name}")
        if os.name != "nt":
            seconds, size = whole_process(path)
            print(f"  whole process {seconds:6.2f} s of processor time "
                  f"(bar {bar(seconds, WHOLE_ROOM)}), {size:.0f} MB")  # fmt: skip
        took, _, _ = stages(path)
        whole = sum(took.values())
        shares = ", ".join(f"{stage} {100 * part / whole:.0f} %" for stage, part in took.items())
        print(f"  of {whole:.0f} ms without starting up: {shares}")
        print(HEAD)
        print(row("the day", path))


def main() -> int:
    """Print the figures. Return 0."""
    shipped_days()
    with tempfile.TemporaryDirectory() as place:
        where = Path(place)
        room = folder("protocols") / "imaging-room-2" / "imaging-room-2.protocol"
        (where / room.name).write_text(room.read_text("utf-8"), "utf-8")
        one = where / "one.protocol"
        print(f"\nmishaps that can happen, with up to 18 rounds\n{HEAD}")
        for mishaps in MISHAPS:
            one.write_text(visit("One", mishaps, 18), "utf-8")
            print(row(str(mishaps), one))
        print(f"\nrounds at most, with one mishap\n{HEAD}")
        for rounds in ROUNDS:
            one.write_text(visit("One", 1, rounds), "utf-8")
            print(row(str(rounds), one))
        print(f"\nvisits of a day, each with one mishap and up to 18 rounds\n{HEAD}")
        for visits in VISITS:
            titles = [f"Visit {number}" for number in range(1, visits + 1)]
            for title in titles:
                path = where / f"{title.lower().replace(' ', '-')}.protocol"
                path.write_text(visit(title, 1, 18), "utf-8")
            one.unlink(missing_ok=True)
            whole = where / "a-day.protocol"
            whole.write_text(day(titles), "utf-8")
            print(row(str(visits), whole))
    return 0


if __name__ == "__main__":
    sys.exit(main())
