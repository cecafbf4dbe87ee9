"""One cause, one finding: what follows from a fault is not told, and a sure mend is."""

from __future__ import annotations

from pathlib import Path

import pytest

from protocol_lang.findings import Finding
from protocol_lang.language.load import Loaded, load, load_text
from protocol_lang.text import decode
from protocol_lang.wording import ENTRIES
from protocol_lang.wording.examples import STAFFING, visit

ROOM = """room "Mill room"
  takes words from "Dental imaging"

people
  Anja: staff
  patient: patient

waste streams
  bin: black bag

surfaces
  hand grips: surface
  touch screen: surface; kept clean

boxes
  wipe tub: box; kept clean

things
  wipe: wipe; has face, back; used once; from wipe tub; goes to bin
  gloves: gloves; worn on hands; used once; from wipe tub; goes to bin
"""

VISIT = """protocol "Mill visit"
  edition 1
  takes words from "Mill room"

phase "Visit"
  [ ] Anja cleans hands
  [ ] Anja chooses settings at touch screen
  [ ] patient comes in
  [ ] rub: Anja cleans hands
  [ ] Anja cleans hand grips with a new wipe
"""


@pytest.fixture
def mill(tmp_path: Path) -> Path:
    (tmp_path / "mill-room.protocol").write_text(ROOM, "utf-8")
    return tmp_path


def found(mill: Path, old: str, new: str, *, room: bool = False, every: bool = False) -> Loaded:
    """The visit after one slip, in itself or in its room."""
    whole = ROOM if room else VISIT
    assert old in whole
    slip = whole.replace(old, new) if every else whole.replace(old, new, 1)
    if room:
        (mill / "mill-room.protocol").write_text(slip, "utf-8")
    visit_text = VISIT if room else slip
    path = mill / "mill-visit.protocol"
    path.write_text(visit_text, "utf-8")
    return load(path, name=path.name)


def kinds(loaded: Loaded) -> list[str]:
    return [finding.kind for finding in loaded.findings]


def sentence(finding: Finding) -> str:
    return ENTRIES[finding.kind].sentence(finding.facts)


def change(finding: Finding) -> str | None:
    return ENTRIES[finding.kind].change(finding.facts)


def because(finding: Finding) -> str | None:
    return ENTRIES[finding.kind].because(finding.facts)


def only(text: str) -> Finding:
    """The one finding of a text that takes its words from the shipped room."""
    loaded = load_text(decode(text.encode(), "v.protocol"))
    (finding,) = loaded.findings
    return finding


def step(words: str, more: str = "", choices: str = "") -> Finding:
    return only(visit(f"  [ ] {words}\n{more}", choices=choices))


def test_the_visit_itself_has_no_finding(mill: Path) -> None:
    assert kinds(found(mill, "edition 1", "edition 2")) == []


# --- The header ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("new", "kind"),
    [
        ("takes words from Mill room", "quotes-missing"),
        ("takes words from “Mill room”", "curly-quotes"),
        ('take words from "Mill room"', "opening-misspelt"),
        ('"Mill room"', "opening-unknown"),
        ('import "Mill room"', "opening-unknown"),
        ('takes words from "Mill romo"', "words-not-found"),
        ('takes words from "Mill room', "quote-not-closed"),
    ],
)
def test_no_name_is_unknown_when_the_line_that_takes_words_is_spoiled(
    mill: Path, new: str, kind: str
) -> None:
    loaded = found(mill, 'takes words from "Mill room"', new)
    assert kinds(loaded) == [kind]
    assert not loaded.complete


def test_another_header_line_that_is_spoiled_hides_no_unknown_name(mill: Path) -> None:
    slips = found(mill, "edition 1", "edition one").findings
    assert [finding.kind for finding in slips] == ["not-a-number"]
    text = VISIT.replace("edition 1", "edition one").replace("hand grips", "hand gripps")
    path = mill / "mill-visit.protocol"
    path.write_text(text, "utf-8")
    assert kinds(load(path)) == ["not-a-number", "unknown-name"]


def test_tabs_in_every_line_are_one_finding(mill: Path) -> None:
    loaded = found(mill, "  ", "\t", every=True)
    assert kinds(loaded) == ["tab-indent"]
    assert loaded.findings[0].facts == {"last": "10"}


def test_a_protocol_that_names_no_room_is_told_so_with_the_room_that_fits(mill: Path) -> None:
    loaded = found(mill, '  takes words from "Mill room"\n', "")
    (finding,) = loaded.findings
    assert finding.kind == "no-words-taken"
    assert sentence(finding) == "This protocol takes no words from any room."
    assert change(finding) == 'Add a line under the title: takes words from "Mill room"'


