"""What is said of lapses: every sentence, as functions of facts."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from protocol_lang.lapsed import (
    Alone,
    Chance,
    Change,
    Edit,
    Margin,
    Ranking,
    Slip,
    SlipSet,
    Spreads,
    Sway,
    Tally,
    Tried,
)
from protocol_lang.wording.plain import begin, count, listed, number, quoted

#: Between whom a path opens, and to whom in short.
OPENS: Mapping[str, str] = {
    "patient": "from a patient to another one",
    "staff": "from a patient to staff",
    "room": "from staff or the room to a patient",
}
TO: Mapping[str, str] = {
    "patient": "another patient",
    "staff": "staff",
    "room": "a patient, from the room",
}

#: What a lapse of a step can lead to, in at most six words: for the wall chart.
CONSEQUENCE: Mapping[str, str] = {
    "patient": "soil reaches the next patient",
    "staff": "a patient's soil reaches staff",
    "room": "dirt of the room reaches patients",
}

HEADINGS = {
    "left out": "Steps that must not be left out",
    "other": "Other single lapses that open a path",
    "together": "Lapses that open a path together",
    "class": "What one lapse lets spread, by class of germ",
    "opens nothing": "Lapses that alone open nothing",
    "never": "Never done, wherever it stands",
    "story": "How it comes about",
    "changes": "Single changes that help, the best first",
    "mixed": "Single changes that help in one thing and cost in another",
    "tried": "Which changes were tried",
    "ranking": "Which matter most, by published rates",
}

#: What stands in the key of the picture of rates, and its title.
TORNADO: Mapping[str, str] = {
    **{opens: begin(told) for opens, told in OPENS.items()},
    "least": "the sum with this rate at its least",
    "most": "at its most",
    "usual": "with the usual rates",
    "drawn": "nine draws in ten, all rates drawn from their ranges",
}
TORNADO_TITLE = "Which rate matters most"
NOTHING_TO_DRAW = (
    "There is no picture of rates: nothing opens a path that was looked at, something is to be "
    "corrected first, or no study tells a rate of what does."
)

COMPARISON = (
    "A comparison between designs, not a prediction of infections: the rates are of other rooms "
    "and other people, and a path is not an infection."
)
NO_PATH = "No single lapse opens a path."
NOTHING_SMALL = "None was found of this size."
SAFE_SIDE = (
    "A lapse is taken to be made in every visit, and soil to go wherever a touch may bring it: "
    "the margin is rather told too small than too large."
)
FAULTY = "The margin is 0: soil can get on, or the order can fail, with nothing left out."
FIRST_CORRECT = (
    '"protocol-lang check" tells how, and what to change. What lapses open is asked once nothing '
    "is to be corrected."
)


def already(title: str) -> str:
    """The first sentence about a protocol with faults."""
    return f"{quoted(title)} has something to correct as it is."


def upshot(margins: Iterable[Margin]) -> str:
    """The first sentence: how many things must go wrong."""
    by = {one.opens: one for one in margins}
    patient = by["patient"]
    if patient.least is None:
        known = "" if patient.sure else ", as far as it could be decided"
        return (
            f"More than {count(patient.beyond, 'thing')} must go wrong before soil of a patient "
            f"reaches another one{known}."
        )
    if patient.least == 1:
        return "One thing that goes wrong is enough to bring soil of a patient to another one."
    return (
        f"{begin(number(patient.least))} things must go wrong before soil of a patient reaches "
        "another one."
    )


def margin(one: Margin) -> str:
    """A margin in one line."""
    return f"{OPENS[one.opens]}: {_least(one)}{'' if one.sure else ', not all decided'}"


def _least(one: Margin) -> str:
    return f"more than {one.beyond}" if one.least is None else str(one.least)


def slip(one: Slip) -> str:
    """A lapse in a few words."""
    step = quoted(one.step) if one.step is not None else ""
    match one.kind:
        case "left out":
            told = f"{step} is left out"
        case "cut short":
            told = f"the contact time after {step} is cut short"
        case "leaks":
            several = (one.cover or "").partition(" on ")[0].endswith("gloves")
            told = f"{one.cover} {'leak' if several else 'leaks'}"
        case "unclean":
            told = f"{step} is done so that the outside touches what was under it"
        case _:
            told = f"{step} is done with bare hands"
    return told


def step_and_phase(one: Slip) -> tuple[str, str]:
    """("step 3, ", "In "Get ready""): where a lapse is, the phase by itself."""
    step, _, phase = (one.where or "").partition(" in ")
    return (f"{step}, ", f"In {phase}") if phase else ("", "When a visit begins")


def slip_in_phase(one: Slip) -> str:
    """A lapse under the heading of its phase."""
    many = f" ({count(one.alike, 'such lapse')})" if one.alike > 1 else ""
    if one.kind == "left out":
        return f"{quoted(one.step or '')}{many}"
    return slip(one) + many


def slip_and_where(one: Slip) -> str:
    """The same with its place in the checklist."""
    many = f"; {count(one.alike, 'such lapse')}" if one.alike > 1 else ""
    where = f" ({one.where}{many})" if one.where else (f" ({many[2:]})" if many else "")
    return slip(one) + where


def to_whom(opens: Iterable[str]) -> str:
    """To whom paths open."""
    return f"to {listed([TO[one] for one in opens])}"


def opened_alone(one: Alone) -> str:
    """To whom paths open, and of which germs where not of all."""
    only = f", {listed(one.classes)} only" if one.classes else ""
    return to_whom(one.opens) + only


def by_class(one: Spreads) -> str:
    """How many single lapses let a class of germs through."""
    told = [f"{many} to {TO[opens]}" for opens, many in one.singles.items() if many]
    return f"{one.klass}: {listed(told) if told else 'none'}"


def together(slips: Iterable[Slip], alike: int) -> str:
    """A set of several lapses."""
    told = ", and ".join(slip_and_where(one) for one in slips)
    return told + (f" ({count(alike, 'such set')})" if alike > 1 else "")


def never(step: str, times: int, opens: Iterable[str]) -> str:
    """What a sentence opens that is never carried out."""
    opens = list(opens)
    leads = to_whom(opens) if opens else "opens nothing"
    return f"{quoted(step)}, at all {number(times)} places: {leads}"


def looked_at(lapses: int, sets: int, most: int, combinations: int) -> list[str]:
    """What was looked at."""
    return [
        f"{count(lapses, 'thing')} that can go wrong, singly"
        + ("" if most == 1 else f" and up to {number(most)} together: {sets:,} sets"),
        count(combinations, "combination") + " of choices, every order, any number of patients",
    ]


def not_together(mishaps: Iterable[str]) -> str:
    """What was not looked at: lapses beside mishaps."""
    return f"lapses in visits in which a mishap happens ({listed(list(mishaps))})"


def not_decided(many: int) -> str:
    """What was not decided."""
    return f"{count(many, 'set')} of lapses could not be decided within the limit of counted steps"


def more_sets(many: int) -> str:
    """That there are more sets, which can be listed."""
    return f"and {count(many, 'more such set')}; all of them with --full"


def not_listed(many: int) -> str:
    """That there are more sets than are listed."""
    return f"and {count(many, 'more such set')}, not listed"


def share(value: float) -> str:
    """A share of 1 in percent, or how often where it is small or more than all."""
    if value >= 1:
        return f"{value:.1f} times a visit"
    percent = 100 * value
    return f"{percent:.0f} %" if percent >= 1 else f"{percent:.1g} %"


def ranking(one: Ranking) -> str:
    """How often sets of one kind of path happen by the rates, and in which range."""
    return f"{OPENS[one.opens]}: {sum_of(one)}"


def sum_of(one: Ranking) -> str:
    """The sum of the chances of all sets, and where most draws from the ranges lie."""
    return (
        f"the chances of its sets add up to {share(one.usual)} (nine draws in ten of "
        f"{one.samples:,}: {between(one.low, one.high)})"
    )


def between(low: float, high: float) -> str:
    """ "42 % to 62 %", "1.6 to 1.9 times a visit"; one figure where both are the same."""
    one, other = share(low), share(high)
    if one == other:
        return one
    ending = " times a visit"
    if one.endswith(ending) and other.endswith(ending):
        return f"{one.removesuffix(ending)} to {other}"
    return f"{one} to {other}"


def sway(one: Sway) -> str:
    """What one rate does to the sum."""
    return f"{one.rate}, {_rate(one)}: {between(one.low, one.high)} ({one.basis})"


def rate_and_sum(one: Sway) -> str:
    """The same under the name of the rate."""
    return f"{_rate(one)}: {between(one.low, one.high)}. {one.basis}"


def _rate(one: Sway) -> str:
    if one.least == one.most:
        return f"{100 * one.usual:.0f} %"
    return f"{100 * one.usual:.0f} %, from {100 * one.least:.0f} to {100 * one.most:.0f}"


def _with_draws(chance: Chance) -> str:
    """A chance, and between which figures most draws lie."""
    usual, drawn = share(chance.usual), between(chance.low, chance.high)
    return usual if usual == drawn else f"{usual} ({drawn})"


def likeliest(sets: Iterable[SlipSet], most: int = 5) -> list[str]:
    """The sets that are likeliest, over all kinds of path."""
    told = [one for one in sets if one.chance is not None]
    told.sort(key=lambda one: -one.chance.usual if one.chance is not None else 0.0)
    return [
        f"{_with_draws(one.chance)}: {together(one.slips, one.alike)}, {to_whom([one.opens])}"
        for one in told[:most]
        if one.chance is not None
    ]


NO_CHANGE = "None of the changes that were tried helps. Fewer lapses may need another design."
NOT_THOUGHT_OF = (
    "Not thought of: two changes at once, another order of whole phases, another design. A change "
    "that helps here may cost time or hurt elsewhere: whoever answers for the room decides."
)
LABEL_FIRST = "Another product has a contact time of its own: its label comes first."

LESS_WITH_UNKNOWN = (
    "the chances, added up, are less once lapses of which no study tells a rate are taken as made"
)

#: What a kind of change is, in the order in which kinds are told.
CHANGES: Mapping[str, str] = {
    "clean hands": "Clean hands",
    "change gloves": "Change gloves",
    "disinfect": "Clean and disinfect",
    "cover": "Add a cover",
    "cover over it": "Add a finger cot over the cover",
    "move": "Move a step",
    "helper": "Bring a helper",
    "level": "Use a higher level",
}


class Typed(str):
    """A line that is to be typed as it stands."""

    __slots__ = ()


def change(place: int, one: Change, before: Tally, file: str) -> list[str]:
    """A change that helps: the lines to type and where, and what it brings.

    ``place``: which one it is, from 1. ``file``: the protocol; of other files the name is told.
    """
    lines = [f"{place}. {CHANGES[one.kind]}"]
    if one.kind == "move" and one.edits[1].how in ("before", "after"):
        away, put = one.edits
        lines.append(f"  move {_at(away, file)}, to {put.how} {_at(put, file)}")
    else:
        for edit in one.edits:
            lines.append(f"  {_HOW[edit.how]} {_at(edit, file)}{':' if edit.lines else ''}")
            blanks = min((_blanks(line) for line in edit.lines if line.strip()), default=0)
            lines += [Typed(f"    {line[blanks:]}") for line in edit.lines]
    if one.kind == "level" and not any("[ ]" in edit.said for edit in one.edits):
        lines.append(f"  {LABEL_FIRST}")
    lines += [f"  {told}" for told in brings(before, one.after)]
    return lines


_HOW = {"before": "before", "after": "after", "instead": "in place of", "away": "take away"}


def _blanks(line: str) -> int:
    return len(line) - len(line.lstrip(" "))


def _at(edit: Edit, file: str) -> str:
    """Where something is typed: the line, and what stands there."""
    many = edit.out if edit.how in ("instead", "away") else 1
    line = f"line {edit.at}" if many < 2 else f"lines {edit.at} to {edit.at + many - 1}"
    of = "" if edit.file == file else f" of {edit.file}"
    return f"{line}{of}, {quoted(edit.said.removeprefix('[ ]').strip())}"


def brings(before: Tally, after: Tally) -> list[str]:
    """What a change brings: each kind of figure that is another one, and from what to what."""
    told = [
        f"margin {OPENS[opens]}: {_margin(least)} to {_margin(after.margins[opens])}"
        for opens, least in before.margins.items()
        if after.margins[opens] != least
    ]
    told += [
        f"single lapses that lead to {TO[opens]}: {many} to {after.singles[opens]}"
        for opens, many in before.singles.items()
        if after.singles[opens] != many
    ]
    told += [
        f"chances {OPENS[opens]}, added up: {between(was, after.chances[opens])}"
        for opens, was in before.chances.items()
        if share(was) != share(after.chances[opens])
    ]
    return told or [LESS_WITH_UNKNOWN]


def _margin(least: int | None) -> str:
    return "more" if least is None else str(least)


def tried(one: Tried) -> str:
    """What came of the changes of one kind."""
    if not one.thought_of:
        return f"{CHANGES[one.kind]}: nothing to try"
    came = [
        f"{number} {word}"
        for number, word in (
            (one.helped, "help" if one.helped != 1 else "helps"),
            (one.mixed, "better in one thing, worse in another"),
            (one.no_better, "no better"),
            (one.faulty, "with something to correct or consider"),
            (one.undecided, "not decided"),
        )
        if number
    ]
    left = one.thought_of - one.tried
    return f"{CHANGES[one.kind]}: {one.tried} tried ({listed(came)})" + (
        f", {left} more not tried" if left else ""
    )


def tried_in_all(those: Iterable[Tried], told: int, together: int) -> list[str]:
    """How many changes were tried in all, and what was not."""
    those = list(those)
    every, helped = sum(one.tried for one in those), sum(one.helped for one in those)
    left = sum(one.thought_of - one.tried for one in those)
    how = "singly" if together < 2 else f"singly and up to {number(together)} together"
    lines = [
        f"{begin(count(every, 'change'))} tried, each written into the text, checked in full and "
        f"asked for lapses again, {how}: "
        f"{number(helped)} {'helps' if helped == 1 else 'help'}"
        + (f", of which {number(told)} are told" if told < helped else "")
        + "."
    ]
    if left:
        lines.append(f"{begin(count(left, 'more change'))} of these kinds were not tried.")
    return lines
