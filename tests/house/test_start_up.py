"""Nobody who asks for help waits for a parser, a solver or a typesetter."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
HEAVY = {
    "clingo", "graphviz", "lark", "networkx", "polib", "segno", "typst",
    "importlib.metadata", "json",
}  # fmt: skip


@pytest.mark.parametrize("arguments", [["--help"], ["--version"], ["no such command"], []])
def test_start_up_imports_nothing_heavy(arguments):
    program = (
        "import sys\n"
        f"sys.path.insert(0, {str(ROOT)!r})\n"
        "from protocol_lang.cli import main\n"
        f"main({arguments!r})\n"
        "print('\\n'.join(sys.modules), file=sys.stderr)\n"
    )
    ended = subprocess.run(
        [sys.executable, "-I", "-c", program],
        capture_output=True, text=True, timeout=60, check=True,
    )  # fmt: skip
    loaded = set(ended.stderr.splitlines())
    assert "click" in loaded
    assert not loaded & HEAVY
    # Nor the tool itself, beyond its command line.
    ours = {name for name in loaded if name.startswith("protocol_lang.")}
    assert {name.split(".")[1] for name in ours} <= {"cli"}