def test_a_protocol_that_names_no_room_is_given_none_that_is_not_sure(mill: Path) -> None:
    text = VISIT.replace('  takes words from "Mill room"\n', "").replace("grips", "gripps")
    path = mill / "mill-visit.protocol"
    path.write_text(text, "utf-8")
    (finding,) = load(path).findings
    assert finding.kind == "no-words-taken" and "meant" not in finding.facts
    assert "with the title of its room" in (change(finding) or "")


def test_a_room_that_names_no_words_is_the_only_finding(mill: Path) -> None:
    loaded = found(mill, '  takes words from "Dental imaging"\n', "", room=True)
    (finding,) = loaded.findings
    assert finding.kind == "no-words-taken"
    assert finding.place is not None and finding.place.file.endswith("mill-room.protocol")
    assert sentence(finding) == "This room takes no words from any vocabulary."


def test_a_protocol_and_its_room_may_not_share_a_title(mill: Path) -> None:
    loaded = found(mill, '"Mill visit"', '"Mill room"')
    (finding,) = loaded.findings
    assert finding.kind == "title-shared"
    assert "have the same title" in sentence(finding) and "mill-room" in sentence(finding)


# --- Steps left out ------------------------------------------------------------------------------


def test_steps_left_out_are_told_in_one_sentence(mill: Path) -> None:
    loaded = found(mill, '"Mill room"', '"Mill romo"')
    (part,) = loaded.unchecked
    assert part.kind == "steps-left-out" and part.facts["count"] == "5"
    assert ENTRIES[part.kind].sentence(part.facts) == (
        "Five steps were left out (lines 6, 7, 8, 9 and 10), because they were not understood."
    )
    (part,) = found(mill, "hand grips", "hand gripps").unchecked
    assert part.kind == "step-left-out"


# --- Follow-ons ----------------------------------------------------------------------------------


def test_a_thing_without_its_colon_is_not_unknown_where_it_is_used(mill: Path) -> None:
    loaded = found(mill, "hand grips: surface", "hand grips surface", room=True)
    (finding,) = loaded.findings
    assert finding.kind == "colon-missing"
    assert because(finding) == "It is written as in: lamp: surface"


@pytest.mark.parametrize("room", [True, False])
def test_a_thing_without_its_kind(mill: Path, room: bool) -> None:
    (finding,) = found(mill, "hand grips: surface", "hand grips", room=True).findings
    assert sentence(finding) == 'In "hand grips" a colon is missing, and the kind after it.'


def test_a_step_at_the_margin_takes_no_other_step_with_it(mill: Path) -> None:
    (finding,) = found(mill, "  [ ] patient comes in", "[ ] patient comes in").findings
    assert finding.kind == "line-not-here"
    assert change(finding) == "Begin the line with two blanks."


def test_a_label_after_a_step_at_the_margin_is_known(mill: Path) -> None:
    text = VISIT.replace("  [ ] patient", "[ ] patient").rstrip() + "\n      after rub\n"
    path = mill / "mill-visit.protocol"
    path.write_text(text, "utf-8")
    assert kinds(load(path)) == ["line-not-here"]


def test_a_step_at_the_margin_is_looked_at(mill: Path) -> None:
    loaded = found(mill, "  [ ] patient comes in", "[ ] patent comes in")
    assert kinds(loaded) == ["line-not-here", "unknown-name"]


def test_a_form_in_small_letters_is_told_once_and_mended() -> None:
    text = visit(
        "  [ ] operator cleans hands\n  [ ] patient nibbles on holder\n",
        "verb patient nibbles on holder\n  no contact",
    )
    finding = only(text)
    assert finding.kind == "form-no-person"
    assert change(finding) == '"patient nibbles on holder" to "PATIENT nibbles on HOLDER"'


# --- Words of other lists, and sure mends --------------------------------------------------------


@pytest.mark.parametrize(
    ("line", "meant"),
    [
        ("if staffing is alone", "where"),
        ("If staffing is alone", "where"),
        ("when staffing is alone", "where"),
        ("else", "otherwise"),
        ("else if staffing is alone", "otherwise where"),
    ],
)
def test_blocks_by_the_words_of_other_lists(line: str, meant: str) -> None:
    body = (
        "  where staffing is paired\n    [ ] helper cleans hands\n"
        f"  {line}\n    [ ] operator cleans hands\n"
    )
    finding = only(visit(body, choices=STAFFING))
    assert finding.kind == "opening-misspelt"
    assert change(finding) == f'Write "{meant}".'


