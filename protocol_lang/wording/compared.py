"""What is said of the differences between two editions: every sentence, as functions of facts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from protocol_lang.wording import basis
from protocol_lang.wording.plain import (
    count,
    listed,
    nearest_power_of_ten,
    number,
    power_of_ten_below,
    quoted,
)

#: Kinds of finding that tell of a way that soil takes; the others are told as faults.
PATHS = frozenset(
    {
        "path-to-patient",
        "world-to-patient",
        "path-to-staff",
        "clean-thing-reached",
        "hands-at-end",
        "claim-not-clean",
        "not-ordered",
    }
)

#: So many names stand in a sentence; of more the number is told.
MOST_NAMED = 6

# --- The first sentence --------------------------------------------------------------------------

SAME = "Nothing changes: both editions say the same."
ONLY_TEXT = "nothing changes in effect: only the text, or what the header says, is different"
#: What the first sentence begins with where not everything was judged.
NOT_ALL_JUDGED: Mapping[tuple[bool, bool], str] = {
    (False, True): "As far as the old edition was judged, ",
    (True, False): "As far as the new edition was judged, ",
    (False, False): "As far as the two editions were judged, ",
}


def not_read(old: bool, new: bool) -> str:
    """At least one of the texts has faults that keep its steps from being known."""
    if not old and not new:
        return "The steps could not be compared, because both texts have faults."
    which = "old" if not old else "new"
    return f"The steps could not be compared, because the text of the {which} edition has faults."


def not_judged(old: bool, new: bool) -> str:
    """At least one of them was not judged to the end: nothing can be said of paths."""
    which = _which(old, new)
    was = "were" if not old and not new else "was"
    return f"whether paths open or close is not known, because {which} {was} not judged to the end"


def not_ordered(old: bool, new: bool) -> str:
    """Why nothing is told of moved steps; ``old``, ``new``: the order of its steps is known."""
    return (
        f"which steps moved in effect, because of the faults in {_which(old, new)}; a step whose "
        "text has a fault may be told as added or removed"
    )


def _which(old: bool, new: bool) -> str:
    """The editions of which something does not hold."""
    return "both editions" if not old and not new else f"the {'old' if not old else 'new'} edition"


def paths(opened: int, closed: int) -> str:
    """How many paths of soil there are more and less; at least one of the numbers is not 0."""
    if not opened:
        return f"the new edition closes {count(closed, 'path')} and opens none"
    closes = number(closed) if closed else "none"
    return f"the new edition opens {count(opened, 'path')} and closes {closes}"


def faults(come: int, gone: int, other: bool, beside: bool) -> str:
    """The same of faults that are no paths; ``other``: after what was said of paths; ``beside``:
    something was said of paths, or cannot be."""
    noun = "other fault" if other else "fault"
    told = [f"{count(come, noun)} {'is' if come == 1 else 'are'} new"] if come else []
    if gone:
        what = number(gone) if come else count(gone, noun)
        told.append(f"{what} {'is' if gone == 1 else 'are'} gone")
    return listed(told) if beside else f"no path opens or closes; {listed(told)}"


def not_known(n: int) -> str:
    """Findings of the old edition that may be there in the new one, where not all was judged."""
    they = "it is" if n == 1 else "they are"
    return f"of {count(n, 'finding')} it is not known whether {they} gone"


def no_finding(changes: Sequence[str]) -> str:
    """No finding comes or goes, but something is done otherwise."""
    return f"no path opens or closes and no fault is new or gone, but {listed(changes)}"


#: What else can be different in effect, beside steps.
OTHER_CHANGES: Mapping[str, str] = {
    "between": "others come between steps that one edition does in one go",
    "options": "what it leaves open or is put together from changes",
    "declared": "the room or its words say otherwise",
    "assumed": "what the answer rests on changes",
    "unchecked": "what was not checked changes",
    "undecided": "of some steps it is not known whether they moved",
    "consider": "what is to be considered changes",
}


def changes(counts: Mapping[str, int], others: Sequence[str]) -> list[str]:
    """What else is different in effect, as parts of a sentence.

    ``counts``: of steps that are "added", "removed", "moved", do something "otherwise", or are done
    in other "cases"; ``others``: keys of :data:`OTHER_CHANGES`.
    """
    told = []
    for key, one, many in (
        ("added", "is added", "are added"),
        ("removed", "is removed", "are removed"),
        ("moved", "is moved in effect", "are moved in effect"),
        ("otherwise", "does something else", "do something else"),
        ("cases", "is done in other cases", "are done in other cases"),
    ):
        if n := counts.get(key, 0):
            told.append(f"{count(n, 'step')} {one if n == 1 else many}")
    # What the answer rests on follows from the rest, where there is any.
    most = [key for key in others if key != "assumed"]
    return told + [OTHER_CHANGES[key] for key in (most if told or most else others)]


# --- Editions ------------------------------------------------------------------------------------

SAYS_NOTHING = "nothing"
IN_FORCE = "in force from {day}"


def edition(title: str | None, which: int | None, in_force: str | None) -> str:
    """ "Intraoral", edition 2, in force from 2026-11-02."""
    parts = [quoted(title) if title else "without a title"]
    parts += [f"edition {which}"] if which is not None else []
    parts += [IN_FORCE.format(day=in_force)] if in_force else []
    return ", ".join(parts)


def extent(steps: int, combinations: int, orders: tuple[int, bool] | None, any_number: bool) -> str:
    """How much of an edition there was to check."""
    told = [count(steps, "step"), count(combinations, "combination") + " of choices"]
    if orders is not None:
        told.append(_orders(*orders))
    told.append("any number of patients" if any_number else "one visit only")
    return "; ".join(told)


def _orders(n: int, exact: bool) -> str:
    least = "" if exact else "at least "
    if n < 10_000:
        return f"{least}{count(n, 'permitted order')}"
    power = nearest_power_of_ten(n) if exact else power_of_ten_below(n)
    return f"{'about ' if exact else least}10^{power} permitted orders"


NOT_JUDGED = "the order of its steps was not judged to the end"


def was_is(was: str | None, is_now: str | None) -> list[str]:
    """What was said, and what is said now."""
    return [f"was: {was or SAYS_NOTHING}", f"is: {is_now or SAYS_NOTHING}"]


# --- Steps ---------------------------------------------------------------------------------------


def spot(place: str, phase: str, step: int, part: str | None) -> str:
    """Where a step stands: line, phase, and protocol where there are several."""
    of = f' of "{part}"' if part else ""
    return f'{place}, step {step} in "{phase}"{of}'


def all_steps(n: int, part: str) -> str:
    """The steps of a protocol that only one of two days has."""
    return f'all {count(n, "step")} of "{part}"'


_NOW = {
    "before": "now always comes before",
    "after": "now always comes after",
    "in either order": "can now come before or after",
    "never in one visit": "is now never in one visit with",
}
_ONCE = {
    "before": "before, it always came first",
    "after": "before, it always came later",
    "in either order": "before, it could come first or later",
    "never in one visit": "before, they were never in one visit",
}


def order(was: str, is_now: str, others: Sequence[str]) -> str:
    """How a moved step now stands to others, and how it stood to them before."""
    return f"{_NOW[is_now]} {some(others)}; {_ONCE[was]}"


def some(names: Sequence[str]) -> str:
    """The first names, and how many more there are."""
    if len(names) <= MOST_NAMED:
        return listed(names)
    return f"{', '.join(names[: MOST_NAMED - 1])} and {number(len(names) - MOST_NAMED + 1)} more"


def several(n: int) -> str:
    """Before the names of steps of which the same is told."""
    return f"{count(n, 'step')}, all alike:"


SAME_EFFECT = "it does the same"
OTHER_EFFECT = "it does something else: see below"
UNKNOWN_EFFECT = "whether it does the same is not known"
OTHER_SEQUENCE = "it does the same things in another order"
ALWAYS = "always"
ELSEWHERE = "its line is elsewhere; in every permitted order it is as before"


def between(others: Sequence[str], can: bool) -> str:
    """Whether others can come between steps that one edition does in one go."""
    return f"{some(others)} can {'now' if can else 'no longer'} come between them"


MORE = '"protocol-lang check" tells the whole story of each finding, with changes that help.'


def undecided(n: int) -> str:
    """Pairs of steps whose order is not known."""
    return f"of {count(n, 'pair')} of steps the order was not settled within the limit"


# --- What a step does ----------------------------------------------------------------------------


def effect(kind: str, names: Mapping[str, Sequence[str]]) -> str:
    """One thing that a step does, or asks for."""
    what = listed(names.get("what", ()))
    are = "are" if len(names.get("what", ())) > 1 or what.endswith("s") else "is"
    trace = " (a trace)" if "amount" in names else ""
    match kind:
        case "touch":
            return f"{what} touch each other{trace}"
        case "pass":
            goal = listed(names.get("goal", ()))
            return f"what is on {listed(names.get('source', ()))} gets to {goal}{trace}"
        case "cover":
            leaks = ", which leaks," if "leaks" in names else ""
            lets = f" and lets {listed(names['lets'])} through" if "lets" in names else ""
            return f"{listed(names['cover'])}{leaks} comes onto {what}{lets}"
        case "uncover":
            return f"what covers {what} comes off"
        case "tear":
            return f"what covers {what} tears"
        case "take":
            return f"{what} {are} taken"
        case "clean":
            return f"{what} {are} cleaned"
        case "treat":
            return f"{what} {are} treated to {_treated(names)}"
        case "by":
            return f"it is done by {listed(names['who'])}"
        case "dry":
            return f"{what} {are} dry by then"
        case "so" | "not so":
            return _so(names["what"][0], kind == "so")
        case "throw away":
            return f"{what} {are} thrown away"
        case _:
            return f"asks that {_asked(names)}"


def _so(fact: str, so: bool) -> str:
    """A fact that becomes so, or not so: of somebody or something ("patient: seated"), or not."""
    owner, colon, told = fact.partition(": ")
    if colon:
        return f"from then on {owner} is {'' if so else 'not '}{told}"
    return f"from then on: {fact}" if so else f"from then on no longer: {fact}"


def _asked(names: Mapping[str, Sequence[str]]) -> str:
    """What a step asks for, in the author's words or by what it is about."""
    if "words" in names:
        return f"{listed(names['words'])}"
    facts = {role: listed(these) for role, these in names.items()}
    match facts.get("about"):
        case "duty":
            return f"{facts['person']} has done this duty: {facts['duty']}"
        case "sleeved":
            return f"{facts['thing']} is sleeved"
        case "laid-out":
            return f"{facts['thing']} is laid out on {facts['surface']}"
        case "from-afar":
            where = f"in {facts['where']}" if "where" in facts else f"where {facts['thing']} is"
            return f"{facts['person']} is {where}"
        case "exposure":
            return f"{facts['person']} is {facts['safe']} when {facts['by']} exposes"
        case "gloves-behind":
            return f"{facts['person']} leaves the gloves on the dirty side"
        case "air":
            return f"{facts['person']} does not breathe the air of {facts['where']}"
        case "air-at-end":
            return f"the air of {facts['where']} is clear"
        case _:
            told = [value for role, value in facts.items() if role != "about"]
            return listed(told) or "what its words say holds"


