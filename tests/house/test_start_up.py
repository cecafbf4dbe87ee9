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

#: What a check of one protocol has no use for.
BESIDE = {
    "protocol_lang.comparison",
    "protocol_lang.compare",
    "protocol_lang.language.neaten",
    "protocol_lang.language.rules",
    "protocol_lang.model.rules",
    "protocol_lang.rules",
}


def _loaded(arguments: list[str]) -> set[str]:
    """The modules that a command has imported."""
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
    return set(ended.stderr.splitlines())


@pytest.mark.parametrize("arguments", [["--help"], ["--version"], ["no such command"], []])
def test_start_up_imports_nothing_heavy(arguments):
    loaded = _loaded(arguments)
    assert "click" in loaded
    assert not loaded & HEAVY
    # Nor the tool itself, beyond its command line.
    ours = {name for name in loaded if name.startswith("protocol_lang.")}
    assert {name.split(".")[1] for name in ours} <= {"cli"}


def test_a_check_imports_neither_comparisons_nor_rules():
    loaded = _loaded(["check", str(ROOT / "protocols/templates/new-protocol.protocol")])
    assert "protocol_lang.contamination.judge" in loaded
    assert not loaded & BESIDE
