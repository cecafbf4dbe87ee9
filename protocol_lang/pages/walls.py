"""The sheets of wall charts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from protocol_lang.chart.plan import Known, sheet
from protocol_lang.chart.sheet import Hands, Mark, Sheet, worst
from protocol_lang.contamination.hands import Watch
from protocol_lang.contamination.judge import Judgement
from protocol_lang.contamination.unfold import Unfolded
from protocol_lang.pages.choosing import (
    Choices,
    alike,
    choices_that_matter,
    titles,
    worlds_wanted,
)
from protocol_lang.pages.hands import MOST_TO_TOUCH, Handled, Knowing
from protocol_lang.pages.panels import panels
from protocol_lang.pages.shown import Shown
from protocol_lang.pages.waiting import meanwhile, wet_minutes
from protocol_lang.text import Place


def sheets(
    unfolded: Unfolded,
    judgement: Judgement,
    mark: Mark,
    wanted: Choices,
    must_not_skip: Mapping[Place, str] | None = None,
) -> tuple[Sheet, ...]:
    """One sheet for each way, among those that agree with ``wanted``, in which something differs.

    ``must_not_skip``: by the place of a step, what leaving it out leads to; the same for all.

    Where a world was not judged, nothing is claimed of anybody's hands.
    """
    asked = list(alike(unfolded, worlds_wanted(unfolded, wanted)))
    bits = sum(1 << world for _, worlds, _ in asked for world in worlds)
    able = judgement.layout is not None and judgement.judged
    watch = Watch(judgement, bits) if able else None
    made: list[tuple[Sheet, list[int]]] = []
    for settled, worlds, every in asked:
        known = None
        told = Shown(unfolded, worlds, every, settled, {})
        if watch is not None and all(judgement.judged >> world & 1 for world in worlds):
            knowing = [Knowing(unfolded, watch, world) for world in worlds]
            told = replace(told, hands={one.world: one.hands for one in knowing})
            known = replace(
                _known(knowing),
                meanwhile=meanwhile(told, watch.layout.network),
                wet_minutes=wet_minutes(told),
                must_not_skip=must_not_skip or {},
            )
        bare = replace(
            sheet(unfolded.protocol, settled, known),
            choices=(),
            mark=mark,
            panels=panels(told),
        )
        same = next((others for one, others in made if one == bare), None)
        if same is None:
            made.append((bare, list(worlds)))
        else:
            same += worlds
    settled_before = {
        choice.name for choice in unfolded.protocol.choices if choice.known_after is None
    }
    matter = {
        world: tuple(
            pair for pair in choices_that_matter(unfolded, world) if pair[0] in settled_before
        )
        for _, worlds in made
        for world in worlds
    }
    return tuple(
        replace(bare, choices=choices)
        for bare, worlds in made
        for choices in titles(
            list(dict.fromkeys(matter[world] for world in worlds)),
            list(dict.fromkeys(matter.values())),
        )
    )


def _known(worlds: Sequence[Knowing]) -> Known:
    """What is known of a sheet that stands for several worlds: of hands the worst, of what must
    not be touched all, of what used hands have to do with all of it or nothing."""
    never = frozenset.intersection(*(one.never for one in worlds))
    found = [one.not_to_touch(never) for one in worlds]
    known = [one.known(never, told) for one, told in zip(worlds, found, strict=True)]
    places = dict.fromkeys(place for one in known for place in one.hands)
    return Known(
        hands={
            place: _worst_of([one.hands[place] for one in known if place in one.hands])
            for place in places
        },
        start=_worst_of([one.start for one in known]),
        phase_do_not_touch=_all_of([one.phase_do_not_touch for one in known]),
        do_not_touch=_all_of([one.do_not_touch for one in known]),
        never_touch=known[0].never_touch,
        phase_touch_only=_alone(worlds[0], [one.only_in_phases for one in found]),
        touch_only=_alone(worlds[0], [one.only for one in found]),
    )


def _alone(
    knowing: Knowing, told: Sequence[Mapping[Place, Handled]]
) -> dict[Place, tuple[str, ...]]:
    """By place, all that used hands have to do with in one of the worlds.

    Nothing is told where these are too many, or where hands that are used there, of another person
    or in another world, must not touch one of them: rather no list than a wrong one.
    """
    found: dict[Place, tuple[str, ...]] = {}
    for place in dict.fromkeys(place for one in told for place in one):
        here = [one[place] for one in told if place in one]
        things = frozenset[str]().union(*(one.things for one in here))
        forbidden = frozenset[str]().union(*(one.forbidden for one in here))
        names = knowing.named(things)
        if names and len(names) <= MOST_TO_TOUCH and not things & forbidden:
            found[place] = names
    return found


def _worst_of(states: Sequence[Mapping[str, Hands]]) -> dict[str, Hands]:
    people = dict.fromkeys(person for one in states for person in one)
    found: dict[str, Hands] = {}
    for person in people:
        hands = [one[person] for one in states if person in one]
        merged = worst(one.state for one in hands)
        found[person] = (
            merged
            if merged.orders_differ
            else replace(merged, orders_differ=any(one.orders_differ for one in hands))
        )
    return found


def _all_of(told: Sequence[Mapping[Place, tuple[str, ...]]]) -> dict[Place, tuple[str, ...]]:
    places = dict.fromkeys(place for one in told for place in one)
    return {
        place: tuple(dict.fromkeys(name for one in told for name in one.get(place, ())))
        for place in places
    }
