"""The verbs of a vocabulary that clean hands, change gloves, and clean things.

They are found by what they do, not by their words, so that a vocabulary in any language serves.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from protocol_lang.model.parts import PersonKind, Thing
from protocol_lang.model.protocol import Protocol
from protocol_lang.model.steps import Doing, InOneGo, Item, Step, Waiting
from protocol_lang.model.verbs import (
    CoversWith,
    Frame,
    Line,
    Meets,
    OfSlot,
    Reduces,
    Share,
    Slot,
    Takes,
    Uncovers,
    Verb,
    Washes,
)

#: A slot in the text of a frame: "ACTOR", "EACH SURFACE", "OTHER ITEM".
_SLOT = re.compile(r"(?:(?:EACH|ALL) )?(?P<name>(?:OTHER )?[A-Z][A-Z]+)")

_PERSONS = frozenset({"person", *(kind.value for kind in PersonKind)})


class Toolbox:
    """Steps that the author's vocabulary can say."""

    def __init__(self, protocol: Protocol) -> None:
        self._protocol = protocol
        self._place = protocol.header.place

    def is_staff(self, name: str) -> bool:
        person = self._protocol.people.get(name)
        return person is not None and person.kind is PersonKind.STAFF

    def clean_hands(self, person: str) -> tuple[Item, ...]:
        """ "operator cleans hands"; nothing if no verb does it."""
        for verb in self._protocol.verbs:
            slots = _slots(verb.frames[0])
            if (
                len(slots) == 1
                and slots[0].kind in _PERSONS
                and verb.lines
                and any(_treats_hands(line, slots[0].name) for line in verb.lines)
                and not any(isinstance(line, Meets) for line in verb.lines)
            ):
                return (self._step(verb, {slots[0].name: (person,)}),)
        return ()

    def hands_at_a_higher_level(self, person: str, step: Step) -> tuple[Step, ...]:
        """The same person's hands cleaned at each higher level, the least first; nothing unless the
        step is one that cleans them and touches nothing."""
        own = self._level_of_hands(step.does.verb) if isinstance(step.does, Doing) else None
        if own is None:
            return ()
        found: dict[int, Step] = {}
        for verb in self._protocol.verbs:
            rank = self._level_of_hands(verb)
            if rank is not None and rank > own:
                found.setdefault(
                    rank, self._step(verb, {_slots(verb.frames[0])[0].name: (person,)})
                )
        return tuple(found[rank] for rank in sorted(found))

    def _level_of_hands(self, verb: Verb) -> int | None:
        """The rank of the level to which a verb cleans the hands of whoever does it; None if that
        is not all that it does."""
        slots = _slots(verb.frames[0])
        if len(slots) != 1 or slots[0].kind not in _PERSONS:
            return None
        if any(isinstance(line, Meets) for line in verb.lines):
            return None
        return next(
            (
                self._protocol.levels[line.level].rank
                for line in verb.lines
                if isinstance(line, Reduces)
                and _treats_hands(line, slots[0].name)
                and line.level is not None
                and line.level in self._protocol.levels
            ),
            None,
        )

    def bare_hands(self, person: str, glove: str) -> tuple[Item, ...]:
        """Gloves off and hands cleaned, in one go."""
        off = self._glove_step(person, glove, Uncovers)
        clean = self.clean_hands(person)
        return (InOneGo((*off, *clean), self._place),) if off and clean else ()

    def gloves_on(self, person: str) -> tuple[Item, ...]:
        """Hands cleaned and gloves put on, in one go: the first kind of gloves in the room."""
        for thing in self._protocol.things.values():
            if thing.worn_on == "hands" and thing.over is None:
                on = self._glove_step(person, thing.name, CoversWith)
                clean = self.clean_hands(person)
                if on and clean:
                    return (InOneGo((*clean, *on), self._place),)
        return ()

    def fresh_gloves(self, person: str, glove: str) -> tuple[Item, ...]:
        """Gloves off, hands cleaned, new gloves on, in one go."""
        off = self._glove_step(person, glove, Uncovers)
        on = self._glove_step(person, glove, CoversWith)
        clean = self.clean_hands(person)
        return (InOneGo((*off, *clean, *on), self._place),) if off and on and clean else ()

    def clean(self, person: str, thing: str) -> tuple[Item, ...]:
        """The first pass alone."""
        return self._wipe_step(person, thing, Washes)

    def disinfect(self, person: str, thing: str) -> tuple[Item, ...]:
        """The second pass alone, and the wait until it is dry."""
        return self.clean_and_disinfect(person, thing)[1:]

    def clean_and_disinfect(self, person: str, thing: str) -> tuple[Item, ...]:
        """The two passes on a thing, each with a wipe of its own, and the wait until it is dry."""
        first = self._wipe_step(person, thing, Washes)
        second = self._wipe_step(person, thing, Reduces)
        if not first or not second:
            return ()
        return (*first, *second, *self.wait_until_dry(person, thing))

    def wait_until_dry(self, person: str, thing: str) -> tuple[Item, ...]:
        """ "operator waits until sensor is dry"."""
        text = f"{person} waits until {thing} is dry"
        wait = Waiting(person, None, thing)
        return (Step(None, text, None, wait, (), (), (), (), (), self._place),)

    def cover(self, person: str, cover: str, what: tuple[str, ...]) -> tuple[Step, ...]:
        """ "operator covers tube head and cone with wrap"."""
        return self._cover_step(person, cover, what, CoversWith)

    def uncover(self, person: str, cover: str, what: tuple[str, ...]) -> tuple[Step, ...]:
        """ "operator takes wrap off tube head and cone"."""
        return self._cover_step(person, cover, what, Uncovers)

    def _cover_step(
        self,
        person: str,
        cover: str,
        what: tuple[str, ...],
        does: type[Uncovers] | type[CoversWith],
    ) -> tuple[Step, ...]:
        covered = [self._protocol.things[name] for name in what]
        kind = self._protocol.things[cover].kind
        for verb in self._protocol.verbs:
            slots = _slots(verb.frames[0])
            if len(slots) != 3 or slots[0].kind not in _PERSONS:
                continue
            over = next((slot for slot in slots[1:] if slot.kind == kind), None)
            under = next((slot for slot in slots[1:] if slot is not over), None)
            if over is None or under is None or not all(_admits(under, one) for one in covered):
                continue
            if len(what) > 1 and under.share is Share.ONE:
                continue
            if any(
                isinstance(line, does) and line.what == OfSlot(under.name) for line in verb.lines
            ):
                filled = {slots[0].name: (person,), under.name: what, over.name: (cover,)}
                return (self._step(verb, filled),)
        return ()

    def kinds_of_cover(self, thing: Thing) -> tuple[str, ...]:
        """The kinds of thing with which some verb covers such a thing."""
        found: dict[str, None] = {}
        for verb in self._protocol.verbs:
            slots = {slot.name: slot for slot in _slots(verb.frames[0])}
            for line in verb.lines:
                if not isinstance(line, CoversWith) or not isinstance(line.what, OfSlot):
                    continue
                under, over = slots.get(line.what.slot), line.cover
                if under is None or not isinstance(over, OfSlot) or over.slot not in slots:
                    continue
                if len(slots) == 3 and _admits(under, thing):
                    found[slots[over.slot].kind] = None
        return tuple(found)

    def with_a_new_wipe(self, step: Step) -> Step | None:
        """The step as it is, but with a new wipe in place of the one already used."""
        if not isinstance(step.does, Doing):
            return None
        old = step.does
        slots = {slot.kind: old.filled[slot.name] for slot in _slots(old.frame)}
        if any(isinstance(line, Takes) for line in old.verb.lines):
            return None
        for verb in self._protocol.verbs:
            frame = verb.frames[0]
            if {slot.kind for slot in _slots(frame)} != set(slots):
                continue
            rest = [line for line in verb.lines if not isinstance(line, Takes)]
            taken = [line for line in verb.lines if isinstance(line, Takes)]
            if taken and [type(line) for line in rest[-2:]] == [
                type(line) for line in old.verb.lines[-2:]
            ]:
                return self._step(verb, {slot.name: slots[slot.kind] for slot in _slots(frame)})
        return None

    def _glove_step(
        self, person: str, glove: str, does: type[Uncovers] | type[CoversWith]
    ) -> tuple[Step, ...]:
        kind = self._protocol.things[glove].kind
        for verb in self._protocol.verbs:
            slots = _slots(verb.frames[0])
            lines = [line for line in verb.lines if isinstance(line, Uncovers | CoversWith)]
            if len(slots) != 2 or slots[0].kind not in _PERSONS or slots[1].kind != kind:
                continue
            if (
                len(lines) == 1
                and isinstance(lines[0], does)
                and lines[0].what == OfSlot(slots[0].name, "hands")
            ):
                return (self._step(verb, {slots[0].name: (person,), slots[1].name: (glove,)}),)
        return ()

    def _wipe_step(
        self, person: str, thing: str, does: type[Washes] | type[Reduces]
    ) -> tuple[Step, ...]:
        record = self._protocol.things[thing]
        for verb in self._protocol.verbs:
            frame = verb.frames[0]
            slots = _slots(frame)
            if len(slots) != 3 or slots[0].kind not in _PERSONS:
                continue
            if not _admits(slots[1], record) or not any(
                isinstance(line, does) and line.refs == (OfSlot(slots[1].name),)
                for line in verb.lines
            ):
                continue
            takes = any(
                isinstance(line, Takes)
                and isinstance(line.what, OfSlot)
                and line.what.slot == slots[2].name
                for line in verb.lines
            )
            wipe = next(
                (
                    one.name
                    for one in self._protocol.things.values()
                    if one.kind == slots[2].kind and one.used_once
                ),
                None,
            )
            if takes and wipe is not None:
                return (
                    self._step(
                        verb,
                        {
                            slots[0].name: (person,),
                            slots[1].name: (thing,),
                            slots[2].name: (wipe,),
                        },
                    ),
                )
        return ()

    def _step(self, verb: Verb, filled: Mapping[str, tuple[str, ...]]) -> Step:
        frame = verb.frames[0]
        text = _SLOT.sub(lambda found: listed(filled[found["name"]]), frame.text)
        return Step(None, text, None, Doing(verb, frame, filled), (), (), (), (), (), self._place)


def listed(names: Sequence[str]) -> str:
    """Names as an author lists them: "tube head, cone and arm"."""
    return names[0] if len(names) == 1 else ", ".join(names[:-1]) + " and " + names[-1]


def _slots(frame: Frame) -> list[Slot]:
    return [part for part in frame.parts if isinstance(part, Slot)]


def _treats_hands(line: Line, person: str) -> bool:
    return isinstance(line, Reduces) and line.refs == (OfSlot(person, "hands"),)


def _admits(slot: Slot, thing: Thing) -> bool:
    return slot.kind in ("thing", thing.kind)
