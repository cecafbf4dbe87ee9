"""What is said about the sentences of steps (N40…): no reading, two readings, what a use lacks."""

from __future__ import annotations

from protocol_lang.wording.entry import Entry, Facts
from protocol_lang.wording.examples import visit
from protocol_lang.wording.plain import begin, quoted, stray_letter

_HANDS = "  [ ] operator cleans hands\n"


def _unknown(facts: Facts) -> str:
    kind = facts["wanted"]
    if kind == "person":
        who = "nobody"
    else:
        who = "nothing" if kind in {"thing", "person or thing"} else f"no {kind}"
    return f"There is {who} called {quoted(facts['name'])}."


def _form(facts: Facts) -> str | None:
    stray = stray_letter(facts)
    if stray is not None:
        return stray
    told = f"the sentence was read as: {facts['form']}" if "form" in facts else None
    if "figures" in facts:
        return f"{told}; how many there are is said in figures: {facts['figures']}"
    return told


def _nearest(facts: Facts) -> str | None:
    if "nearest" not in facts:
        return None
    return f"{quoted(facts['name'])} to {quoted(facts['nearest'])}"


def _meant(facts: Facts) -> str | None:
    if "meant" not in facts:
        return None
    return f"{quoted(facts.get('whole', facts['name']))} to {quoted(facts['meant'])}"


def _meant_word(facts: Facts) -> str | None:
    """One word of the verb differs from what all the nearest forms have."""
    return f"{quoted(facts['word'])} to {quoted(facts['meant'])}" if "meant" in facts else None


def _wrong_kind(facts: Facts) -> str:
    actual, wanted = facts["actual"], facts["wanted"]
    inside = f" in the group {quoted(facts['group'])}" if "group" in facts else ""
    return f"{quoted(facts['name'])}{inside} is {_a(actual)}, and here stands {_a(wanted)}."


def _a(noun: str) -> str:
    if noun in {"staff", "eyewear", "gloves", "overgloves"}:
        return noun
    return f"an {noun}" if noun[0] in "aeiou" else f"a {noun}"


def _two(facts: Facts) -> str:
    more = f" ({facts['more']} more)" if "more" in facts else ""
    return f"one is {facts['one']}; another is {facts['other']}{more}"


