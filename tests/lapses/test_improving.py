"""Changes that are proposed are lines to type; typed, they do what was told of them."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from protocol_lang.cli import main
from protocol_lang.lapses.chances import ranked
from protocol_lang.lapses.ideas import KINDS
from protocol_lang.lapses.improving import MOST_OF_A_KIND
from protocol_lang.lapses.telling import lapsed_of
from protocol_lang.pipeline import check_file
from tests.lapses.test_outside import BARE, DISINFECTED, GLOVED, HEAD, ROOM, visit

ROOM_FILE, VISIT_FILE = "a-small-room.protocol", "visit.protocol"

#: The shelf is used with gloves before the patient and after, and disinfected in the end.
SHELF = GLOVED.replace(
    "  [ ] operator slips", "  [ ] operator chooses settings at shelf\n  [ ] operator slips"
).format(
    after="  [ ] operator draws sleeve off sensor\n"
    "  [ ] operator works at shelf\n"
    "  [ ] operator cleans sensor with a new wipe\n"
    "  [ ] operator disinfects sensor with a new wipe\n"
    "  [ ] operator cleans shelf with a new wipe\n"
    "  [ ] operator disinfects shelf with a new wipe\n"
    "  [ ] operator waits until sensor is dry\n"
    "  [ ] operator waits until shelf is dry\n"
)
#: The same, but for the order of the two disinfections.
SHELF_IN_ANY_ORDER = SHELF.replace(
    "  [ ] operator cleans sensor with a new wipe\n"
    "  [ ] operator disinfects sensor with a new wipe\n"
    "  [ ] operator cleans shelf with a new wipe\n"
    "  [ ] operator disinfects shelf with a new wipe\n",
    "  any order\n"
    "    in order\n"
    "      [ ] operator cleans sensor with a new wipe\n"
    "      [ ] operator disinfects sensor with a new wipe\n"
    "    in order\n"
    "      [ ] operator cleans shelf with a new wipe\n"
    "      [ ] operator disinfects shelf with a new wipe\n",
)
VISITS = {
    "disinfected": visit(DISINFECTED),
    "bare": visit(BARE),
    "shelf": SHELF,
    "any order": SHELF_IN_ANY_ORDER,
}


@dataclass(frozen=True, slots=True)
class Run:
    """A folder with a protocol, and what the command told of changes to it."""

    folder: Path
    told: dict[str, Any]

    @property
    def changes(self) -> list[dict[str, Any]]:
        """Those that help, and those that help in one thing and cost in another."""
        return [*self.told["changes"], *self.told["better in one thing and worse in another"]]


def improved(folder: Path, body: str, room: str = ROOM) -> Run:
    """What the command tells as data, of a protocol that is written into the folder."""
    folder.mkdir(exist_ok=True)
    (folder / ROOM_FILE).write_text(room, "utf-8")
    (folder / VISIT_FILE).write_text(HEAD + body, "utf-8")
    told = folder / "told.json"
    assert main(["lapses", str(folder / VISIT_FILE), "--improve", "-o", str(told)]) == 0
    return Run(folder, json.loads(told.read_text())["improvement"])


@pytest.fixture(scope="module")
def runs(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], Run]:
    """Each visit, improved once."""
    return cache(lambda name: improved(tmp_path_factory.mktemp("clinic"), VISITS[name]))


def typed(folder: Path, into: Path, edits: list[dict[str, Any]]) -> None:
    """The files of the folder with the edits, as somebody types them: from the last line up."""
    into.mkdir()
    texts = {
        name: (folder / name).read_text("utf-8").splitlines() for name in (ROOM_FILE, VISIT_FILE)
    }
    for edit in sorted(edits, key=lambda one: (one["before line"], -one["lines that go"])):
        name = Path(edit["file"]).name
        assert texts[name][edit["at line"] - 1].strip() == edit["said"]
    for edit in sorted(
        edits, key=lambda one: (one["before line"], one["lines that go"]), reverse=True
    ):
        lines = texts[Path(edit["file"]).name]
        at = edit["before line"] - 1
        lines[at : at + edit["lines that go"]] = edit["lines that come"]
    for name, lines in texts.items():
        (into / name).write_text("\n".join(lines) + "\n", "utf-8")


def figures(folder: Path, most: int) -> dict[str, Any]:
    """Margins, single lapses and chances, asked anew from the files; nothing is to be corrected."""
    found = check_file(folder / VISIT_FILE)
    assert [one.kind for one in found.outcome.findings] == []
    assert found.unfolded is not None and found.judgement is not None
    told, lapses, smallest = lapsed_of(found.unfolded, found.judgement, VISIT_FILE, most)
    told = ranked(told, found.unfolded, lapses, smallest)
    sums = {one.opens: one.usual for one in told.rankings}
    return {
        "margins": {one.opens: one.least for one in told.margins},
        "single lapses": {
            one.opens: sum(alone.slip.alike for alone in told.alone if one.opens in alone.opens)
            for one in told.margins
        },
        "chances": {one.opens: pytest.approx(sums.get(one.opens, 0.0)) for one in told.margins},
    }


@pytest.mark.parametrize("name", VISITS)
def test_changes_do_what_is_told_of_them_once_they_are_typed(
    runs: Callable[[str], Run], tmp_path: Path, name: str
):
    """Oracle: the files with the lines typed in, checked and asked for lapses anew."""
    run = runs(name)
    told = run.told
    assert told["before"] == figures(run.folder, told["together"])
    changes = run.changes
    assert changes
    for number, change in enumerate(changes):
        after = tmp_path / f"after {number}"
        typed(run.folder, after, change["edits"])
        assert change["after"] == figures(after, told["together"]), change


@pytest.mark.parametrize("name", VISITS)
def test_no_margin_falls_and_something_is_better(
    runs: Callable[[str], Run], tmp_path: Path, name: str
):
    run = runs(name)
    told = run.told
    for change in told["changes"]:
        for opens, least in told["before"]["margins"].items():
            after = change["after"]["margins"][opens]
            assert after is None or (least is not None and after >= least)
            assert change["after"]["single lapses"][opens] <= told["before"]["single lapses"][opens]


def test_margins_that_are_raised_come_first_then_the_ranking_cut_most(runs: Callable[[str], Run]):
    run = runs("disinfected")
    told = run.told
    changes, before = told["changes"], told["before"]
    assert len(changes) > 3

    def rank(change: dict[str, Any]) -> tuple[list[bool], float]:
        kept = [
            (change["after"]["margins"][one] or 9) <= (least or 9)
            for one, least in before["margins"].items()
        ]
        return kept, sum(change["after"]["chances"].values())

    ranks = [rank(change) for change in changes]
    assert ranks == sorted(ranks)


@pytest.mark.parametrize(
    ("name", "kind", "line"),
    [
        ("shelf", "clean hands", "[ ] operator cleans hands"),
        ("disinfected", "change gloves", "[ ] operator puts on gloves"),
        ("disinfected", "disinfect", "[ ] operator disinfects sensor with a new wipe"),
        ("shelf", "cover", "[ ] operator covers shelf with barrier film"),
        ("bare", "cover over it", "[ ] operator slips finger cot over sensor"),
        ("shelf", "move", "[ ] operator works at shelf"),
        ("shelf", "helper", "[ ] helper works at shelf"),
        ("disinfected", "level", "[ ] operator washes hands"),
    ],
)
def test_every_kind_of_change_helps_somewhere(
    runs: Callable[[str], Run], name: str, kind: str, line: str
):
    """What is thought of is of use: for each kind a visit in which it is told, with its line."""
    changes = runs(name).changes
    lines = {
        come.strip()
        for change in changes
        if change["kind"] == kind
        for edit in change["edits"]
        for come in edit["lines that come"]
    }
    assert line in lines, {change["kind"] for change in changes}


def test_what_is_declared_for_a_change_is_told_with_it(runs: Callable[[str], Run]):
    """A helper, a cover and a finger cot that the room has not: lines of the room's file."""
    run = runs("shelf")
    by_kind: dict[str, set[str]] = {}
    for change in run.changes:
        for edit in change["edits"]:
            if Path(edit["file"]).name == ROOM_FILE:
                by_kind.setdefault(change["kind"], set()).update(
                    line.strip() for line in edit["lines that come"]
                )
    assert "helper: staff" in by_kind["helper"]
    assert {
        "barrier film: cover; used once",
        "shelf: surface; takes cover barrier film",
    } <= by_kind["cover"]


