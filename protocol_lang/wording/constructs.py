"""What each construct of the language means, for ``explain``: with a good and a faulty text.

The texts are complete, so that they can be tried; the tests run them, the good ones without a
finding, the faulty ones with the kind of finding that is named.
"""

from __future__ import annotations

from protocol_lang.wording.construct import Construct
from protocol_lang.wording.examples import GLOVES_OFF, GLOVES_ON, GUM, STAFFING, TOWEL, steps, visit
from protocol_lang.wording.local_constructs import LOCAL
from protocol_lang.wording.rule_constructs import RULES

_HANDS = "  [ ] operator cleans hands\n"
_FIXER = """things
  fixer: bath; chemical
  basin, mirror: surface

verb ACTOR draws the lip aside with SURFACE
  pass SURFACE to the patient's mouth
"""

_PLATES = """
surfaces
  plate box: surface

things
  plate: receptor; goes in the mouth; not heat safe; from plate box; one of many
  cloth: wipe; has face, back; used once; thrown away after use; from wipe tub; treats to high

verb PATIENT bites on RECEPTOR
  meet PATIENT's mouth, RECEPTOR
"""
_PLATE_BACK = f"""
{GLOVES_ON}  [ ] operator takes plate
  [ ] patient bites on plate
{{how}}  [ ] operator lays plate on plate box
{GLOVES_OFF}"""

_PRODUCT = """materials
  acrylic, glass

products
  spirit: treats to intermediate; stays wet 2 minutes; not on acrylic
    source "Its label"

boxes
  cloth box: box; kept clean

things
  cloth: wipe; has face, back; used once; from cloth box; thrown away after use; treats with spirit
"""
_WITH_PRODUCT = """
  [ ] operator cleans hands
  [ ] operator cleans screen with a new cloth
  [ ] operator disinfects screen with a new cloth
"""

_WAIVER = 'waiver "Old wipes"\n  finding abcd2345\n  reason "The new ones come in January."\n'

_FILE = (
    Construct(
        "protocol",
        ("title",),
        "The first line of a checklist: the word and its title in quotation marks. Under it, "
        "indented, stand the edition, the days from which it is in force and by which it is "
        "reviewed, who owns it, the files it takes words from, sources and notes. Files of other "
        "kinds begin with day, room, words or data. The words that open a line are "
        "English; titles, "
        "names and the forms of verbs, and so all sentences, may be in any language and script.",
        visit(_HANDS),
        visit(_HANDS).replace('protocol "A short visit"', "protocol A short visit"),
    ),
    Construct(
        "day",
        ("visits", "opening", "closing", "beside the visits"),
        "The first line of a file that names all that is done in a room: the protocols of its "
        "visits, those of opening and closing it, and work beside the visits. Any number of these "
        "are taken to follow each other in any order, closing always with opening after it; what "
        "is said about soil holds for every such mix. Each has to leave the room as the room file "
        "says that a visit starts. The choices of one protocol mean nothing in a visit of another.",
        'day "A short day"\n  visits "Intraoral, wired sensor"\n'
        '  beside the visits "Holders and bite blocks"\n',
        'day "A short day"\n  note "Nobody comes."\n',
    ),
    Construct(
        "then",
        (),
        "Names the protocol that goes on where this one ends, such as the turnover after a visit, "
        "by its title in quotation marks. So it is written once for all visits. What it begins "
        "with has to hold whenever it begins, and the two are checked as one visit.",
        visit(_HANDS).replace("edition 1\n", 'edition 1\n  then "Turning over the room"\n'),
        visit(_HANDS).replace("edition 1\n", 'edition 1\n  then "Imaging room 2"\n'),
    ),
    Construct(
        "follows another protocol",
        ("follows",),
        "Says that a protocol is only a part, before which another one is done. By itself it is "
        "checked from what it begins with, gloves with this patient's soil on them for instance, "
        "and has to leave the room as the room file says that a visit starts. What the protocol "
        "before it leaves elsewhere is checked with that one, which names it after then.",
        visit(
            """
  in one go
    [ ] operator takes off gloves
    [ ] operator cleans hands
""",
            "begins with\n  operator wears gloves; used",
        ).replace("edition 1\n", "edition 1\n  follows another protocol\n"),
        visit(
            """
  [ ] operator keeps hands still
""",
            "begins with\n  operator wears gloves; used",
        ).replace("edition 1\n", "edition 1\n  follows another protocol\n"),
    ),
    Construct(
        "takes words from",
        ("imports",),
        "Names the files whose people, things and verbs this file may use, by their titles in "
        "quotation marks. They are looked for in the folder of the file and those below it, and "
        "among the files that come with the program; nowhere else. What those files take words "
        "from comes along.",
        visit(_HANDS),
        visit(_HANDS).replace("Imaging room 2", "Imaging room 22"),
    ),
    Construct(
        "edition",
        ("in force from", "review by", "owner"),
        "Which edition a file is, from which day it is in force, by which day it is reviewed, and "
        "who sees to that. Days are written year, month, day: 2026-11-02. The edition and the day "
        "of review are printed on the wall chart.",
        visit(_HANDS).replace(
            "edition 1\n",
            "edition 2\n  in force from 2026-11-02\n  review by 2027-11-02\n"
            "  owner infection control lead\n",
        ),
        visit(_HANDS).replace("edition 1\n", "edition 2\n  in force from 2026-13-02\n"),
    ),
    Construct(
        "choices",
        ("choices, each visit", "choices, fixed for the clinic"),
        'What may differ: from visit to visit ("choices, each visit") or from clinic to clinic '
        '("choices, fixed for the clinic"). Each choice has a name and the values it can have. '
        "Every combination is checked, and each gets a wall chart of its own.",
        visit(_HANDS + "  where staffing is paired\n    [ ] helper cleans hands\n", "", STAFFING),
        visit(_HANDS + "  where staffing is pared\n    [ ] helper cleans hands\n", "", STAFFING),
    ),
    Construct(
        "where",
        ("otherwise", "otherwise where"),
        'Steps that are done only with some choices: "where", a choice, "is" and a value; the '
        'steps stand under it. "otherwise" has the steps for all other values. Conditions are '
        'joined by "and" or by "or", not both in one line; "all of" and "any of" with a line for '
        "each part join more.",
        visit(
            "  where staffing is alone\n    [ ] operator cleans hands\n"
            "  otherwise\n    [ ] helper cleans hands\n",
            "",
            STAFFING,
        ),
        visit("  where staff is alone\n    [ ] operator cleans hands\n", "", STAFFING),
    ),
    Construct(
        "found out on the way",
        ("known after", "found out"),
        "What shows only during the visit: a name, then the label of the step after which it is "
        'known. Steps that depend on it stand under "where" and that name, and come after that '
        "step. Whether it is so is free in every visit, and anew each time round where the step is "
        "repeated. Lines under it say what comes with it where it is so: meet, brush and pass what "
        "is soiled, at any moment of the phase before it is known; sets and ends what is so, or no "
        "longer so, right after that step. So a step can be said to do what only turns out later: "
        "the step sets the fact, and this ends it again.",
        visit(
            "  [ ] look: operator looks at the image\n  where image blurred\n"
            "    [ ] operator looks at the image\n",
            "found out on the way\n  image blurred, known after look\n",
        ),
        visit(
            "  where image blurred\n    [ ] operator looks at the image\n"
            "  [ ] look: operator looks at the image\n",
            "found out on the way\n  image blurred, known after look\n",
        ),
    ),
    Construct(
        "can happen in",
        ("between any two steps of", "right after", "mishap", "mishaps"),
        "Mishaps, each with what is then done. It can happen between any two steps of a person in "
        "those phases, or right after the steps with some labels, and every such moment is judged. "
        "Nothing of that person's falls into what is done in one go, and what is done after a "
        "mishap is done in one go. After it, the visit goes on where it was; "
        '"again from" goes back. At most one mishap happens in a visit, another one perhaps in the '
        'next. Later steps can stand under "where" and the name of the mishap. The first line '
        'under a mishap may be a "short" text: what a wall chart says is done then.',
        visit(
            _HANDS + "  [ ] operator opens the record at keyboard\n",
            'can happen in "Visit"\n  phone rings, between any two steps of operator\n'
            "    [ ] operator cleans hands\n",
        ),
        visit(
            steps(GLOVES_ON, GLOVES_OFF),
            'can happen in "Visit"\n  phone rings, between any two steps of operator\n'
            "    [ ] operator cleans hands\n",
        ),
    ),
    Construct(
        "phase",
        (),
        "A part of the visit under its own heading, with the title in quotation marks. Phases "
        "follow each other: all steps of one come before all steps of the next, unless it may run "
        "into the next visit.",
        visit(_HANDS),
        visit(_HANDS).replace('phase "Visit"', "phase Visit"),
    ),
    Construct(
        "may run into the next visit",
        ("run into the next visit", "runs into the next visit", "overlap"),
        "First line under a phase: nobody waits for its end but those who do it, before anything "
        "else of theirs. It may still be going on while the room is turned over and, in a day, "
        "while the next patient sits down. Every such order is judged, of each such visit with "
        "each visit that can follow. That next visit is over before a third begins. What the part "
        "has in hand, and the patient, are others in the next visit; the room and the people who "
        "work in it are the same.",
        visit(
            _HANDS + '\nphase "Afterwards"\n  may run into the next visit\n'
            "  [ ] helper opens the record at keyboard\n"
        ),
        visit(
            _HANDS + '\nphase "Afterwards"\n  may run into the next visit\n'
            "  [ ] helper opens the record at keyboard\n"
            '\nphase "Then"\n  [ ] operator works at keyboard\n      only when record open\n'
        ),
    ),
)

