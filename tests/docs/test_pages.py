"""What README.md and the pages of docs/ show is what happens: every command is run, in order."""

from __future__ import annotations

import re
import subprocess
import sys
from difflib import unified_diff
from pathlib import Path

import pytest

from tools import demo
from tools.shown import PAGES, ROOT, Block, NotAsShown, blocks, refreshed, same

README = (ROOT / "README.md").read_text("utf-8")


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_every_command_says_what_the_page_shows(page: Path):
    text = page.read_text("utf-8")
    now = refreshed(text)
    changes = "\n".join(unified_diff(text.splitlines(), now.splitlines(), lineterm=""))
    assert same(now, text), f'What is shown is out of date. "make docs" refreshes it.\n{changes}'


def test_the_tour_goes_through_every_command():
    consoles = [block.body for block in blocks(README) if block.sort == "console"]
    called = {line.split()[2] for body in consoles for line in body.splitlines() if "$ pro" in line}
    assert called == {"check", "start", "chart", "draw", "explain", "neaten", "compare", "audit"}


def test_the_tour_applies_the_change_that_it_has_been_offered():
    tour = list(blocks(README))
    offer = next(block for block in tour if block.wish == "exit 1").body
    mend = next(block for block in tour if block.wish.startswith("put into"))
    offered = re.search(
        r"before ([^(]+?) \(line\s+\d+\) add these lines:\n((?: {12,}\[ \] [^\n]+\n)+)", offer
    )
    assert offered is not None
    above = mend.wish.partition(" above ")[2].removeprefix("[ ] ")
    assert " ".join(offered[1].split()).strip('"') == above
    assert [line.strip() for line in offered[2].splitlines()] == [
        line.strip() for line in mend.body.splitlines()
    ]


def test_exit_codes_in_the_readme_are_those_of_the_program():
    from protocol_lang.cli.exits import MEANINGS

    rows = re.findall(r"^\| (\d) \| (.+) \|$", README, re.MULTILINE)
    assert rows == [(str(int(code)), meaning) for code, meaning in MEANINGS.items()]


def test_every_link_of_the_pages_leads_somewhere():
    pages = [ROOT / "README.md", ROOT / "DEVELOPERS.md", ROOT / "CHANGELOG.md"]
    for page in [*pages, *(ROOT / "docs").rglob("*.md")]:
        text = page.read_text("utf-8")
        for link in re.findall(r"\]\(([^)]+)\)", text):
            name, _, heading = link.replace("\n", " ").partition("#")
            target = page.parent / name if name else page
            assert target.exists(), f"{page.name}: {link}"
            if heading:
                titles = re.findall(r"^#+ (.+)$", target.read_text("utf-8"), re.MULTILINE)
                plain = [
                    re.sub(r"[^\w -]", "", title.lower()).replace(" ", "-") for title in titles
                ]
                assert heading in plain, f"{page.name}: {link}"


def test_the_targets_of_make_that_the_pages_name_are_there():
    targets = set(re.findall(r"^([a-z]+):", (ROOT / "Makefile").read_text("utf-8"), re.MULTILINE))
    for page in (ROOT / "README.md", ROOT / "DEVELOPERS.md"):
        named = set(re.findall(r"^make ([a-z]+)|`make ([a-z]+)`", page.read_text("utf-8"), re.M))
        assert {one or other for one, other in named} <= targets


# --- The tool that runs the pages would notice ---------------------------------------------------

PAGE = """
```text save as a.txt
one
two
```
```console
$ python -c "print(open('a.txt').read().split())"
['one', 'two']
```
"""


def test_a_page_that_shows_what_happens_stays():
    assert refreshed(PAGE) == PAGE


@pytest.mark.parametrize(
    ("old", "new"),
    [("['one', 'two']", "['one']"), ("one\ntwo", "one\nthree"), ("['one', 'two']\n", "")],
)
def test_a_page_that_shows_something_else_is_noticed(old: str, new: str):
    faulty = PAGE.replace(old, new, 1)
    assert faulty != PAGE
    assert not same(refreshed(faulty), faulty)


def test_the_day_alone_makes_no_difference():
    said = "Date          2026-11-25 was taken as today\n"
    assert same(said, said.replace("25", "26"))
    assert not same(said, said.replace("today", "the day"))
    assert not same(said, "review by 2026-11-25\n" + said)


@pytest.mark.parametrize(
    "wish",
    [
        "take out of a.txt\nthree",
        "put into a.txt above three\nfour",
        "replace in a.txt\nthree\nfour",
        "turn over a.txt\none",
    ],
)
def test_an_edit_that_cannot_be_made_is_told(wish: str):
    with pytest.raises(NotAsShown):
        refreshed(f"{PAGE}```text {wish}\n```\n")


