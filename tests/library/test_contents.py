"""What the library is said to have is what it has, and each of it can be asked for."""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from protocol_lang.library import Answers, Kept, Question, Shelf, contents, shelf
from protocol_lang.library.copying import copy
from protocol_lang.resources import folder

PROTOCOLS = folder("protocols")
SHELF = shelf()


def ways(answers: Answers) -> Iterator[tuple[Answers, tuple[Kept, ...]]]:
    """Every course that the questions can take, and what is left at its end."""
    question = SHELF.next_question(answers)
    if question is None:
        yield answers, SHELF.fitting(answers)
        return
    for answer in SHELF.answers_left(question, answers):
        yield from ways({**answers, question.name: answer})


COURSES = tuple(ways({}))


def test_every_shipped_protocol_is_on_the_shelf_and_no_other():
    shipped = {
        path
        for path in PROTOCOLS.rglob("*.protocol")
        if path.parent.name != "templates"
        and path.read_text("utf-8").startswith(("protocol ", "day "))
        and "\n  adapts " not in path.read_text("utf-8")  # nothing without its base
    }
    assert {one.path for one in SHELF.protocols} == shipped
    assert len(SHELF.protocols) == len(shipped)


def test_every_protocol_can_be_reached_by_the_questions():
    assert {one.title for _, left in COURSES for one in left} == {
        one.title for one in SHELF.protocols
    }


def test_every_course_of_questions_ends_at_something_but_where_nothing_fits_is_said():
    for answers, left in COURSES:
        assert bool(left) != (answers.get("room") in SHELF.outside), answers
    assert SHELF.outside == {"none"}


def test_no_question_is_asked_that_makes_no_difference():
    """When it is asked, not all answers to it leave the same."""
    for answers, _ in COURSES:
        for count, name in enumerate(answers):
            earlier = dict(itertools.islice(answers.items(), count))
            (question,) = (one for one in SHELF.questions if one.name == name)
            left = [SHELF.fitting({**earlier, name: answer}) for answer in question.answers]
            assert any(one and one != left[0] for one in left[1:]) or not left[0], (earlier, name)


def test_few_are_left_to_choose_from_when_all_is_answered():
    assert max(len(left) for _, left in COURSES) <= 8
    assert max(len(answers) for answers, _ in COURSES) <= len(SHELF.questions)


def test_all_answers_at_once_are_the_same_as_one_after_another():
    """Against a plain filter: each entry is looked at with each combination of answers."""
    for chosen in itertools.product(*(question.answers for question in SHELF.questions)):
        answers = dict(zip((one.name for one in SHELF.questions), chosen, strict=True))
        plain = [
            one.title
            for one in SHELF.protocols
            if all(
                not one.fits[name] or answer in one.fits[name] for name, answer in answers.items()
            )
        ]
        assert [one.title for one in SHELF.fitting(answers)] == plain


def test_the_page_of_the_library_says_the_same_of_each():
    page = (PROTOCOLS.parent / "docs" / "library.md").read_text("utf-8")
    said = dict(re.findall(r"^\* \*\*\[([^\]]+)\]\([^)]+\)\*\*: (.+)$", page, re.MULTILINE))
    said = {title: about for title, about in said.items() if "local-editions.md" not in about}
    assert {one.title: one.about for one in SHELF.protocols} == said


def test_titles_are_found_whatever_their_capitals():
    found = SHELF.titled("CONE-BEAM ct")
    assert found is not None and found.title == "Cone-beam CT"
    assert SHELF.titled("Cone-beam") is None


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ('room = ["home"]', 'room = ["at home"]', "room has no such answer"),
        ('staff = ["alone"]', 'stuff = ["alone"]', "there is no question stuff"),
        (
            'file = "imaging-room-4/cephalometric"',
            'file = "imaging-room-4/imaging-room-4"',
            "it is neither a protocol nor a day",
        ),
    ],
)
def test_an_entry_that_is_wrong_is_told(tmp_path, monkeypatch, old, new, told):
    text = (PROTOCOLS / "library.toml").read_text("utf-8")
    for path in PROTOCOLS.rglob("*.protocol"):
        beside = tmp_path / path.relative_to(PROTOCOLS)
        beside.parent.mkdir(parents=True, exist_ok=True)
        beside.write_bytes(path.read_bytes())
    (tmp_path / "library.toml").write_text(text.replace(old, new, 1), "utf-8")
    assert old in text
    monkeypatch.setattr(contents, "folder", lambda _name: tmp_path)
    with pytest.raises(ValueError, match=told):
        shelf.__wrapped__()


