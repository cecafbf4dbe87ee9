"""What is said of files, lines and words that cannot be read (T…), and of the files taken in.

The facts that each kind fills in:

=======================  ===========================================================================
file-…                   file; limit, reason, line, column where they are known
letter-not-allowed       letter: its name
line-too-long            limit: letters
tab-indent               last: the last line of several in a row; no tab: other signs only
wrong-indent             found: blanks; possible: "0, 2 or 4"
nested-too-deep          limit
more-faults              limit, more; unread: the rest of the file was not read
opening-misspelt         found, meant, here: what kind of line stands here
opening-unknown          found, here: what kind of line stands here
line-not-here            found, here, homes: the kinds of place where it may stand; blanks: as many
                         as it wants; under: the step that it belongs under
section-not-here         found, kind: of the file
box-form, box-missing    found
step-under-step          over: the line above it
lane-missing             found
nothing-under            over
empty-block              found
nothing-spread           found: "all of" or "any of"
quotes-missing           found
curly-quotes             found
and-with-or              found, other: the two small words
joined-twice             found: the small word
line-ends-early          after, expected: pieces of the grammar, in words of people by ``expected``
colon-missing            found, line: the rule of the line
words-not-expected       found, after, expected
not-a-number             found, limit: digits
not-a-day, day-not-real  found
times-no-range           found, meant: the line with a range
again-by-other-words     found; label: of the step that it leads back to
label-too-long           found, limit: words
label-quoted             found
said-twice               found
words-not-found          title, name: of the file sought; meant: the nearest title, if it is sure
words-found-twice        title, files
words-unreadable         title, file, why: the kind of the reason, with its own facts
takes-words-in-circle    circle: titles
title-is-path            title
takes-from-protocol      title
title-shared             title, file: the other one's name
title-differs            title, found
too-many-files           limit
too-large-together       limit
folder-too-large         folder, limit
=======================  ===========================================================================
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping

from protocol_lang.wording.entry import Entry, Facts
from protocol_lang.wording.examples import STAFFING, visit
from protocol_lang.wording.expected import expected
from protocol_lang.wording.plain import count, listed, quoted

_STEP = "  [ ] operator cleans hands"
_GOOD = visit(_STEP)


def _own(text: str) -> str:
    """The author's own words; without marks around them when they have quotes already."""
    return text if '"' in text else quoted(text)


def _because_first(facts: Facts) -> str:
    return "It has been said before, in the line named."


# --- Files that cannot be read -------------------------------------------------------------------


def _file(words: str) -> Callable[[Facts], str]:
    return lambda facts: f"{quoted(facts['file'])} {words.format(**facts)}."


def _not_utf8(facts: Facts) -> str:
    if "wide" in facts:
        what = "is a text in UTF-16, not in UTF-8"
    else:
        at = f"line {facts['line']}, column {facts['column']}"
        what = f"is not a text in UTF-8: what stands in {at}, is no letter"
    return f"{quoted(facts['file'])} {what}. Save it as plain text with the encoding UTF-8."


_FILES = (
    Entry(
        kind="file-missing",
        number="T01",
        sentence=_file("does not exist"),
        explanation="There is no file of this name in the folder that was named.",
        faulty="",
        good=_GOOD,
    ),
    Entry(
        kind="file-not-permitted",
        number="T02",
        sentence=_file("may not be read by you"),
        explanation="The file exists, but your rights do not allow you to read it.",
        faulty="",
        good=_GOOD,
    ),
    Entry(
        kind="file-is-folder",
        number="T03",
        sentence=_file("is a folder, where a file is asked for"),
        explanation="Name a file that ends in .protocol, not the folder in which it lies.",
        faulty="",
        good=_GOOD,
    ),
    Entry(
        kind="file-not-regular",
        number="T04",
        sentence=_file("is neither a file nor a folder"),
        explanation=(
            "Protocols are read from ordinary files only. A pipe or a device might never come to "
            "an end."
        ),
        faulty="",
        good=_GOOD,
    ),
    Entry(
        kind="file-too-large",
        number="T05",
        sentence=_file("is larger than {limit}, the most that is read"),
        explanation=(
            "The largest protocols take some ten thousand letters. A file so much larger is most "
            "likely not a protocol at all."
        ),
        faulty="",
        good=_GOOD,
    ),
    Entry(
        kind="file-too-many-lines",
        number="T06",
        sentence=_file("has more than {limit} lines, the most that is read"),
        explanation="Divide the protocol, or put what several protocols share into a room file.",
        faulty="",
        good=_GOOD,
    ),
    Entry(
        kind="file-not-utf8",
        number="T07",
        sentence=_not_utf8,
        explanation=(
            "Texts are stored in one of several encodings; protocols are read in UTF-8, which has "
            "the letters of every language. Most editors can store a text in it: look for the "
            'encoding under "save as". A document of a word processor is not a plain text.'
        ),
        faulty="",
        good=_GOOD,
    ),
    Entry(
        kind="file-empty",
        number="T08",
        sentence=_file("is empty"),
        explanation='A protocol has at least its first line and a phase. "start" writes a new one.',
        faulty="",
        good=_GOOD,
    ),
    Entry(
        kind="file-unreadable",
        number="T09",
        sentence=_file("cannot be read ({reason})"),
        explanation="The system refused to hand out the file, for the reason given.",
        faulty="",
        good=_GOOD,
    ),
)

