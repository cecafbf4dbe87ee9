"""What the report of an audit holds, whatever it is set down as."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import fields, is_dataclass, replace
from datetime import date
from functools import cache
from html.parser import HTMLParser

import pypdfium2  # type: ignore[import-untyped]
import pytest

from protocol_lang.audited import Audit, FileReport, Standing
from protocol_lang.report.audit import csv, gathered, html, pdf, sarif, text
from protocol_lang.report.audit.content import report
from protocol_lang.report.audit.pieces import Form, Table, without_isolates
from protocol_lang.wording import audit as words
from tests.report import audits
from tests.report.audits import FILM, PANORAMIC, PLATES, SENSOR


def same(text: str) -> str:
    """The text without what differs between forms: blanks, line ends, isolates, capitals."""
    return re.sub(r"\s", "", without_isolates(text)).casefold()


class _Shown(HTMLParser):
    """All text that a reader sees, elements apart."""

    def __init__(self) -> None:
        super().__init__()
        self.texts: list[str] = []
        self.hidden = 0

    def handle_starttag(self, tag, attrs):
        self.hidden += tag in ("style", "title")

    def handle_endtag(self, tag):
        self.hidden -= tag in ("style", "title")

    def handle_data(self, data):
        if not self.hidden:
            self.texts.append(data)


def pages(made: bytes) -> list[str]:
    """The text of each page, as an independent reader finds it in the file."""
    document = pypdfium2.PdfDocument(made)
    # The reader gives a hyphen at the end of a line a sign of its own.
    found = [page.get_textpage().get_text_range().replace("\ufffe", "-") for page in document]
    document.close()
    return found


@cache
def shown(form: str, audit: str = "whole") -> str:
    """All that one form of the report shows of one of the samples."""
    return said(form, audits.ALL[audit])


def said(form: str, audit: Audit) -> str:
    """All that one form of the report shows."""
    if form == "text":
        return same(text.render(audit, 30))  # so narrow that no columns stand beside each other
    if form == "html":
        reader = _Shown()
        reader.feed(html.render(audit))
        return same("".join(reader.texts))
    return same("".join(pages(pdf.render(audit))))


FORMS = ("text", "html", "pdf")


def texts(value: object) -> Iterator[str]:
    """Every text in a record, in order."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, tuple):
        for one in value:
            yield from texts(one)
    elif is_dataclass(value):
        for one in fields(value):
            yield from texts(getattr(value, one.name))


def assert_in_order(text: str, parts: Iterable[str]) -> None:
    at = 0
    for part in map(same, parts):
        found = text.find(part, at)
        assert found >= 0, f"{part!r} does not come after {text[max(0, at - 80) : at]!r}"
        at = found + len(part)


# --- First page ----------------------------------------------------------------------------------

FIRST_PAGE = [
    "Audit of protocols",
    "Judged as of 2 November 2026",
    "Of four files audited, three have to be corrected, two could not be judged to the end and one "
    "holds only under a waiver.",
    "In two files part was not judged: for those files this report is no approval.",
    "What has to be done",
    "Correct finding 1: Saliva of one patient can reach the mouth of a later patient.",
    "practice owner",
    "Correct finding 2: The sensor is not cleaned before it is disinfected.",
    "sterilization lead",
    "15 December 2026",
    "Put the text right so that it can be judged: room-2/plates.protocol.",
    "the owner, whom the file does not name",
    "to be agreed:",
    "See to what could not be judged: room-1/film.protocol.",
    "Correct what is tolerated for a time only, under Aprons until the new hooks.",
    "31 December 2026",
    "Withdraw or renew what does not count: Old cassettes, A thing of the past and For ever.",
    "infection control lead",
    "Review what is overdue: room-1/film.protocol.",
    "This report proves the protocols as they are written, not what people do.",
    "Local codes, the labels of products and licensed practice come first.",
    "Signatures",
    "Whoever signs has read the findings",
    "Auditor",
    "Owner of the protocols",
]


@pytest.mark.parametrize("form", FORMS)
def test_the_first_page_says_what_an_inspector_asks_first(form):
    assert_in_order(shown(form), FIRST_PAGE)


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("label", ["Name", "Role", "Date", "Signature"])
def test_there_is_room_to_sign(form, label):
    page = shown(form)
    block = page[page.index(same(words.SIGNED_MEANS)) :]
    assert label.casefold() in block[: block.index(same("1. Findings"))]


def test_three_numbers():
    numbers = [(pair, label) for pair, label in report(audits.AUDIT).first[1].pairs]  # type: ignore[union-attr]
    assert numbers == [
        ("4", "files audited"),
        ("3", "files to be corrected"),
        ("1", "file under a waiver"),
    ]


