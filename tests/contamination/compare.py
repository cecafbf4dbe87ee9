"""What the engine and the simulator say of a plan, in the same form."""

from __future__ import annotations

from dataclasses import dataclass

from protocol_lang.contamination.judge import Judgement, judge
from protocol_lang.contamination.kernel import OF_PATIENTS, Bits, Plan
from protocol_lang.contamination.visits import Suspect, by_act
from tests.oracles.simulator import simulate


@dataclass(frozen=True)
class Verdicts:
    """Sets of plain tuples; worlds with a misstep are named and otherwise left out."""

    possible: bool
    misstep_worlds: frozenset[int] = frozenset()
    ambiguous: frozenset[tuple[int, int, int]] = frozenset()
    claims: frozenset[tuple[int, int, int]] = frozenset()
    not_ready: frozenset[tuple[int, str, int]] = frozenset()
    left_over: frozenset[tuple[int, int]] = frozenset()
    hits: frozenset[tuple[object, ...]] = frozenset()
    reached: frozenset[tuple[object, ...]] = frozenset()


def of_engine(plan: Plan) -> Verdicts:
    """What the engine decides; every hit of every class is asked for, and each suspect by
    itself."""
    judged = judge(plan)
    if judged.circle is not None or judged.no_run:
        return Verdicts(False)
    assert not judged.undecided
    assert judged.paths is not None
    missteps = {world for one in judged.missteps for world in members(one.worlds)}
    hits = frozenset(
        (
            hit.part,
            hit.who,
            hit.claim,
            hit.spot,
            hit.origin,
            klass,
            hit.own or hit.origin not in OF_PATIENTS,
            hit.act,
        )
        for hit in judged.paths.every(by_act)
        for klass in hit.classes
    )
    verdicts = Verdicts(
        True,
        frozenset(missteps),
        frozenset((w, one.act, one.hold) for one in judged.which for w in members(one.worlds)),
        frozenset((w, one.act, one.claim) for one in judged.claims for w in members(one.worlds)),
        frozenset(
            (w, one.kind, one.number) for one in judged.not_ready for w in members(one.worlds)
        ),
        frozenset((w, one.piece) for one in judged.left_over for w in members(one.worlds)),
        hits,
        _reached(judged),
    )
    assert not judged.paths.undecided
    return verdicts


def _reached(judged: Judgement) -> frozenset[tuple[object, ...]]:
    """Those suspects that are really reached, by the question that a check asks."""
    assert judged.paths is not None
    reached: set[Suspect] = set()
    beside: set[Suspect] = set()
    for suspect in judged.suspects:
        hit = judged.paths.first(frozenset({suspect}))
        if hit is not None:
            met = judged.paths.met_in(hit)
            assert suspect in met
            reached.add(suspect)
            beside |= met
    assert beside == reached, "somebody is met in a history, and not reached"
    return frozenset((one.who, one.claim, one.spot, one.origin) for one in reached)


def of_simulator(plan: Plan) -> Verdicts:
    """What the simulator sees, with histories of any length."""
    seen = simulate(plan, visits=None)
    if not seen.possible:
        return Verdicts(False)
    wrong = seen.misstep_worlds
    return Verdicts(
        True,
        wrong,
        frozenset(one for one in seen.ambiguous if one[0] not in wrong),
        frozenset(one for one in seen.claims if one[0] not in wrong),
        frozenset(one for one in seen.not_ready if one[0] not in wrong),
        frozenset(one for one in seen.left_over if one[0] not in wrong),
        frozenset(seen.hits),
        frozenset((who, claim, spot, origin) for _, who, claim, spot, origin, *_ in seen.hits),
    )


def members(worlds: Bits) -> list[int]:
    """The worlds of a set."""
    return [world for world in range(worlds.bit_length()) if worlds >> world & 1]
