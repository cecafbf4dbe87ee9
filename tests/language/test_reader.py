"""Level 1: the corpus, every construct as a node, and what a fault leaves standing."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from protocol_lang.language import tree
from protocol_lang.language.limits import MAX_FAULTS
from protocol_lang.language.opening import open_text
from protocol_lang.language.reader import Reading, read
from protocol_lang.language.reading import lines, openers
from protocol_lang.text import decode, read_text
from protocol_lang.wording import text_faults
from protocol_lang.wording.entry import Entry
from protocol_lang.wording.expected import PIECES
from tests.language.corpus import CORPUS, expected, faulty, told

SHIPPED = Path(__file__).resolve().parents[2] / "protocols"
GOOD = sorted([*SHIPPED.rglob("*.protocol"), *(CORPUS / "text" / "good").glob("*.protocol")])


def reading(text: str) -> Reading:
    return read(decode(text.encode(), "f"))


def kinds(text: str) -> list[str]:
    return [finding.kind for finding in reading(text).findings]


@pytest.mark.parametrize("path", GOOD, ids=lambda path: path.stem)
def test_good_texts_are_silent(path: Path):
    assert read(read_text(path)).findings == ()


@pytest.mark.parametrize("path", faulty("text"), ids=lambda path: path.stem)
def test_faulty_texts_have_exactly_the_findings_expected(path: Path):
    text = read_text(path)
    findings = read(text).findings
    assert sorted(told(text, findings)) == sorted(expected(text))
    assert len(findings) == len(expected(text))


def test_three_unrelated_slips_are_three_findings():
    text = read_text(CORPUS / "text" / "faulty" / "three-slips.protocol")
    assert len(read(text).findings) == 3


# --- Each construct as a node --------------------------------------------------------------------


def sections(body: str) -> tuple[tree.Section, ...]:
    made = reading(f'protocol "P"\n\n{body}')
    assert made.findings == ()
    return made.file.sections


def section(body: str) -> tree.Section:
    [only] = sections(body)
    return only


def steps(body: str) -> tuple[tree.Item, ...]:
    phase = section(f'phase "V"\n{body}')
    assert isinstance(phase, tree.Phase)
    return phase.items


def plain(words: tuple[tree.Words, ...]) -> list[str]:
    return [word.plain for word in words]


def test_header():
    made = reading(
        'room "A  room" # beside\n  edition 3\n  in force from 2027-01-31\n  review by 2028-02-29\n'
        '  owner infection   control lead\n  takes words from "A", "B"\n  source "S"\n  note "N"\n'
    )
    file = made.file
    assert made.findings == () and file.kind == "room" and file.title is not None
    assert file.title.plain == "A room" and file.remarks.beside == "beside"
    edition, force, review, owner, taken, source, note = file.header
    assert isinstance(edition, tree.Edition) and edition.number == 3
    assert isinstance(force, tree.InForce) and force.day == date(2027, 1, 31)
    assert isinstance(review, tree.ReviewBy) and review.day == date(2028, 2, 29)
    assert isinstance(owner, tree.Owner) and owner.who.plain == "infection control lead"
    assert owner.who.text == "infection   control lead"
    assert isinstance(taken, tree.TakesWords) and plain(taken.titles) == ["A", "B"]
    assert isinstance(source, tree.Source) and source.text.text == "S"
    assert isinstance(note, tree.Note) and note.text.place.column == 9


def test_steps_and_their_lines():
    said, labelled, free = steps(
        "  [ ] say: what: will happen\n  [ ] take out: operator takes it out\n"
        '      only when settings chosen\n      note "N"\n      after one, two words\n'
        "      sets record open\n      ends x\n  [ ] at 10:30 operator waits 2 minutes\n"
    )
    assert isinstance(said, tree.Step) and isinstance(said.does, tree.Say)
    assert said.label is None and said.does.text.plain == "what: will happen"
    assert isinstance(labelled, tree.Step) and isinstance(labelled.does, tree.Words)
    assert labelled.label is not None and labelled.label.text == "take out"
    assert labelled.does.plain == "operator takes it out"
    when, note, after, sets, ends = labelled.lines
    assert isinstance(when, tree.OnlyWhen) and isinstance(when.claim, tree.FactIs)
    assert isinstance(note, tree.Note)
    assert isinstance(after, tree.After) and plain(after.labels) == ["one", "two words"]
    assert isinstance(sets, tree.Sets) and sets.value and sets.fact.plain == "record open"
    assert isinstance(ends, tree.Sets) and not ends.value
    assert isinstance(free, tree.Step) and free.label is None


def test_blocks():
    go, order, any_order, mixed, side, where = steps(
        "  in one go\n    [ ] a\n  in order\n    [ ] a\n  any order\n    [ ] a\n"
        "  any  order , mixed\n    [ ] a\n    [ ] b\n"
        "  side by side\n    operator\n      [ ] a\n    second helper\n      [ ] b\n"
        "  where a is b\n    [ ] a\n  otherwise where a is not c or d is e\n    [ ] b\n"
        "  otherwise\n    [ ] c\n"
    )
    assert isinstance(go, tree.InOneGo) and isinstance(order, tree.InOrder)
    assert isinstance(any_order, tree.AnyOrder) and not any_order.mixed
    assert isinstance(mixed, tree.AnyOrder) and mixed.mixed and len(mixed.items) == 2
    assert isinstance(side, tree.SideBySide)
    lanes = [lane for lane in side.lanes if isinstance(lane, tree.Lane)]
    assert [lane.person.plain for lane in lanes] == ["operator", "second helper"]
    assert isinstance(where, tree.Where)
    first, second, last = where.branches
    assert isinstance(first.condition, tree.ChoiceIs) and first.condition.value.plain == "b"
    assert isinstance(second.condition, tree.Joined) and not second.condition.every
    assert last.condition is None


def test_spread_conditions_and_claims():
    where, step = steps(
        "  where all of\n    a is b\n    any of\n      c is d\n      e is f and g is h\n"
        "    [ ] x\n  [ ] y\n      only when any of\n        a is bare\n        all of\n"
        "          b is dry\n          not c\n"
    )
    assert isinstance(where, tree.Where)
    condition = where.branches[0].condition
    assert isinstance(condition, tree.Joined) and condition.every and condition.spread
    inner = condition.parts[1]
    assert isinstance(inner, tree.Joined) and inner.spread and not inner.every
    line = inner.parts[1]
    assert isinstance(line, tree.Joined) and not line.spread and line.every
    assert len(where.branches[0].items) == 1
    assert isinstance(step, tree.Step)
    when = step.lines[0]
    assert isinstance(when, tree.OnlyWhen) and isinstance(when.claim, tree.JoinedClaims)
    assert when.claim.spread and when.claim.words is None and not when.claim.every
    deep = when.claim.parts[1]
    assert isinstance(deep, tree.JoinedClaims) and deep.every
    last = deep.parts[1]
    assert isinstance(last, tree.FactIs) and last.negated and last.what is None


def claims(text: str) -> tree.Claim:
    [step] = steps(f"  [ ] x\n      only when {text}\n")
    assert isinstance(step, tree.Step)
    [when] = step.lines
    assert isinstance(when, tree.OnlyWhen)
    return when.claim


def test_claims():
    covered = claims("tube and cone is not covered with wrap with tape")
    assert isinstance(covered, tree.JoinedClaims) and covered.words is not None
    assert covered.words.text == "tube and cone is not covered with wrap with tape"
    covered = claims("tube head is not covered with wrap with tape")
    assert isinstance(covered, tree.Covered) and covered.negated and covered.cover is not None
    assert covered.cover.plain == "wrap with tape"
    covered = claims("tube head is covered")
    assert isinstance(covered, tree.Covered) and covered.cover is None
    bare = claims("operator's hands are bare")
    assert isinstance(bare, tree.Bare) and bare.plural and bare.what.text == "operator's hands"
    dry = claims("x is not dry")
    assert isinstance(dry, tree.Dry) and dry.negated
    clean = claims("x is clean of other patients")
    assert isinstance(clean, tree.Clean) and clean.of_others
    clean = claims("x is clean")
    assert isinstance(clean, tree.Clean) and not clean.of_others
    wears = claims("operator does not wear gloves")
    assert isinstance(wears, tree.Wears) and wears.negated and wears.cover.plain == "gloves"
    fact = claims("operator is behind the barrier")
    assert isinstance(fact, tree.FactIs) and fact.what is not None
    assert fact.fact.plain == "behind the barrier"
    fact = claims("not settings chosen")
    assert isinstance(fact, tree.FactIs) and fact.what is None and fact.negated
    fact = claims("sensor is clean enough")  # a fact that begins with a word of a claim
    assert isinstance(fact, tree.FactIs) and fact.fact.plain == "clean enough"
    fact = claims("not-so good")
    assert isinstance(fact, tree.FactIs) and not fact.negated and fact.fact.plain == "not-so good"
    fact = claims('"this and that" is covered up')
    assert isinstance(fact, tree.FactIs) and fact.what is not None
    assert fact.what.text == '"this and that"'


def test_a_name_with_a_joining_word_is_cut_and_can_be_mended():
    joined = claims("operator's nose and mouth are bare")
    assert isinstance(joined, tree.JoinedClaims) and joined.every and joined.words is not None
    first, second = joined.parts
    assert isinstance(first, tree.FactIs) and first.what is None
    assert isinstance(second, tree.Bare) and second.plural
    start = first.place.column - joined.words.place.column
    end = second.what.place.end - joined.words.place.column
    assert joined.words.text[start:end] == "operator's nose and mouth"


def test_things():
    things = section(
        "things\n  sensor, plate: receptor; has head, cable; takes cover a on head, "
        "cable, then b; starts covered with a; kept clean; used once; leaks; goes in the mouth; "
        "not heat safe; always sleeved in the mouth; lets water, spray through; "
        "worn on nose and mouth over gown; laid out on clean half, from box; goes to bin; "
        "treats to low; stays wet 2 minutes\n  mask: mask; from box\n"
    )
    assert isinstance(things, tree.Things) and things.heading == "things"
    sensor, mask = things.lines
    assert isinstance(sensor, tree.ThingLine) and plain(sensor.names) == ["sensor", "plate"]
    assert sensor.kind.plain == "receptor"
    (
        has,
        takes,
        starts,
        start,
        once,
        leaks,
        goes_in,
        heat,
        sleeved,
        lets,
        worn,
        laid,
        to,
        treats,
        wet,
    ) = sensor.traits
    assert isinstance(has, tree.Has)
    assert [part.name.plain for part in has.parts] == ["head", "cable"]
    assert isinstance(takes, tree.TakesCover)
    assert [(c.cover.plain, plain(c.on)) for c in takes.covers] == [
        ("a", ["head", "cable"]),
        ("b", []),
    ]
    assert isinstance(starts, tree.StartsCovered) and starts.cover.plain == "a"
    assert isinstance(start, tree.StartsAs) and start.how == "kept clean"
    flags = [trait.what for trait in (once, leaks, goes_in, heat, sleeved)
             if isinstance(trait, tree.Trait)]  # fmt: skip
    assert flags == [
        "used once", "leaks", "goes in the mouth", "not heat safe", "always sleeved in the mouth",
    ]  # fmt: skip
    assert isinstance(lets, tree.LetsThrough) and plain(lets.names) == ["water", "spray"]
    assert isinstance(worn, tree.WornOn) and worn.part.plain == "nose and mouth"
    assert worn.over is not None and worn.over.plain == "gown"
    assert isinstance(laid, tree.LaidOut)
    assert (laid.surface.plain, laid.box.plain) == ("clean half", "box")
    assert isinstance(to, tree.GoesTo) and isinstance(treats, tree.TreatsTo)
    assert isinstance(wet, tree.StaysWet) and wet.minutes == 2
    assert isinstance(mask, tree.ThingLine) and isinstance(mask.traits[0], tree.From)


def test_a_verb():
    verb = section(
        "verb ACTOR does EACH THING\n  also ACTOR do EACH THING\n  take A's back with B's hands\n"
        "  lay out A with B\n  meet A, B, the patient's mouth\n  brush A, B\n  may meet A, B\n"
        "  pass A, B to C, D\n"
        "  pass a trace of what came off to C\n  cover A with B\n  uncover A from B\n"
        "  tear B on A\n  wash A, B\n  reduce A, B to low through steam\n  reduce A by B\n"
        "  retire what came off\n  retire A into B\n  no contact\n"
    )
    assert isinstance(verb, tree.Verb) and verb.form.plain == "ACTOR does EACH THING"
    also, take, lay, meet, brush, may, all_, trace, cover, uncover, *rest = verb.lines
    tear, wash, to, by, off, into, none = rest
    assert isinstance(also, tree.Also) and also.form.plain == "ACTOR do EACH THING"
    assert isinstance(take, tree.Take)
    assert (take.what.plain, take.hands.plain) == ("A's back", "B's hands")
    assert isinstance(lay, tree.LayOut) and lay.hands.plain == "B"
    assert isinstance(meet, tree.Meet) and not meet.trace
    assert plain(meet.what) == ["A", "B", "the patient's mouth"]
    assert isinstance(brush, tree.Meet) and brush.trace and not brush.may
    assert isinstance(may, tree.Meet) and may.may and not may.trace and not meet.may
    assert isinstance(all_, tree.Pass) and not all_.trace
    assert (plain(all_.sources), plain(all_.goals)) == (["A", "B"], ["C", "D"])
    assert isinstance(trace, tree.Pass) and trace.trace
    assert plain(trace.sources) == ["what came off"]
    assert isinstance(cover, tree.Cover) and cover.cover.plain == "B"
    assert isinstance(uncover, tree.Uncover) and uncover.cover.plain == "B"
    assert isinstance(tear, tree.Tear) and (tear.cover.plain, tear.what.plain) == ("B", "A")
    assert isinstance(wash, tree.Wash) and plain(wash.what) == ["A", "B"]
    assert isinstance(to, tree.Reduce) and to.level is not None and to.through is not None
    assert (plain(to.what), to.level.plain, to.through.plain) == (["A", "B"], "low", "steam")
    assert isinstance(by, tree.Reduce) and by.level is None and by.product is not None
    assert isinstance(off, tree.Retire) and off.stream is None
    assert isinstance(into, tree.Retire) and into.stream is not None
    assert isinstance(none, tree.NoContact)


def test_other_sections():
    made = sections(
        "choices, fixed for the clinic\n  a: b, c d\n\nkinds of thing\n  surface, box\n  bin\n\n"
        "parts of a patient\n  hands: skin; unclean on coming in; full of saliva\n\n"
        "facts of a person\n  a fact; lasting\n\ngerms, hardest first\n  spores\n\n"
        'levels, weakest first\n  low: acts on rinsed soil; ends a, b\n    source "S"\n'
        "  top: acts on all soil; ends every class\n  rinse: acts on chemicals\n\n"
        "floors where a is b\n  x, not heat safe: low\n"
        "\npeople\n  operator, helper: staff\n\nwaste streams\n"
        '  red: to "There", and back\n  any\n'
        "\ngroups\n  machine: a, b c\n\nbegins with\n  a wears b; used\n\nleaves\n  a is bare\n"
        '\nduty "D"\n  while f, hands touch nothing\n'
    )
    (
        choices,
        names,
        parts,
        facts,
        germs,
        levels,
        floors,
        people,
        streams,
        groups,
        begins,
        leaves,
        duty,
    ) = made
    assert isinstance(choices, tree.Choices) and choices.fixed
    assert isinstance(choices.lines[0], tree.ChoiceLine)
    assert plain(choices.lines[0].values) == ["b", "c d"]
    assert isinstance(names, tree.Kinds) and len(names.lines) == 2
    assert isinstance(parts, tree.Parts) and parts.of == "patient"
    assert isinstance(parts.lines[0], tree.PartLine) and parts.lines[0].full_of == "saliva"
    assert isinstance(facts, tree.Facts) and facts.of == "person"
    assert isinstance(facts.lines[0], tree.FactLine) and facts.lines[0].lasting
    assert isinstance(germs, tree.Germs)
    assert isinstance(levels, tree.Levels)
    low, top, rinse = levels.lines
    assert isinstance(low, tree.LevelLine) and low.acts_on == "rinsed soil" and low.ends is not None
    assert plain(low.ends) == ["a", "b"] and len(low.lines) == 1
    assert isinstance(top, tree.LevelLine) and top.ends is None
    assert isinstance(rinse, tree.LevelLine) and (rinse.acts_on, rinse.ends) == ("chemicals", ())
    assert isinstance(floors, tree.Floors) and isinstance(floors.condition, tree.ChoiceIs)
    assert isinstance(floors.lines[0], tree.FloorLine)
    assert plain(floors.lines[0].traits) == ["x", "not heat safe"]
    assert isinstance(people, tree.People) and isinstance(people.lines[0], tree.PersonLine)
    assert people.lines[0].kind == "staff" and len(people.lines[0].names) == 2
    assert isinstance(streams, tree.Streams)
    red, other = streams.lines
    assert isinstance(red, tree.StreamLine) and red.note is not None
    assert red.note.text == 'to "There", and back'
    assert isinstance(other, tree.StreamLine) and other.note is None
    assert isinstance(groups, tree.Groups) and isinstance(groups.lines[0], tree.GroupLine)
    assert isinstance(begins, tree.BeginsWith) and isinstance(begins.lines[0], tree.BeginsLine)
    assert begins.lines[0].used and isinstance(begins.lines[0].claim, tree.Wears)
    assert isinstance(leaves, tree.Leaves) and isinstance(leaves.lines[0], tree.LeavesLine)
    assert isinstance(duty, tree.Duty) and isinstance(duty.lines[0], tree.While)


# --- What a fault leaves standing ----------------------------------------------------------------


def spoiled_in(item: object) -> tree.Spoiled:
    assert isinstance(item, tree.Spoiled)
    return item


def test_a_spoiled_step_keeps_its_label_and_its_neighbours():
    made = reading('protocol "P"\n\nphase "V"\n  [] place: x\n  out: y\n  [ ] z\n')
    [phase] = made.file.sections
    assert isinstance(phase, tree.Phase)
    first, second, third = phase.items
    assert plain(spoiled_in(first).names) == ["place"]
    assert plain(spoiled_in(second).names) == ["out"]
    assert isinstance(third, tree.Step)


def test_a_spoiled_block_keeps_the_steps_under_it():
    made = reading(
        'protocol "P"\n\nphase "V"\n  in one goo\n    [ ] in: x\n    any order\n      [ ] y\n'
    )
    [phase] = made.file.sections
    assert isinstance(phase, tree.Phase)
    [block] = phase.items
    step, inner = spoiled_in(block).items
    assert isinstance(step, tree.Step) and isinstance(inner, tree.AnyOrder)
    assert len(made.findings) == 1


def test_a_spoiled_heading_keeps_the_names_under_it():
    made = reading(
        'protocol "P"\n\nchoices, each vsit\n  staffing: alone, paired\n  other thing one\n'
    )
    [section] = made.file.sections
    assert plain(spoiled_in(section).names) == [
        "staffing",
        "other thing one",
        "other",
        "other thing",
    ]


def test_a_spoiled_thing_keeps_its_names_and_a_spoiled_trait_its_thing():
    made = reading('room "R"\n\nthings\n  a, b c shiny\n  d: box; shiny; used once\n')
    [things] = made.file.sections
    assert isinstance(things, tree.Things)
    lost, kept = things.lines
    # Where the name ends that the line would declare cannot be known.
    assert plain(spoiled_in(lost).names) == ["a", "b c shiny", "b", "b c"]
    assert isinstance(kept, tree.ThingLine)
    assert [type(trait) for trait in kept.traits] == [tree.Spoiled, tree.Trait]


def test_a_colon_too_many_spoils_nothing():
    made = reading('protocol "P"\n\nchoices, fixed for the clinic :\n  a: b, c\n')
    assert [finding.kind for finding in made.findings] == ["colon-at-end"]
    [choices] = made.file.sections
    assert isinstance(choices, tree.Choices) and choices.fixed


def test_of_a_line_that_is_spoiled_nothing_more_is_said():
    assert kinds('protocol "P"\n\nphase "V"\n  [] x\u200b\n') == ["letter-not-allowed"]
    assert kinds('protocol "P"\n\nphase "V"\n    [ ] a\n  [] b\n') == ["wrong-indent"]
    assert kinds(f'protocol "P"\n\nphase "V"\n  [] {"x" * 500}\n') == ["line-too-long"]


def test_a_condition_that_is_spoiled_keeps_its_branches():
    made = reading('protocol "P"\n\nphase "V"\n  where a is\n    [ ] x\n  otherwise\n    [ ] y\n')
    [phase] = made.file.sections
    assert isinstance(phase, tree.Phase)
    [where] = phase.items
    assert isinstance(where, tree.Where)
    assert [len(branch.items) for branch in where.branches] == [1, 1]
    assert isinstance(where.branches[0].condition, tree.Spoiled)
    assert len(made.findings) == 1


def test_no_steps_hide_behind_a_spoiled_first_line():
    made = reading('protcol "P"\n\nphase "V"\n  [ ] x\n  [] y\n')
    assert [finding.kind for finding in made.findings] == ["opening-misspelt", "box-form"]


def test_findings_tell_the_heading_they_stand_under():
    made = reading('protocol "P"\n  edition x\n\nphase "V"\n  [] y\n')
    assert [finding.context for finding in made.findings] == ['protocol "P"', 'phase "V"']


# --- Limits, at their edges ----------------------------------------------------------------------


def nested(depth: int) -> str:
    """A text whose deepest line stands at this depth; sections stand at depth 1."""
    inside = "".join(f"{'  ' * at}in order\n" for at in range(1, depth - 1))
    return f'protocol "P"\n\nphase "V"\n{inside}{"  " * (depth - 1)}[ ] x\n'


def test_nesting_at_the_edge():
    assert kinds(nested(20)) == []
    assert kinds(nested(21)) == ["nested-too-deep"]


def test_very_deep_nesting_is_one_finding():
    deep = "".join(f"{' ' * at}in order\n" for at in range(1, 1200))
    assert kinds(f'protocol "P"\n\nphase "V"\n{deep}') == ["nested-too-deep"]


def test_letters_of_a_line_at_the_edge():
    start = '  note "'
    good = start + "x" * (500 - len(start) - 1) + '"'
    assert kinds(f'protocol "P"\n{good}\n') == []
    assert kinds(f'protocol "P"\n{good} \n') == ["line-too-long"]


def test_figures_at_the_edge():
    assert kinds('protocol "P"\n  edition 123456789\n') == []
    assert kinds('protocol "P"\n  edition 1234567890\n') == ["not-a-number"]
    assert kinds('protocol "P"\n  edition ١٢\n') == ["not-a-number"]


def test_words_of_a_label_at_the_edge():
    assert kinds('protocol "P"\n\nphase "V"\n  [ ] one two three four: x\n') == []
    assert kinds('protocol "P"\n\nphase "V"\n  [ ] one two three four five: x\n') == [
        "label-too-long"
    ]


def test_not_more_findings_than_can_be_read():
    found = kinds('protocol "P"\n\nphase "V"\n' + "  [] x\n" * 500)
    assert len(found) == MAX_FAULTS + 1
    assert found[-1] == "more-faults"


# --- Words ---------------------------------------------------------------------------------------


def test_every_piece_of_a_line_has_words_for_people():
    assert lines.terminals() == PIECES.keys()


def test_words_for_pieces_show_no_name_of_the_grammar():
    for piece, words in PIECES.items():
        assert piece not in words and "_" not in words


@pytest.mark.parametrize("joint", ["with", "when", "take", "sets", "after", "note", "where", "is"])
def test_a_word_of_the_language_is_no_beginning_of_a_longer_word(joint: str):
    [step] = steps(f"  [ ] {joint}abc x\n      only when {joint}abc x\n")
    assert isinstance(step, tree.Step)
    assert kinds(f'protocol "P"\n\nphase "V"\n  [ ] x\n      {joint}abc y\n') == ["opening-unknown"]


def test_a_joining_word_ends_where_its_word_ends():
    verb = section("verb V\n  cover the with-held with with's and with-drawn\n")
    assert kinds('protocol "P"\n\nverb V\n  cover a with b with-held with c\n') == ["joined-twice"]
    assert isinstance(verb, tree.Verb)
    [cover] = verb.lines
    assert isinstance(cover, tree.Cover)
    assert (cover.what.plain, cover.cover.plain) == ("the with-held", "with's and with-drawn")


def test_words_have_no_blanks_around_them():
    things = section("things\n  a  b , c :  box ;  leaks  ;  from  d  e  ; has  f\n")
    assert isinstance(things, tree.Things)
    [line] = things.lines
    assert isinstance(line, tree.ThingLine)
    assert [name.text for name in line.names] == ["a  b", "c"]
    marked = [(trait.place.column, trait.place.end) for trait in line.traits]
    assert marked == [(22, 27), (32, 42), (46, 52)]


def test_a_nearest_opening_is_named_only_when_it_is_alone():
    assert openers.nearest_of([("boxes", "boxed"), ("boxer", "boxed")]) is None
    assert openers.nearest_of([("boxes", "boxed")]) == "boxes"
    assert openers.nearest_of([("note", "vote")]) == "note"
    assert openers.nearest_of([("note", "vots")]) is None  # two letters of four
    assert openers.nearest_of([("where", "hwere")]) == "where"  # two letters changed places


# --- What is said --------------------------------------------------------------------------------


@pytest.mark.parametrize("entry", text_faults.ENTRIES, ids=lambda entry: entry.kind)
def test_the_examples_of_each_explanation_are_what_they_say(entry: Entry):
    def told_in(example: str) -> list[str]:
        text = decode(example.encode(), "example.protocol")
        return [found.kind for found in open_text(text, None, SHIPPED).findings]

    assert told_in(entry.good) == []
    if entry.faulty:
        assert told_in(entry.faulty) == [entry.kind]


def test_kinds_of_faults_in_texts_have_numbers_of_their_own():
    numbers = [entry.number for entry in text_faults.ENTRIES]
    assert numbers == [f"T{number:02}" for number in range(1, len(numbers) + 1)]