@pytest.mark.parametrize("command", ["protocol-lang check none", "make demo"])
def test_a_command_that_ends_otherwise_or_is_unknown_is_told(command: str):
    with pytest.raises(NotAsShown):
        refreshed(f"```console\n$ {command}\n```\n")


def test_paragraphs_that_are_left_out_are_not_compared_but_those_before_are():
    page = "```console\n$ python -c \"print('a\\n\\nb\\n\\nc')\"\na\n\n...\n```\n"
    assert refreshed(page) == page
    assert refreshed(page.replace('"\na\n', '"\nx\n')) == page


def test_blocks_are_those_that_something_is_done_with():
    assert list(blocks(f"```text\nx\n```\n{PAGE}")) == [
        Block("text", "save as a.txt", "one\ntwo\n"),
        Block("console", "", PAGE.split("```console\n")[1].split("```")[0]),
    ]


def test_what_is_asked_at_a_terminal_is_answered_when_it_is_asked():
    page = (
        "```console typed 8 | Ours\n$ protocol-lang start\n"
        '"ours.protocol" was written.\n```\n'
        "```console exit 2\n$ protocol-lang start Ours\nold\n```\n"
    )
    made = refreshed(page)
    assert "1 to 8: 8\n" in made and "\nName: Ours\n" in made
    assert '"ours.protocol" is there already' in made
    assert refreshed(made) == made


def test_the_size_of_the_terminal_of_a_page_is_its_own(monkeypatch: pytest.MonkeyPatch):
    """It was that of the machine: a page was out of date wherever somebody had a wider window."""
    code = "import shutil; print(*shutil.get_terminal_size()); input('Well: ')"
    page = f'```console typed yes\n$ python -c "{code}"\n```\n'
    monkeypatch.setenv("COLUMNS", "200")
    assert "\n72 24\nWell: yes\n" in refreshed(page)


@pytest.mark.parametrize(
    ("answers", "told"), [("8", "asks more"), ("8 | Ours | more", "not asked for")]
)
def test_too_few_or_too_many_answers_are_told(answers: str, told: str):
    with pytest.raises(NotAsShown, match=told):
        refreshed(f"```console typed {answers}\n$ protocol-lang start\n```\n")


def test_every_page_with_something_to_carry_out_is_carried_out():
    """A page that shows a command and its output, and is not in the list, would go stale."""
    for page in [ROOT / "README.md", *(ROOT / "docs").rglob("*.md")]:
        text = page.read_text("utf-8")
        edits = [block for block in blocks(text) if block.sort == "text"]
        shows = [b for b in blocks(text) if b.sort == "console" and len(b.body.splitlines()) > 2]
        assert page in PAGES or not (edits or shows), page.name


def test_the_index_of_the_docs_leads_to_every_page():
    index = (ROOT / "docs" / "README.md").read_text("utf-8")
    linked = {
        (ROOT / "docs" / link.partition("#")[0]).resolve()
        for link in re.findall(r"\]\(([^)]+)\)", index)
    }
    pages = {path for path in (ROOT / "docs").rglob("*.md") if path.parent.name != "rules"}
    assert pages - {ROOT / "docs" / "README.md"} <= linked


def test_the_glossary_is_in_the_order_of_the_alphabet():
    words = re.findall(
        r"^\*\*([^*]+)\.\*\*", (ROOT / "docs" / "glossary.md").read_text("utf-8"), re.M
    )
    assert len(words) > 30
    assert words == sorted(words, key=str.casefold)


# --- The demonstration ---------------------------------------------------------------------------


def test_the_demonstration_ends_as_it_should_and_says_where_the_chart_is(tmp_path: Path):
    ended = subprocess.run(
        [sys.executable, str(ROOT / "tools" / "demo.py"), str(tmp_path)],
        capture_output=True, encoding="utf-8", check=False, timeout=120,
    )  # fmt: skip
    assert ended.returncode == 0, ended.stdout
    assert f"The chart is in {tmp_path / 'wall-chart.pdf'}" in ended.stdout
    assert (tmp_path / "wall-chart.pdf").read_bytes().startswith(b"%PDF-")
    assert ended.stdout.index("expected 0") < ended.stdout.index("path-to-patient")


def test_the_demonstration_says_when_something_ends_otherwise(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
):
    monkeypatch.setattr(demo, "run", lambda *_arguments, expected: expected == 0)
    assert demo.main(tmp_path) == 1
    assert "did not go as it should" in capsys.readouterr().out


def test_a_step_that_is_no_longer_there_cannot_be_planted(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setattr(demo, "LEFT_OUT", "[ ] operator sings")
    with pytest.raises(SystemExit):
        demo.plant(tmp_path / "a.protocol")
    assert not (tmp_path / "a.protocol").exists()