def test_a_question_in_which_nothing_differs_is_skipped():
    one = Kept(PROTOCOLS, "A", "", {"x": frozenset({"1"}), "y": frozenset({"1"})})
    two = Kept(PROTOCOLS, "B", "", {"x": frozenset({"1"}), "y": frozenset({"2"})})
    x, y = (Question(name, "?", {"1": "one", "2": "two"}) for name in "xy")
    asked = Shelf((y, x), (one, two))
    assert asked.next_question({}) == y
    assert asked.next_question({"y": "1"}) is None
    # An answer to the first question that nothing is on is offered all the same.
    assert Shelf((x, y), (one, two)).answers_left(x, {}) == ("1", "2")


# --- Copying -------------------------------------------------------------------------------------


@pytest.mark.parametrize("kept", SHELF.protocols, ids=lambda kept: kept.path.stem)
def test_a_copy_says_what_the_library_says_but_for_names_and_days(kept: Kept):
    """Beside a few lines of the header nothing is changed; and nothing is left out of the copy that
    one of its files asks for and that is not shared by all."""
    made = copy(kept.path, "Some other title")
    asked = set()
    for one in made.files:
        theirs = next(p for p in PROTOCOLS.rglob("*.protocol") if f' "{one.of}"\n' in first(p))
        old, new = theirs.read_text("utf-8").splitlines(), one.text.splitlines()
        body = old.index("", 1) if "" in old else len(old)
        header = len(new) - len(old) + body
        assert old[body:] == new[header:]
        kept_lines = [
            line for line in old[:body]
            if not re.match(r"  (in force|review by|owner|edition|takes words|then) |\S", line)
        ]  # fmt: skip
        assert [line for line in kept_lines if line not in new] == []
        for line in new[:header]:
            if re.match(
                r"  (takes words from|then|opening|visits|closing|beside the visits) ", line
            ):
                asked |= set(re.findall('"([^"]+)"', line))
    shared = {
        match[1]
        for place in ("vocabulary", "data")
        for path in (PROTOCOLS / place).glob("*.protocol")
        if (match := re.match(r'\w+ "([^"]+)"', first(path)))
    }
    assert asked - shared == {one.title for one in made.files[1:]}


def first(path: Path) -> str:
    return path.read_text("utf-8").partition("\n")[0] + "\n"


def test_days_and_owner_of_the_library_are_not_taken_over():
    for kept in SHELF.protocols:
        for one in copy(kept.path).files:
            told = re.findall(r"^  (?:in force from|review by|owner) .*$", one.text, re.MULTILINE)
            assert not told, one.name
            lines = one.text.splitlines()
            if one.kind in ("protocol", "day"):
                assert [lines[number - 1].split()[1] for number in one.lines_to_fill_in] == [
                    "in", "review", "owner",
                ]  # fmt: skip


def test_what_is_left_to_the_local_lead_is_handed_on():
    whole = PROTOCOLS / "treatment-room" / "dressing-change.protocol"
    settle = copy(whole).files[0].settle
    assert settle and all(f"to settle: {one}" in whole.read_text("utf-8") for one in settle)


def test_two_files_of_one_name_are_refused():
    path = PROTOCOLS / "imaging-room-2" / "intraoral-wired-sensor.protocol"
    with pytest.raises(ValueError, match="same name"):
        copy(path, "One", "one")
    assert copy(path, "One", "Two").files[0].text.count('"Two"') == 1