def test_conditions_of_steps_by_the_words_of_other_lists() -> None:
    finding = step("operator cleans hands", "      if operator's hands are bare\n")
    assert change(finding) == 'Write "only when".'


@pytest.mark.parametrize(
    ("words", "mend"),
    [
        ("operator choses settings at keyboard", '"choses" to "chooses"'),
        ("operator and helper cleans hands", '"cleans" to "clean"'),
        ("operator chose settings at keyboard", '"chose" to "chooses"'),
        ("operator waits two minutes", '"two" to "2"'),
        ("operator cleans hands well and truly", None),
        ("operator waits some minutes", None),
    ],
)
def test_one_word_of_a_verb_amiss_is_a_sure_change(words: str, mend: str | None) -> None:
    assert change(step(words)) == mend


@pytest.mark.parametrize(
    "words",
    ["operator removes sensor from arm", "wipe is laid on arm", "operator polishes hands"],
)
def test_a_verb_is_not_called_near_without_its_main_word(words: str) -> None:
    finding = step(words)
    assert finding.kind == "unknown-sentence"


def test_say_without_its_colon() -> None:
    finding = step("say hello to the patient")
    assert sentence(finding) == 'After "say" a colon is missing.'
    assert change(finding) == '"say" to "say:"'


def test_plural_names_are_dry() -> None:
    text = visit("  [ ] operator waits until chair arms are dry\n")
    assert load_text(decode(text.encode(), "v.protocol")).findings == ()


def test_a_mark_of_the_owner_left_out() -> None:
    text = visit(
        "  [ ] patient nibbles on holder\n",
        "verb PATIENT nibbles on HOLDER\n  meet PATIENT mouth, HOLDER",
    )
    assert change(only(text)) == '"PATIENT mouth" to "PATIENT\'s mouth"'


def test_choices_are_listed_or_said_to_be_none() -> None:
    lines = "  where shift is alone\n    [ ] helper cleans hands\n"
    finding = step("operator cleans hands", lines, STAFFING)
    assert because(finding) == "the choices are: staffing"
    finding = step("operator cleans hands", lines)
    assert sentence(finding) == '"shift" is not a choice of this protocol, which has no choices.'


def test_a_letter_of_another_script_is_named() -> None:
    finding = step("оperator cleans hands")
    assert finding.kind == "unknown-name"
    assert because(finding) == (
        'the first letter of "оperator" is Cyrillic; it only looks like one of the others'
    )
    finding = only(visit("  [ ] operator cleans hands\n", "things\n  sens\u043er rack: supply"))
    assert finding.kind == "name-mixed-scripts"
    assert (because(finding) or "").startswith('the fifth letter of "sens\u043er" is Cyrillic')


def test_a_line_that_belongs_under_the_step_beside_it() -> None:
    finding = step("rub: operator cleans hands", "  [ ] helper cleans hands\n  after rub\n")
    assert sentence(finding) == '"after" does not stand beside a step, but under one.'
    assert (change(finding) or "").startswith("Put more blanks before this line")


def test_a_trait_is_not_called_a_line() -> None:
    finding = only(visit("  [ ] operator cleans hands\n", "things\n  rack: supply; heat-safe"))
    assert sentence(finding) == 'No trait of a thing begins with "heat-safe".'
    finding = only(visit("  [ ] operator cleans hands\n", "things\n  rack: supply; shiny"))
    assert sentence(finding) == 'No trait of a thing begins with "shiny".'


@pytest.mark.parametrize(
    ("line", "meant"),
    [
        ("for each exposure, up to 4", "for each exposure, 1 to 4"),
        ("for each exposure, at most 4", "for each exposure, 1 to 4"),
        ("for each exposure, 4", "for each exposure, 1 to 4"),
        ("for each exposure, 4 times", "for each exposure, 1 to 4"),
        ("for each exposure 2 to 4", "for each exposure, 2 to 4"),
        ("for each exposure, 2-4", "for each exposure, 2 to 4"),
        ("for each exposure, two to four", "for each exposure, 2 to 4"),
        ("for each image taken, some", "for each image taken, 1 to 3"),
        ("for each image taken", "for each image taken, 1 to 3"),
    ],
)
def test_how_many_times_is_a_range(line: str, meant: str) -> None:
    finding = only(visit(f"  {line}\n    [ ] operator cleans hands\n"))
    assert finding.kind == "times-no-range"
    assert sentence(finding) == "How many times is said by the least and the most."
    assert because(finding) == f"It is written as in: {meant}"


