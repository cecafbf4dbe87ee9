"""From trees to the model: what lines come to, and what is told about them."""

from __future__ import annotations

import random
from dataclasses import fields, is_dataclass

import pytest

from protocol_lang.language.load import Loaded, load_text
from protocol_lang.model.conditions import (
    AnySo,
    ChoiceIs,
    EverySo,
    EveryWhere,
    FactHolds,
    FactSince,
    IsCleanOf,
    IsCovered,
    IsDry,
    NotSo,
    NotWhere,
)
from protocol_lang.model.parts import FactOf, Start
from protocol_lang.model.protocol import Protocol
from protocol_lang.model.steps import Doing, InOneGo, Saying, SideBySide, Step, Waiting, Where
from protocol_lang.model.verbs import (
    CoversWith,
    LaysOut,
    Meets,
    OfPatient,
    OfPerson,
    OfSlot,
    OfThing,
    Passes,
    Reduces,
    Retires,
    SetsFact,
    Takes,
    Tears,
    Uncovers,
    WhatCameOff,
    WhereFrom,
)
from protocol_lang.text import Place, decode
from protocol_lang.wording import name_faults
from protocol_lang.wording.entry import Entry

SMALL = """protocol "Small"
  edition 2
  in force from 2026-01-01

kinds of thing
  surface, cover, tool, wipe

parts of staff
  hands: skin; unclean on coming in
  nose and mouth: face

parts of a patient
  mouth: mouth; full of saliva

facts
  settings chosen

facts of a person
  behind the barrier

facts of a thing
  inspected
  packed

germs, hardest first
  spores
  fungi

levels, weakest first
  low: acts on rinsed soil; ends fungi
  high: acts on all soil; ends every class

people
  operator, helper: staff
  patient: patient

waste streams
  bin bag

things
  lamp, shelf: surface; takes cover film; starts covered with film
  film: cover; used once; from roll; goes to bin bag
  roll: tool; kept clean
  sensor: tool; has head, cable; goes in the mouth; takes cover film on head
  gloves: cover; worn on hands
  mask: cover; worn on nose and mouth
  wipe: wipe; has face, back; treats to low; stays wet 2 minutes; laid out on shelf, from roll

groups
  both: lamp, shelf

choices, each visit
  staffing: alone, paired

choices, fixed for the clinic
  rule: strict, plain
"""


def loaded(text: str) -> Loaded:
    return load_text(decode(text.encode(), "small.protocol"))


def small(more: str) -> Loaded:
    return loaded(SMALL + "\n" + more)


def resolved(more: str) -> Protocol:
    found = small(more)
    assert found.findings == ()
    assert found.complete and found.protocol is not None
    return found.protocol


def told(more: str) -> list[tuple[str, str]]:
    """Kinds, and the words that are marked."""
    found = small(more)
    marked = []
    for finding in found.findings:
        assert finding.place is not None
        marked.append((finding.kind, found.texts[finding.place.file].marked(finding.place)))
    return marked


def without_places(value: object) -> object:
    """A model as plain tuples, places left out, to compare."""
    if isinstance(value, Place):
        return None
    if is_dataclass(value):
        return (
            type(value).__name__,
            *(without_places(getattr(value, f.name)) for f in fields(value)),
        )
    if isinstance(value, tuple):
        return tuple(without_places(part) for part in value)
    if isinstance(value, dict):
        return {key: without_places(part) for key, part in value.items()}
    return value


def step(protocol: Protocol, at: int = 0) -> Step:
    found = protocol.phases[-1].items[at]
    assert isinstance(found, Step)
    return found


def one_verb(body: str, form: str = "ACTOR does TOOL") -> Protocol:
    return resolved(f"verb {form}\n" + "".join(f"  {line}\n" for line in body.split("\n")))


def claim(text: str) -> object:
    protocol = resolved(
        f'verb ACTOR rests\n  no contact\n\nphase "P"\n  [ ] operator rests\n      only when {text}'
    )
    (found,) = step(protocol).claims
    return without_places(found)


def like(value: object) -> object:
    return without_places(value)


HERE = Place("", 1, 1, 2)

# --- What is declared ----------------------------------------------------------------------------


