"""The words of local editions, for ``explain`` and the reference."""

from __future__ import annotations

from protocol_lang.wording.construct import Construct

_HEAD = (
    'protocol "Wired sensor, second site"\n'
    "  edition 1\n"
    '  adapts "Intraoral, wired sensor" edition 1\n\n'
)
_GREETED = (
    'changes in "Get ready"\n'
    '  after "operator opens the record at keyboard"\n'
    "    [ ] say: the name of the patient\n"
)

LOCAL: tuple[Construct, ...] = (
    Construct(
        "adapts",
        ("local edition", "base", "fingerprint", "adapt"),
        'adapts "TITLE" edition NUMBER: this file is a local edition of that protocol, its base. '
        "What it does not change is as the base, its room and its words have it, and all of it is "
        "checked as one protocol. Edition, owner and days of the base do not hold for it: it says "
        'its own. With "fingerprint CODE", a base that was changed under the same number of '
        "edition is told; a check names the code under what its answer rests on. A copy of the "
        "base with its edition in its name (intraoral-wired-sensor-edition-1.protocol) that lies "
        "beside the local file goes before the newest one.",
        _HEAD + _GREETED,
        (_HEAD + _GREETED).replace(" edition 1\n\n", "\n\n"),
    ),
    Construct(
        "changes in",
        ("reword", "move", "beside", "the block around", "instead of LABEL", "before LABEL"),
        'changes in "PHASE", and under it what a local edition changes there. A step is named by '
        "its label, or by its whole sentence in double quotes; where several say the same, with "
        'which one of how many: "operator cleans hands", 2 of 3. "the block around STEP" is the '
        "block in which it stands. instead of STEP, before STEP, after STEP: the steps under it "
        "are put in there, and done from the top down also where the order is open; one step that "
        "stands for one with a label takes the label over. beside STEP: one more item under any "
        "order. without STEP: it is left out. move STEP before STEP, or after: it stands there "
        "now, with what is put in beside it. reword STEP: a short text, notes, sources, a time "
        "(takes) or a label, each in the place of all of its kind; what is done stays. All changes "
        "speak of the phase as the base has it, and one step is changed once.",
        _HEAD + _GREETED,
        _HEAD + _GREETED.replace("opens the record", "opened the record"),
    ),
    Construct(
        "instead of",
        ("instead of things", "instead of phase", "instead of verb", "anew"),
        "instead of HEADING, and under it lines as they stand under that heading: each takes the "
        "place of what the base, its room or its words declare under the same name, for this "
        "protocol alone. Possible with people, places, things, groups, choices, figures and the "
        "like; with verb FORM and phase TITLE, of which all is said anew; and with begins with, "
        "leaves and air. What is new stands under the plain heading, as in any protocol.",
        _HEAD + "instead of things\n"
        "  bag: cover; used once; from bag roll; goes to general waste\n",
        _HEAD + "instead of things\n"
        "  bags: cover; used once; from bag roll; goes to general waste\n",
    ),
    Construct(
        "without",
        ("without things", "without phase", "leave out"),
        'without HEADING, and under it names that are taken out; without phase "TITLE": that '
        "phase is left out. A line that still speaks of what is gone is told, with the change that "
        "would end it.",
        _HEAD + "without whom to call\n  radiation protection adviser\n",
        _HEAD + "without whom to call\n  ward sister\n",
    ),
    Construct(
        "before phase",
        ("after phase", "new phase"),
        'before phase "TITLE", after phase "TITLE", and under it whole phases that a local edition '
        "puts in there. A phase without such a line comes after those of the base.",
        _HEAD + 'after phase "Take down"\n  phase "Say goodbye"\n    [ ] say: until next time\n',
        _HEAD + 'after phase "Take off"\n  phase "Say goodbye"\n    [ ] say: until next time\n',
    ),
    Construct(
        "to settle",
        ("settle", "clash"),
        'to settle "TEXT": something that has to be decided before the protocol may be used, in '
        "the header of a local edition, among its changes, or first under one of its headings. It "
        'is told until the line is taken away. "protocol-lang adopt" writes such lines where a new '
        "edition of the base and a local change do not fit.",
        _HEAD + _GREETED,
        _HEAD
        + 'changes in "Get ready"\n  to settle "Who tells the name?"\n'
        + _GREETED.partition("\n")[2],
    ),
)