_ORDER = (
    Construct(
        "step",
        ("[ ]", "tick box"),
        "One thing that one person does at one moment, on a line of its own after an empty tick "
        "box. The sentence is one of the verbs of the vocabulary with the names of people and "
        "things filled in. A list of steps is done from the top down. Nobody else's step falls "
        "inside a step.",
        visit(_HANDS),
        visit("  [ ] operator polishes hands\n"),
    ),
    Construct(
        "label",
        (),
        "A name for a step, up to four words and a colon right after the tick box, so that other "
        "steps can speak of it. No two steps have the same label.",
        visit("""
  [ ] rub: operator cleans hands
  [ ] operator opens the record at keyboard
      after rub
"""),
        visit("""
  [ ] rub: operator cleans hands
  [ ] rub: operator opens the record at keyboard
"""),
    ),
    Construct(
        "after",
        (),
        "Under a step: it is done only after the step with that label, wherever the two stand. It "
        "adds to the order that the lines give.",
        visit("""
  any order
    [ ] rub: operator cleans hands
    [ ] operator opens the record at keyboard
        after rub
"""),
        visit("""
  any order
    [ ] rub: operator cleans hands
    [ ] operator opens the record at keyboard
        after scrub
"""),
    ),
    Construct(
        "only when",
        ("condition of a step",),
        "What must be so whenever the step begins: that a fact holds, that something is covered, "
        "bare, dry or clean, that somebody wears something. It makes no order; it is checked in "
        "every order that is permitted. Under a verb it holds for every step with that verb.",
        visit("""
  [ ] operator opens the record at keyboard
  [ ] operator works at keyboard
      only when record open
"""),
        visit("""
  [ ] operator works at keyboard
      only when record open
  [ ] operator opens the record at keyboard
"""),
    ),
    Construct(
        "since",
        ("is not since", "fact since"),
        'Said after "only when" of two facts: "plate is not in bright light since exposed" holds '
        "while the plate is exposed, if no step has put it into bright light after the last step "
        'that exposed it, and it is not there now. Without "not" a step must have made the first '
        "fact so after the second, and it must be so now. The second fact is of the same thing "
        "or person, or it names its own: since sensor packed. Every permitted order is checked.",
        visit(
            "  [ ] operator opens the record at keyboard\n"
            "  [ ] operator looks at the image\n"
            "      only when not record copied since record open\n"
            + _HANDS
            + "      sets record copied\n",
            "facts\n  record copied",
        ),
        visit(
            "  any order\n"
            "    [ ] operator cleans hands\n        sets record copied\n"
            "    [ ] operator opens the record at keyboard\n"
            "  [ ] operator looks at the image\n"
            "      only when not record copied since record open\n",
            "facts\n  record copied",
        ),
    ),
    Construct(
        "is clean",
        ("clean", "are clean", "clean of other patients"),
        'Said after "only when": "operator\'s hands are clean" holds when no soil at all is there, '
        'neither of a patient nor of everyday things; "clean of other patients" lets the soil of '
        "this visit's patient be there. It is proved in every order and after any number of "
        'patients. It stands alone or is joined by "and", never after "or" or with "not".',
        visit(
            _HANDS + "  [ ] operator works at keyboard\n"
            "      only when operator's hands are clean of other patients\n"
        ),
        visit(
            _HANDS + "  [ ] operator works at keyboard\n"
            "      only when operator's hands are not clean\n"
        ),
    ),
    Construct(
        "covered",
        ("is covered", "are covered", "covered with", "bare", "is bare", "are bare"),
        'Said after "only when", "leaves" or "begins with": "head rest is covered with bag" holds '
        'while that cover is on, "is covered" while any cover is, and "is bare" while none is. Of '
        'hands and faces "bare" means without gloves or mask.',
        visit(
            _HANDS + "      only when operator's hands are bare\n"
            "  [ ] operator works at keyboard\n      only when head rest is covered with bag\n"
        ),
        visit(_HANDS + "      only when head rest is bare\n"),
    ),
    Construct(
        "wears",
        ("wear", "does not wear"),
        'Said of people, after "only when" or "begins with": "operator wears gloves" holds while '
        "the gloves are on the part on which they are worn. Of things it is said that they are "
        "covered.",
        visit(
            steps(
                GLOVES_ON,
                "  [ ] operator looks at the image\n      only when operator wears gloves",
                GLOVES_OFF,
            )
        ),
        visit(
            steps(
                GLOVES_ON,
                GLOVES_OFF,
                "  [ ] operator looks at the image\n      only when operator wears gloves",
            )
        ),
    ),
    Construct(
        "dry",
        ("is dry", "are dry"),
        'Said after "only when" or "leaves", and in "waits until … is dry": no disinfection of '
        "the thing is still wet. Of a thing with a plural name it is said that they are dry.",
        visit("""
  [ ] operator cleans hands
  [ ] operator lays out wipe
  [ ] operator cleans chair arms with a new wipe
  [ ] operator disinfects chair arms with a new wipe
  [ ] operator throws wipe into clinical waste
  [ ] operator waits until chair arms are dry
  [ ] operator works at chair arms
      only when chair arms are dry
"""),
        visit("""
  [ ] operator cleans hands
  [ ] operator lays out wipe
  [ ] operator cleans chair arms with a new wipe
  [ ] operator disinfects chair arms with a new wipe
  [ ] operator throws wipe into clinical waste
  [ ] operator works at chair arms
      only when chair arms are dry
"""),
    ),
    Construct(
        "all of",
        ("any of", "and", "or"),
        'Parts of a condition, one a line under it: "all of" holds when every part does, "any of" '
        "when at least one does. Each can stand under the other. On one line parts are joined by "
        '"and" or by "or", not by both.',
        visit("""
  [ ] operator opens the record at keyboard
  [ ] operator works at keyboard
      only when all of
        record open
        any of
          operator's hands are bare
          operator wears gloves
"""),
        visit("""
  [ ] operator opens the record at keyboard
  [ ] operator works at keyboard
      only when record open and operator's hands are bare or operator wears gloves
"""),
    ),
    Construct(
        "where something is so",
        ("where on the state",),
        'After "where" can also stand how something is at that moment: "where operator wears '
        'gloves", "where head rest is covered", "where record open". It must come out the same in '
        "every permitted order; where it does not, that is told. Within a mishap it is looked at "
        "anew at every moment at which it can happen.",
        visit(
            "  may be left out\n    [ ] operator opens the record at keyboard\n"
            "  where record open\n    [ ] operator works at keyboard\n"
        ),
        visit(
            "  any order, mixed\n    [ ] operator opens the record at keyboard\n"
            "    where record open\n      [ ] operator works at keyboard\n"
        ),
    ),
    Construct(
        "either",
        ("or (another way)",),
        '"either" and, right below, one "or" after the other: ways to do the same. Whoever does it '
        "is free to take any of them in each visit, and all are judged. It also says who: either "
        "the operator does it or the helper.",
        visit(
            "  either\n    [ ] operator cleans hands\n  or\n    [ ] operator washes hands\n"
            "  [ ] operator works at keyboard\n"
        ),
        visit(
            "  either\n    [ ] operator opens the record at keyboard\n"
            "  or\n    [ ] operator looks at the image\n"
            "  [ ] operator works at keyboard\n      only when record open\n"
        ),
    ),
    Construct(
        "may be left out",
        ("optional",),
        "The steps under it are done in some visits and not in others, as it comes. They are never "
        "relied on as a cleaning, and always counted as a touch.",
        visit("  may be left out\n    [ ] operator cleans hands\n"),
        visit(
            "  may be left out\n    [ ] operator opens the record at keyboard\n"
            "  [ ] operator works at keyboard\n      only when record open\n"
        ),
    ),
    Construct(
        "every",
        ("every week", "every day", "every month", "on delivery", "now and then"),
        'Steps that are not done in every visit: "every week", "every morning", in words of your '
        'own after "every", or "on delivery". To the proof it is a block that may be left out: in '
        "any one visit it may be done or not, it is never relied on as a cleaning and always "
        "counted as a touch. The words stay for the chart and the report; whether the week has "
        "been kept is for the log, which this language does not read.",
        visit("  [ ] operator cleans hands\n  every week\n    [ ] operator works at keyboard\n"),
        visit(
            "  every week\n    [ ] operator opens the record at keyboard\n"
            "  [ ] operator works at keyboard\n      only when record open\n"
        ),
    ),
    Construct(
        "for each",
        ("first time only", "last time only", "times"),
        'The steps under it are done again for each: "for each exposure, 1 to 18". Any number '
        'between the two may occur in a visit. "first time only" and "last time only" under it '
        "have steps that are done only then. Used things are new each time, and what is found out "
        "is found out anew.",
        visit(
            "  for each exposure, 1 to 4\n    first time only\n"
            "      [ ] operator cleans hands\n    [ ] operator looks at the image\n"
        ),
        visit(
            "  for each exposure, 1 to 4\n    [ ] operator works at keyboard\n"
            "        only when record open\n    last time only\n"
            "      [ ] operator opens the record at keyboard\n"
        ),
    ),
    Construct(
        "again from",
        ("at most", "again"),
        "Goes back to the step with that label and does everything from there once more, at most "
        'so many times. It stands under "where" or "may be left out", which say when; what is '
        "found out between is found out anew.",
        visit(
            "  [ ] look: operator looks at the image\n  where image blurred\n"
            "    again from look, at most 2 times\n",
            "found out on the way\n  image blurred, known after look\n",
        ),
        visit(
            "  [ ] type: operator works at keyboard\n      only when not record open\n"
            "  [ ] look: operator opens the record at keyboard\n"
            "  where image blurred\n    again from type, at most 2 times\n",
            "found out on the way\n  image blurred, known after look\n",
        ),
    ),
    Construct(
        "any order",
        ("any order, mixed", "mixed"),
        "The steps under it may be done in any order, and every one of these orders is checked. A "
        'list among them stays in one go; with "any order, mixed" other steps may come in between.',
        visit("""
  any order
    [ ] operator cleans hands
    [ ] helper cleans hands
"""),
        visit("""
  any order
    [ ] operator opens the record at keyboard
    [ ] operator works at keyboard
        only when record open
"""),
    ),
    Construct(
        "in order",
        (),
        'The steps under it are done from the top down. Used inside "any order", where it makes '
        "several steps one item.",
        visit("""
  any order
    in order
      [ ] operator opens the record at keyboard
      [ ] operator works at keyboard
          only when record open
    [ ] helper cleans hands
"""),
        visit("""
  any order
    in order
      [ ] operator works at keyboard
          only when record open
      [ ] operator opens the record at keyboard
    [ ] helper cleans hands
"""),
    ),
    Construct(
        "in one go",
        (),
        "The steps under it are done from the top down, and the same person does nothing else in "
        "between. Others may go on with theirs.",
        visit(steps(GLOVES_ON, GLOVES_OFF)),
        visit(
            steps(
                GLOVES_ON,
                """
  [ ] operator takes off gloves
  [ ] operator works at keyboard
  [ ] operator cleans hands
""",
            )
        ),
    ),
    Construct(
        "side by side",
        ("lane",),
        "Two or more people work at the same time, each under the own name with a list of the "
        "own. Within a list the order is fixed; between the lists every order is checked.",
        visit("""
  side by side
    operator
      [ ] operator cleans hands
      [ ] operator opens the record at keyboard
    helper
      [ ] helper cleans hands
"""),
        visit("""
  side by side
    operator
      [ ] operator cleans hands
    helper
      [ ] operator opens the record at keyboard
"""),
    ),
    Construct(
        "say",
        ("say:",),
        "A step in which something is said and nothing is touched. The words after the colon are "
        "free. The report lists such steps, since nothing about them is checked.",
        visit("  [ ] say: glasses and appliances out\n" + _HANDS),
        visit("  [ ] glasses and appliances out\n" + _HANDS),
    ),
    Construct(
        "waits",
        ("wait", "minutes", "until"),
        'A person waits for so many minutes ("operator waits 2 minutes") or until a thing is dry '
        '("operator waits until used half is dry"). What was disinfected is wet for the time that '
        "the product needs, and the disinfection counts only if nothing touches the thing "
        "meanwhile, and only if a wait that is long enough follows in the same visit.",
        visit("""
  [ ] operator cleans hands
  [ ] operator lays out wipe
  [ ] operator takes tray paper off used half
  [ ] operator disinfects used half with a new wipe
  [ ] operator throws wipe into clinical waste
  [ ] operator waits until used half is dry
  [ ] operator lines used half with tray paper
"""),
        visit("""
  [ ] operator cleans hands
  [ ] operator lays out wipe
  [ ] operator takes tray paper off used half
  [ ] operator disinfects used half with a new wipe
  [ ] operator throws wipe into clinical waste
  [ ] operator lines used half with tray paper
"""),
    ),
    Construct(
        "takes",
        ("seconds", "duration"),
        'Under a step or a verb: how long it takes, "takes 20 seconds", "takes 1 to 2 minutes", '
        "from the least to the most. Under a verb it is what is usual; under a step it counts "
        "instead. What is done to several things one by one takes that long for each. It changes "
        'nothing in what is proved of soil; "protocol-lang minutes" works with it. A wait says '
        "itself how long it is. The shipped vocabularies tell what is usual, from common practice "
        "and without a source: put in what you have measured.",
        visit(
            _HANDS + "      takes 20 to 30 seconds\n"
            "  [ ] operator opens the record at keyboard\n      takes 1 minute\n"
        ),
        visit(_HANDS + "      takes 30 to 20 seconds\n"),
    ),
    Construct(
        "note",
        ("short", "source"),
        'Free text in quotation marks under a step, a phase or a heading: "note" tells how or '
        'why, "short" is what the wall chart prints instead of the sentence, "source" names the '
        "guidance it comes from. What is checked stays the same.",
        visit(
            _HANDS + '      short "Rub hands"\n      note "Until they are dry."\n'
            '      source "WHO, Guidelines on Hand Hygiene in Health Care, 2009"\n'
        ),
        visit(_HANDS + "      note until they are dry\n"),
    ),
    Construct(
        "sets",
        ("ends",),
        'Under a step or a verb: from now on a fact holds ("sets"), or does so no longer '
        '("ends"). Facts are declared under "facts" and asked for by "only when".',
        visit(
            _HANDS + "      sets door closed\n"
            "  [ ] operator opens the record at keyboard\n      only when door closed\n",
            "facts\n  door closed",
        ),
        visit(_HANDS + "      sets door locked\n", "facts\n  door closed"),
    ),
)

