"""From a judged protocol to what is told of its lapses."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import replace

from protocol_lang.checks.story import Names, contexts, route_of_soil
from protocol_lang.contamination.judge import Judgement
from protocol_lang.contamination.kernel import Bits, Fit, Origin
from protocol_lang.contamination.unfold import Unfolded
from protocol_lang.contamination.unfold.arrange import ActNote
from protocol_lang.contamination.unfold.spelling import NOTHING_HAPPENS
from protocol_lang.contamination.visits import Hit
from protocol_lang.lapsed import Alone, Lapsed, Margin, Never, Slip, SlipSet, Spreads
from protocol_lang.lapses.kinds import Hands, Kind, Lapse
from protocol_lang.lapses.making import BEGINNING, Lapses, Made, Set
from protocol_lang.lapses.search import Smallest, smallest_sets
from protocol_lang.lapses.showing import Shown, shown
from protocol_lang.lapses.spread import Opens, bound, opened
from protocol_lang.model.parts import Counts
from protocol_lang.model.protocol import WHAT_HAPPENS

#: So many sets are listed of each kind of path; of the rest the number is told.
MOST_LISTED = 200
#: So many of them with their story, if stories are asked for; else the first of each kind.
MOST_STORIES = 25

WORD = {Opens.NEXT_PATIENT: "patient", Opens.STAFF: "staff", Opens.FROM_ROOM: "room"}

_KIND = {
    Kind.LEFT_OUT: "left out",
    Kind.CUT_SHORT: "cut short",
    Kind.LEAKS: "leaks",
    Kind.UNCLEAN: "unclean",
    Kind.BARE: "bare",
}


def hands_of(unfolded: Unfolded) -> Hands:
    """The hands of everybody in the protocol."""
    protocol = unfolded.protocol
    found: list[tuple[int, int]] = []
    for number, person in enumerate(unfolded.people):
        kind = protocol.people[person].kind if person in protocol.people else None
        for part in protocol.body_parts:
            body = unfolded.bodies.get((person, part.name))
            # What gloves go on; of somebody who wears none, the skin that comes first.
            if part.of is kind and part.counts is Counts.SKIN and body is not None:
                found.append((number, body))
                break
    return Hands(tuple(found))


def without_mishaps(unfolded: Unfolded) -> Bits:
    """The worlds in which no mishap happens."""
    return sum(
        1 << world
        for world, examples in enumerate(unfolded.worlds.examples)
        if any(one.get(WHAT_HAPPENS, NOTHING_HAPPENS) == NOTHING_HAPPENS for one in examples)
    )


def lapses_in(unfolded: Unfolded, judgement: Judgement) -> Lapses:
    """The lapses of a protocol in visits without a mishap."""
    worlds = without_mishaps(unfolded) & judgement.judged & judgement.ready
    return Lapses(unfolded.plan, hands_of(unfolded), worlds)


class Teller:
    """Puts lapses and sets into the author's terms."""

    def __init__(self, unfolded: Unfolded, lapses: Lapses) -> None:
        self.unfolded = unfolded
        self.lapses = lapses
        self._contexts = contexts(unfolded)
        self._names = Names(unfolded)
        self._runs: dict[tuple[Set, Opens], Shown | None] = {}

    def run(self, lapsed: Set, what: Opens) -> Shown | None:
        """A run that shows what the set opens; found once."""
        key = lapsed, what
        if key not in self._runs:
            self._runs[key] = shown(self.lapses, lapsed, what)
        return self._runs[key]

    def classes(self, lapsed: Set, what: Opens) -> tuple[str, ...]:
        """The classes of germs that get through, the hardest first; none of a chemical.

        What the run shows gets through; where that is not all, every order is asked.
        """
        run = self.run(lapsed, what)
        every = self.unfolded.plan.classes
        if run is None or run.hit.origin is Origin.CHEMICAL:
            return ()
        if not run.classes:
            return every
        answer = opened(self.lapses, lapsed, frozenset({what}))
        if what not in answer.hits:  # not decided within the budget: what was shown is sure
            return run.classes
        through = answer.paths.classes_reaching(answer.hits[what])
        return tuple(one for one in every if one in through or one in run.classes)

    def signature(self, number: int) -> tuple[object, ...]:
        """What lapses have in common that are told as one: line, kind, and what leaks."""
        lapse = self.lapses.all[number]
        if lapse.act == BEGINNING:
            return (lapse.kind, None, self._cover(lapse))
        note = self.unfolded.acts[lapse.act]
        cover = self.unfolded.plan.pieces[lapse.pieces[0]].name if lapse.pieces else None
        return (lapse.kind, note.place, note.person, cover)

    def slip(self, number: int, alike: int = 1) -> Slip:
        lapse = self.lapses.all[number]
        cover = self._cover(lapse) if lapse.kind is Kind.LEAKS else None
        if lapse.act == BEGINNING:
            return Slip(_KIND[lapse.kind], None, None, None, cover, alike)
        note = self.unfolded.acts[lapse.act]
        text = self._sentence(lapse.act)
        where = self._contexts.get(lapse.act)
        return Slip(_KIND[lapse.kind], text, note.place, where, cover, alike)

    def _sentence(self, act: int) -> str:
        note = self.unfolded.acts[act]
        return note.text if note.step is None else self.unfolded.steps[note.step].text

    def _cover(self, lapse: Lapse) -> str:
        """The cover that leaks, and what it covers."""
        plan = self.unfolded.plan
        piece = lapse.pieces[0]
        name = plan.pieces[piece].name
        person = self._names.spot(plan.pieces[piece].outside)
        if person != plan.spots[plan.pieces[piece].outside].name:
            return person  # worn by somebody: "operator's gloves"
        layers = {
            layer
            for act in plan.acts
            for effect in act.effects
            if isinstance(effect, Fit) and effect.piece in lapse.pieces
            for layer in effect.layers
        } | {number for number, layer in enumerate(plan.layers) if layer.start in lapse.pieces}
        on = [plan.spots[body.spot].name for body in plan.bodies if layers & set(body.layers)]
        return f"{name} on {on[0]}" if on else name

    def told(self, made: Made) -> tuple[Unfolded, Names]:
        """The protocol as the stories of a plan with lapses speak of it."""
        unfolded = self.unfolded
        first: dict[int, int] = {}
        for new, old in enumerate(made.acts):
            first.setdefault(old, new)
        notes = tuple(
            unfolded.acts[old] if old != BEGINNING else _beginning(unfolded) for old in made.acts
        )
        plan = made.plan
        view = replace(
            unfolded,
            plan=plan,
            acts=notes,
            worlds=replace(
                unfolded.worlds,
                examples=tuple(
                    tuple(
                        one
                        for one in unfolded.worlds.examples[world]
                        if one.get(WHAT_HAPPENS, NOTHING_HAPPENS) == NOTHING_HAPPENS
                    )
                    for world in made.worlds
                ),
            ),
            pieces_made={
                piece: first[act] for piece, act in unfolded.pieces_made.items() if act in first
            },
        )
        return view, Names(view)

    def reached(self, names: Names, hit: Hit) -> str:
        visit = len(hit.legs) if not hit.own else 1
        return names.spot(hit.spot, visit)


