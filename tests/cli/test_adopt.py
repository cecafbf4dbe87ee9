"""``adopt``: local changes onto a new edition of the base, with nothing of the local text lost."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from protocol_lang.cli import main
from protocol_lang.language import tree
from protocol_lang.language.alone import load_alone
from protocol_lang.language.local import adopting
from protocol_lang.language.reader import read
from protocol_lang.resources import folder
from protocol_lang.text import read_text
from protocol_lang.wording import adopted as words

LIBRARY = folder("protocols")

BASE = """protocol "Base"
  edition 3
  takes words from "Imaging room 2"

figures
  hand rub time: 20 seconds

phase "First"
  [ ] operator cleans hands
  [ ] sit: operator looks at the image
  [ ] lean: operator keeps hands still
  [ ] say: keep still
  [ ] operator cleans hands

phase "Last"
  [ ] patient leaves
"""

LOCAL = """# Ours, not theirs.
protocol "Ours"  # beside the title
  edition 7
  # About the base.
  adapts "Base" edition 3  # pinned by hand

# The changes.
changes in "First"
  # Why.
  after sit  # beside a change
    [ ] say: feet up
    # At the end of a change.
"""


def _files(where: Path, local: str = LOCAL, base: str = BASE) -> tuple[Path, Path]:
    (where / "base.protocol").write_text(base, encoding="utf-8")
    ours = where / "ours.protocol"
    ours.write_text(local, encoding="utf-8")
    return ours, where / "base.protocol"


def _newer(where: Path, *edits: tuple[str, str], base: str = BASE) -> Path:
    text = base.replace("edition 3", "edition 4")
    for old, new in edits:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    (where / "new").mkdir(exist_ok=True)
    path = where / "new" / "base.protocol"
    path.write_text(text, encoding="utf-8")
    return path


def _lines(text: str) -> list[str]:
    return [line for line in text.splitlines() if line.strip()]


def _nothing_lost(old: str, new: str) -> None:
    """Every line of the old text stands in the new one, in its order, but for "adapts"."""
    left = iter(_lines(new))
    for line in _lines(old):
        if not line.strip().startswith("adapts"):
            assert line in left, line


def _adopted(where: Path, local: str, *edits: tuple[str, str], base: str = BASE) -> tuple[int, str]:
    ours, _ = _files(where, local, base)
    new = _newer(where, *edits, base=base)
    to = where / "adopted.protocol"
    code = main(["adopt", str(ours), "--base", str(new), "-o", str(to)])
    text = to.read_text("utf-8")
    _nothing_lost(local, text)
    return code, text


def _settle(text: str) -> list[str]:
    return [line.strip() for line in text.splitlines() if line.strip().startswith("to settle")]


def test_onto_the_same_base_only_the_fingerprint_is_written_in(tmp_path, capsys):
    ours, _ = _files(tmp_path)
    assert main(["adopt", str(ours), "--write"]) == 0
    once = ours.read_text("utf-8")
    assert "none of them clashes" in capsys.readouterr().out
    changed = [(a, b) for a, b in zip(_lines(LOCAL), _lines(once), strict=True) if a != b]
    ((was, is_now),) = changed
    assert was.strip().startswith("adapts")
    assert is_now.startswith('  adapts "Base" edition 3 fingerprint ')
    assert is_now.endswith("  # pinned by hand")
    assert main(["adopt", str(ours), "--write"]) == 0
    assert ours.read_text("utf-8") == once


def test_unrelated_changes_of_the_base_are_taken_over(tmp_path, capsys):
    code, text = _adopted(tmp_path, LOCAL, ("say: keep still", "say: hold still"))
    assert code == 0 and not _settle(text)
    assert "edition 4 fingerprint " in text
    (tmp_path / "base.protocol").write_text((tmp_path / "new/base.protocol").read_text())
    capsys.readouterr()
    assert main(["check", str(tmp_path / "adopted.protocol")]) == 0


@pytest.mark.parametrize(
    ("change", "edit", "said"),
    [
        (
            "  without lean\n",
            ("  [ ] lean: operator keeps hands still\n", ""),
            "does not have the step lean any more, which said: operator keeps hands still.",
        ),
        (
            "  without lean\n",
            ("[ ] lean: operator", "[ ] rest: operator"),
            "The step lean is named rest in the base now.",
        ),
        (
            "  without lean\n",
            ("operator keeps hands still", "operator looks at the image"),
            "The base changed lean too.",
        ),
        (
            '  reword lean\n    short "Lean back"\n',
            ("operator keeps hands still\n", 'operator keeps hands still\n      short "Back"\n'),
            "The base changed lean too.",
        ),
        (
            "  instead of lean\n    [ ] say: lean back\n",
            ("operator keeps hands still", "operator looks at the image"),
            "The base changed lean too.",
        ),
        (
            "  after sit\n    [ ] say: feet up\n",
            ("at the image\n", "at the image\n  [ ] say: feet down\n"),
            "The base puts something in beside sit too: say: feet down.",
        ),
        (
            "  before sit\n    [ ] say: feet up\n",
            ("  [ ] sit:", "  [ ] say: feet down\n  [ ] sit:"),
            "The base puts something in beside sit too: say: feet down.",
        ),
        (
            '  without "operator cleans hands", 2 of 2\n',
            ("  [ ] say: keep still\n", "  [ ] say: keep still\n  [ ] operator cleans hands\n"),
            "In the base 3 steps say so now",
        ),
        (
            "  move lean before sit\n",
            (
                "  [ ] lean: operator keeps hands still\n  [ ] say: keep still\n",
                "  [ ] say: keep still\n  [ ] lean: operator keeps hands still\n",
            ),
            "The base moved lean too.",
        ),
        (
            "  without lean\n",
            (
                "  [ ] lean: operator keeps hands still\n  [ ] say: keep still\n"
                '  [ ] operator cleans hands\n\nphase "Last"\n',
                "  [ ] say: keep still\n  [ ] operator cleans hands\n\n"
                'phase "Last"\n  [ ] lean: operator keeps hands still\n',
            ),
            "stands in the phase 'Last' of the base now",
        ),
        ("  without lean\n", ('phase "First"', 'phase "Begin"'), "no phase 'First' any more"),
    ],
)  # fmt: skip
def test_each_clash_of_a_step_is_written_above_the_change(
    change: str, edit: tuple[str, str], said: str, tmp_path, capsys
):
    local = LOCAL.partition("changes in")[0] + 'changes in "First"\n  # Why.\n' + change
    code, text = _adopted(tmp_path, local, edit)
    assert code == 1
    (line,) = _settle(text)
    assert said in line
    assert "one clash to settle" in " ".join(capsys.readouterr().out.split())
    reading = read(read_text(tmp_path / "adopted.protocol"))
    assert not reading.findings
    (tmp_path / "base.protocol").write_text((tmp_path / "new/base.protocol").read_text())
    assert main(["check", str(tmp_path / "adopted.protocol")]) == 1
    assert "This is still to be settled" in " ".join(capsys.readouterr().out.split())


@pytest.mark.parametrize(
    ("change", "edit", "said"),
    [
        (
            "instead of figures\n  hand rub time: 30 seconds\n",
            ("hand rub time: 20", "hand rub time: 25"),
            "The base says the figure 'hand rub time' otherwise now",
        ),
        (
            "without figures\n  hand rub time\n",
            ("hand rub time: 20", "rub time: 20"),
            "does not declare the figure 'hand rub time' any more",
        ),
        (
            "figures\n  soap time: 40 seconds\n",
            ("  hand rub time: 20 seconds\n", "  hand rub time: 20 seconds\n  soap time: 40 s\n"),
            "The base has the figure 'soap time' now too",
        ),
        (
            'without phase "Last"\n',
            ("  [ ] patient leaves\n", "  [ ] patient leaves\n  [ ] say: goodbye\n"),
            "The base says the phase 'Last' otherwise now",
        ),
        (
            'instead of phase "Last"\n  [ ] say: goodbye\n',
            ("  [ ] patient leaves\n", "  [ ] patient leaves\n  [ ] say: good night\n"),
            "The base says the phase 'Last' otherwise now",
        ),
        (
            'after phase "First"\n  phase "Then"\n    [ ] say: more\n',
            ('phase "Last"\n', 'phase "Between"\n  [ ] say: hm\n\nphase "Last"\n'),
            "The base puts the phase 'Between' in beside 'First' too",
        ),
    ],
)
def test_each_clash_of_a_section_is_written_under_its_heading(
    change: str, edit: tuple[str, str], said: str, tmp_path, capsys
):
    local = LOCAL.partition("changes in")[0] + change
    code, text = _adopted(tmp_path, local, edit)
    assert code == 1
    (line,) = _settle(text)
    assert said in line
    assert not read(read_text(tmp_path / "adopted.protocol")).findings


def test_every_clash_has_words():
    facts = dict.fromkeys(("name", "other", "step", "was", "is", "now", "sort", "count"), "x")
    for kind in words.KINDS:
        said = words.clash(kind, {**facts, "phase": 'a "phase"'})
        assert '"' not in said and said.endswith((".", "?"))
    assert len(words.clash("step-gone", {**facts, "was": "x" * 900})) <= 300


def test_without_the_old_text_only_what_is_missing_is_told(tmp_path, capsys):
    ours, base = _files(tmp_path)
    base.write_text(BASE.replace("edition 3", "edition 4"), encoding="utf-8")
    assert main(["adopt", str(ours)]) == 4
    said = " ".join(capsys.readouterr().out.split())
    assert "is not at hand" in said and "Written nothing" in said
    kept = tmp_path / "old.protocol"
    kept.write_text(BASE, encoding="utf-8")
    assert main(["adopt", str(ours), "--was", str(kept)]) == 0
    base.write_text(BASE.replace("edition 3", "edition 4").replace("sit: ", ""), encoding="utf-8")
    assert main(["adopt", str(ours)]) == 1


def test_a_kept_copy_serves_until_the_new_edition_is_adopted(tmp_path, capsys):
    ours, base = _files(tmp_path)
    assert main(["adopt", str(ours), "--write", "--keep"]) == 0
    kept = tmp_path / "base-edition-3.protocol"
    assert kept.read_text("utf-8") == BASE
    new = BASE.replace("edition 3", "edition 4").replace("keep still", "hold still")
    base.write_text(new, encoding="utf-8")
    capsys.readouterr()
    assert main(["check", str(ours)]) == 0
    assert 'There is edition 4 of "Base"' in " ".join(capsys.readouterr().out.split())
    assert main(["adopt", str(ours), "--write"]) == 0
    assert "edition 4" in ours.read_text("utf-8")
    assert main(["check", str(ours)]) == 0


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["ours.protocol", "-o", "x.protocol", "--write"], "not both"),
        (["ours.protocol", "--keep"], "beside what is written"),
        (["ours.protocol", "--base", "none.protocol"], "There is no file"),
        (["none.protocol"], "does not exist"),
        (["base.protocol"], "adapts no other protocol"),
        (["faulty.protocol"], "There are faults in the text"),
        (["ours.protocol", "-o", "ours.protocol"], "ours.protocol"),
        (["ours.protocol", "-o", "base.protocol"], "base.protocol"),
        (["ours.protocol", "--base", "room.protocol"], "where a protocol is asked for"),
        (["ours.protocol", "--was", "other.protocol"], "is not the text that"),
        (["lost.protocol"], "There is no"),
    ],
)
def test_what_cannot_be_done_ends_with_2_and_changes_nothing(
    arguments: list[str], said: str, tmp_path, capsys, monkeypatch
):
    _files(tmp_path)
    (tmp_path / "faulty.protocol").write_text(LOCAL + "  withou lean\n", encoding="utf-8")
    (tmp_path / "room.protocol").write_text('room "Base"\n  edition 1\n', encoding="utf-8")
    (tmp_path / "other.protocol").write_text(BASE.replace("edition 3", "edition 9"), "utf-8")
    (tmp_path / "lost.protocol").write_text(LOCAL.replace('"Base"', '"Gone away"'), "utf-8")
    monkeypatch.chdir(tmp_path)
    before = {path: path.read_bytes() for path in tmp_path.iterdir()}
    assert main(["adopt", *arguments]) == 2
    assert said in " ".join(capsys.readouterr().err.split())
    assert {path: path.read_bytes() for path in tmp_path.iterdir()} == before


# --- Random bases, changes, and new editions -----------------------------------------------------


def _phases(path: Path, base: Path) -> tuple[tree.Section, ...]:
    root = load_alone(path, LIBRARY, base=base).root
    return tuple(part for part in root.sections if isinstance(part, tree.Phase))


@pytest.mark.parametrize("seed", range(30))
def test_unrelated_changes_of_random_bases_do_not_clash(tmp_path: Path, seed: int) -> None:
    """What ours changes lies in the first half, what theirs changes in the second half: the result
    is the one text with both edits made by hand."""
    rng = random.Random(seed)
    rows = [f"  [ ] s{n}: say {n}" for n in range(12)]
    ours, theirs, both = list(rows), list(rows), list(rows)
    changes = []
    for n in rng.sample(range(5), k=3):
        new = f"    [ ] our new {n}"
        match rng.choice(["instead of", "without", "before", "after"]):
            case "instead of":
                changes += [f"  instead of s{n}", new]
                edit = [f"  [ ] s{n}: our new {n}"]
            case "without":
                changes.append(f"  without s{n}")
                edit = []
            case "before":
                changes += [f"  before s{n}", new]
                edit = [f"  [ ] our new {n}", rows[n]]
            case _:
                changes += [f"  after s{n}", new]
                edit = [rows[n], f"  [ ] our new {n}"]
        for text in (ours, both):
            at = text.index(rows[n])
            text[at : at + 1] = edit
    for n in rng.sample(range(7, 12), k=3):
        edit = rng.choice([[], [f"  [ ] t{n}: their new {n}"], [rows[n], f"  [ ] their new {n}"]])
        for text in (theirs, both):
            at = text.index(rows[n])
            text[at : at + 1] = edit
    head = 'protocol "Base"\n  edition {}\n\nphase "P"\n'
    paths = {name: tmp_path / f"{name}.protocol" for name in ("base", "new", "local", "whole")}
    paths["base"].write_text(head.format(3) + "\n".join(rows) + "\n")
    paths["new"].write_text(head.format(4) + "\n".join(theirs) + "\n")
    paths["whole"].write_text(head.format(4) + "\n".join(both) + "\n")
    local = 'protocol "Ours"\n  adapts "Base" edition 3\n\nchanges in "P"\n'
    paths["local"].write_text(local + "\n".join(changes) + "\n")
    was = load_alone(paths["local"], LIBRARY, base=paths["base"])
    now = load_alone(paths["local"], LIBRARY, base=paths["new"])
    written = read(read_text(paths["local"])).file
    assert not adopting.clashes(written, adopting.Base(was.adapted), adopting.Base(now.adapted)), (
        changes
    )
    by_hand = read(read_text(paths["whole"])).file.sections
    assert _phases(paths["local"], paths["new"]) == by_hand
    assert not adopting.clashes(written, adopting.Base(was.adapted), adopting.Base(was.adapted))


@pytest.mark.parametrize("seed", range(20))
def test_a_base_that_changes_what_ours_changes_always_clashes(tmp_path: Path, seed: int) -> None:
    rng = random.Random(seed)
    rows = [f"  [ ] s{n}: say {n}" for n in range(6)]
    n = rng.randrange(6)
    change = rng.choice([f"  without s{n}", f"  instead of s{n}\n    [ ] ours"])
    theirs = list(rows)
    theirs[n : n + 1] = rng.choice([[], [f"  [ ] s{n}: theirs"], [f"  [ ] t{n}: say {n}"]])
    head = 'protocol "Base"\n  edition 3\n\nphase "P"\n'
    base, new, local = (tmp_path / f"{name}.protocol" for name in ("base", "new", "local"))
    base.write_text(head + "\n".join(rows) + "\n")
    new.write_text(head + "\n".join(theirs) + "\n")
    local.write_text(f'protocol "Ours"\n  adapts "Base" edition 3\n\nchanges in "P"\n{change}\n')
    was, now = (load_alone(local, LIBRARY, base=one) for one in (base, new))
    written = read(read_text(local)).file
    found = adopting.clashes(written, adopting.Base(was.adapted), adopting.Base(now.adapted))
    assert len(found) == 1
