"""Single changes to the text that might break the stories of smallest sets of lapses.

Nothing is promised of any of them: each has to be read, checked and asked for lapses. They are
thought of along the steps by which soil travels, those first by which most stories go. Sentences
come from the verbs of the author's own vocabulary; covers, helpers and products that the room does
not have are declared in it by the change.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import zip_longest

from protocol_lang.checks.edits import written
from protocol_lang.checks.verbs import Toolbox
from protocol_lang.contamination.kernel import (
    Effect,
    Fit,
    Outer,
    Target,
    Treat,
    Unfit,
    Wash,
    Wet,
)
from protocol_lang.contamination.unfold import Unfolded
from protocol_lang.lapsed import Edit, Lapsed
from protocol_lang.lapses.kinds import contacts
from protocol_lang.lapses.lines import Lines, fit_together
from protocol_lang.lapses.making import Lapses
from protocol_lang.lapses.telling import hands_of
from protocol_lang.model.parts import PersonKind, Thing
from protocol_lang.model.protocol import Protocol
from protocol_lang.model.steps import Doing, Item, Step
from protocol_lang.text import Place, Text

#: The kinds of change, in the order in which they are told.
KINDS = (
    "clean hands",
    "change gloves",
    "disinfect",
    "cover",
    "cover over it",
    "move",
    "helper",
    "level",
)

#: What is declared where the room has none, unless the name is taken.
HELPER, BARRIER, FINGER_COT = "helper", "barrier film", "finger cot"

#: A story in which one lapse is enough weighs as much as so many others.
_ALONE = 3


#: The name of a thing or a person, or somebody's hands.
_Owner = str | tuple[str, str]


@dataclass(frozen=True, slots=True)
class Idea:
    """A single change: everything that has to be typed for it."""

    kind: str
    edits: tuple[Edit, ...]


@dataclass(frozen=True, slots=True)
class _Hop:
    """Soil goes on from ``source`` to ``target`` in a step; ``since``: the step before it in the
    same visit and story, in which the source got it."""

    place: Place
    person: str
    source: str
    target: str
    since: Place | None


def ideas(
    told: Lapsed, unfolded: Unfolded, lapses: Lapses, texts: Mapping[str, Text]
) -> dict[str, list[Idea]]:
    """By kind, each change once, the likeliest to help first. ``told``: with stories."""
    found: dict[str, list[Idea]] = {kind: [] for kind in KINDS}
    met: set[tuple[tuple[str, int, int, tuple[str, ...]], ...]] = set()
    for idea in _Thinker(told, unfolded, lapses, texts).every():
        mark = tuple((one.file, one.line, one.out, one.lines) for one in idea.edits)
        if mark not in met and fit_together(idea.edits):
            met.add(mark)
            found[idea.kind].append(idea)
    return found


class _Thinker:
    def __init__(
        self, told: Lapsed, unfolded: Unfolded, lapses: Lapses, texts: Mapping[str, Text]
    ) -> None:
        self.unfolded = unfolded
        self.protocol: Protocol = unfolded.protocol
        self.lines = Lines(texts)
        self.tools = Toolbox(self.protocol)
        kinds = {source.file: source.kind for source in self.protocol.files}
        self.writable = frozenset(
            file for file in texts if kinds.get(file) in ("protocol", "room", "day")
        )
        self.steps = {step.place: step for step in unfolded.steps}
        #: By place: who does the step, and what is done in it.
        self.doer: dict[Place, str] = {}
        self.effects: dict[Place, list[Effect]] = {}
        #: Those that are done with gloves on, in some world.
        self.gloved: set[Place] = set()
        gloved = lapses.doing.covered(lapses.worlds)
        for number, (note, act) in enumerate(zip(unfolded.acts, unfolded.plan.acts, strict=True)):
            if note.place is not None and note.step is not None:
                if note.person is not None:
                    self.doer.setdefault(note.place, note.person)
                self.effects.setdefault(note.place, []).extend(act.effects)
                if number in gloved:
                    self.gloved.add(note.place)
        #: Places of steps in the order of the text, file by file as they are put together.
        self.order = list(dict.fromkeys(step.place for step in unfolded.steps))
        self.bodies: dict[_Owner, set[int]] = {}
        for (owner, _), body in unfolded.bodies.items():
            self.bodies.setdefault(owner, set()).add(body)
        for person, body in hands_of(unfolded).of:
            self.bodies[_hands(unfolded.people[person])] = {body}
        self.hops = self._hops(told)

    def _hops(self, told: Lapsed) -> list[_Hop]:
        weights: dict[_Hop, int] = {}
        for one in told.sets:
            if one.route is None:
                continue
            since: dict[tuple[int, str], Place] = {}
            for number, row in enumerate(one.route.steps):
                if row.place is None or row.place not in self.steps:
                    continue
                if number and row.person is not None and self.tools.is_staff(row.person):
                    for source, target in row.moves:
                        hop = _Hop(
                            row.place, row.person, source, target, since.get((row.visit, source))
                        )
                        weights[hop] = weights.get(hop, 0) + (_ALONE if len(one.slips) == 1 else 1)
                for _, target in row.moves:
                    since[row.visit, target] = row.place
        return sorted(weights, key=lambda hop: -weights[hop])

    def every(self) -> Iterator[Idea]:
        """All of them, kind by kind."""
        for hop in self.hops:
            yield from self._cleaned_before(hop)
        met = self._things_met()
        yield from _by_turns(self._covered(thing) for thing in met)
        yield from self._covered_twice()
        # Steps in which a thing of the room is soiled rather than those at the patient.
        in_the_room = [hop for hop in self.hops if hop.target in met]
        others = [hop for hop in self.hops if hop.target not in met]
        yield from _by_turns(self._moved(hop) for hop in (*in_the_room, *others))
        yield from _by_turns(self._by_somebody_else(hop) for hop in in_the_room)
        yield from self._products_at_higher_levels()
        yield from self._hands_at_higher_levels()

    # Cleaning

    def _cleaned_before(self, hop: _Hop) -> Iterator[Idea]:
        """Clean the hands, or change the gloves, or clean the thing, that soil comes from."""
        if hop.source in self.protocol.things:
            if not self.protocol.things[hop.source].used_once:
                items = self.tools.clean_and_disinfect(hop.person, hop.source)
                yield from self._put_in("disinfect", hop.place, items)
            return
        if hop.place not in self.gloved and not self._takes_gloves_off(hop.place):
            yield from self._put_in("clean hands", hop.place, self.tools.clean_hands(hop.person))
            return
        for glove in self._gloves():
            items = self.tools.fresh_gloves(hop.person, glove)
            yield from self._put_in("change gloves", hop.place, items)

    def _put_in(self, kind: str, place: Place, items: tuple[Item, ...]) -> Iterator[Idea]:
        if items and place.file in self.writable:
            yield Idea(kind, (self.lines.before(place, written(items)),))

    def _gloves(self) -> list[str]:
        return [
            thing.name
            for thing in self.protocol.things.values()
            if thing.worn_on == "hands" and thing.over is None
        ]

    # Covers

    def _things_met(self) -> list[str]:
        """Things from which or to which soil goes by hand, less what goes in the mouth."""
        named = (name for hop in self.hops for name in (hop.source, hop.target))
        return [
            name
            for name in dict.fromkeys(named)
            if name in self.protocol.things
            and not self.protocol.things[name].goes_in_mouth
            and not self.protocol.things[name].used_once
        ]

    def _covered(self, name: str) -> Iterator[Idea]:
        """A cover on a thing that has none in this protocol."""
        thing = self.protocol.things[name]
        touching = [place for place in self.order if self._touches(place, name)]
        touching = [place for place in touching if self._by_staff(place)]
        if not touching or any(self._covers(place, name) for place in self.order):
            return
        for cover, declared in self._covers_for(thing):
            for on, off in self._on_and_off(name, touching):
                tools = Toolbox(_with(self.protocol, cover))
                covers = tools.cover(self.doer[on[0]], cover.name, (name,))
                uncovers = tools.uncover(self.doer[off[0]], cover.name, (name,))
                if not covers or not uncovers:
                    continue
                yield Idea(
                    "cover", (*declared, self._beside(on, covers), self._beside(off, uncovers))
                )

    def _beside(self, where: tuple[Place, bool], items: tuple[Item, ...]) -> Edit:
        place, after = where
        put = self.lines.after if after else self.lines.before
        return put(place, written(items))

    def _on_and_off(
        self, name: str, touching: list[Place]
    ) -> Iterator[tuple[tuple[Place, bool], tuple[Place, bool]]]:
        """(where it may come on, where off): each a step, and whether after it."""
        first = self.order.index(touching[0])
        clean = [place for place in self.order[:first] if self._cleans_hands(place)]
        ons = [(place, True) for place in clean[:1]] + [(touching[0], False)]
        treating = [place for place in touching if self._treats(place, name)]
        plain = [place for place in touching if place not in treating]
        last = self.order.index(plain[-1] if plain else touching[-1])
        later = self.order[last + 1 :]
        offs = [(place, False) for place in later if place in treating][:1]
        offs += [(place, False) for place in later if self._takes_gloves_off(place)][-1:]
        offs.append((self.order[last], True))
        for on in ons:
            for off in dict.fromkeys(offs):
                if {on[0].file, off[0].file} <= self.writable:
                    yield on, off

    def _covers_for(self, thing: Thing) -> Iterator[tuple[Thing, tuple[Edit, ...]]]:
        """(a cover that may go on the thing, what has to be declared for it)."""
        things = self.protocol.things
        for name, _ in thing.takes:
            yield things[name], ()
        if thing.takes or thing.place.file not in self.writable:
            return
        likely = dict.fromkeys(
            name
            for other in things.values()
            if other.kind == thing.kind
            for name, _ in other.takes[:1]
        )
        for name in list(likely)[:2]:
            yield things[name], (self.lines.with_more(thing.place, f"; takes cover {name}"),)
        if not likely and BARRIER not in things:
            kind = self._kind_of_cover(thing)
            beside = self._thing_beside(kind)
            if kind is not None and beside is not None:
                line = f"{BARRIER}: {kind}; used once"
                cover = replace(_plain(beside), name=BARRIER, kind=kind)
                edits = (
                    self.lines.with_more(thing.place, f"; takes cover {BARRIER}"),
                    self.lines.after(beside.place, [line]),
                )
                yield cover, edits

    def _kind_of_cover(self, thing: Thing) -> str | None:
        return next(iter(self.tools.kinds_of_cover(thing)), None)

    def _thing_beside(self, kind: str | None) -> Thing | None:
        """A thing of that kind, or one that is used once, to declare another one below it."""
        things = [one for one in self.protocol.things.values() if one.place.file in self.writable]
        return next(
            (one for one in things if one.kind == kind),
            next((one for one in things if one.used_once), None),
        )

    def _covered_twice(self) -> Iterator[Idea]:
        """A finger cot over what covers a thing that goes in the mouth."""
        for thing in self.protocol.things.values():
            if not thing.goes_in_mouth or len(thing.takes) != 1 or thing.takes[0][1]:
                continue
            inner = self.protocol.things[thing.takes[0][0]]
            on = [place for place in self.order if self._puts_on(place, thing.name, inner.name)]
            off = [place for place in self.order if self._covers(place, thing.name, Unfit)]
            if not on or not off or FINGER_COT in self.protocol.things:
                continue
            if not {one.file for one in (thing.place, inner.place, *on, *off)} <= self.writable:
                continue
            traits = self.lines.said(inner.place).partition(":")[2].strip()
            traits = re.sub(r"; *leaks\b", "", traits)
            traits = re.sub(r"laid out on [^,;]+, from", "from", traits)
            sleeved = self.lines.said(thing.place).replace(
                f"takes cover {inner.name}", f"takes cover {inner.name}, then {FINGER_COT}"
            )
            edits = [
                self.lines.instead(thing.place, sleeved),
                self.lines.after(inner.place, [f"{FINGER_COT}: {traits}"]),
            ]
            edits += [self.lines.after(one, [self._cot(one, inner.name)]) for one in on]
            # As it is, and with other gloves for the cover under it.
            for fresh in ((), *((glove,) for glove in self._gloves())):
                then = [
                    [
                        self._cot(one, inner.name),
                        *written(self.tools.fresh_gloves(self.doer[one], *fresh) if fresh else ()),
                    ]
                    for one in off
                ]
                offs = [self.lines.before(one, lines) for one, lines in zip(off, then, strict=True)]
                yield Idea("cover over it", (*edits, *offs))

    def _cot(self, place: Place, inner: str) -> str:
        """The step with the finger cot in the place of what it goes over."""
        text = self.steps[place].text
        return "[ ] " + re.sub(rf"\b{re.escape(inner)}\b", FINGER_COT, text)

    # Order

    def _moved(self, hop: _Hop) -> Iterator[Idea]:
        """The step that passes soil on, before the hands are soiled or gloved, or after they are
        clean again."""
        if self._about_hands(hop.place):
            return
        own = [place for place in self.order if self.doer.get(place) == hop.person]
        here = own.index(hop.place)
        tos: list[tuple[Place, bool]] = []
        gloved = [place for place in own[:here] if self._puts_gloves_on(place)]
        tos += [(place, False) for place in gloved[-1:]]
        if hop.since is not None and hop.since in own[:here]:
            tos.append((hop.since, False))
        tos += [(place, True) for place in own[here + 1 :] if self._cleans_hands(place)][:1]
        tos += [(place, False) for place in own[here + 1 :] if self._takes_gloves_off(place)][:1]
        for to, after in dict.fromkeys(tos):
            if to != hop.place and {to.file, hop.place.file} <= self.writable:
                yield Idea("move", self.lines.moved(hop.place, to, after))

    # People

    def _by_somebody_else(self, hop: _Hop) -> Iterator[Idea]:
        """Somebody else, with clean hands, for what soil would be brought to by used ones."""
        if hop.source in self.protocol.things or self._about_hands(hop.place):
            return
        doer = self.protocol.people[hop.person]
        others = [
            one.name
            for one in self.protocol.people.values()
            if one.kind is PersonKind.STAFF and one.name != hop.person and not one.second
        ]
        declared: tuple[Edit, ...] = ()
        if not others:
            if HELPER in self.protocol.people or doer.place.file not in self.writable:
                return
            others = [HELPER]
            line = f"{HELPER}: {self.lines.said(doer.place).partition(':')[2].strip()}"
            declared = (self.lines.after(doer.place, [line]),)
        for places in dict.fromkeys((self._like(hop), (hop.place,))):
            if not places or not {place.file for place in places} <= self.writable:
                continue
            clean = self.tools.clean_hands(hop.person)
            edits = []
            for place in places:
                said = self.lines.said(place)
                line = re.sub(
                    rf"(\] (?:[^:]*: )?){re.escape(hop.person)}\b", rf"\1{others[0]}", said
                )
                first = written(clean) if place == places[0] else []
                before = [one.replace(hop.person, others[0], 1) for one in first]
                edits.append(self.lines.instead(place, line, before))
            yield Idea("helper", (*declared, *edits))

    def _like(self, hop: _Hop) -> tuple[Place, ...]:
        """All steps of that person in the same file that touch the same thing, but for those that
        clean it or cover it."""
        return tuple(
            place
            for place in self.order
            if self.doer.get(place) == hop.person
            and place.file == hop.place.file
            and self._touches(place, hop.target)
            and not self._treats(place, hop.target)
            and not self._covers(place, hop.target)
            and not self._covers(place, hop.target, Unfit)
            and not self._about_hands(place)
        )

    # Levels

    def _hands_at_higher_levels(self) -> Iterator[Idea]:
        """Hands cleaned at a higher level, one cleaning at a time."""
        passed = {hop.person for hop in self.hops}
        for place in self.order:
            person = self.doer.get(place)
            if person not in passed or place.file not in self.writable:
                continue
            for step in self.tools.hands_at_a_higher_level(person, self.steps[place]):
                said = self.lines.said(place)
                line = said.replace(self.steps[place].text, step.text)
                yield Idea("level", (self.lines.instead(place, line),))

    def _products_at_higher_levels(self) -> Iterator[Idea]:
        """Products that end more."""
        used = {name for step in self.unfolded.steps for name in _named_in(step)}
        for thing in self.protocol.things.values():
            if thing.level is None or thing.place.file not in self.writable:
                continue
            if thing.name not in used:
                continue
            for higher in self._levels_above(thing.level):
                said = self.lines.said(thing.place)
                line = said.replace(f"treats to {thing.level}", f"treats to {higher}")
                if line != said:
                    yield Idea("level", (self.lines.instead(thing.place, line),))

    def _levels_above(self, name: str) -> list[str]:
        """The lowest level that ends more of the same soil."""
        own = self.protocol.levels[name]
        more = [
            one
            for one in self.protocol.levels.values()
            if one.rank > own.rank and one.acts_on is own.acts_on and set(one.ends) > set(own.ends)
        ]
        return [min(more, key=lambda one: one.rank).name] if more else []

    # What steps do

    def _by_staff(self, place: Place) -> bool:
        return place in self.doer and self.tools.is_staff(self.doer[place])

    def _touches(self, place: Place, name: _Owner) -> bool:
        return any(self._about(effect, name) for effect in self.effects.get(place, ()))

    def _about(self, effect: Effect, name: _Owner) -> bool:
        targets: Iterable[Target] = contacts(effect)
        if isinstance(effect, Wash | Treat):
            targets = effect.targets
        elif isinstance(effect, Wet):
            targets = self.unfolded.plan.treatments[effect.treatment].targets
        bodies = self.bodies.get(name, set())
        return any(isinstance(one, Outer) and one.body in bodies for one in targets)

    def _treats(self, place: Place, name: _Owner) -> bool:
        return any(
            isinstance(effect, Wash | Treat | Wet) and self._about(effect, name)
            for effect in self.effects.get(place, ())
        )

    def _covers(self, place: Place, name: _Owner, how: type[Fit] | type[Unfit] = Fit) -> bool:
        layers = {
            layer
            for body in self.bodies.get(name, ())
            for layer in self.unfolded.plan.bodies[body].layers
        }
        return any(
            isinstance(effect, how) and layers & set(effect.layers)
            for effect in self.effects.get(place, ())
        )

    def _puts_on(self, place: Place, name: str, cover: str) -> bool:
        pieces = self.unfolded.plan.pieces
        return self._covers(place, name) and any(
            isinstance(effect, Fit) and pieces[effect.piece].kind == cover
            for effect in self.effects[place]
        )

    def _cleans_hands(self, place: Place) -> bool:
        return self._by_staff(place) and self._treats(place, _hands(self.doer[place]))

    def _puts_gloves_on(self, place: Place) -> bool:
        return self._by_staff(place) and self._covers(place, _hands(self.doer[place]))

    def _takes_gloves_off(self, place: Place) -> bool:
        return self._by_staff(place) and self._covers(place, _hands(self.doer[place]), Unfit)

    def _about_hands(self, place: Place) -> bool:
        """Whether the step is there for the sake of the hands: it cleans, gloves or bares them."""
        return (
            self._cleans_hands(place)
            or self._puts_gloves_on(place)
            or self._takes_gloves_off(place)
        )


def _by_turns(those: Iterable[Iterable[Idea]]) -> Iterator[Idea]:
    """The first of each, then the second of each, and so on."""
    for row in zip_longest(*map(list, those)):
        yield from (one for one in row if one is not None)


def _hands(person: str) -> tuple[str, str]:
    """The name of somebody's hands among the owners of bodies, which no thing can have."""
    return person, "hands"


def _named_in(step: Step) -> Iterator[str]:
    if isinstance(step.does, Doing):
        for names in step.does.filled.values():
            yield from names


def _plain(thing: Thing) -> Thing:
    """A thing of that kind that is used once, and nothing else."""
    return Thing(thing.name, thing.kind, thing.place, used_once=True)


def _with(protocol: Protocol, thing: Thing) -> Protocol:
    return replace(protocol, things={**protocol.things, thing.name: thing})