def _beginning(unfolded: Unfolded) -> ActNote:
    """A note for what the visit before left: nobody's act."""
    return replace(unfolded.acts[-1], step=None, person=None, text="the visit begins", place=None)


def lapsed_of(
    unfolded: Unfolded,
    judgement: Judgement,
    file: str,
    most: int,
    stories: int = 1,
) -> tuple[Lapsed, Lapses, Smallest]:
    """All that is told of the lapses of a protocol without faults.

    ``stories``: so many sets of each kind of path are told with their story. Raises
    :class:`~protocol_lang.lapses.doing.NoListedOrder`.
    """
    lapses = lapses_in(unfolded, judgement)
    smallest = smallest_sets(lapses, most)
    teller = Teller(unfolded, lapses)
    header = unfolded.protocol.header
    undecided = {what for what, _ in smallest.undecided}
    margins = tuple(
        Margin(WORD[what], smallest.margin(what), most, what not in undecided) for what in Opens
    )
    mishaps = tuple(dict.fromkeys(one.name for one in unfolded.protocol.mishaps))
    told = Lapsed(
        file,
        header.title,
        header.edition,
        margins=margins,
        sets=tuple(_sets(teller, smallest, stories)),
        open_sets={WORD[what]: len(smallest.sets[what]) for what in Opens},
        alone=tuple(_alone(teller, smallest, stories > 1)),
        by_class=tuple(_by_class(teller, smallest)) if stories > 1 else (),
        never=tuple(_never(teller, smallest)),
        lapses=len(lapses.all),
        most=most,
        looked_at=smallest.looked_at,
        undecided=len(smallest.undecided),
        combinations=unfolded.worlds.combinations,
        mishaps=mishaps,
        only=tuple(unfolded.only.items()),
    )
    return told, lapses, smallest


