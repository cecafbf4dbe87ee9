"""``audit`` as a whole: what it says and writes, and its exit codes."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from protocol_lang.audit.data import read
from protocol_lang.audit.summary import render
from protocol_lang.cli.entry import main
from protocol_lang.cli.exits import ExitCode
from protocol_lang.resources import folder
from tests.audit.clinics import FAULTY, GLOVED, GOOD, HEAD, RULES, WAIVER, room, write

#: One order of two lets soil through, and a change puts it right.
EITHER = f"""protocol "Either order"{HEAD}
verb ACTOR brings THING to the gum
  meet THING, the patient's mouth

verb ACTOR boils THING
  meet ACTOR's front, THING
  wash THING
  reduce THING to sterile

phase "All"
  any order
    [ ] operator brings chair arms to the gum
    [ ] operator boils chair arms
"""
DAY = ("--on", "2026-11-25")


def run(*words: object) -> ExitCode:
    return ExitCode(main(["audit", *map(str, words), *DAY]))


@pytest.fixture
def clinic(tmp_path: Path) -> Path:
    where = tmp_path / "clinic"
    where.mkdir()
    room(where)
    write(where, "good", GOOD)
    return where


def test_exit_codes(clinic: Path, capsys):
    assert run(clinic) is ExitCode.CLEAR
    write(clinic, "empty", "")
    assert run(clinic) is ExitCode.PARTLY_CHECKED
    write(clinic, "faulty", FAULTY)
    assert run(clinic) is ExitCode.TO_CORRECT
    shown = " ".join(capsys.readouterr().out.split())
    assert "cover-not-on" in shown and "empty.protocol" in shown and "Local codes" in shown


@pytest.mark.parametrize(
    "words",
    [
        ("nowhere",),
        ("CLINIC", "--rules", "No such rules"),
        ("CLINIC", "--setting", "colour=red"),
        ("CLINIC", "--waivers", "nowhere"),
        ("CLINIC", "--earlier", "CLINIC/good.protocol"),
        ("CLINIC", "--verify", "CLINIC/good.protocol"),
        ("CLINIC", "-o", "report.doc"),
        ("CLINIC", "--workers", "0"),
    ],
)
def test_what_cannot_be_carried_out(clinic: Path, words: tuple[str, ...], capsys):
    told = [word.replace("CLINIC", str(clinic)) for word in words]
    assert run(*told) is ExitCode.NOT_CARRIED_OUT
    assert capsys.readouterr().err.strip().count("\n") == 0


def test_a_report_is_written_read_and_verified(clinic: Path, capsys):
    report = clinic.parent / "report.json"
    rules = write(clinic.parent, "house-rules", RULES)
    write(clinic, "gloved", GLOVED)
    side = write(clinic.parent, "side", f'waivers "Side"\n\n{WAIVER}')
    how = (clinic, "--rules", rules, "--waivers", side)
    assert run(*how, "-o", report) is ExitCode.CLEAR
    first = report.read_bytes()
    assert json.loads(first)["standing"] == "nothing to correct"
    assert run(*how, "-o", report, "--workers", 1) is ExitCode.CLEAR
    assert report.read_bytes() == first
    assert {path.name for path in clinic.parent.iterdir()} == {
        "clinic", "report.json", "house-rules.protocol", "side.protocol",
    }  # fmt: skip
    capsys.readouterr()
    assert run(*how, "--verify", report) is ExitCode.CLEAR
    assert capsys.readouterr().out == "The same report comes out.\n"
    write(clinic, "good", GOOD + "# more\n")
    assert run(*how, "--verify", report) is ExitCode.TO_CORRECT
    assert "good.protocol, or a file that it takes from" in capsys.readouterr().out


def test_a_report_is_verified_in_the_way_in_which_it_was_made(clinic: Path, capsys):
    """With changes or without, on its day and with its settings, though nobody says so again."""
    write(clinic, "either", EITHER)
    rules = write(clinic.parent, "house-rules", RULES)
    asked = ("--setting", "longest waiver of must=30 days", "--rules", rules)
    for number, how in enumerate(((), ("--changes",))):
        report = clinic.parent / f"report-{number}.json"
        run(clinic, "-o", report, *asked, *how)
        told = json.loads(report.read_bytes())["audit"]
        assert told["changes"] is bool(how)
        assert any(one["changes"] for file in told["files"] for one in file["found"]) is bool(how)
        capsys.readouterr()
        again = ExitCode(
            main(["audit", str(clinic), "--rules", str(rules), "--verify", str(report)])
        )
        assert again is ExitCode.CLEAR
        assert capsys.readouterr().out == "The same report comes out.\n"


def test_waivers_are_told_on_the_page(clinic: Path, capsys):
    rules = write(clinic.parent, "house-rules", RULES)
    write(clinic, "gloved", GLOVED)
    late = WAIVER.replace("Gloves come off", "Too late").replace("2026-12-20", "2027-12-20")
    other = WAIVER.replace("Gloves come off", "Other").replace("for gloves", "for sensor")
    side = write(clinic.parent, "side", f'waivers "Side"\n\n{WAIVER}\n{late}\n{other}')
    report = clinic.parent / "report.json"
    run(clinic, "--rules", rules, "--waivers", side, "-o", report)
    capsys.readouterr()
    run(clinic, "--rules", rules, "--waivers", side)
    pages = {72: capsys.readouterr().out}
    pages |= {columns: render(read(report.read_bytes()), columns) for columns in (24, 44, 96)}
    for columns, page in pages.items():
        assert max(map(len, page.splitlines())) <= columns
        told = " ".join(page.split())
        assert (
            'in use until 20 December 2026: "Gloves come off", approved by health authority, for '
            'rule "Gloves stay on" of "House rules", for gloves, with staffing: alone; '
            "in gloved.protocol" in told
        )
        assert '"Too late", gloved.protocol, for rule "Gloves stay on"' in told
        assert "not allowed, it lasts longer than 60 days" in told
        assert '"Other", for rule "Gloves stay on" of "House rules", for sensor' in told


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('"standing": "to correct"', '"standing": "nothing to correct"'),
        ('{\n "', '{\n "signed": "somebody",\n "'),
    ],
)
def test_verify_tells_that_the_text_was_changed(clinic: Path, capsys, old: str, new: str):
    report = clinic.parent / "report.json"
    write(clinic, "faulty", FAULTY)
    run(clinic, "-o", report)
    text = report.read_text()
    assert old in text
    report.write_text(text.replace(old, new, 1))
    capsys.readouterr()
    assert run(clinic, "--verify", report) is ExitCode.TO_CORRECT
    assert "Its text was changed after it was written." in capsys.readouterr().out


def test_verify_never_opens_a_path_of_the_report(clinic: Path, capsys):
    report = clinic.parent / "report.json"
    run(clinic, "-o", report)
    secret = write(clinic.parent, "secret", "secret words")
    text = report.read_text().replace("good.protocol", json.dumps(str(secret))[1:-1])
    report.write_text(text)
    capsys.readouterr()
    assert run(clinic, "--verify", report) is ExitCode.TO_CORRECT
    shown = capsys.readouterr().out
    assert "is in the report and not here" in shown and "secret words" not in shown


def test_beside_an_earlier_report(clinic: Path, capsys):
    first, second = clinic.parent / "first.json", clinic.parent / "second.json"
    write(clinic, "faulty", FAULTY)
    run(clinic, "-o", first)
    write(clinic, "faulty", GOOD.replace('"Good"', '"Faulty"'))
    assert run(clinic, "--earlier", first, "-o", second) is ExitCode.CLEAR
    closed = json.loads(second.read_text())["audit"]["closed"]
    assert list(closed) == ["faulty.protocol"]
    write(clinic, "faulty", FAULTY)
    run(clinic, "--earlier", second)
    assert "reopened" in capsys.readouterr().out


def test_a_report_is_never_written_through_a_link(clinic: Path):
    aim = clinic.parent / "aim.txt"
    aim.write_text("mine")
    link = clinic.parent / "report.json"
    link.symlink_to(aim)
    assert run(clinic, "-o", link) is ExitCode.NOT_CARRIED_OUT
    assert aim.read_text() == "mine"


def test_names_cannot_steer_the_screen(clinic: Path, capsys):
    write(clinic, "steer\x1b[2J\nx", "")
    run(clinic)
    shown = capsys.readouterr().out
    assert "\x1b[2J" not in shown and "\nx" not in shown.replace("\nx.", "\nx")


def test_changes_are_tried_when_asked_for(clinic: Path):
    report = clinic.parent / "report.json"
    start = (folder("protocols") / "templates" / "new-protocol.protocol").read_text("utf-8")
    line = "  [ ] operator disinfects sensor with a new wipe\n"
    assert line in start
    write(clinic, "faulty", start.replace(line, ""))
    changes = []
    for more in ((), ("--changes",)):
        run(clinic, "-o", report, *more)
        files = json.loads(report.read_text())["audit"]["files"]
        changes.append(sum(len(one["changes"]) for file in files for one in file["found"]))
    assert changes[0] == 0 < changes[1]
