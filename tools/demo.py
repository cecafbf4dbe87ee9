"""The tool in one minute: a protocol is checked, a planted fault is found, a chart is printed.

Run by ``make demo``; without make: ``python tools/demo.py``, in an environment that has the tool. A
folder may be named to write into, instead of ``out``.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent

PROTOCOL = Path("protocols", "imaging-room-2", "intraoral-wired-sensor.protocol")
#: The line to leave out, which must stand in the protocol once.
LEFT_OUT = "[ ] operator disinfects sensor with a new wipe"


def main(out: Path) -> int:
    """Go through the three parts. Return 0, or 1 when one did not end as it should."""
    faulty, chart = out / "sensor-not-disinfected.protocol", out / "wall-chart.pdf"
    (ROOT / out).mkdir(exist_ok=True)
    # What an earlier run left must not look like the result of this one.
    (ROOT / chart).unlink(missing_ok=True)

    title(f"1. A protocol of an invented clinic is checked: {PROTOCOL}")
    good = run("check", str(PROTOCOL), expected=0)

    plant(ROOT / faulty)
    title(f'2. The same protocol without the step "{LEFT_OUT.removeprefix("[ ] ")}"')
    found = run("check", str(faulty), expected=1)

    title("3. The wall chart of the first one is printed")
    printed = run("chart", str(PROTOCOL), "-o", str(chart), expected=0)

    if good and found and printed and (ROOT / chart).is_file():
        title(f"The chart is in {ROOT / chart}")
        print(
            "Local codes and licensed practice come first. A protocol is proved as it is written;\n"
            "what people do is for the clinic to see to."
        )
        return 0
    title("The demonstration did not go as it should; see above.")
    return 1


def plant(path: Path) -> None:
    """Write a copy of the protocol that lacks one step."""
    lines = (ROOT / PROTOCOL).read_text(encoding="utf-8").splitlines(keepends=True)
    left = [line for line in lines if line.strip() != LEFT_OUT]
    if len(left) != len(lines) - 1:
        raise SystemExit(f'"{LEFT_OUT}" does not stand exactly once in {PROTOCOL}.')
    path.write_text("".join(left), encoding="utf-8")


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
    sys.exit(main(Path(sys.argv[1] if len(sys.argv) > 1 else "out")))