def test_things_with_their_traits() -> None:
    protocol = resolved("")
    wipe = protocol.things["wipe"]
    assert (wipe.level, wipe.wet_minutes) == ("low", 2)
    assert (wipe.comes_from, wipe.stocked_from) == ("shelf", "roll")
    assert [part.name for part in wipe.parts] == ["face", "back"]
    assert protocol.things["lamp"].takes == (("film", ()),)
    assert protocol.things["sensor"].takes == (("film", ("head",)),)
    assert protocol.things["sensor"].goes_in_mouth
    assert protocol.things["lamp"].starts_covered == "film"
    assert protocol.things["film"].used_once and protocol.things["film"].stream == "bin bag"
    assert protocol.things["roll"].start is Start.KEPT_CLEAN
    assert protocol.things["mask"].worn_on == "nose and mouth"
    assert protocol.groups["both"].members == ("lamp", "shelf")
    assert protocol.facts["inspected"].of is FactOf.THING
    assert [(level.name, level.rank) for level in protocol.levels.values()] == [
        ("low", 1),
        ("high", 2),
    ]
    assert protocol.levels["high"].ends == ("spores", "fungi")
    assert [(c.name, c.values, c.fixed) for c in protocol.choices] == [
        ("staffing", ("alone", "paired"), False),
        ("rule", ("strict", "plain"), True),
    ]
    assert protocol.header.edition == 2


def test_groups_of_groups_are_spelt_out_in_any_order() -> None:
    protocol = resolved("groups\n  all of it: some, sensor\n  some: both, film")
    assert protocol.groups["all of it"].members == ("lamp", "shelf", "film", "sensor")


def test_floors_with_conditions() -> None:
    protocol = resolved("floors where rule is strict\n  surface, goes in the mouth: high")
    (floor,) = protocol.floors
    assert floor.traits == {"surface", "goes in the mouth"}
    assert like(floor.where) == like(ChoiceIs("rule", "strict", HERE))


def test_duties() -> None:
    protocol = resolved('duty "Stay"\n  while behind the barrier, hands touch nothing')
    (duty,) = protocol.duties
    assert (duty.name, duty.fact, duty.part) == ("Stay", "behind the barrier", "hands")


def test_how_a_visit_begins_and_what_it_leaves() -> None:
    protocol = resolved(
        "begins with\n  both is covered with film; used\n  operator wears mask\n"
        "leaves\n  lamp is covered with film\n  operator's hands are bare\n"
    )
    assert [like(b) for b in protocol.begins] == [
        like(type(protocol.begins[0])(what, cover, used, HERE))
        for what, cover, used in (
            (OfThing("lamp"), "film", True),
            (OfThing("shelf"), "film", True),
            (OfPerson("operator", "nose and mouth"), "mask", False),
        )
    ]
    hands = OfPerson("operator", "hands")
    assert like(protocol.leaves) == like(
        (
            IsCovered(OfThing("lamp"), "film", HERE),
            NotSo(IsCovered(hands, None, HERE)),
        )
    )


# --- Claims --------------------------------------------------------------------------------------

_HANDS = OfPerson("operator", "hands")


