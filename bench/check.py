"""What a check of one protocol costs: the whole process, and the analysis alone.

First a visit of one image, then the longest protocol that is shipped: up to 20 exposures, and a
mishap at any moment.

Processor time of whole processes, user and system together, and their greatest memory; the best of
several runs. The analysis is what comes after the text has been read: plan, judgement, findings.
Then how the analysis grows with the number of exposures in one visit, up to the limit of events.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from protocol_lang.checks import findings_of
from protocol_lang.contamination.rounds import Judged, judge_protocol
from protocol_lang.language.load import load
from protocol_lang.resources import folder

RUNS = 7
#: Bars for a visit of one image: seconds of processor time and MB for the whole process,
#: milliseconds for the analysis. What the longest may take, the bar for a whole room says.
WHOLE, MEMORY, ANALYSIS = 0.6, 120.0, 100.0
EXPOSURES = (1, 2, 4, 8, 16, 24)


def of_one_image() -> Path:
    """The shipped protocol of a visit with one image."""
    return folder("protocols") / "imaging-room-2" / "intraoral-wired-sensor.protocol"


def longest() -> Path:
    """The shipped protocol with the most lines."""
    files = [
        path
        for path in folder("protocols").rglob("*.protocol")
        if path.read_text("utf-8").startswith("protocol ")
    ]
    return max(files, key=lambda path: len(path.read_text("utf-8").splitlines()))


def whole_process(path: Path) -> tuple[float, float]:
    """(seconds of processor time, MB) of ``check``; a process of its own measures each run."""
    script = (
        "import resource, subprocess, sys\n"
        "subprocess.run([sys.executable, '-m', 'protocol_lang', 'check', sys.argv[1]],"
        " stdout=subprocess.DEVNULL)\n"
        "used = resource.getrusage(resource.RUSAGE_CHILDREN)\n"
        "print(used.ru_utime + used.ru_stime, used.ru_maxrss)\n"
    )
    runs = []
    for _ in range(RUNS):
        printed = subprocess.run(
            [sys.executable, "-c", script, str(path)], capture_output=True, text=True, check=True
        ).stdout.split()
        runs.append((float(printed[0]), float(printed[1]) / 1024))
    return min(seconds for seconds, _ in runs), max(size for _, size in runs)


def analysis(path: Path) -> tuple[float, int, int]:
    """(milliseconds, acts, findings) of everything after the text has been read."""
    protocol = load(path).protocol
    assert protocol is not None
    best = float("inf")
    acts = found = 0
    for _ in range(RUNS):
        begun = time.perf_counter()
        judged = judge_protocol(protocol)
        assert isinstance(judged, Judged)
        findings, _ = findings_of(judged.unfolded, judged.judgement)
        best = min(best, (time.perf_counter() - begun) * 1000)
        acts, found = len(judged.unfolded.plan.acts), len(findings)
    return best, acts, found


def with_exposures(exposures: int) -> str:
    """The shipped intraoral protocol with so many exposures in one visit, alone and paired."""
    text = of_one_image().read_text("utf-8")
    head, _, rest = text.partition("  [ ] place: ")
    body, _, tail = rest.partition('\nphase "Take down"')
    body = "  [ ] place: " + body

    def numbered(exposure: int) -> str:
        """The body with labels of its own."""
        made = body.replace("after behind\n", f"after behind {exposure}\n")
        for label in ("place", "take out", "behind"):
            made = made.replace(f"{label}: ", f"{label} {exposure}: ")
        return made

    rounds = [numbered(exposure) for exposure in range(1, exposures + 1)]
    return head + "".join(rounds) + '\nphase "Take down"' + tail


def bar(figure: float, most: float) -> str:
    """The bar, and whether it is met."""
    return f"{most:g}" if figure <= most else f"{most:g}, NOT met"


def measured(path: Path, barred: bool) -> None:
    """Print what a check of one file costs, beside the bars or without."""

    def beside(figure: float, most: float) -> str:
        return f" (bar {bar(figure, most)})" if barred else ""

    took, acts, _ = analysis(path)
    print(f"{path.name}: {acts} acts, all choices")
    if os.name == "nt":
        print("  whole process      not measured: this system does not report it")
    else:
        seconds, size = whole_process(path)
        print(f"  whole process      {seconds:7.2f} s processor time{beside(seconds, WHOLE)}")
        print(f"                     {size:7.0f} MB{beside(size, MEMORY)}")
    print(f"  analysis           {took:7.1f} ms{beside(took, ANALYSIS)}")


def main() -> int:
    """Print the figures. Return 0."""
    measured(of_one_image(), barred=True)
    measured(longest(), barred=False)
    print("exposures   acts   analysis   findings")
    with tempfile.TemporaryDirectory() as where:
        room = folder("protocols") / "imaging-room-2" / "imaging-room-2.protocol"
        (Path(where) / room.name).write_text(room.read_text("utf-8"), "utf-8")
        for exposures in EXPOSURES:
            one = Path(where) / "exposures.protocol"
            one.write_text(with_exposures(exposures), "utf-8")
            took, acts, found = analysis(one)
            print(f"{exposures:9d} {acts:6d} {took:8.1f} ms {found:8d}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