@pytest.mark.parametrize(
    ("line", "kind"),
    [
        ("for each exposure, 1 to", "line-ends-early"),
        ("for each exposure, 1 to 4 times", "words-not-expected"),
        ("for each, 1 to 4", "words-not-expected"),
    ],
)
def test_a_range_that_is_not_whole_or_goes_on(line: str, kind: str) -> None:
    assert only(visit(f"  {line}\n    [ ] operator cleans hands\n")).kind == kind


def test_a_range_of_too_many_figures_is_told_as_such() -> None:
    finding = only(visit("  for each exposure, 1 to 1234567890\n    [ ] operator cleans hands\n"))
    assert finding.kind == "not-a-number"


@pytest.mark.parametrize(
    ("line", "found"),
    [
        ("while record open", "while"),
        ("While record open", "While"),
        ("until record open", "until"),
        ("as long as record open", "as long as"),
        ("repeat 3 times", "repeat"),
    ],
)
def test_what_is_done_again_by_the_words_of_other_lists(line: str, found: str) -> None:
    finding = only(visit(f"  {line}\n    [ ] operator cleans hands\n"))
    assert finding.kind == "again-by-other-words"
    assert sentence(finding) == f'No line begins with "{found}".'
    assert because(finding) == (
        'What is done again is written "for each NAME, 1 to N" or '
        '"again from LABEL, at most N times".'
    )


@pytest.mark.parametrize("words", ["repeat from", "go back to", "back to", "return to"])
def test_going_back_by_the_words_of_other_lists(words: str) -> None:
    finding = only(visit(f"  [ ] wash up: operator cleans hands\n  {words} wash up\n"))
    assert sentence(finding) == f'No line begins with "{words}".'
    assert because(finding) == "It is written as in: again from wash up, at most 1 time"


@pytest.mark.parametrize(
    ("words", "mend"),
    [
        ("operator lays out two wipes", '"two wipes" to "2 wipe"'),
        ("operator lays out a sleeve and the three wipes", '"three wipes" to "3 wipe"'),
        ("operator lays out two wipe", '"two" to "2"'),
    ],
)
def test_how_many_are_laid_out_in_figures(words: str, mend: str) -> None:
    finding = step(words)
    assert sentence(finding).endswith('" is not a number in figures.')
    assert change(finding) == mend


def test_how_many_of_what_nobody_declared() -> None:
    finding = step("operator lays out two snorks")
    assert finding.kind == "unknown-name"
    assert (because(finding) or "").endswith("; how many there are is said in figures: 2 snorks")


def test_what_is_only_said_or_shown_has_a_form_of_its_own() -> None:
    finding = step("operator explains the procedure")
    assert because(finding) == 'What is only said or shown is written "[ ] say: …".'
    assert because(step("say hello to the patient")) is None


@pytest.mark.parametrize(
    ("verb", "mend"),
    [
        ("verb ACTOR nods\n  pass mouth to cone", '"mouth" to "the patient\'s mouth"'),
        ("verb PATIENT nods\n  pass mouth to cone", '"mouth" to "PATIENT\'s mouth"'),
        ("verb STAFF nods\n  meet hands, cone", '"hands" to "STAFF\'s hands"'),
        ("verb STAFF nudges PATIENT\n  meet hands, cone", None),
    ],
)
def test_a_part_of_a_person_is_told_with_whose_it_is(verb: str, mend: str | None) -> None:
    finding = only(visit("  [ ] operator cleans hands\n", verb))
    assert finding.kind == "unknown-name"
    assert change(finding) == mend


def test_the_form_that_takes_such_names_is_told() -> None:
    finding = step("patient spatters onto cone and operator")
    assert finding.kind == "verb-form"
    assert sentence(finding) == (
        "No verb is written like this; the form closest to it is "
        '"PATIENT spatters onto STAFF and onto ALL THING".'
    )


# --- No silent miss ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("verb", "asked"),
    [
        ("verb STAFF examines PATIENT", True),
        ("verb STAFF examines PATIENT\n  sets record open", True),
        ('verb ACTOR greets OTHER ACTOR\n  note "Politely."', True),
        ("verb ACTOR nods", True),
        ("verb ACTOR nods\n  only when record open", True),
        ("verb ACTOR nods\n  no contact", False),
        ("verb ACTOR opens the window\n  sets record open", False),
        ("verb STAFF examines PATIENT\n  meet STAFF's hands, PATIENT's face", False),
        ("verb STAFF examines PATIENT\n  no contact", False),
    ],
)
def test_a_verb_says_what_is_touched_or_that_nothing_is(verb: str, asked: bool) -> None:
    text = visit("  [ ] operator cleans hands\n", verb)
    loaded = load_text(decode(text.encode(), "v.protocol"))
    assert kinds(loaded) == (["no-contact-told"] if asked else [])


