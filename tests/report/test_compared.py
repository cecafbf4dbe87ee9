"""The comparison of two editions as a page and as data: what is said of every kind of change."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from datetime import date
from functools import cache

import pytest
from jsonschema import Draft202012Validator

from protocol_lang.comparison import (
    Assumed,
    Between,
    Change,
    Comparison,
    DoesOtherwise,
    DoneWhen,
    Edition,
    Effect,
    Moved,
    Pair,
    Relation,
    Reordered,
    Reworded,
    Seen,
    Told,
)
from protocol_lang.findings import Finding, Unchecked
from protocol_lang.outcome import FileOutcome
from protocol_lang.report import compared, compared_json
from protocol_lang.text import Place
from tests.report import samples

OUTCOME = FileOutcome(
    samples.FILE, title="Intraoral, wired sensor", edition=1, coverage=samples.COVERAGE
)
OLD = Edition(OUTCOME, 1, "2026-11-02", read=True, ordered=True, whole=True)
NEW = replace(
    OLD,
    outcome=replace(OUTCOME, edition=2, findings=(samples.PATH,)),
    number=2,
    in_force="2027-01-11",
)


def seen(text: str, line: int, part: str | None = None) -> Seen:
    place = Place(samples.FILE, line, 3, 3 + len(text))
    return Seen(text, "Take down", 3, place, None, part)


def pair(text: str, was: int, is_now: int) -> Pair:
    return Pair(seen(text, was), seen(text, is_now))


OFF, HANDS = pair("operator takes off gloves", 70, 71), pair("operator cleans hands", 71, 70)
LEFT = Finding("left-over", Place(samples.FILE, 80, 1, 4), {"thing": "wipe"})
STAYS = Finding("hands-at-end", Place(samples.FILE, 81, 1, 4), {"who": "operator"})

FULL = Comparison(
    OLD,
    NEW,
    header=(
        Change("owner", "", "infection control lead", None),
        Change("source", "A handbook, 2027", None, "A handbook, 2027"),
    ),
    phases=(
        Change("renamed", "", "Take down", "Clear away"),
        Change("phase", "", None, "Look back"),
        Change("runs on", "Scan", None, "may run into the next visit"),
    ),
    options=(
        Change("choice", "staffing", "alone, paired, each visit", "alone, each visit"),
        Change("found out", "cone soiled", None, "after look"),
        Change("mishap", "glove tears", 'in "Visit", to operator', None),
        Change("protocol", "Film", None, "visit"),
    ),
    declared=(
        Change("thing", "wipe: level", "intermediate", "low"),
        Change("verb", "ACTOR cleans ITEM", "declared", "declared"),
        Change("floor", "surface", None, "declared"),
    ),
    added=(seen("operator looks", 90), seen("a", 1, "Film"), seen("b", 2, "Film")),
    removed=(seen("operator waits 1 minute", 91),),
    reworded=(
        Reworded(Pair(seen("say: hello", 61), seen("say: good morning", 61)), True),
        Reworded(Pair(seen("say: hello", 62), seen("say: good day", 62)), None),
    ),
    moved=(Moved(HANDS, (Reordered(OFF, Relation.AFTER, Relation.BEFORE),)),),
    between=(Between((OFF, HANDS), (pair("operator aims tube", 75, 75),), True),),
    moved_in_text=(pair("operator takes wrap off tube", 82, 81),),
    effects=(
        DoesOtherwise(
            pair("operator disinfects sensor with a new wipe", 85, 85),
            (
                Effect(
                    "treat",
                    (
                        ("what", ("sensor",)),
                        ("level", ("intermediate",)),
                        ("floor", ("intermediate",)),
                        ("minutes", ("2",)),
                    ),
                ),
            ),
            (Effect("touch", (("what", ("sensor", "wipe's face")), ("amount", ("trace",)))),),
        ),
        DoesOtherwise(pair("operator aims tube", 75, 75), (), ()),
    ),
    done=(DoneWhen(pair("operator puts collar on patient", 25, 26), ("where x is y",), ()),),
    findings=(
        Told("aaaaaaaa", None, samples.PATH),
        Told("bbbbbbbb", LEFT, None),
        Told("cccccccc", STAYS, STAYS),
    ),
    assumed=(
        Assumed("leaking", ("sleeve",), True),
        Assumed("leaking", ("bag",), True),
        Assumed("remainder", ("low", "chair arms", "spores, fungi", ""), False),
        Assumed("visits_apart", (), False),
    ),
    unchecked=((Unchecked("next-visits", {"why": "the room is not left as it begins"}), True),),
    undecided=2,
)

SAME = Comparison(OLD, OLD, same_text=True)
UNREAD = Comparison(OLD, replace(NEW, read=False, ordered=False, whole=False))
ALL = {"full": FULL, "same": SAME, "unread": UNREAD}


@cache
def schema():
    return json.loads(compared_json.SCHEMA.read_text("utf-8"))


def words(text: str) -> str:
    return " ".join(text.split())


def test_the_schema_is_one():
    # JSON Schema, draft 2020-12, by the reference library's copy of the meta-schema.
    Draft202012Validator.check_schema(schema())


@pytest.mark.parametrize("name", ALL)
def test_the_data_has_the_form_that_the_schema_describes(name: str):
    text = compared_json.render(ALL[name], date(2026, 11, 25), "0.1.0")
    assert text.isascii()
    errors = list(Draft202012Validator(schema()).iter_errors(json.loads(text)))
    assert not errors, errors


def test_the_schema_refuses_what_it_should():
    data = json.loads(compared_json.render(FULL, None, "0.1.0"))
    for spoil in (
        lambda d: d.pop("upshot"),
        lambda d: d.update(version=2),
        lambda d: d.update(more=1),
        lambda d: d["findings"][0].update(fate="opened"),
        lambda d: d["steps"]["moved"][0]["to"][0].update(now="later"),
        lambda d: d["steps"]["added"][0]["place"].update(line=0),
    ):
        spoiled = json.loads(json.dumps(data))
        spoil(spoiled)
        assert not Draft202012Validator(schema()).is_valid(spoiled)


def test_what_other_reports_have_is_described_alike():
    other = json.loads(compared_json.SCHEMA.with_name("check-1.schema.json").read_text("utf-8"))
    shared = set(schema()["$defs"]) & set(other["$defs"]) - {"finding", "change"}
    assert {"place", "coverage", "standing"} <= shared
    for name in shared:
        assert schema()["$defs"][name] == other["$defs"][name]


def test_the_page_says_every_change():
    page = words(compared.render(FULL, date(2026, 11, 25), 96))
    for said in (
        "The new edition opens one path and closes none; one other fault is gone.",
        '"Intraoral, wired sensor", edition 1, in force from 2026-11-02',
        '"Intraoral, wired sensor", edition 2, in force from 2027-01-11',
        "owner was: infection control lead is: nothing",
        'source new: "A handbook, 2027"',
        "known as aaaaaaaa",
        "gone ",
        "still ",
        "added operator looks",
        'added all two steps of "Film"',
        "removed operator waits 1 minute",
        "reworded was: say: hello is: say: good morning",
        "it does the same",
        "whether it does the same is not known",
        "moved operator cleans hands",
        'now always comes before "operator takes off gloves" (line 71); before, it always came '
        "later",
        '"operator aims tube" can now come between them',
        "elsewhere operator takes wrap off tube",
        '"Take down" is now called "Clear away"',
        'new: "Look back"',
        '"Scan" may run into the next visit',
        "of two pairs of steps the order was not settled",
        "no longer: sensor is treated to intermediate and wet for two minutes",
        "now: sensor and wipe's face touch each other (a trace)",
        "it does the same things in another order",
        "was: where x is y is: always",
        "choice staffing: was alone, paired, each visit; is alone, each visit",
        "new: found out on the way: cone soiled (after look)",
        "gone: mishap glove tears",
        'thing "wipe", the level that it treats to: was intermediate, is low',
        'verb "ACTOR cleans ITEM": what it does is written otherwise',
        'floor "surface": new',
        "newly sleeve and bag are taken to leak",
        "no longer after low on chair arms, spores and fungi may remain",
        "unchecked ",
        "Local codes, the labels of products and licensed practice come first.",
        "2026-11-25 was taken as today",
    ):
        assert said in page, said
    assert "rule" not in page.casefold()  # there are none yet


def test_the_first_line_is_the_first_sentence():
    assert compared.render(SAME).startswith("Nothing changes: both editions say the same.\n")
    only_text = replace(SAME, same_text=False)
    assert compared.upshot(only_text).startswith("Nothing changes in effect: ")
    assert compared.upshot(UNREAD) == (
        "The steps could not be compared, because the text of the new edition has faults."
    )
    neither = replace(UNREAD, old=replace(OLD, read=False, whole=False))
    assert compared.upshot(neither) == (
        "The steps could not be compared, because both texts have faults."
    )


@pytest.mark.parametrize("opened", [0, 1, 2])
@pytest.mark.parametrize("closed", [0, 1, 2])
def test_paths_are_counted(opened: int, closed: int):
    told = [Told(f"n{at}", None, samples.PATH) for at in range(opened)]
    told += [Told(f"g{at}", samples.PATH, None) for at in range(closed)]
    said = compared.upshot(replace(SAME, same_text=False, findings=tuple(told)))
    number = ("none", "one", "two")
    if opened:
        paths = "path" if opened == 1 else "paths"
        told_so = f"opens {number[opened]} {paths} and closes {number[closed]}."
        assert said == f"The new edition {told_so}"
    elif closed:
        paths = "path" if closed == 1 else "paths"
        assert said == f"The new edition closes {number[closed]} {paths} and opens none."
    else:
        assert said.startswith("Nothing changes in effect")


def test_what_is_not_sure_is_not_counted_as_closed():
    told = Told("a", samples.PATH, None, sure=False)
    partly = Comparison(OLD, replace(NEW, whole=False), findings=(told,))
    said = compared.upshot(partly)
    assert said == (
        "As far as the new edition was judged, of one finding it is not known whether it is gone."
    )
    assert "gone? " in words(compared.render(partly))


@pytest.mark.parametrize("width", [24, 40, 60, 72, 96])
@pytest.mark.parametrize("name", ALL)
def test_no_line_is_too_long(name: str, width: int):
    page = compared.render(ALL[name], date(2026, 11, 25), width)
    assert max(map(len, page.split("\n"))) <= width


def test_names_from_files_cannot_steer_a_screen():
    evil = "operator\x1b[2J looks\u202e"
    found = replace(
        FULL,
        added=(seen(evil, 90),),
        old=replace(OLD, outcome=replace(OUTCOME, file="a\x1b[31m.protocol", title=evil)),
    )
    page = compared.render(found)
    assert "\x1b" not in page and "\u202e" not in page and "\\x1b" in page
    inked = compared.render(found, colour=True)
    assert set(re.findall("\x1b[^m]*m", inked)) <= {"\x1b[0m", "\x1b[1m"}
    assert compared.render(found, ascii_only=True).isascii()


def test_bytes_of_file_names_that_are_no_text_pass():
    found = replace(SAME, old=replace(OLD, outcome=replace(OUTCOME, file="a\udcff.protocol")))
    data = json.loads(compared_json.render(found, None, "0.1.0"))
    assert data["old"]["file"] == "a\\xff.protocol"
    assert "a\\udcff.protocol" in compared.render(found)