def test_a_cover_that_the_room_has_is_taken_before_a_new_one(tmp_path: Path):
    room = ROOM.replace(
        "  shelf: surface\n", "  shelf: surface\n  desk: surface; takes cover sheet\n"
    ).replace(
        "  sleeve: cover; used once\n", "  sleeve: cover; used once\n  sheet: cover; used once\n"
    )
    run = improved(tmp_path / "before", VISITS["shelf"], room)
    changes = run.changes
    lines = [line for one in changes for edit in one["edits"] for line in edit["lines that come"]]
    assert any("covers shelf with sheet" in line for line in lines)
    assert not any("barrier film" in line for line in lines)


@pytest.mark.parametrize("name", VISITS)
def test_all_that_was_thought_of_is_counted(runs: Callable[[str], Run], tmp_path: Path, name: str):
    run = runs(name)
    told = run.told
    assert [one["kind"] for one in told["tried"]] == list(KINDS)
    for one in told["tried"]:
        came = (
            one["helped"]
            + one["better in one thing and worse in another"]
            + one["something to correct or consider"]
            + one["not decided"]
            + one["no better"]
        )
        assert one["tried"] == came == min(one["thought of"], MOST_OF_A_KIND)
    assert sum(one["helped"] for one in told["tried"]) >= len(told["changes"])
    assert any(one["thought of"] > one["tried"] for one in told["tried"])


def test_nothing_is_written(runs: Callable[[str], Run]):
    folder = runs("shelf").folder
    assert sorted(path.name for path in folder.iterdir()) == [ROOM_FILE, "told.json", VISIT_FILE]
    assert (folder / ROOM_FILE).read_text("utf-8") == ROOM
    assert (folder / VISIT_FILE).read_text("utf-8") == HEAD + VISITS["shelf"]


def test_the_page_tells_what_to_type_and_where(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    (tmp_path / ROOM_FILE).write_text(ROOM, "utf-8")
    (tmp_path / VISIT_FILE).write_text(HEAD + VISITS["shelf"], "utf-8")
    assert main(["lapses", str(tmp_path / VISIT_FILE), "--improve", "--together", "1"]) == 0
    told = capsys.readouterr().out
    plain = " ".join(told.split())
    assert (
        'move line 12, "operator works at shelf", to before line 6, "operator puts on gloves"'
        in (plain)
    )
    assert "single lapses that lead to another patient: 10 to 7" in plain
    assert "Which changes were tried" in plain
    assert "more changes of these kinds were not tried" in plain
    assert "Not thought of: two changes at once" in plain
