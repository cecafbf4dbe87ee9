"""``card``, and the rules and waivers that charts and cards tell of."""

from __future__ import annotations

from pathlib import Path

import pytest

from protocol_lang.cli import main
from tests.audit.clinics import GLOVED, RULES, WAIVER, room, write
from tests.audit.clinics import GOOD as CLEAN
from tests.cli.test_chart_draw import GOOD, faulty, pages_of

ON = "2026-11-25"


@pytest.mark.parametrize(
    ("kind", "holds"),
    [
        ("observation", "Observer's signature"),
        ("summary", "Not every step is here"),
        ("door", "before you go in"),
    ],
)
def test_each_kind_is_printed(tmp_path: Path, capsys, kind: str, holds: str):
    target = tmp_path / "card.pdf"
    worn = GOOD.with_name("protective-equipment.protocol") if kind == "door" else GOOD
    assert main(["card", kind, str(worn), "-o", str(target), "--on", ON]) == 0
    assert str(target) in capsys.readouterr().out
    assert holds in " ".join(pages_of(target))


def test_in_another_language(tmp_path: Path, capsys):
    target = tmp_path / "card.pdf"
    assert (
        main(["card", "summary", str(GOOD), "-o", str(target), "--on", ON, "--language", "es"]) == 0
    )
    text = " ".join(pages_of(target))
    assert "Resumen" in text and "y 9 pasos más" in text and "Summary" not in text


def test_one_with_faults_is_a_draft_and_ends_with_1(tmp_path: Path, capsys):
    target = tmp_path / "card.pdf"
    assert main(["card", "summary", str(faulty(tmp_path)), "-o", str(target), "--on", ON]) == 1
    assert "Marked as a draft: 1 fault to correct." in capsys.readouterr().err
    assert "DRAFT" in " ".join(pages_of(target))


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["poster", str(GOOD), "-o", "x.pdf"], '"poster" is no kind of card. There are: obser'),
        (["door", str(GOOD), "-o", "x.pdf", "--paper", "A3"], '"A3" is not a size of cards.'),
        (
            ["door", str(GOOD), "-o", "x.pdf", "--language", "xx"],
            '"xx" is not a language of charts.',
        ),
        (["door", str(GOOD), "-o", "x.txt"], "must end in .pdf, .svg or .png"),
        (["door", "nowhere.protocol", "-o", "x.pdf"], 'There is no file "nowhere.protocol".'),
        (["door", str(GOOD), "-o", "x.pdf", "--rules", "Nothing"], "no file of rules of that"),
    ],
)
def test_what_cannot_be_carried_out(tmp_path: Path, monkeypatch, capsys, arguments, said: str):
    monkeypatch.chdir(tmp_path)
    assert main(["card", *arguments]) == 2
    assert said in " ".join(capsys.readouterr().err.split())
    assert not list(tmp_path.iterdir())


# --- Rules and waivers ---------------------------------------------------------------------------


def chart(where: Path, text: str, *more: str) -> tuple[int, str]:
    """The exit code of a chart of this protocol, and what the first page says."""
    room(where)
    pack = write(where, "house-rules", RULES)
    path = write(where, "gloved", text)
    target = where / "wall.pdf"
    code = main(["chart", str(path), "-o", str(target), "--rules", str(pack), *more])
    return code, pages_of(target)[0]


def test_a_rule_that_is_not_kept_makes_a_draft(tmp_path: Path, capsys):
    code, page = chart(tmp_path, GLOVED, "--on", ON)
    assert code == 1
    assert "DRAFT: 1 rule not kept" in page and "no faults" not in page
    assert "Marked as a draft: 1 rule not kept." in capsys.readouterr().err


def test_rules_that_are_kept_are_named(tmp_path: Path):
    code, page = chart(tmp_path, CLEAN, "--on", ON)
    assert code == 0
    assert "checked, no faults" in page and "House rules" in page


def test_what_is_waived_is_told_with_the_day_on_which_it_ends(tmp_path: Path):
    text = GLOVED.replace("\nphase", f"\n{WAIVER}\nphase", 1)
    code, page = chart(tmp_path, text, "--on", ON)
    assert code == 0
    assert "checked, 1 waived until 20 December 2026" in page and "no faults" not in page
    # The waiver has ended: what it tolerated counts again.
    code, page = chart(tmp_path, text, "--on", "2026-12-21")
    assert code == 1
    assert "DRAFT: 1 rule not kept" in page and "waived" not in page


def test_without_rules_a_waiver_of_a_rule_has_nothing_to_say(tmp_path: Path):
    room(tmp_path)
    path = write(tmp_path, "gloved", GLOVED.replace("\nphase", f"\n{WAIVER}\nphase", 1))
    target = tmp_path / "wall.pdf"
    assert main(["chart", str(path), "-o", str(target), "--on", ON]) == 0
    assert "checked, no faults" in pages_of(target)[0]


def test_the_day_of_judgement_is_that_of_the_command(tmp_path: Path):
    """A review that is overdue on that day is told."""
    target = tmp_path / "wall.pdf"
    main(
        ["chart", str(GOOD), "-o", str(target), "--on", "2027-11-03", "--choice", "staffing=alone"]
    )
    page = pages_of(target)[0]
    assert "The review was due by 2 November 2027." in page


# --- Local editions -------------------------------------------------------------------------------

SECOND = GOOD.parent.parent / "second-site" / "intraoral-wired-sensor-second-site.protocol"
ALONE = ("--choice", "staffing=alone", "--choice", "shielding=none")


def test_the_chart_of_a_local_edition_is_that_of_the_whole_protocol(tmp_path: Path):
    """What the base says and what is local, with the short text and the call of the second site."""
    target = tmp_path / "wall.pdf"
    assert main(["chart", str(SECOND), "-o", str(target), "--on", ON, *ALONE]) == 0
    pages = " ".join(pages_of(target))
    assert "second site" in pages and "lead of the second site" in pages
    assert "Covers chair arms with chair wrap" in pages and "extension 12" in pages
    assert "Sensor in, parallel" in pages and "name and day of birth" in pages
    assert "Disinfects chair arms" not in pages
    assert "checked, no faults" in pages
    # Its wipes stay wet for longer than those of the base.
    assert "3 min" in pages and "2 min" not in pages


@pytest.mark.parametrize("kind", ["observation", "summary"])
def test_a_card_of_a_local_edition(tmp_path: Path, kind: str):
    target = tmp_path / "card.pdf"
    assert main(["card", kind, str(SECOND), "-o", str(target), "--on", ON, *ALONE]) == 0
    pages = " ".join(pages_of(target))
    assert "Intraoral, wired sensor, second site" in pages
    if kind == "observation":
        assert "chair wrap" in pages and "name and day of birth" in pages
