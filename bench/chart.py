"""What a wall chart costs: one on A3, as a whole process, and all charts of one protocol.

Of the largest shipped protocol. Processor time of the whole process, and which share of it is the
check, the typesetter, and all else (hands, lists, arrangement).
"""

from __future__ import annotations

import os
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from bench.check import bar
from protocol_lang import pipeline, typesetter
from protocol_lang.cli import main as run
from protocol_lang.language.load import load
from protocol_lang.resources import folder

#: Bars: seconds of processor time for one chart, and for all of a protocol.
ONE_CHART, ALL_CHARTS = 1.5, 5.0


def largest() -> Path:
    """The shipped protocol with the most lines."""
    every = [
        path
        for path in folder("protocols").rglob("*.protocol")
        if path.read_text("utf-8").startswith("protocol ") and "rules" not in path.parts
    ]
    return max(every, key=lambda path: len(path.read_text("utf-8").splitlines()))


def settled(path: Path) -> list[str]:
    """The options that leave one chart."""
    protocol = load(path).protocol
    assert protocol is not None
    told = [choice for choice in protocol.choices if choice.known_after is None]
    return [part for one in told for part in ("--choice", f"{one.name}={one.values[0]}")]


class Share:
    """Counts the calls of a function, and the seconds in them."""

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


def measured(what: str, path: Path, options: list[str], most: float) -> None:
    """Print what one run costs, in a process of its own."""
    child = os.fork()
    if child:
        os.waitpid(child, 0)
        return
    check = Share(pipeline, "check_file")
    measuring, drawing = Share(typesetter, "measured"), Share(typesetter, "compiled")
    with tempfile.TemporaryDirectory() as place:
        sys.stdout.flush()
        code = run(["chart", str(path), "-o", str(Path(place) / "wall.pdf"), *options])
    whole = time.process_time()
    other = whole - check.seconds - measuring.seconds - drawing.seconds
    print(
        f"{what}: {whole:.2f} s (bar {bar(whole, most)}), exit code {code}\n"
        f"  check {check.seconds:.2f} s, measuring {measuring.seconds:.2f} s in "
        f"{measuring.calls} calls, drawing {drawing.seconds:.2f} s, all else {other:.2f} s",
        flush=True,
    )
    os._exit(0)


def main() -> int:
    """Print the figures. Return 0."""
    path = largest()
    print(path.name, flush=True)
    if os.name == "nt":
        return 0
    measured("one chart on A3", path, settled(path), ONE_CHART)
    measured("all charts of it", path, [], ALL_CHARTS)
    return 0


if __name__ == "__main__":
    sys.exit(main())
