"""What a wall chart costs: one on A3, as a whole process, and all charts of one protocol.

Of the largest shipped protocol. Seconds of processor time and on the clock of the whole process,
start-up and all, and where the processor time goes: the check; hands; panels; measuring, in how
many calls of the typesetter; drawing; all else.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from bench.check import bar
from protocol_lang.language.load import load
from protocol_lang.pipeline import check_file
from protocol_lang.resources import folder

#: Bars: seconds for one chart, and for all of a protocol.
ONE_CHART, ALL_CHARTS = 1.5, 5.0


def largest() -> Path:
    """The shipped protocol with the most steps, those of its repetitions and mishaps counted."""
    every = [
        path
        for path in sorted(folder("protocols").rglob("*.protocol"))
        if path.read_text("utf-8").startswith("protocol ")
    ]
    return max(every, key=acts_of)


def acts_of(path: Path) -> int:
    """How many acts the proof looks at."""
    unfolded = check_file(path, mend=False).unfolded
    return 0 if unfolded is None else len(unfolded.plan.acts)


def settled(path: Path) -> list[str]:
    """The options that leave one chart."""
    protocol = load(path).protocol
    assert protocol is not None
    told = [choice for choice in protocol.choices if choice.known_after is None]
    return [part for one in told for part in ("--choice", f"{one.name}={one.values[0]}")]


class Share:
    """Counts the calls of a function, and the seconds of processor time in them."""

    def __init__(self, module: Any, name: str) -> None:
        self.calls, self.seconds = 0, 0.0
        self.inner: Callable[..., Any] = getattr(module, name)
        setattr(module, name, self)

    def __call__(self, *given: Any, **named: Any) -> Any:
        begun = time.process_time()
        try:
            return self.inner(*given, **named)
        finally:
            self.calls += 1
            self.seconds += time.process_time() - begun


def print_one(options: list[str]) -> int:
    """Print a chart and tell how the processor time was spent: what the child process does."""
    from protocol_lang import pipeline, typesetter
    from protocol_lang.cli import main as run
    from protocol_lang.pages import walls

    check = Share(pipeline, "check_file")
    sheets = Share(walls, "sheets")
    panels = Share(walls, "panels")
    measuring, drawing = Share(typesetter, "measured"), Share(typesetter, "compiled")
    # The name under which the sheets are made is taken when the command runs.
    import protocol_lang.pages

    protocol_lang.pages.sheets = sheets
    code = run(["chart", *options])
    told = {
        "check": check.seconds,
        "hands": sheets.seconds - panels.seconds,
        "panels": panels.seconds,
        f"measuring in {measuring.calls} calls": measuring.seconds,
        "drawing": drawing.seconds,
    }
    told["all else"] = time.process_time() - sum(told.values())
    print("  " + ", ".join(f"{what} {seconds:.2f} s" for what, seconds in told.items()), flush=True)
    return code


def measured(what: str, path: Path, options: list[str], most: float) -> None:
    """Print what one run costs, as a process of its own."""
    with tempfile.TemporaryDirectory() as place:
        begun = time.perf_counter()
        before = os.times()
        done = subprocess.run(
            [
                *(sys.executable, "-m", "bench.chart", str(path)),
                *("-o", str(Path(place) / "wall.pdf"), *options),
            ],
            check=False,
        )
        after = os.times()
        clock = time.perf_counter() - begun
    spent = (
        after.children_user - before.children_user + after.children_system - before.children_system
    )
    print(
        f"{what}: {spent:.2f} s of processor time, {clock:.2f} s on the clock "
        f"(bar {bar(spent, most)}), exit code {done.returncode}",
        flush=True,
    )


def main() -> int:
    """Print the figures. Return 0."""
    path = largest()
    print(path.name, flush=True)
    measured("one chart on A3", path, settled(path), ONE_CHART)
    measured("all charts of it", path, [], ALL_CHARTS)
    return 0


if __name__ == "__main__":
    sys.exit(print_one(sys.argv[1:]) if sys.argv[1:] else main())