ENTRIES: tuple[Entry, ...] = (
    Entry(
        "unknown-name",
        "N40",
        _unknown,
        "People, things, groups and waste streams are declared in the protocol, its room or its "
        "words. A sentence calls them by those names; articles may be added or left out. Another "
        "name is advised only where one alone is close enough to be meant.",
        visit("  [ ] operator opens the record at keybord\n"),
        visit(_HANDS + "  [ ] operator opens the record at keyboard\n"),
        change=_nearest,
        because=_form,
    ),
    Entry(
        "wrong-kind",
        "N41",
        _wrong_kind,
        "Each slot of a verb takes things of one kind, or people. The name is known, but what "
        "bears it is of another kind than the verb takes.",
        visit("  [ ] operator opens the record at sensor\n"),
        visit(_HANDS + "  [ ] operator opens the record at keyboard\n"),
        because=_form,
    ),
    Entry(
        "no-number",
        "N42",
        lambda f: f"{quoted(f['name'])} is not a number in figures.",
        "How long somebody waits is told in whole minutes, and how many of a supply are laid out "
        'in a whole number, both in figures: "operator waits 2 minutes".',
        visit("  [ ] operator waits two minutes\n"),
        visit("  [ ] operator waits 2 minutes\n"),
        change=_meant,
    ),
    Entry(
        "verb-form",
        "N43",
        lambda f: f"No verb is written like this; the form closest to it is {quoted(f['form'])}.",
        "A sentence has the words of one of the listed forms of a verb, with names in the slots. "
        "Nothing is guessed: another ending or another small word is another form. A form can be "
        'added in a words file with "also".',
        visit("  [ ] operator clean hands at keyboards\n".replace(" at keyboards", " well")),
        visit(_HANDS),
        change=_meant_word,
    ),
    Entry(
        "verb-forms",
        "N44",
        lambda f: "No verb is written like this; several forms are close to it.",
        "A sentence has the words of one of the listed forms of a verb, with names in the slots. "
        "More than one form is equally close to this one, so none is advised.",
        visit("  [ ] operator disinfects sensor\n"),
        visit(_HANDS),
        because=lambda f: "the forms are: " + "; ".join(f["forms"].split("\n")),
        change=_meant_word,
    ),
    Entry(
        "unknown-sentence",
        "N45",
        lambda f: (
            'After "say" a colon is missing.'
            if "say" in f
            else "A step begins with who does it, and no verb is written like this."
            if "nobody" in f
            else "No verb is written like this."
        ),
        "Each step is one sentence that a verb of the vocabulary understands, or begins with "
        '"say:". A verb can be added to a words file of the clinic\'s own, or to the protocol.',
        visit("  [ ] operator whistles a tune\n"),
        visit(_HANDS + "  [ ] say: a word to calm the patient\n"),
        because=lambda f: (
            None if "say" in f else 'What is only said or shown is written "[ ] say: …".'
        ),
        change=lambda f: '"say" to "say:"' if "say" in f else None,
    ),
    Entry(
        "two-readings",
        "N46",
        lambda f: f"{quoted(f['text'])} can be read in two ways.",
        "Names may contain the small words of sentences, so that words can be cut in more than one "
        "way. Which is meant is never guessed. Quotation marks around a name hold it together; "
        "renaming one of the things settles it for good.",
        visit(
            "  [ ] operator inspects cone and arm\n",
            "things\n  cone and arm: supply",
        ),
        visit('  [ ] operator inspects "cone" and "arm"\n', "things\n  cone and arm: supply"),
        because=_two,
    ),
    Entry(
        "two-acts",
        "N47",
        lambda f: "A second act begins here; each step is one act.",
        "One sentence is one act of a verb. What comes after stands on a line of its own, with a "
        'box of its own and who does it; "in one go" keeps the two together.',
        visit("  [ ] operator cleans hands and opens the record at keyboard\n"),
        visit(_HANDS + "  [ ] operator opens the record at keyboard\n"),
        change=lambda f: 'Begin a new line here, with "[ ]" and who does it.',
    ),
    Entry(
        "named-twice",
        "N48",
        lambda f: f"{begin(f['name'])} is named twice in this step.",
        "A list, or a list and a group, names each thing once: done once for each, it would be "
        "done twice for this one.",
        visit("  [ ] operator inspects cone and tube\n"),
        visit("  [ ] operator inspects tube\n"),
    ),
    Entry(
        "open-quotation",
        "N49",
        lambda f: "This quotation mark opens a name that nothing closes.",
        "A name in quotation marks ends with a second one on the same line.",
        visit('  [ ] operator inspects "cone\n'),
        visit('  [ ] operator inspects "cone"\n'),
    ),
    Entry(
        "lane-twice",
        "N50",
        lambda f: f'{begin(f["name"])} has two lists under the same "side by side".',
        "Side by side, each person has one list. What one person does is written in one of them.",
        visit(
            "  side by side\n    operator\n      [ ] operator cleans hands\n"
            "    helper\n      [ ] helper cleans hands\n"
            "    operator\n      [ ] operator looks at the image\n"
        ),
        visit(
            "  side by side\n    operator\n      [ ] operator cleans hands\n"
            "    helper\n      [ ] helper cleans hands\n"
        ),
    ),
    Entry(
        "other-lane",
        "N51",
        lambda f: f"{begin(f['name'])} does this step, but it stands in the list of {f['lane']}.",
        "Side by side, each list holds the steps of the person whose name is above it.",
        visit(
            "  side by side\n    operator\n      [ ] helper cleans hands\n"
            "    helper\n      [ ] helper looks at the image\n"
        ),
        visit(
            "  side by side\n    operator\n      [ ] operator cleans hands\n"
            "    helper\n      [ ] helper looks at the image\n"
        ),
    ),
    Entry(
        "number-without-supply",
        "N52",
        lambda f: f"How many of {quoted(f['name'])} there are has no meaning in this step.",
        "A number says how many of a supply are laid out. Every other step takes or handles one "
        "thing at a time; a list, or the step written once more, says that it is done with "
        "several.",
        visit("  [ ] operator inspects 2 sensor\n"),
        visit("  [ ] operator inspects sensor\n"),
    ),
    Entry(
        "number-out-of-range",
        "N53",
        lambda f: f"{f['number']} is no number of {quoted(f['name'])} that can be laid out.",
        "At least one and at most a thousand of a supply are laid out in one step. Without a "
        "number it means as many as are taken.",
        visit(_HANDS + "  [ ] operator lays out 0 wipe\n"),
        visit(_HANDS + "  [ ] operator lays out 1 wipe\n"),
        because=lambda f: f"at least 1 and at most {f['most']} can be laid out",
    ),
)