# --- Letters and layout --------------------------------------------------------------------------


def _tab_indent(facts: Facts) -> str:
    tab = "no tab" not in facts
    if "last" in facts:
        signs = "tabs or other signs that look" if tab else "signs that only look"
        return f"The lines from here to line {facts['last']} begin with {signs} like blanks."
    sign = "a tab or another sign that looks" if tab else "a sign that only looks"
    return f"This line begins with {sign} like {'blanks' if tab else 'a blank'}."


def _why_no_tab(facts: Facts) -> str:
    if "no tab" in facts:
        return "Word processors and web pages put such signs in the place of blanks."
    return "A tab is as wide as each program likes, so it cannot tell under which line one stands."


def _mend_indent(facts: Facts) -> str:
    if "no tab" in facts:
        return "Delete what stands before the first letter, and type blanks."
    return "Put blanks in the place of the tabs."


#: How lines of a list begin that was written elsewhere.
_LIST_SIGN = re.compile(r"^(?:[-*\u2022\u2013\u2014]|\d+[.)])\s+")


def _as_a_step(facts: Facts) -> str:
    step = "[ ] " + _LIST_SIGN.sub("", facts["found"])
    return f"If it is a step, write {_own(step)}."


def _wrong_indent(facts: Facts) -> str:
    found = facts["found"]
    blanks = "one blank" if found == "1" else f"{found} blanks"
    return f"This line begins with {blanks} and so stands under no line above it."


def _here(facts: Facts) -> str:
    return _HERE[facts["here"]]


#: What may stand in a place, by the name of the table that the reader looked in.
_HERE: Mapping[str, str] = {
    "first": (
        'A file begins with "protocol", "day", "room", "words", "data", "rules" or "waivers", and '
        "its title."
    ),
    "header": 'Under the title stand lines such as "edition", "takes words from" or "note".',
    "section": 'At the left margin stand headings such as "phase", "choices", "things" or "verb".',
    "item": 'Here stand steps, "[ ] …", and blocks such as "any order", "in one go" or "where".',
    "phase": 'Here stand steps, "[ ] …", and blocks such as "any order", "in one go" or "where".',
    "remark": 'Under this line only "note" and "source" may stand.',
    "step": 'Under a step stand lines such as "only when", "note", "short", "after" or "sets".',
    "duty": 'Under a duty stands one line "while …, … touch nothing", besides "note" and "source".',
    "verb": 'Under a verb stand lines such as "only when", "meet", "take" or "no contact".',
    "rule": (
        'Under a rule stand its strength ("must"), "source", "because", what it asks ("always …", '
        '"never …", "before …", "after …", "whenever …"), and its examples.'
    ),
    "sentence": 'Under this line only "or …" may stand: a sentence that counts as well.',
    "soiling": (
        'Under what is found out stand lines that begin with "meet", "brush", "pass", "sets" or '
        '"ends".'
    ),
    "change": (
        'Among the changes of a phase stand "instead of …", "without …", "before …", "after …", '
        '"beside …", "move …" and "reword …".'
    ),
    "reword": (
        'Under "reword" stand "short", "note", "source", "takes" and "label": what is done stays '
        "as it is."
    ),
    "trait": (
        'Traits of a thing are, among others: "used once", "goes in the mouth", "takes cover …", '
        '"from …" and "goes to …".'
    ),
    "waiver": (
        'Under a waiver stand what it is about ("rule …" with "for …", or "finding …"), "reason", '
        '"approved by" and "from … to …".'
    ),
}

#: Where a line belongs, by the names of the tables that have it.
_HOMES: Mapping[str, str] = {
    "first": "in the first line of a file",
    "header": "under the title of a file",
    "section": "at the left margin",
    "item": "in a phase",
    "phase": "at the beginning of a phase",
    "remark": "under what it says something about",
    "step": "under a step",
    "duty": "under a duty",
    "verb": "under a verb",
    "rule": "under a rule",
    "sentence": "under a sentence of a rule",
    "soiling": "under what is found out",
    "trait": "behind a thing, after a semicolon",
    "waiver": "under a waiver",
    "change": 'under "changes in" of a local edition',
    "reword": 'under "reword" in a local edition',
}


