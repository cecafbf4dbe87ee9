"""What is said where a step asks for something that the room does not have (R…).

The facts: no-such-part (owner, part), takes-no-such-cover (what, cover), treats-to-nothing,
not-used-once, not-laid-out and number-of-one (thing), wrong-stream (thing, stream, asked).
"""

from __future__ import annotations

from protocol_lang.wording.entry import Entry, Facts
from protocol_lang.wording.examples import visit

_PLAIN_CLOTH = (
    "things\n  plain cloth: wipe; has face, back; used once; thrown away after use; from wipe tub"
)


def _no_such_part(facts: Facts) -> str:
    if not facts["part"]:
        return f'The verb asks for a part of "{facts["owner"]}", or for a thing, and got the other.'
    return f'"{facts["owner"]}" has no part called "{facts["part"]}", which the verb asks for.'


def _takes_no_such_cover(facts: Facts) -> str:
    return f'"{facts["what"]}" takes no cover called "{facts["cover"]}".'


def _let_it_take(facts: Facts) -> str | None:
    if "'s " in facts["what"]:
        return None
    return (
        f'Name a cover that it takes, or write "; takes cover {facts["cover"]}" at the end of the '
        f'line of "{facts["what"]}".'
    )


def _treats_to_nothing(facts: Facts) -> str:
    return f'"{facts["thing"]}" does not say to which level it treats.'


def _not_used_once(facts: Facts) -> str:
    return f'"{facts["thing"]}" cannot be thrown away: it is not said to be used once.'


def _not_laid_out(facts: Facts) -> str:
    return f'"{facts["thing"]}" has no place where it is laid out.'


def _which_cover(facts: Facts) -> str:
    return f'Which cover is meant is not clear: "{facts["thing"]}" takes {facts["covers"]}.'


def _number_of_one(facts: Facts) -> str:
    return f'There is only one "{facts["thing"]}", so no number of it can be laid out.'


def _review_passed(facts: Facts) -> str:
    return f"The day of review, {facts['day']}, has passed."


def _not_in_force(facts: Facts) -> str:
    return f"This protocol is not in force before {facts['day']}."


def _ask_the_owner(facts: Facts) -> str | None:
    return f"Its owner is {facts['owner']}." if facts.get("owner") else None


#: About days. No text alone shows them: they depend on the day of judgement.
DAYS = (
    Entry(
        kind="review-passed",
        number="H01",
        sentence=_review_passed,
        because=_ask_the_owner,
        explanation=(
            "A protocol names the day by which it is looked at again. What is proved about it "
            "still holds for the text; whether the text still fits the room and the guidance is "
            "for its owner to say. It is something to consider, not a fault."
        ),
        faulty="",
        good="",
    ),
    Entry(
        kind="not-in-force",
        number="H02",
        sentence=_not_in_force,
        explanation=(
            "A protocol can be written before the day from which it holds. Until then another "
            "edition is the one to follow. It is something to consider, not a fault."
        ),
        faulty="",
        good="",
    ),
)


def _air_not_followed(facts: Facts) -> str:
    if not facts["where"]:
        return "Air carries germs, but no step brings the patient to a place."
    return (
        f"Air carries germs, but {facts['where']}, where the patient comes, does not say how often "
        "its air is changed."
    )


_ROOMS_WITH_AIR = "places\n  scan room: 12 air changes an hour\n  hall\n\nair\n  carries germs"

_GAUZE = "things\n  gauze: supply; used once; from wipe tub; goes to clinical waste"