@pytest.mark.parametrize(
    ("text", "means"),
    [
        ("operator's hands are bare", NotSo(IsCovered(_HANDS, None, HERE))),
        ("operator\u2019s hands are not bare", IsCovered(_HANDS, None, HERE)),
        ("operator wears gloves", IsCovered(_HANDS, "gloves", HERE)),
        ("operator does not wear gloves", NotSo(IsCovered(_HANDS, "gloves", HERE))),
        ("patient's mouth is clean of other patients",
         IsCleanOf(OfPerson("patient", "mouth"), False, False, HERE)),
        ("sensor's head is clean", IsCleanOf(OfThing("sensor", "head"), True, True, HERE)),
        ("the lamp is dry", IsDry(OfThing("lamp"), HERE)),
        ("both are dry", EverySo((IsDry(OfThing("lamp"), HERE), IsDry(OfThing("shelf"), HERE)))),
        ("settings chosen", FactHolds("settings chosen", None, HERE)),
        ("settings are chosen", FactHolds("settings chosen", None, HERE)),
        ("operator is behind the barrier",
         FactHolds("behind the barrier", OfPerson("operator", None), HERE)),
        ("sensor is inspected", FactHolds("inspected", OfThing("sensor"), HERE)),
        ("sensor is inspected since packed",
         FactSince("inspected", OfThing("sensor"), "packed", OfThing("sensor"), False, HERE)),
        ("sensor is not inspected since settings chosen",
         FactSince("inspected", OfThing("sensor"), "settings chosen", None, True, HERE)),
        ("operator is not behind the barrier since sensor packed",
         FactSince("behind the barrier", OfPerson("operator", None), "packed",
                   OfThing("sensor"), True, HERE)),
        ("lamp and sensor are not inspected since packed",
         EverySo((FactSince("inspected", OfThing("lamp"), "packed", OfThing("lamp"), True, HERE),
                  FactSince("inspected", OfThing("sensor"), "packed", OfThing("sensor"), True,
                            HERE)))),
        ("not settings chosen since sensor packed",
         FactSince("settings chosen", None, "packed", OfThing("sensor"), True, HERE)),
        ("sensor is covered with film or settings chosen",
         AnySo((IsCovered(OfThing("sensor"), "film", HERE),
                FactHolds("settings chosen", None, HERE)))),
        ("operator's nose and mouth are bare",
         NotSo(IsCovered(OfPerson("operator", "nose and mouth"), None, HERE))),
        ("lamp and sensor are dry",
         EverySo((IsDry(OfThing("lamp"), HERE), IsDry(OfThing("sensor"), HERE)))),
        ("both are dry and settings chosen",
         EverySo((IsDry(OfThing("lamp"), HERE), IsDry(OfThing("shelf"), HERE),
                  FactHolds("settings chosen", None, HERE)))),
        ("wipe's box is dry", IsDry(WhereFrom(OfThing("wipe")), HERE)),
    ],
)  # fmt: skip
def test_claims(text: str, means: object) -> None:
    assert claim(text) == like(means)


# --- Verbs ---------------------------------------------------------------------------------------


def test_the_lines_of_a_verb() -> None:
    protocol = one_verb(
        "only when ACTOR wears gloves\n"
        "take TOOL with ACTOR's hands\n"
        "meet ACTOR's hands, TOOL's head, the patient's mouth\n"
        "brush TOOL, lamp\n"
        "pass a trace of TOOL to lamp, TOOL's box\n"
        "wash TOOL\n"
        "reduce TOOL to high through hot steam\n"
        "cover TOOL with film\n"
        "uncover TOOL from film\n"
        "retire what came off into bin bag\n"
        "tear film on TOOL\n"
        "sets settings chosen\n"
        "ends ACTOR behind the barrier\n"
        "sets TOOL inspected"
    )
    (verb,) = protocol.verbs
    hands, tool = OfSlot("ACTOR", "hands"), OfSlot("TOOL")
    assert like(verb.claims) == like((IsCovered(hands, "gloves", HERE),))
    lines = [like(line) for line in verb.lines]
    assert lines[0] == like(Takes(tool, hands, HERE))
    assert lines[1] == like(Meets((hands, OfSlot("TOOL", "head"), OfPatient("mouth")), False, HERE))
    assert lines[2] == like(Meets((tool, OfThing("lamp")), True, HERE))
    assert lines[3] == like(Passes((tool,), (OfThing("lamp"), WhereFrom(tool)), True, HERE))
    assert lines[5] == like(Reduces((tool,), "high", None, "hot steam", HERE))
    assert lines[6] == like(CoversWith(tool, OfThing("film"), HERE))
    assert lines[7] == like(Uncovers(tool, OfThing("film"), HERE))
    assert lines[8] == like(Retires(WhatCameOff(), "bin bag", HERE))
    assert lines[9] == like(Tears(OfThing("film"), tool, HERE))
    assert lines[10] == like(SetsFact("settings chosen", None, True, HERE))
    assert lines[11] == like(SetsFact("behind the barrier", OfSlot("ACTOR"), False, HERE))
    assert lines[12] == like(SetsFact("inspected", tool, True, HERE))


