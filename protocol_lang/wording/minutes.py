"""Sentences about how long a visit takes."""

from __future__ import annotations

from collections.abc import Iterable

from protocol_lang.timetable import (
    Case,
    Clearing,
    Contact,
    Drying,
    Gain,
    Kept,
    Pairs,
    Span,
    Timetable,
    Told,
)
from protocol_lang.wording.plain import begin, count, listed, quoted

#: So many thousandths of a second are a second, a minute.
SECOND, MINUTE = 1000, 60_000

VISITS = "From the first step until the next patient can come in"
COURSE = "Where the time goes"
CONTACTS = "Contact times"
GAINS = "What would save the most"
BASIS = "What this rests on"

EVERY_VISIT = "every visit"
NO_GAIN = "None of the changes that are looked at saves any time."

ASSUMED = (
    "Nobody does two things at once. Waits are kept as they are written. A step takes at least, "
    "and at most, what it or its verb says; anybody may pause, which makes no contact time "
    "shorter.",
    "Times are those that the protocol and its vocabulary tell. In the shipped vocabularies they "
    "are common practice, without a source: put in what you have measured.",
)
GAINS_REST = (
    "None of these leaves a contact time below its label. What a change does to soil, and whether "
    "it is allowed, the check of the changed protocol has to tell, and whoever answers for it has "
    "to decide."
)


def clock(ticks: int) -> str:
    """ "45 s", "2 min", "2 min 5 s": exact to the second, and beyond it where it has to be."""
    if ticks < 2 * MINUTE and (ticks % MINUTE or not ticks):
        return f"{_plain(ticks, SECOND)} s"
    minutes, rest = divmod(ticks, MINUTE)
    return f"{minutes} min" + (f" {_plain(rest, SECOND)} s" if rest else "")


