"""Our own search along the relaxed graph: exact, nearest first, meant for a few hundred nodes.

A state is a partial order, a set of worlds, and what is not yet settled:

* *stays*: from one event to a later one nothing may end a stay. An ender comes before the stay, or
  after it, or does not take place, or acts in a case that keeps the mark where it is. What a
  register holds is a stay too: from the write to the moment of reading, and every other write ends
  it.
* *wishes*: a register has one of some values at an event; which write gives it is open.
* *demands*: an ender surely falls within a stay, and must act in a case that keeps the mark.

Whatever has a single possibility left is settled at once. When a link cannot be added to a route,
the failure is explained by those few earlier links that suffice for it. Explanations are kept with
the node where the route ended: every later route that contains them is given up there.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass

from protocol_lang.order.bits import gather, members
from protocol_lang.order.effects import START, Case, Effects, Position
from protocol_lang.order.partial import PartialOrder
from protocol_lang.order.question import (
    Answer,
    Bits,
    Effort,
    Found,
    Hop,
    Impossible,
    Question,
)
from protocol_lang.order.relaxed import HIT, Graph, Link, Node
from protocol_lang.order.runs import Meter, OutOfBudgetError, linearise

#: What may end the stay, the event it begins with (or START), the event it lasts until.
Stay = tuple[Position, int, int]

#: Register, event, values allowed.
Wish = tuple[int, int, frozenset[int]]

#: An ender and its cases in which the mark stays.
Demand = tuple[int, tuple[Case, ...]]


@dataclass(slots=True)
class State:
    """Everything decided so far; copied when the search branches."""

    order: PartialOrder
    worlds: Bits
    stays: tuple[Stay, ...] = ()
    wishes: tuple[Wish, ...] = ()
    demands: tuple[Demand, ...] = ()
    #: Enders that already act in a keeping case of the position: (event, identity of the position).
    kept: frozenset[tuple[int, int]] = frozenset()

    def copy(self) -> State:
        """An independent copy."""
        return State(
            self.order.copy(), self.worlds, self.stays, self.wishes, self.demands, self.kept
        )


def search(
    effects: Effects, question: Question, graph: Graph | None, budget: int, effort: Effort
) -> Answer | None:
    """Decide over ``graph`` (None exactly when no carry is asked); None: the budget is spent."""
    meter = Meter(budget)
    looking = _Search(effects, graph, meter)
    try:
        return looking.run(question)
    except (OutOfBudgetError, RecursionError):
        # The second only with a budget far above the usual one: the search recurses node by node.
        return None
    finally:
        effort.nodes += meter.spent
        effort.explanations += looking.explained


class _Search:
    def __init__(self, effects: Effects, graph: Graph | None, meter: Meter) -> None:
        self.effects = effects
        self.graph = graph
        self.meter = meter
        self.explained = 0
        self.memories = [
            _memory(effects, number) for number in range(len(effects.network.registers))
        ]
        self.out: dict[Node, list[tuple[int, Link]]] = {}
        self.nogoods: dict[Node, list[Bits]] = {}
        self.base: State

    def run(self, question: Question) -> Answer:
        effects = self.effects
        order = PartialOrder(list(effects.before), list(effects.after), effects.network.blocks)
        wishes = tuple((s.register, s.event, s.values) for s in question.stands)
        self.base = State(order, effects.worlds, wishes=wishes)
        if self.graph is None:
            found = self.complete(self.base.copy())
            return Impossible() if found is None else Found(*found)
        if not self.settle(self.base):
            return Impossible()
        self._nearest_first(self.graph)
        for node in self.graph.starts:
            answer = self.explore(node, self.base, [])
            if isinstance(answer, Found):
                return answer
        return Impossible()

    def _nearest_first(self, graph: Graph) -> None:
        """Sort the links out of each node by how many links the nearest target is away."""
        into: dict[Node, list[Node]] = {}
        for link in graph.links:
            into.setdefault(link.goal, []).append(link.name[0])
        distance = {HIT: 0}
        queue = deque([HIT])
        while queue:
            goal = queue.popleft()
            for source in into.get(goal, ()):
                if source not in distance:
                    distance[source] = distance[goal] + 1
                    queue.append(source)
        for number, link in enumerate(graph.links):
            self.out.setdefault(link.name[0], []).append((number, link))
        for links in self.out.values():
            links.sort(key=lambda item: (distance[item[1].goal], item[1].name))

    # Routes

    def explore(self, node: Node, state: State, route: list[tuple[int, Link]]) -> Found | Bits:
        """Go on from a node; a run, or the links of the route that suffice for there being none."""
        self.meter.tick()
        taken = gather(number for number, _ in route)
        for nogood in self.nogoods.get(node, ()):
            if not nogood & ~taken:
                return nogood
        reasons = 0
        for number, link in self.out.get(node, ()):
            following = state.copy()
            if not self.add(following, link):
                reasons |= self.explain(route, link)
                continue
            longer = [*route, (number, link)]
            if link.goal == HIT:
                found = self.complete(following)
                if found is not None:
                    return Found(*found, tuple(_hop(link) for _, link in longer))
                reasons |= taken
                continue
            answer = self.explore(link.goal, following, longer)
            if isinstance(answer, Found):
                return answer
            reasons |= answer & ~(1 << number)
        self.nogoods.setdefault(node, []).append(reasons)
        return reasons

    def add(self, state: State, link: Link) -> bool:
        """Add a link to a state; False if that is surely impossible."""
        order = state.order
        last = link.last
        if link.event != START and not order.precede(link.event, last):
            return False
        case = link.exit.case
        early, late, worlds = link.facts
        state.worlds &= worlds
        if not state.worlds:
            return False
        # Facts of the relaxed graph hold on every way through this link.
        if early & ~order.before[last] and not order.precede_sets(early, 1 << last):
            return False
        late &= (1 << self.effects.network.events) - 1
        if late & ~order.after[last] and not order.precede_sets(1 << last, late):
            return False
        state.stays += ((self.effects.positions[link.position], link.event, last),)
        state.wishes += tuple((register, last, allowed) for register, allowed in case.conditions)
        return self.settle(state)

    def explain(self, route: list[tuple[int, Link]], link: Link) -> Bits:
        """Links of the route that ``link`` cannot go with: few, found by leaving out in turn."""
        self.explained += 1
        size = 1
        while size < len(route) and self.together(route[-size:], link):
            size *= 2
        needed = route[-size:]
        index = 0
        while index < len(needed):
            fewer = needed[:index] + needed[index + 1 :]
            if self.together(fewer, link):
                index += 1
            else:
                needed = fewer
        return gather(number for number, _ in needed)

    def together(self, route: list[tuple[int, Link]], link: Link) -> bool:
        """False only if these links cannot be in one run. Counts as a node: it costs as much."""
        self.meter.tick()
        state = self.base.copy()
        return all(self.add(state, earlier) for _, earlier in route) and self.add(state, link)

    # Settling what has one possibility left

    def settle(self, state: State) -> bool:
        """Draw all conclusions; False if there is a contradiction."""
        while True:
            changed = False
            for stay in state.stays:
                answer = self._settle_stay(state, stay)
                if answer is None:
                    return False
                changed = changed or answer
            for wish in state.wishes:
                writes = self.writes(state, wish)
                if not writes:
                    return False
                if len(writes) == 1:
                    if not self.choose_write(state, wish, writes[0]):
                        return False
                    changed = True
            for demand in state.demands:
                options = self.options(state, demand)
                if not options:
                    return False
                if len(options) == 1:
                    self.choose_option(state, demand, options[0])
                    changed = True
            if not changed:
                return True

    def _settle_stay(self, state: State, stay: Stay) -> bool | None:
        """Whether anything was concluded from one stay; None for a contradiction."""
        place, event, last = stay
        order = state.order
        changed = False
        free = self._free(state, stay)
        low, high = order.before[last], order.after[event] if event != START else -1
        touching = free & (low | high)
        if not touching:
            return False
        sure = place.sure_in(state.worlds)
        for ender in members(touching & sure):
            early, late = order.before[last] >> ender & 1, event == START
            late = late or bool(order.after[event] >> ender & 1)
            if early and late:
                return None
            if early and not order.precede(ender, event):
                return None
            if late and not order.precede(last, ender):
                return None
            changed = True
        for ender in members(touching & low & high & ~sure):
            if (ender, id(place)) in state.kept:
                continue
            conditional, free_worlds = self._keeping(state, place, ender)
            if not state.worlds & ~free_worlds:
                continue
            changed = True
            if conditional:
                state.demands += ((ender, tuple(place.keeping[ender])),)
                state.kept |= {(ender, id(place))}
            else:
                state.worlds &= free_worlds
                if not state.worlds:
                    return None
        return changed

    def _free(self, state: State, stay: Stay) -> Bits:
        """Enders that are not yet known to come before the stay or after it."""
        place, event, last = stay
        free = place.enders & ~state.order.after[last] & ~(1 << last)
        if event != START:
            free &= ~state.order.before[event] & ~(1 << event)
        return free

    def _keeping(self, state: State, place: Position, ender: int) -> tuple[list[Case], Bits]:
        """The conditional cases in which a mark stays, and the worlds in which it stays anyway."""
        free_worlds = ~self.effects.present[ender]
        conditional = []
        for case in place.keeping[ender]:
            if not case.conditions:
                free_worlds |= case.worlds
            elif case.worlds & state.worlds:
                conditional.append(case)
        return conditional, free_worlds & self.effects.worlds

    def writes(self, state: State, wish: Wish) -> list[int]:
        """The writes (or START) that may give a register one of the values wished for."""
        register, event, allowed = wish
        memory = self.effects.network.registers[register]
        place = self.memories[register]
        order, worlds = state.order, state.worlds
        sure = place.sure_in(worlds) & order.before[event]
        found = []
        if memory.initial in allowed and not sure:
            found.append(START)
        for write in members(place.enders & ~order.after[event] & ~(1 << event)):
            if (
                memory.writes[write] in allowed
                and self.effects.present[write] & worlds
                and not sure & order.after[write]
            ):
                found.append(write)
        return found

    def choose_write(self, state: State, wish: Wish, write: int) -> bool:
        """Let ``write`` (or START) be what the register holds; False for a contradiction."""
        register, event, _ = wish
        state.wishes = tuple(other for other in state.wishes if other is not wish)
        state.stays += ((self.memories[register], write, event),)
        if write == START:
            return True
        state.worlds &= self.effects.present[write]
        return bool(state.worlds) and state.order.precede(write, event)

    def options(self, state: State, demand: Demand) -> list[Case | Bits]:
        """How a demand may be met: a conditional case, or worlds in which nothing ends the stay."""
        ender, cases = demand
        free_worlds = self.effects.worlds & ~self.effects.present[ender]
        found: list[Case | Bits] = []
        for case in cases:
            if not case.conditions:
                free_worlds |= case.worlds
            elif case.worlds & state.worlds and all(
                self.writes(state, (register, ender, allowed))
                for register, allowed in case.conditions
            ):
                found.append(case)
        if free_worlds & state.worlds:
            found.append(free_worlds & state.worlds)
        return found

    def choose_option(self, state: State, demand: Demand, option: Case | Bits) -> None:
        """Meet a demand in this way."""
        state.demands = tuple(other for other in state.demands if other is not demand)
        if isinstance(option, Case):
            state.worlds &= option.worlds
            state.wishes += tuple(
                (register, option.event, allowed) for register, allowed in option.conditions
            )
        else:
            state.worlds &= option

    # Settling the rest by trying

    def complete(self, state: State) -> tuple[int, tuple[int, ...]] | None:
        """A world and an order in which everything open is settled; None if there is none."""
        self.meter.tick()
        if not self.settle(state):
            return None
        if state.demands:
            demand = state.demands[0]
            for option in self.options(state, demand):
                branch = state.copy()
                self.choose_option(branch, demand, option)
                found = self.complete(branch)
                if found is not None:
                    return found
            return None
        if state.wishes:
            wish = state.wishes[0]
            for write in self.writes(state, wish):
                branch = state.copy()
                if self.choose_write(branch, wish, write):
                    found = self.complete(branch)
                    if found is not None:
                        return found
            return None
        open_ender = self._open_ender(state)
        if open_ender is None:
            order = linearise(state.order, self.meter)
            return (
                None if order is None else ((state.worlds & -state.worlds).bit_length() - 1, order)
            )
        (place, event, last), ender = open_ender
        pairs = [(last, ender)] if event == START else [(ender, event), (last, ender)]
        if event != START and ender > event:
            pairs.reverse()
        for a, b in pairs:
            branch = state.copy()
            if branch.order.precede(a, b):
                found = self.complete(branch)
                if found is not None:
                    return found
        conditional, free_worlds = self._keeping(state, place, ender)
        if conditional or free_worlds & state.worlds:
            branch = state.copy()
            branch.demands += ((ender, tuple(place.keeping[ender])),)
            branch.kept |= {(ender, id(place))}
            return self.complete(branch)
        return None

    def _open_ender(self, state: State) -> tuple[Stay, int] | None:
        for stay in state.stays:
            place, _, _ = stay
            for ender in members(self._free(state, stay)):
                if (ender, id(place)) in state.kept:
                    continue
                _, free_worlds = self._keeping(state, place, ender)
                if state.worlds & ~free_worlds:
                    return stay, ender
        return None


def _memory(effects: Effects, register: int) -> Position:
    """A register as a position: every write that takes place ends what was written before."""
    present = effects.present
    writes = [w for w in effects.network.registers[register].writes if present[w]]
    return Position(
        enders=gather(writes),
        sure={write: present[write] for write in writes},
        keeping={write: [] for write in writes},
    )


def _hop(link: Link) -> Hop:
    exit_ = link.exit
    return Hop(link.last, exit_.case.way, link.position, exit_.to, exit_.target)