def test_a_cover_in_a_slot_and_a_product_in_a_slot() -> None:
    protocol = resolved(
        "verb ACTOR wipes SURFACE with WIPE\n"
        "  meet WIPE's face, SURFACE\n  reduce SURFACE by WIPE\n\n"
        "verb ACTOR doffs COVER\n  only when ACTOR wears COVER\n  retire COVER into bin bag\n\n"
        "verb ACTOR stocks WIPE\n  lay out WIPE with ACTOR's hands\n"
    )
    wipes, doffs, stocks = protocol.verbs
    assert like(wipes.lines[1]) == like(Reduces((OfSlot("SURFACE"),), None, "WIPE", None, HERE))
    assert like(doffs.claims) == like((IsCovered(OfSlot("ACTOR"), "COVER", HERE),))
    assert like(stocks.lines) == like((LaysOut(OfSlot("WIPE"), OfSlot("ACTOR", "hands"), HERE),))


def test_a_kind_in_a_verb_is_any_thing_of_that_kind() -> None:
    protocol = resolved(
        "kinds of thing\n  apron\nthings\n  long apron, short apron: apron; worn on hands\n\n"
        "verb ACTOR bows\n  only when ACTOR wears apron\n  no contact"
    )
    hands = OfSlot("ACTOR", "hands")
    assert like(protocol.verbs[0].claims) == like(
        (
            AnySo(
                (
                    IsCovered(hands, "long apron", HERE),
                    IsCovered(hands, "short apron", HERE),
                )
            ),
        )
    )


def test_another_form_may_have_a_slot_of_another_kind() -> None:
    protocol = resolved(
        "verb ACTOR lifts EACH TOOL\n  also ACTOR lifts EACH SURFACE\n"
        "  also EACH ACTOR lift SURFACE\n  meet ACTOR's hands, TOOL\n\n"
        'phase "P"\n  [ ] operator lifts lamp\n  [ ] operator and helper lift shelf\n'
    )
    first, second = step(protocol).does, step(protocol, 1).does
    assert isinstance(first, Doing) and isinstance(second, Doing)
    assert first.filled == {"ACTOR": ("operator",), "TOOL": ("lamp",)}
    assert second.filled == {"ACTOR": ("operator", "helper"), "TOOL": ("shelf",)}
    assert first.verb is second.verb
    assert first.frame.text == "ACTOR lifts EACH SURFACE"


# --- The checklist -------------------------------------------------------------------------------

VERB = """verb ACTOR wipes EACH SURFACE
  also EACH ACTOR wipe SURFACE
  meet ACTOR's hands, SURFACE

"""


def test_steps_and_blocks() -> None:
    protocol = resolved(
        VERB + 'phase "P"\n'
        '  [ ] first: operator wipes both\n      short "Wipe"\n      note "Gently"\n'
        "  [ ] say: hello\n"
        "  [ ] helper waits 3 minutes\n"
        "  [ ] operator waits until the lamp is dry\n"
        "  in one go\n    [ ] operator wipes lamp\n        after first\n"
        "        sets operator behind the barrier\n"
        "  side by side\n    operator\n      [ ] operator wipes lamp\n"
        "    helper\n      [ ] helper wipes shelf\n"
        "  where staffing is alone and rule is not strict\n    [ ] operator wipes lamp\n"
        "  otherwise\n    [ ] helper wipes lamp\n"
    )
    items = protocol.phases[0].items
    first = items[0]
    assert isinstance(first, Step) and isinstance(first.does, Doing)
    assert (first.label, first.text, first.short) == ("first", "operator wipes both", "Wipe")
    assert first.does.filled["SURFACE"] == ("lamp", "shelf")
    assert first.notes == ("Gently",)
    said, waits, dries = items[1:4]
    assert isinstance(said, Step) and said.does == Saying("hello")
    assert isinstance(waits, Step) and waits.does == Waiting("helper", 3, None)
    assert isinstance(dries, Step) and dries.does == Waiting("operator", None, "lamp")
    go = items[4]
    assert isinstance(go, InOneGo) and isinstance(go.items[0], Step)
    assert [label for label, _ in go.items[0].after] == ["first"]
    assert like(go.items[0].sets) == like(
        (SetsFact("behind the barrier", OfPerson("operator", None), True, HERE),)
    )
    side = items[5]
    assert isinstance(side, SideBySide)
    assert [person for person, _ in side.lanes] == ["operator", "helper"]
    where = items[6]
    assert isinstance(where, Where)
    condition = where.branches[0][0]
    assert like(condition) == like(
        EveryWhere(
            (ChoiceIs("staffing", "alone", HERE), NotWhere(ChoiceIs("rule", "strict", HERE)))
        )
    )
    assert where.branches[1][0] is None


