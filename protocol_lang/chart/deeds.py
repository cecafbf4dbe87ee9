"""What the steps of a sheet do, as far as cards tell it: what is put on and taken off, hands that
are cleaned, exposures, and the wait for clear air. From the model alone; the engine is not asked.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from protocol_lang.chart.pictograms.of_steps import people_of, pictogram_of, slots, things_of
from protocol_lang.chart.plan import holds, numbered
from protocol_lang.chart.sheet import Sheet
from protocol_lang.model.parts import Counts, PersonKind
from protocol_lang.model.protocol import Protocol
from protocol_lang.model.refs import OfPerson, OfSlot, Ref
from protocol_lang.model.steps import Doing, Step, Waiting
from protocol_lang.model.verbs import (
    CoversWith,
    Moves,
    Reduces,
    Uncovers,
)
from protocol_lang.trade.air import clearance_minutes

#: (person, thing that is worn)
Worn = tuple[str, str]


@dataclass(frozen=True, slots=True)
class Deed:
    """What one step does. ``number``: as on the sheet. ``pictogram``: its name, if it has one.

    ``puts_on``, ``takes_off``: who puts on what; a change of gloves is both. ``cleans``: whose
    hands are cleaned. ``handles``: things that are worn, of a step that is about nothing else.
    ``moves``: who goes to another place. ``exposes``: an exposure is made.
    """

    number: int
    pictogram: str | None = None
    puts_on: tuple[Worn, ...] = ()
    takes_off: tuple[Worn, ...] = ()
    cleans: tuple[str, ...] = ()
    handles: tuple[str, ...] = ()
    moves: tuple[str, ...] = ()
    exposes: bool = False


@dataclass(frozen=True, slots=True)
class AirWait:
    """The wait until the air is clear: ``minutes``, begun with the step of this ``number``."""

    number: int
    minutes: int


def settled(protocol: Protocol, sheet: Sheet) -> dict[str, str]:
    """A value for every choice that is settled before the visit, as the sheet has it.

    A choice that the sheet does not name makes no difference to it; its first value stands for all.
    """
    told = dict(sheet.as_named.choices)
    return {
        choice.name: told.get(choice.name, choice.values[0])
        for choice in protocol.choices
        if choice.known_after is None
    }


def deeds(protocol: Protocol, choices: Mapping[str, str]) -> dict[int, Deed]:
    """What each step of the sheet does, by its number."""
    return {number: _deed(number, step, protocol) for number, step in numbered(protocol, choices)}


def air_wait(protocol: Protocol, choices: Mapping[str, str]) -> AirWait | None:
    """The longest wait of the sheet that clears the air of a place; None: none has to.

    Where nothing is said of air, or it carries nothing under these choices, nobody waits for it. A
    wait counts if it is as long as some place takes (:func:`protocol_lang.trade.air`). Whether it
    is long enough for the place where the patient was is for the check to say, not for this.
    """
    air = protocol.air
    if air is None or all(holds(one, choices) is False for one in air.carries):
        return None
    needed = [
        clearance_minutes(float(place.air_changes), float(air.percent), float(air.mixing))
        for place in protocol.places.values()
        if place.air_changes
    ]
    waits = [
        AirWait(number, step.does.minutes)
        for number, step in numbered(protocol, choices)
        if isinstance(step.does, Waiting) and step.does.minutes is not None
    ]
    clearing = [one for one in waits if needed and one.minutes >= min(needed)]
    return max(clearing, key=lambda one: one.minutes, default=None)


def _deed(number: int, step: Step, protocol: Protocol) -> Deed:
    pictogram = pictogram_of(step, protocol)
    if not isinstance(step.does, Doing):
        return Deed(number, pictogram)
    doing = step.does
    on: list[Worn] = []
    off: list[Worn] = []
    cleans: list[str] = []
    moves: list[str] = []
    for line in doing.verb.lines:
        match line:
            case CoversWith(what, cover):
                on += _worn(doing, what, things_of(doing, cover))
            case Uncovers(what, cover):
                off += _worn(doing, what, things_of(doing, cover))
            case Reduces(refs=refs, level=level) if level is not None:
                cleans += [name for ref in refs for name in _skin_of(doing, ref, protocol)]
            case Moves(who=who):
                moves += people_of(doing, who)
            case _:
                pass
    return Deed(
        number,
        pictogram,
        puts_on=tuple(on),
        takes_off=tuple(off),
        cleans=tuple(dict.fromkeys(cleans)),
        handles=_handled(doing, protocol),
        moves=tuple(moves),
        exposes=step.exposes,
    )


def _worn(doing: Doing, what: Ref, things: tuple[str, ...]) -> list[Worn]:
    return [(person, thing) for person in people_of(doing, what) for thing in things]


def _skin_of(doing: Doing, ref: Ref, protocol: Protocol) -> tuple[str, ...]:
    """Those of staff whose skin is meant."""
    if not isinstance(ref, OfSlot | OfPerson):
        return ()
    skin = any(
        part.name == ref.part and part.of is PersonKind.STAFF and part.counts is Counts.SKIN
        for part in protocol.body_parts
    )
    return people_of(doing, ref) if skin else ()


def _handled(doing: Doing, protocol: Protocol) -> tuple[str, ...]:
    """The things of a step if all of them are worn: a fit that is checked, a visor dropped."""
    named = [
        name
        for slot in slots(doing.frame)
        for name in doing.filled.get(slot.name, ())
        if name in protocol.things
    ]
    worn = all(protocol.things[name].worn_on is not None for name in named)
    return tuple(named) if worn else ()