def about(ticks: int) -> str:
    """The same to the nearest second, the half up: for what stands on the middle of spans."""
    return clock((ticks + SECOND // 2) // SECOND * SECOND)


def _plain(ticks: int, unit: int) -> str:
    return f"{ticks / unit:.3f}".rstrip("0").rstrip(".")


def tenths(ticks: int) -> str:
    """Minutes with one decimal, the half rounded up."""
    tenth = (ticks + 3_000) // 6_000
    return f"{tenth // 10}.{tenth % 10}"


def span(one: Span) -> str:
    """ "10.0 to 19.4 min"."""
    low, high = tenths(one.least), tenths(one.most)
    return f"{low} min" if low == high else f"{low} to {high} min"


def upshot(table: Timetable) -> str:
    """How long, and whether the contact times are kept, in one or two sentences."""
    low = min(case.ready.least for case in table.cases)
    high = max(case.ready.most for case in table.cases)
    told = [f"A visit takes {span(Span(low, high)).replace(' min', ' minutes')}."]
    short = [one for one in table.contacts if one.kept is Kept.TOO_SHORT]
    left_open = [one for one in table.contacts if one.kept is Kept.UNDECIDED]
    if short:
        told.append(f"{begin(count(len(short), 'contact time'))} may be too short.")
    if left_open:
        told.append(f"Of {count(len(left_open), 'contact time')} it is not known.")
    if table.contacts and not short and not left_open:
        told.append("Every contact time is kept, in every order that is permitted.")
    return " ".join(told)


def choices(pairs: Pairs) -> str:
    """ "staffing: alone, shielding: none"."""
    return ", ".join(f"{name}: {value}" for name, value in pairs) or EVERY_VISIT


def case(one: Case, session: int) -> str:
    """All about one case."""
    told = [span(one.ready) + ("" if one.ready.sure else ", not to the last decided")]
    if one.turnover is not None:
        told.append(f"of that {span(one.turnover)} from when the patient has left")
    if one.whole is not None:
        told.append(f"{span(one.whole)} until all is done")
    if one.patients is not None:
        fewest, most = one.patients
        number = count(fewest, "patient") if fewest == most else f"{fewest} to {most} patients"
        told.append(f"{number} in {session} minutes")
    return "; ".join(told)


def contact(one: Contact) -> str:
    """The verdict about one contact time."""
    until = "the end of the visit" if one.touch is None else quoted(one.touch)
    head = f"{listed(one.things)}, {clock(one.label)}"
    if one.kept is Kept.UNDECIDED:
        return f"{head}: from {quoted(one.wetting)} to {until} it was not decided."
    if one.kept is Kept.TOO_SHORT:
        return (
            f"{head}: {quoted(one.wetting)} and {until} may lie only {clock(one.least)} apart"
            + (f" ({choices(one.choices)})" if one.choices else "")
            + "."
        )
    return f"{head}: at least {clock(one.least)} from {quoted(one.wetting)} to {until}."


def because(one: Contact) -> str | None:
    """What keeps a contact time."""
    if one.kept is not Kept.SURELY or not one.because:
        return None
    waits = [told for told in one.because if told.wait]
    steps = [told for told in one.because if not told.wait]
    parts = []
    if waits:
        parts.append(f"by the wait {quoted(waits[0].text)}" if len(waits) == 1 else "by waits")
    if steps:
        named = listed(_counted(steps))
        order = "; in whatever order, one person does them all" if one.load else ""
        parts.append(("and by " if waits else "by ") + named + order)
    told = " ".join(parts)
    if waits and one.without_waits is not None:
        rest = one.without_waits
        if rest >= one.label:
            told += f"; the steps alone take {clock(rest)}, so nobody has to wait"
        elif rest:
            told += f"; without waiting it would be {clock(rest)}"
        else:
            told += "; nothing else surely lies between"
    return f"{begin(told)}."


#: So many steps are named; of more only the number is told.
_NAMED = 3


def _counted(steps: list[Told]) -> list[str]:
    """The first few with their times; what one step does to several things is told once."""
    times: dict[str, int] = {}
    for told in steps:
        times[told.text] = times.get(told.text, 0) + told.length
    listed_ = list(times.items())
    named = [f"{quoted(text)} ({clock(ticks)})" for text, ticks in listed_[:_NAMED]]
    left = listed_[_NAMED:]
    if left:
        rest = sum(ticks for _, ticks in left)
        named.append(f"{count(len(left), 'more step')} ({clock(rest)})")
    return named


def story(one: Contact) -> list[str]:
    """The order in which it is too short, step by step."""
    return [f"{told.text} ({clock(told.length)})" for told in one.story]


def drying(one: Drying) -> str:
    """A label that asks for longer than the product stays wet."""
    told = (
        f"{quoted(one.wetting)}: the label asks for {clock(one.label)}, and what is made with "
        f"water has dried after {clock(one.wet)} at the most (CDC 2008). Wet it {one.times} times."
    )
    if one.gap is not None and one.gap > one.wet:
        told += f" Here {clock(one.gap)} can lie between two times, even without a pause."
    return told


def clearing(one: Clearing) -> str:
    """How long the air of a place takes to clear."""
    return (
        f"The air of {one.where} is cleared to {one.percent} percent {one.minutes} minutes after "
        f"the patient has left it, with {one.changes} air changes an hour (CDC 2003, table B.1)."
    )


def gain(one: Gain) -> str:
    """A change, and what it saves."""
    what = listed([quoted(text) for text in one.what])
    if one.sort == "helper":
        told = f"{one.who} takes over {what}, at the same time as the rest"
    elif one.sort == "product":
        told = (
            f"another product than the {one.what[0]}, if its label asks for {one.minutes} min, the "
            "least that is published for this level (CDC 2008)"
        )
    else:
        told = f"another {one.what[0]} is at hand, so that nobody waits for this one to dry"
    return told if one.sure else f"{told} (at least)"


def untold(steps: Iterable[str], most: int | None) -> str | None:
    """The steps of which no time is told."""
    texts = list(steps)
    if not texts:
        return None
    named = [quoted(text) for text in (texts if most is None else texts[:most])]
    left = len(texts) - len(named)
    if left:
        named.append(count(left, "other"))
    verb = "has" if len(texts) == 1 else "have"
    return (
        f"{begin(count(len(texts), 'step'))} {verb} no time and count as taking none: "
        f"{listed(named)}."
    )


def rounds(name: str, most: int, looked_at: int) -> str:
    """That not all rounds were worked out."""
    return f'Of up to {most} times of "{name}" up to {looked_at} were worked out; more take longer.'


MISHAPS = "What can happen on the way is left out of the times, not of the contact times."