def test_the_first_page_of_the_pdf_holds_all_of_it():
    first, second, *_ = pages(pdf.render(audits.AUDIT))
    assert_in_order(same(first), FIRST_PAGE)
    assert same(second).startswith(same("1. Findings"))


def test_long_tasks_leave_the_first_page_room_to_sign_and_are_all_listed_after_it():
    long = audits.spoken("a name that takes three times the room of others " * 12)
    first, *others = map(same, pages(pdf.render(long)))
    assert_in_order(first, ["the list after this page has them all", "Auditor", "Owner of the"])
    assert others[0].startswith(same(words.ALL_TO_DO))
    assert_in_order("".join(others), ["Correct finding 1", "See to", "Correct what", "Review"])


@pytest.mark.parametrize(
    ("counts", "sentence"),
    [
        ((0, 0, 0, 0, 1), "No protocol was audited, so nothing is proved."),
        ((1, 0, 0, 0, 1), "The one file audited has nothing to be corrected."),
        ((1, 1, 0, 0, 1), "The one file audited has to be corrected."),
        (
            (1, 0, 1, 0, 1),
            "The one file audited has nothing to be corrected, but could not be judged to the end.",
        ),
        ((3, 0, 0, 0, 1), "Of three files audited, none has to be corrected."),
        (
            (3, 0, 1, 2, 1),
            "Of three files audited, none has to be corrected, but one could not be judged to the "
            "end and two hold only under a waiver.",
        ),
        (
            (1000, 1, 0, 0, 0),
            "Of 1,000 files audited, one has to be corrected; no file of rules was applied.",
        ),
    ],
)
def test_the_upshot_is_one_sentence(counts, sentence):
    assert words.upshot(*counts) == sentence


def test_nothing_audited_is_no_approval():
    page = shown("text", "empty")
    assert same("so nothing is proved") in page
    assert same("No file of rules was applied.") in page


# --- Findings ------------------------------------------------------------------------------------

STORY = [
    "1",
    "Saliva of one patient can reach the mouth of a later patient.",
    "none: the check itself asks it",
    "path-to-patient",
    "k7f2-q9, new in one file, still open in one file",
    "room-1/film.protocol, line 29, new",
    'step 16 in "Place and expose"',
    "operator aims tube",
    "room-2/intraoral-wired-sensor.protocol, line 33, still open",
    "staffing: alone",
    "shielding: none",
    "As it goes in room-1/film.protocol:",
    "Visit 1",
    "line 31: operator places holder with sensor in mouth",
    "from patient's mouth to operator's gloves",
    "line 33: operator aims tube",
    "from operator's gloves to tube head and cone",
    "Visit 2",
    "line 18: helper: sets tube roughly",
    "from tube head to helper's hands",
    "operator puts on gloves",
    'From "operator aims tube" on, the tube head carries saliva.',
    "Any one of these two puts it right:",
    'After "operator places holder with sensor in mouth" add:',
    "in one go",
    "[ ] operator takes off gloves",
    "[ ] operator cleans hands",
    'Before "operator sets tube roughly" clean the tube head.',
    "practice owner; to be agreed:",
    "radiography lead; to be agreed:",
    "2",
    "The sensor is not cleaned before it is disinfected.",
    "Clean before disinfecting (must: asked for by a standard or a law); of Infection control at "
    "work, edition 3",
    audits.CDC,
    "m3c1-d4, reopened",
    "whatever is chosen",
    "line 47: operator disinfects sensor",
    "No change is offered",
    "sterilization lead; until 15 December 2026",
    "To consider",
    "Nobody says that hands were cleaned when the visit ends.",
    "Waived for a time",
    "The apron is not wiped between two patients.",
    "w8e0-t6, still open",
    "Aprons until the new hooks; until 31 December 2026",
    "Closed since the earlier report",
    "z9-old1",
    FILM,
    "z9-old3",
    "room-9/gone.protocol",
]


@pytest.mark.parametrize("form", FORMS)
def test_findings_are_told_with_rule_place_story_and_mend(form):
    page = shown(form)
    assert_in_order(page[page.index(same("1. Findings")) :], STORY)


def test_the_same_finding_at_many_files_is_told_once():
    found = gathered.findings(audits.many(60))
    assert len(found) == 4
    assert [len(one.at) for one in found] == [12, 12, 12, 12]
    page = shown("text")
    assert page.count(same("1. Saliva of one patient can reach")) == 1


def test_findings_that_are_told_otherwise_are_not_taken_for_one():
    other = replace(audits.PATH, sentence="Something else.")
    audit = replace(audits.AUDIT, files=(replace(audits.FILES[0], found=(other,)), audits.FILES[4]))
    assert len(gathered.findings(audit)) == 5


