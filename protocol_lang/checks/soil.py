"""Findings about soil: one for each cause, told as the story of how it travels.

Many hits can have one cause. They are one finding if the same tried change removes them; the one
with the shortest story is told, and what else the soil reaches is said beside it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from protocol_lang.checks.keys import Key, key_of_hit
from protocol_lang.checks.remedies import Trials, Worked
from protocol_lang.checks.story import Names, contexts, route_of_soil
from protocol_lang.contamination.judge import Judgement
from protocol_lang.contamination.kernel import Origin, Reached
from protocol_lang.contamination.unfold import Unfolded
from protocol_lang.contamination.visits import Hit
from protocol_lang.findings import Finding, Remedy

_FIRST_TOLD = (
    Reached.PATIENT,
    Reached.CLAIM,
    Reached.STAFF,
    Reached.CLEAN_THING,
    Reached.HANDS_AT_END,
)


class SoilFindings:
    """Makes the findings about soil of one judgement. ``mend``: whether to try changes."""

    def __init__(self, unfolded: Unfolded, judgement: Judgement, mend: bool) -> None:
        self.unfolded = unfolded
        self.judgement = judgement
        self.names = Names(unfolded)
        self.contexts = contexts(unfolded)
        self.trials = Trials(unfolded, judgement) if mend else None

    def all(self) -> Iterator[Finding]:
        """Every finding about soil, each cause once."""
        left = self._by_key()
        while left:
            key, hit = min(left.items(), key=lambda item: self._weight(item[1]))
            worked = self.trials.for_hit(hit, key) if self.trials is not None else []
            same = [
                other
                for other in left
                if other != key and self._same_cause(hit, left[other], other, worked)
            ]
            yield self._finding(hit, worked, [left[other] for other in same])
            for other in (key, *same):
                del left[other]

    def _by_key(self) -> dict[Key, Hit]:
        """One hit for each thing reached, the hardest class as witness, all classes named."""
        found: dict[Key, Hit] = {}
        for hit in self.judgement.hits:
            key = key_of_hit(self.names, hit, self.unfolded)
            known = found.get(key)
            if known is None:
                found[key] = hit
            else:
                classes = tuple(dict.fromkeys(known.classes + hit.classes))
                shorter = min(known, hit, key=self._weight)
                found[key] = replace(shorter, classes=classes)
        return found

    def _weight(self, hit: Hit) -> tuple[int, ...]:
        hops = sum(len(leg.route) for leg in hit.legs)
        return (_FIRST_TOLD.index(hit.who), len(hit.legs), hops, hit.spot)

    def _same_cause(self, hit: Hit, other: Hit, key: Key, worked: list[Worked]) -> bool:
        if worked:
            return key not in worked[0].left
        return other.origin is hit.origin and (
            other.who is hit.who or other.legs[0].route[:1] == hit.legs[0].route[:1]
        )

    def _finding(self, hit: Hit, worked: list[Worked], same: list[Hit]) -> Finding:
        act = self.unfolded.acts[hit.act]
        route = route_of_soil(self.unfolded, self.names, hit)
        kind, facts = self._kind(hit)
        if route.steps:
            facts["first"] = route.steps[0].text
            facts["last"] = route.steps[-1].text
        also = list(dict.fromkeys(self._reached(other) for other in same))
        if also:
            facts["follows"] = "the same soil also reaches " + _listed(also)
        remedies = tuple(one.remedy for one in worked)
        order = next((one for one in remedies if one.kind == "add-after"), None)
        if order is not None:
            kind, facts = "not-ordered", self._not_ordered(order, hit, facts)
        place = act.place
        if place is None:
            place = next(
                (step.place for step in reversed(route.steps) if step.place is not None),
                self.unfolded.protocol.header.place,
            )
        return Finding(
            kind,
            place,
            facts,
            context=self.contexts.get(hit.act),
            route=route,
            remedies=remedies,
        )

    def _not_ordered(self, order: Remedy, hit: Hit, facts: dict[str, str]) -> dict[str, str]:
        told = {
            "first": order.facts["of"],
            "second": order.facts["step"],
            "reaches": self._reached(hit),
        }
        if "follows" in facts:
            told["follows"] = facts["follows"]
        return told

    def _visit(self, hit: Hit) -> int:
        return len(hit.legs) if hit.origin is Origin.PATIENT else 1

    def _reached(self, hit: Hit) -> str:
        return self.names.spot(hit.spot, self._visit(hit))

    def _kind(self, hit: Hit) -> tuple[str, dict[str, str]]:
        name = self._reached(hit)
        owner, _, part = self.names.spot(hit.spot).rpartition("'s ")
        match hit.who:
            case Reached.PATIENT if hit.origin is Origin.PATIENT:
                start = hit.legs[0].route[0].start
                return "path-to-patient", {"who": name, "from_what": self.names.at(start, 1)}
            case Reached.PATIENT:
                return "world-to-patient", {"origin": hit.origin.value, "part": name}
            case Reached.STAFF:
                return "path-to-staff", {"who": owner or name, "part": part}
            case Reached.CLEAN_THING:
                return "clean-thing-reached", {"thing": name}
            case Reached.HANDS_AT_END:
                return "hands-at-end", {"who": owner or name}
            case Reached.CLAIM:
                return "claim-not-clean", {"what": name, "step": self.unfolded.acts[hit.act].text}


def _listed(names: list[str]) -> str:
    return names[0] if len(names) == 1 else ", ".join(names[:-1]) + " and " + names[-1]
