"""What is said of local editions (L…).

=======================  ===========================================================================
kind                     facts
=======================  ===========================================================================
base-not-protocol        title, kind
base-in-circle           title
base-changed             title, asked and found: editions; fingerprint
base-other-edition       the same
base-newer               the same; kept: a copy of the edition asked for was found
changes-without-base
change-heading           found, how: the words before it; meant: the nearest heading, if it is sure
change-unknown-phase     name, titles: one on each line; meant
change-unknown-step      name, phase, by: label or sentence; elsewhere: the phase in which it is;
                         other way: yes, if the other way of naming it fits; meant
change-which-step        name, count; of: how many the change speaks of
change-no-such-number    name, number, count
change-no-block          name
changed-twice            name
change-beside-gone       name
change-leaves-nothing    name, named: as the change names it; phase: if that is left empty
change-label-lost        name
change-unknown-name      name, sort: what would bear it; meant
change-not-any-order     name
change-reword-block      name
change-move-into-itself  name
phase-missing            over: the line above
change-label-said        name
change-to-settle         text
=======================  ===========================================================================
"""

from __future__ import annotations

from protocol_lang.wording.entry import Entry, Facts
from protocol_lang.wording.plain import count, listed, quoted

_GOOD = (
    'protocol "Wired sensor, other site"\n'
    "  edition 1\n"
    '  adapts "Intraoral, wired sensor" edition 1\n'
    "\n"
    'changes in "Get ready"\n'
    '  after "operator opens the record at keyboard"\n'
    "    [ ] say: the name of the patient\n"
)


def _local(body: str, header: str = "") -> str:
    """A local edition of the shipped protocol for a wired sensor."""
    return (
        'protocol "Wired sensor, other site"\n'
        "  edition 1\n"
        '  adapts "Intraoral, wired sensor" edition 1\n'
        f"{header}\n"
        f"{body}"
    )


def _in(phase: str, body: str) -> str:
    return _local(f'changes in "{phase}"\n{body}')


def _meant(facts: Facts) -> str | None:
    return f"Write {quoted(facts['meant'])}." if "meant" in facts else None


def _editions(facts: Facts) -> str:
    if facts["found"] == "none":
        return f"{quoted(facts['title'])} says of no edition which one it is."
    return (
        f"{quoted(facts['title'])} is there as edition {facts['found']}; this was written for "
        f"edition {facts['asked']}."
    )


def _newer(facts: Facts) -> str:
    if "kept" in facts:
        return (
            f"There is edition {facts['found']} of {quoted(facts['title'])}; this rests on the "
            f"copy of edition {facts['asked']} that was kept."
        )
    return (
        f"There is edition {facts['found']} of {quoted(facts['title'])}; this was written for "
        f"edition {facts['asked']}, and was looked at as changes of the new one."
    )


def _unknown_step(facts: Facts) -> str:
    if facts["by"] == "label":
        return f"No step of {quoted(facts['phase'])} has the label {quoted(facts['name'])}."
    return f"No step of {quoted(facts['phase'])} says {quoted(facts['name'])}."


def _unknown_step_change(facts: Facts) -> str | None:
    if "elsewhere" in facts:
        return f"Put it under: changes in {quoted(facts['elsewhere'])}"
    if "other way" in facts:
        if facts["by"] == "label":
            return "It is the sentence of a step: write it in double quotes."
        return "It is a label: write it without the quotes."
    if "meant" in facts:
        name = facts["meant"] if facts["by"] == "label" else quoted(facts["meant"])
        return f"Write {name}."
    return None


def _which(facts: Facts) -> str:
    many = count(int(facts["count"]), "step")
    if "of" in facts:
        say = "says" if facts["count"] == "1" else "say"
        return (
            f"{many[0].upper()}{many[1:]} here {say} {quoted(facts['name'])}, where the change "
            f"speaks of {facts['of']}."
        )
    return f"{many[0].upper()}{many[1:]} here say {quoted(facts['name'])}."


def _which_change(facts: Facts) -> str:
    if facts["count"] == "1":
        return "Take the numbers away."
    return (
        f"Say which one after a comma: {quoted(facts['name'])}, 1 of {facts['count']}, if the "
        "first is meant."
    )