_SCAN_ROOM = """
places
  scan room: 6 air changes an hour

air
  carries germs
  cleared to 99 percent
"""

_RESPIRATOR = """
boxes
  mask box: box; kept clean

things
  respirator: mask; has front, ties; worn on nose and mouth; {keeps}used once; from mask box
"""

_SCAN = """
  [ ] operator cleans hands
  [ ] operator puts on respirator
  [ ] operator goes to scan room
  [ ] patient comes to scan room
  [ ] patient leaves
  [ ] operator leaves the room
  [ ] operator takes off respirator by the ties
  [ ] operator waits 46 minutes
"""

_THINGS = (
    Construct(
        "people",
        ("staff", "patient", "companion"),
        "Who takes part: staff, the patient, and whoever comes along. Each has the body parts "
        "that the vocabulary gives to that kind of person.",
        visit("  [ ] student cleans hands\n", "people\n  student: staff"),
        visit("  [ ] student cleans hands\n", "people\n  student: visitor"),
    ),
    Construct(
        "places",
        (
            "place",
            "starts in",
            "from the patient",
            "from the beam",
            "barrier",
            "patient in view",
            "stays at an exposure",
            "dirty side",
        ),
        "Where people can be. Everybody is in one place at any moment, or outside of all of them; "
        'a visit finds people outside, but for staff of whom their line says "starts in" a place, '
        "and at its end everybody has to be where it found them. A place can tell how it lies at "
        'an exposure: "barrier" and "patient in view", or how many m from the patient and how '
        "many degrees from the beam it is (0 where the beam goes). A companion who may be near at "
        'an exposure has "stays at an exposure". From a "dirty side" staff go elsewhere with bare '
        "hands only.",
        visit(
            _HANDS + "  [ ] operator goes to booth\n  [ ] operator leaves the room\n",
            "places\n  booth: barrier; patient in view",
        ),
        visit(
            _HANDS + "  [ ] operator goes to booth\n", "places\n  booth: barrier; patient in view"
        ),
    ),
    Construct(
        "air",
        ("air changes", "air changes an hour", "carries germs", "cleared to", "mixing factor"),
        '"carries germs" says where the air carries the germs of the patient: always, or "where" '
        "some choices are made (airborne precautions). Then the air of a place carries them from "
        "when the patient comes in until the patient has left and the time for clearing is "
        "over. Meanwhile staff in it wear something that keeps out germs of the air, and the "
        "visit does not end before it is clear. The time follows from the air changes an hour of "
        'the place (CDC 2003, table B.1), to the percent that "cleared to" tells (99.9 if nothing '
        'is said), times the "mixing factor" (1 to 10; 1 if nothing is said). Waits that surely '
        "come after the patient has left add up.",
        visit(
            "  [ ] patient comes to scan room\n  [ ] patient leaves\n"
            + _HANDS
            + "  [ ] operator waits 20 minutes\n  [ ] operator waits 26 minutes\n",
            _SCAN_ROOM,
        ),
        visit(
            "  [ ] operator waits 20 minutes\n"
            "  [ ] patient comes to scan room\n  [ ] patient leaves\n"
            + _HANDS
            + "  [ ] operator waits 26 minutes\n",
            _SCAN_ROOM,
        ),
    ),
    Construct(
        "keeps out germs of the air",
        ("respirator",),
        "A trait of what is worn on the face: a respirator has it, a surgical mask does not. "
        "Whoever of the staff is where air carries germs has to wear such a thing.",
        visit(_SCAN, _SCAN_ROOM + _RESPIRATOR.format(keeps="keeps out germs of the air; ")),
        visit(_SCAN, _SCAN_ROOM + _RESPIRATOR.format(keeps="")),
    ),
    Construct(
        "in",
        ("stands in",),
        "A trait of a thing: the place where it stands. Whoever touches it has to be there, in "
        "every order that is permitted.",
        visit(
            _HANDS + "  [ ] operator goes to store\n  [ ] operator works at shelf\n"
            "  [ ] operator leaves the room\n",
            "places\n  store\n\nsurfaces\n  shelf: surface; in store",
        ),
        visit(
            _HANDS + "  [ ] operator works at shelf\n",
            "places\n  store\n\nsurfaces\n  shelf: surface; in store",
        ),
    ),
    Construct(
        "is in",
        ("is not in", "are in"),
        'Said of people after "only when" or "leaves": "operator is in booth" holds from the step '
        "that moves the operator there to the step that moves the operator anywhere else. In a "
        "verb the place may be a slot: ACTOR is in PLACE.",
        visit(
            "  [ ] operator goes to booth\n" + _HANDS + "      only when operator is in booth\n"
            "  [ ] operator leaves the room\n",
            "places\n  booth",
        ),
        visit(
            _HANDS + "      only when operator is in booth\n"
            "  [ ] operator goes to booth\n  [ ] operator leaves the room\n",
            "places\n  booth",
        ),
    ),
    Construct(
        "things",
        ("surfaces", "boxes", "thing", "surface", "box"),
        "What is in the room, each with its kind and, after semicolons, its traits. The kind "
        "settles which verbs it goes with. Several things with the same traits may stand in one "
        "line.",
        visit(_HANDS + "  [ ] operator works at door handle\n", "surfaces\n  door handle: surface"),
        visit(_HANDS + "  [ ] operator works at door handle\n", "surfaces\n  door handle: handle"),
    ),
    Construct(
        "has",
        ("part of a thing",),
        "The parts of a thing that verbs speak of: the face of a wipe that cleans and the back "
        "that is held. Soil on one part is not on the others. Each part is named once. A step may "
        'name a part of what is used again: "operator cleans tray\'s left side with a new wipe"; '
        "the whole stands for each of its parts.",
        visit(
            _HANDS + "  [ ] operator cleans chair arms with a new towel\n"
            "  [ ] operator throws towel into clinical waste\n",
            TOWEL,
        ),
        visit(_HANDS, "things\n  towel: wipe; has face, back, face; used once; from wipe tub"),
    ),
    Construct(
        "kept clean",
        (),
        "A trait of a thing that nobody disinfects between patients, since no patient's soil ever "
        "gets there: keyboard, glove box, drawer. That soil gets there is a fault by itself.",
        visit(
            steps(GLOVES_ON, "  [ ] operator feels the gum", GLOVES_OFF)
            + "  [ ] operator works at keyboard\n",
            GUM,
        ),
        visit(
            steps(
                GLOVES_ON,
                "  [ ] operator feels the gum\n  [ ] operator works at keyboard",
                GLOVES_OFF,
            ),
            GUM,
        ),
    ),
    Construct(
        "everyday",
        ("dirty",),
        'A thing that is "everyday" carries what everything in daily use carries: harmless on '
        'hands, not to get into a mouth. One that is "dirty" (floor, bin, drain) is never clean.',
        visit(
            "  [ ] operator works at phone\n"
            + steps(GLOVES_ON, "  [ ] operator feels the gum", GLOVES_OFF),
            "surfaces\n  phone: surface; everyday\n" + GUM,
        ),
        visit(
            steps(
                GLOVES_ON,
                "  [ ] operator works at phone\n  [ ] operator feels the gum",
                GLOVES_OFF,
            ),
            "surfaces\n  phone: surface; everyday\n" + GUM,
        ),
    ),
    Construct(
        "chemical",
        ("acts on chemicals",),
        'A thing that is "chemical" (fixer, a bath with a strong disinfectant) leaves what it is '
        "made of on whatever touches it. That is no germ: disinfecting does nothing to it. It is "
        'ended by a level that "acts on chemicals", which is rinsing, and by washing hands. It '
        "matters in a patient's mouth, and in eyes, nose and mouth of staff if it splashes there.",
        visit(
            steps(
                GLOVES_ON,
                "  [ ] operator dips mirror in fixer\n  [ ] operator rinses mirror at basin\n"
                "  [ ] operator draws the lip aside with mirror",
                GLOVES_OFF,
            ),
            _FIXER,
        ),
        visit(
            steps(
                GLOVES_ON,
                "  [ ] operator dips mirror in fixer\n"
                "  [ ] operator draws the lip aside with mirror",
                GLOVES_OFF,
            ),
            _FIXER,
        ),
    ),
    Construct(
        "goes in the mouth",
        ("heat safe", "not heat safe", "always sleeved in the mouth"),
        "Traits that settle how a thing must be treated before it goes into the next mouth: one "
        "that stands heat is sterilised; one that does not is disinfected at a high level, or at "
        "intermediate level if it is always sleeved in the mouth (CDC, Guidelines for Infection "
        "Control in Dental Health-Care Settings, 2003). One that is always sleeved in the mouth "
        "may not meet the mouth without a sleeve.",
        visit(_HANDS, "things\n  mirror: holder; goes in the mouth; heat safe"),
        visit(_HANDS, "things\n  mirror: holder; goes in the mouth; heat save"),
    ),
    Construct(
        "takes cover",
        ("starts covered with",),
        '"takes cover" names the covers that may be put on a thing, the innermost first; "starts '
        'covered with" says that a visit finds it covered. A visit must leave it as it found it.',
        visit(
            _HANDS
            + "  [ ] operator takes bag off head rest\n  [ ] operator covers head rest with bag\n"
        ),
        visit(_HANDS + "  [ ] operator takes bag off head rest\n"),
    ),
    Construct(
        "used once",
        ("thrown away after use", "from", "laid out on", "goes to"),
        'Of a thing that is "used once" every taking gives a new one, "from" the box or store '
        'that is named, or from the surface on which it was "laid out". It "goes to" a waste '
        'stream. The name of such a thing means the one last taken; "a new wipe" takes a new one. '
        'What is "thrown away after use" is taken to be, without a step that says so.',
        visit(
            _HANDS + "  [ ] operator lays out wipe\n"
            "  [ ] operator cleans chair arms with a new wipe\n"
            "  [ ] operator throws wipe into clinical waste\n"
        ),
        visit(
            _HANDS + "  [ ] operator cleans chair arms with a new wipe\n"
            "  [ ] operator throws wipe into clinical waste\n"
        ),
    ),
    Construct(
        "one of many",
        ("pool", "each of several"),
        "A trait of a thing that is used again and kept among others of its sort: plates in their "
        "box, aprons on a rack. Each taking may give another one. Where it is kept, whatever one "
        "of them brings back may get to the next that is taken: the others lie in between, and "
        "nobody treats them by wiping the box or the one in use. It goes back by a step in which "
        "it meets its box. Several at once have a name each; then a step that treats one of them "
        "treats no other.",
        visit(
            _PLATE_BACK.format(
                how="  [ ] operator cleans plate with a new cloth\n"
                "  [ ] operator disinfects plate with a new cloth\n"
            ),
            _PLATES,
        ),
        visit(_PLATE_BACK.format(how=""), _PLATES),
    ),
    Construct(
        "lays out",
        ("number", "how many"),
        "Supplies are laid out before gloves go on. A number in figures before one says how many: "
        "then, in every permitted order and with every choice, no more may be taken than were laid "
        "out before; laid out again, they add up. Without a number it means as many as are taken. "
        'A plural is a group of one: "wipes: wipe".',
        visit(
            _HANDS + "  [ ] operator lays out 2 wipes and sleeve\n"
            "  [ ] operator cleans chair arms with a new wipe\n"
            "  [ ] operator disinfects chair arms with a new wipe\n",
            "groups\n  wipes: wipe",
        ),
        visit(
            _HANDS + "  [ ] operator lays out 1 wipe\n"
            "  [ ] operator cleans chair arms with a new wipe\n"
            "  [ ] operator disinfects chair arms with a new wipe\n",
        ),
    ),
    Construct(
        "leaks",
        ("lets",),
        'A cover that "leaks" lets a trace of soil through, both ways, at every touch and when it '
        'comes off. One that "lets" a process through (steam through a pouch) can be treated '
        "without being opened.",
        visit(_HANDS, "things\n  thin sleeve: cover; used once; leaks; from sleeve box"),
        visit(_HANDS, "things\n  thin sleeve: cover; used once; leak; from sleeve box"),
    ),
    Construct(
        "treats to",
        ("stays wet", "treats with"),
        "Traits of what disinfects: the level it reaches, and for how many minutes the thing has "
        "to stay wet for that; or a product, of which both are told in a list of products.",
        visit(
            _HANDS,
            "things\n  spray cloth: wipe; has face, back; used once; from wipe tub; treats to low; "
            "stays wet 1 minute",
        ),
        visit(
            _HANDS,
            "things\n  spray cloth: wipe; has face, back; used once; from wipe tub; treats to "
            "middling",
        ),
    ),
    Construct(
        "products",
        ("product", "not on"),
        "What a clinic disinfects with, each as its label has it: the level it reaches, for how "
        "many minutes things have to stay wet, and on which materials its maker forbids it. A "
        'thing "treats with" a product: it has the level and the time of the product, or it says '
        "a lower level or a longer time, never the other way round. A product that gets onto a "
        "forbidden material in any permitted order, in cleaning or in disinfecting, is told; so "
        "is one that is too weak for a bare thing, where nothing else treats that thing enough. "
        "A list of products is best a data file of the clinic, from which its rooms take words.",
        visit(_WITH_PRODUCT, _PRODUCT + "\nsurfaces\n  screen: surface; made of glass"),
        visit(_WITH_PRODUCT, _PRODUCT + "\nsurfaces\n  screen: surface; made of acrylic"),
    ),
    Construct(
        "materials",
        ("material",),
        "What things are made of, as far as a product may not be used on it. Each material is "
        "declared, so that a slip of the pen cannot hide a danger.",
        visit(_HANDS, "materials\n  brass, cork\n\nsurfaces\n  tray: surface; made of cork, brass"),
        visit(_HANDS, "materials\n  brass, brass"),
    ),
    Construct(
        "made of",
        (),
        "The materials of a thing. Covers are things too: a product gets onto the outermost "
        "cover, and not onto what that covers. A thing that does not say what it is made of is "
        "not looked at.",
        visit(_HANDS, "materials\n  brass, cork\n\nsurfaces\n  tray: surface; made of cork, brass"),
        visit(_HANDS, "materials\n  brass, cork\n\nsurfaces\n  tray: surface; made of bras"),
    ),
    Construct(
        "worn on",
        ("over",),
        '"worn on" names the part of a person that a piece of protective equipment covers; "over" '
        "names what it goes on top of.",
        visit(
            steps(
                GLOVES_ON,
                "  [ ] operator puts on overgloves\n  [ ] operator takes off overgloves",
                GLOVES_OFF,
            ),
            "things\n  overgloves: overgloves; has outside, inside; worn on hands over gloves; "
            "used once; from glove box",
        ),
        visit(
            _HANDS,
            "things\n  overgloves: overgloves; has outside, inside; worn on paws over gloves; "
            "used once; from glove box",
        ),
    ),
    Construct(
        "groups",
        ("group",),
        "A name for several things. In a sentence it stands for all of them.",
        visit(
            _HANDS + "  [ ] operator works at working places\n",
            "groups\n  working places: chair arms, clean half",
        ),
        visit(_HANDS, "groups\n  switches: exposure button, light button"),
    ),
    Construct(
        "waste streams",
        ("stream",),
        'Where things go that are thrown away, or that another protocol takes over: "holder box: '
        'to "Holders and bite blocks", comes back sterile".',
        visit(
            _HANDS + "  [ ] operator lays out wipe\n"
            "  [ ] operator cleans chair arms with a new wipe\n"
            "  [ ] operator throws wipe into clinical waste\n"
        ),
        visit(
            _HANDS + "  [ ] operator lays out wipe\n"
            "  [ ] operator cleans chair arms with a new wipe\n"
            "  [ ] operator throws wipe into garden waste\n"
        ),
    ),
    Construct(
        "exposure settings",
        ("exposure table",),
        "What is set at the machine for each kind of image: what it is for, a colon, and numbers "
        "with their units. A protocol or its room may have it; charts with an exposure show it. "
        "Nothing follows from it for the order of steps. The numbers are those that the licensed "
        "physicist, or whoever answers for them by local law, has given for this machine; no "
        "number of an example is to be used on a patient. A note is printed under the table.",
        visit(
            _HANDS,
            "exposure settings\n  adult, molar: 65 kV, 7 mA, 0.16 s\n"
            '  note "An example: put in the numbers of your own licensed physicist."',
        ),
        visit(_HANDS, "exposure settings\n  adult, molar: as usual"),
    ),
    Construct(
        "whom to call",
        ("call",),
        "Who is called when something is wrong, and how: a name, a colon, and a number or a place. "
        "Charts show it. A note is printed under it.",
        visit(_HANDS, "whom to call\n  radiation protection adviser: extension 214"),
        visit(_HANDS, "whom to call\n  radiation protection adviser"),
    ),
    Construct(
        "facts",
        ("fact", "facts of a person", "facts of a thing", "facts of a place", "lasting"),
        "What can be so or not so: of the visit, of a person, of a thing, of a place. A fact "
        'does not hold when a visit begins, until a step sets it. A "lasting" one must be at the '
        "end of a visit as it was at its beginning.",
        visit(
            _HANDS + "      sets door closed\n"
            "  [ ] operator opens the record at keyboard\n      only when door closed\n",
            "facts\n  door closed",
        ),
        visit(
            _HANDS + "  [ ] operator opens the record at keyboard\n      only when door closed\n",
            "facts\n  door closed",
        ),
    ),
    Construct(
        "floors",
        ("floor", "floors where"),
        "The weakest level of treatment that practice accepts for a kind of thing. A treatment at "
        "that level or above counts as enough; germs that it does not surely end are the accepted "
        "remainder, which every report lists. Below the floor nothing is accepted.",
        visit(_HANDS, "floors\n  surface: intermediate"),
        visit(_HANDS, "floors\n  surface: middling"),
    ),
    Construct(
        "germs",
        ("levels", "acts on"),
        "In a data file: the kinds of germ, the hardest to end first, and the levels of "
        "treatment, the weakest first, each with the soil it acts on and the germs it ends. "
        '"rinsed soil" means that the thing must have been cleaned before.',
        visit("""
  [ ] operator cleans hands
  [ ] operator lays out wipe
  [ ] operator cleans chair arms with a new wipe
  [ ] operator disinfects chair arms with the same wipe
  [ ] operator throws wipe into clinical waste
"""),
        visit(_HANDS, "floors\n  surface: lowest"),
    ),
)