# --- What is told --------------------------------------------------------------------------------


def test_each_wording_has_a_faulty_text_with_just_that_and_a_good_one() -> None:
    kinds = set()
    for entry in name_faults.ENTRIES:
        kinds.add(entry.kind)
        if entry.faulty:
            assert [f.kind for f in loaded(entry.faulty).findings] == [entry.kind]
            assert loaded(entry.good).findings == (), entry.kind
    assert len(kinds) == len({entry.number for entry in name_faults.ENTRIES})


def test_every_sentence_can_be_said() -> None:
    by_kind: dict[str, Entry] = {entry.kind: entry for entry in name_faults.ENTRIES}
    for entry in name_faults.ENTRIES:
        for finding in loaded(entry.faulty).findings if entry.faulty else ():
            sentence = by_kind[finding.kind].sentence(finding.facts)
            assert sentence.endswith(".") and "{" not in sentence
            for more in (entry.change(finding.facts), entry.because(finding.facts)):
                assert more is None or more


def test_a_step_that_is_not_understood_is_left_out_and_the_rest_is_read() -> None:
    found = small(VERB + 'phase "P"\n  [ ] operator wypes lamp\n  [ ] operator wipes shelf\n')
    assert [f.kind for f in found.findings] == ["verb-form"]
    assert found.findings[0].context == 'step 1 in "P"'
    assert not found.complete
    assert [u.kind for u in found.unchecked] == ["step-left-out"]
    assert found.protocol is not None
    assert [s.text for s in found.protocol.phases[0].items if isinstance(s, Step)] == [
        "operator wipes shelf"
    ]


def test_three_slips_are_three_findings_at_their_places() -> None:
    assert told(
        VERB + 'phase "P"\n'
        "  [ ] operator wipes lmap\n"
        "  where stafing is alone\n    [ ] operator wipes lamp\n        only when lamp is drie\n"
        "  otherwise\n    [ ] operator wipes lamp\n"
    ) == [("unknown-name", "lmap"), ("unknown-choice", "stafing"), ("unknown-fact", "drie")]


def test_a_name_that_failed_is_not_told_again_at_each_use() -> None:
    assert told(
        "things\n  stool: surfase\n\n" + VERB + 'phase "P"\n'
        "  [ ] operator wipes stool\n      only when stool is dry\n"
        "  [ ] operator wipes lamp and stool\n  [ ] operator wipes lmap\n"
    ) == [("unknown-kind", "surfase"), ("unknown-name", "lmap")]


def test_a_line_that_could_not_be_read_declares_its_names_all_the_same() -> None:
    found = told(
        "things\n  stool: surface; is wobbly\n\n" + VERB + 'phase "P"\n  [ ] operator wipes stool\n'
    )
    assert [marked for kind, marked in found if kind.startswith("unknown")] == []
    assert len(found) == 1


def test_a_verb_whose_form_failed_is_not_missed_in_the_steps() -> None:
    assert told(
        "verb ACTOR lifts LAMP\n  no contact\n\n"
        'phase "P"\n  [ ] operator lifts lamp\n  [ ] operator lifts shelf\n'
    ) == [("form-unknown-kind", "LAMP")]


def test_with_a_file_missing_nothing_is_called_unknown() -> None:
    text = SMALL.replace("  edition 2\n", '  edition 2\n  takes words from "Elsewhere"\n')
    found = loaded(text + '\nphase "P"\n  [ ] operator dances\n      only when moon full\n')
    assert [f.kind for f in found.findings] == ["words-not-found"]
    assert not found.complete


def test_double_declarations_name_both_places() -> None:
    (finding,) = small("things\n  Lamp: tool\n").findings
    assert finding.kind == "declared-twice"
    assert finding.place is not None
    line = (
        SMALL.split("\n").index(
            "  lamp, shelf: surface; takes cover film; starts covered with film"
        )
        + 1
    )
    assert finding.others == (("first", Place("small.protocol", line, 3, 7)),)