def _treated(names: Mapping[str, Sequence[str]]) -> str:
    told = listed(names.get("level", ()))
    if "through" in names:
        told += f", through what lets {listed(names['through'])} through"
    if "minutes" in names:
        told += f" and wet for {count(int(names['minutes'][0]), 'minute')}"
    least = listed(names["floor"]) if "floor" in names else "no level"
    return f"{told}; the least that counts there is {least}"


# --- What else is different ----------------------------------------------------------------------

#: How the sorts of changes are headed in a report.
_OPTION = {
    "choice": "choice {name}",
    "found out": "found out on the way: {name}",
    "mishap": "mishap {name}",
    "again": "again from {name}",
    "protocol": '"{name}"',
    "begins": "it begins with {name}",
    "leaves": "it leaves: {name}",
    "source": '"{name}"',
    "note": '"{name}"',
}


def option(sort: str, name: str, was: str | None, is_now: str | None) -> str:
    """A choice, a mishap or the like that is new, gone or another."""
    named = _OPTION[sort].format(name=name)
    if was is None:
        return f"new: {named}" + (f" ({is_now})" if is_now != name else "")
    if is_now is None:
        return f"gone: {named}" + (f" ({was})" if was != name else "")
    return f"{named}: was {was}; is {is_now}"


def phase(sort: str, name: str, was: str | None, is_now: str | None) -> str:
    """A phase that is new, gone, renamed, or may run on now; ``name``: of its protocol, in a day,
    or its own."""
    of = f" of {quoted(name)}" if name else ""
    if sort == "runs on":
        return f"{quoted(name)} {is_now or 'may no longer run into the next visit'}"
    if sort == "renamed":
        return f"{quoted(was or '')}{of} is now called {quoted(is_now or '')}"
    return f"new: {quoted(is_now)}{of}" if is_now is not None else f"gone: {quoted(was or '')}{of}"


