"""The import contracts bite: on a skeleton of the package, each planted import is told."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
PLACES = (
    "cli", "pipeline", "checks", "chart", "diagram", "contamination", "language", "model",
    "report", "wording", "findings", "trade", "text", "order", "resources", "compare",
    "comparison", "identity", "typesetter", "audit", "audited", "rules",
    "translation",
)  # fmt: skip


def contracts(tmp_path: Path, planted: dict[str, str]) -> tuple[bool, str]:
    """Whether the contracts hold on a package whose places have these contents, and what is said.

    Keys of ``planted`` are modules below the package, as paths without suffix.
    """
    package = tmp_path / "protocol_lang"
    for place in ("", *PLACES):
        (package / place).mkdir(parents=True)
        (package / place / "__init__.py").touch()
    for module, text in planted.items():
        (package / f"{module}.py").write_text(text + "\n")
    shutil.copy(ROOT / ".importlinter", tmp_path)
    program = "import sys; from importlinter.cli import lint_imports_command as c; sys.exit(c())"
    ended = subprocess.run(
        [sys.executable, "-c", program, "--no-cache", "--no-logo"],
        cwd=tmp_path, capture_output=True, text=True, timeout=60, check=False,
        env={**os.environ, "PYTHONPATH": str(tmp_path)},
    )  # fmt: skip
    return ended.returncode == 0, ended.stdout + ended.stderr


GOOD = {
    "cli/check": "import click, protocol_lang.report, protocol_lang.pipeline",
    "pipeline/run": "import protocol_lang.language, protocol_lang.checks, protocol_lang.chart",
    "checks/reach": "import protocol_lang.contamination.judge, protocol_lang.findings",
    "contamination/judge": "import protocol_lang.order, protocol_lang.model",
    "language/read": "import lark, protocol_lang.model, protocol_lang.resources",
    "order/solver": "import clingo",
    "chart/sheet": "import protocol_lang.typesetter, protocol_lang.contamination",
    "typesetter/__init__": "import typst",
    "translation/po": "import polib, protocol_lang.text",
    "chart/translate": "import protocol_lang.translation.po",
    "audited/records": "import datetime",
    "audit/run": "import protocol_lang.pipeline, protocol_lang.audited",
    "report/pdf": "import protocol_lang.typesetter, protocol_lang.audited",
    "diagram/layout": "import graphviz",
    "trade/air": "import protocol_lang.resources",
    "compare/steps": "import protocol_lang.contamination, protocol_lang.comparison",
    "comparison/records": "import protocol_lang.outcome",
    "identity/code": "import protocol_lang.findings",
    "report/page": "import protocol_lang.wording, protocol_lang.findings, protocol_lang.text",
}


def test_a_good_skeleton_stands(tmp_path: Path):
    stands, said = contracts(tmp_path, GOOD)
    assert stands, said


@pytest.mark.parametrize(
    ("module", "imported"),
    [
        ("order/bad", "protocol_lang.text"),
        ("text/bad", "protocol_lang.findings"),
        ("findings/bad", "protocol_lang.wording"),
        ("trade/bad", "protocol_lang.findings"),
        ("trade/bad", "protocol_lang.text"),
        ("trade/bad", "protocol_lang.order"),
        ("resources/bad", "protocol_lang.trade"),
        ("wording/bad", "protocol_lang.model"),
        ("report/bad", "protocol_lang.checks"),
        ("report/bad", "protocol_lang.order"),
        ("model/bad", "protocol_lang.language"),
        ("model/bad", "protocol_lang.order"),
        ("language/bad", "protocol_lang.order"),
        ("language/bad", "protocol_lang.contamination"),
        ("contamination/bad", "protocol_lang.language"),
        ("checks/bad", "protocol_lang.chart"),
        ("chart/bad", "protocol_lang.diagram"),
        ("checks/bad", "protocol_lang.report"),
        ("pipeline/bad", "protocol_lang.report"),
        ("pipeline/bad", "protocol_lang.cli"),
        ("pipeline/bad", "click"),
        ("model/bad", "lark"),
        ("contamination/bad", "clingo"),
        ("diagram/bad", "typst"),
        ("chart/bad", "typst"),
        ("report/bad", "typst"),
        ("report/bad", "protocol_lang.audit"),
        ("rules/bad", "protocol_lang.pipeline"),
        ("audited/bad", "protocol_lang.report"),
        ("report/bad", "protocol_lang.chart"),
        ("typesetter/bad", "protocol_lang.text"),
        ("chart/bad", "graphviz"),
        ("chart/bad", "segno"),
        ("chart/bad", "polib"),
        ("translation/bad", "polib"),
        ("translation/bad", "protocol_lang.findings"),
        ("findings/bad", "protocol_lang.chart"),
        ("compare/bad", "protocol_lang.checks"),
        ("compare/bad", "protocol_lang.report"),
        ("comparison/bad", "protocol_lang.compare"),
        ("comparison/bad", "protocol_lang.order"),
        ("identity/bad", "protocol_lang.wording"),
        ("bad", "sys"),  # a module that has no place yet
    ],
)
def test_a_planted_import_is_told(tmp_path: Path, module: str, imported: str):
    stands, said = contracts(tmp_path, {**GOOD, module: f"import {imported}"})
    assert not stands
    assert "protocol_lang." + module.replace("/", ".") in said


def test_modules_of_one_package_do_not_go_round_in_circles(tmp_path: Path):
    circle = {
        "model/one": "import protocol_lang.model.two",
        "model/two": "import protocol_lang.model.one",
    }
    stands, said = contracts(tmp_path, circle)
    assert not stands
    assert "No cycles are allowed in protocol_lang.model." in said
