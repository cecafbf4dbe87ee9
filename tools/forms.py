"""How each construct of the language is written: the forms that the reference shows.

Words in capitals stand for one's own: NAME, THING, SENTENCE ... A test reads every form with the
reader of the language, so that none can go stale.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import Enum
from unittest import mock

from protocol_lang.language import reader
from protocol_lang.language.reading import desk
from protocol_lang.language.reading.lines import Shape, Unexpected, parse
from protocol_lang.language.tree import Words
from protocol_lang.text import Text


class Where(Enum):
    """Where a form stands: what a reader has to put around it."""

    FIRST_LINE = "the first line of a file"
    HEADER = "under the first line of a file"
    SECTION = "not indented, in any file"
    ITEM = "in a phase, among the steps"
    STEP = "under a step"
    THING = "after the kind of a thing, set apart by semicolons"
    VERB = "under a verb"
    LOCAL = "not indented, in a local edition"
    RULES = "not indented, in a file of rules"
    RULE = "under a rule"


@dataclass(frozen=True, slots=True)
class Form:
    """``texts``: the ways to write it, each complete; indented lines belong to the line above."""

    where: Where
    texts: tuple[str, ...]


def _at(where: Where, *texts: str) -> Form:
    return Form(where, texts)


#: What is put around a form so that it stands where it may; {} is its place.
_AROUND = {
    Where.FIRST_LINE: "{}\n  edition 1\n",
    Where.HEADER: 'protocol "T"\n{}\n',
    Where.SECTION: 'protocol "T"\n  edition 1\n\n{}\n',
    Where.ITEM: 'protocol "T"\n  edition 1\n\nphase "P"\n{}\n',
    Where.STEP: 'protocol "T"\n  edition 1\n\nphase "P"\n  [ ] SENTENCE\n{}\n',
    Where.THING: 'protocol "T"\n  edition 1\n\nthings\n  NAME: KIND; {}\n',
    Where.VERB: 'protocol "T"\n  edition 1\n\nverb ACTOR does SURFACE\n{}\n',
    Where.LOCAL: 'protocol "T"\n  edition 1\n  adapts "B" edition 1\n\n{}\n',
    Where.RULES: 'rules "T"\n  edition 1\n\n{}\n',
    Where.RULE: 'rules "T"\n  edition 1\n\nrule "R"\n{}\n',
}
_INDENT = {Where.HEADER: 2, Where.ITEM: 2, Where.STEP: 6, Where.VERB: 2, Where.RULE: 2}


def around(where: Where, text: str) -> str:
    """A file in which a form stands where it may."""
    for word, example in (("NUMBER", "2"), ("DAY", "2027-01-31")):
        text = re.sub(rf"\b{word}\b", example, text)
    blanks = " " * _INDENT.get(where, 0)
    return _AROUND[where].format("\n".join(blanks + line for line in text.split("\n")))


def rules_of(form: Form) -> tuple[str, ...]:
    """The rules of the grammar that read the lines of a form, and their parts, in order."""
    found: dict[str, None] = {}

    def record(shape: Shape) -> None:
        found.setdefault(shape.rule)
        for part in shape.shapes:
            record(part)

    def recording(rule: str, words: Words) -> Shape | Unexpected:
        shape = parse(rule, words)
        # The steps under a form are there to fill it; a trait is shown without its thing.
        filling = form.where is Where.THING and rule == "thing_line"
        filling |= rule == "step" and not text.startswith("[ ]")
        if isinstance(shape, Shape) and first <= words.place.line <= last and not filling:
            record(shape)
        return shape

    for text in form.texts:
        first = 1 + _AROUND[form.where].partition("{}")[0].count("\n")
        last = first + text.count("\n")
        lines = tuple(around(form.where, text).rstrip("\n").split("\n"))
        with mock.patch.object(desk, "parse", recording):
            reader.read(Text("form", lines))
    return tuple(found)


_STEPS = "  [ ] SENTENCE\n  [ ] SENTENCE"

#: By the name of the construct.
FORMS: dict[str, Form] = {
    "protocol": _at(
        Where.FIRST_LINE, 'protocol "TITLE"', 'room "TITLE"', 'words "TITLE"', 'data "TITLE"'
    ),
    "day": _at(
        Where.FIRST_LINE,
        'day "TITLE"\n  opening "TITLE"\n  visits "TITLE", "TITLE"\n  closing "TITLE"\n'
        '  beside the visits "TITLE"',
    ),
    "then": _at(Where.HEADER, 'then "TITLE"'),
    "follows another protocol": _at(Where.HEADER, "follows another protocol"),
    "takes words from": _at(Where.HEADER, 'takes words from "TITLE", "TITLE"'),
    "edition": _at(
        Where.HEADER, "edition NUMBER", "in force from DAY", "review by DAY", "owner NAME"
    ),
    "choices": _at(
        Where.SECTION,
        "choices, each visit\n  CHOICE: VALUE, VALUE",
        "choices, fixed for the clinic\n  CHOICE: VALUE, VALUE, VALUE",
    ),
    "found out on the way": _at(
        Where.SECTION,
        "found out on the way\n  NAME, known after LABEL\n"
        "  NAME, known after LABEL\n    pass THING to THING\n    meet THING, THING\n"
        "    brush THING, THING\n    sets FACT\n    ends THING FACT",
    ),
    "can happen in": _at(
        Where.SECTION,
        'can happen in "TITLE", "TITLE"\n'
        "  NAME, between any two steps of PERSON\n    [ ] SENTENCE\n"
        '  NAME, right after LABEL, LABEL\n    short "TEXT"\n    [ ] SENTENCE',
    ),
    "where something is so": _at(
        Where.ITEM,
        "where THING is covered with COVER\n  [ ] SENTENCE\n"
        "otherwise where PERSON does not wear COVER or THING is bare\n  [ ] SENTENCE",
        "where FACT and not FACT and PERSON is FACT\n  [ ] SENTENCE",
    ),
    "either": _at(Where.ITEM, "either\n  [ ] SENTENCE\nor\n  [ ] SENTENCE"),
    "may be left out": _at(Where.ITEM, "may be left out\n  [ ] SENTENCE"),
    "every": _at(Where.ITEM, "every WEEK\n  [ ] SENTENCE", "on delivery\n  [ ] SENTENCE"),
    "for each": _at(
        Where.ITEM,
        "for each NAME, NUMBER to NUMBER\n  first time only\n    [ ] SENTENCE\n  [ ] SENTENCE\n"
        "  last time only\n    [ ] SENTENCE",
    ),
    "again from": _at(Where.ITEM, "again from LABEL, at most NUMBER times"),
    "where": _at(
        Where.ITEM,
        "where CHOICE is VALUE and CHOICE is not VALUE\n  [ ] SENTENCE\n"
        "otherwise where CHOICE is VALUE or CHOICE is VALUE\n  [ ] SENTENCE\n"
        "otherwise\n  [ ] SENTENCE",
        "where all of\n  CHOICE is VALUE\n  any of\n    CHOICE is VALUE\n    CHOICE is VALUE\n"
        "  [ ] SENTENCE",
    ),
    "phase": _at(Where.SECTION, f'phase "TITLE"\n{_STEPS}'),
    "may run into the next visit": _at(
        Where.SECTION, f'phase "TITLE"\n  may run into the next visit\n{_STEPS}'
    ),
    "step": _at(Where.ITEM, "[ ] SENTENCE"),
    "label": _at(Where.ITEM, "[ ] LABEL: SENTENCE"),
    "after": _at(Where.STEP, "after LABEL", "after LABEL, LABEL"),
    "only when": _at(
        Where.STEP,
        "only when FACT",
        "only when not FACT",
        "only when PERSON is FACT",
        "only when THING is covered with COVER",
        "only when THING is not covered",
        "only when PERSON's hands are bare",
        "only when THING is dry",
        "only when PERSON's hands are clean of other patients",
        "only when PERSON wears COVER and PERSON does not wear COVER",
        "only when all of\n  FACT\n  any of\n    THING is dry\n    THING is covered with COVER",
    ),
    "since": _at(
        Where.STEP,
        "only when THING is not FACT since FACT",
        "only when PERSON is FACT since FACT",
        "only when not FACT since FACT",
    ),
    "any order": _at(Where.ITEM, f"any order\n{_STEPS}", f"any order, mixed\n{_STEPS}"),
    "in order": _at(Where.ITEM, f"in order\n{_STEPS}"),
    "in one go": _at(Where.ITEM, f"in one go\n{_STEPS}"),
    "side by side": _at(
        Where.ITEM, "side by side\n  PERSON\n    [ ] SENTENCE\n  PERSON\n    [ ] SENTENCE"
    ),
    "say": _at(Where.ITEM, "[ ] say: TEXT"),
    "is clean": _at(
        Where.STEP,
        "only when THING is clean",
        "only when PERSON's hands are clean of other patients",
    ),
    "covered": _at(
        Where.STEP,
        "only when THING is covered",
        "only when THING is covered with COVER",
        "only when THING is not covered",
        "only when PERSON's hands are bare",
    ),
    "wears": _at(
        Where.STEP, "only when PERSON wears COVER", "only when PERSON does not wear COVER"
    ),
    "dry": _at(Where.STEP, "only when THING is dry", "only when THING and THING are dry"),
    "all of": _at(
        Where.STEP,
        "only when all of\n  FACT\n  any of\n    THING is dry\n    THING is bare",
        "only when FACT and FACT",
        "only when FACT or FACT",
    ),
    "lays out": _at(
        Where.ITEM,
        "[ ] PERSON lays out THING",
        "[ ] PERSON lays out NUMBER THING, NUMBER THING and THING",
    ),
    "has": _at(Where.THING, "has NAME", "has NAME, NAME"),
    "near the face": _at(
        Where.SECTION,
        "parts of staff\n  NAME: skin; unclean on coming in\n  NAME: near the face\n"
        "  NAME: face\n  NAME: clothes",
        "parts of a patient\n  NAME: mouth; full of saliva\n  NAME: mouth; full of blood\n"
        "  NAME: mouth; full of body fluid",
    ),
    "slots": _at(
        Where.SECTION,
        "verb ACTOR does THING\n  no contact",
        "verb STAFF does EACH SURFACE by OTHER SURFACE\n  no contact",
    ),
    "waits": _at(
        Where.ITEM, "[ ] PERSON waits NUMBER minutes", "[ ] PERSON waits until THING is dry"
    ),
    "takes": _at(
        Where.STEP,
        "takes NUMBER seconds",
        "takes NUMBER to NUMBER seconds",
        "takes NUMBER minutes",
        "takes NUMBER to NUMBER minutes",
    ),
    "note": _at(Where.STEP, 'note "TEXT"', 'short "TEXT"', 'source "TEXT"'),
    "sets": _at(Where.STEP, "sets FACT", "ends FACT", "sets PERSON FACT", "ends PERSON FACT"),
    "people": _at(Where.SECTION, "people\n  NAME, NAME: staff\n  NAME: patient\n  NAME: companion"),
    "places": _at(
        Where.SECTION,
        "places\n  NAME, NAME\n  NAME: barrier; patient in view\n  NAME: dirty side\n"
        "  NAME: 2 m from the patient; 90 degrees from the beam",
        "people\n  NAME: staff; starts in PLACE\n  NAME: companion; stays at an exposure",
    ),
    "air": _at(
        Where.SECTION,
        "air\n  carries germs where CHOICE is VALUE\n  cleared to 99 percent\n  mixing factor 2",
        "air\n  carries germs",
        "places\n  NAME: 6 air changes an hour",
    ),
    "keeps out germs of the air": _at(Where.THING, "keeps out germs of the air"),
    "in": _at(Where.THING, "in PLACE"),
    "is in": _at(Where.STEP, "only when PERSON is in PLACE", "only when PERSON is not in PLACE"),
    "moves": _at(Where.VERB, "moves ACTOR to PLACE", "moves ACTOR out"),
    "exposure by": _at(Where.VERB, "exposure by ACTOR"),
    "things": _at(
        Where.SECTION,
        "surfaces\n  NAME, NAME: KIND; has PART, PART",
        "boxes\n  NAME: KIND; kept clean",
        "things\n  NAME: KIND; used once; from NAME",
    ),
    "kept clean": _at(Where.THING, "kept clean"),
    "everyday": _at(Where.THING, "everyday", "dirty"),
    "chemical": _at(Where.THING, "chemical"),
    "goes in the mouth": _at(
        Where.THING,
        "goes in the mouth",
        "heat safe",
        "not heat safe",
        "always sleeved in the mouth",
    ),
    "takes cover": _at(
        Where.THING,
        "takes cover COVER",
        "takes cover COVER on PART, PART, then COVER",
        "starts covered with COVER",
    ),
    "used once": _at(
        Where.THING,
        "used once",
        "from BOX",
        "laid out on SURFACE, from BOX",
        "thrown away after use",
        "goes to STREAM",
    ),
    "one of many": _at(Where.THING, "from BOX; one of many"),
    "leaks": _at(Where.THING, "leaks", "lets LEVEL through"),
    "products": _at(
        Where.SECTION,
        "products\n  NAME: treats to LEVEL; stays wet NUMBER minutes; not on MATERIAL, MATERIAL\n"
        '    source "SOURCE"\n    note "TEXT"',
    ),
    "materials": _at(Where.SECTION, "materials\n  NAME, NAME"),
    "made of": _at(Where.THING, "made of MATERIAL, MATERIAL"),
    "treats to": _at(
        Where.THING, "treats to LEVEL", "stays wet NUMBER minutes", "treats with PRODUCT"
    ),
    "worn on": _at(Where.THING, "worn on PART", "worn on PART over COVER"),
    "waiver": _at(
        Where.SECTION,
        'waiver "TITLE"\n  finding CODE\n  reason "WHY"\n  approved by ROLE\n'
        "  from 2026-11-02 to 2027-01-15",
        'waiver "TITLE"\n  rule "TITLE" of "TITLE"\n  for THING\n  where CHOICE is VALUE\n'
        '  reason "WHY"\n  approved by ROLE\n  from 2026-11-02 to 2027-01-15\n'
        "  made up for by LABEL\n  renewed 1 time\n  renewed by ROLE",
    ),
    "groups": _at(Where.SECTION, "groups\n  NAME: THING, THING"),
    "waste streams": _at(
        Where.SECTION, 'waste streams\n  NAME\n  NAME: TEXT\n  NAME: to "TITLE", comes back sterile'
    ),
    "exposure settings": _at(
        Where.SECTION,
        'exposure settings\n  NAME, NAME: 65 kV, 7 mA, 0.16 s\n  NAME: 12 UNIT\n  note "TEXT"',
    ),
    "whom to call": _at(Where.SECTION, 'whom to call\n  NAME: TEXT\n  note "TEXT"'),
    "facts": _at(
        Where.SECTION,
        "facts\n  FACT\n  FACT; lasting",
        "facts of a person\n  FACT",
        "facts of a thing\n  FACT",
        "facts of a place\n  FACT",
    ),
    "floors": _at(
        Where.SECTION,
        'floors\n  KIND: LEVEL\n  goes in the mouth, heat safe: LEVEL\n    source "TEXT"',
        "floors where CHOICE is VALUE\n  KIND: LEVEL",
    ),
    "germs": _at(
        Where.SECTION,
        "germs, hardest first\n  NAME\n  NAME",
        "levels, weakest first\n"
        "  NAME: acts on traces; ends GERMS, GERMS\n"
        "  NAME: acts on rinsed soil; ends GERMS\n"
        '  NAME: acts on all soil; ends every class\n    source "TEXT"\n'
        "  NAME: acts on chemicals",
    ),
    "verb": _at(
        Where.SECTION,
        "verb ACTOR moves SURFACE\n  also EACH ACTOR move SURFACE\n  meet ACTOR's hands, SURFACE",
        "verb STAFF hands RECEPTOR to OTHER STAFF\n  meet STAFF's hands, RECEPTOR\n"
        "  meet OTHER STAFF's hands, RECEPTOR",
    ),
    "meet": _at(Where.VERB, "meet THING, THING", "brush THING, THING", "may meet THING, THING"),
    "pass": _at(Where.VERB, "pass THING, THING to THING", "pass a trace of THING to THING"),
    "take": _at(
        Where.VERB,
        "take THING with ACTOR's hands",
        "take THING's PART with ACTOR's hands",
        "lay out THING with ACTOR's hands",
    ),
    "cover": _at(Where.VERB, "cover THING with COVER", "uncover THING from COVER"),
    "tear": _at(Where.VERB, "tear COVER on THING", "tear COVER on ACTOR's PART"),
    "its cover": _at(
        Where.VERB,
        "take SURFACE's cover with ACTOR's hands",
        "cover SURFACE with SURFACE's cover",
        "uncover SURFACE from SURFACE's cover",
    ),
    "wash": _at(
        Where.VERB,
        "wash THING",
        "reduce THING to LEVEL",
        "reduce THING to LEVEL through LEVEL",
        "reduce THING by WIPE",
    ),
    "retire": _at(Where.VERB, "retire THING", "retire THING into STREAM", "retire what came off"),
    "no contact": _at(Where.VERB, "no contact"),
    "duty": _at(
        Where.SECTION,
        'duty "TITLE"\n  while FACT, PART touch nothing\n  source "TEXT"',
    ),
    "kinds of thing": _at(Where.SECTION, "kinds of thing\n  NAME, NAME"),
    "parts of staff": _at(
        Where.SECTION,
        "parts of staff\n  NAME: skin; unclean on coming in\n  NAME: face\n  NAME: clothes\n"
        "  NAME: near the face",
        "parts of a patient\n  NAME: mouth; full of saliva\n  NAME: mouth; full of blood\n"
        "  NAME: mouth; full of body fluid",
        "parts of a companion\n  NAME: skin",
    ),
    "begins with": _at(
        Where.SECTION,
        "begins with\n  PERSON wears COVER; used\n  THING is covered with COVER\n  THING is bare\n"
        "  THING is used",
    ),
    "leaves": _at(Where.SECTION, "leaves\n  FACT\n  THING is covered with COVER"),
    "adapts": _at(
        Where.HEADER,
        'adapts "TITLE" edition NUMBER',
        'adapts "TITLE" edition NUMBER fingerprint CODE',
    ),
    "changes in": _at(
        Where.LOCAL,
        'changes in "TITLE"\n  instead of LABEL\n    [ ] SENTENCE\n'
        '  before "SENTENCE"\n    [ ] SENTENCE\n'
        '  after "SENTENCE", NUMBER of NUMBER\n    [ ] SENTENCE\n'
        "  beside LABEL\n    [ ] SENTENCE\n"
        "  without the block around LABEL\n"
        "  move LABEL before LABEL\n  move LABEL after LABEL\n"
        '  reword LABEL\n    short "TEXT"\n    note "TEXT"\n    source "TEXT"\n'
        "    takes 20 seconds\n    label LABEL",
    ),
    "instead of": _at(
        Where.LOCAL,
        "instead of things\n  NAME: KIND; used once",
        "instead of choices, each visit\n  CHOICE: VALUE, VALUE",
        "instead of verb FORM\n  no contact",
        'instead of phase "TITLE"\n  [ ] SENTENCE',
    ),
    "without": _at(Where.LOCAL, "without things\n  NAME, NAME\n  NAME", 'without phase "TITLE"'),
    "before phase": _at(
        Where.LOCAL,
        'before phase "TITLE"\n  phase "TITLE"\n    [ ] SENTENCE',
        'after phase "TITLE"\n  phase "TITLE"\n    [ ] SENTENCE',
    ),
    "to settle": _at(
        Where.LOCAL,
        'instead of things\n  to settle "TEXT"\n  NAME: KIND',
        'changes in "TITLE"\n  to settle "TEXT"\n  without LABEL',
    ),
    "rules": _at(Where.FIRST_LINE, 'rules "TITLE"'),
    "rule": _at(
        Where.RULES,
        'rule "TITLE"\n  must\n  source "TEXT"\n  because "TEXT"\n  note "TEXT"\n'
        "  where CHOICE is VALUE\n  always SENTENCE",
    ),
    "happenings": _at(Where.RULE, "always SENTENCE\n  or SENTENCE\n  or SENTENCE"),
    "always": _at(Where.RULE, "always SENTENCE", "never SENTENCE"),
    "before in a rule": _at(Where.RULE, "before SENTENCE\ncomes SENTENCE\nbut never SENTENCE"),
    "after in a rule": _at(
        Where.RULE,
        "after SENTENCE\ncomes SENTENCE\nbefore SENTENCE",
        "after SENTENCE\ncomes SENTENCE\nbefore the visit ends",
        "after SENTENCE\ncomes SENTENCE\nbefore the next patient",
        "after SENTENCE\nuntil SENTENCE\nnever SENTENCE",
    ),
    "whenever": _at(Where.RULE, "whenever SENTENCE\nonly when CLAIM"),
    "at least in a rule": _at(
        Where.RULE,
        "at most 3 times SENTENCE",
        "at least 3 times SENTENCE",
        "at least every 7 days SENTENCE",
    ),
    "for in a rule": _at(
        Where.RULE,
        'for KIND; used once\nbut not NAME, NAME\nonly in phase "TITLE"\n'
        "is declared used once; goes to STREAM",
        'for KIND; used once\ngoes into what is marked "TEXT"',
    ),
    "the header says": _at(Where.RULE, "the header says owner", "the header says review by"),
    "figures": _at(Where.SECTION, "figures\n  NAME: 20 UNIT\n  NAME: 2.5"),
    "no treatment depends on": _at(Where.RULE, "no treatment depends on CHOICE"),
    "either in a rule": _at(
        Where.RULE,
        "for KIND\neither\n  is declared used once\nor\n  always SENTENCE",
    ),
    "settings": _at(Where.RULES, "settings\n  NAME: VALUE, VALUE"),
    "tightens": _at(Where.RULE, 'tightens "TITLE" of "TITLE"', 'loosens "TITLE" of "TITLE"'),
    "good example": _at(
        Where.RULE,
        "good example\n  [ ] SENTENCE",
        "faulty example\n  things\n    NAME: KIND\n  [ ] SENTENCE",
    ),
}
