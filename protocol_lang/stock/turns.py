"""What a file tells, taken apart: each visit with what follows it, closing and opening, the rest.

A day is one protocol with a choice that says what is done (:mod:`protocol_lang.model.compose`).
Each value of it is counted by itself, with only the phases that belong to it: what others do takes
nothing here, and their acts would only cost time.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from protocol_lang.contamination.unfold.worlds import holds
from protocol_lang.model.compose import WHICH
from protocol_lang.model.protocol import Protocol, Role
from protocol_lang.model.steps import Phase, Where

#: What stands between the titles of two visits of which one runs into the other.
_INTO = '" running into "'


@dataclass(frozen=True, slots=True)
class Part:
    """What is done each time: ``title`` as people see it; ``role``: what it is to the day.

    ``overlapping``: two visits of which one runs into the other. ``which``: the value of the
    choice that says what is done; None for a protocol by itself.
    """

    title: str
    role: Role
    overlapping: bool
    protocol: Protocol
    which: str | None = None


def parts_of(protocol: Protocol) -> tuple[Part, ...]:
    """What a protocol or a day is made of, in the order of the day."""
    roles = {part.title: part.role for part in protocol.parts}
    if Role.VISIT not in roles.values():
        return (Part(protocol.header.title, Role.VISIT, False, protocol),)
    which = next(choice for choice in protocol.choices if choice.name == WHICH)
    found = []
    for value in which.values:
        first = value.split('"')[1]
        title = value[1:-1].replace('" and "', " and ").replace(_INTO, " running into ")
        own = _alone(protocol, value)
        found.append(Part(title, roles[first], _INTO in value, own, value))
    return tuple(found)


def _alone(protocol: Protocol, value: str) -> Protocol:
    """The day with nothing in it but what is done where the choice has this value."""
    phases = tuple(phase for phase in protocol.phases if _belongs(phase, value))
    own = {(phase.part, phase.visit) for phase in phases}
    choices = tuple(
        replace(choice, values=(value,)) if choice.name == WHICH else choice
        for choice in protocol.choices
    )
    mishaps = tuple(one for one in protocol.mishaps if (one.part, one.visit) in own)
    return replace(protocol, phases=phases, choices=choices, mishaps=mishaps)


def _belongs(phase: Phase, value: str) -> bool:
    match phase.items:
        case (Where(((condition, _),)),) if condition is not None:
            return holds(condition, {WHICH: value}) is not False
        case _:  # pragma: no cover - each phase of a day stands under its turns
            return True