def _line_not_here(facts: Facts) -> str:
    if "under" in facts:
        return f"{_own(facts['found'])} does not stand beside a step, but under one."
    homes = [_HOMES[home] for home in facts["homes"].split() if home in _HOMES]
    if "phase" in facts["homes"].split() and "item" in facts["homes"].split():
        homes.remove(_HOMES["phase"])
    return f"{_own(facts['found'])} does not stand here, but {listed(homes[:3], 'or')}."


def _move(facts: Facts) -> str | None:
    if "under" in facts:
        return "Put more blanks before this line than before the step above."
    if "blanks" in facts:
        return f"Begin the line with {count(int(facts['blanks']), 'blank')}."
    return None


def _replace(facts: Facts) -> str:
    return f"Write {quoted(facts['meant'])}."


_LAYOUT = (
    Entry(
        kind="letter-not-allowed",
        number="T10",
        sentence=lambda facts: (
            f"In this line stands a sign that nobody can see: {facts['letter']}."
        ),
        explanation=(
            "Letters of every language may be used, with the signs that part or join them where "
            "their spelling has such. Other signs that show nothing or that turn the "
            "direction of writing could make a line look other than it is read. They are often "
            "copied along from a web page or a document. The reader counts the column of the sign."
        ),
        faulty=visit("  [ ] operator\N{ZERO WIDTH SPACE} cleans hands"),
        good=_GOOD,
        change=lambda facts: "Delete the sign, or write the line again.",
    ),
    Entry(
        kind="line-too-long",
        number="T11",
        sentence=lambda facts: f"This line has more than {facts['limit']} letters.",
        explanation="Nobody can read a line of that length. Say it in several lines.",
        faulty=visit(f'{_STEP}\n      note "{"Slowly. " * 65}"'),
        good=_GOOD,
    ),
    Entry(
        kind="tab-indent",
        number="T12",
        sentence=_tab_indent,
        because=_why_no_tab,
        explanation=(
            "What stands under what is told by the blanks at the beginning of the lines. A tab "
            "looks like blanks, but not like the same number of them everywhere. Most editors can "
            "replace tabs, and can be told to write blanks when the tab key is pressed."
        ),
        faulty=visit("\t[ ] operator cleans hands"),
        good=_GOOD,
        change=_mend_indent,
    ),
    Entry(
        kind="wrong-indent",
        number="T13",
        sentence=_wrong_indent,
        because=lambda facts: (
            f"Possible here are {facts['possible']} blanks, or more to go under the line above."
        ),
        explanation=(
            "A line stands under the line above it when it begins with more blanks, and beside an "
            "earlier line when it begins with as many as that one. With a number in between it "
            "stands nowhere."
        ),
        faulty=visit("""
  in one go
      [ ] operator cleans hands
    [ ] operator opens the record at keyboard
"""),
        good=visit("""
  in one go
    [ ] operator cleans hands
    [ ] operator opens the record at keyboard
"""),
    ),
    Entry(
        kind="nested-too-deep",
        number="T14",
        sentence=lambda facts: f"Blocks stand in blocks more than {facts['limit']} deep here.",
        explanation=(
            "A checklist that deep cannot be followed. Divide it into phases, or take out blocks "
            "that say nothing of their own."
        ),
        faulty=visit(
            "".join(f"{'  ' * depth}in order\n" for depth in range(1, 20))
            + f"{'  ' * 20}[ ] operator cleans hands"
        ),
        good=_GOOD,
    ),
    Entry(
        kind="more-faults",
        number="T15",
        sentence=lambda facts: (
            f"There is more to correct from here on; {facts['limit']} findings are listed"
            + (", and the rest was not read." if "unread" in facts else ".")
        ),
        explanation="So many findings mostly have few causes. Correct the first and check again.",
        faulty="",
        good=_GOOD,
    ),
    Entry(
        kind="first-line-missing",
        number="T16",
        sentence=lambda facts: "The line that tells what file this is and its title is missing.",
        because=lambda facts: _HERE["first"],
        explanation=(
            'The first line that is not a comment says what kind of file it is: "protocol", '
            '"day", "room", "words", "data" or "rules", and then the title in double quotes.'
        ),
        faulty='phase "Visit"\n  [ ] say: good morning\n',
        good=_GOOD,
    ),
    Entry(
        kind="opening-misspelt",
        number="T17",
        sentence=lambda facts: (
            f"No trait of a thing begins with {_own(facts['found'])}."
            if facts.get("here") == "trait"
            else f"No line begins with {_own(facts['found'])}."
        ),
        change=_replace,
        explanation=(
            "Every line begins with words that tell what it is. These are nearly the words of one "
            "kind of line that may stand here, and of no other. Small letters are meant, not "
            "capitals."
        ),
        faulty=visit("  in one goo\n    [ ] operator cleans hands"),
        good=visit("  in one go\n    [ ] operator cleans hands"),
    ),
    Entry(
        kind="opening-unknown",
        number="T18",
        sentence=lambda facts: (
            f"No trait of a thing begins with {_own(facts['found'])}."
            if facts["here"] == "trait"
            else f"No line that may stand here begins with {_own(facts['found'])}."
        ),
        because=_here,
        explanation="Every line begins with words that tell what it is. These are none of them.",
        faulty=visit(f"{_STEP}\n      slowly and with care"),
        good=_GOOD,
    ),
    Entry(
        kind="line-not-here",
        number="T19",
        sentence=_line_not_here,
        because=lambda facts: None if "under" in facts else _here(facts),
        change=_move,
        explanation=(
            "The line is a good one, but in another place. Often only the blanks at its beginning "
            "are too many or too few."
        ),
        faulty=visit(f'{_STEP}\n  note "Warm water."'),
        good=visit(f'{_STEP}\n      note "Warm water."'),
    ),
    Entry(
        kind="section-not-here",
        number="T20",
        sentence=lambda facts: (
            f"{_own(facts['found'])} stands in a {facts.get('home', 'protocol')}, not in a file of "
            f"the kind {quoted(facts['kind'])}."
        ),
        explanation=(
            "Choices, phases, what a visit begins with and what it leaves belong to a protocol. "
            "Rooms, words and data are shared by many protocols. A day names protocols and has "
            "nothing of its own; the lines that name them belong to a day."
        ),
        faulty='room "Small room"\n\nphase "Visit"\n  [ ] say: good morning\n',
        good='room "Small room"\n\npeople\n  operator: staff\n',
    ),
    Entry(
        kind="box-form",
        number="T21",
        sentence=lambda facts: f"{_own(facts['found'])} is not the box that begins a step.",
        change=lambda facts: 'Write "[ ]", with one blank inside.',
        explanation=(
            "A step begins with an empty box. It is ticked by hand, on the wall or on paper; a "
            "protocol holds no ticks."
        ),
        faulty=visit("  [] operator cleans hands"),
        good=_GOOD,
    ),
    Entry(
        kind="box-missing",
        number="T22",
        sentence=lambda facts: f"{_own(facts['found'])} has no box and opens no block.",
        because=lambda facts: _HERE["item"],
        change=_as_a_step,
        explanation="A step begins with an empty box, [ ], and says after it what is done.",
        faulty=visit("  operator cleans hands"),
        good=_GOOD,
    ),
    Entry(
        kind="step-under-step",
        number="T23",
        sentence=lambda facts: f"This step stands under another step, {_own(facts['over'])}.",
        because=lambda facts: _HERE["step"],
        explanation=(
            "Steps that are done one after the other stand one under the other with as many blanks "
            "before them. Blocks such as any order have steps under them, a step has not."
        ),
        faulty=visit(f"{_STEP}\n      [ ] operator opens the record at keyboard"),
        good=visit(f"{_STEP}\n  [ ] operator opens the record at keyboard"),
        change=lambda facts: "Begin the line with as many blanks as the step above.",
    ),
    Entry(
        kind="lane-missing",
        number="T24",
        sentence=lambda facts: "Under side by side stand people, and their steps under them.",
        explanation=(
            "Several people work side by side. Each has a line with the name alone, and under it "
            "what that person does, in order."
        ),
        faulty=visit("  side by side\n    [ ] operator cleans hands"),
        good=visit("  side by side\n    operator\n      [ ] operator cleans hands"),
    ),
    Entry(
        kind="nothing-under",
        number="T25",
        sentence=lambda facts: f"Nothing stands under {_own(facts['over'])}.",
        explanation=(
            "The line above says all by itself; the blanks before this one put it under it. "
            "Take blanks away until it stands where it belongs."
        ),
        faulty=visit(f'{_STEP}\n      note "Warm water."\n        source "A handbook"'),
        good=visit(f'{_STEP}\n      note "Warm water."\n      source "A handbook"'),
    ),
    Entry(
        kind="empty-block",
        number="T26",
        sentence=lambda facts: f"There is nothing under {_own(facts['found'])}.",
        explanation=(
            "This line opens a block. What belongs to it stands in the next lines, with more "
            "blanks before them."
        ),
        faulty=visit(f"{_STEP}\n  any order\n  [ ] operator opens the record at keyboard"),
        good=visit(f"{_STEP}\n  any order\n    [ ] operator opens the record at keyboard"),
    ),
    Entry(
        kind="otherwise-alone",
        number="T27",
        sentence=lambda facts: 'There is no "where" right above this "otherwise".',
        explanation=(
            '"otherwise" tells what is done where a condition does not hold. It follows right '
            "after the steps of that condition, with as many blanks before it. Nothing follows an "
            '"otherwise" that has no condition.'
        ),
        faulty=visit(
            f"{_STEP}\n  otherwise\n    [ ] operator opens the record at keyboard", choices=STAFFING
        ),
        good=visit(
            f"{_STEP}\n  where staffing is alone\n    [ ] operator opens the record at keyboard\n"
            "  otherwise\n    [ ] helper cleans hands",
            choices=STAFFING,
        ),
    ),
    Entry(
        kind="nothing-spread",
        number="T28",
        sentence=lambda facts: f"There is nothing that {_own(facts['found'])} speaks of.",
        explanation=(
            'Under "all of" or "any of" stand the parts, one a line, with more blanks before them; '
            'after "where" they come before the first step.'
        ),
        faulty=visit(
            "  where any of\n    [ ] operator cleans hands",
            choices=STAFFING,
        ),
        good=visit(
            "  where any of\n    staffing is alone\n    staffing is paired\n"
            "    [ ] operator cleans hands",
            choices=STAFFING,
        ),
    ),
)

