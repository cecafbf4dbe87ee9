"""Soil of every class and origin: who is safe, and who is reached and how.

The classes of the published order of resistance are looked at in groups that no treatment of the
plan tells apart, the hardest first. Where every level that ends a class also ends all easier ones,
the hardest group speaks for all: it gets wherever an easier one gets.
"""

from __future__ import annotations

from collections.abc import Container

from protocol_lang.contamination.kernel import Bits, Origin, Plan
from protocol_lang.contamination.marks import Layout, Spread, class_groups
from protocol_lang.contamination.visits import Grouping, Hit, Open, Soil, Suspect
from protocol_lang.order.question import Budget, Effort


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
        self._groups = class_groups(layout)
        self._monotone = hardest_speaks_for_all(layout.plan)
        self._soils: dict[tuple[str, ...], Soil] = {}
        self._origins = [
            origin
            for origin in Origin
            if any(source.origin is origin for source in layout.plan.sources)
        ]

    @property
    def undecided(self) -> tuple[Open, ...]:
        """Questions that were left open for want of budget."""
        return tuple(one for soil in self._soils.values() for one in soil.undecided)

    def _soil(self, classes: tuple[str, ...]) -> Soil:
        soil = self._soils.get(classes)
        if soil is None:
            soil = self._soils[classes] = Soil(
                Spread(self._layout, classes),
                self._judged,
                self._ready,
                self._budget,
                self._effort,
            )
        return soil

    def _speaking(self) -> tuple[tuple[str, ...], ...]:
        """The groups that have to be looked at to speak for all."""
        return self._groups[:1] if self._monotone else self._groups

    def suspects(self) -> frozenset[Suspect]:
        """Whom soil may reach; everybody else is proved safe."""
        if not self._judged:
            return frozenset()
        return frozenset(
            suspect
            for classes in self._speaking()
            for origin in self._origins
            for suspect in self._soil(classes).suspects(origin)
        )

    def suspects_by_way_of(self, names: frozenset[str]) -> frozenset[Suspect]:
        """Whom soil may reach if it could pass only spots of these names."""
        if not self._judged:
            return frozenset()
        return frozenset(
            suspect
            for classes in self._speaking()
            for soil in (
                Soil(
                    Spread(self._layout, classes, names),
                    self._judged,
                    self._ready,
                    self._budget,
                    self._effort,
                ),
            )
            for origin in self._origins
            for suspect in soil.suspects(origin)
        )

    def first(self, wanted: frozenset[Suspect]) -> Hit | None:
        """A hit on one of those wanted, by the hardest class that gets there; None: there is none.

        None may also mean "not decided": then :attr:`undecided` has grown.
        """
        for classes in self._speaking():
            hit = self._first_of(classes, wanted)
            if hit is not None:
                return hit
        return None

    def classes_reaching(self, suspect: Suspect) -> tuple[str, ...]:
        """The classes of soil that get there."""
        wanted = frozenset({suspect})
        return tuple(
            klass
            for classes in self._groups
            if self._first_of(classes, wanted) is not None
            for klass in classes
        )

    def _first_of(self, classes: tuple[str, ...], wanted: frozenset[Suspect]) -> Hit | None:
        for origin in self._origins:
            among: Container[Suspect] = {one for one in wanted if one.origin is origin}
            if not among:
                continue
            for part in range(len(self._layout.plan.clinic)):
                hit = self._soil(classes).first(origin, part, among)
                if hit is not None:
                    return hit
        return None

    def every(self, grouping: Grouping) -> tuple[Hit, ...]:
        """All hits of all classes, one witness for each group: for comparison and study."""
        if not self._judged:
            return ()
        return tuple(
            hit
            for classes in self._groups
            for origin in self._origins
            for part in range(len(self._layout.plan.clinic))
            for hit in self._soil(classes).hits(origin, part, grouping)
        )
