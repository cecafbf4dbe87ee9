"""How long the command line takes to begin, against the least that its library costs.

Processor time of whole processes, user and system together: the best of several runs, in
milliseconds. Only where the system reports it for ended processes (not on Windows).
"""

from __future__ import annotations

import os
import subprocess
import sys

RUNS = 20
#: ``--help`` may take this many times what Python with click alone takes.
BAR = 2.0


def processor_ms(*arguments: str) -> float:
    """Least processor time of a run of Python with these arguments, in milliseconds."""
    import resource  # not on Windows

    def spent() -> float:
        usage = resource.getrusage(resource.RUSAGE_CHILDREN)
        return usage.ru_utime + usage.ru_stime

    times = []
    for _ in range(RUNS):
        before = spent()
        subprocess.run([sys.executable, *arguments], stdout=subprocess.DEVNULL, check=True)
        times.append(spent() - before)
    return min(times) * 1000


def main() -> int:
    """Print the table. Return 0."""
    if os.name == "nt":
        print("not measured: this system does not report the time of ended processes")
        return 0
    least = processor_ms("-c", "import click")
    shown = processor_ms("-m", "protocol_lang", "--help")
    verdict = "" if shown <= BAR * least else ", NOT met"
    print(f"python alone            {processor_ms('-c', 'pass'):6.1f} ms")
    print(f"python with click       {least:6.1f} ms")
    print(f"protocol-lang --version {processor_ms('-m', 'protocol_lang', '--version'):6.1f} ms")
    print(f"protocol-lang --help    {shown:6.1f} ms")
    print(
        f"                        {shown / least:.2f} times python with click (bar: {BAR}{verdict})"
    )
    return 0


if __name__ == "__main__":
    sys.exit(main())
