"""What is said about names, sentences and verbs (N…): declared twice, unknown, of the wrong kind.

Three families in three modules, one row of numbers: names and what refers to them (here), sentences
of steps (:mod:`.sentence_faults`), verbs (:mod:`.verb_faults`). The facts of each kind are named
in its words; ``name`` is what the author wrote, ``nearest`` a known name close to it, if sure.
"""

from __future__ import annotations

from protocol_lang.wording.entry import Entry, Facts
from protocol_lang.wording.examples import STAFFING, visit
from protocol_lang.wording.plain import begin, count, listed, quoted, stray_letter
from protocol_lang.wording.sentence_faults import ENTRIES as SENTENCES
from protocol_lang.wording.verb_faults import ENTRIES as VERBS

HANDS = "  [ ] operator cleans hands\n"
_RUB = "  [ ] operator cleans hands\n"
_PHONE = "  phone rings, between any two steps of operator\n    [ ] operator cleans hands\n"
_PANEL = "  [ ] operator cleans hands\n  [ ] operator chooses settings at keyboard\n"
GOOD = visit(HANDS)


def nearest(facts: Facts) -> str | None:
    """The mend where one known name is close."""
    if "nearest" not in facts:
        return None
    return f"{quoted(facts['name'])} to {quoted(facts['nearest'])}"


def a(noun: str) -> str:
    """The noun with its article."""
    return f"an {noun}" if noun[0] in "aeiou" else f"a {noun}"


#: So many lines are named one by one.
_MOST_LINES = 6


def _left_out(facts: Facts) -> str:
    lines = facts["lines"].split(", ")
    where = f" (lines {listed(lines)})" if len(lines) <= _MOST_LINES else ""
    return (
        f"{begin(count(int(facts['count']), 'step'))} were left out{where}, because they were "
        "not understood."
    )


def _add_line(facts: Facts) -> str:
    if "meant" in facts:
        return f"Add a line under the title: takes words from {quoted(facts['meant'])}"
    title = "of its room" if facts["kind"] == "protocol" else "of its words file"
    return f'Add a line under the title: takes words from "…", with the title {title}.'


_SAID_OF_AIR = {"percent": "far air is cleared", "mixing factor": "well air mixes"}


def _things(line: str) -> str:
    return f"things\n  {line}"


def _room(line: str) -> str:
    return f"surfaces\n  {line}"


_WRAPS = "verb ACTOR wraps up SURFACE\n  cover SURFACE with "
_OWN_ROOM = 'room "A room of their own"\n  takes words from "Imaging room 2"\n\nthings\n'

