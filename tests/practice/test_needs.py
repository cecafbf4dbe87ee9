"""What can be said, said: each row of the table of needs as a protocol that is right, beside
nearly the same one that is faulty.

``tests/corpus/needs/good/SLUG.protocol`` and ``faulty/SLUG.protocol`` bear the need as their name;
where more than one file is needed, they lie in a folder of that name. Comments under a line of a
faulty one tell what is to be found on it, and the story of that:

* ``#! kind "marked words"`` opens one finding;
* ``#! passes "..."``: where the soil starts, all that it gets to, and where it ends;
* ``#! needs "..."``: the choices, ways and mishaps without which it does not come about;
* ``#! visits "..."``: how many visits it takes, if more than one;
* ``#! round "..."``: the time round in which it ends, if that step is done more than once.

What is not told there must not be in the story either. The protocols are those of the invented
clinic; what they hold to be right is common practice, no source, unless they name one.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import groupby
from pathlib import Path
from typing import NamedTuple

import pytest

from protocol_lang.findings import Finding, Route
from protocol_lang.language.opening import slug
from protocol_lang.pipeline import Checked, check_file
from tests.language.corpus import CORPUS
from tests.practice.kit import visits

CASES = CORPUS / "needs"
TABLE = Path(__file__).resolve().parents[2] / "docs/meaning/what-can-be-said.md"

#: Rows of which no pair of protocols can show anything, with the reason.
WITHOUT = {
    "noticed only after the next patient": "what is noticed then changes no step of any visit"
}

_ANNOTATION = re.compile(r'#! (?P<word>[a-z0-9-]+) ".+"$')
_ROUND = re.compile(r"\((?P<round>[^()]+)\)$")
_STORY = {"passes", "needs", "visits", "round"}


class Told(NamedTuple):
    """A finding: the name of its file, its line, and what the comments under that line say."""

    file: str
    line: int
    comments: tuple[str, ...]


def needs() -> list[str]:
    """The left-hand cells of the table."""
    cells = [
        line.split("|")[1].strip()
        for line in TABLE.read_text("utf-8").splitlines()
        if line.startswith("|")
    ]
    assert cells[0] == "need"
    return cells[2:]


def main_file(kind: str, need: str) -> Path:
    folder = CASES / kind / need
    return (folder if folder.is_dir() else CASES / kind) / f"{need}.protocol"


def expected(file: Path) -> Iterator[Told]:
    """What the comments of a text expect."""
    told: list[Told] = []
    line = 0
    for number, text in enumerate(file.read_text("utf-8").splitlines(), start=1):
        if "#!" not in text:
            line = number
            continue
        match = _ANNOTATION.fullmatch(text.strip())
        assert match is not None, f"no good annotation: {text}"
        if match["word"] in _STORY:
            told[-1] = told[-1]._replace(comments=(*told[-1].comments, text.strip()))
        else:
            told.append(Told(file.name, line, (text.strip(),)))
    yield from told


def found(one: Checked) -> Iterator[Told]:
    """What is found, in the same form."""
    for finding in one.outcome.findings:
        place = finding.place
        assert place is not None
        marked = one.texts[place.file].marked(place)
        comments = (f'#! {finding.kind} "{marked}"', *story(finding))
        yield Told(Path(place.file).name, place.line, comments)


def story(finding: Finding) -> Iterator[str]:
    route = finding.route
    if route is None or not route.steps:
        return
    if passage := ", ".join(passed(route)):
        yield f'#! passes "{passage}"'
    if route.choices:
        needed = (re.sub(r" at line \d+", "", name) + f": {value}" for name, value in route.choices)
        yield f'#! needs "{"; ".join(needed)}"'
    if visits(finding) > 1:
        yield f'#! visits "{visits(finding)}"'
    if again := _ROUND.search(route.steps[-1].text):
        yield f'#! round "{again["round"]}"'


def passed(route: Route) -> Iterator[str]:
    """Where the soil is, one after the other."""
    for name, _ in groupby(name for step in route.steps for move in step.moves for name in move):
        yield name


SHOWN = [slug(need) for need in needs() if need not in WITHOUT]


def test_every_need_has_its_pair_and_every_pair_its_need():
    assert len(set(SHOWN)) == len(SHOWN)
    assert set(needs()) >= set(WITHOUT)
    for kind in ("good", "faulty"):
        assert {path.stem for path in (CASES / kind).iterdir()} == set(SHOWN)


@pytest.mark.parametrize("need", SHOWN)
def test_what_is_right_is_found_right(need: str):
    outcome = check_file(main_file("good", need), mend=False).outcome
    assert (outcome.findings, outcome.unchecked) == ((), ())


@pytest.mark.parametrize("need", SHOWN)
def test_what_is_faulty_is_told_with_its_story(need: str):
    file = main_file("faulty", need)
    files = [file] if file.parent.name == "faulty" else sorted(file.parent.iterdir())
    told = [told for one in files for told in expected(one)]
    assert told
    assert sorted(found(check_file(file, mend=False))) == sorted(told)
