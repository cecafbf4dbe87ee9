"""Draws every shipped protocol anew into ``diagrams/``, in folders as in ``protocols/``.

Run by ``make diagrams``. The pictures are never edited by hand.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent


def main() -> int:
    """Draw them all. Return 0, or 1 when one could not be drawn."""
    undrawn = 0
    for path in sorted((ROOT / "protocols").rglob("*.protocol")):
        if not path.read_text(encoding="utf-8").startswith("protocol "):
            continue  # words, rooms and data have no steps to draw
        picture = ROOT / "diagrams" / path.relative_to(ROOT / "protocols").with_suffix(".svg")
        picture.parent.mkdir(parents=True, exist_ok=True)
        source, target = (p.relative_to(ROOT).as_posix() for p in (path, picture))
        command = [sys.executable, "-m", "protocol_lang", "draw", source, "-o", target]
        if subprocess.run(command, cwd=ROOT).returncode in (0, 1, 4):
            print(f"drew {target}")
        else:
            print(f"could not draw {source}", file=sys.stderr)
            undrawn += 1
    return min(undrawn, 1)


if __name__ == "__main__":
    sys.exit(main())
