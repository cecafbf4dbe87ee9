"""What is said about verbs (N70…): their forms, and what they do."""

from __future__ import annotations

from protocol_lang.wording.entry import Entry, Facts
from protocol_lang.wording.examples import visit
from protocol_lang.wording.plain import begin, quoted

_HANDS = "  [ ] operator cleans hands\n"


def _verb(*lines: str) -> str:
    return visit(_HANDS, "\n  ".join(lines))


_MEETS = "meet ACTOR's hands, SURFACE"
_GOOD = _verb("verb ACTOR polishes SURFACE", _MEETS)


def _nearest(facts: Facts) -> str | None:
    if "nearest" not in facts:
        return None
    return f"{quoted(facts['name'])} to {quoted(facts['nearest'])}"


ENTRIES: tuple[Entry, ...] = (
    Entry(
        "form-sign",
        "N70",
        lambda f: f"A form of a verb holds words and slots only, not {quoted(f['sign'])}.",
        "A form is written without commas and quotation marks. A list is meant by EACH or ALL "
        "before the slot.",
        _verb("verb ACTOR polishes SURFACE, slowly", _MEETS),
        _GOOD,
    ),
    Entry(
        "form-touching",
        "N71",
        lambda f: f"Two slots of {quoted(f['form'])} stand side by side with no word between them.",
        "Between two slots stands at least one word, so that it can be told where the first name "
        "ends.",
        _verb("verb ACTOR wraps SURFACE COVER", _MEETS),
        _verb("verb ACTOR wraps SURFACE with COVER", _MEETS),
    ),
    Entry(
        "form-unknown-kind",
        "N72",
        lambda f: f"{quoted(f['slot'])} is not a slot: no kind of thing is called so.",
        "A slot is written in capitals: ACTOR for any person, STAFF, PATIENT or COMPANION, THING "
        "for anything, STREAM for a waste stream, or a kind of thing that the files declare.",
        _verb("verb ACTOR polishes LAMP", "meet ACTOR's hands, LAMP"),
        _GOOD,
    ),
    Entry(
        "form-slot-twice",
        "N73",
        lambda f: f"{quoted(f['form'])} has the slot {f['slot']} twice.",
        "Each slot of a form has a name of its own. A second one of the same kind is written with "
        "OTHER before it.",
        _verb("verb ACTOR sets SURFACE against SURFACE", _MEETS),
        _verb("verb ACTOR sets SURFACE against OTHER SURFACE", _MEETS),
    ),
    Entry(
        "form-two-lists",
        "N74",
        lambda f: f"{quoted(f['form'])} takes two lists, and a form takes one at most.",
        "With two lists in one sentence nobody can tell which belongs to which. Write EACH or ALL "
        "before one slot only.",
        _verb("verb EACH ACTOR polish EACH SURFACE", _MEETS),
        _verb("verb EACH ACTOR polish SURFACE", _MEETS),
    ),
    Entry(
        "form-no-word",
        "N75",
        lambda f: f"{quoted(f['form'])} has no word that tells what is done.",
        "A form has at least one word in small letters beside its slots: the verb itself.",
        _verb("verb ACTOR", "no contact"),
        _GOOD,
    ),
    Entry(
        "form-no-person",
        "N76",
        lambda f: f"{quoted(f['form'])} has no slot for who does it.",
        "Each step is done by somebody. A form has a slot ACTOR, STAFF, PATIENT or COMPANION.",
        _verb("verb the lamp warms SURFACE", "no contact"),
        _GOOD,
        change=lambda f: f"{quoted(f['form'])} to {quoted(f['meant'])}" if "meant" in f else None,
    ),
    Entry(
        "form-twice",
        "N77",
        lambda f: f"Another verb has the form {quoted(f['form'])} already.",
        "Two verbs of one form would give every such sentence two readings. Change a word of one "
        "of them, or leave one out. Only a verb that does exactly what one of an imported file "
        "does may stand twice.",
        _verb("verb ACTOR cleans hands", "no contact"),
        _GOOD,
    ),
    Entry(
        "form-built-in",
        "N78",
        lambda f: f"{quoted(f['form'])} is a sentence that every protocol understands already.",
        'Waits belong to the language: "operator waits 2 minutes", "operator waits until sensor '
        'is dry".',
        _verb("verb ACTOR waits until THING is dry", "no contact"),
        _GOOD,
    ),
    Entry(
        "forms-differ",
        "N79",
        lambda f: f"The slots of {quoted(f['form'])} do not match those of {quoted(f['first'])}.",
        "The forms of one verb have the same slots, for its lines speak of them. A slot may have "
        "another kind in another form, if the rest can be paired in the order written.",
        _verb("verb ACTOR polishes SURFACE", "also ACTOR polishes all around", _MEETS),
        _verb("verb ACTOR polishes SURFACE", "also ACTOR polishes SURFACE all around", _MEETS),
    ),
    Entry(
        "no-contact-told",
        "N80",
        lambda f: f"What {f['who']} touches in {quoted(f['form'])} is not told.",
        "A verb with a person and a thing, or with two people, is a contact as a rule, and one "
        'left out would hide soil that travels. Write what meets, or "no contact" if nothing is '
        "touched. A verb without any line that does something has to say so as well.",
        _verb("verb ACTOR polishes SURFACE", "wash SURFACE"),
        _GOOD,
    ),
    Entry(
        "contact-and-none",
        "N81",
        lambda f: f"{quoted(f['form'])} has a contact and says that there is no contact.",
        '"no contact" is the author\'s word that a verb touches nothing. Leave out one of the two.',
        _verb("verb ACTOR polishes SURFACE", _MEETS, "no contact"),
        _GOOD,
    ),
    Entry(
        "meets-alone",
        "N82",
        lambda f: f"{begin(f['text'])} meets nothing: two or more have to be named.",
        '"meet" and "brush" are contacts of everything that they name with each other.',
        _verb("verb ACTOR polishes SURFACE", "meet SURFACE"),
        _GOOD,
    ),
    Entry(
        "nothing-came-off",
        "N83",
        lambda f: "Nothing has come off before this line.",
        '"what came off" is the cover that a line "uncover" above it has taken off in the same '
        "verb.",
        _verb("verb ACTOR polishes SURFACE", _MEETS, "retire what came off"),
        _GOOD,
    ),
    Entry(
        "person-as-thing",
        "N84",
        lambda f: (
            f"Which part of {f['name']} is meant is not told"
            + (f": {f['name']}'s {f['part']}, for example." if "part" in f else ".")
        ),
        'People touch things with a part of theirs: "ACTOR\'s hands".',
        _verb("verb ACTOR polishes SURFACE", "meet ACTOR, SURFACE"),
        _GOOD,
    ),
    Entry(
        "unknown-slot",
        "N85",
        lambda f: f"The form of this verb has no slot {quoted(f['name'])}.",
        "Words in capitals in the lines of a verb are the slots of its first form.",
        _verb("verb ACTOR polishes SURFACE", "meet ACTOR's hands, COVER"),
        _GOOD,
        because=lambda f: f"its slots are: {f['slots']}",
    ),
    Entry(
        "form-too-long",
        "N86",
        lambda f: f"This form has {f['words']} words; {f['most']} are the most.",
        "A form is one short sentence. It stands in every step that uses the verb.",
        _verb("verb ACTOR polishes SURFACE" + " over and" * 14 + " over", _MEETS),
        _GOOD,
    ),
)
