"""The tool in one minute: a protocol is checked, a planted fault is found, a chart is printed.

Run by ``make demo``; without make: ``python tools/demo.py``, in an environment that has the tool.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
OUT = Path("out")

PROTOCOL = Path("protocols", "imaging-room-2", "intraoral-wired-sensor.protocol")
#: The line to leave out, which must stand in the protocol once.
LEFT_OUT = "[ ] operator disinfects sensor with a new wipe"
FAULTY = OUT / "sensor-not-disinfected.protocol"
CHART = OUT / "wall-chart.pdf"


def main() -> int:
    """Go through the three parts. Return 0, or 1 when one did not end as it should."""
    (ROOT / OUT).mkdir(exist_ok=True)
    title(f"1. A protocol of an invented clinic is checked: {PROTOCOL}")
    good = run("check", str(PROTOCOL), expected=0)

    plant()
    title(f'2. The same protocol without the step "{LEFT_OUT.removeprefix("[ ] ")}"')
    found = run("check", str(FAULTY), expected=1)

    title("3. Its wall chart is printed")
    printed = run("chart", str(PROTOCOL), "-o", str(CHART), expected=0)

    if good and found and printed and (ROOT / CHART).is_file():
        title(f"The chart is in {ROOT / CHART}")
        print(
            "Local codes and licensed practice come first. A protocol is proved as it is written;\n"
            "what people do is for the clinic to see to."
        )
        return 0
    title("The demonstration did not go as it should; see above.")
    return 1


def plant() -> None:
    """Write a copy of the protocol that lacks one step."""
    lines = (ROOT / PROTOCOL).read_text(encoding="utf-8").splitlines(keepends=True)
    left = [line for line in lines if line.strip() != LEFT_OUT]
    if len(left) != len(lines) - 1:
        raise SystemExit(f'"{LEFT_OUT}" does not stand exactly once in {PROTOCOL}.')
    (ROOT / FAULTY).write_text("".join(left), encoding="utf-8")


def run(*arguments: str, expected: int) -> bool:
    """Show a command and what it says; tell whether it ended with the expected exit code."""
    print("$ protocol-lang", *arguments, end="\n\n", flush=True)
    ended = subprocess.run([sys.executable, "-m", "protocol_lang", *arguments], cwd=ROOT)
    print(f"\n(exit code {ended.returncode}, expected {expected})", flush=True)
    return ended.returncode == expected


def title(text: str) -> None:
    """Set a part off from the one before."""
    print(f"\n{text}\n", flush=True)


if __name__ == "__main__":
    sys.exit(main())
