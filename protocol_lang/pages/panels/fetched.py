"""What is to be laid out before gloves go on: what would else be fetched with gloves on."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from protocol_lang.chart.sheet import PanelLine
from protocol_lang.contamination.kernel import NOTHING, Fit, Take, Unfit
from protocol_lang.contamination.unfold.spelling import repetitions
from protocol_lang.model.steps import Doing, Item, TimeOnly
from protocol_lang.model.verbs import OfSlot, Takes
from protocol_lang.model.walk import parts_of, steps_of
from protocol_lang.pages.hands import hands_of_staff
from protocol_lang.pages.shown import Act, Shown
from protocol_lang.text import Place

#: A thing, and of what it is taken for each one: None, or what is repeated ("exposure").
_Sort = tuple[str, str | None]


def lay_out(shown: Shown) -> tuple[PanelLine, ...]:
    """Every thing that gloved hands take from the place where it lies, and how many of it.

    Counted is each time that a step takes one while its person wears gloves, or may wear them in
    some permitted order. What is done in one world of the sheet is added up, and of the worlds the
    largest number is told, for each thing by itself; mishaps are not counted, retakes that the
    checklist itself tells are. What is taken anew in each round of "for each" is told by the round,
    the round that takes most. A lasting thing is counted once. Where nothing is known of gloves,
    nothing is told.
    """
    if not shown.hands:
        return ()
    most: Counter[_Sort] = Counter()
    order: dict[_Sort, None] = {}
    for world in shown.worlds:
        here = _of_world(shown, world)
        order.update(dict.fromkeys(here))
        for sort, number in here.items():
            most[sort] = max(most[sort], number)
    return tuple(
        PanelLine(thing, told="" if each is None else f"per {each}", count=most[thing, each])
        for thing, each in order
    )


def _of_world(shown: Shown, world: int) -> Counter[_Sort]:
    rounds = {item.place: item.name for item in repetitions(shown.unfolded.protocol)}
    once = set(_once(shown.items))
    things = shown.unfolded.protocol.things
    found: Counter[_Sort] = Counter()
    by_round: dict[_Sort, Counter[int]] = {}
    for act in shown.acts(world):
        around = [one for one in act.step.rounds if one.place in rounds]
        for name in _taken(shown, world, act):
            if not around or act.step.place in once:
                found[name, None] = found[name, None] + 1 if things[name].used_once else 1
            else:
                by_round.setdefault((name, around[-1].name), Counter())[around[-1].number] += 1
    for (name, each), numbers in by_round.items():
        if things[name].used_once:
            found[name, each] = max(numbers.values())
        else:
            found[name, None] = 1
    return found


def _once(items: tuple[Item, ...]) -> Iterator[Place]:
    """The steps under "first time only" and "last time only"."""
    for item in items:
        if isinstance(item, TimeOnly):
            yield from (step.place for step in steps_of(item.items))
        for inner in parts_of(item):
            yield from _once(inner)


def _taken(shown: Shown, world: int, act: Act) -> Iterator[str]:
    """What the act takes with gloves on, a name for each piece."""
    body = hands_of_staff(shown.unfolded).get(act.note.person or "")
    if body is None:
        return
    plan = shown.unfolded.plan
    hands = shown.hands[world]
    worn = {layer: hands.worn_before(act.act, layer) for layer in plan.bodies[body].layers}
    if _gloved(worn):
        yield from _lasting(shown, act)
    pieces: set[int] = set()
    for effect in act.effects:
        if isinstance(effect, Take) and effect.piece not in pieces and _gloved(worn):
            yield plan.pieces[effect.piece].kind
        if isinstance(effect, Take):
            pieces.add(effect.piece)
        elif isinstance(effect, Unfit | Fit):
            piece = effect.piece if isinstance(effect, Fit) else NOTHING
            worn.update({layer: frozenset({piece}) for layer in effect.layers if layer in worn})


def _gloved(worn: dict[int, frozenset[int]]) -> bool:
    return any(piece != NOTHING for pieces in worn.values() for piece in pieces)


def _lasting(shown: Shown, act: Act) -> Iterator[str]:
    """Lasting things that the act takes from where they are kept."""
    if not isinstance(act.step.does, Doing):
        return
    things = shown.unfolded.protocol.things
    for line in act.step.does.verb.lines:
        if isinstance(line, Takes):
            what = line.what
            names = act.note.filled[what.slot] if isinstance(what, OfSlot) else (what.thing,)
            for name in names:
                thing = things.get(name)
                if thing is not None and not thing.used_once and thing.comes_from is not None:
                    yield name
