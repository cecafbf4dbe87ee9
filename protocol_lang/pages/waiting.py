"""The wet time of what is treated, and what may be done while it runs."""

from __future__ import annotations

from protocol_lang.contamination.kernel import Meet, Pass, Wet, WetEnd
from protocol_lang.model.steps import Waiting
from protocol_lang.order import Network
from protocol_lang.pages.shown import Act, Shown
from protocol_lang.text import Place


def wet_minutes(shown: Shown) -> dict[Place, int]:
    """How long what a step treats has to stay wet: by the place of the step."""
    found: dict[Place, int] = {}
    for act in shown.every_act:
        for effect in act.effects:
            if isinstance(effect, Wet):
                minutes = shown.unfolded.wet_minutes[effect.treatment]
                found[act.step.place] = max(minutes, found.get(act.step.place, 0))
    return found


def meanwhile(shown: Shown, network: Network) -> dict[Place, tuple[Place, ...]]:
    """By the place of a step that treats, the steps that may be done in its wet time.

    These stand on the sheet between it and the first wait that surely outlasts the wet time, in
    every world in which both are done; none of them has to come after that time in any world, waits
    itself, or touches what is wet. On the sheet as it is written they all come in between; in other
    permitted orders some of them may come earlier or later.
    """
    found: dict[Place, tuple[Place, ...]] = {}
    told: dict[Place, list[dict[int, Place]]] = {}
    for world in shown.worlds:
        acts = sorted(shown.acts(world), key=lambda one: (one.number, one.act))
        for act in acts:
            for effect in act.effects:
                if isinstance(effect, Wet) and act.note.visit == 1:
                    here = _in_wet_time(shown, network, world, acts, act, effect.treatment)
                    told.setdefault(act.step.place, []).append(here)
    for place, several in told.items():
        # Of several rounds, targets and worlds what holds in all of them.
        common = set(several[0]).intersection(*several[1:])
        if common:
            found[place] = tuple(several[0][number] for number in sorted(common))
    return found


def _in_wet_time(
    shown: Shown, network: Network, world: int, acts: list[Act], treated: Act, treatment: int
) -> dict[int, Place]:
    plan = shown.unfolded.plan
    ends = [
        number
        for number, act in enumerate(plan.acts)
        if act.worlds >> world & 1 and WetEnd(treatment) in act.effects
    ]
    if len(ends) != 1:
        return {}
    (end,) = ends
    waits = [
        one.number
        for one in acts
        if isinstance(one.step.does, Waiting)
        and one.number > treated.number
        and network.before[one.act] >> end & 1
    ]
    if not waits:
        return {}
    wet = {shown.owner(target) for target in plan.treatments[treatment].targets} - {None}
    late = {
        one.number
        for one in acts
        if network.before[one.act] >> end & 1
        or isinstance(one.step.does, Waiting)
        or wet & set(_touched(shown, one))
    }
    return {
        one.number: one.step.place
        for one in acts
        if treated.number < one.number < min(waits) and one.number not in late
    }


def _touched(shown: Shown, act: Act) -> set[str | None]:
    found: set[str | None] = set()
    for effect in act.effects:
        if isinstance(effect, Meet | Pass):
            both = effect.targets if isinstance(effect, Meet) else effect.sources + effect.goals
            found.update(shown.owner(target) for target in both)
    return found - {None}