def test_a_finding_waived_in_one_file_only_is_told_in_both_ways():
    waived = replace(audits.PATH, waived="x")
    audit = replace(
        audits.AUDIT, files=(replace(audits.FILES[0], found=(waived,)), audits.FILES[4])
    )
    groups = [one.group for one in gathered.findings(audit) if one.found.identity == "k7f2-q9"]
    assert groups == ["to correct", "waived"]
    assert gathered.fate(audit.files[0]) is gathered.Fate.UNDECIDED


# --- Waivers -------------------------------------------------------------------------------------

WAIVERS = [
    "Waivers",
    "In use",
    "Aprons until the new hooks",
    "finding w8e0-t6",
    "finding 4",
    "the hooks that keep aprons apart are ordered",
    "from 1 September 2026 until 31 December 2026, renewed two times before",
    "by: infection control lead",
    "by the step apron-on-its-own-hook",
    "waivers/2026.waivers, line 3",
    "Ended: no longer counts",
    "Old cassettes",
    "rule Cassettes are wiped of Infection control at work, edition 3, for cassette, with "
    "staffing: alone",
    "by no step",
    "it ended on 1 October 2026",
    "Not begun: does not count yet",
    "Matches nothing that was found",
    "Not allowed: does not count",
    "a waiver lasts a year at most",
]


@pytest.mark.parametrize("form", FORMS)
def test_waivers_are_told_with_their_end_role_and_step(form):
    page = shown(form)
    assert_in_order(page[page.index(same("2. Waivers")) :], WAIVERS)


def test_a_waiver_in_use_somewhere_need_not_be_withdrawn():
    idle = replace(audits.FILES[2], waivers=(replace(audits.USES[0], state="matches nothing"),))
    audit = replace(audits.AUDIT, files=(idle, audits.FILES[4]))
    tasks = [task.what for task in gathered.tasks(audit, gathered.findings(audit), str)]
    (task,) = (task for task in tasks if task.startswith("Withdraw"))
    assert "Aprons" not in task


# --- Rules, files, completeness ------------------------------------------------------------------


def table(part: str, n: int = 0) -> Table:
    (found,) = (one for one in report(audits.AUDIT).parts if one.key == part)
    return [piece for piece in found.pieces if isinstance(piece, Table)][n]


def test_rules_are_counted_over_files_and_in_total():
    rows = {row[0].split("\n")[0]: row[2:] for row in table("rules").rows}
    # met, failed, waived, not applicable, not decided
    assert rows == {
        "Clean before disinfecting": ("2", "1", "0", "0", "0"),
        "Wipe what is worn": ("0", "0", "1", "1", "1"),
        "Clean hands at the end": ("2", "1", "0", "0", "0"),
        "All rules": ("4", "2", "1", "1", "1"),
    }


def test_files_are_told_by_outcome_and_their_rules_are_counted():
    rows = {row[0]: (row[2].split("\n"), row[3:]) for row in table("files").rows}
    overdue, no_day = words.OUTCOME_OVERDUE, words.OUTCOME_NO_REVIEW
    waiting = words.OUTCOME_NOT_IN_FORCE
    assert rows == {
        FILM: (["To be corrected", "to correct: 1", overdue], ("2", "0", "0", "0", "1")),
        PANORAMIC: (["In order"], ("2", "0", "0", "1", "0")),
        PLATES: (["Text at fault", waiting, no_day], ("0", "0", "0", "0", "0")),
        SENSOR: (
            ["To be corrected", "to correct: 1 and 2", "to consider: 3", "waived: 4", waiting],
            ("0", "2", "1", "0", "0"),
        ),
        "All files": ([""], ("4", "2", "1", "1", "1")),
    }


REST = [
    "Rules that could be applied to no file",
    "Water lines are flushed (Infection control at work, edition 3)",
    "Why rules were not applied or not decided",
    "Wipe what is worn, not decided (room-1/film.protocol): the limit was reached",
    "Wipe what is worn, not applicable (room-3/panoramic.protocol): nobody wears anything here",
    "4. Files",
    "owner: radiography lead",
    "What was not judged",
    FILM,
    "whether saliva reaches the keyboard was too hard to find out",
    PLATES,
    'line 4 begins with "operater", which is nobody',
    "In the rooms, but named by no protocol",
    "Imaging room 2: eyewash bottle",
    "Imaging room 3: chin rest cover",
    "Not in force on the day of judgement",
    f"{SENSOR}: in force from 1 December 2026",
    "Overdue for review",
    f"{FILM}: was due by 1 October 2026",
    "Files that are no protocol, and were not audited",
    audits.NOTES,
]


