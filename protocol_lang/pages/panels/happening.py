"""What may happen or be found out on the way, what is done then, and where to go on."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from protocol_lang.chart.plan import actor
from protocol_lang.chart.sheet import PanelLine
from protocol_lang.model.conditions import AnyWhere, ChoiceIs, Condition, EveryWhere
from protocol_lang.model.protocol import FOUND
from protocol_lang.model.steps import Again, Either, Item, Mishap, SideBySide, Step, Where
from protocol_lang.model.walk import parts_of, steps_of
from protocol_lang.pages.shown import Shown

#: Of more steps than these only the first ones are told, and how many there are.
MOST_TOLD = 3


def happens(shown: Shown) -> tuple[PanelLine, ...]:
    """Each mishap of the sheet's phases, then each thing that is found out on the sheet.

    ``what`` in the author's words; ``told``: what is done, the steps in short; ``steps``: where to
    go on: after a mishap the step from which it is done again, else the one after that at which it
    happened; no number where one goes on at the step that one had got to. What is found out leads
    to steps that are on the sheet: the first of them.
    """
    return (*_mishaps(shown), *_found_out(shown))


def notes_of_mishaps(shown: Shown) -> tuple[str, ...]:
    """What the author notes under the steps of the mishaps that are told: cautions are among it."""
    told = {line.what for line in _mishaps(shown)}
    return tuple(
        dict.fromkeys(
            f"{mishap.name}: {note}"
            for mishap in shown.unfolded.protocol.mishaps
            if mishap.name in told
            for step in steps_of(mishap.items)
            for note in step.notes
        )
    )


def _mishaps(shown: Shown) -> Iterator[PanelLine]:
    protocol = shown.unfolded.protocol
    steps = [step for phase in protocol.phases for step in steps_of(phase.items)]
    shown_phases = {
        (phase.title, phase.part)
        for phase in protocol.phases
        if any(step.place in shown.numbers for step in steps_of(phase.items))
    }
    labelled = {
        step.label: shown.numbers[step.place]
        for step in steps
        if step.label is not None and step.place in shown.numbers
    }
    last = max(shown.numbers.values(), default=0)
    for mishap in protocol.mishaps:
        here = any((phase, mishap.part) in shown_phases for phase in mishap.phases)
        if mishap.visit != 1 or not here:
            continue
        if mishap.person is None and not any(label in labelled for label in mishap.labels):
            continue
        yield PanelLine(
            mishap.name,
            told=mishap.short or in_short(mishap.items),
            steps=tuple(_resumed(mishap, labelled, last)),
        )


def _resumed(mishap: Mishap, labelled: dict[str, int], last: int) -> list[int]:
    back = {labelled[label] for label in _labels(mishap.items) if label in labelled}
    on = {labelled[label] + 1 for label in mishap.labels if label in labelled}
    if mishap.items and isinstance(mishap.items[-1], Again):
        return sorted(back)
    return sorted(number for number in back | on if number <= last)


def _labels(items: Iterable[Item]) -> Iterator[str]:
    for item in items:
        if isinstance(item, Again):
            yield item.label
        for inner in parts_of(item):
            yield from _labels(inner)


def _found_out(shown: Shown) -> Iterator[PanelLine]:
    for choice in shown.unfolded.protocol.choices:
        if choice.known_after is None:
            continue
        for inside in _asking(shown.items, choice.name):
            numbers = [
                shown.numbers[step.place]
                for step in steps_of(inside)
                if step.place in shown.numbers
            ]
            labels = set(_labels(inside))
            back = [
                shown.numbers[step.place] for step in steps_of(shown.items) if step.label in labels
            ]
            steps = numbers[:1] or back[:1]
            yield PanelLine(choice.name, told=in_short(inside), steps=tuple(steps))


def _asking(items: Iterable[Item], name: str) -> Iterator[tuple[Item, ...]]:
    """What is done where that has been found out to be so."""
    for item in items:
        if isinstance(item, Where):
            for condition, inside in item.branches:
                if condition is not None and _asks(condition, name):
                    yield inside
        for inner in parts_of(item):
            yield from _asking(inner, name)


def _asks(condition: Condition, name: str) -> bool:
    match condition:
        case ChoiceIs(choice, value):
            return choice == name and value == FOUND[0]
        case EveryWhere(parts) | AnyWhere(parts):
            return any(_asks(part, name) for part in parts)
        case _:
            return False


def in_short(items: tuple[Item, ...]) -> str:
    """What is done, in few words: short texts, else sentences without who does it.

    Of several ways, and of branches, nothing is chosen: then, and of many steps, it is told how
    many there are at most, after the first ones that are always done.
    """
    first: list[Step] = []
    for item in items:
        if isinstance(item, Either | Where | SideBySide):
            break
        first += steps_of((item,))
    every = list(steps_of(items))
    told = [_words(step) for step in (first if len(first) <= MOST_TOLD else first[:MOST_TOLD])]
    words = "; ".join(told)
    if len(told) == len(every):
        return words
    more = f"up to {len(every)} steps, see the protocol"
    return f"{words}; in all {more}" if words else more


def _words(step: Step) -> str:
    if step.short is not None:
        return step.short
    who = actor(step)
    return step.text.removeprefix(f"{who} ") if who is not None else step.text
