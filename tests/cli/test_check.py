"""``check`` as a whole: what it says, its exit codes, and that silence is never approval."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from protocol_lang.cli.entry import main
from protocol_lang.cli.exits import ExitCode
from protocol_lang.contamination import judge as judging
from protocol_lang.contamination.unfold import arrange
from protocol_lang.order.question import Budget
from protocol_lang.resources import folder

SHIPPED = folder("protocols") / "imaging-room-2" / "intraoral-wired-sensor.protocol"
GOOD = 'protocol "Good"\n  edition 1\n  takes words from "Imaging room 2"\n\nphase "All"\n'
GOOD += "  [ ] operator cleans hands\n"
FAULTY = GOOD.replace('"Good"', '"Faulty"') + "  [ ] operator takes off gloves\n"
SPELT_WRONG = GOOD.replace('"Good"', '"Spelt wrong"') + "  [ ] operator cleens hands\n"


def _file(where: Path, name: str, text: str) -> Path:
    path = where / f"{name}.protocol"
    path.write_text(text, "utf-8")
    return path


def _shown(capsys) -> str:
    """What was shown, without its line ends."""
    return " ".join(capsys.readouterr().out.split())


def _check(*words: object) -> ExitCode:
    return ExitCode(main(["check", *map(str, words)]))


def test_a_shipped_protocol_is_clear(capsys):
    assert _check(SHIPPED) is ExitCode.CLEAR
    shown = capsys.readouterr().out
    assert "nothing to correct" in shown.replace("\n", " ")
    assert "Local codes" in shown


@pytest.mark.parametrize("text", [FAULTY, SPELT_WRONG])
def test_something_to_correct(text: str, tmp_path: Path):
    assert _check(_file(tmp_path, "one", text)) is ExitCode.TO_CORRECT


def test_a_text_with_faults_is_said_not_to_be_judged(tmp_path: Path, capsys):
    _check(_file(tmp_path, "one", SPELT_WRONG))
    assert "Not checked" in capsys.readouterr().out


def test_a_file_that_is_not_there(capsys):
    assert _check("nowhere.protocol") is ExitCode.NOT_CARRIED_OUT
    assert 'no file or folder "nowhere.protocol"' in capsys.readouterr().err


def test_an_unreadable_file_named_alone_is_2_and_in_a_folder_4(tmp_path: Path):
    bad = tmp_path / "bad.protocol"
    bad.write_bytes(b"\xff\xfe\x00")
    _file(tmp_path, "good", GOOD)
    assert _check(bad) is ExitCode.NOT_CARRIED_OUT
    assert _check(tmp_path) is ExitCode.PARTLY_CHECKED
    _file(tmp_path, "faulty", FAULTY)
    assert _check(tmp_path) is ExitCode.TO_CORRECT


def test_a_folder_without_protocols(tmp_path: Path):
    assert _check(tmp_path) is ExitCode.NOT_CARRIED_OUT


def test_a_link_in_a_folder_is_not_followed(tmp_path: Path, capsys):
    inside = tmp_path / "inside"
    inside.mkdir()
    _file(inside, "good", GOOD)
    (inside / "link.protocol").symlink_to(_file(tmp_path, "faulty", FAULTY))
    assert _check(inside) is ExitCode.PARTLY_CHECKED
    shown = " ".join(capsys.readouterr().out.split())
    assert "Faulty" not in shown and "link, which is not followed" in shown


def test_choices_narrow_the_check_and_are_told(capsys):
    assert _check(SHIPPED, "--choice", "staffing=alone") is ExitCode.PARTLY_CHECKED
    assert "Visits with staffing: paired were not looked at" in _shown(capsys)
    # What is fixed for the clinic does not change from visit to visit.
    assert _check(SHIPPED, "--choice", "shielding=none") is ExitCode.CLEAR


def test_a_narrowed_check_is_no_approval_of_a_path_between_choices(tmp_path: Path):
    """Paired visits leave soil that visits alone pick up; each kind by itself is clear."""
    own = "verb ACTOR feels the gum\n  meet ACTOR's hands, the patient's mouth\n\n"
    text = GOOD.replace("phase", f"choices, each visit\n  staffing: alone, paired\n\n{own}phase")
    text += (
        "  [ ] operator puts on gloves\n"
        "  where staffing is paired\n    [ ] operator feels the gum\n"
        "    [ ] operator works at clean half\n"
        "  otherwise\n    [ ] operator works at clean half\n    [ ] operator feels the gum\n"
        "  [ ] operator takes off gloves\n  [ ] operator cleans hands\n"
    )
    path = _file(tmp_path, "mix", text)
    assert _check(path) is ExitCode.TO_CORRECT
    assert _check(path, "--choice", "staffing=alone") is ExitCode.PARTLY_CHECKED
    assert _check(path, "--choice", "staffing=paired") is ExitCode.PARTLY_CHECKED


@pytest.mark.parametrize("choice", ["staffing", "staffing=", "weather=wet", "staffing=tired"])
def test_a_choice_that_is_not_there(choice: str, capsys):
    assert _check(SHIPPED, "--choice", choice) is ExitCode.NOT_CARRIED_OUT
    assert capsys.readouterr().err


def test_a_day_that_is_none(capsys):
    assert _check(SHIPPED, "--on", "2026-02-30") is ExitCode.NOT_CARRIED_OUT
    assert "2026-11-02" in capsys.readouterr().err


def test_the_data_carry_the_same_findings(tmp_path: Path, capsys):
    path = _file(tmp_path, "faulty", FAULTY)
    _check(path, "--json")
    data = json.loads(capsys.readouterr().out)
    (file,) = data["files"]
    assert [finding["kind"] for finding in file["findings"]] == ["cover-not-on"]


def test_what_is_not_decided_is_never_called_clear(monkeypatch, tmp_path: Path, capsys):
    """Past the budget: not checked, and the exit code says so."""
    monkeypatch.setattr(judging, "Budget", lambda: Budget(own=0, conflicts=0))
    changed = SHIPPED.read_text("utf-8").replace(
        "  [ ] operator cleans sensor with a new wipe\n"
        "  [ ] operator disinfects sensor with a new wipe\n",
        "  any order\n"
        "    [ ] operator cleans sensor with a new wipe\n"
        "    [ ] operator disinfects sensor with a new wipe\n",
    )
    assert _check(_file(tmp_path, "hard", changed)) is ExitCode.PARTLY_CHECKED
    shown = _shown(capsys)
    assert "not decided" in shown and "this is no approval" in shown
    assert "every permitted order" not in shown and "nothing was left out" not in shown


def test_too_many_acts_are_said_not_to_be_judged(monkeypatch, capsys):
    monkeypatch.setattr(arrange, "MOST_ACTS", 20)
    assert _check(SHIPPED) is ExitCode.PARTLY_CHECKED
    assert "all 66 steps" in _shown(capsys).lower()


def test_too_many_combinations_are_said_not_to_be_judged(tmp_path: Path, capsys):
    choices = "".join(f"  choice {n}: yes, no\n" for n in range(16))
    steps = "".join(
        f"  where choice {n} is yes\n    [ ] operator cleans hands\n" for n in range(16)
    )
    text = GOOD.replace("phase", f"choices, each visit\n{choices}\nphase") + steps
    assert _check(_file(tmp_path, "many", text)) is ExitCode.PARTLY_CHECKED
    assert "65,536 combinations" in _shown(capsys)


def test_twelve_choices_that_differ_in_what_is_done_are_judged(tmp_path: Path, capsys):
    choices = "".join(f"  choice {n}: yes, no\n" for n in range(12))
    steps = "".join(
        f"  where choice {n} is yes\n    [ ] operator cleans hands\n" for n in range(12)
    )
    text = GOOD.replace("phase", f"choices, each visit\n{choices}\nphase") + steps
    assert _check(_file(tmp_path, "twelve", text)) is ExitCode.CLEAR
    assert "4,096" in capsys.readouterr().out


def test_two_hash_seeds_give_the_same_bytes(tmp_path: Path):
    import subprocess
    import sys

    path = _file(tmp_path, "faulty", FAULTY)
    told = {
        subprocess.run(
            [sys.executable, "-m", "protocol_lang", "check", str(path), "--on", "2026-11-25"],
            capture_output=True,
            env={"PYTHONHASHSEED": seed, "PATH": "", "PYTHONPATH": ":".join(sys.path)},
        ).stdout
        for seed in ("1", "2")
    }
    assert len(told) == 1
    assert b"cover-not-on" in told.pop()


def test_what_is_no_file_of_ours_is_named_and_not_passed_over(tmp_path: Path, capsys):
    """A dead link, another case of the ending: none is silently left out."""
    _file(tmp_path, "good", GOOD)
    (tmp_path / "dead.protocol").symlink_to(tmp_path / "nowhere")
    (tmp_path / "OTHER.PROTOCOL").write_text(FAULTY, "utf-8")
    assert _check(tmp_path) is ExitCode.TO_CORRECT
    shown = capsys.readouterr().out
    assert "dead.protocol" in shown and "OTHER.PROTOCOL" in shown


def test_a_choice_given_twice_is_refused(capsys):
    words = ("--choice", "staffing=alone", "--choice", "staffing=paired")
    assert _check(SHIPPED, *words) is ExitCode.NOT_CARRIED_OUT
    assert "twice" in capsys.readouterr().err


def test_in_a_folder_a_file_without_the_choice_is_left_out_and_named(tmp_path: Path, capsys):
    _file(tmp_path, "good", GOOD)
    assert _check(tmp_path, "--choice", "staffing=alone") is ExitCode.PARTLY_CHECKED
    assert "staffing" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("day", "kind"), [("2030-01-01", "review-passed"), ("2020-01-01", "not-in-force")]
)
def test_days_of_the_header_are_something_to_consider(day: str, kind: str, capsys):
    assert _check(SHIPPED, "--on", day) is ExitCode.CLEAR
    shown = capsys.readouterr().out
    assert kind in shown and "To consider" in shown


def test_ink_reaches_a_screen_as_ink(monkeypatch, tmp_path: Path, capsys):
    from protocol_lang.cli import terminal

    monkeypatch.setattr(terminal, "looks", lambda: (72, True, False))
    _check(_file(tmp_path, "faulty", FAULTY))
    shown = capsys.readouterr().out
    assert "\x1b[1m" in shown and "\\u001b" not in shown and "\\x1b" not in shown


def test_a_cover_that_no_step_puts_on_is_not_worn(tmp_path: Path, capsys):
    """A claim about a cover of which there is none in the visit cannot hold."""
    text = GOOD + "  [ ] operator works at keyboard\n      only when operator wears gloves\n"
    assert _check(_file(tmp_path, "never", text)) is ExitCode.TO_CORRECT
    assert "claim-can-fail" in _shown(capsys)


def test_one_path_that_is_not_there_does_not_hide_the_others(tmp_path: Path, capsys):
    code = _check(_file(tmp_path, "good", GOOD), tmp_path / "nowhere.protocol")
    assert code is ExitCode.NOT_CARRIED_OUT
    told = capsys.readouterr()
    assert "nothing to" in told.out and "nowhere.protocol" in told.err


def test_a_link_to_a_folder_is_named_and_not_followed(tmp_path: Path, capsys):
    inside = tmp_path / "inside"
    inside.mkdir()
    _file(inside, "good", GOOD)
    (tmp_path / "other").mkdir()
    (inside / "linked").symlink_to(tmp_path / "other")
    assert _check(inside) is ExitCode.PARTLY_CHECKED
    assert "linked" in _shown(capsys)


def test_a_file_name_that_is_no_text_makes_sound_data(tmp_path: Path, capsys):
    import os

    name = os.fsdecode(bytes(tmp_path) + b"/a\xff.protocol")
    Path(name).write_text(GOOD, "utf-8")
    _check(name, "--json")
    shown = capsys.readouterr().out
    json.loads(shown)["files"][0]["file"].encode("utf-8")