_SCOUT = (
    "places\n  booth: barrier; patient in view\n\n"
    "verb ACTOR takes the scout image\n  exposure by ACTOR\n  no contact"
)

_HANDLE = "surfaces\n  door handle: surface\n\n"


def _verb(lines: str, step: str = "operator opens door handle by elbow") -> str:
    """A visit with one own verb, its lines given, and a step that uses it."""
    form = "verb ACTOR opens SURFACE by elbow\n"
    return visit(_HANDS + f"  [ ] {step}\n", _HANDLE + form + lines)


_VERBS = (
    Construct(
        "verb",
        ("also", "form", "each", "all"),
        "A sentence that steps can use, and what it does to soil. Words in capitals are slots: "
        "ACTOR for a person, STAFF and PATIENT for people of that kind, THING for any thing, and "
        "the kinds of thing. EACH before a slot takes a list, done once for each; ALL takes a "
        'list in one handling. "also" gives another form of the same verb. Its lines are done '
        "from the top down, as one act.",
        _verb("  meet ACTOR's front, SURFACE\n"),
        _verb("  meet ACTOR's front, SURFACE\n", "operator opens door handle by knee"),
    ),
    Construct(
        "meet",
        ("brush", "may meet"),
        '"meet" is one handling of everything it lists: soil gets from each to each, both ways. '
        '"brush" is the same where only a trace gets across. "may meet" is for a touch that may or '
        "may not happen: it is taken to happen, and what is clear with it is clear without it. "
        "The outermost layer is what meets: the glove, not the hand.",
        _verb("  meet ACTOR's front, SURFACE\n"),
        _verb("  meet ACTOR's front, DOOR\n"),
    ),
    Construct(
        "pass",
        ("pass a trace of",),
        'Soil goes one way, from what is named first to what stands after "to"; with "a trace of" '
        "only a trace does. A cough, a splash, a glove that comes off.",
        _verb("  pass SURFACE to ACTOR's front\n"),
        _verb("  pass SURFACE onto ACTOR's front\n"),
    ),
    Construct(
        "take",
        ("lay out",),
        'In a verb: "take" gets a thing from the box, store or surface it comes from, and the '
        'hands meet what they touch on the way; of what is used once, a new one. "lay out" '
        "fetches a supply to the surface from which it is taken later.",
        visit(
            _HANDS + "  [ ] operator lays out wipe\n"
            "  [ ] operator cleans chair arms with a new wipe\n"
            "  [ ] operator throws wipe into clinical waste\n"
        ),
        visit(
            _HANDS + "  [ ] operator cleans chair arms with a new wipe\n"
            "  [ ] operator throws wipe into clinical waste\n"
        ),
    ),
    Construct(
        "cover",
        ("uncover",),
        'In a verb: "cover" puts a cover on a thing, "uncover … from" takes it off. Neither is a '
        'touch of its own: what the hands touch is written beside it with "meet".',
        visit(
            _HANDS
            + "  [ ] operator takes bag off head rest\n  [ ] operator covers head rest with bag\n"
        ),
        visit(_HANDS + "  [ ] operator covers head rest with bag\n"),
    ),
    Construct(
        "tear",
        (),
        'In a verb: "tear … on" says that the cover tears on the person or thing that it is on. '
        "Until it comes off, whatever touches it touches what is under it too, both ways and in "
        "the full amount, and so does its coming off. If no such cover is on, nothing happens.",
        visit(
            _HANDS
            + "  [ ] operator puts on gloves\n"
            + "  [ ] operator tears gloves\n"
            + "  [ ] operator takes off gloves\n"
            + "  [ ] operator cleans hands\n"
        ),
        visit(
            _HANDS
            + "  [ ] operator puts on gloves\n"
            + "  [ ] operator tears gloves\n"
            + "  [ ] operator feels the gum\n"
            + "  [ ] operator takes off gloves\n"
            + "  [ ] operator washes hands\n",
            GUM,
        ),
    ),
    Construct(
        "its cover",
        ("each cover", "its"),
        'In a verb, "SURFACE\'s cover" is the cover that goes with what fills the slot: the one '
        "with which it starts a visit, or the only one that it takes. So one step can take the "
        "covers off several things, each its own. Where a thing takes several covers and starts "
        "with none, the cover is named.",
        visit(
            _HANDS
            + "  [ ] operator takes each cover off machine and head rest\n"
            + _HANDS
            + "  [ ] operator covers machine and head rest with its cover\n"
        ),
        visit(
            _HANDS
            + "  [ ] operator takes each cover off machine and head rest\n"
            + _HANDS
            + "  [ ] operator covers machine with its cover\n"
        ),
    ),
    Construct(
        "wash",
        ("reduce",),
        'In a verb: "wash" is the cleaning that has to come before a disinfection; "reduce … to" '
        'a level, or "reduce … by" a product, ends the germs that the level ends, if the thing '
        "was cleaned before. With a product that stays wet, it counts when the wet time is over.",
        _verb("  meet ACTOR's front, SURFACE\n  wash SURFACE\n  reduce SURFACE to low\n"),
        _verb("  meet ACTOR's front, SURFACE\n  wash SURFACE\n  reduce SURFACE to lowest\n"),
    ),
    Construct(
        "retire",
        ("what came off",),
        'In a verb: the thing is thrown away, or leaves for good; with "into", where to. "what '
        'came off" is the cover that the verb has just taken off.',
        visit(
            _HANDS + "  [ ] operator cleans chair arms with a new towel\n"
            "  [ ] operator throws towel into clinical waste\n",
            TOWEL,
        ),
        visit(_HANDS + "  [ ] operator cleans chair arms with a new towel\n", TOWEL),
    ),
    Construct(
        "moves",
        ("moves out",),
        'In a verb: "moves ACTOR to PLACE" says that the person is in that place from now on and '
        'in no other; "moves ACTOR out" that the person is in none. What hands touch on the way, '
        'a handle or nothing, is said beside it with "meet" or "no contact".',
        visit(
            _HANDS + "  [ ] operator slips into booth\n  [ ] operator leaves the room\n",
            "places\n  booth\n\nverb ACTOR slips into PLACE\n  moves ACTOR to PLACE\n  no contact",
        ),
        visit(
            _HANDS,
            "places\n  booth\n\nverb ACTOR slips into PLACE\n  moves ACTOR to boot\n  no contact",
        ),
    ),
    Construct(
        "exposure by",
        ("exposure",),
        "In a verb: the moment of an exposure. In a room that names places, the one who exposes "
        "has to be where that may be done, and everybody else but the patient where the exposure "
        "does not reach them (NCRP report 145, 2003). Local codes come first. Without places it "
        "asks for nothing, and the report says so.",
        visit(
            "  [ ] operator goes to booth\n  [ ] operator takes the scout image\n"
            "  [ ] operator leaves the room\n",
            _SCOUT,
        ),
        visit("  [ ] operator takes the scout image\n", _SCOUT),
    ),
    Construct(
        "no contact",
        (),
        "A verb in which a person and a thing occur but nothing is touched has to say so: "
        "forgetting a touch would make a protocol look safer than it is. The report lists the "
        "steps without contact.",
        visit(
            _HANDS + "  [ ] operator works door handle by foot\n",
            "surfaces\n  door handle: surface",
        ),
        _verb(""),
    ),
    Construct(
        "duty",
        ("while", "allowed while"),
        "Something that practice asks for at once: while a fact holds of a person, a part of that "
        'person touches nothing. A verb that may be done all the same says "allowed while" that '
        "fact.",
        visit(steps(GLOVES_ON, GLOVES_OFF)),
        visit(
            steps(
                GLOVES_ON,
                """
  [ ] operator takes off gloves
  [ ] operator works at keyboard
  [ ] operator cleans hands
""",
            )
        ),
    ),
    Construct(
        "kinds of thing",
        ("kind",),
        "In a words file: the kinds that things can have. The kind of a thing settles which slots "
        "of which verbs it can fill.",
        visit(_HANDS + "  [ ] operator works at door handle\n", "surfaces\n  door handle: surface"),
        visit(_HANDS + "  [ ] operator works at sensor\n"),
    ),
    Construct(
        "parts of staff",
        ("parts of a patient", "parts of a companion", "body parts"),
        "In a words file: the parts that each person has, and as what they count when soil "
        "reaches them: mouth, skin, face, near the face (under straps and ties) or clothes. "
        '"unclean on coming in" are hands that come from somewhere; the patient\'s mouth is "full '
        'of saliva", a wound "full of blood".',
        visit(steps(GLOVES_ON, "  [ ] operator feels the gum", GLOVES_OFF), GUM),
        visit(_HANDS, "verb ACTOR feels the gum\n  meet ACTOR's hands, the patient's tail"),
    ),
)

