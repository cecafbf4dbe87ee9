"""What is said where protocols that are put together do not fit (D…).

=======================  ===========================================================================
kind                     facts
=======================  ===========================================================================
part-not-protocol        title, kind
parts-in-circle          circle: titles
parts-differ             name, sort: what bears the name
parts-choice             name
part-twice               title
visit-is-a-part          title
day-without-visits
not-taken-back           thing, stream, to: the title of a protocol
not-given-back           thing, stream, to, box: where it is taken from
given-back-too-low       thing, stream, to, level, asked
=======================  ===========================================================================
"""

from __future__ import annotations

from protocol_lang.wording.entry import Entry, Facts
from protocol_lang.wording.examples import visit
from protocol_lang.wording.plain import quoted

_GOOD = visit("  [ ] operator cleans hands")
_DAY = (
    'day "A short day"\n  visits "Intraoral, wired sensor"\n'
    '  beside the visits "Holders and bite blocks"\n'
)


def _differ(facts: Facts) -> str:
    return (
        f"Two of the protocols that are put together say different things of the {facts['sort']} "
        f"{quoted(facts['name'])}."
    )


ENTRIES = (
    Entry(
        kind="part-not-protocol",
        number="D01",
        sentence=lambda facts: (
            f"{quoted(facts['title'])} is a file of the kind {quoted(facts['kind'])}, "
            "where a protocol is asked for."
        ),
        explanation=(
            'Behind "then", and in a day, stand titles of protocols: files that begin with '
            '"protocol" and have steps.'
        ),
        faulty=_GOOD.replace("  edition 1\n", '  edition 1\n  then "Imaging room 2"\n'),
        good=_GOOD,
    ),
    Entry(
        kind="parts-in-circle",
        number="D02",
        sentence=lambda facts: f"These protocols follow each other in a circle: {facts['circle']}.",
        explanation=(
            "A visit comes to an end: what follows a protocol cannot be followed by that protocol "
            "again. That visits follow each other without end need not be said."
        ),
        faulty=_GOOD.replace("  edition 1\n", '  edition 1\n  then "A short visit"\n'),
        good=_GOOD,
    ),
    Entry(
        kind="parts-differ",
        number="D03",
        sentence=_differ,
        explanation=(
            "Protocols that are done in one room speak of the same people and things. Where two of "
            "them declare something under one name in the same words, it is the same; in different "
            "words nobody could tell what is meant. Declare it once, in the room, or give one of "
            "the two another name."
        ),
        faulty="",
        good=_GOOD,
    ),
    Entry(
        kind="parts-choice",
        number="D04",
        sentence=lambda facts: (
            f"A choice of a protocol in a day cannot be called {quoted(facts['name'])}."
        ),
        explanation=(
            "In a day, which protocol a visit follows is a choice of that name. Give the other "
            "choice another name."
        ),
        faulty="",
        good=_GOOD,
    ),
    Entry(
        kind="part-twice",
        number="D05",
        sentence=lambda facts: f"{quoted(facts['title'])} stands twice in this day.",
        explanation=(
            "Each protocol stands once in a day: visits may come any number of times and in any "
            "order anyhow."
        ),
        faulty=_DAY.replace('sensor"\n', 'sensor", "Intraoral, wired sensor"\n'),
        good=_DAY,
    ),
    Entry(
        kind="visit-is-a-part",
        number="D06",
        sentence=lambda facts: (
            f"{quoted(facts['title'])} is no visit: it follows another protocol."
        ),
        explanation=(
            "A protocol that follows another one is a part of a visit. The visit itself names it, "
            'in a line that begins with "then"; the day names the visit.'
        ),
        faulty='day "A short day"\n  visits "Turning over the room"\n',
        good=_DAY,
    ),
    Entry(
        kind="day-without-visits",
        number="D07",
        sentence=lambda facts: "This day has no visits.",
        explanation=(
            'A day names the protocols of its visits in a line that begins with "visits"; opening, '
            "closing and work beside the visits are named beside them."
        ),
        faulty='day "A short day"\n  note "Nobody comes."\n',
        good=_DAY,
    ),
    Entry(
        kind="not-taken-back",
        number="D08",
        sentence=lambda facts: (
            f"{quoted(facts['thing'])} goes to {quoted(facts['to'])}, which is not in this day."
        ),
        explanation=(
            "A thing that leaves the room and comes back is cleaned and treated by another "
            "protocol. Name that one in the day, beside the visits; then soil is followed through "
            "it to the patient who gets the thing next."
        ),
        faulty='day "A short day"\n  visits "Intraoral, wired sensor"\n',
        good=_DAY,
    ),
    Entry(
        kind="not-given-back",
        number="D09",
        sentence=lambda facts: (
            f"{quoted(facts['to'])} does not give {quoted(facts['thing'])} back to "
            f"{quoted(facts['box'])}."
        ),
        explanation=(
            "What a protocol takes out of the room has to come back to where visits take it from. "
            "No step of that protocol brings such a thing there."
        ),
        faulty="",
        good=_DAY,
    ),
    Entry(
        kind="given-back-too-low",
        number="D10",
        sentence=lambda facts: (
            f"{quoted(facts['thing'])} comes back {facts['level']} from {quoted(facts['to'])}; "
            f"{facts['asked']} is asked of it."
        ),
        explanation=(
            "What is asked of a thing follows from how it is used. The protocol that gives it back "
            "treats it less than that, or the room says that it comes back with less."
        ),
        faulty="",
        good=_DAY,
    ),
)
