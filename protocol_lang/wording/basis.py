"""What is said at the end of a report: what was checked, what the proof rests on, the cautions."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from protocol_lang.wording.plain import (
    count,
    listed,
    nearest_power_of_ten,
    number,
    power_of_ten_below,
    quoted,
)

#: Said at the end of every report, on paper and on the screen.
CAUTIONS = (
    "This looks at the protocol as it is written, not at what people do.",
    "Local codes, the labels of products and licensed practice come first.",
)

#: Where a short report leaves something out.
MORE = "(all of it is listed with --full)"

#: What a file with nothing to correct is said to be.
CLEAR = (
    "In every order that the protocol permits, no soil of a patient reaches a later patient, "
    "staff, or a thing that is kept clean."
)
CLEAR_FIRST_VISIT = (
    "In every order that the protocol permits, no soil of the patient reaches staff or a thing "
    "that is kept clean. Only one visit was looked at."
)
PARTLY = "Nothing was found in what was checked, but part was not checked: this is no approval."

NO_ORDERS = "No order of the steps was looked at."
NOTHING_LEFT_OUT = "nothing was left out"


# --- Head of a file ------------------------------------------------------------------------------


def counts(correct: int, consider: int, unchecked: int) -> str:
    """ "one to correct, two to consider, one part not checked"."""
    parts = [
        f"{number(correct)} to correct" if correct else "nothing to correct",
        *([f"{number(consider)} to consider"] if consider else []),
        *([f"{count(unchecked, 'part')} not checked"] if unchecked else []),
    ]
    return ", ".join(parts)


# --- What was checked ----------------------------------------------------------------------------


def what(title: str | None, edition: int | None, steps: int) -> str:
    """The text that was checked: "Intraoral", edition 1, with its 48 steps."""
    name = quoted(title) if title else "this protocol"
    named = f"{name}, edition {edition}" if edition is not None else name
    return f"{named}: {count(steps, 'step')}"


def combinations(
    n: int, choices: Sequence[tuple[str, Sequence[str]]], asked: Sequence[tuple[str, str]]
) -> list[str]:
    """How many combinations of choices, and of which."""
    if not choices:
        return []
    names = listed(f"{name} ({listed(values, 'or')})" for name, values in choices)
    if asked:
        only = listed(f"{name}: {value}" for name, value in asked)
        return [
            f"only {only}, as asked for: {count(n, 'combination')} of {names}",
            "other combinations were not looked at",
        ]
    if n == 1:
        return [f"the one combination of {names}"]
    every = "both" if n == 2 else f"all {number(n)}"
    return [f"{every} combinations of {names}"]


def courses(n: int) -> str:
    """How many ways there are through the checklist, with all that it leaves open."""
    return (
        f"every way, repetition and mishap that the checklist has, {number(n)} courses that differ"
    )


ONE_MISHAP = "at most one mishap happens in a visit"


def rounds(name: str, most: int, looked_at: int) -> str:
    """How many rounds of a repetition were looked at, and why they stand for all."""
    return (
        f"up to {number(most)} rounds of {name}: {number(looked_at)} were looked at, since a "
        "further one begins as the last one did and brings soil nowhere new"
    )


def orders(n: int, exact: bool) -> str:
    """How many permitted orders: in figures where that is short, else as a power of ten."""
    if exact and n == 1:
        return "the one permitted order of the steps"
    if n < 10_000:
        amount = f"{n:,}" if exact else f"at least {n:,}"
    else:
        amount = (
            f"about 10^{nearest_power_of_ten(n)}"
            if exact
            else f"at least 10^{power_of_ten_below(n)}"
        )
    return f"every permitted order of the steps, {amount} of them"


EVERY_ORDER = "every permitted order of the steps"


def visits(any_number: bool) -> str:
    """How many patients, one after the other."""
    if any_number:
        return "any number of patients, one after another"
    return "one visit only, not the visits that follow"


def parts(pairs: Sequence[tuple[str, str]]) -> list[str]:
    """Which protocols were put together; (role, title)."""
    told: list[str] = []
    by_role: dict[str, list[str]] = {}
    for role, title in pairs:
        by_role.setdefault(role, []).append(quoted(title))
    if "first" in by_role:
        return [f"put together: {listed([*by_role['first'], *by_role.get('then', [])])}"]
    if "visit" in by_role:
        told.append(f"visits, in any order and number: {listed(by_role['visit'])}")
    if "then" in by_role:
        told.append(f"each goes on as it says with: {listed(by_role['then'])}")
    night = [*by_role.get("closing", []), *by_role.get("opening", [])]
    if night:
        told.append(f"from one day to the next: {listed(night)}")
    if "beside" in by_role:
        told.append(f"in between, at any time: {listed(by_role['beside'])}")
    return told


def untouched(things: Sequence[str]) -> str:
    """Things of the room that no protocol of the day deals with."""
    return f"no protocol of this day deals with {listed(things)}"


#: In a day the first choice is which protocol a visit follows.
ONE_OF_THESE = "one of these"


FOLLOWS = "it follows another protocol; what that one leaves is checked with it, not here"


# --- What it rests on ----------------------------------------------------------------------------


def starts(pairs: Iterable[tuple[str, str]]) -> list[str]:
    """How things are when a visit starts, the things of one state together."""
    groups: dict[str, list[str]] = {}
    for thing, state in pairs:
        groups.setdefault(state, []).append(thing)
    return [f"{state}: {listed(things)}" for state, things in groups.items()]


def tearing(covers: Sequence[str]) -> str:
    """What soil does that gets to a hand through a tear."""
    return f"what gets to hands through torn {listed(covers)} counts where it goes on from there"


def leaking(covers: Sequence[str]) -> str:
    """Covers that are taken to leak."""
    return f"{listed(covers)} {'is' if len(covers) == 1 else 'are'} taken to leak"


def thrown_away(things: Sequence[str]) -> str:
    """Things that need no step to be thrown away."""
    is_or_are = "is" if len(things) == 1 else "are"
    return f"{listed(things)} {is_or_are} taken to be thrown away after use"


def remainder(level: str, things: Sequence[str], classes: Sequence[str], source: str | None) -> str:
    """Germs that published practice accepts after a treatment."""
    origin = f" ({source})" if source else ""
    return (
        f"after {level} on {listed(things)}, {listed(classes)} may remain; "
        f"published practice accepts that{origin}"
    )


def remainder_short(things: Sequence[str]) -> str:
    """The same in brief."""
    return f"some hardy germs may remain on {listed(things)}, as published practice accepts"


def without_contact(n: int) -> str:
    """Steps that are said to touch nothing."""
    return f"{count(n, 'step')} {'is' if n == 1 else 'are'} said to touch nothing"


def own_verbs(n: int) -> str:
    """Verbs that the protocol brings along."""
    return f"{count(n, 'verb')} {'is' if n == 1 else 'are'} the protocol's own"


def handed_over(thing: str, to: str) -> str:
    """A thing that another protocol takes over; ``to`` names it, or the way there."""
    return f"{thing} leaves the room and is not followed further ({to})"


def handed_over_short(things: Sequence[str]) -> str:
    """The same in brief."""
    goes, is_or_are = ("leaves", "is") if len(things) == 1 else ("leave", "are")
    return f"{listed(things)} {goes} the room and {is_or_are} not followed further"


ONLY_WHO_EXPOSES = (
    "the room names no place for exposures: only whoever makes one is asked to be protected"
)

VISITS_APART = "one visit has ended before the next one begins"


def running_on(titles: Iterable[str], apart: bool) -> str:
    """What may still be done when the next visit begins; ``apart``: that was not looked at."""
    told = f"{listed(map(quoted, titles))} may run into the next visit"
    return f"{told}: a day looks at that" if apart else f"{told}, which ends before a third begins"


def files(read: Sequence[tuple[str, str, str]]) -> list[str]:
    """(kind, title, file) as lines."""
    return [f"{kind} {quoted(title)} ({file})" for kind, title, file in read]


def files_short(read: Sequence[tuple[str, str, str]]) -> str:
    """The same in brief."""
    return listed(f"{kind} {quoted(title)}" for kind, title, _ in read)


LOCALLY = "It is the base that says so. To change it here:"


def base(title: str, fingerprint: str) -> str:
    """What a local edition adapts, and which text of it."""
    return f"base {quoted(title)}, fingerprint {fingerprint}"


def day(shown: str) -> str:
    """The day of judgement."""
    return f"{shown} was taken as today"