_MORE_WORDS = (
    Construct(
        "near the face",
        (
            "mouth",
            "skin",
            "face",
            "clothes",
            "unclean on coming in",
            "full of saliva",
            "full of blood",
            "full of body fluid",
        ),
        "As what a part of a person counts when soil reaches it. Of staff, any soil of a patient "
        "is told that reaches the face or mouth; on skin and near the face, where straps and ties "
        "are, a full touch is told and a trace is not; on clothes nothing is, though they carry "
        "soil on. Of a patient or companion, whatever part it is, any soil of another patient is "
        'told. Hands are "unclean on coming in", since they come from somewhere, and the '
        'patient\'s mouth is "full of saliva", a wound "full of blood", other parts "full of body '
        'fluid": all are judged alike, and told by these names.',
        visit(steps(GLOVES_ON, "  [ ] operator feels the gum", GLOVES_OFF), GUM),
        visit(_HANDS, "parts of staff\n  elbow: bone"),
    ),
    Construct(
        "slots",
        ("slot", "other"),
        "The words in capitals of a form: ACTOR for any person, STAFF, PATIENT and COMPANION for "
        "people of that kind, THING for anything, STREAM for a waste stream, and every kind of "
        "thing that a words file declares (SURFACE, COVER). A second one of the same kind has "
        "OTHER before it. EACH and ALL let a list stand there. In the lines of the verb the slot "
        "stands for whatever the step names there.",
        _verb("  meet ACTOR's front, SURFACE\n"),
        visit(_HANDS, "verb ACTOR polishes LAMP\n  meet ACTOR's hands, LAMP"),
    ),
)

