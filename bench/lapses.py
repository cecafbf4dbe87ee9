"""What the search for smallest sets of lapses costs: shipped protocols, growth, another solver.

Processor time of this process. Bars: sets of up to two lapses of the largest shipped protocol in
2 s, of three in 20 s (``python -m bench.lapses three`` measures three, which takes many minutes);
twelve choices of two values each, 4,096 combinations, checked in 5 s.

The family for the comparison: n surfaces, each met by used gloves and then wiped twice. Both
wipings of one surface left out bring soil to the next patient, and nothing less does: n smallest
sets of two. The answer-set solver (clingo) gets two visits of the same acts unrolled, one atom for
each lapse, and lists the sets that are minimal by inclusion (domain heuristics). The simulator of
the tests, in Python, does every pair by hand, and goes through states one by one; what a compiled
explorer makes of visits without lapses is measured by ``python -m bench.explicit``.
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from itertools import combinations
from pathlib import Path
from typing import TypeVar

import clingo

from bench.check import longest, of_one_image, with_exposures
from protocol_lang.contamination.kernel import (
    Act,
    Acts,
    Amount,
    Body,
    Fit,
    Layer,
    Level,
    Meet,
    Origin,
    Outer,
    Piece,
    Plan,
    Reach,
    Reached,
    Retire,
    Source,
    Spot,
    Treat,
    Unfit,
)
from protocol_lang.lapses.kinds import Hands, Kind
from protocol_lang.lapses.making import Lapses
from protocol_lang.lapses.search import Smallest, smallest_sets
from protocol_lang.lapses.spread import Opens
from protocol_lang.lapses.telling import lapses_in
from protocol_lang.pipeline import check_file
from tests.oracles.lapsed import NEXT, what_opens

BAR_TWO, BAR_THREE, BAR_CHOICES = 2.0, 20.0, 5.0


T = TypeVar("T")


def timed(what: Callable[[], T]) -> tuple[float, T]:
    """(seconds of processor time, what came of it)."""
    begun = time.process_time()
    came = what()
    return time.process_time() - begun, came


def shipped(path: Path, most: int, bar: float | None) -> None:
    """One row: a shipped protocol, without the check before."""
    found = check_file(path, mend=False)
    assert found.unfolded is not None and found.judgement is not None
    unfolded, judgement = found.unfolded, found.judgement

    def search() -> tuple[Lapses, Smallest]:
        lapses = lapses_in(unfolded, judgement)
        return lapses, smallest_sets(lapses, most)

    spent, (lapses, smallest) = timed(search)
    sets = sum(map(len, smallest.sets.values()))
    told = "" if bar is None else f"   bar {bar:g} s: {'kept' if spent <= bar else 'NOT KEPT'}"
    print(
        f"  {path.stem:34} up to {most}: {spent:7.2f} s   {len(lapses.all)} lapses, "
        f"{len(lapses.worlds)} worlds, {smallest.looked_at:,} sets looked at, {sets} smallest"
        f"{told}",
        flush=True,
    )


def wiped_twice(surfaces: int) -> Plan:
    """The family: mouth, gloves, n surfaces; each surface is wiped twice after it was met."""
    anybody = frozenset({Amount.FULL, Amount.TRACE})
    mouth = Reach(Reached.PATIENT, frozenset({Origin.PATIENT}), anybody, own=False)
    spots = (
        Spot("mouth", False, (), (mouth,)),
        Spot("gloves", False),
        *(Spot(f"surface {number}", True) for number in range(surfaces)),
    )
    gloves, first = Outer(1), 2
    acts = [Act(f"meets {n}", 0, 1, (Meet((gloves, Outer(first + n))),)) for n in range(surfaces)]
    acts.append(Act("mouth", 0, 1, (Meet((gloves, Outer(0))),)))
    acts += [
        Act(f"meets {n} again", 0, 1, (Meet((gloves, Outer(first + n))),)) for n in range(surfaces)
    ]
    acts += [
        Act(f"wipes {n}", 0, 1, (Treat((Outer(first + n),), 0),))
        for n in range(surfaces)
        for _ in range(2)
    ]
    acts.append(Act("end", None, 1, ()))
    return Plan(
        worlds=1,
        clinic=(1,),
        classes=("any",),
        levels=(Level("wipe", 1, frozenset({"any"}), Acts.ALL),),
        spots=spots,
        pieces=(),
        layers=(),
        bodies=tuple(Body(spot) for spot in range(len(spots))),
        holds=0,
        facts=(),
        treatments=(),
        claims=(),
        sources=(Source(0, Origin.PATIENT, Amount.FULL, lasting=True),),
        acts=tuple(acts),
        order=tuple((act, act + 1) for act in range(len(acts) - 1)),
        together=(),
    )


def by_clingo(plan: Plan) -> int:
    """How many sets of at most two are minimal, by an answer-set solver over two visits."""
    facts: list[str] = []
    at = 0
    lapsing: dict[int, int] = {}
    for visit in range(2):
        for number, act in enumerate(plan.acts):
            for effect in act.effects:
                at += 1
                if isinstance(effect, Meet):
                    one, other = (t.body for t in effect.targets if isinstance(t, Outer))
                    facts += [
                        f"meet({at},{one},{other},{visit}).",
                        f"meet({at},{other},{one},{visit}).",
                    ]
                elif isinstance(effect, Treat):
                    lapsing.setdefault(number, len(lapsing))
                    (target,) = effect.targets
                    assert isinstance(target, Outer)
                    facts.append(f"wipe({at},{target.body},{lapsing[number]}).")
        if not visit:
            at += 1
            facts.append(f"border({at}).")
    lasting = " ".join(f"lasts({n})." for n, spot in enumerate(plan.spots) if spot.lasting)
    program = f"""
        {" ".join(facts)} {lasting} time(0..{at}). {{ out(0..{len(lapsing) - 1}) }}.
        :- #count {{ L : out(L) }} > 2.
        on(T,B) :- meet(T,0,B,0).
        on(T,B) :- meet(T,A,B,_), on(T-1,A).
        ended(T,B) :- wipe(T,B,L), not out(L).
        ended(T,B) :- border(T), on(T-1,B), not lasts(B).
        on(T,B) :- on(T-1,B), time(T), not ended(T,B).
        hit :- meet(T,A,0,1), on(T-1,A).
        :- not hit.
        #show out/1. #heuristic out(L) : L = 0..{len(lapsing) - 1}. [1,false]
    """
    control = clingo.Control(["0", "--heuristic=Domain", "--enum-mode=domRec", "--warn=none"])
    control.add("base", [], program)
    control.ground([("base", [])])
    found = 0
    with control.solve(yield_=True) as handle:
        for _ in handle:
            found += 1
    return found


def by_hand(plan: Plan) -> int:
    """How many sets of two open the path, by doing every one of them."""
    lapses = Lapses(plan, Hands(), 1)
    return sum(
        NEXT in what_opens(plan, {}, [lapses.all[one] for one in pair])
        for pair in combinations(range(len(lapses.all)), 2)
    )


def side_by_side() -> None:
    """The family, asked three ways."""
    print("\n  surfaces wiped twice: smallest sets of two, seconds")
    print(f"  {'surfaces':>9} {'lapses':>7} {'ours':>8} {'clingo':>8} {'ratio':>7} {'by hand':>8}")
    for surfaces in (2, 4, 8, 16, 32):
        plan = wiped_twice(surfaces)
        lapses = Lapses(plan, Hands(), 1)
        assert all(one.kind is Kind.LEFT_OUT for one in lapses.all)
        ours, found = timed(partial(smallest_sets, lapses, 2))
        theirs, minimal = timed(partial(by_clingo, plan))
        assert len(found.sets[Opens.NEXT_PATIENT]) == minimal == surfaces
        hand = ""
        if surfaces <= 4:
            spent, opening = timed(partial(by_hand, plan))
            assert opening == surfaces
            hand = f"{spent:8.2f}"
        print(
            f"  {surfaces:9} {len(lapses.all):7} {ours:8.3f} {theirs:8.3f} "
            f"{theirs / ours:7.2f} {hand}",
            flush=True,
        )


def of_choices(choices: int, apart: bool) -> str:
    """A protocol in which every choice has a stage of its own; ``apart``: with hands cleaned after
    each, else hands carry what they met from one to the next."""
    room = (
        'protocol "Many choices"\n  takes words from "Many things"\n\nchoices, each visit\n'
        + "".join(f"  choice {chr(97 + n)}: yes, no\n" for n in range(choices))
        + '\nphase "All"\n  [ ] operator cleans hands\n'
    )
    for number in range(choices):
        letter = chr(97 + number)
        room += f"  where choice {letter} is yes\n    [ ] operator works at desk {letter}\n"
        room += "    [ ] operator cleans hands\n" if apart else ""
    return room


def things(many: int) -> str:
    """The room of that protocol."""
    desks = ", ".join(f"desk {chr(97 + n)}" for n in range(many))
    return (
        'room "Many things"\n  takes words from "Dental imaging"\n\npeople\n  operator: staff\n'
        f"  patient: patient\n\nsurfaces\n  {desks}: surface\n"
    )


def of_all_choices(apart: bool) -> None:
    """Growth in choices: 2, 4, ... 12 of two values each; the check, then single lapses."""
    how = "each with a stage of its own" if apart else "that touch each other"
    print(f"\n  choices of two values, {how}: check, single lapses")
    with tempfile.TemporaryDirectory() as folder:
        for choices in (2, 4, 8, 12):
            (Path(folder) / "many-things.protocol").write_text(things(choices), "utf-8")
            file = Path(folder) / "many-choices.protocol"
            file.write_text(of_choices(choices, apart), "utf-8")
            spent, found = timed(partial(check_file, file, mend=False))
            bar = ""
            if choices == 12:
                kept = "kept" if spent <= BAR_CHOICES else "NOT KEPT"
                bar = f"   bar of the check {BAR_CHOICES:g} s: {kept}"
            assert found.unfolded is not None and found.judgement is not None
            lapses = lapses_in(found.unfolded, found.judgement)
            alone, _ = timed(partial(smallest_sets, lapses, 1))
            print(
                f"  {choices:9} {2**choices:6,} combinations, {len(lapses.worlds):,} worlds "
                f"{spent:8.2f} s {alone:8.2f} s  {found.outcome.standing.value}{bar}",
                flush=True,
            )


def _labelled(text: str) -> str:
    """The text with a label of its own for each round's step behind the barrier."""
    for sought in ("behind: ", "after behind\n"):
        pieces = text.split(sought)
        text = pieces[0] + "".join(
            sought.replace("behind", f"behind {number}") + piece
            for number, piece in enumerate(pieces[1:], start=1)
        )
    return text


