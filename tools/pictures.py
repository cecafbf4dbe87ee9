"""Prints the wall chart that the README shows, and the picture of rates, into ``docs/pictures/``.

Run by ``python -m tools.pictures`` from the folder of the project, with what the tests need set up.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
CHART = ROOT / "docs" / "pictures" / "wall-chart.png"

#: The chart of two people at work, as on a day that stays the same.
_COMMAND = (
    *("chart", "protocols/imaging-room-2/intraoral-wired-sensor.protocol"),
    *("--choice", "staffing=paired", "--choice", "shielding=none"),
    *("--paper", "A2", "--on", "2026-11-02", "-o", str(CHART)),
)

RATES = ROOT / "docs" / "pictures" / "rates.svg"

_RATES = (
    *("lapses", "protocols/imaging-room-2/intraoral-wired-sensor.protocol"),
    *("--rates", "--together", "1", "--picture", str(RATES), "--on", "2026-11-02"),
)


def main() -> int:
    """Print both, and make the file of the chart small. Return 0, or the exit code of the
    printing."""
    from PIL import Image

    CHART.parent.mkdir(parents=True, exist_ok=True)
    ended = subprocess.run([sys.executable, "-m", "protocol_lang", *_COMMAND], cwd=ROOT)
    if ended.returncode == 0:
        with Image.open(CHART) as printed:
            small = printed.convert("RGB").resize(
                (1600, round(1600 * printed.height / printed.width))
            )
        small.quantize(256).save(CHART, optimize=True)
    drawn = subprocess.run(
        [sys.executable, "-m", "protocol_lang", *_RATES], cwd=ROOT, stdout=subprocess.DEVNULL
    )
    return ended.returncode or drawn.returncode


if __name__ == "__main__":
    sys.exit(main())
