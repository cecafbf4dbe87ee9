"""Audits as the engine room hands them over, made by hand: one of each shape a report has to show.

The clinic, its rooms, rules and roles are invented.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from protocol_lang.audited import (
    Audit,
    FileReport,
    Found,
    PackUsed,
    RuleStanding,
    Since,
    Standing,
    StoryLine,
    Waiver,
    WaiverUse,
)

ON = date(2026, 11, 2)
WORKED = "Infection control at work"
HOUSE = "Rules of the house"
SENSOR = "room-2/intraoral-wired-sensor.protocol"
FILM = "room-1/film.protocol"
PANORAMIC = "room-3/panoramic.protocol"
PLATES = "room-2/plates.protocol"
NOTES = "room-2/notes.txt"

STORY = (
    StoryLine(
        1,
        "operator",
        "operator places holder with sensor in mouth",
        31,
        (("patient's mouth", "operator's gloves"),),
    ),
    StoryLine(
        1,
        "operator",
        "operator aims tube",
        33,
        (("operator's gloves", "tube head"), ("operator's gloves", "cone")),
    ),
    StoryLine(2, "helper", "sets tube roughly", 18, (("tube head", "helper's hands"),)),
    StoryLine(2, None, "operator puts on gloves", None),
)

PATH = Found(
    identity="k7f2-q9",
    kind="path-to-patient",
    sentence="Saliva of one patient can reach the mouth of a later patient.",
    line=33,
    words="operator aims tube",
    context='step 16 in "Place and expose"',
    choices=(("staffing", "alone"), ("shielding", "none")),
    story=STORY,
    because='From "operator aims tube" on, the tube head carries saliva.',
    changes=(
        'After "operator places holder with sensor in mouth" add:\n'
        "in one go\n"
        "  [ ] operator takes off gloves\n"
        "  [ ] operator cleans hands",
        'Before "operator sets tube roughly" clean the tube head.',
    ),
    weight="to correct",
    since=Since.OPEN,
)
RULE = Found(
    identity="m3c1-d4",
    kind="rule-failed",
    sentence="The sensor is not cleaned before it is disinfected.",
    line=47,
    words="operator disinfects sensor",
    context=None,
    choices=(),
    story=(StoryLine(1, "operator", "operator disinfects sensor", 47),),
    because=None,
    changes=(),
    weight="to correct",
    rule="Clean before disinfecting",
    pack=WORKED,
    strength="must",
    since=Since.REOPENED,
    by="sterilization lead",
    until=date(2026, 12, 15),
)
CONSIDER = Found(
    identity="a1b5-x2",
    kind="rule-failed",
    sentence="Nobody says that hands were cleaned when the visit ends.",
    line=None,
    words=None,
    context="Turnover",
    choices=(),
    story=(),
    because=None,
    changes=('Add "operator cleans hands" as the last step.',),
    weight="to consider",
    rule="Clean hands at the end",
    pack=HOUSE,
    strength="local",
)
TOLERATED = Found(
    identity="w8e0-t6",
    kind="rule-failed",
    sentence="The apron is not wiped between two patients.",
    line=52,
    words="helper hangs up apron",
    context=None,
    choices=(),
    story=(),
    because=None,
    changes=(),
    weight="to correct",
    rule="Wipe what is worn",
    pack=WORKED,
    strength="should",
    waived="Aprons until the new hooks",
    since=Since.OPEN,
)

WAIVER = Waiver(
    name="Aprons until the new hooks",
    file="waivers/2026.waivers",
    line=3,
    reason="the hooks that keep aprons apart are ordered",
    approved_by="infection control lead",
    starts=date(2026, 9, 1),
    ends=date(2026, 12, 31),
    identity="w8e0-t6",
    compensated_by="apron-on-its-own-hook",
    renewed=2,
)
ENDED = replace(
    WAIVER,
    name="Old cassettes",
    line=9,
    ends=date(2026, 10, 1),
    identity=None,
    rule="Cassettes are wiped",
    pack=WORKED,
    thing="cassette",
    choice=("staffing", "alone"),
    compensated_by=None,
    renewed=0,
)
USES = (
    WaiverUse(WAIVER, "in use", None, ("w8e0-t6",)),
    WaiverUse(ENDED, "ended", "it ended on 1 October 2026"),
    WaiverUse(
        replace(WAIVER, name="Shields", line=15, starts=date(2027, 1, 1), ends=date(2027, 2, 1)),
        "not begun",
    ),
    WaiverUse(
        replace(WAIVER, name="A thing of the past", line=21, identity="gone-00"),
        "matches nothing",
    ),
    WaiverUse(
        replace(WAIVER, name="For ever", line=27, ends=date(2031, 1, 1)),
        "not allowed",
        "a waiver lasts a year at most",
    ),
)

CDC = "CDC 2003, Guidelines for Infection Control in Dental Health-Care Settings"


def standing(
    rule: str,
    how: Standing,
    found: tuple[str, ...] = (),
    reason: str | None = None,
    pack: str = WORKED,
    strength: str = "must",
    sources: tuple[str, ...] = (CDC,),
) -> RuleStanding:
    """One rule on one file."""
    return RuleStanding(pack, rule, strength, how, sources, found, reason)


RESTS_ON = (
    "kept clean at the start of a visit: keyboard and sensor hook",
    "not clean at the start of a visit: operator's hands and helper's hands",
    "sleeve is taken to leak",
    "after intermediate on sensor, bacterial spores may remain; published practice accepts that",
    "one visit has ended before the next one begins",
    "two steps are said to touch nothing",
    "one verb is the protocol's own: ACTOR feels the gum",
)
LOOKED_AT = (
    '"Intraoral, wired sensor", edition 4: 58 steps',
    "only staffing: alone, as asked for: two combinations of staffing and shielding",
    "every permitted order of the steps, about 10^9 of them",
    "any number of patients, one after another",
)

FILES = (
    FileReport(
        FILM,
        "checked",
        "protocol",
        "Film",
        2,
        "practice owner",
        date(2026, 1, 1),
        date(2026, 10, 1),
        fingerprint="5e0c91d2a7b84f36",
        found=(replace(PATH, line=29, since=Since.NEW),),
        rules=(
            standing("Clean before disinfecting", Standing.MET),
            standing("Wipe what is worn", Standing.NOT_DECIDED, reason="the limit was reached"),
            standing("Clean hands at the end", Standing.MET, pack=HOUSE, strength="local"),
        ),
        rests_on=RESTS_ON[:2],
        looked_at=('"Film", edition 2: 41 steps', "every permitted order of the steps"),
        not_checked=("whether saliva reaches the keyboard was too hard to find out",),
    ),
    FileReport(
        NOTES,
        "not a protocol",
    ),
    FileReport(
        PANORAMIC,
        "checked",
        "protocol",
        "Panoramic",
        7,
        "practice owner",
        date(2026, 3, 1),
        date(2027, 3, 1),
        fingerprint="c17a00f95be2d388",
        rules=(
            standing("Clean before disinfecting", Standing.MET),
            standing(
                "Wipe what is worn", Standing.NOT_APPLICABLE, reason="nobody wears anything here"
            ),
            standing("Clean hands at the end", Standing.MET, pack=HOUSE, strength="local"),
        ),
        rests_on=(RESTS_ON[0], RESTS_ON[4]),
        looked_at=('"Panoramic", edition 7: 30 steps', "every permitted order of the steps"),
    ),
    FileReport(
        PLATES,
        "broken text",
        "protocol",
        fingerprint="0d44e7aa91c3b260",
        reason='line 4 begins with "operater", which is nobody',
    ),
    FileReport(
        SENSOR,
        "checked",
        "protocol",
        "Intraoral, wired sensor",
        4,
        "radiography lead",
        date(2026, 12, 1),
        date(2027, 12, 1),
        fingerprint="9b3f5c20de6617a4",
        found=(PATH, RULE, CONSIDER, TOLERATED),
        rules=(
            standing("Clean before disinfecting", Standing.FAILED, ("m3c1-d4",)),
            standing("Wipe what is worn", Standing.WAIVED, ("w8e0-t6",), strength="should"),
            standing(
                "Clean hands at the end",
                Standing.FAILED,
                ("a1b5-x2",),
                pack=HOUSE,
                strength="local",
                sources=(),
            ),
        ),
        waivers=USES,
        rests_on=RESTS_ON,
        looked_at=LOOKED_AT,
    ),
)

PACKS = (
    PackUsed(WORKED, 3, "77aa12ff03be4c51", (("wet time", "3 minutes"), ("rounds", "2")), 31),
    PackUsed(HOUSE, None, "18f0c6d9e4b2a735", (), 4),
)

AUDIT = Audit(
    changes=True,
    version="0.1.0",
    on=ON,
    packs=PACKS,
    files=FILES,
    closed={FILM: ("z9-old1", "z9-old2"), "room-9/gone.protocol": ("z9-old3",)},
    never=((WORKED, "Water lines are flushed"),),
    incomplete=("Imaging room 2: eyewash bottle", "Imaging room 3: chin rest cover"),
)
GOOD = Audit("0.1.0", ON, PACKS, (FILES[2],))
EMPTY = Audit("0.1.0", ON, (), ())

#: What must print as it is written and harm nothing.
MARKUP = (
    '#read("x")',
    "<script>alert(1)</script>",
    "*b*",
    "$x$",
    "<l>",
    "@l",
    "=cmd()",
    "#{1+1}",
    "_i_",
    "// c",
    "`r`",
    "a & b &amp;",
    "[here](1)",
    "{0}",
    "\\n",
    "</style>",
    "~",
    "--",
    '"quoted"',
)
HINDI, ARABIC, HEBREW = "गीला-कमरा", "غرفة الأشعة", "חדר צילום"


def spoken(text: str) -> Audit:
    """An audit in which everything an author can write is ``text``."""
    found = Found(
        identity=text,
        kind="rule-failed",
        sentence=text,
        line=3,
        words=text,
        context=text,
        choices=((text, text),),
        story=(StoryLine(1, text, text, 3, ((text, text),)),),
        because=text,
        changes=(text,),
        weight="to correct",
        rule=text,
        pack=text,
        strength="must",
    )
    waived = replace(found, sentence=f"{text} too", waived=text)
    waiver = replace(
        WAIVER,
        name=text,
        file=text,
        reason=text,
        approved_by=text,
        identity=text,
        rule=text,
        pack=text,
        thing=text,
        choice=(text, text),
        compensated_by=text,
    )
    file = FileReport(
        text,
        "checked",
        "protocol",
        text,
        1,
        text,
        ON,
        date(2026, 1, 1),
        fingerprint=text,
        reason=text,
        found=(found, waived),
        rules=(
            standing(text, Standing.FAILED, (text,), pack=text, sources=(text,)),
            standing(f"{text} 2", Standing.NOT_DECIDED, reason=text, pack=text, sources=(text,)),
        ),
        waivers=(WaiverUse(waiver, "in use", text, (text,)),),
        rests_on=(text,),
        looked_at=(text,),
        not_checked=(text,),
    )
    return Audit(
        version="0.1.0",
        on=ON,
        packs=(PackUsed(text, 1, text, ((text, text),), 2),),
        files=(file,),
        closed={text: (text,)},
        never=((text, text),),
        incomplete=(text,),
    )


def many(files: int) -> Audit:
    """An audit of a large house: one file in five has findings, most of them the same."""
    made = []
    for number in range(files):
        sound = FILES[2] if number % 5 else FILES[4]
        rules = tuple(
            replace(rule, rule=f"{rule.rule}, case {case}")
            for case in range(12)
            for rule in sound.rules
        )
        made.append(
            replace(
                sound,
                file=f"site-{number // 50:02}/room-{number % 50:02}/intraoral.protocol",
                fingerprint=f"{number * 2654435761 % 2**64:016x}",
                rules=rules,
                found=tuple(
                    replace(found, identity=f"{found.identity}{number // 100}")
                    for found in sound.found
                ),
                waivers=USES if sound.found else (),
            )
        )
    return Audit("0.1.0", ON, PACKS, tuple(made))


ALL = {"whole": AUDIT, "good": GOOD, "empty": EMPTY}