@pytest.mark.parametrize("form", FORMS)
def test_reasons_and_completeness(form):
    page = shown(form)
    assert_in_order(page[page.index(same("3. Rules")) :], REST)


@pytest.mark.parametrize("form", FORMS)
def test_everything_that_the_proof_rests_on_and_that_was_looked_at(form):
    page = shown(form)
    part = page[page.index(same("6. What the proof rests on")) :]
    for line in (*audits.RESTS_ON, *audits.LOOKED_AT):
        assert same(line) in part
    for file in gathered.audited(audits.AUDIT):
        assert file.fingerprint and file.fingerprint in part
    for pack in audits.PACKS:
        assert pack.fingerprint in part
    assert same("wet time: 3 minutes") in part
    assert same("as delivered") in part


def test_what_the_proof_rests_on_is_found_again_by_its_number():
    numbers = {row[0]: row[1] for row in table("rests-on").rows}
    of_file = {row[0].split("\n")[0]: row[2] for row in table("annex", 1).rows}
    for file in gathered.audited(audits.AUDIT):
        marks = of_file[file.file].split(", ") if of_file[file.file] else []
        assert tuple(numbers[mark] for mark in marks) == file.rests_on


@pytest.mark.parametrize("form", FORMS)
def test_no_text_of_an_author_is_left_out(form):
    """Every text of the audit is somewhere, but for words and contexts beyond the first places."""
    page = said(form, audits.AUDIT)
    wanted = set(texts(audits.AUDIT)) | {"z9-old2"}
    coded = {file.state for file in audits.AUDIT.files} | {
        file.kind for file in audits.AUDIT.files if file.kind
    }
    coded |= {use.state for use in audits.USES}
    for one in wanted - coded:
        for line in one.split("\n"):
            assert same(line) in page, line


def test_of_many_places_the_lines_are_told():
    where = [
        row
        for part in report(audits.many(60)).parts
        for piece in part.pieces
        if isinstance(piece, Form)
        for row in piece.rows
        if row.label == words.ROW_WHERE
    ]
    assert len(where[0].lines) == 12
    assert all("line 33" in line.text and not line.deeper for line in where[0].lines)


def test_a_large_audit_stays_usable():
    whole = report(audits.many(1000))
    forms = [piece for part in whole.parts for piece in part.pieces if isinstance(piece, Form)]
    assert len(forms) == 45  # four causes in each of ten sites, and five waivers
    assert len(whole.first) < 12
    page = text.render(audits.many(1000), 72).split("\n")
    assert "Of 1,000 files audited, 200 have to be corrected" in page[3]
    # One row for each file, of at most a few lines.
    (files,) = (part for part in whole.parts if part.key == "files")
    (rows,) = (piece.rows for piece in files.pieces if isinstance(piece, Table))
    assert len(rows) == 1001


# --- Foot, names, sameness -----------------------------------------------------------------------


def test_the_foot_of_every_page_of_the_pdf():
    made = pages(pdf.render(audits.AUDIT))
    for number, page in enumerate(made, start=1):
        for part in (
            "Judged as of 2 November 2026. protocol-lang 0.1.0.",
            "Infection control at work, edition 3; Rules of the house, no edition",
            f"Page {number} of {len(made)}",
        ):
            assert same(part) in same(page)


def test_many_files_of_rules_are_counted_at_the_foot_and_listed_in_the_annex():
    packs = tuple(
        replace(audits.PACKS[0], title=f"Rules number {n} of the house") for n in range(30)
    )
    made = list(map(same, pages(pdf.render(replace(audits.AUDIT, packs=packs)))))
    assert all(same("Rules: 30 files, with editions in the annex.") in page for page in made)
    assert all(any(same(pack.title) in page for page in made) for pack in packs)


HARD = {
    "markup": " ".join(audits.MARKUP),
    "long": "Protocol of the imaging room at the end of the corridor " * 4,
    "unbroken": "x" * 150 + "/" + "deep-folder/" * 20 + "_" * 40,
    "Hindi": f"{audits.HINDI} {audits.HINDI}",
}


@pytest.mark.parametrize("name", HARD)
@pytest.mark.parametrize("form", FORMS)
def test_names_are_shown_as_written(form, name):
    """Each of the texts, in every place at which an author's text can stand."""
    words_of_author = HARD[name]
    page = said(form, audits.spoken(words_of_author))
    if form == "pdf" and name == "Hindi":
        # A reader finds the letters of a cluster in the order in which they are drawn.
        assert all(page.count(letter) >= 30 for letter in "गलकम")
    else:
        assert page.count(same(words_of_author)) >= 30


