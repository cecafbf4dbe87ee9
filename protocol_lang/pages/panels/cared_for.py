"""What becomes of things on a sheet: covered, disinfected, sterilised, thrown away."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from protocol_lang.chart.sheet import PanelLine
from protocol_lang.contamination.kernel import (
    NOTHING,
    Acts,
    Fit,
    Meet,
    Outer,
    Pass,
    Retire,
    RetireCameOff,
    RetireHeld,
    Take,
    Target,
    Treat,
    Unfit,
    Wet,
)
from protocol_lang.model.steps import Doing
from protocol_lang.model.thrown import streams_told
from protocol_lang.model.verbs import Reduces
from protocol_lang.pages.shown import Act, Shown


def covered(shown: Shown) -> tuple[PanelLine, ...]:
    """Each thing that is covered, with what, and the steps that take its cover off or put one on.

    Also told is a thing that starts covered and that a step of the sheet touches. What people wear,
    and what is packed to be sterilised through its pack, is not meant.
    """
    plan, things = shown.unfolded.plan, shown.unfolded.protocol.things
    steps: dict[tuple[str, str], set[int]] = {}
    covers: dict[int, set[str]] = {}
    touched = {name for act in shown.every_act for name in _met(shown, act)}

    def note(layer: int, piece: int) -> None:
        name = shown.owners[shown.body_of_layer[layer]]
        if name in things and not plan.pieces[piece].lets:
            covers.setdefault(layer, set()).add(plan.pieces[piece].kind)

    for layer, record in enumerate(plan.layers):
        if record.start != NOTHING and shown.owners[shown.body_of_layer[layer]] in touched:
            note(layer, record.start)
    for act in shown.every_act:
        for effect in act.effects:
            if isinstance(effect, Fit):
                for layer in effect.layers:
                    note(layer, effect.piece)
    for layer, kinds in covers.items():
        for kind in kinds:
            steps.setdefault((shown.owners[shown.body_of_layer[layer]], kind), set())
    for act in shown.every_act:
        for effect in act.effects:
            if isinstance(effect, Fit | Unfit):
                for layer in effect.layers:
                    name = shown.owners[shown.body_of_layer[layer]]
                    put = {plan.pieces[effect.piece].kind} if isinstance(effect, Fit) else None
                    for kind in covers.get(layer, set()) if put is None else put:
                        if (name, kind) in steps:
                            steps[name, kind].add(act.number)
    lines = [
        PanelLine(name, told=kind, steps=tuple(sorted(numbers)))
        for (name, kind), numbers in steps.items()
    ]
    return _grouped(shown, lines)


def disinfected(shown: Shown) -> tuple[PanelLine, ...]:
    """Each thing that is treated by a step of the sheet, the level, with what, how many minutes it
    has to stay wet, and the steps. Hands are not things, and rinsing is no treatment of germs."""
    return _grouped(shown, list(_treated(shown, sterile=False)))


def sterilised(shown: Shown) -> tuple[PanelLine, ...]:
    """Each thing that a step of the sheet brings to the highest level, and through what."""
    return _grouped(shown, list(_treated(shown, sterile=True)))


def _treated(shown: Shown, sterile: bool) -> Iterator[PanelLine]:
    plan, things = shown.unfolded.plan, shown.unfolded.protocol.things
    highest = max((level.rank for level in plan.levels), default=0)
    steps: dict[PanelLine, set[int]] = {}
    targets: tuple[Target, ...]
    for act in shown.every_act:
        for effect in act.effects:
            if isinstance(effect, Wet):
                treatment = plan.treatments[effect.treatment]
                targets, number = treatment.targets, treatment.level
                minutes: int | None = shown.unfolded.wet_minutes[effect.treatment]
                through = None
            elif isinstance(effect, Treat):
                targets, number, minutes = effect.targets, effect.level, None
                through = effect.through
            else:
                continue
            level = plan.levels[number]
            if level.acts is not Acts.RINSED or (level.rank == highest) is not sterile:
                continue
            for target in targets:
                for name in _treated_there(shown, act, target):
                    if name in things:
                        told = through or "" if sterile else f"{level.name} level"
                        if not sterile and (product := _product(act)) is not None:
                            told += f", with {product}"
                        line = PanelLine(name, told=told, minutes=minutes)
                        steps.setdefault(line, set()).add(act.number)
    for line, numbers in steps.items():
        yield replace(line, steps=tuple(sorted(numbers)))


def _treated_there(shown: Shown, act: Act, target: Target) -> Iterator[str]:
    """What is treated at a target: on a person only what is worn and kept, such as gloves that are
    washed on the hands."""
    if not isinstance(target, Outer):
        name = shown.owner(target)
        if name is not None:
            yield name
        return
    owner, plan = shown.owners[target.body], shown.unfolded.plan
    if owner in shown.unfolded.protocol.things:
        yield owner
        return
    for layer in plan.bodies[target.body].layers:
        for piece in shown.on_layer(act.act, layer):
            if piece != NOTHING and not plan.pieces[piece].single_use:
                yield plan.pieces[piece].kind


def _product(act: Act) -> str | None:
    if isinstance(act.step.does, Doing):
        for line in act.step.does.verb.lines:
            if isinstance(line, Reduces) and line.product is not None:
                return ", ".join(act.note.filled.get(line.product, (line.product,)))
    return None


def waste(shown: Shown) -> tuple[PanelLine, ...]:
    """For each waste stream what a step of the sheet throws or drops into it, and what is used up
    in one: gloves and covers that come off, wipes after use. What goes nowhere that is told of is
    left out."""
    protocol = shown.unfolded.protocol
    found: dict[str, dict[str, None]] = {}
    for act in shown.every_act:
        for name, told in _retired(shown, act):
            stream = told or protocol.things[name].stream
            if stream is not None:
                found.setdefault(stream, {})[name] = None
    lines = []
    for stream in [name for name in protocol.streams if name in found]:
        record = protocol.streams[stream]
        note = f" ({record.note})" if record.note and record.to is None else ""
        names = shown.named(found[stream])
        lines.append(PanelLine(stream + note, told=", ".join(names)))
    return tuple(lines)


def _retired(shown: Shown, act: Act) -> Iterator[tuple[str, str | None]]:
    """The sorts of things that an act uses up, each with the stream that its verb tells, if any."""
    plan, things = shown.unfolded.plan, shown.unfolded.protocol.things
    streams = iter(streams_told(act.step, act.note.filled))
    off: frozenset[int] = frozenset()
    for effect in act.effects:
        names: set[str] = set()
        if isinstance(effect, Take):
            thing = things[plan.pieces[effect.piece].kind]
            if thing.thrown_after_use:
                yield thing.name, None
        elif isinstance(effect, Unfit):
            off = frozenset[int]().union(
                *(shown.on_layer(act.act, layer) for layer in effect.layers)
            )
        elif isinstance(effect, RetireCameOff):
            names = {plan.pieces[piece].kind for piece in off - {NOTHING}}
        elif isinstance(effect, Retire):
            names = {plan.pieces[effect.piece].kind}
        elif isinstance(effect, RetireHeld):
            names = {shown.unfolded.holds[effect.hold][0]}
        if isinstance(effect, Retire | RetireHeld | RetireCameOff):
            told = next(streams, None)
            for name in sorted(names):
                if things[name].used_once:
                    yield name, told


def _met(shown: Shown, act: Act) -> Iterator[str]:
    for effect in act.effects:
        if isinstance(effect, Meet | Pass):
            both = effect.targets if isinstance(effect, Meet) else effect.sources + effect.goals
            yield from (name for one in both if (name := shown.owner(one)) is not None)


def _grouped(shown: Shown, lines: list[PanelLine]) -> tuple[PanelLine, ...]:
    """Things of which the same is told on one line, groups by their own name."""
    alike: dict[PanelLine, list[str]] = {}
    for line in lines:
        alike.setdefault(replace(line, what=""), []).append(line.what)
    return tuple(replace(line, what=", ".join(shown.named(names))) for line, names in alike.items())
