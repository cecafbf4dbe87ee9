"""Findings about supplies of which more can be taken than are laid out."""

from __future__ import annotations

from protocol_lang.checks.keys import short_of
from protocol_lang.checks.story import Names, choices_of, contexts
from protocol_lang.contamination.judge import Judgement
from protocol_lang.contamination.marks import Layout
from protocol_lang.contamination.supplies import Short, Unsettled
from protocol_lang.contamination.unfold import Unfolded
from protocol_lang.findings import Finding, Route, RouteStep, Unchecked

#: A story shows at most so many takings: the last ones, of which one is too many.
TAKINGS_SHOWN = 3


def supply_findings(
    unfolded: Unfolded, judgement: Judgement
) -> tuple[tuple[Finding, ...], tuple[Unchecked, ...]]:
    """Each supply that can run short, at the step that shows it worst; and what was not decided."""
    found: list[Finding] = []
    missing: list[Unchecked] = []
    for one in short_of(unfolded, judgement):
        if isinstance(one, Unsettled):
            question = f"whether enough of {one.supply.thing} is laid out"
            missing.append(
                Unchecked("too-hard", {"question": question, "spent": "the limit of counted steps"})
            )
        else:
            found.append(_finding(unfolded, judgement, one))
    return tuple(found), tuple(missing)


def _finding(unfolded: Unfolded, judgement: Judgement, short: Short) -> Finding:
    assert judgement.layout is not None
    supply = short.supply
    position = {act: at for at, act in enumerate(short.run.order)}
    laying = [
        act
        for act in supply.laid_out
        if position[act] < position[short.act]
        and judgement.layout.network.present[act] >> short.run.world & 1
    ]
    note = unfolded.acts[short.act]
    facts = {
        "step": note.text,
        "thing": supply.thing,
        "taken": str(short.taken),
        "laid": str(short.laid_out),
    }
    if len(supply.laid_out) == 1:
        facts["once"] = "yes"
    others = tuple(
        ("laid out", place) for act in laying if (place := unfolded.acts[act].place) is not None
    )
    return Finding(
        "too-few-laid-out",
        note.place,
        facts,
        others=others,
        context=contexts(unfolded).get(short.act),
        route=_route(unfolded, judgement.layout, short),
    )


def _route(unfolded: Unfolded, layout: Layout, short: Short) -> Route:
    """Every laying out, and the last few takings, in the order of the run that was found."""
    names = Names(unfolded)
    supply = short.supply
    until = [
        act
        for act in short.run.order[: short.run.order.index(short.act) + 1]
        if layout.network.present[act] >> short.run.world & 1
        and (supply.taken.get(act) or act in supply.laid_out)
    ]
    takings = [act for act in until if supply.taken.get(act)][-TAKINGS_SHOWN:]
    return Route(
        choices_of(unfolded, 1 << short.run.world),
        tuple(
            RouteStep(1, names.person(act), names.act(act), names.place(act))
            for act in until
            if act in supply.laid_out or act in takings
        ),
    )
