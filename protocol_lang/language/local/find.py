"""Which step of the base a change means: by its label, or by its sentence."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from protocol_lang.findings import Finding
from protocol_lang.language import tree
from protocol_lang.language.names import nearest, words_of
from protocol_lang.language.reading.openers import nearest_of
from protocol_lang.language.spaces import key_of
from protocol_lang.language.tree import Words


@dataclass(frozen=True, slots=True)
class Spot:
    """A step or block of a phase. ``around``: the blocks that it stands in, the outermost first."""

    item: tree.Item
    around: tuple[tree.Item, ...] = ()


def lists_of(item: tree.Item) -> tuple[tuple[tree.Item, ...], ...]:
    """The lists of items that stand under an item."""
    match item:
        case tree.Where():
            return tuple(branch.items for branch in item.branches)
        case tree.Either():
            return tuple(way.items for way in item.ways)
        case tree.SideBySide():
            return tuple(lane.items for lane in item.lanes)
        case tree.Step() | tree.Again():
            return ()
        case _:
            return (item.items,)


def spots(items: Iterable[tree.Item], around: tuple[tree.Item, ...] = ()) -> Iterator[Spot]:
    """Every item of a list and of the blocks in it, in the order of the text."""
    for item in items:
        yield Spot(item, around)
        for inside in lists_of(item):
            yield from spots(inside, (*around, item))


def steps_of(phase: tree.Phase) -> tuple[Spot, ...]:
    """The steps of a phase, in the order of the text."""
    return tuple(spot for spot in spots(phase.items) if isinstance(spot.item, tree.Step))


def sentence_of(step: tree.Step) -> str:
    """What a step says, with one blank between words."""
    if isinstance(step.does, tree.Say):
        return f"say: {step.does.text.plain}"
    return step.does.plain


def label_of(item: tree.Item) -> str | None:
    """The label of a step, if it has one."""
    if isinstance(item, tree.Step) and item.label is not None:
        return item.label.plain
    return None


def phase_of(title: Words, phases: Iterable[tree.Phase]) -> tree.Phase | Finding:
    """The phase of a title; or that there is none."""
    named = [phase for phase in phases if phase.title is not None]
    for phase in named:
        if phase.title is not None and words_of(phase.title.plain) == words_of(title.plain):
            return phase
    titles = [phase.title.plain for phase in named if phase.title is not None]
    facts = {"name": title.plain, "titles": "\n".join(titles)}
    near = nearest(title.plain, titles)
    if near is not None:
        facts["meant"] = near
    return Finding("change-unknown-phase", title.place, facts)


def spot_of(asked: tree.Changed, phase: tree.Phase, phases: Iterable[tree.Phase]) -> Spot | Finding:
    """The step or block that a change means; or why there is none, or more than one.

    ``phases``: all of the base, to tell where else it stands.
    """
    steps = steps_of(phase)
    alike = [spot for spot in steps if _is_meant(asked, spot.item)]
    if not alike:
        return _unknown(asked, phase, phases)
    many = len(alike)
    if asked.quoted and (asked.of or 1) != many:
        facts = {"name": asked.name.plain, "count": str(many)}
        if asked.of is not None:
            facts["of"] = str(asked.of)
        places = tuple(("one of them", spot.item.place) for spot in alike)
        return Finding("change-which-step", asked.place, facts, places)
    number = asked.number or 1
    if number > many or number < 1 or (not asked.quoted and asked.number is not None):
        facts = {"name": asked.name.plain, "number": str(number), "count": str(many)}
        return Finding("change-no-such-number", asked.place, facts)
    found = alike[number - 1]
    for _ in range(asked.around):
        if not found.around:
            facts = {"name": asked.name.plain}
            return Finding("change-no-block", asked.place, facts)
        found = Spot(found.around[-1], found.around[:-1])
    return found


def _is_meant(asked: tree.Changed, item: tree.Item) -> bool:
    if not isinstance(item, tree.Step):
        return False
    if asked.quoted:
        return words_of(sentence_of(item)) == words_of(asked.name.plain)
    label = label_of(item)
    return label is not None and key_of(label) == key_of(asked.name.plain)


def _unknown(asked: tree.Changed, phase: tree.Phase, phases: Iterable[tree.Phase]) -> Finding:
    name = asked.name.plain
    title = "" if phase.title is None else phase.title.plain
    facts = {"name": name, "phase": title, "by": "sentence" if asked.quoted else "label"}
    steps = [spot.item for spot in steps_of(phase)]
    for other in phases:
        there = any(_is_meant(asked, spot.item) for spot in steps_of(other))
        if other is not phase and other.title is not None and there:
            facts["elsewhere"] = other.title.plain
            return Finding("change-unknown-step", asked.place, facts)
    labels = [label for label in map(label_of, steps) if label is not None]
    sentences = [sentence_of(step) for step in steps if isinstance(step, tree.Step)]
    here, others = (sentences, labels) if asked.quoted else (labels, sentences)
    if any(words_of(one) == words_of(name) for one in others):
        facts["other way"] = "yes"
    else:
        near = (
            nearest_of((one, name) for one in dict.fromkeys(here))
            if asked.quoted
            else nearest(name, here)
        )
        if near is not None:
            facts["meant"] = near
    return Finding("change-unknown-step", asked.place, facts)


def named_by(phase: tree.Phase, item: tree.Item) -> str | None:
    """How a change names a step: by its label, else by its sentence; None if it is no step here."""
    label = label_of(item)
    if label is not None:
        return label
    if not isinstance(item, tree.Step):
        return None
    said = sentence_of(item)
    if '"' in said:
        return None  # what has quotation marks in it cannot stand in them
    alike = [
        spot.item
        for spot in steps_of(phase)
        if isinstance(spot.item, tree.Step) and words_of(sentence_of(spot.item)) == words_of(said)
    ]
    if len(alike) == 1:
        return f'"{said}"'
    at = next((n for n, one in enumerate(alike, 1) if one is item), None)
    return None if at is None else f'"{said}", {at} of {len(alike)}'