_FIELDS = {
    "of": "whose it is",
    "where": "where it holds",
    "fact": "while this is so",
    "part": "the part that touches nothing",
    "kind": "its kind",
    "parts": "its parts",
    "start": "how it is when a visit starts",
    "used_once": "used once",
    "thrown_after_use": "thrown away after use",
    "leaks": "taken to leak",
    "lets": "what it lets through",
    "worn_on": "worn on",
    "over": "goes over",
    "takes": "the covers that it takes",
    "starts_covered": "the cover that it starts with",
    "comes_from": "where it comes from",
    "stocked_from": "where its supply comes from",
    "one_of_many": "one of many",
    "level": "the level that counts",
    "wet_minutes": "minutes that it stays wet",
    "goes_in_mouth": "goes in the mouth",
    "heat_safe": "heat safe",
    "always_sleeved": "always sleeved in the mouth",
    "stream": "where it goes",
    "stands_in": "the place where it stands",
    "keeps_air_out": "keeps germs of the air out",
    "starts_in": "where a visit finds that person",
    "stays": "may be near at an exposure",
    "note": "what is said of it",
    "rank": "its rank",
    "acts_on": "the soil that it acts on",
    "ends": "the germs that it ends",
    "source": "its source",
    "counts": "what it counts as",
    "unclean": "comes in unclean",
    "full_of": "what is always there",
    "metres": "metres from the patient",
    "degrees": "degrees from the beam",
    "barrier": "a barrier stands there",
    "in_view": "the patient is in view",
    "air_changes": "air changes an hour",
    "dirty_side": "gloves stay behind there",
    "carries": "when it carries germs",
    "percent": "per cent of germs that have to be gone",
    "mixing": "how much longer that takes than with perfect mixing",
}


