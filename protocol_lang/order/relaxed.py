"""The relaxed graph: a polynomial over-approximation of every route that a mark can take.

A node is a pair (position, event): the mark has just come to the position by the event, or was
there from the start. A link leads from (p, e) to (q, f) when f may come after e, may take the mark
from p to q, and nothing surely ends the stay at p in between. Each node carries three facts that
hold on *every* way that leads to it:

* ``early``: events that are surely before its event,
* ``late``: events that are surely after it,
* ``worlds``: the worlds in which some way leads to it (their union).

A link to an event that is already ``early`` would go back in time and is dropped. Facts of a node
are the intersection over its links in, so they shrink as further links are found, until nothing
changes. The same is done backwards from the targets. What is left over-approximates the routes of
all runs: no way to a target proves that there is none. A way proves nothing yet.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from heapq import heappop, heappush

from protocol_lang.order.bits import members
from protocol_lang.order.effects import START, Effects, Exit
from protocol_lang.order.question import Bits, Carry, Network

#: A node as one number: (rank of its event + 1) * positions + position; a start has rank 0.
Node = int

#: The goal of a link that is a hit.
HIT = -1

#: What is sure on every way: (early, late, worlds), see above.
Facts = tuple[Bits, Bits, Bits]

#: Which exit of which event a link takes: (node, event, index of the exit).
Name = tuple[Node, int, int]


@dataclass(frozen=True, slots=True)
class Link:
    """From ``event`` (or START) on a mark stays at ``position``, until ``exit`` at ``last``.

    ``facts`` are those that hold at ``last`` on every way through this link. ``goal`` is HIT for a
    hit.
    """

    name: Name
    goal: Node
    position: int
    event: int
    exit: Exit
    facts: Facts

    @property
    def last(self) -> int:
        """The event that ends the stay."""
        return self.name[1]


@dataclass(frozen=True, slots=True)
class Reach:
    """What one forward pass finds out.

    ``targets``: for each target that may be hit, the worlds in which that may happen.
    ``nodes``: the facts of every node reached.
    """

    effects: Effects
    targets: dict[int, Bits]
    nodes: dict[Node, Facts]

    def arrivals(self) -> dict[tuple[int, int], Bits]:
        """(position, event) -> worlds in which a mark may come to the position by the event.

        The event is START for a mark that is there from the start. An over-approximation.
        """
        return {
            place_of(self.effects, node): facts[2] for node, facts in sorted(self.nodes.items())
        }

    def held_at(self, event: int) -> dict[int, Bits]:
        """Position -> worlds in which a mark may be there just before ``event``.

        Only worlds in which the event takes place are listed. An over-approximation.
        """
        found: dict[int, Bits] = {}
        for node, facts in sorted(self.nodes.items()):
            position, _ = place_of(self.effects, node)
            for _, (_, _, worlds) in steps(self.effects, node, facts, 1 << event):
                found[position] = found.get(position, 0) | worlds
        return found


@dataclass(slots=True)
class Passed:
    """A forward pass with its links to all targets, made when they are first asked for and kept:
    many questions about one start share them."""

    reach: Reach
    _links: list[Link] | None = None

    @property
    def links(self) -> list[Link]:
        if self._links is None:
            self._links = _links(self.reach, frozenset(self.reach.targets), None, None)
        return self._links


@dataclass(frozen=True, slots=True)
class Graph:
    """The links that lie on some relaxed way from a start to a target, after both passes."""

    effects: Effects
    starts: tuple[Node, ...]
    links: tuple[Link, ...]


def place_of(effects: Effects, node: Node) -> tuple[int, int]:
    """(position, event) of a node; the event is START for a start."""
    assert effects.carry is not None
    rank, position = divmod(node, effects.carry.positions)
    return position, effects.ranked[rank - 1] if rank else START


def reach(network: Network, carry: Carry, starts: Iterable[int], worlds: Bits) -> Reach:
    """All targets that a mark from one of ``starts`` may hit, in one pass; see :class:`Reach`.

    The network must be closed.
    """
    return forward(Effects(network, carry, worlds), starts)


def steps(effects: Effects, node: Node, facts: Facts, movers: Bits) -> Iterator[tuple[int, Facts]]:
    """The events among ``movers`` that may end the stay begun at ``node``, and the facts there.

    This is the one place where a single link is judged. The exit's own case is not looked at.
    """
    assert effects.carry is not None
    before, after, present = effects.before, effects.after, effects.present
    rank, number = divmod(node, effects.carry.positions)
    place = effects.positions[number]
    early, late, worlds = facts
    event = effects.ranked[rank - 1] if rank else START
    start = 1 << event if rank else 0
    scope = effects.blocks.scope
    scope_here = scope[event] if rank else 0
    in_block = bool(rank and effects.blocks.inside[event])
    early |= start
    if not movers & ~early:
        return
    partial = place.always != place.enders
    sure = (place.sure_in(worlds) if partial else place.always) & ~start
    past, later = behind(after, sure & late)
    groups = {worlds: (sure, later)}
    candidates = movers & ~early & ~past
    while candidates:
        here = candidates & -candidates
        candidates ^= here
        last = here.bit_length() - 1
        reached_in = worlds & present[last]
        if not reached_in:
            continue
        low, high = before[last], late
        if in_block or (rank and effects.blocks.inside[last]):
            low, high = effects.between(event, last)
            high |= late
        ends = ~(here | start)
        if partial:
            for ender in members(place.enders & low & high & ends):
                reached_in &= ~place.sure.get(ender, 0)
            if not reached_in:
                continue
            if reached_in not in groups:
                sure = place.sure_in(reached_in) & ~start
                groups[reached_in] = sure, behind(after, sure & late)[1]
            sure, later = groups[reached_in]
        elif sure & low & high & ends:
            continue
        new_early = early | low
        new_late = after[last] | (later & ~here)
        if high != late:
            for ender in members(sure & high & ends):
                new_late |= after[ender] | 1 << ender
        # The rule of blocks for those blocks that could say nothing yet at ``event``.
        for block in members(scope[last] & ~scope_here):
            inside, outside, down, up = effects.blocks.blocks[block]
            if outside & here:
                if inside & new_early:
                    new_early |= down
                if inside & new_late:
                    new_late |= up
        if not (new_early & new_late or (new_early | new_late) & here):
            yield last, (new_early, new_late, reached_in)


def behind(after: list[Bits], enders: Bits) -> tuple[Bits, Bits]:
    """(what is surely after some of ``enders``, the same with the enders)."""
    past = firsts = 0
    while enders:
        low = enders & -enders
        earlier = after[low.bit_length() - 1]
        past |= earlier
        firsts |= low
        enders &= ~(earlier | low)
    return past, past | firsts


def _combine(facts: Facts, early: Bits, late: Bits, worlds: Bits, here: Bits) -> Facts | None:
    """Facts that hold together; None if they contradict each other at the event ``here``."""
    early |= facts[0]
    late |= facts[1]
    worlds &= facts[2]
    if not worlds or early & late or (early | late) & here:
        return None
    return early, late, worlds


def forward(
    effects: Effects,
    starts: Iterable[int],
    known: dict[Node, Facts] | None = None,
    allowed: frozenset[Name] | None = None,
    within: Mapping[int, Bits] | None = None,
) -> Reach:
    """The forward pass.

    ``within``: for each start the worlds in which a mark may be there; without it, in all.

    ``known``: what a backward pass found out about nodes (those not in it lead nowhere);
    ``allowed``: the links that it left.
    """
    assert effects.carry is not None
    width = effects.carry.positions
    targets: dict[int, Bits] = {}
    nodes: dict[Node, Facts] = {}
    queue: list[Node] = []
    for start in sorted(set(starts)):
        if known is None or start in known:
            worlds = effects.worlds if within is None else effects.worlds & within[start]
            nodes[start] = (0, -1, worlds)
            queue.append(start)
    queued = set(queue)
    while queue:
        node = heappop(queue)
        queued.discard(node)
        facts = nodes[node]
        if known is not None:
            # Intersections over ways in may have lost what holds on every way on.
            more = known[node]
            facts = (facts[0] | more[0], facts[1] | more[1], facts[2] & more[2])
        place = effects.positions[node % width]
        for last, reached in steps(effects, node, facts, place.movers):
            here = 1 << last
            base = (effects.rank[last] + 1) * width
            case = None
            combined: Facts | None = None
            for index, exit_ in enumerate(place.exits[last]):
                if allowed is not None and (node, last, index) not in allowed:
                    continue
                if exit_.case is not case:  # exits under one case stand together
                    case = exit_.case
                    combined = _combine(reached, case.early, case.late, case.worlds, here)
                there = combined
                if there is None:
                    continue
                if exit_.target is not None:
                    targets[exit_.target] = targets.get(exit_.target, 0) | there[2]
                    continue
                goal = base + exit_.to
                old = nodes.get(goal)
                if old is not None:
                    there = (old[0] & there[0], old[1] & there[1], old[2] | there[2])
                    if there == old:
                        continue
                nodes[goal] = there
                if goal not in queued:
                    queued.add(goal)
                    heappush(queue, goal)
    return Reach(effects, targets, nodes)


def graph_to(passed: Passed, targets: frozenset[int], starts: Iterable[int]) -> Graph:
    """The part of the relaxed graph that may lead to ``targets``; no links: proved impossible.

    Backward and forward passes alternate, each using what the other found out, as long as that is
    worth its while: until a round leaves nine links in ten.
    """
    effects = passed.reach.effects
    links = _leading_on(
        [one for one in passed.links if one.goal != HIT or one.exit.target in targets]
    )
    while True:
        known, alive = _backward(effects, links)
        if not alive:
            return Graph(effects, (), ())
        allowed = frozenset(link.name for link in alive)
        again = forward(effects, starts, known, allowed)
        fewer = _links(again, targets, known, allowed)
        if 10 * len(fewer) >= 9 * len(links):
            kept = _leading_on(fewer)
            begin = sorted({link.name[0] for link in kept if link.event == START})
            return Graph(effects, tuple(begin), tuple(kept))
        links = fewer


def origins(reached: Reach) -> dict[int, frozenset[int]]:
    """For each target that may be hit, the starts of the pass from which a way leads to it.

    The facts of a pass are those of all its starts together, so a start may be named too many,
    never one too few.
    """
    assert reached.effects.carry is not None
    width = reached.effects.carry.positions
    begin = sorted(node for node in reached.nodes if node < width)  # rank 0: there from the start
    onward: dict[Node, list[Node]] = {}
    hits: dict[int, list[Node]] = {}
    for link in _links(reached, frozenset(reached.targets), None, None):
        source = link.name[0]
        if link.exit.target is None:
            onward.setdefault(source, []).append(link.goal)
        else:
            hits.setdefault(link.exit.target, []).append(source)
    # Each start carries one bit along the links.
    reaching = {start: 1 << number for number, start in enumerate(begin)}
    waiting = list(begin)
    while waiting:
        node = waiting.pop()
        for goal in onward.get(node, ()):
            known = reaching.get(goal, 0)
            if reaching[node] & ~known:
                reaching[goal] = known | reaching[node]
                waiting.append(goal)
    found: dict[int, frozenset[int]] = {}
    for target, sources in hits.items():
        bits = 0
        for source in sources:
            bits |= reaching.get(source, 0)
        found[target] = frozenset(begin[number] for number in members(bits))
    return found


def _leading_on(links: list[Link]) -> list[Link]:
    """The links that still lead to a target: the last forward pass may have cut some off."""
    into: dict[Node, list[Node]] = {}
    for link in links:
        into.setdefault(link.goal, []).append(link.name[0])
    leading = {HIT}
    queue = [HIT]
    while queue:
        for source in into.get(queue.pop(), ()):
            if source not in leading:
                leading.add(source)
                queue.append(source)
    return [link for link in links if link.goal in leading]


def _links(
    reached: Reach,
    targets: frozenset[int],
    known: dict[Node, Facts] | None,
    allowed: frozenset[Name] | None,
) -> list[Link]:
    """The links between the nodes reached, and to ``targets``."""
    effects = reached.effects
    assert effects.carry is not None
    width = effects.carry.positions
    links: list[Link] = []
    for node, facts in sorted(reached.nodes.items()):
        position, event = place_of(effects, node)
        place = effects.positions[position]
        if known is not None:
            more = known[node]
            facts = (facts[0] | more[0], facts[1] | more[1], facts[2] & more[2])
        for last, there in steps(effects, node, facts, place.movers):
            for index, exit_ in enumerate(place.exits[last]):
                name = (node, last, index)
                if allowed is not None and name not in allowed:
                    continue
                if exit_.target is not None and exit_.target not in targets:
                    continue
                case = exit_.case
                combined = _combine(there, case.early, case.late, case.worlds, 1 << last)
                if combined is None:
                    continue
                goal = HIT
                if exit_.target is None:
                    goal = (effects.rank[last] + 1) * width + exit_.to
                    if goal not in reached.nodes:
                        continue
                links.append(Link(name, goal, position, event, exit_, combined))
    return links


def _backward(effects: Effects, links: list[Link]) -> tuple[dict[Node, Facts], list[Link]]:
    """Facts that hold at each node on every way on to a target, and the links that are left."""
    into: dict[Node, list[Link]] = {}
    for link in links:
        into.setdefault(link.goal, []).append(link)
    known: dict[Node, Facts] = {}
    queue = [-HIT]
    queued = set(queue)
    while queue:
        goal = -heappop(queue)
        queued.discard(-goal)
        for link in into.get(goal, ()):
            there = _facts_before(effects, link, known)
            if there is None:
                continue
            source = link.name[0]
            old = known.get(source)
            if old is not None:
                there = (old[0] & there[0], old[1] & there[1], old[2] | there[2])
                if there == old:
                    continue
            known[source] = there
            if -source not in queued:
                queued.add(-source)
                heappush(queue, -source)
    return known, [link for link in links if _facts_before(effects, link, known) is not None]


def _facts_before(effects: Effects, link: Link, known: dict[Node, Facts]) -> Facts | None:
    """What holds at the source of a link whenever a way goes on through it; None if none can."""
    facts: Facts | None = link.facts
    here = 1 << link.last
    if link.goal != HIT:
        if link.goal not in known:
            return None
        more = known[link.goal]
        facts = _combine(link.facts, more[0], more[1], more[2], here)
        if facts is None:
            return None
    assert facts is not None
    early, late, worlds = facts
    if link.event == START:
        # Before the start there is nothing, so that an ender which is early cannot be avoided.
        sure = effects.positions[link.position].sure_in(worlds) & ~here
        return None if sure & early else (0, -1, worlds)
    start = 1 << link.event
    sure = effects.positions[link.position].sure_in(worlds) & ~(here | start)
    _, high = effects.between(link.event, link.last)
    forced = sure & early
    new_early = effects.before[link.event]
    while forced:
        ender = forced.bit_length() - 1
        new_early |= effects.before[ender] | 1 << ender
        forced &= ~new_early
    new_late = effects.after[link.event] | high | late | here
    if new_early & new_late or (new_early | new_late) & start:
        return None
    return new_early, new_late, worlds