ENTRIES = (
    Entry(
        kind="air-not-followed",
        number="R20",
        sentence=_air_not_followed,
        explanation=(
            'Where "air" says that it carries germs, each place to which a step brings the patient '
            "has to say how many air changes an hour it has, or nothing could tell when its air "
            "is clear. The number comes from whoever looks after the ventilation. The steps have "
            'to say where the patient comes: "patient comes to scan room".'
        ),
        faulty=visit(
            """
  [ ] operator cleans hands
  [ ] patient comes to hall
  [ ] patient comes to scan room
  [ ] patient leaves
  [ ] operator waits 35 minutes
""",
            _ROOMS_WITH_AIR,
        ),
        good=visit(
            """
  [ ] operator cleans hands
  [ ] patient comes to scan room
  [ ] patient leaves
  [ ] operator waits 35 minutes
""",
            _ROOMS_WITH_AIR,
        ),
    ),
    Entry(
        kind="no-such-part",
        number="R01",
        sentence=_no_such_part,
        explanation=(
            "A verb may speak of a part: the back of a wipe, the hair of a patient. What fills its "
            "place in the step must have that part. The room says which parts a thing has, the "
            "vocabulary which parts people have."
        ),
        faulty=visit(
            """
  [ ] cleaning: operator cleans hands
  [ ] operator cleans chair arms with a new plain cloth
""",
            _PLAIN_CLOTH.replace("has face, back; ", ""),
        ),
        good=visit(
            """
  [ ] cleaning: operator cleans hands
  [ ] operator cleans chair arms with a new plain cloth
""",
            _PLAIN_CLOTH,
        ),
    ),
    Entry(
        kind="takes-no-such-cover",
        number="R02",
        sentence=_takes_no_such_cover,
        change=_let_it_take,
        explanation=(
            'A thing says in the room which covers it takes: "takes cover wrap". A step can put '
            "only such a cover on it, and take only such a cover off it."
        ),
        faulty=visit("""
  [ ] operator cleans hands
  [ ] operator covers chair arms with bag
"""),
        good=visit(
            """
  [ ] operator cleans hands
  [ ] operator covers foot rest with bag
  [ ] operator takes bag off foot rest
""",
            "things\n  foot rest: surface; takes cover bag",
        ),
    ),
    Entry(
        kind="treats-to-nothing",
        number="R03",
        sentence=_treats_to_nothing,
        explanation=(
            'What disinfects must say how far: "treats to intermediate". The level is what the '
            "label of the product claims; a cloth without one only cleans."
        ),
        faulty=visit(
            """
  [ ] operator cleans hands
  [ ] operator disinfects chair arms with a new plain cloth
""",
            _PLAIN_CLOTH,
        ),
        good=visit(
            """
  [ ] operator cleans hands
  [ ] operator disinfects chair arms with a new strong cloth
""",
            _PLAIN_CLOTH.replace("plain", "strong") + "; treats to low",
        ),
    ),
    Entry(
        kind="not-used-once",
        number="R04",
        sentence=_not_used_once,
        explanation=(
            "What serves many patients is cleaned and kept, not thrown away. If the thing is new "
            'each time, say "used once" in the room.'
        ),
        faulty=visit(
            """
  [ ] operator cleans hands
  [ ] operator drops kept holder into holder box
""",
            "things\n  kept holder: holder; goes in the mouth; heat safe",
        ),
        good=visit("""
  [ ] operator cleans hands
  [ ] operator puts sensor into holder
  [ ] operator drops holder into holder box
"""),
    ),
    Entry(
        kind="wrong-stream",
        number="R21",
        sentence=lambda facts: (
            f'"{facts["thing"]}" is thrown into "{facts["stream"]}", but its own line says that it '
            f'goes to "{facts["asked"]}".'
        ),
        change=lambda facts: (
            f'"{facts["stream"]}" to "{facts["asked"]}"; or, where local rules want it so, change '
            f'what "{facts["thing"]}" goes to.'
        ),
        explanation=(
            'What is used once says where it goes: "goes to clinical waste". A step that throws it '
            "away and names a stream names the same one, or what the chart and the list of "
            "supplies tell of waste is not what is done. Which stream is right is told by local "
            "rules of waste."
        ),
        faulty=visit(
            """
  [ ] operator cleans hands
  [ ] operator takes gauze
  [ ] operator throws gauze into general waste
""",
            _GAUZE,
        ),
        good=visit(
            """
  [ ] operator cleans hands
  [ ] operator takes gauze
  [ ] operator throws gauze into clinical waste
""",
            _GAUZE,
        ),
    ),
    Entry(
        kind="not-laid-out",
        number="R05",
        sentence=_not_laid_out,
        explanation=(
            "Only what the room says is laid out somewhere can be laid out: "
            '"laid out on clean half, from wipe tub".'
        ),
        faulty=visit(
            """
  [ ] operator cleans hands
  [ ] operator lays out gauze
""",
            "things\n  gauze: supply; used once; from wipe tub",
        ),
        good=visit(
            """
  [ ] operator cleans hands
  [ ] operator lays out gauze
""",
            "things\n  gauze: supply; used once; laid out on clean half, from wipe tub",
        ),
    ),
    Entry(
        kind="which-cover",
        number="R15",
        sentence=_which_cover,
        explanation=(
            '"Its cover" is the cover with which a thing starts a visit, or the only one that it '
            "takes. Where a thing takes several and starts with none, the cover is named."
        ),
        faulty=visit(
            """
  [ ] operator cleans hands
  [ ] operator covers lamp with its cover
""",
            "surfaces\n  lamp: surface; takes cover wrap, then bag",
        ),
        good=visit(
            """
  [ ] operator cleans hands
  [ ] operator covers lamp with its cover
  [ ] operator takes its cover off lamp
""",
            "surfaces\n  lamp: surface; takes cover wrap",
        ),
    ),
    Entry(
        kind="number-of-one",
        number="R06",
        sentence=_number_of_one,
        explanation=(
            "What is used once comes from a box that holds many, and can be laid out by number. "
            "Anything else that the room declares is one thing."
        ),
        faulty=visit(
            """
  [ ] operator cleans hands
  [ ] operator lays out 2 mirror
""",
            "things\n  mirror: supply; laid out on clean half, from wipe tub",
        ),
        good=visit(
            """
  [ ] operator cleans hands
  [ ] operator lays out mirror
""",
            "things\n  mirror: supply; laid out on clean half, from wipe tub",
        ),
    ),
    *DAYS,
)