@pytest.mark.parametrize("name", [audits.ARABIC, audits.HEBREW])
def test_names_from_right_to_left_keep_the_words_beside_them_in_place(name):
    made = html.render(audits.spoken(name))
    assert f"<bdi>{name}</bdi>, line 3" in made
    assert made.count(name) - made.count(f"<bdi>{name}") == 0
    assert "\u2068" not in made and "\u2068" not in text.render(audits.spoken(name))
    page = "".join(pages(pdf.render(audits.spoken(name))))
    for letter in set(name) - {" "}:
        assert page.count(letter) >= 30


CONTROL = "a\x00b\x1b[2Jc\td\r\u202ee\u200bf\ud800g\u2068h\x85"


@pytest.mark.parametrize("form", FORMS)
def test_control_characters_are_shown_as_escapes(form):
    page = said(form, audits.spoken(CONTROL))
    for escape in (r"a\x00b\x1b[2Jc", r"\u202ee\u200bf\ud800g\u2068h\x85"):
        assert page.count(escape.casefold()) >= 30
    raw = {"text": text.render, "html": html.render}.get(form)
    made = raw(audits.spoken(CONTROL)) if raw else ""
    assert not set(made) & set("\x00\x1b\t\r\u202e\u200b\ud800\u2068\x85")


def test_letters_without_a_font_are_written_as_numbers_and_said_to_be():
    made = same("".join(pages(pdf.render(audits.spoken("日本 room")))))
    assert made.count(r"\u65e5\u672croom") >= 30
    assert same("Letters that the fonts of this page lack") in made
    assert same("Letters that the fonts of this page lack") not in shown("pdf")


@pytest.mark.parametrize("form", [text, html, pdf, sarif, csv])
def test_the_same_audit_gives_the_same_bytes(form):
    """Equal is equal: also when the closed findings were noted in another order."""
    turned = dict(reversed(list(audits.AUDIT.closed.items())))
    other = replace(audits.AUDIT, closed=turned)
    assert other == audits.AUDIT
    assert form.render(other) == form.render(audits.AUDIT)


def test_days_are_read_the_same_everywhere():
    assert words.day(date(2026, 2, 3)) == "3 February 2026"


def test_standings_have_a_column_each():
    counted = {head.lower() for head in words.RULES_HEAD[2:]}
    assert counted == {one.value for one in Standing}
    assert tuple(words.FILES_HEAD[3:]) == tuple(words.RULES_HEAD[2:])


def test_a_file_that_could_not_be_read_has_no_days_that_are_missing():
    whole = audits.ALL["whole"]
    broken = FileReport("torn.protocol", "not checked", reason="It is empty.", cause="unreadable")
    told = text.render(replace(whole, files=(*whole.files, broken)))
    before = text.render(whole)
    for heading in (words.NOT_IN_FORCE, words.NO_REVIEW):
        assert told.count(heading) == before.count(heading)
    assert "torn.protocol: does not say" not in told
    assert broken not in gathered.without_review(replace(whole, files=(broken,)))
    assert broken not in gathered.not_in_force(replace(whole, files=(broken,)))
    assert "no day of coming into force; no day of review" in " ".join(told.split())


def test_the_first_page_says_why_its_numbers_need_not_add_up():
    assert words.how_counted(several=False, others=0) == ""
    assert words.how_counted(several=True, others=0) == "A file can fall under several of these."
    assert words.how_counted(several=False, others=1) == (
        "One more file is no protocol, but a room, words, rules or the like; it is listed by name."
    )
    assert words.how_counted(several=False, others=18).startswith("18 more files are no protocols")


@pytest.mark.parametrize(("left", "told"), [((), False), (("orders beyond the budget",), True)])
def test_the_first_page_says_so_where_one_file_counts_twice(left: tuple[str, ...], told: bool):
    """Although the numbers add up to less than all files: most of these are in order."""
    found = next(
        file
        for file in audits.ALL["whole"].files
        if gathered.has_to_be_corrected(file)
        and file.state != gathered.BROKEN_TEXT
        and not gathered.waived(file)
    )
    rules = tuple(rule for rule in found.rules if rule.standing is not Standing.NOT_DECIDED)
    faulty = replace(found, rules=rules, not_checked=left)
    good = [FileReport(f"{n}.protocol", "clear", "protocol") for n in range(9)]
    first = report(replace(audits.ALL["whole"], files=(faulty, *good))).first
    said = [getattr(piece, "text", "") for piece in first]
    assert any("A file can fall under several of these." in str(text) for text in said) == told
