"""The dependency picture: which step must come before which."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import pairwise

from protocol_lang.contamination.judge import Judgement
from protocol_lang.contamination.kernel import AllOf, AnyOf, Bits, FactIs, IsWet, LayerHas, Not
from protocol_lang.contamination.kernel import Claim as KernelClaim
from protocol_lang.contamination.marks import Layout
from protocol_lang.contamination.unfold import Unfolded
from protocol_lang.diagram import Arrow, Graph, Node, Route
from protocol_lang.findings import Finding
from protocol_lang.model.steps import Step
from protocol_lang.model.walk import steps_of
from protocol_lang.order.effects import START
from protocol_lang.pages.choosing import Choices, worlds_wanted

#: What is said beside the title of a phase for whose end nobody waits.
RUNS_ON = "may run into the next visit"


def picture(
    unfolded: Unfolded, judgement: Judgement, wanted: Choices, finding: Finding | None = None
) -> Graph:
    """Which step must come before which, in the worlds that agree with ``wanted``.

    Steps are numbered through; with all choices settled, the numbers are those of the chart.
    ``finding``: its route is drawn over the picture, with the steps of every visit.
    Raises ValueError if the order of the steps runs in a circle.
    """
    layout = judgement.layout
    if layout is None:
        raise ValueError("the order runs in a circle")
    return _Picture(unfolded, layout, worlds_wanted(unfolded, wanted)).graph(finding)


class _Picture:
    def __init__(self, unfolded: Unfolded, layout: Layout, worlds: tuple[int, ...]) -> None:
        self.unfolded = unfolded
        self.layout = layout
        self.worlds: Bits = sum(1 << world for world in worlds)
        #: (number of the step, its acts): of what is repeated one round, and nothing of mishaps
        self.steps = [
            (step, numbers)
            for step, numbers in enumerate(unfolded.acts_of)
            if self._worlds_of(numbers) and self._is_drawn(unfolded.steps[step])
        ]
        self.step_of = {act: step for step, numbers in self.steps for act in numbers}

    def _worlds_of(self, acts: Iterable[int]) -> Bits:
        """The worlds, of those shown, in which one of the acts is done."""
        found: Bits = 0
        for act in acts:
            found |= self.unfolded.plan.acts[act].worlds
        return found & self.worlds

    def _is_drawn(self, step: Step) -> bool:
        if any(one.number > 1 for one in step.rounds):
            return False
        return all(
            step.place != other.place
            for mishap in self.unfolded.protocol.mishaps
            for other in steps_of(mishap.items)
        )

    def graph(self, finding: Finding | None) -> Graph:
        protocol = self.unfolded.protocol
        shown: list[str] = []
        nodes: list[Node] = []
        for number, (step, acts) in enumerate(self.steps, start=1):
            note = self.unfolded.acts[acts[0]]
            record = self.unfolded.steps[step]
            title = note.phase or ""
            if title not in shown:
                shown.append(title)
            nodes.append(
                Node(
                    id=str(step),
                    number=number,
                    text=record.short or record.text,
                    person=note.person,
                    phase=shown.index(title),
                    condition=self._condition(self._worlds_of(acts)),
                )
            )
        short = {
            phase.title: (phase.short or phase.title) + (f" ({RUNS_ON})" if phase.runs_on else "")
            for phase in protocol.phases
        }
        return Graph(
            title=protocol.header.title,
            phases=tuple(short[title] for title in shown),
            nodes=tuple(nodes),
            before=tuple(self._before()),
            makes_true=tuple(self._makes_true()),
            route=self._route(finding),
        )

    def _condition(self, within: Bits) -> str | None:
        """The choices for which a step is done, where it is not done for all that are shown."""
        if within == self.worlds:
            return None
        inside = [w for w in range(self.unfolded.plan.worlds) if within >> w & 1]
        outside = [
            w for w in range(self.unfolded.plan.worlds) if self.worlds >> w & 1 and w not in inside
        ]
        told = []
        for choice in self.unfolded.worlds.choices:
            values = [v for v in choice.values if v in self._values(choice.name, inside)]
            if not values:
                continue
            others = self._values(choice.name, outside)
            if set(values) != self._values(choice.name, [*inside, *outside]) and (
                others - set(values)
            ):
                told.append(f"{choice.name}: {' or '.join(values)}")
        return "; ".join(told) or None

    def _values(self, name: str, worlds: Iterable[int]) -> set[str]:
        return {
            combination.get(name, "")
            for world in worlds
            for combination in self.unfolded.worlds.examples[world]
        }

    def _before(self) -> Iterator[Arrow]:
        for first, acts in self.steps:
            for second, others in self.steps:
                if first != second and self._comes_first(acts, others):
                    yield Arrow(str(first), str(second))

    def _comes_first(self, acts: Sequence[int], others: Sequence[int]) -> bool:
        """Whether the one step comes surely before the other; acts for different worlds, which are
        never both done, have no say."""
        before, of = self.layout.network.before, self.unfolded.plan.acts
        last, first = acts[-1], others[0]
        if of[acts[0]].worlds == of[last].worlds and of[first].worlds == of[others[-1]].worlds:
            return bool(before[first] >> last & 1)
        both = [(a, b) for a in acts for b in others if of[a].worlds & of[b].worlds]
        return bool(both) and all(before[b] >> a & 1 for a, b in both)

    def _makes_true(self) -> Iterator[Arrow]:
        """From each step that makes an "only when" of another true."""
        plan = self.unfolded.plan
        found: dict[Arrow, None] = {}
        for step, acts in self.steps:
            for act in acts:
                for number in plan.acts[act].claims:
                    if self.unfolded.claims[number].kind != "only-when":
                        continue  # duties are of everybody at all times
                    for writer in self._writers(act, plan.claims[number], True):
                        source = self.step_of.get(writer)
                        if source is not None and source != step:
                            found[Arrow(str(source), str(step))] = None
        return iter(found)

    def _writers(self, act: int, claim: KernelClaim, holds: bool) -> Iterator[int]:
        registers = self.layout.registers
        match claim:
            case Not(part):
                yield from self._writers(act, part, not holds)
                return
            case AllOf(parts) | AnyOf(parts):
                for part in parts:
                    yield from self._writers(act, part, holds)
                return
            case FactIs(fact, value):
                register, good = registers.fact(fact), frozenset({int(value)})
            case LayerHas(layer, pieces):
                register, good = registers.layer(layer), pieces
            case IsWet(treatment):
                register, good = registers.wet(treatment), frozenset({1})
        for writer, written, worlds in self.layout.possible.writers(register, act):
            if writer != START and (written in good) is holds and worlds & self.worlds:
                yield writer

    def _route(self, finding: Finding | None) -> Route | None:
        """The steps of a finding's route, and what takes the soil from each to the next."""
        if finding is None or finding.route is None:
            return None
        by_place = {self.unfolded.steps[step].place: str(step) for step, _ in self.steps}
        stops = [stop for stop in finding.route.steps if stop.place in by_place]
        carries = []
        for stop, following in pairwise(stops):
            carrier = stop.moves[-1][1] if stop.moves else ""
            later = following.visit - stop.visit
            carries.append(f"{carrier}, next visit" if later and carrier else carrier)
        nodes = tuple(by_place[stop.place] for stop in stops if stop.place is not None)
        return Route(nodes, tuple(carries)) if nodes else None
