"""Installed as a wheel, installed to be edited, or only checked out: the tool finds its folders.

The environments made here get click from the environment that runs the tests, so nothing is
fetched.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tomllib
import zipfile
from dataclasses import dataclass
from pathlib import Path

import click
import pytest

from protocol_lang import resources

ROOT = Path(__file__).resolve().parents[2]

#: Asks the installed tool where its folders are and whether a planted file is found there.
ASK = """
import protocol_lang
from protocol_lang.resources import folder
print(protocol_lang.__file__)
print(sorted(p.name for p in folder("grammar").rglob("*.lark")))
print(sorted(p.name for p in folder("protocols").rglob("*.protocol")))
from protocol_lang.trade.steam import steam_minutes
print("minutes:", steam_minutes("CDC 2008", "gravity", "wrapped instruments", 121))
"""


@dataclass(frozen=True)
class Environment:
    """A fresh virtual environment."""

    folder: Path

    def run(self, *command: str, at: Path | None = None) -> str:
        """What a program of this environment writes; run outside any checkout by default."""
        place = self.folder / ("Scripts" if os.name == "nt" else "bin")
        program = shutil.which(command[0], path=str(place))
        assert program is not None, f"{command[0]} was not installed"
        settings = {k: v for k, v in os.environ.items() if k not in ("PYTHONPATH", "PYTHONHOME")}
        ended = subprocess.run(
            [program, *command[1:]],
            cwd=at or self.folder, env=settings, capture_output=True, text=True, timeout=240,
            check=False,
        )  # fmt: skip
        assert ended.returncode == 0, ended.stdout + ended.stderr
        return ended.stdout


def fresh(folder: Path) -> Environment:
    subprocess.run([sys.executable, "-m", "venv", "--without-pip", str(folder)], check=True)
    site = next(folder.glob("[Ll]ib*/**/site-packages"))
    borrowed = {Path(module.__file__ or "").parent.parent for module in (click,)}
    (site / "borrowed.pth").write_text("".join(f"{path}\n" for path in borrowed))
    return Environment(folder)


def install(environment: Environment, *what: str) -> None:
    python = shutil.which(
        "python", path=str(environment.folder / ("Scripts" if os.name == "nt" else "bin"))
    )
    subprocess.run(
        [sys.executable, "-m", "pip", "--python", str(python), "install", "--quiet", "--no-deps",
         "--no-index", "--no-build-isolation", "--disable-pip-version-check", *what],
        check=True, capture_output=True, timeout=240, env={**os.environ, "PYTHONPATH": ""},
    )  # fmt: skip


@pytest.fixture(scope="module")
def checkout(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of what is packaged, with planted files in folders of their own."""
    copy = tmp_path_factory.mktemp("checkout")
    skip = shutil.ignore_patterns("__pycache__", "*.egg-info")
    for name in ("protocol_lang", "grammar", "protocols"):
        shutil.copytree(ROOT / name, copy / name, ignore=skip)
    for name in ("pyproject.toml", "setup.py", "LICENSE", "README.md"):
        if (ROOT / name).exists():
            shutil.copy(ROOT / name, copy / name)
    (copy / "grammar" / "deep").mkdir()
    (copy / "grammar" / "deep" / "planted.lark").write_text("start:\n")
    (copy / "protocols" / "a room" / "deep").mkdir(parents=True)
    (copy / "protocols" / "a room" / "deep" / "planted.protocol").write_text("\n")
    (copy / "protocol_lang" / "planted" / "deep").mkdir(parents=True)
    (copy / "protocol_lang" / "planted" / "__init__.py").write_text('"""New."""\n')
    (copy / "protocol_lang" / "planted" / "deep" / "__init__.py").write_text('"""New."""\n')
    (copy / "protocol_lang" / "planted" / "sheet.typ").write_text("\n")
    (copy / "protocol_lang" / "planted" / "schema.json").write_text("{}\n")
    (copy / "protocol_lang" / "planted" / "xx.po").write_text("\n")
    (copy / "protocols" / "a room" / "deep" / "planted.es.po").write_text("\n")
    return copy


