"""Soil of every class and origin: who is safe, and who is reached and how.

The classes of the published order of resistance are looked at in groups that no treatment of the
plan tells apart, the hardest first. Where every level that ends a class also ends all easier ones,
the hardest group speaks for all: it gets wherever an easier one gets. Chemicals have no class that
matters and are looked at by themselves.
"""

from __future__ import annotations

from collections.abc import Container, Iterator
from dataclasses import dataclass

from protocol_lang.contamination.kernel import Bits, Origin, Plan
from protocol_lang.contamination.marks import Layout, Spread, class_groups
from protocol_lang.contamination.visits import Grouping, Hit, Open, Soil, Suspect
from protocol_lang.order.effects import Effects
from protocol_lang.order.question import Budget, Effort
from protocol_lang.order.relaxed import Reach


def hardest_speaks_for_all(plan: Plan) -> bool:
    """Whether every level that ends a class also ends all easier ones.

    Then soil of the hardest class gets wherever that of an easier one gets, and no hit for the
    hardest means no hit at all (the monotone rule of the published order of resistance).
    """
    return all(
        klass in level.ends or plan.classes[number - 1] not in level.ends
        for level in plan.levels
        for number, klass in enumerate(plan.classes)
        if number
    )


@dataclass(frozen=True, slots=True)
class _Group:
    """Soil that moves alike: classes of germs, or chemicals (then of all classes)."""

    classes: tuple[str, ...]
    chemical: bool = False


class Paths:
    """Answers about soil for one plan. Tables are made when they are first needed and then kept."""

    def __init__(
        self, layout: Layout, judged: Bits, ready: Bits, budget: Budget, effort: Effort
    ) -> None:
        """``judged``: the worlds without missteps; ``ready``: those of which soil goes on."""
        self._layout = layout
        self._judged = judged
        self._ready = ready
        self._budget = budget
        self._effort = effort
        germs = [_Group(classes) for classes in class_groups(layout)]
        self._soils: dict[_Group, Soil] = {}
        self._origins = [
            origin
            for origin in Origin
            if any(source.origin is origin for source in layout.plan.sources)
        ]
        chemicals = (
            [_Group(layout.plan.classes, chemical=True)] if Origin.CHEMICAL in self._origins else []
        )
        self._groups = germs + chemicals
        #: The groups that have to be looked at to speak for all.
        self._speaking = (
            germs[:1] + chemicals if hardest_speaks_for_all(layout.plan) else self._groups
        )

    @property
    def undecided(self) -> tuple[Open, ...]:
        """Questions that were left open for want of budget."""
        return tuple(one for soil in self._soils.values() for one in soil.undecided)

    @property
    def spreads(self) -> tuple[Spread, ...]:
        """How soil moves that speaks for all: germs, and last, if there are any, chemicals."""
        return tuple(self._soil(group).spread for group in self._speaking)

    def _soil(self, group: _Group) -> Soil:
        soil = self._soils.get(group)
        if soil is None:
            soil = self._soils[group] = self._make(group)
        return soil

    def _make(self, group: _Group, only_by: frozenset[str] | None = None) -> Soil:
        return Soil(
            Spread(self._layout, group.classes, only_by, group.chemical),
            self._judged,
            self._ready,
            self._budget,
            self._effort,
        )

    def _origins_of(self, group: _Group) -> Iterator[Origin]:
        """The origins of the soil of a group that the plan has."""
        return (one for one in self._origins if (one is Origin.CHEMICAL) is group.chemical)

    def suspects(self) -> frozenset[Suspect]:
        """Whom soil may reach; everybody else is proved safe."""
        if not self._judged:
            return frozenset()
        return frozenset(
            suspect
            for group in self._speaking
            for origin in self._origins_of(group)
            for suspect in self._soil(group).suspects(origin)
        )

    def passes(self) -> Iterator[tuple[object, Reach]]:
        """Every pass of relaxation over a visit, with a word for what goes on in it: which soil,
        whose, and whether in its own visit."""
        if not self._judged:
            return
        for group in self._speaking:
            for origin in self._origins_of(group):
                for own, passed in self._soil(group).passes(origin):
                    yield (group, origin, own), passed

    def tables(self, number: int, worlds: Bits) -> Effects:
        """What acts do to soil in some of the worlds that were judged, without working it out anew.

        ``number``: of the spread, among :attr:`spreads`.
        """
        return self._soil(self._speaking[number]).table(worlds)

    def suspects_by_way_of(self, names: frozenset[str]) -> frozenset[Suspect]:
        """Whom soil may reach if it could pass only spots of these names."""
        if not self._judged:
            return frozenset()
        return frozenset(
            suspect
            for group in self._speaking
            for soil in (self._make(group, names),)
            for origin in self._origins_of(group)
            for suspect in soil.suspects(origin)
        )

    def first(self, wanted: frozenset[Suspect]) -> Hit | None:
        """A hit on one of those wanted, by the hardest class that gets there; None: there is none.

        None may also mean "not decided": then :attr:`undecided` has grown.
        """
        for group in self._speaking:
            hit = self._first_of(group, wanted)
            if hit is not None:
                return hit
        return None

    def met_in(self, hit: Hit) -> frozenset[Suspect]:
        """Everybody whom soil of its classes reaches in the very history of a hit."""
        group = _Group(hit.classes, chemical=hit.origin is Origin.CHEMICAL)
        return self._soil(group).met_in(hit)

    def classes_reaching(self, hit: Hit) -> tuple[str, ...]:
        """The classes of soil that get there: in the history of the hit, or in some other."""
        suspect = Suspect(hit.who, hit.claim, hit.spot, hit.origin)
        return tuple(
            klass
            for group in self._groups
            if self._gets_there(group, hit, suspect)
            for klass in group.classes
        )

    def _gets_there(self, group: _Group, hit: Hit, suspect: Suspect) -> bool:
        if group.chemical is not (hit.origin is Origin.CHEMICAL):
            return False
        if suspect in self._soil(group).met_in(hit):
            return True
        return self._first_of(group, frozenset({suspect})) is not None

    def _first_of(self, group: _Group, wanted: frozenset[Suspect]) -> Hit | None:
        for origin in self._origins_of(group):
            among: Container[Suspect] = {one for one in wanted if one.origin is origin}
            if not among:
                continue
            for part in range(len(self._layout.plan.clinic)):
                hit = self._soil(group).first(origin, part, among)
                if hit is not None:
                    return hit
        return None

    def every(self, grouping: Grouping) -> tuple[Hit, ...]:
        """All hits of all classes, one witness for each group: for comparison and study."""
        if not self._judged:
            return ()
        return tuple(
            hit
            for group in self._groups
            for origin in self._origins_of(group)
            for part in range(len(self._layout.plan.clinic))
            for hit in self._soil(group).hits(origin, part, grouping)
        )
