"""Who stands where at an exposure, and what is set at the machine."""

from __future__ import annotations

from collections.abc import Iterator

from protocol_lang.chart.sheet import PanelLine
from protocol_lang.model.conditions import Claim, EverySo, FactHolds
from protocol_lang.model.parts import PersonKind
from protocol_lang.model.steps import Doing
from protocol_lang.model.verbs import OfSlot
from protocol_lang.pages.shown import Act, Shown


def stands(shown: Shown) -> tuple[PanelLine, ...]:
    """For each member of staff and companion, where they surely are at each exposure of the sheet.

    In a room that names its places it is the place; else what an exposure asks of who makes it,
    where that surely holds of the person ("behind the barrier"). Of a person of whom it differs
    with the order or the world, or is not known, nothing is told; nor of patients.
    """
    found: dict[tuple[str, str], list[int]] = {}
    exposures: dict[int, list[Act]] = {}
    for act in shown.every_act:
        if act.step.exposes and _worlds(shown, act):
            exposures.setdefault(act.number, []).append(act)
    for number, acts in exposures.items():
        for person in _people(shown):
            for where in _wheres(shown, acts[0]):
                if all(_surely(shown, act, person, where) for act in acts):
                    found.setdefault((person, where), []).append(number)
                    break
    return tuple(
        PanelLine(person, told=where, steps=tuple(numbers))
        for (person, where), numbers in found.items()
    )


def exposure_settings(shown: Shown) -> tuple[PanelLine, ...]:
    """The table that the protocol or its room gives, on a sheet with an exposure."""
    if not any(act.step.exposes for act in shown.every_act):
        return ()
    settings = shown.unfolded.protocol.exposures.values()
    return tuple(PanelLine(one.name, told=", ".join(one.values)) for one in settings)


def _people(shown: Shown) -> Iterator[str]:
    doing = {act.note.person for act in shown.every_act}
    for name, person in shown.unfolded.protocol.people.items():
        if name in doing and person.kind is not PersonKind.PATIENT and not person.second:
            yield name


def _wheres(shown: Shown, act: Act) -> list[str]:
    """The facts of a person that say where somebody is."""
    places = shown.unfolded.protocol.places.values()
    if places:
        return [place.being_there for place in places]
    assert isinstance(act.step.does, Doing)
    return [fact for claim in act.step.does.verb.claims for fact in _asked(claim)]


def _asked(claim: Claim) -> Iterator[str]:
    if isinstance(claim, EverySo):
        for part in claim.parts:
            yield from _asked(part)
    elif isinstance(claim, FactHolds) and isinstance(claim.subject, OfSlot):
        yield claim.fact


def _surely(shown: Shown, act: Act, person: str, fact: str) -> bool:
    number = shown.unfolded.facts.get((fact, person))
    if number is None:
        return False
    return all(
        shown.hands[world].may_hold(number, act.act) == {True} for world in _worlds(shown, act)
    )


def _worlds(shown: Shown, act: Act) -> list[int]:
    """The worlds with the act of which the engine tells something."""
    within = shown.unfolded.plan.acts[act.act].worlds
    return [world for world in shown.hands if within >> world & 1]
