"""How often a repetition has to be spelt out: until nothing new comes of one time more.

"for each exposure, 1 to 18" is judged with a few times round. That is enough for all once a time
round begins no differently from the one before it: with the same things covered and the same facts,
and with soil nowhere where it was not before. Then every further round does what that one did, and
what comes after the last round finds what it finds already. docs/meaning/checklist.md has the
argument; the tests compare with all rounds spelt out.
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from dataclasses import dataclass

from protocol_lang.contamination.judge import Judgement, judge
from protocol_lang.contamination.kernel import NOTHING, Bits
from protocol_lang.contamination.marks import STATES, Layout, holds_read, spot_of
from protocol_lang.contamination.unfold import TooMany, Unfolded, unfold
from protocol_lang.contamination.unfold.spelling import MOMENT_OF, repetitions
from protocol_lang.contamination.unfold.worlds import Combination
from protocol_lang.contamination.visits import Suspect
from protocol_lang.findings import Finding
from protocol_lang.model.protocol import WHAT_HAPPENS, Choice, Protocol
from protocol_lang.order.bits import members
from protocol_lang.order.question import Budget
from protocol_lang.text import Place

#: So many times round are looked at first: the first, one that begins like all later ones, and one
#: more to see that it does.
AT_FIRST = 3


@dataclass(frozen=True, slots=True)
class Judged:
    """A protocol unfolded, and what was decided about it."""

    unfolded: Unfolded
    judgement: Judgement


def judge_protocol(
    protocol: Protocol, only: Combination | None = None, budget: Budget | None = None
) -> Judged | TooMany | tuple[Finding, ...]:
    """Unfolds a protocol as far as it takes to judge all its rounds, and judges it.

    Repetitions are spelt out once more, each on its own account, until they are settled or spelt
    out in full. Where that is too much, what is too much is told as in
    :func:`protocol_lang.contamination.unfold.unfold`.
    """
    most = {item.place: item.most for item in repetitions(protocol)}
    depths = {place: AT_FIRST for place, times in most.items() if times > AT_FIRST}
    while True:
        unfolded = unfold(protocol, only, depths)
        if not isinstance(unfolded, Unfolded):
            return unfolded
        judgement = judge(unfolded.plan, budget)
        open_ones = _not_settled(unfolded, judgement)
        if not open_ones:
            return Judged(unfolded, judgement)
        for place in open_ones:
            depths[place] += 1
            if depths[place] >= most[place]:
                del depths[place]


def judge_as_deep(protocol: Protocol, like: Unfolded, budget: Budget) -> Judged | None:
    """A changed protocol with as many rounds as the one that it was changed from.

    None where that cannot be done, or does not settle what further rounds would bring.
    """
    unfolded = unfold(protocol, like.only, like.depths)
    if not isinstance(unfolded, Unfolded):
        return None
    judgement = judge(unfolded.plan, budget)
    return None if _not_settled(unfolded, judgement) else Judged(unfolded, judgement)


def _not_settled(unfolded: Unfolded, judgement: Judgement) -> list[Place]:
    """The repetitions of which a further round may bring something new."""
    layout = judgement.layout
    if layout is None or judgement.no_run:
        return []  # no order is permitted, however often it is done
    waiting = [place for place in unfolded.round_ends if unfolded.depths[place] > 1]
    if waiting and _told_safe_by_search_alone(judgement):
        return waiting
    held = _Held(judgement)
    return [
        place
        for place in waiting
        if not _Repetition(unfolded, layout, place, unfolded.depths[place]).settled(held)
    ]


def _told_safe_by_search_alone(judgement: Judgement) -> bool:
    """Whether somebody is safe only because the search found no way in these rounds.

    What relaxation proves holds for further rounds too, and what is found is found. What the search
    alone rules out, it rules out for the rounds that it has seen.
    """
    paths = judgement.paths
    if paths is None:
        return False
    met: set[Suspect] = set()
    for suspect in sorted(judgement.suspects, key=str):
        if suspect in met:
            continue  # one history shows several at once
        hit = paths.first(frozenset({suspect}))
        if hit is None:
            return True
        met |= paths.met_in(hit)
    return False


class _Held:
    """Where soil may be just before an event: for each pass of relaxation, the positions with
    their worlds."""

    def __init__(self, judgement: Judgement) -> None:
        paths = judgement.paths
        self._passes = [] if paths is None else list(paths.passes())
        self._known: dict[int, list[tuple[object, dict[int, Bits]]]] = {}

    def at(self, event: int) -> list[tuple[object, dict[int, Bits]]]:
        if event not in self._known:
            self._known[event] = [(what, one.held_at(event)) for what, one in self._passes]
        return self._known[event]


class _Repetition:
    """One "for each" that is spelt out ``deep`` times."""

    def __init__(self, unfolded: Unfolded, layout: Layout, place: Place, deep: int) -> None:
        self.unfolded = unfolded
        self.layout = layout
        self.place = place
        ends = unfolded.round_ends[place]
        #: The moments between the last three rounds.
        self.before = _single(ends.get(deep - 2, ()))
        self.last = _single(ends.get(deep - 1, ()))
        self.numbers = (deep - 2, deep - 1)
        self.piece_of = {
            spot: (piece, index)
            for piece, record in enumerate(layout.plan.pieces)
            for index, spot in enumerate(record.spots)
        }

    def settled(self, held: _Held) -> bool:
        """Whether the last round begins no differently from the one before it."""
        if self.before is None or self.last is None:
            return False
        if not (self._cuts(self.before) and self._cuts(self.last)):
            return False
        earlier, later = self._classes(self.before, 0), self._classes(self.last, 1)
        alike = {name: _within(name, earlier) for name in later}
        if None in alike.values():
            return False
        pairs = [(earlier[one], later[name]) for name, one in alike.items() if one is not None]
        return self._same_state(pairs) and self._no_more_soil(pairs, held)

    def _cuts(self, event: int) -> bool:
        """Whether everything is surely before that moment or surely after it."""
        before = self.layout.network.before
        return all(
            other == event or before[event] >> other & 1 or before[other] >> event & 1
            for other in range(len(before))
        )

    # What is settled before a round, and is the same in all of them

    def _classes(self, event: int, which: int) -> dict[frozenset[tuple[str, str]], Bits]:
        """The worlds in which that moment comes, by all that is settled outside of the rounds or
        has happened by then."""
        choices = {choice.name: choice for choice in self.unfolded.worlds.choices}
        found: dict[frozenset[tuple[str, str]], Bits] = {}
        for world in members(self.layout.network.present[event]):
            cubes = [
                self._settled_before(known, choices, self.numbers[which])
                for known in self.unfolded.worlds.examples[world]
            ]
            name = frozenset.intersection(*cubes)
            found[name] = found.get(name, 0) | 1 << world
        return found

    def _settled_before(
        self, known: Combination, choices: Mapping[str, Choice], number: int
    ) -> frozenset[tuple[str, str]]:
        happened = self._has_happened(known, choices, number)
        return frozenset(
            (name, value)
            for name, value in known.items()
            if not self._is_of_a_round(choices[name])
            and not name.startswith(MOMENT_OF)
            and (name != WHAT_HAPPENS or happened)
        )

    def _has_happened(self, known: Combination, choices: Mapping[str, Choice], number: int) -> bool:
        """Whether the mishap of the visit, if there is one, comes by the end of that round."""
        for name, value in known.items():
            if name.startswith(MOMENT_OF):
                choice = choices[name]
                rounds = choice.moments[choice.values.index(value)]
                here = next((one for one in rounds if one.place == self.place), None)
                return here is None or here.number <= number
        return WHAT_HAPPENS in known

    def _is_of_a_round(self, choice: Choice) -> bool:
        if choice.place == self.place and not choice.declared:
            return True  # how many there are
        if any(one.place == self.place for one in choice.rounds):
            return True
        return choice.known_after is not None and any(
            step.label == choice.known_after and any(one.place == self.place for one in step.rounds)
            for step in self.unfolded.steps
        )

    # Covers and facts

    def _same_state(self, pairs: list[tuple[Bits, Bits]]) -> bool:
        assert self.before is not None and self.last is not None
        registers = self.layout.registers
        plan = self.layout.plan
        looked_at = [(registers.layer(layer), True) for layer in range(len(plan.layers))]
        looked_at += [(registers.fact(fact), False) for fact in range(len(plan.facts))]
        looked_at += [(registers.hold(hold), True) for hold in self._holds_read_after()]
        for register, is_piece in looked_at:
            first, second = (
                self._values(register, event, is_piece) for event in (self.before, self.last)
            )
            for earlier, later in pairs:
                one, other = _only(first, earlier), _only(second, later)
                if one is None or one != other:
                    return False
        others = set(range(registers.count)) - {register for register, _ in looked_at}
        ignored = {registers.hold(hold) for hold in range(plan.holds)}
        undisturbed = {registers.undisturbed(number) for number in range(len(plan.treatments))}
        return all(
            set(self.layout.possible.possible(register, event)) <= {0}
            for register in others - ignored - undisturbed
            for event in (self.before, self.last)
        )

    def _holds_read_after(self) -> list[int]:
        """The holds that are asked for what they name after a round has ended."""
        assert self.before is not None
        before = self.layout.network.before
        return sorted(
            {
                hold
                for event, act in enumerate(self.layout.plan.acts)
                if before[event] >> self.before & 1
                for hold in holds_read(act)
            }
        )

    def _values(self, register: int, event: int, is_piece: bool) -> dict[Hashable, Bits]:
        found: dict[Hashable, Bits] = {}
        for value, worlds in self.layout.possible.possible(register, event).items():
            name = self._kind(value) if is_piece else value
            found[name] = found.get(name, 0) | worlds
        return found

    def _kind(self, piece: int) -> Hashable:
        """What a piece on a layer, or named by a hold, is for all that comes: one of its kind."""
        return None if piece == NOTHING else self.layout.plan.pieces[piece].kind

    # Soil

    def _no_more_soil(self, pairs: list[tuple[Bits, Bits]], held: _Held) -> bool:
        """Whether soil is nowhere before the last round where it was not before the one before."""
        assert self.before is not None and self.last is not None
        first, second = (self._named(held, event) for event in (self.before, self.last))
        return all(
            not worlds & later or first.get(name, 0) & earlier
            for name, worlds in second.items()
            for earlier, later in pairs
        )

    def _named(self, held: _Held, event: int) -> dict[Hashable, Bits]:
        """Where soil may be at that moment, by names that are the same in every round.

        What is on a lasting thing, or on a person, goes by the spot; what is on a piece, by what
        the piece is on or what names it, for by nothing else can it be touched again.
        """
        plan = self.layout.plan
        through = self._ways_to_pieces(event)
        named: dict[Hashable, Bits] = {}

        def put(name: Hashable, worlds: Bits) -> None:
            if worlds:
                named[name] = named.get(name, 0) | worlds

        for what, positions in held.at(event):
            for position, worlds in positions.items():
                spot = spot_of(position)
                if spot not in self.piece_of or plan.spots[spot].lasting:
                    put((what, position), worlds)
                    continue
                piece, index = self.piece_of[spot]
                for register, within in through.get(piece, ()):
                    put((what, register, index, position % STATES), worlds & within)
        return named

    def _ways_to_pieces(self, event: int) -> dict[int, list[tuple[int, Bits]]]:
        """For each piece, the layers that may hold it then and the holds that may name it."""
        registers, possible = self.layout.registers, self.layout.possible
        looked_at = [registers.layer(layer) for layer in range(len(self.layout.plan.layers))]
        looked_at += [registers.hold(hold) for hold in self._holds_read_after()]
        found: dict[int, list[tuple[int, Bits]]] = {}
        for register in looked_at:
            for piece, worlds in possible.possible(register, event).items():
                found.setdefault(piece, []).append((register, worlds))
        return found


def _single(acts: tuple[int, ...]) -> int | None:
    """The one act; None where the repetition is itself repeated, and there are several."""
    return acts[0] if len(acts) == 1 else None


def _only(values: Mapping[Hashable, Bits], worlds: Bits) -> tuple[Hashable] | None:
    """The one value that there is in these worlds, in each of them; None if there may be more."""
    found = [value for value, within in values.items() if within & worlds]
    return (found[0],) if len(found) == 1 else None


def _within(
    name: frozenset[tuple[str, str]], known: Mapping[frozenset[tuple[str, str]], Bits]
) -> frozenset[tuple[str, str]] | None:
    """What is settled in the same way, or by fewer choices that agree."""
    if name in known:
        return name
    return next((one for one in known if one <= name), None)
