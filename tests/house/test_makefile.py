"""A machine that lacks something is told what, before anything is made."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
pytestmark = pytest.mark.skipif(
    os.name == "nt" or shutil.which("make") is None, reason="there is no make here"
)


def told(python: str, tmp_path: Path) -> str:
    """What a set-up with that Python says; it must end with an error and leave nothing."""
    venv = tmp_path / "venv"
    ended = subprocess.run(
        ["make", f"VENV={venv}", f"PYTHON={python}", f"{venv}/ready-to-run"],
        cwd=ROOT, capture_output=True, text=True, timeout=60, check=False,
        env={k: v for k, v in os.environ.items() if k not in ("MAKEFLAGS", "MAKELEVEL")},
    )  # fmt: skip
    assert ended.returncode != 0
    assert not venv.exists()
    assert "Traceback" not in ended.stderr
    return ended.stderr


def python_that(first: str, tmp_path: Path) -> str:
    """A Python that does something before what it is asked."""
    script = tmp_path / "python"
    script.write_text(f'#!/bin/sh\nexec "{sys.executable}" -c "{first}; exec(\'$2\')"\n')
    script.chmod(0o755)
    return str(script)


def test_no_python(tmp_path: Path):
    assert 'There is no program "/no/such/python" here.' in told("/no/such/python", tmp_path)


def test_a_python_that_is_too_old(tmp_path: Path):
    old = python_that("import sys; sys.version_info = (3, 10, 9)", tmp_path)
    assert "is older than Python 3.11" in told(old, tmp_path)


def test_a_python_without_its_venv_module(tmp_path: Path):
    bare = python_that("import sys; sys.modules['ensurepip'] = None", tmp_path)
    assert "lacks its venv module" in told(bare, tmp_path)


def test_make_alone_lists_every_target():
    listed = subprocess.run(
        ["make"], cwd=ROOT, capture_output=True, text=True, timeout=60, check=True,
        env={k: v for k, v in os.environ.items() if k not in ("MAKEFLAGS", "MAKELEVEL")},
    ).stdout  # fmt: skip
    for target in ("demo", "test", "lint", "bench", "mistakes", "diagrams", "pins", "clean"):
        assert f"\nmake {target} " in f"\n{listed}"
