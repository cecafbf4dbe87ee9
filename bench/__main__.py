"""Runs every measurement in this folder, each in a process of its own, in order of names."""

from __future__ import annotations

import pkgutil
import subprocess
import sys
from pathlib import Path

FOLDER = Path(__file__).resolve().parent


def main() -> int:
    """Run them all. Return 0, or 1 when one ended with an error."""
    ended = []
    for module in pkgutil.iter_modules([str(FOLDER)]):
        is_runnable = not module.ispkg or (FOLDER / module.name / "__main__.py").is_file()
        if module.name == "__main__" or not is_runnable:
            continue
        print(f"\n{module.name.replace('_', ' ')}\n", flush=True)
        command = [sys.executable, "-m", f"bench.{module.name}"]
        ended.append(subprocess.run(command, cwd=FOLDER.parent).returncode)
    return int(any(ended))


if __name__ == "__main__":
    sys.exit(main())