# --- Words in a line -----------------------------------------------------------------------------


def _ends_early(facts: Facts) -> str:
    return f"After {_own(facts['after'])} something is missing."


def _expected(facts: Facts) -> str:
    return f"To go on with: {expected(facts['expected'].split())}."


def _not_expected(facts: Facts) -> str:
    if not facts["after"]:
        return f"A line cannot begin with {_own(facts['found'])} here."
    return f"{_own(facts['found'])} cannot follow {_own(facts['after'])}."


#: What stands after the colon of a line that declares, and an example.
_AFTER_COLON: Mapping[str, tuple[str, str]] = {
    "thing_line": ("the kind after it", "lamp: surface"),
    "person_line": ("who that is after it", "operator: staff"),
    "part_line": ("as what it counts after it", "hands: skin"),
    "choice_line": ("the values after it", "staffing: alone, paired"),
    "group_line": ("the members after it", "working places: keyboard, clean half"),
    "floor_line": ("the level after it", "surface: intermediate"),
    "level_line": ("what it does after it", "low: acts on rinsed soil; ends fungi"),
}

_LINES = (
    Entry(
        kind="quote-not-closed",
        number="T29",
        sentence=lambda facts: "Double quotes are opened here and not closed.",
        change=lambda facts: 'Write a second " where the quoted words end.',
        explanation=(
            "Titles, notes and sources stand in double quotes, on one line. Inside, write single "
            "quotes if you must."
        ),
        faulty=visit(f'{_STEP}\n      note "Warm water.'),
        good=visit(f'{_STEP}\n      note "Warm water."'),
    ),
    Entry(
        kind="curly-quotes",
        number="T30",
        sentence=lambda facts: f"{facts['found']} is not the sign for double quotes.",
        change=lambda facts: 'Write " at both ends.',
        explanation=(
            "Word processors put slanted or curled signs for quotes in the place of straight "
            'ones. Here only the straight double quotes count, ".'
        ),
        faulty=visit(f"{_STEP}\n      note “Warm water.”"),
        good=visit(f'{_STEP}\n      note "Warm water."'),
    ),
    Entry(
        kind="quotes-missing",
        number="T31",
        sentence=lambda facts: f"Double quotes are missing around {_own(facts['found'])}.",
        change=lambda facts: f"Write {quoted(facts['found'])}, with the quotes.",
        explanation=(
            "Titles, notes, short texts and sources stand in double quotes. Names do not, unless "
            "they hold a word that would be read as something else."
        ),
        faulty=visit(f"{_STEP}\n      note Warm water."),
        good=visit(f'{_STEP}\n      note "Warm water."'),
    ),
    Entry(
        kind="nothing-quoted",
        number="T32",
        sentence=lambda facts: "Between these quotes stands nothing.",
        explanation="Say what is meant, or take the line out.",
        faulty=visit(f'{_STEP}\n      note ""'),
        good=visit(f'{_STEP}\n      note "Warm water."'),
    ),
    Entry(
        kind="and-with-or",
        number="T33",
        sentence=lambda facts: '"and" and "or" stand in one line.',
        because=lambda facts: "It can be read in two ways.",
        explanation=(
            'A line holds either "and" or "or". To have both, write "all of" or "any of" and the '
            "parts under it, one a line."
        ),
        faulty=visit(
            f"{_STEP}\n      only when record open and settings chosen or patient in view"
        ),
        good=visit(
            "  [ ] operator opens the record at keyboard\n  [ ] operator cleans hands\n"
            "      only when any of\n        record open\n        all of\n"
            "          settings chosen\n          patient in view"
        ),
    ),
    Entry(
        kind="comma-in-claim",
        number="T34",
        sentence=lambda facts: 'Conditions are joined by "and" or "or", not by a comma.',
        explanation=(
            "A comma leaves open whether both must hold or one is enough. Several lines "
            '"only when" must all hold.'
        ),
        faulty=visit(
            "  [ ] operator opens the record at keyboard\n  [ ] operator cleans hands\n"
            "      only when record open, operator's hands are bare"
        ),
        good=visit(
            "  [ ] operator opens the record at keyboard\n  [ ] operator cleans hands\n"
            "      only when record open and operator's hands are bare"
        ),
    ),
    Entry(
        kind="joined-twice",
        number="T35",
        sentence=lambda facts: f"{_own(facts['found'])} stands twice in this line.",
        because=lambda facts: "Which of them joins the two names cannot be told.",
        change=lambda facts: "Put the name that holds the word in double quotes.",
        explanation=(
            "A small word joins two names in this line. When a name holds the same word, the line "
            "could be cut in two places. In double quotes the name is one piece."
        ),
        faulty=visit(
            _STEP,
            declared="verb ACTOR pats SURFACE\n  pass SURFACE to ACTOR's hands to SURFACE\n",
        ),
        good=visit(_STEP, declared="verb ACTOR pats SURFACE\n  pass SURFACE to ACTOR's hands\n"),
    ),
    Entry(
        kind="colon-at-end",
        number="T36",
        sentence=lambda facts: "This line ends without a colon.",
        change=lambda facts: "Take the colon away.",
        explanation=(
            "What stands under a line is told by the blanks alone. A colon stands only after a "
            "label and between a name and what is said of it."
        ),
        faulty=visit("  in one go:\n    [ ] operator cleans hands"),
        good=visit("  in one go\n    [ ] operator cleans hands"),
    ),
    Entry(
        kind="line-ends-early",
        number="T37",
        sentence=_ends_early,
        because=_expected,
        explanation="The line begins well and then stops.",
        faulty=visit(
            f"{_STEP}\n  where staffing is\n    [ ] helper cleans hands", choices=STAFFING
        ),
        good=visit(
            f"{_STEP}\n  where staffing is paired\n    [ ] helper cleans hands", choices=STAFFING
        ),
    ),
    Entry(
        kind="words-not-expected",
        number="T38",
        sentence=_not_expected,
        because=lambda facts: f"Expected here: {expected(facts['expected'].split())}.",
        explanation=(
            "The line begins well, and then comes something that no line of this kind has in "
            "this place."
        ),
        faulty=visit("  any order mixed\n    [ ] operator cleans hands"),
        good=visit("  any order, mixed\n    [ ] operator cleans hands"),
    ),
    Entry(
        kind="not-a-number",
        number="T39",
        sentence=lambda facts: (
            f"{_own(facts['found'])} is not a whole number of at most {facts['limit']} figures."
        ),
        explanation="Write numbers in figures, without commas, points or units.",
        faulty=_GOOD.replace("edition 1", "edition one"),
        good=_GOOD,
    ),
    Entry(
        kind="not-a-day",
        number="T40",
        sentence=lambda facts: f"{_own(facts['found'])} is not a day as it is written here.",
        because=lambda facts: "A day is written as year, month and day: 2027-01-31.",
        explanation=(
            "Days are written with the year first, as in ISO 8601, since 03/04 means one day in "
            "some countries and another in others."
        ),
        faulty=_GOOD.replace("edition 1", "edition 1\n  in force from 31.1.2027"),
        good=_GOOD.replace("edition 1", "edition 1\n  in force from 2027-01-31"),
    ),
    Entry(
        kind="day-not-real",
        number="T41",
        sentence=lambda facts: f"There is no day {facts['found']} in the calendar.",
        explanation="The month or the day of the month does not exist.",
        faulty=_GOOD.replace("edition 1", "edition 1\n  in force from 2027-02-30"),
        good=_GOOD.replace("edition 1", "edition 1\n  in force from 2027-02-28"),
    ),
    Entry(
        kind="label-too-long",
        number="T42",
        sentence=lambda facts: (
            f"{_own(facts['found'])} has more than {facts['limit']} words, too many for a label."
        ),
        explanation=(
            "What stands before a colon in a step is its label: a short name by which other steps "
            "speak of it. A sentence has no colon."
        ),
        faulty=visit("  [ ] as soon as all is ready: operator cleans hands"),
        good=visit("  [ ] all ready: operator cleans hands"),
    ),
    Entry(
        kind="label-quoted",
        number="T43",
        sentence=lambda facts: f"The label {facts['found']} has quotes in it.",
        explanation="A label is one to four plain words before a colon, without quotes.",
        faulty=visit('  [ ] "ready": operator cleans hands'),
        good=visit("  [ ] ready: operator cleans hands"),
    ),
    Entry(
        kind="said-twice",
        number="T44",
        sentence=lambda facts: f"{_own(facts['found'])} is said a second time.",
        because=_because_first,
        explanation="This can be said once only. Take out the line, or the words, that are wrong.",
        faulty=_GOOD.replace("edition 1", "edition 1\n  edition 2"),
        good=_GOOD,
    ),
    Entry(
        kind="duty-without-while",
        number="T45",
        sentence=lambda facts: "This duty does not say when it binds whom.",
        because=lambda facts: _HERE["duty"],
        explanation=(
            "A duty has one line that says which fact must hold of a person for the duty to bind, "
            "and which part of that person then touches nothing."
        ),
        faulty=visit(_STEP, declared='duty "Quiet hands"\n  source "House rule"\n'),
        good=visit(
            _STEP,
            declared=(
                'duty "Quiet hands"\n  while behind the barrier, eyes touch nothing\n'
                '  source "House rule"\n'
            ),
        ),
    ),
)