_VISIT = (
    Construct(
        "begins with",
        ("used",),
        "What people wear, and what things are covered with, when a visit begins, beyond what the "
        'room says: "operator wears gloves". With "; used" after it, it carries this patient\'s '
        'soil from the start; so does what "is used" without a cover; "is bare" takes a cover away '
        "that the room has there. A visit must end as it begins, or the next one does not find "
        "what it expects.",
        visit(
            """
  in one go
    [ ] operator takes off gloves
    [ ] operator cleans hands
    [ ] operator puts on gloves
""",
            "begins with\n  operator wears gloves; used",
        ),
        visit(
            """
  in one go
    [ ] operator takes off gloves
    [ ] operator cleans hands
""",
            "begins with\n  operator wears gloves; used",
        ),
    ),
    Construct(
        "leaves",
        ("ends with",),
        "What must be so whenever a visit ends, in the same words as after only when: that a fact "
        "holds, that something is covered or dry.",
        visit(_HANDS + "  [ ] operator opens the record at keyboard\n", "leaves\n  record open"),
        visit(_HANDS, "leaves\n  record open"),
    ),
    Construct(
        "waiver",
        ("waivers", "approved by", "made up for by", "renewed", "renewed by"),
        "That an audit tolerates one finding, by its code, or one rule for one thing, from one day "
        "to another: why, who approved of it, which step makes up for it, how often it was "
        "renewed, and which role outside the clinic agreed to renew it. It stands in a protocol, "
        "or with others in a file that begins with waivers. A check does not look at it; an audit "
        "does, and says what became of it.",
        visit(
            _HANDS,
            f"{_WAIVER}  approved by infection control lead\n  from 2026-11-02 to 2027-01-15",
        ),
        visit(_HANDS, f"{_WAIVER}  from 2026-11-02 to 2027-01-15"),
    ),
)

CONSTRUCTS: tuple[Construct, ...] = (
    *_FILE,
    *_ORDER,
    *_THINGS,
    *_VERBS,
    *_MORE_WORDS,
    *_VISIT,
    *LOCAL,
    *RULES,
)