def of_exposures() -> None:
    """Growth in steps: n images in one visit."""
    print("\n  images in one visit, spelt out: single lapses, then up to two")
    with tempfile.TemporaryDirectory() as folder:
        for many in (1, 2, 4):
            file = Path(folder) / "visit.protocol"
            file.write_text(_labelled(with_exposures(many)), "utf-8")
            room = of_one_image().with_name("imaging-room-2.protocol")
            (Path(folder) / room.name).write_bytes(room.read_bytes())
            found = check_file(file, mend=False)
            assert found.unfolded is not None and found.judgement is not None
            lapses = lapses_in(found.unfolded, found.judgement)
            alone, _ = timed(partial(smallest_sets, lapses, 1))
            two, _ = timed(partial(smallest_sets, lapses, 2))
            print(f"  {many:9} {len(lapses.all):5} lapses {alone:8.2f} s {two:8.2f} s", flush=True)


def panoramic() -> Path:
    """The usual visit for a panoramic image."""
    room = of_one_image().parent.parent / "imaging-room-3"
    return room / "panoramic-usual-visit.protocol"


def of_things() -> None:
    """Growth in things: n desks, each wiped twice after it was met (see the family above)."""
    print("\n  things that are wiped twice: single lapses, up to two, up to three")
    for many in (4, 8, 16, 32):
        _grown(many, wiped_twice(many), Hands())