def declared(sort: str, name: str, was: str | None, is_now: str | None) -> str:
    """Something that a room or words file says otherwise."""
    if sort == "verb":
        return f"verb {quoted(name)}: what it does is written otherwise"
    owner, _, field = name.rpartition(": ")
    if not owner or field not in _FIELDS:
        fate = "new" if was is None else "gone" if is_now is None else "another"
        return f"{sort} {quoted(name)}: {fate}"
    about = "the level that it treats to" if (sort, field) == ("thing", "level") else None
    told = about or _FIELDS.get(field, field)
    return f"{sort} {quoted(owner)}, {told}: was {was or SAYS_NOTHING}, is {is_now or SAYS_NOTHING}"


#: Of these kinds several that differ in nothing but the thing are told in one sentence; which of
#: their names that is.
THING_OF: Mapping[str, int] = {
    "leaking": 0,
    "tearing": 0,
    "thrown_away": 0,
    "untouched": 0,
    "remainder": 1,
    "starts": 0,
    "handed_over": 0,
}


def assumed(kind: str, names: Sequence[str], things: Sequence[str]) -> str:
    """Something that an answer rests on; ``things``: the things that it is said of."""
    are = "are" if len(things) > 1 or "".join(things).endswith("s") else "is"
    match kind:
        case "files":
            return f"{names[0]} {quoted(names[1])} is read"
        case "starts":
            return f"when a visit starts, {listed(things)} {are} taken to be {names[1]}"
        case "leaking":
            return basis.leaking(things)
        case "tearing":
            return basis.tearing(things)
        case "thrown_away":
            return basis.thrown_away(things)
        case "untouched":
            return basis.untouched(things)
        case "running_on":
            return f"{quoted(names[0])} may run into the next visit"
        case "remainder":
            return basis.remainder(names[0], things, names[2].split(", "), names[3] or None)
        case "without_contact":
            return f"{quoted(names[0])} touches nothing"
        case "own_verbs":
            return f"the verb {quoted(names[0])} is the protocol's own"
        case "handed_over":
            return f"{basis.handed_over_short(things)} ({names[1]})"
        case _:
            return _ALONE[kind]


#: What is said of no thing.
_ALONE: Mapping[str, str] = {
    "one_visit_only": basis.visits(False),
    "visits_apart": basis.VISITS_APART,
    "only_who_exposes": basis.ONLY_WHO_EXPOSES,
    "follows": basis.FOLLOWS,
    "one_mishap": basis.ONE_MISHAP,
}


# --- What cannot be compared ---------------------------------------------------------------------


def rule(title: str, pack: str, was: str, is_now: str) -> str:
    """How a rule ends for the new edition, and ended for the old one."""
    return f'"{title}" of "{pack}": {is_now}; for the old edition {was}'


def other_kinds(old: str, old_kind: str, new: str, new_kind: str) -> str:
    """The files are not both protocols, or both days."""
    can = "Two protocols can be compared, or two days."
    if old_kind == new_kind:
        return (
            f'"{old}" and "{new}" are {old_kind} files, which have no steps. {can} What a room or '
            "its words change is told by comparing a protocol that takes words from them, once "
            "beside the old room and once beside the new one."
        )
    return f'"{old}" is a {old_kind} file and "{new}" is a {new_kind} file. {can}'
