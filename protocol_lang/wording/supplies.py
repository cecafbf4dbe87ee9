"""Every sentence of the list of what is used up."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction

from protocol_lang.supplied import (
    Assumed,
    ByChoice,
    Count,
    Cycling,
    Given,
    Kept,
    Load,
    Order,
    Ordered,
    Range,
    Share,
    Turn,
    Unit,
    Waste,
)
from protocol_lang.wording.plain import count, listed, number, quoted

#: Values with more words than this are told in quotation marks.
_FEW_WORDS = 3

#: With more values than this, the first and the last of a choice are told.
_MOST_VALUES = 4

#: Minutes of a day.
_DAY = 24 * 60

UNITS = {Unit.PIECE: ("piece", "pieces"), Unit.PAIR: ("pair", "pairs")}


# --- Numbers -------------------------------------------------------------------------------------


def span(numbers: Range) -> str:
    """ "3", or "2 to 3"."""
    if numbers.settled:
        return f"{numbers.least:,}"
    return f"{numbers.least:,} to {numbers.most:,}"


def amount(numbers: Range, unit: Unit, words: bool = False) -> str:
    """ "2 to 3 pairs"; of pieces the number alone, unless ``words``."""
    if unit is Unit.PIECE and not words:
        return span(numbers)
    return f"{span(numbers)} {UNITS[unit][numbers != Range(1, 1)]}"


def clock(minutes: int) -> str:
    """Minutes after midnight as "8:30"; of a later day with a word for it."""
    days, rest = divmod(minutes, _DAY)
    later = "" if not days else " of the next day" if days == 1 else f" of day {days + 1}"
    return f"{rest // 60}:{rest % 60:02}{later}"


def weight(grams: tuple[Fraction, Fraction]) -> str:
    """ "120 to 135 g", or kilograms from one kilogram on."""
    large = grams[1] >= 1000
    shown = [f"{float(one) / (1000 if large else 1):.3g}" for one in grams]
    told = shown[0] if shown[0] == shown[1] else f"{shown[0]} to {shown[1]}"
    return f"{told} {'kg' if large else 'g'}"


# --- Headings ------------------------------------------------------------------------------------


def title(name: str) -> str:
    """The first line."""
    return f"What {quoted(name)} uses up"


def whose(turn: Turn, of_many: bool) -> str:
    """For whom or how often the counts of a turn are."""
    if of_many:
        return f"{turn.title}: {'each patient' if turn.patient else 'each time'}"
    return "Each patient" if turn.patient else "Each time"


def session(visits: Range, patient: bool, day: bool) -> str:
    """The heading of a session."""
    one, many = ("visit", "visits") if patient else ("time", "times")
    told = f"{span(visits)} {many if visits != Range(1, 1) else one}"
    if not patient:
        return f"Done {told} in a session"
    return f"A day of {told}" if day else f"A session of {told}"


def order(days: int) -> str:
    """The heading of an order."""
    return f"Order for {count(days, 'day')}"


NEEDED = "Needed, so that none is used before it is back"
RESTS_ON = "Rests on"
CAUTION = "Caution"

CAUTIONS = (
    "Counted is what the protocol says. Drops, spoilt packs and what people take beside it are not "
    "in it.",
    "Waste goes where local rules say. Instructions of makers and local codes come first, also for "
    "the steriliser.",
)


# --- Rows ----------------------------------------------------------------------------------------


def by(choice: ByChoice) -> str:
    """How a count goes with a choice."""
    values = choice.values
    if len(values) > _MOST_VALUES:
        values = (values[0], values[-1])
        joint = " ... "
    else:
        joint = ", "
    if all(value.isdigit() for value, _ in values):
        told = joint.join(f"{span(numbers)} for {value}" for value, numbers in values)
        return f"{choice.choice}: {told}"
    long = any(len(value.split()) > _FEW_WORDS for value, _ in values)
    told = joint.join(f"{_value(value, long)} {span(numbers)}" for value, numbers in values)
    return f"{choice.choice}: {told}"


def _value(value: str, long: bool) -> str:
    """A value as it is told before a number: long ones are set apart."""
    return f"{quoted(value)}:" if long else value


def each_piece(counts: Sequence[Count]) -> list[str]:
    """What is taken once for each piece that is treated."""
    return [f"{one.thing}: {amount(one.number, one.unit)}" for one in counts]


def waste(one: Waste, note: str | None = None) -> str:
    """What goes into one stream."""
    name = one.stream or "no stream is told"
    beside = f" ({note})" if note and one.stream else ""
    heavy = f", {weight(one.grams)}" if one.grams is not None else ""
    told = amount(one.number, Unit.PIECE, words=True)
    of_no_stream = f" ({listed(one.things)})" if one.stream is None else ""
    return f"{name}{beside}: {told}{heavy}{of_no_stream}"


def comes_back(one: Count, to: str | None) -> str:
    """What is given to be treated."""
    told = f"{one.thing}: {amount(one.number, one.unit)}"
    return (
        f"{told}, through {quoted(to)}" if to is not None else f"{told}; nobody says who treats it"
    )


def mishap(name: str, counts: Iterable[Count]) -> str:
    """What a mishap takes beyond the visit."""
    told = [f"{one.thing} {_more(one)}" for one in counts]
    return f"{name}: {listed(told)}"


def _more(one: Count) -> str:
    least, most = one.number.least, one.number.most
    if most <= 0:
        return f"up to {-least} fewer"
    pairs = f" {UNITS[one.unit][most != 1]}" if one.unit is Unit.PAIR else ""
    return f"{most}{pairs} more" if least == most else f"up to {most}{pairs} more"


def own(things: Sequence[str]) -> str:
    """What patients bring along."""
    return f"{listed(things)}: brought along by the patient, not counted"


OF_ONE_PIECE = "  of a load with one piece"
MISHAPS_NOT_COUNTED = "so many can happen that they were not counted"
NOTHING = "nothing that is used once"


def loads(number_of: Range, pieces: Range) -> str:
    """How many loads are treated in a day, and what is in them."""
    many = f"{span(number_of)} {'load' if number_of == Range(1, 1) else 'loads'}"
    return f"{many} of the steriliser, with {amount(pieces, Unit.PIECE, words=True)} in all"


def needed(one: Cycling) -> list[str]:
    """How many of a thing are needed, in lines."""
    if one.least is None:
        first = "no number is enough: more are used in a day than its loads have room for"
    else:
        first = amount(Range(one.least, one.least), one.unit)
        if one.at is not None:
            first += f", in any order of the visits; most are out at {clock(one.at)}"
    lines = [first]
    if one.one_fails is not None and one.one_fails != one.least:
        lines.append(f"  {one.one_fails:,} if one load has to be treated again")
    return lines


def enough(one: Cycling, service: Fraction) -> str | None:
    """How many are enough on most days of a mix."""
    if one.mixed is None:
        return None
    return f"  {one.mixed:,} on {float(service * 100):g} of 100 days of this mix"


def load(one: Load) -> str:
    """One load of the day."""
    told = f"{clock(one.start)} to {clock(one.end)}: {count_of(one.pieces)}"
    return f"{told}, {one.left:,} left for the next" if one.left else told


def count_of(pieces: int) -> str:
    """ "1 piece", "12 pieces"."""
    return amount(Range(pieces, pieces), Unit.PIECE, words=True)


def kept(one: Kept) -> str:
    """What is back in its box when a visit ends."""
    return f"{listed(one.things)}: {span(one.number)} in use at once, back when the visit ends"


def ordered(one: Ordered) -> str:
    """One line of an order."""
    whole = amount(Range(one.pieces, one.pieces), one.unit)
    if one.box is not None and one.boxes is not None:
        boxed = "box" if one.boxes == 1 else "boxes"
        whole += f", in {one.boxes:,} {boxed} of {one.box:,}"
    expected = round(one.expected)
    if one.pieces > expected and one.safety > 0:
        whole += f": {expected:,} expected, {one.pieces - expected:,} for safety"
    return whole


def basis_of_order(one: Order) -> list[str]:
    """What an order rests on, in sentences."""
    if one.mixed:
        told = [
            "Demand is taken to be normally distributed; the order lasts in "
            f"{float(one.service * 100):g} of 100 such periods.",
            "What a share of the mix leaves open is taken to go in the way that uses the most.",
        ]
    else:
        told = [
            "Every visit is taken to use the most of each thing. Told with --mix which visits "
            "come, the order is closer."
        ]
    if one.not_so:
        facts = listed(quoted(fact) for fact in one.not_so)
        told.append(f"What is found out on the way is taken not to be so: {facts}.")
    return told


def share(one: Share) -> str:
    """A share of the mix, as it is written."""
    settled = "; ".join(f"{name}={value}" for name, value in one.settled.items())
    return f"{float(one.part * 100):g} % {settled or 'any visit'}"


def assumed(one: Assumed) -> str:
    """A number that no step tells."""
    return f"{one.name}: {one.value}"


GIVEN = {
    Given.USUAL: "taken as usual",
    Given.FIGURE: "figures",
    Given.ASKED: "as told",
}

ALL_CLEAN = "when the first visit begins, all that comes back is clean and in its place"
ONE_ROOM = "what each load takes is reckoned from a protocol in which one thing stands for all"
MISHAPS_APART = "mishaps are not in any number but their own"
RUNNING_ON = "of visits that run into one another each is counted by itself"
EACH_PAIR = (
    "gloves are counted in pairs, also for one hand alone; one that is torn or taken off ends its "
    "pair"
)


def no_list(name: str, why: str) -> str:
    """That nothing can be counted."""
    return (
        f'Nothing is counted of "{name}" yet, because of {why}. "protocol-lang check" tells where '
        "and what to change."
    )


def no_steps(name: str) -> str:
    """That a file has no steps."""
    return (
        f'"{name}" has no steps, so it uses nothing up. Name a file that begins with "protocol" '
        'or "day".'
    )


def told(lines: int, to: str) -> str:
    """What was written to a file."""
    return f'Listed {number(lines) if lines < 13 else f"{lines:,}"} things: "{to}".'


STANDING = {
    "to correct": "The check finds what is to be corrected: until then the counts are a draft.",
    "not checked": "Part of the protocol was not checked: the counts are a draft.",
}