# --- Files that are taken in ---------------------------------------------------------------------


def _not_found(facts: Facts) -> str:
    return (
        f"There is no {quoted(facts['name'])} to take words from, neither in this folder or below "
        "nor among the shipped files."
    )


def _unreadable(facts: Facts) -> str:
    why = next(entry for entry in _FILES if entry.kind == facts["why"])
    return f"Words cannot be taken from {quoted(facts['title'])}: {why.sentence(facts)}"


_HELLO = """\
protocol "Hello"
  takes words from "Imaging room 2"

phase "Visit"
  [ ] say: good morning
"""


def _hello(title: str) -> str:
    return _HELLO.replace("Imaging room 2", title)


_TAKEN = (
    Entry(
        kind="words-not-found",
        number="T46",
        sentence=_not_found,
        change=lambda facts: f"Write {quoted(facts['meant'])}." if "meant" in facts else None,
        explanation=(
            "Words are taken from a file by its title. The file bears the title as its name, in "
            'small letters and with hyphens: "Imaging room 2" is imaging-room-2.protocol. It is '
            "looked for in the folder of the file that asks for it, then in those below, then "
            "among the files shipped with the program, and nowhere else."
        ),
        faulty=_hello("Room of another house"),
        good=_HELLO,
    ),
    Entry(
        kind="words-found-twice",
        number="T47",
        sentence=lambda facts: (
            f"Several files could be meant by {quoted(facts['title'])}: {facts['files']}."
        ),
        explanation=(
            "Which of the files counts would depend on chance. Rename one of them, and its title "
            "with it."
        ),
        faulty="",
        good=_HELLO,
    ),
    Entry(
        kind="words-unreadable",
        number="T48",
        sentence=_unreadable,
        explanation="The file was found, but it cannot be read, for the reason given.",
        faulty="",
        good=_HELLO,
    ),
    Entry(
        kind="takes-words-in-circle",
        number="T49",
        sentence=lambda facts: f"These files take words from each other: {facts['circle']}.",
        explanation=(
            "Words come from files that stand on their own, and those may take words from others, "
            "but never from one that waits for them. Put what both need into a third file."
        ),
        faulty=_hello("Hello"),
        good=_HELLO,
    ),
    Entry(
        kind="title-is-path",
        number="T50",
        sentence=lambda facts: (
            f"{quoted(facts['title'])} is the way to a file, where a title is asked for."
        ),
        explanation=(
            "Words are taken from a file by its title alone. So a protocol reads the same wherever "
            "its folder lies, and cannot reach out of it."
        ),
        faulty=_hello("../imaging-room-2.protocol"),
        good=_HELLO,
    ),
    Entry(
        kind="takes-from-protocol",
        number="T51",
        sentence=lambda facts: (
            f"{quoted(facts['title'])} is a protocol; words are taken from rooms, words and data."
        ),
        explanation="Put what both protocols speak of into a room or a words file.",
        faulty="",
        good=_HELLO,
    ),
    Entry(
        kind="title-differs",
        number="T52",
        sentence=lambda facts: (
            f"The file found for {quoted(facts['title'])} has another title, "
            f"{_own(facts['found'])}."
        ),
        explanation=(
            "The name of a file is made of its title. Here they differ, so that one of them is out "
            "of date."
        ),
        faulty="",
        good=_HELLO,
    ),
    Entry(
        kind="too-many-files",
        number="T53",
        sentence=lambda facts: f"Words are taken from more than {facts['limit']} files.",
        explanation="So many files cannot be overlooked by anyone. Put some of them together.",
        faulty="",
        good=_HELLO,
    ),
    Entry(
        kind="too-large-together",
        number="T54",
        sentence=lambda facts: (
            f"The files that words are taken from are larger than {facts['limit']} together."
        ),
        explanation="That is many times what any room needs.",
        faulty="",
        good=_HELLO,
    ),
    Entry(
        kind="folder-too-large",
        number="T55",
        sentence=lambda facts: (
            f"The folder {quoted(facts['folder'])} holds more than {facts['limit']} files and "
            "folders, too many to look for words in."
        ),
        explanation=(
            "Keep protocols in a folder of their own: whatever lies below it is looked through for "
            "the files that words are taken from."
        ),
        faulty="",
        good=_HELLO,
    ),
    Entry(
        kind="title-shared",
        number="T56",
        sentence=lambda facts: (
            f"This file and the file that it takes words from, {facts['file']}, have the same "
            f"title, {quoted(facts['title'])}."
        ),
        explanation=(
            "A file is found by its title, so no two files that belong together share one. Give "
            "the protocol a title that says what is done, and the room one that says where."
        ),
        faulty="",
        good=_HELLO,
    ),
)