@pytest.fixture(scope="module")
def wheel(checkout: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("wheel")
    subprocess.run(
        [sys.executable, "-m", "pip", "wheel", "--quiet", "--no-deps", "--no-index",
         "--no-build-isolation", "--disable-pip-version-check", "-w", str(out), str(checkout)],
        check=True, capture_output=True, timeout=240, env={**os.environ, "PYTHONPATH": ""},
    )  # fmt: skip
    (made,) = out.glob("*.whl")
    return made


@pytest.fixture(scope="module")
def from_wheel(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Environment:
    environment = fresh(tmp_path_factory.mktemp("from wheel") / "env")
    install(environment, str(wheel))
    return environment


@pytest.fixture(scope="module")
def editable(checkout: Path, tmp_path_factory: pytest.TempPathFactory) -> Environment:
    environment = fresh(tmp_path_factory.mktemp("editable") / "env")
    install(environment, "--editable", str(checkout))
    return environment


def asked(environment: Environment, at: Path | None = None) -> tuple[Path, str]:
    first, *rest = environment.run("python", "-c", ASK, at=at).splitlines()
    return Path(first), "\n".join(rest)


def test_a_wheel_finds_its_folders(from_wheel: Environment):
    place, found = asked(from_wheel)
    assert from_wheel.folder in place.parents
    assert "planted.lark" in found
    assert "planted.protocol" in found
    assert "minutes: 30" in found


def test_an_editable_install_finds_them_in_the_checkout(editable: Environment, checkout: Path):
    place, found = asked(editable)
    assert checkout in place.parents
    assert "planted.lark" in found
    assert "planted.protocol" in found
    assert "minutes: 30" in found


def test_an_editable_install_sees_new_files_at_once(editable: Environment, checkout: Path):
    new = checkout / "protocols" / "new.protocol"
    module = checkout / "protocol_lang" / "later.py"
    new.write_text("\n")
    module.write_text('"""Later."""\n')
    try:
        assert "new.protocol" in asked(editable)[1]
        editable.run("python", "-c", "import protocol_lang.later")
    finally:
        new.unlink()
        module.unlink()


def test_a_wheel_run_inside_a_checkout_uses_that_checkout(from_wheel: Environment, checkout: Path):
    place, found = asked(from_wheel, at=checkout)
    assert checkout in place.parents
    assert "planted.protocol" in found


def test_a_checkout_needs_no_install(checkout: Path, tmp_path: Path):
    place, found = asked(fresh(tmp_path / "env"), at=checkout)
    assert checkout in place.parents
    assert "planted.lark" in found
    assert "minutes: 30" in found


@pytest.mark.parametrize("how", ["from_wheel", "editable"])
def test_the_command_is_installed(how: str, request: pytest.FixtureRequest):
    environment: Environment = request.getfixturevalue(how)
    assert environment.run("protocol-lang", "--version").startswith("protocol-lang ")
    assert environment.run("protocol-lang", "--help").startswith("Write  protocol-lang ")
    environment.run("python", "-c", "import protocol_lang.planted.deep")


def test_a_missing_folder_is_told(monkeypatch: pytest.MonkeyPatch, tmp_path: Path):
    monkeypatch.setattr(resources, "_PACKAGE", tmp_path / "protocol_lang")
    with pytest.raises(FileNotFoundError, match="Install the program again"):
        resources.folder("grammar")


def test_the_wheel_holds_all_that_the_checkout_holds(wheel: Path, checkout: Path):
    held = {name for name in zipfile.ZipFile(wheel).namelist() if ".dist-info/" not in name}
    expected = set()
    for name, inside in (
        ("protocol_lang", "protocol_lang"),
        ("grammar", "protocol_lang/grammar"),
        ("protocols", "protocol_lang/protocols"),
    ):
        for path in (checkout / name).rglob("*"):
            if path.is_file() and "__pycache__" not in path.parts:
                expected.add(f"{inside}/{path.relative_to(checkout / name).as_posix()}")
    assert held == expected, "pyproject.toml lists by suffix what is packaged"


def test_the_wheel_holds_the_licence(wheel: Path):
    with zipfile.ZipFile(wheel) as archive:
        (name,) = (n for n in archive.namelist() if n.endswith("/LICENSE"))
        assert archive.read(name) == (ROOT / "LICENSE").read_bytes()


def test_every_range_is_bound_to_a_pin():
    """Source: the Python packaging specifications (PEP 508 names, PEP 440 versions)."""
    from packaging.requirements import Requirement
    from packaging.utils import canonicalize_name

    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    extras = project["optional-dependencies"]
    for file, ranges in (
        ("run.txt", project["dependencies"]),
        ("all.txt", [*project["dependencies"], *extras["test"], *extras["dev"]]),
    ):
        text = (ROOT / "requirements" / file).read_text().replace("\\\n", " ")
        pins: dict[str, list[str]] = {}
        for line in text.splitlines():
            if not line.startswith("#"):
                assert "--hash=sha256:" in line
                pin = Requirement(line.partition("--hash")[0])
                (version,) = pin.specifier
                assert version.operator == "=="
                pins.setdefault(canonicalize_name(pin.name), []).append(version.version)
        for wanted in map(Requirement, ranges):
            versions = pins[canonicalize_name(wanted.name)]
            assert all(wanted.specifier.contains(v, prereleases=True) for v in versions)