_NAMES = (
    Entry(
        "name-empty",
        "N01",
        lambda f: f"{f['name']} holds no name.",
        "A name has at least one word. Between quotation marks stands a name as well, and never "
        "nothing.",
        "",
        "",
    ),
    Entry(
        "name-sign",
        "N02",
        lambda f: f"{quoted(f['name'])} holds a comma or a quotation mark, and a name has neither.",
        "Commas separate the names of a list, and quotation marks hold a name together. Inside a "
        "name neither can be told from that.",
        "",
        "",
    ),
    Entry(
        "name-too-long",
        "N03",
        lambda f: (
            f"{quoted(f['name'])} is long for a name: {f['words']} words and {f['letters']} "
            f"letters, where {f['most_words']} words and {f['most_letters']} letters are the most."
        ),
        "A name stands in every sentence that speaks of the thing and on the wall chart. At most "
        "six words and eighty letters keep both readable.",
        visit(HANDS, _room("the big grey lamp above the chair: surface")),
        visit(HANDS, _room("big grey lamp: surface")),
    ),
    Entry(
        "name-reserved",
        "N04",
        lambda f: f"{quoted(f['name'])} begins lines of a checklist and cannot be a name.",
        'Words such as "where", "any order" or "note" tell what a line is. A thing, person or '
        "label of that name could not be told from such a line.",
        visit(HANDS, _things("note: supply")),
        visit(HANDS, _things("note pad: supply")),
    ),
    Entry(
        "name-mixed-scripts",
        "N05",
        lambda f: f"{quoted(f['word'])} mixes letters of two scripts that look alike.",
        "A Cyrillic or Greek letter among Latin ones looks the same and is another letter, so that "
        "two names would look alike and differ. Each word keeps to one script.",
        visit(HANDS, _things("s\u0435nsor stand: supply")),
        visit(HANDS, _things("sensor stand: supply")),
        because=stray_letter,
    ),
    Entry(
        "declared-twice",
        "N06",
        lambda f: f"{begin(f['sort'])} {quoted(f['name'])} is declared twice.",
        "Each name is declared once, in one of the files that belong together. The other place is "
        "shown beside; keep one of the two, or give one of them another name. Only a file that "
        "says of a kind, a fact, a level, a part of people or a waste stream exactly what a file "
        "says that it takes words from may do so again.",
        visit(HANDS, _room("keyboard: surface")),
        visit(HANDS, _room("second keyboard: surface")),
        change=lambda f: "Keep one of the two, or give one of them another name.",
    ),
    Entry(
        "names-alike",
        "N07",
        lambda f: (
            f"{quoted(f['name'])} and {quoted(f['other'])} differ in so little that nobody tells "
            "them apart."
        ),
        "Two names that are the same but for capitals, articles, hyphens or blanks are one name to "
        "a reader. Rename one of them.",
        visit(HANDS, _room("key board: surface")),
        visit(HANDS, _room("old board: surface")),
    ),
    Entry(
        "kind-reserved",
        "N08",
        lambda f: f"{quoted(f['name'])} cannot be a kind of thing: its slot means something else.",
        "In the forms of verbs ACTOR, STAFF, PATIENT, COMPANION, THING and STREAM have a meaning "
        "of their own, and EACH, ALL and OTHER stand before a slot. Choose another word.",
        visit(HANDS, "kinds of thing\n  thing"),
        visit(HANDS, "kinds of thing\n  tool"),
    ),
    Entry(
        "unknown-kind",
        "N09",
        lambda f: f"{quoted(f['name'])} is not a kind of thing.",
        "What comes after the colon in a list of things is one of the kinds that the files declare "
        'under "kinds of thing".',
        visit(HANDS, _room("lamp: surfase")),
        visit(HANDS, _room("lamp: surface")),
        change=nearest,
        because=stray_letter,
    ),
    Entry(
        "unknown-part",
        "N10",
        lambda f: f"No part of {f['owner']} is called {quoted(f['name'])}.",
        'Parts of people are declared in words files, under "parts of staff" and the like; parts '
        'of a thing stand after "has" on the line that declares it.',
        visit(HANDS + "      only when operator's hand is bare\n"),
        visit(HANDS + "      only when operator's hands are bare\n"),
        change=nearest,
        because=stray_letter,
    ),
    Entry(
        "unknown-fact",
        "N11",
        lambda f: f"{quoted(f['name'])} is not a fact that the files declare.",
        'A fact is something that steps bring about and others rest on, such as "settings chosen". '
        'Each is declared under "facts", "facts of a person" or "facts of a thing".',
        visit(_PANEL + "  [ ] helper cleans hands\n      only when setting chosen\n"),
        visit(_PANEL + "  [ ] helper cleans hands\n      only when settings chosen\n"),
        change=nearest,
        because=stray_letter,
    ),
    Entry(
        "unknown-level",
        "N12",
        lambda f: f"{quoted(f['name'])} is not a level of treatment.",
        'Levels, such as "low" or "intermediate", are declared in a data file under "levels", '
        "with what each ends.",
        visit(HANDS, _things("spray: wipe; treats to medium")),
        visit(HANDS, _things("spray: wipe; treats to low")),
        change=nearest,
        because=stray_letter,
    ),
    Entry(
        "unknown-germs",
        "N13",
        lambda f: f"{quoted(f['name'])} is not one of the classes of germs that are listed.",
        'What a level ends is told in the classes that a data file lists under "germs", the '
        "hardest first.",
        visit(HANDS, "levels, weakest first\n  rinse: acts on all soil; ends fungus"),
        visit(HANDS, "levels, weakest first\n  rinse: acts on all soil; ends fungi"),
        change=nearest,
        because=stray_letter,
    ),
    Entry(
        "unknown-stream",
        "N14",
        lambda f: f"{quoted(f['name'])} is not a waste stream.",
        'Where used things go is declared under "waste streams", reprocessing among them.',
        visit(HANDS, _things("swab: supply; goes to clinical waist")),
        visit(HANDS, _things("swab: supply; goes to clinical waste")),
        change=nearest,
        because=stray_letter,
    ),
    Entry(
        "unknown-place",
        "N60",
        lambda f: f"{quoted(f['name'])} is not a place.",
        'Where people can be is declared under "places", in the room or in the protocol.',
        visit(HANDS, "places\n  booth\n\nthings\n  swab box: box; in both"),
        visit(HANDS, "places\n  booth\n\nthings\n  swab box: box; in booth"),
        change=nearest,
        because=stray_letter,
    ),
    Entry(
        "place-set",
        "N61",
        lambda f: f"Nobody is put into {quoted(f['where'])} by a fact.",
        "Each person is in one place at any moment. A verb moves people, from wherever they are: "
        '"moves ACTOR to PLACE", "moves ACTOR out". To set the fact by itself would leave them in '
        "two places at once.",
        visit(HANDS + "      sets operator in booth\n", "places\n  booth"),
        visit("  [ ] operator goes to booth\n  [ ] operator leaves the room\n", "places\n  booth"),
        change=lambda f: 'Use a verb that moves: "goes to", or one of your own',
    ),
    Entry(
        "starts-outside",
        "N62",
        lambda f: f"A visit does not find {quoted(f['person'])} in the room already.",
        "Patients, and whoever comes along with them, come in during the visit. Only staff can be "
        "somewhere when it begins.",
        visit(HANDS, "places\n  booth\n\npeople\n  father: companion; starts in booth"),
        visit(HANDS, "places\n  booth\n\npeople\n  student: staff; starts in booth"),
        change=lambda f: "Take the trait away",
    ),
    Entry(
        "amount-out-of-range",
        "N63",
        lambda f: f"{f['amount']} {f['unit']}: the number cannot be.",
        "Numbers about places and air have limits: 0 to 100 m from the patient, 0 to 180 "
        "degrees from the beam (0 is where the beam goes), 0.1 to 1000 air changes an hour, "
        "cleared to 1 to 99.999 percent, a mixing factor of 1 to 10.",
        visit(HANDS, "places\n  booth: 200 degrees from the beam"),
        visit(HANDS, "places\n  booth: 100 degrees from the beam"),
        because=lambda f: f"It goes from {f['least']} to {f['most']}.",
    ),
    Entry(
        "air-twice",
        "N64",
        lambda f: f"How {_SAID_OF_AIR[f['unit']]} is said twice.",
        'Under "air" of one file each number is said once. A protocol may say anew what its room '
        "says.",
        visit(HANDS, "air\n  cleared to 99 percent\n  cleared to 99.9 percent"),
        visit(HANDS, "air\n  cleared to 99 percent\n  mixing factor 2"),
    ),
    Entry(
        "unknown-trait",
        "N15",
        lambda f: f"{quoted(f['name'])} is nothing that a floor can be set for.",
        "A floor is set for a part of people, for a kind of thing, or for things that go in the "
        "mouth, are heat safe or not, or are always sleeved in the mouth.",
        visit(HANDS, "floors\n  surfaces: low"),
        visit(HANDS, "floors\n  box: low"),
        change=nearest,
        because=stray_letter,
    ),
    Entry(
        "unknown-choice",
        "N16",
        lambda f: (
            f"{quoted(f['name'])} is not a choice of this protocol"
            + ("." if "choices" in f else ", which has no choices.")
        ),
        'What stands before "is" after "where" is one of the choices that the protocol lists '
        'under "choices".',
        visit("  where stafing is alone\n    [ ] operator cleans hands\n", choices=STAFFING),
        visit("  where staffing is alone\n    [ ] operator cleans hands\n", choices=STAFFING),
        change=nearest,
        because=lambda f: f"the choices are: {f['choices']}" if "choices" in f else None,
    ),
    Entry(
        "unknown-value",
        "N17",
        lambda f: f"{quoted(f['name'])} is not a value of the choice {quoted(f['choice'])}.",
        "The values of a choice stand after its colon, and a condition names one of them.",
        visit("  where staffing is single\n    [ ] operator cleans hands\n", choices=STAFFING),
        visit("  where staffing is alone\n    [ ] operator cleans hands\n", choices=STAFFING),
        change=nearest,
        because=lambda f: f"the values are: {f['values']}",
    ),
    Entry(
        "unknown-label",
        "N18",
        lambda f: f"No step has the label {quoted(f['name'])}.",
        '"after" names other steps by their labels: the words and the colon right after the box.',
        visit(
            "  any order\n    [ ] rub: operator cleans hands\n"
            "    [ ] helper cleans hands\n        after rubb\n"
        ),
        visit(
            "  any order\n    [ ] rub: operator cleans hands\n"
            "    [ ] helper cleans hands\n        after rub\n"
        ),
        change=nearest,
        because=stray_letter,
    ),
    Entry(
        "unknown-phase",
        "N110",
        lambda f: f"No phase has the title {quoted(f['name'])}.",
        '"can happen in" names phases of this protocol by their titles, in quotation marks.',
        visit(_RUB, 'can happen in "Visite"\n' + _PHONE),
        visit(_RUB, 'can happen in "Visit"\n' + _PHONE),
        change=nearest,
        because=stray_letter,
    ),
    Entry(
        "unknown-condition",
        "N111",
        lambda f: f"Nothing that can be so or not is called {quoted(f['name'])}.",
        'After "where" stands a choice with its value, something that is found out on the way, '
        "something that can happen, a fact, or how something is at that moment: covered, bare, "
        "worn.",
        visit("  where glove torn\n    [ ] operator cleans hands\n"),
        visit(
            "  [ ] operator opens the record at keyboard\n"
            "  where record open\n    [ ] operator cleans hands\n"
        ),
        change=nearest,
        because=stray_letter,
    ),
    Entry(
        "choices-only",
        "N112",
        lambda f: "Here only choices can be asked for.",
        "Floors hold for a whole visit: they can depend on a choice, not on how something is at "
        "some moment.",
        visit(_RUB, "floors where operator wears gloves\n  surface: intermediate"),
        visit(_RUB, "floors where staffing is alone\n  surface: intermediate", STAFFING),
    ),
    Entry(
        "either-alone",
        "N113",
        lambda f: 'This "either" has one way only.',
        'Under "either" stands one way to do something, under the "or" that follows it another. '
        'What may be done or not stands under "may be left out".',
        visit("  either\n    [ ] operator cleans hands\n"),
        visit("  may be left out\n    [ ] operator cleans hands\n"),
    ),
    Entry(
        "rounds-number",
        "N114",
        lambda f: f"From {f['least']} to {f['most']} times cannot be done.",
        'After "for each" and a name stand the least and the most times: the least may be 0, the '
        "most is at least 1, not less than the least, and at most 200.",
        visit("  for each exposure, 3 to 2\n    [ ] operator cleans hands\n"),
        visit("  for each exposure, 1 to 3\n    [ ] operator cleans hands\n"),
    ),
    Entry(
        "again-number",
        "N115",
        lambda f: f"At most {f['most']} times more cannot be done.",
        'After "again from" stands how many times more at most: from 1 to 200.',
        visit(
            "  [ ] rub: operator cleans hands\n  may be left out\n"
            "    again from rub, at most 0 times\n"
        ),
        visit(
            "  [ ] rub: operator cleans hands\n  may be left out\n"
            "    again from rub, at most 2 times\n"
        ),
    ),
    Entry(
        "time-only-alone",
        "N116",
        lambda f: f"{quoted(f['found'])} stands in nothing that is repeated.",
        '"first time only" and "last time only" stand under a "for each".',
        visit("  first time only\n    [ ] operator cleans hands\n"),
        visit(
            "  for each exposure, 1 to 3\n    first time only\n"
            "      [ ] operator cleans hands\n    [ ] operator looks at the image\n"
        ),
    ),
    Entry(
        "lasting-number",
        "N117",
        lambda f: f"Nothing takes from {f['least']} to {f['most']}.",
        'After "takes" stands how long something takes: more than nothing, the less before the '
        "more, and at most a day.",
        visit("  [ ] operator cleans hands\n      takes 30 to 20 seconds\n"),
        visit("  [ ] operator cleans hands\n      takes 20 to 30 seconds\n"),
    ),
    Entry(
        "wait-lasts-itself",
        "N118",
        lambda f: "A wait says itself how long it is.",
        '"takes" stands under what is done. A wait is as long as its sentence says: so many '
        "minutes, or until a thing is dry.",
        visit(
            "  [ ] operator cleans hands\n  [ ] operator waits 2 minutes\n      takes 90 seconds\n"
        ),
        visit("  [ ] operator cleans hands\n  [ ] operator waits 2 minutes\n"),
    ),
    Entry(
        "cover-not-taken",
        "N20",
        lambda f: (
            f"{quoted(f['cover'])}, with which {f['thing']} would start, is not among its covers."
        ),
        "Whatever is on a thing at the start of a visit is one of the covers that stand after "
        '"takes cover" on the same line.',
        visit(HANDS, _room("lamp: surface; takes cover wrap; starts covered with bag")),
        visit(HANDS, _room("lamp: surface; takes cover wrap; starts covered with wrap")),
        because=lambda f: f"it takes: {f['takes']}" if "takes" in f else None,
    ),
    Entry(
        "one-of-many-alone",
        "N37",
        lambda f: (
            f"{quoted(f['thing'])} is used once, so it does not go back among others."
            if "once" in f
            else f"{quoted(f['thing'])} is one of many, and nothing says where they are kept."
        ),
        'What is "one of many" comes from a box or rack that is named, goes back to it, and lies '
        "there among others of its sort. What is used once does not come back.",
        visit(HANDS, _room("small plate: receptor; one of many")),
        visit(HANDS, _room("small plate: receptor; from sterile store; one of many")),
    ),
    Entry(
        "group-circle",
        "N21",
        lambda f: f"The group {quoted(f['name'])} holds itself.",
        "A group may name other groups, and stands for all things in them. Going from group to "
        "group never leads back to where it began.",
        visit(HANDS, "groups\n  all parts: tube, more parts\n  more parts: cone, all parts"),
        visit(HANDS, "groups\n  all parts: tube, more parts\n  more parts: head rest"),
    ),
    Entry(
        "fact-whose",
        "N22",
        lambda f: (
            f"{quoted(f['name'])} is a fact of {_whose(f['of'])}"
            + (f", and {quoted(f['said'])} is none." if "said" in f else ".")
        ),
        'A fact of a person or of a thing is told with whose it is: "operator is behind the '
        'barrier". A fact of the visit stands alone: "settings chosen".',
        visit(HANDS + "      only when behind the barrier\n"),
        visit(
            "  [ ] operator goes behind the barrier\n  [ ] operator looks at the image\n"
            "      only when operator is behind the barrier\n"
        ),
    ),
    Entry(
        "two-facts",
        "N23",
        lambda f: f"{quoted(f['text'])} can be read as two facts.",
        "The words are the name of a fact, and also the name of somebody or something with a fact "
        "after it. Rename one of the facts.",
        visit(
            "  [ ] operator cleans hands\n      sets sensor inspected\n",
            "facts\n  sensor inspected",
        ),
        visit("  [ ] operator cleans hands\n      sets sensor inspected\n"),
    ),
    Entry(
        "one-only",
        "N24",
        lambda f: f"{quoted(f['name'])} is several, and here stands one {f['wanted']} only.",
        "Where a form of a verb has EACH or ALL before a slot, a list or a group may stand there. "
        "Elsewhere it is one name, and the step is written once for each.",
        visit("  [ ] operator opens the record at tube\n"),
        visit(HANDS + "  [ ] operator opens the record at keyboard\n"),
        change=lambda f: f"{quoted(f['word'])} to {quoted(f['meant'])}" if "meant" in f else None,
    ),
    Entry(
        "wearer-no-person",
        "N25",
        lambda f: f"Only people wear something, not {f['name']}.",
        '"wears" stands after a person. Of things it is said that they are covered.',
        visit(HANDS + "      only when sensor wears gloves\n"),
        visit(
            "  [ ] operator cleans hands\n  [ ] operator puts on gloves\n"
            "  [ ] operator looks at the image\n      only when operator wears gloves\n"
            "  in one go\n    [ ] operator takes off gloves\n    [ ] operator cleans hands\n"
        ),
    ),
    Entry(
        "not-worn",
        "N26",
        lambda f: f"No line says on which part of a person {f['cover']} would be worn.",
        'What a person wears has "worn on" with a part on the line that declares it.',
        visit(HANDS + "      only when operator wears bag\n"),
        GOOD,
    ),
    Entry(
        "clean-not-plain",
        "N27",
        lambda f: (
            f'A claim that {f["what"]} should be clean cannot stand after "or" or with "not".'
        ),
        "Whether something is clean is followed for each bit of soil alone. Such a claim stands by "
        'itself, or joined to others by "and".',
        visit(HANDS + "      only when operator's hands are not clean\n"),
        visit(
            "  [ ] operator cleans hands\n  [ ] operator chooses settings at keyboard\n"
            "      only when operator's hands are clean of other patients\n"
        ),
    ),
    Entry(
        "came-off-outside",
        "N28",
        lambda f: '"what came off" is known only inside a verb that takes something off.',
        "In a verb it means the cover that the verb has just taken off. A checklist names the "
        "cover itself.",
        visit(HANDS + "      only when what came off is dry\n"),
        GOOD,
    ),
    Entry(
        "one-cover",
        "N29",
        lambda f: (
            f"{quoted(f['name'])} is a kind, and here one cover of that kind is meant: "
            f"{f['things']}."
            if "things" in f
            else f"{quoted(f['name'])} is a kind of which there is no thing here."
        ),
        "Where something is put on or is on at the start of a visit, one cover is named, not a "
        "kind of cover of which there may be several.",
        visit(HANDS, _WRAPS + "cover"),
        visit(HANDS, _WRAPS + "wrap"),
    ),
    Entry(
        "review-before-force",
        "N32",
        lambda f: f"The review on {f['review']} comes before the first day in force, {f['force']}.",
        "A protocol is in force from a day on and is reviewed by a later one.",
        "",
        "",
    ),
    Entry(
        "form-clash",
        "N33",
        lambda f: f"{quoted(f['sentence'])} could be read in two ways.",
        "Two forms of verbs, or one form and the names in its slots, fit the same sentence. It is "
        "told when a room or a words file is checked, before somebody writes such a sentence; in a "
        "protocol only sentences that occur are told. Change a form or a name.",
        _OWN_ROOM + "  cone and arm: supply\n",
        _OWN_ROOM + "  cone-and-arm set: supply\n",
        because=lambda f: f"one is {f['one']}; another is {f['other']}",
    ),
    Entry(
        "step-left-out",
        "N34",
        lambda f: f"The step {quoted(f['text'])} was left out, because it was not understood.",
        "A step whose sentence has no meaning, or two, cannot be followed. Nothing is claimed "
        "about a protocol with such a step.",
        "",
        "",
    ),
    Entry(
        "steps-left-out",
        "N35",
        _left_out,
        "Steps whose sentences have no meaning, or two, cannot be followed. What is wrong with "
        "each is told where it stands, or once where all have the same cause. Nothing is claimed "
        "about a protocol with such steps.",
        "",
        "",
    ),
    Entry(
        kind="no-words-taken",
        number="N36",
        sentence=lambda facts: (
            "This protocol takes no words from any room."
            if facts["kind"] == "protocol"
            else "This room takes no words from any vocabulary."
        ),
        because=lambda facts: (
            "Without them no person, thing or verb is known, and nothing more is said about names."
        ),
        change=_add_line,
        explanation=(
            "People, things and verbs are declared in a room and in the vocabulary that it takes "
            "words from. A line under the title says which room that is. Without the line every "
            "name would be unknown, so this alone is told."
        ),
        faulty=GOOD.replace('  takes words from "Imaging room 2"\n', ""),
        good=GOOD,
    ),
)


def _whose(of: str) -> str:
    return "the visit" if of == "visit" else a(of)


ENTRIES: tuple[Entry, ...] = (*_NAMES, *SENTENCES, *VERBS)
