"""What was looked at, and what the answer rests on."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from itertools import chain
from math import prod

from protocol_lang.checks.streams import coming_back, is_day, untouched
from protocol_lang.contamination.judge import Judgement
from protocol_lang.contamination.kernel import Acts, Bits, Outer, treated
from protocol_lang.contamination.marks import Layout
from protocol_lang.contamination.unfold import Unfolded
from protocol_lang.contamination.unfold.places import silent_about_exposures
from protocol_lang.contamination.unfold.room import NO_FLOOR
from protocol_lang.contamination.unfold.spelling import repetitions
from protocol_lang.model.parts import Start, Stream, Thing
from protocol_lang.model.running import NEXT
from protocol_lang.model.steps import Doing, Saying, Step
from protocol_lang.model.verbs import Tears
from protocol_lang.order import RunCount, RunCounts
from protocol_lang.outcome import (
    ChoiceSeen,
    Coverage,
    FileRead,
    Line,
    OrderCount,
    Remainder,
)

#: Orders are counted for at most so many courses: counting takes longer than judging.
MOST_WORLDS_COUNTED = 128


def coverage_of(unfolded: Unfolded, judgement: Judgement, only: Mapping[str, str]) -> Coverage:
    """The account of one check. ``only``: the choices to which it was limited on request."""
    layout = judgement.layout
    protocol = unfolded.protocol
    occurring = {piece.kind for piece in unfolded.plan.pieces}
    own_names = {name for name in protocol.things if not name.endswith(NEXT)}
    things = [thing for name, thing in protocol.things.items() if name in own_names & occurring]
    running_on = tuple(dict.fromkeys(phase.title for phase in protocol.phases if phase.runs_on))
    places = [step.place for step in unfolded.steps]
    own = {protocol.header.place.file, *(part.file for part in protocol.parts)}
    return Coverage(
        steps=len({(at.file, at.line, at.column, at.end) for at in places}),
        choices=tuple(
            ChoiceSeen(choice.name, choice.values, choice.fixed)
            for choice in unfolded.worlds.choices
            if choice.declared
        ),
        # In a day the choices of one protocol mean nothing in another.
        combinations=sum(map(len, unfolded.worlds.examples))
        if is_day(unfolded)
        else prod(len(choice.values) for choice in unfolded.worlds.choices if choice.declared),
        courses=unfolded.plan.worlds if _goes_several_ways(unfolded) else None,
        rounds=tuple(_rounds(unfolded)),
        mishaps=tuple(dict.fromkeys(mishap.name for mishap in protocol.mishaps)),
        asked_only=tuple(only.items()),
        orders=_orders(unfolded, layout)
        if layout is not None and unfolded.plan.worlds <= MOST_WORLDS_COUNTED
        else None,
        any_number_of_visits=not judgement.not_ready and not protocol.follows,
        visits_apart=not (running_on and is_day(unfolded)),
        running_on=running_on,
        only_who_exposes=silent_about_exposures(protocol.places.values())
        and any(step.exposes for step in unfolded.steps),
        starts=tuple(_starts(unfolded)),
        leaking=tuple(thing.name for thing in things if thing.leaks),
        tearing=tuple(_tearing(unfolded)),
        remainder=tuple(_remainder(unfolded)),
        without_contact=tuple(
            Line(step.text, step.place) for step in unfolded.steps if _touches_nothing(step)
        ),
        own_verbs=tuple(
            Line(verb.frames[0].text, verb.place)
            for verb in protocol.verbs
            if verb.place.file in own
        ),
        handed_over=tuple(_handed_over(unfolded, things)),
        thrown_away=tuple(thing.name for thing in things if thing.thrown_after_use),
        parts=tuple((part.role.value, part.title) for part in protocol.parts),
        follows=protocol.follows,
        untouched=untouched(unfolded),
        files=tuple(
            FileRead(source.kind, source.title, source.file, source.packaged, source.fingerprint)
            for source in protocol.files
        ),
    )


def _goes_several_ways(unfolded: Unfolded) -> bool:
    """Whether the checklist leaves something open that is no choice: ways, rounds, mishaps."""
    return any(not choice.declared for choice in unfolded.worlds.choices)


def _rounds(unfolded: Unfolded) -> Iterator[tuple[str, int, int]]:
    """The repetitions of which not every time round was looked at: name, most, looked at."""
    for item in repetitions(unfolded.protocol):
        deep = unfolded.depths.get(item.place, item.most)
        if deep < item.most:
            yield item.name, item.most, deep


def _touches_nothing(step: Step) -> bool:
    return isinstance(step.does, Saying) or (
        isinstance(step.does, Doing) and step.does.verb.no_contact
    )


def _tearing(unfolded: Unfolded) -> Iterator[str]:
    """What is worn on the hands and torn in some step."""
    told: dict[str, None] = {}
    for step in unfolded.steps:
        if isinstance(step.does, Doing) and any(
            isinstance(line, Tears) for line in step.does.verb.lines
        ):
            told.update(dict.fromkeys(chain.from_iterable(step.does.filled.values())))
    things = unfolded.protocol.things
    yield from (name for name in told if name in things and things[name].worn_on == "hands")


def _starts(unfolded: Unfolded) -> Iterator[tuple[str, str]]:
    protocol = unfolded.protocol
    for person in protocol.people.values():
        if person.second:
            continue  # as the first
        for part in protocol.body_parts:
            if part.of is person.kind and part.unclean:
                yield f"{person.name}'s {part.name}", "not clean"
            if part.of is person.kind and part.full_of is not None:
                yield f"{person.name}'s {part.name}", f"full of {part.full_of}"
    for thing in protocol.things.values():
        if thing.name.endswith(NEXT):
            continue
        if thing.start is not Start.CLEAN:
            yield thing.name, thing.start.value
        if thing.starts_covered is not None:
            yield thing.name, f"covered with {thing.starts_covered}"


def _handed_over(unfolded: Unfolded, things: Iterable[Thing]) -> Iterator[tuple[str, str]]:
    """Things that leave through a stream that says who gives them back."""
    streams: Mapping[str, Stream] = unfolded.protocol.streams
    back = {thing.name for thing, _, _ in coming_back(unfolded)} if is_day(unfolded) else set()
    for thing in things:
        if thing.name in back:
            continue  # followed, or told as a finding
        stream = streams.get(thing.stream) if thing.stream is not None else None
        if stream is not None and stream.note is not None and "comes back" in stream.note:
            yield thing.name, f"{stream.name}: {stream.note}"


def _remainder(unfolded: Unfolded) -> Iterator[Remainder]:
    """Where a treatment at the floor is taken to end classes that its level does not always end."""
    plan = unfolded.plan
    things: dict[tuple[str, tuple[str, ...], str | None], dict[str, None]] = {}
    owner = {plan.bodies[body].spot: (name, part) for (name, part), body in unfolded.bodies.items()}
    for act in plan.acts:
        for effect in act.effects:
            if (treatment := treated(plan, effect)) is None:
                continue
            targets, level = treatment
            if level.acts is Acts.CHEMICALS:
                continue
            beyond = tuple(klass for klass in plan.classes if klass not in level.ends)
            for target in targets:
                if not beyond or not isinstance(target, Outer):
                    continue
                spot = plan.bodies[target.body].spot
                accepted = any(
                    rank <= level.rank and rank != NO_FLOOR and within & act.worlds
                    for within, rank in plan.spots[spot].floors
                )
                if accepted:
                    name, part = owner[spot]
                    staff = name in unfolded.protocol.people
                    shown = part if staff else name.removesuffix(NEXT)
                    source = _floor_source(unfolded, shown, name, level.rank)
                    things.setdefault((level.name, beyond, source), {})[shown] = None
    for (level_name, beyond, source), names in things.items():
        yield Remainder(level_name, ", ".join(names), beyond, source)


def _floor_source(unfolded: Unfolded, shown: str, name: str, rank: int) -> str | None:
    """Where the floor comes from that a treatment of this rank reaches; others accept nothing."""
    ranks = {level: known.rank for level, known in unfolded.protocol.levels.items()}
    thing = unfolded.protocol.things.get(name)
    traits = {shown} if thing is None else thing.traits
    floors = [
        floor
        for floor in unfolded.protocol.floors
        if floor.traits <= traits and ranks[floor.level] <= rank
    ]
    floors.sort(key=lambda floor: len(floor.traits))
    return floors[-1].source if floors else None


def _orders(unfolded: Unfolded, layout: Layout) -> OrderCount:
    """The permitted orders of the steps that are done, all combinations together."""
    steps = [act for act, note in enumerate(unfolded.acts) if not note.ends_treatment]
    number, exact = 0, True
    counts = RunCounts(layout.network)
    counted: dict[Bits, RunCount] = {}
    for world in range(unfolded.plan.worlds):
        done = sum(1 << act for act in steps if unfolded.plan.acts[act].worlds >> world & 1)
        if done not in counted:
            counted[done] = counts.of(done)
        number += max(counted[done].number, 1) * unfolded.worlds.standing_for(world)
        exact = exact and counted[done].exact
    return OrderCount(max(number, 1), exact)