def of_people() -> None:
    """Growth in people: n people one after the other, each with gloves of their own, who meet the
    mouth and a desk, take the gloves off, and clean their hands."""
    print("\n  people, each with gloves and a desk: single lapses, up to two, up to three")
    for many in (1, 2, 4, 8):
        _grown(many, *gloved(many))


def _grown(many: int, plan: Plan, hands: Hands) -> None:
    lapses = Lapses(plan, hands, 1)
    spent = [timed(partial(smallest_sets, lapses, most))[0] for most in (1, 2, 3)]
    told = " ".join(f"{seconds:8.3f} s" for seconds in spent)
    print(f"  {many:9} {len(lapses.all):5} lapses {told}", flush=True)


def gloved(people: int) -> tuple[Plan, Hands]:
    """A plan for :func:`of_people`, and the hands in it."""
    plan = wiped_twice(0)
    spots, bodies = [plan.spots[0]], [Body(0)]
    layers: list[Layer] = []
    pieces: list[Piece] = []
    acts: list[Act] = []
    hands: list[tuple[int, int]] = []
    for person in range(people):
        skin, desk, glove = len(spots), len(spots) + 1, len(spots) + 2
        spots += [Spot(f"hands {person}", True), Spot(f"desk {person}", True)]
        spots.append(Spot(f"gloves {person}", False))
        hand = len(bodies)
        bodies += [Body(skin, (person,)), Body(desk)]
        layers.append(Layer(f"gloves of {person}"))
        pieces.append(Piece("gloves", "gloves", (glove,), glove))
        hands.append((person, hand))
        for name, effects in (
            ("puts on gloves", (Fit((person,), person),)),
            ("mouth", (Meet((Outer(hand), Outer(0))),)),
            ("takes off gloves", (Unfit((person,)), Retire(person))),
            ("cleans hands", (Treat((Outer(hand),), 0),)),
            ("desk", (Meet((Outer(hand), Outer(hand + 1))),)),
        ):
            acts.append(Act(f"{name} {person}", person, 1, effects))
    acts.append(Act("end", None, 1, ()))
    return (
        replace(
            plan,
            spots=tuple(spots),
            bodies=tuple(bodies),
            layers=tuple(layers),
            pieces=tuple(pieces),
            acts=tuple(acts),
            order=tuple((act, act + 1) for act in range(len(acts) - 1)),
        ),
        Hands(tuple(hands)),
    )


def main() -> int:
    """Print all of it. Return 0."""
    print("  shipped protocols, the check before left out")
    if "three" in sys.argv[1:]:
        for path in (panoramic(), of_one_image()):
            shipped(path, 3, None)
        shipped(longest(), 3, BAR_THREE)
        return 0
    for path in (panoramic(), of_one_image(), longest()):
        shipped(path, 1, None)
        shipped(path, 2, BAR_TWO if path == longest() else None)
    side_by_side()
    of_exposures()
    of_things()
    of_people()
    of_all_choices(apart=True)
    of_all_choices(apart=False)
    return 0


if __name__ == "__main__":
    sys.exit(main())