def _unknown_name(facts: Facts) -> str:
    if facts["sort"] == "heading":
        return f"The base has nothing under {quoted(facts['name'])} that could be changed."
    if facts["sort"] == "verb":
        return f"Nothing that the base takes in declares a verb {quoted(facts['name'])}."
    return (
        f"Neither the base nor a file that it takes words from declares the {facts['sort']} "
        f"{quoted(facts['name'])}."
    )


ENTRIES = (
    Entry(
        kind="base-not-protocol",
        number="L01",
        sentence=lambda facts: (
            f"{quoted(facts['title'])} is a file of the kind {quoted(facts['kind'])}, "
            "where a protocol is asked for."
        ),
        explanation=(
            'Behind "adapts" stands the title of a protocol. What a room or a file of words '
            "declares can be changed too: a local edition changes what its base takes from there."
        ),
        faulty=(
            'protocol "Second site"\n  edition 1\n  adapts "Imaging room 2" edition 1\n\n'
            'phase "Visit"\n  [ ] say: good morning\n'
        ),
        good=_GOOD,
    ),
    Entry(
        kind="base-in-circle",
        number="L02",
        sentence=lambda facts: f"{quoted(facts['title'])} would adapt itself in the end.",
        explanation=(
            "A local edition may adapt another local edition, and so on; the last of them is "
            "written out in full. Give the local file a title of its own."
        ),
        faulty=(
            'protocol "Second site"\n  edition 1\n  adapts "Second site" edition 1\n\n'
            'phase "Visit"\n  [ ] say: good morning\n'
        ),
        good=_GOOD,
    ),
    Entry(
        kind="base-changed",
        number="L03",
        sentence=lambda facts: (
            f"{quoted(facts['title'])}, edition {facts['found']}, is not the text that this was "
            "written for."
        ),
        change=lambda facts: (
            "Look at what is different, then write the new fingerprint: "
            f'{facts["fingerprint"]}. Or let "adopt" do both.'
        ),
        explanation=(
            "A fingerprint is a short code of what a protocol says, with all that it takes words "
            "from. Another one under the same number of edition means that the base, its room or "
            "its words were changed since the local edition was written. What is checked is what "
            "is there now; whether the local changes still mean the same is for their author to "
            "see."
        ),
        faulty=_GOOD.replace(
            'sensor" edition 1\n\n', 'sensor" edition 1 fingerprint aaaabbbbcccc\n\n'
        ),
        good=_GOOD,
    ),
    Entry(
        kind="base-other-edition",
        number="L04",
        sentence=_editions,
        change=lambda facts: (
            "Name the edition that is meant, or bring the one that was meant back."
        ),
        explanation=(
            "A local edition is written for one edition of its base. A copy of that edition can be "
            "kept beside it: a file with the name of the base and the edition, such as "
            "intraoral-wired-sensor-edition-1.protocol."
        ),
        faulty=_GOOD.replace('sensor" edition 1\n\n', 'sensor" edition 999999999\n\n'),
        good=_GOOD,
    ),
    Entry(
        kind="base-newer",
        number="L05",
        sentence=_newer,
        change=lambda facts: 'Go over to it with "protocol-lang adopt".',
        explanation=(
            'The base has moved on. "protocol-lang adopt" puts the local changes onto the new '
            "edition, tells which of them do not fit any more, and what is different in the end."
        ),
        faulty=_GOOD.replace('sensor" edition 1\n\n', 'sensor" edition 0\n\n'),
        good=_GOOD,
    ),
    Entry(
        kind="changes-without-base",
        number="L06",
        sentence=lambda facts: "This changes something, and no line says of which protocol.",
        change=lambda facts: 'Add under the title: adapts "TITLE" edition NUMBER',
        explanation=(
            '"changes in", "instead of", "without", "before phase" and "after phase" stand in a '
            "local edition: a protocol whose header says which other one it adapts."
        ),
        faulty=_GOOD.replace('  adapts "Intraoral, wired sensor" edition 1\n', ""),
        good=_GOOD,
    ),
    Entry(
        kind="change-heading",
        number="L07",
        sentence=lambda facts: (
            f"{quoted(facts['how'] + ' …')} does not go together with {quoted(facts['found'])}."
        ),
        change=_meant,
        explanation=(
            'After "instead of" and "without" stand headings such as "things", "people", '
            '"products", "groups", "choices, each visit", "figures" or "phase". Kinds, germs, '
            "levels and floors are not for one site to change; a file of data or words of its own "
            "says them."
        ),
        faulty=_local("without kinds of thing\n  sensor\n"),
        good=_GOOD,
    ),
    Entry(
        kind="change-unknown-phase",
        number="L08",
        sentence=lambda facts: f"The base has no phase {quoted(facts['name'])}.",
        because=lambda facts: (
            f"Its phases: {listed([quoted(title) for title in facts['titles'].splitlines()])}."
        ),
        change=_meant,
        explanation="A phase is named by its title, as the base has it.",
        faulty=_in("Get redy", "  without place\n"),
        good=_GOOD,
    ),
    Entry(
        kind="change-unknown-step",
        number="L09",
        sentence=_unknown_step,
        change=_unknown_step_change,
        explanation=(
            "A step of the base is named by its label, or by its whole sentence in double quotes. "
            'A label can be given to it: under "reword" and its sentence, "label NAME".'
        ),
        faulty=_in("Place and expose", "  without plaec\n"),
        good=_GOOD,
    ),
    Entry(
        kind="change-which-step",
        number="L10",
        sentence=_which,
        change=_which_change,
        explanation=(
            "Where several steps of a phase say the same, a change tells which one is meant and "
            'how many there are: "operator cleans hands", 2 of 3. If the base has more or fewer '
            "of them one day, that is told, and no other step is changed by mistake."
        ),
        faulty=_in("Place and expose", '  without "operator cleans hands"\n'),
        good=_GOOD,
    ),
    Entry(
        kind="change-no-such-number",
        number="L11",
        sentence=lambda facts: (
            f"There is no number {facts['number']} of {quoted(facts['name'])}: "
            f"{'one step' if facts['count'] == '1' else facts['count'] + ' steps'} here "
            f"{'is' if facts['count'] == '1' else 'are'} called so."
        ),
        explanation="They are counted from 1, from the top of the phase down.",
        faulty=_in("Place and expose", '  without "operator cleans hands", 4 of 3\n'),
        good=_GOOD,
    ),
    Entry(
        kind="change-no-block",
        number="L12",
        sentence=lambda facts: f"There is no such block around {quoted(facts['name'])}.",
        explanation=(
            'A block is "in one go", "any order", "where", "side by side" and the like. "the block '
            'around place" is the one in which that step stands; "the block around the block '
            'around place" is the one in which that block stands.'
        ),
        faulty=_in("Place and expose", "  without the block around place\n"),
        good=_GOOD,
    ),
    Entry(
        kind="changed-twice",
        number="L13",
        sentence=lambda facts: f"{quoted(facts['name'])} is changed twice, and both cannot be.",
        explanation=(
            "One step is replaced, left out, moved or said in other words once. To move a step and "
            "change it, leave it out and put it in as it is to be, where it is to be."
        ),
        faulty=_in(
            "Get ready",
            '  without "operator sets tube roughly"\n'
            '  instead of "operator sets tube roughly"\n    [ ] say: look at the tube\n',
        ),
        good=_GOOD,
    ),
    Entry(
        kind="change-beside-gone",
        number="L14",
        sentence=lambda facts: (
            f"This stands beside {quoted(facts['name'])}, which another change takes out."
        ),
        change=lambda facts: "Name a step beside it that stays.",
        explanation="Steps are put in before or after a step that is still there.",
        faulty=_in(
            "Get ready",
            '  without "operator sets tube roughly"\n'
            '  after "operator sets tube roughly"\n    [ ] say: look at the tube\n',
        ),
        good=_GOOD,
    ),
    Entry(
        kind="change-leaves-nothing",
        number="L15",
        sentence=lambda facts: (
            f"Nothing is left in the phase {quoted(facts['phase'])}."
            if "phase" in facts
            else "Nothing is left in the block that this is taken out of."
        ),
        change=lambda facts: (
            f"Write at the margin: without phase {quoted(facts['phase'])}"
            if "phase" in facts
            else f"Take the block out as a whole: the block around {facts['named']}."
        ),
        explanation=(
            "A block with nothing in it says nothing. Whether it goes as a whole is for you to "
            'say: with a "where" go the other cases too.'
        ),
        faulty=_in("Get ready", '  without "operator puts collar on patient"\n'),
        good=_GOOD,
    ),
    Entry(
        kind="change-label-lost",
        number="L16",
        sentence=lambda facts: (
            f"The step with the label {quoted(facts['name'])} goes, and other lines name it."
        ),
        change=lambda facts: (
            f"Give the label to a step that is put in: [ ] {facts['name']}: …; or change those "
            "lines too."
        ),
        explanation=(
            'Lines such as "after place" or "again from place" speak of a step. One step that '
            "stands in the place of one with a label takes the label over; where several do, the "
            "one that is meant has to be given it."
        ),
        faulty=_in("Place and expose", "  without behind\n"),
        good=_GOOD,
    ),
    Entry(
        kind="change-unknown-name",
        number="L17",
        sentence=_unknown_name,
        change=_meant,
        explanation=(
            '"instead of things" says things anew that the base, its room or its words declare. '
            'New ones stand under "things", as in any protocol.'
        ),
        faulty=_local("instead of things\n  senser: receptor; goes in the mouth\n"),
        good=_GOOD,
    ),
    Entry(
        kind="change-not-any-order",
        number="L18",
        sentence=lambda facts: f'{quoted(facts["name"])} does not stand under "any order".',
        change=lambda facts: 'Write "before" or "after".',
        explanation=(
            '"beside" adds an item to those of which the order is open. Elsewhere steps are done '
            'from the top down: "before" or "after" says where.'
        ),
        faulty=_in("Place and expose", "  beside place\n    [ ] say: nearly done\n"),
        good=_GOOD,
    ),
    Entry(
        kind="change-reword-block",
        number="L19",
        sentence=lambda facts: (
            f"What is around {quoted(facts['name'])} is a block, which has no words of its own."
        ),
        explanation='"reword" says the short text, notes, sources or time of one step anew.',
        faulty=_in(
            "Turn over the room",
            '  reword the block around "operator takes bag off head rest"\n    short "Bag off"\n',
        ),
        good=_GOOD,
    ),
    Entry(
        kind="change-move-into-itself",
        number="L20",
        sentence=lambda facts: (
            f"{quoted(facts['name'])} would have to stand beside itself, or in itself."
        ),
        explanation="A step moves before or after another one that stays, or that moves elsewhere.",
        faulty=_in("Place and expose", "  move place after place\n"),
        good=_GOOD,
    ),
    Entry(
        kind="phase-missing",
        number="L21",
        sentence=lambda facts: f"Under {quoted(facts['over'])} stand phases, and this is none.",
        change=lambda facts: 'Write above it: phase "TITLE"',
        explanation=(
            'Under "before phase" and "after phase" stand whole phases with their steps. Steps of '
            'a phase that is there are put in under "changes in".'
        ),
        faulty=_local('after phase "Take down"\n  [ ] say: thank you\n'),
        good=_GOOD,
    ),
    Entry(
        kind="change-to-settle",
        number="L22",
        sentence=lambda facts: f"This is still to be settled: {facts['text']}",
        change=lambda facts: 'When it is settled, take the line "to settle" away.',
        explanation=(
            '"protocol-lang adopt" writes such a line where a new edition of the base and a local '
            "change do not fit. You may write one yourself for whatever has to be decided."
        ),
        faulty=_local(
            'changes in "Get ready"\n  to settle "Who lays out the sleeve?"\n'
            '  after "operator opens the record at keyboard"\n'
            "    [ ] say: the name of the patient\n"
        ),
        good=_GOOD,
    ),
    Entry(
        kind="change-label-said",
        number="L23",
        sentence=lambda facts: "A step in which something is only said has no label.",
        change=lambda facts: "Take the label away, or give it to the step beside it.",
        explanation=(
            'A label is for lines such as "after LABEL" to speak of. A step "say: …" does nothing '
            "that could be waited for."
        ),
        faulty=_in(
            "Get ready",
            '  reword "say: what will happen; glasses and appliances out"\n    label told\n',
        ),
        good=_GOOD,
    ),
)