# --- Declared again ------------------------------------------------------------------------------


def again(declared: str) -> list[str]:
    text = visit("  [ ] operator cleans hands\n", declared)
    return kinds(load_text(decode(text.encode(), "v.protocol")))


@pytest.mark.parametrize(
    "declared",
    [
        "kinds of thing\n  surface, tray",
        "facts\n  record open",
        "facts of a person\n  behind the barrier",
        "germs, hardest first\n  bacterial spores\n  fungi",
        "levels, weakest first\n  low: acts on rinsed soil; ends vegetative bacteria, "
        "viruses with envelope\n  sterile: acts on rinsed soil; ends every class",
        "waste streams\n  general waste",
        "parts of a patient\n  mouth: mouth; full of saliva",
    ],
)
def test_what_an_imported_file_declares_may_be_said_again(declared: str) -> None:
    assert again(declared) == []


@pytest.mark.parametrize(
    ("verb", "twice"),
    [
        ("verb ACTOR carries CUP\n  meet ACTOR's hands, CUP's outside", False),
        ("verb ACTOR carries CUP\n  note \"Ours.\"\n  meet ACTOR's hands, CUP's outside", False),
        ("verb ACTOR carries CUP\n  meet ACTOR's front, CUP's outside", True),
        ("verb ACTOR carries CUP\n  no contact", True),
        # The shipped form takes a list, of which one name is the shortest.
        ("verb ACTOR works at SURFACE\n  meet ACTOR's hands, SURFACE", False),
        ("verb ACTOR works at ALL SURFACE\n  meet ACTOR's hands, SURFACE", True),
        ("verb ACTOR carries EACH CUP\n  meet ACTOR's hands, CUP's outside", True),
    ],
)
def test_a_verb_that_does_the_same_may_stand_twice(verb: str, twice: bool) -> None:
    assert again(verb) == (["form-twice"] if twice else [])


@pytest.mark.parametrize(
    "declared",
    [
        "kinds of thing\n  tray, tray",
        "facts of a person\n  record open",
        "facts\n  record open; lasting",
        "germs, hardest first\n  fungi\n  bacterial spores",
        "germs, hardest first\n  bacterial spores\n  prions",
        "levels, weakest first\n  low: acts on all soil; ends every class",
        "levels, weakest first\n  low: acts on rinsed soil; ends vegetative bacteria, "
        "viruses with envelope\n  middling: acts on rinsed soil; ends fungi",
        "waste streams\n  clinical waste: blue bag",
        "surfaces\n  keyboard: surface; kept clean",
        "people\n  operator: staff",
    ],
)
def test_what_is_said_otherwise_is_declared_twice(declared: str) -> None:
    assert set(again(declared)) == {"declared-twice"}


# --- Signs that nobody sees ----------------------------------------------------------------------


def test_names_are_compared_without_signs_that_part_letters() -> None:
    hands = "دست\N{ZERO WIDTH NON-JOINER}ها"
    things = f"surfaces\n  {hands}: surface"
    plain = hands.replace("\N{ZERO WIDTH NON-JOINER}", "")
    for written in (hands, plain):
        text = visit(f"  [ ] operator cleans hands\n  [ ] operator works at {written}\n", things)
        loaded = load_text(decode(text.encode(), "v.protocol"))
        assert loaded.findings == ()
        assert loaded.protocol is not None and hands in loaded.protocol.things
    twice = again(f"surfaces\n  {hands}: surface\n  {plain}: surface")
    assert twice == ["declared-twice"]


# --- Files of hundreds of faults -----------------------------------------------------------------


def test_reading_ends_after_as_many_findings_as_are_listed() -> None:
    bad = ["  [] a", "  where b is", "    [ ] operator cleans hands", "  [ ] d: ", "  any order x"]
    lines = [bad[at % len(bad)] for at in range(800)]
    text = decode(('protocol "P"\n\nphase "V"\n' + "\n".join(lines) + "\n\ty\n").encode(), "f")
    findings = [f for f in load_text(text).findings if f.place is not None]
    assert findings[-1].kind == "more-faults"
    assert sentence(findings[-1]).endswith("listed, and the rest was not read.")
    told = [f.place.line for f in findings if f.place is not None]
    faulty = [at for at, line in enumerate(lines, start=4) if "operator" not in line]
    # The first ones are told, none is left out between them; no name is unknown.
    assert list(dict.fromkeys(told))[:100] == faulty[: len(set(told))][:100]
    assert not any(f.kind.startswith("unknown") for f in findings)
