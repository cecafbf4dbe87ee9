"""Changes that save time, each worked out anew and ranked by what it saves.

Three sorts: somebody else does one part of what may be done in any order; a product whose label
asks for less; another of a thing, so that nobody waits for the first to dry. No change is offered
that leaves a contact time shorter than its label and shorter than it was. Beyond that only time is
looked at: what the change does to soil, the check has to tell of the changed protocol.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from math import ceil

from protocol_lang.contamination.kernel import Bits
from protocol_lang.model.parts import PersonKind
from protocol_lang.model.steps import AnyOrder, Item, Waiting
from protocol_lang.model.walk import parts_of, steps_of
from protocol_lang.schedule.contact import Verdict, least_between
from protocol_lang.schedule.least import Least, least
from protocol_lang.schedule.tasks import At, Changes, NoOrder, Tasks
from protocol_lang.timetable import Gain
from protocol_lang.trade.contact import contact_minutes

#: Who helps where a protocol names nobody else of the staff.
SOMEBODY = "a second person"


def gains(tasks: Tasks, there: Bits, air: bool, verdicts: Iterable[Verdict]) -> tuple[Gain, ...]:
    """What saves time in the visit in which these acts are done, the most first.

    ``verdicts``: the contact times to be kept.
    """
    now = _time(tasks, there, Changes(), air)
    if now is None:
        return ()
    asked = _Asked(tasks, there, tuple(verdicts))
    found = [*_helpers(tasks, there, air, now, asked), *_products(tasks, there, air, now, asked)]
    found += _others(tasks, there, air, now, asked)
    return tuple(sorted(found, key=lambda one: (-one.saved, one.sort, one.what)))


class _Asked:
    """The contact times of one visit: how long each surely lasts as written."""

    def __init__(self, tasks: Tasks, there: Bits, verdicts: tuple[Verdict, ...]) -> None:
        self.tasks = tasks
        self.there = there
        self.contacts = [
            one for one in verdicts if there >> one.wetting & 1 and there >> one.touch & 1
        ]
        self.now = [self._lasts(one, Changes()) for one in self.contacts]

    def kept(self, changes: Changes) -> bool:
        """Whether with the changes each lasts as long as its label, or as long as it did.

        What another one is at hand of is put aside, and dries there.
        """
        aside = {
            treatment
            for _, _, wait, treatment in self.tasks.waits
            if self.tasks.until_dry(wait) in changes.at_hand
        }
        for one, was in zip(self.contacts, self.now, strict=True):
            if one.treatment in aside or was is None:
                continue
            lasts = self._lasts(one, changes)
            if lasts is not None and lasts < min(self.tasks.label(one.treatment, changes), was):
                return False
        return True

    def _lasts(self, one: Verdict, changes: Changes) -> int | None:
        """The least time; None if the touch never comes after the wetting."""
        work = self.tasks.work(self.there, At.LEAST, changes)
        label = self.tasks.label(one.treatment, changes)
        found = least_between(work, one.wetting, one.touch, label)
        return None if found is None else found.bound


def _time(tasks: Tasks, there: Bits, changes: Changes, air: bool) -> Least | None:
    try:
        return least(tasks.work(there, At.MIDDLE, changes, air), None, tasks.ready)
    except NoOrder:
        return None


def _saves(now: Least, then: Least | None) -> tuple[int, bool]:
    """How much is surely saved, and whether that is all."""
    if then is None:
        return 0, True
    return max(0, now.bound - then.ticks), now.exact and then.exact


def _helpers(tasks: Tasks, there: Bits, air: bool, now: Least, asked: _Asked) -> Iterator[Gain]:
    """Of each block in any order, the parts that somebody else does: one after the other that which
    saves the most, as long as it saves something."""
    protocol = tasks.unfolded.protocol
    staff = [name for name, one in protocol.people.items() if one.kind is PersonKind.STAFF]
    names = list(protocol.people)
    for block in _any_orders(item for phase in protocol.phases for item in phase.items):
        parts = [part for part in (_part(tasks, there, item) for item in block.items) if part[0]]
        doers = {tasks.unfolded.acts[act].person for acts, _ in parts for act in acts}
        if len(parts) < 2 or len(doers) != 1:
            continue
        doer = doers.pop()
        if doer not in staff:
            continue
        helper = next((name for name in staff if name != doer), SOMEBODY)
        number = names.index(helper) if helper in names else len(names)
        helped: dict[int, int] = {}
        told: list[str] = []
        best, sure = 0, True
        left = list(parts)
        while len(left) > 1:
            tried = []
            for part in left:
                changes = Changes(helped=helped | dict.fromkeys(part[0], number))
                saved, exact = _saves(now, _time(tasks, there, changes, air))
                if saved > best and not asked.kept(changes):
                    saved = 0
                tried.append((saved, exact, part))
            saved, exact, part = max(tried, key=lambda one: one[0])
            if saved <= best:
                break
            best, sure = saved, exact
            helped |= dict.fromkeys(part[0], number)
            told += part[1]
            left.remove(part)
        if told:
            yield Gain("helper", tuple(told), best, sure, who=helper)


def _any_orders(items: Iterable[Item]) -> Iterator[AnyOrder]:
    for item in items:
        if isinstance(item, AnyOrder):
            yield item
        for inner in parts_of(item):
            yield from _any_orders(inner)


def _part(tasks: Tasks, there: Bits, item: Item) -> tuple[tuple[int, ...], tuple[str, ...]]:
    """The acts of a part of a checklist that are done, and what their steps say."""
    steps = list(steps_of([item]))
    places = {step.place for step in steps}
    acts = tuple(
        act
        for act, step in enumerate(tasks.steps)
        if step is not None and step.place in places and there >> act & 1
    )
    done = {tasks.unfolded.acts[act].place for act in acts}
    return acts, tuple(step.text for step in steps if step.place in done)


def _products(tasks: Tasks, there: Bits, air: bool, now: Least, asked: _Asked) -> Iterator[Gain]:
    """Each product with the least contact time that is published for its level."""
    things = tasks.unfolded.protocol.things
    used = {
        tasks.products[treatment] for treatment, act in tasks.begins.items() if there >> act & 1
    }
    for name in (thing for thing in things if thing in used):
        thing = things[name]
        if thing.level is None or thing.wet_minutes is None:
            continue
        try:
            minutes = ceil(contact_minutes(thing.level).least)
        except ValueError:
            continue
        if minutes < thing.wet_minutes:
            changes = Changes(labels={name: minutes})
            saved, sure = _saves(now, _time(tasks, there, changes, air))
            if saved and asked.kept(changes):
                yield Gain("product", (name,), saved, sure, minutes=minutes)


def _others(tasks: Tasks, there: Bits, air: bool, now: Least, asked: _Asked) -> Iterator[Gain]:
    """Another of each thing that is waited for, if it is one that can be put aside."""
    things = tasks.unfolded.protocol.things
    waited = dict.fromkeys(
        step.does.until_dry
        for act, step in enumerate(tasks.steps)
        if step is not None and isinstance(step.does, Waiting) and there >> act & 1
    )
    for name in waited:
        thing = things.get(name) if name is not None else None
        if thing is None or thing.kind in ("surface", "box") or thing.used_once:
            continue
        changes = Changes(at_hand=frozenset({thing.name}))
        saved, sure = _saves(now, _time(tasks, there, changes, air))
        if saved and asked.kept(changes):
            yield Gain("another", (thing.name,), saved, sure, minutes=(thing.wet_minutes or 0))