def grouped(teller: Teller, sets: Iterable[Set]) -> dict[tuple[object, ...], list[Set]]:
    """Sets of the same lines."""
    found: dict[tuple[object, ...], list[Set]] = {}
    for one in sets:
        key = tuple(sorted((teller.signature(lapse) for lapse in one), key=repr))
        found.setdefault(key, []).append(one)
    return found


def _sets(teller: Teller, smallest: Smallest, stories: int) -> Iterable[SlipSet]:
    for what in Opens:
        groups = list(grouped(teller, smallest.sets[what]).values())[:MOST_LISTED]
        left = stories
        for alike in groups:
            first = alike[0]
            slips = tuple(teller.slip(one) for one in first)
            told = SlipSet(WORD[what], slips, alike=len(alike))
            if left > 0:
                run = teller.run(first, what)
                if run is not None:
                    left -= 1
                    view, names = teller.told(run.made)
                    told = replace(
                        told,
                        route=route_of_soil(view, names, replace(run.hit, classes=run.classes)),
                        reached=teller.reached(names, run.hit),
                        classes=run.classes,
                    )
            yield told


def _by_class(teller: Teller, smallest: Smallest) -> Iterable[Spreads]:
    """What one lapse lets spread, class by class, the hardest first."""
    through: dict[str, Counter[str]] = {one: Counter() for one in teller.unfolded.plan.classes}
    for what in Opens:
        for one in smallest.sets[what]:
            if len(one) == 1:
                for klass in teller.classes(one, what):
                    through[klass][WORD[what]] += 1
    for klass, counts in through.items():
        yield Spreads(klass, {WORD[what]: counts[WORD[what]] for what in Opens})


def _alone(teller: Teller, smallest: Smallest, by_class: bool) -> Iterable[Alone]:
    """For every line: what leaving it out, or its cover, opens by itself; also nothing.

    ``by_class``: and which classes get through, where these are not all.
    """
    opens: dict[tuple[object, ...], tuple[int, set[Opens], int]] = {}
    single: dict[Opens, frozenset[int]] = {
        what: frozenset(one[0] for one in smallest.sets[what] if len(one) == 1) for what in Opens
    }
    for number in range(len(teller.lapses.all)):
        key = teller.signature(number)
        first, found, many = opens.get(key, (number, set(), 0))
        found |= {what for what in Opens if number in single[what]}
        opens[key] = (first, found, many + 1)
    every = teller.unfolded.plan.classes
    for first, found, many in opens.values():
        through = {
            klass
            for what in found
            if by_class and first in single[what]
            for klass in teller.classes((first,), what)
        }
        yield Alone(
            teller.slip(first, many),
            tuple(WORD[what] for what in Opens if what in found),
            tuple(one for one in every if one in through) if len(through) < len(every) else (),
        )


def _never(teller: Teller, smallest: Smallest) -> Iterable[Never]:
    """Sentences that stand at several places, and what opens if none of them is carried out."""
    by_text: dict[str, list[int]] = {}
    for number, lapse in enumerate(teller.lapses.all):
        if lapse.kind is Kind.LEFT_OUT:
            by_text.setdefault(teller.slip(number).step or "", []).append(number)
    several = {text: tuple(made) for text, made in by_text.items() if len(made) > 1}
    if not several:
        return
    sets = list(several.values())
    told = bound(teller.lapses, sets)
    for place, (text, made) in enumerate(several.items()):
        found = {what for what in Opens if told.surely[what] >> place & 1}
        perhaps = frozenset(what for what in Opens if told.perhaps[what] >> place & 1)
        if perhaps:
            found |= set(opened(teller.lapses, made, perhaps).hits)
        lines = {teller.signature(one) for one in made}
        if len(lines) > 1:
            yield Never(text, len(lines), tuple(WORD[what] for what in Opens if what in found))