#: Numbers are given in the order in which kinds came to be told.
def _done_again(facts: Facts) -> str:
    if "label" in facts:
        return f"It is written as in: again from {facts['label']}, at most 1 time"
    return (
        'What is done again is written "for each NAME, 1 to N" or '
        '"again from LABEL, at most N times".'
    )


_LATER = (
    Entry(
        kind="colon-missing",
        number="T57",
        sentence=lambda facts: (
            f"In {_own(facts['found'])} a colon is missing, and {_AFTER_COLON[facts['line']][0]}."
        ),
        because=lambda facts: f"It is written as in: {_AFTER_COLON[facts['line']][1]}",
        explanation=(
            "Lines of a list give a name, then a colon, then what it is: a thing its kind, a "
            "person whether of the staff, a choice its values."
        ),
        faulty=visit(_STEP, declared="surfaces\n  lamp\n"),
        good=visit(_STEP, declared="surfaces\n  lamp: surface\n"),
    ),
    Entry(
        kind="or-alone",
        number="T58",
        sentence=lambda facts: 'There is no "either" right above this "or".',
        explanation=(
            '"or" tells another way to do what stands under "either". It follows right after it, '
            "with as many blanks before it."
        ),
        faulty=visit(f"{_STEP}\n  or\n    [ ] operator opens the record at keyboard"),
        good=visit(
            "  either\n    [ ] operator cleans hands\n"
            "  or\n    [ ] operator cleans hands\n    [ ] operator looks at the image"
        ),
    ),
    Entry(
        kind="mishap-missing",
        number="T59",
        sentence=lambda facts: "What happens is not told before this is done.",
        explanation=(
            'Under "can happen in" stands what can happen, and when: "phone rings, between any two '
            'steps of operator" or "sensor falls, right after place". The steps that are then done '
            "stand under that line."
        ),
        faulty=visit(_STEP, 'can happen in "Visit"\n  [ ] operator cleans hands'),
        good=visit(
            _STEP,
            'can happen in "Visit"\n  phone rings, between any two steps of operator\n'
            "    [ ] operator cleans hands",
        ),
    ),
    Entry(
        kind="times-no-range",
        number="T60",
        sentence=lambda facts: "How many times is said by the least and the most.",
        because=lambda facts: f"It is written as in: {facts['meant']}",
        explanation=(
            'After "for each" come a name for what is counted, a comma, and the least and the most '
            "times, in figures. Every number of times between them is looked at. What is always "
            'done as often has one number twice: "4 to 4".'
        ),
        faulty=visit("  for each exposure, up to 4\n    [ ] operator cleans hands"),
        good=visit("  for each exposure, 1 to 4\n    [ ] operator cleans hands"),
    ),
    Entry(
        kind="again-by-other-words",
        number="T61",
        sentence=lambda facts: f"No line begins with {_own(facts['found'])}.",
        because=_done_again,
        explanation=(
            'What is done several times stands under "for each", with the least and the most '
            'times. "again from" goes back to a step with a label in the same phase; it stands '
            'where it is decided, under "where" or "may be left out".'
        ),
        faulty=visit(f"  [ ] rub: {_STEP[6:]}\n  repeat from rub"),
        good=visit(
            f"  [ ] rub: {_STEP[6:]}\n  may be left out\n    again from rub, at most 1 time"
        ),
    ),
)

ENTRIES: tuple[Entry, ...] = (*_FILES, *_LAYOUT, *_LINES, *_TAKEN, *_LATER)