@pytest.mark.parametrize(
    ("more", "kind", "marked"),
    [
        ("things\n  box: tool; from crate", "unknown-name", "crate"),
        ("things\n  box: tool; from both", "wrong-kind", "both"),
        ("things\n  box: tool; takes cover film on lid", "unknown-part", "lid"),
        ("things\n  box: tool; takes cover foil", "unknown-name", "foil"),
        ("things\n  box: cover; worn on knees", "unknown-part", "knees"),
        ("things\n  box: tool; goes to drain", "unknown-stream", "drain"),
        ("things\n  box: tool; has lid, Lid", "declared-twice", "Lid"),
        ("groups\n  few: lamp, stool", "unknown-name", "stool"),
        ("choices, each visit\n  mood: good, bad, Good", "declared-twice", "Good"),
        ('duty "D"\n  while inspected, hands touch nothing', "fact-whose", "inspected"),
        ("verb ACTOR nods\n  allowed while settings chosen\n  no contact", "fact-whose",
         "settings chosen"),
        ("verb ACTOR nods\n  sets ACTOR inspected", "fact-whose", "ACTOR"),
        ("verb ACTOR hugs OTHER ACTOR\n  meet ACTOR, OTHER ACTOR", "person-as-thing", "ACTOR"),
        ("verb ACTOR lifts TOOL\n  meet ACTOR's feet, TOOL", "unknown-part", "feet"),
        ("verb ACTOR lifts TOOL\n  meet ACTOR's hands, stool", "unknown-name", "stool"),
        ("verb ACTOR lifts TOOL into STREAM\n  retire TOOL into TOOL", "wrong-kind", "TOOL"),
        ("leaves\n  stool is dry", "unknown-name", "stool"),
        ("begins with\n  lamp is covered with foil", "unknown-name", "foil"),
    ],
)  # fmt: skip
def test_other_slips(more: str, kind: str, marked: str) -> None:
    found = told(more)
    assert found[0] == (kind, marked)
    assert all(other[0] == "person-as-thing" for other in found[1:])


def test_a_long_chain_of_groups_is_no_trouble() -> None:
    links = "".join(f"  g{at}: g{at + 1}\n" for at in range(3000)) + "  g3000: lamp\n"
    protocol = resolved("groups\n" + links)
    assert protocol.groups["g0"].members == ("lamp",)
    circle = "".join(f"  g{at}: g{(at + 1) % 50}\n" for at in range(50))
    assert [kind for kind, _ in told("groups\n" + circle)] == ["group-circle"]


def test_thousands_of_senseless_steps_end_soon() -> None:
    steps = "".join(f"  [ ] operator sings {at} songs and wipes nothing\n" for at in range(4000))
    found = small(VERB + 'phase "P"\n' + steps)
    assert found.findings[-1].kind == "more-faults"
    assert len(found.findings) == 101


def test_shuffled_declarations_change_nothing() -> None:
    phase = (
        'phase "P"\n  [ ] operator wipes both\n      only when operator wears gloves\n'
        "  where staffing is alone\n    [ ] operator wipes lamp and shelf\n"
    )
    sections = [s for s in (SMALL + "\n" + VERB).split("\n\n") if s.strip()]
    rand = random.Random(3)
    expected = None
    for _ in range(15):
        head, *rest = sections
        rand.shuffle(rest)
        shuffled = []
        for section in rest:
            opener, *lines = section.strip("\n").split("\n")
            if opener in {"things", "groups", "facts", "people", "kinds of thing"}:
                rand.shuffle(lines)
            shuffled.append("\n".join([opener, *lines]))
        found = loaded("\n\n".join([head, *shuffled, phase]))
        assert found.findings == () and found.protocol is not None
        protocol = found.protocol
        plain = (
            without_places(dict(protocol.things)),
            without_places(dict(protocol.groups)),
            without_places(dict(protocol.people)),
            without_places(protocol.verbs),
            without_places(protocol.phases),
        )
        expected = expected or plain
        assert plain == expected
