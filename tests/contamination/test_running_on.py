"""A part of a visit that runs into the next one, against trying everything.

Oracle: a few lines that know nothing of the engine. They take random visits of two people, in which
hands and surfaces are touched and washed, do them in every order that docs/meaning/day.md permits,
one after the other and running into each other, and follow the soil of one patient as a set of
soiled places from visit to visit until nothing new comes.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product
from pathlib import Path

from protocol_lang.contamination.kernel import OF_PATIENTS, Reached
from protocol_lang.contamination.rounds import Judged, judge_protocol
from protocol_lang.language.load import load

SHELVES = ("shelf a", "shelf b", "shelf c")
STAFF = ("operator", "helper")
MOUTH = "mouth"
USUAL = 150

HEAD = """  edition 1
  takes words from "Imaging room 2"

surfaces
  shelf a, shelf b, shelf c: surface

verb ACTOR feels the gum
  meet ACTOR's hands, the patient's mouth

verb ACTOR handles SURFACE
  meet ACTOR's hands, SURFACE

verb ACTOR hoses SURFACE
  no contact
  reduce SURFACE to hand wash
"""


@dataclass(frozen=True)
class Act:
    """Who does what to what; ``when``: only where the choice of the visit has this value."""

    person: str
    does: str
    what: str
    when: bool | None

    def line(self) -> str:
        sentence = {
            "feels": f"{self.person} feels the gum",
            "washes": f"{self.person} washes hands",
            "handles": f"{self.person} handles {self.what}",
            "hoses": f"{self.person} hoses {self.what}",
        }[self.does]
        if self.when is None:
            return f"  [ ] {sentence}\n"
        return f"  where extra is {'yes' if self.when else 'no'}\n    [ ] {sentence}\n"


@dataclass(frozen=True)
class Phase:
    acts: tuple[Act, ...]
    runs_on: bool


Visit = tuple[Phase, ...]


def _phase(dice: random.Random, runs_on: bool, most: int) -> Phase:
    def one() -> Act:
        does = dice.choice(("feels", "handles", "handles", "handles", "washes", "hoses"))
        if runs_on and does == "feels":
            does = "handles"  # the patient has left
        person = dice.choice(STAFF) if not runs_on else dice.choice((*STAFF, "helper", "helper"))
        when = dice.choice((None, None, None, True, False))
        return Act(person, does, dice.choice(SHELVES), when)

    return Phase(tuple(one() for _ in range(dice.randint(1, most))), runs_on)


def _visit(dice: random.Random, runs: bool) -> Visit:
    phases = [_phase(dice, False, 3)]
    if runs:
        phases.append(_phase(dice, True, 3))
        if dice.random() < 0.3:
            phases.append(_phase(dice, True, 2))
        if dice.random() < 0.6:
            phases.append(_phase(dice, False, 2))
    return tuple(phases)


def _tidy_visit(dice: random.Random) -> Visit:
    """A visit after which all is clean once what runs on is over."""

    def act(person: str, does: str, what: str = SHELVES[0]) -> Act:
        return Act(person, does, what, None)

    left, *others = dice.sample(SHELVES, 3)
    main = [act("operator", dice.choice(("handles", "feels")), dice.choice(others))]
    main += [act("operator", "feels"), act("operator", "handles", left), act("operator", "washes")]
    running = [act("helper", "handles", left)]
    if dice.random() < 0.6:
        running.append(act("helper", "handles", dice.choice(others)))
    running += [act("helper", "hoses", shelf) for shelf in dice.sample(SHELVES, 3)]
    running.append(act("helper", "washes"))
    if dice.random() < 0.5:
        main.append(act("operator", "hoses", dice.choice(others)))
    phases = [Phase(tuple(main), False), Phase(tuple(running), True)]
    if dice.random() < 0.5:
        person = dice.choice(STAFF)
        last = (act(person, "handles", dice.choice(SHELVES)), act(person, "washes"))
        phases.append(Phase(last, False))
    return tuple(phases)


def _turnover(dice: random.Random) -> Visit:
    """What every visit ends with: one of the two cleans, and may touch something."""
    person = dice.choice(STAFF)
    acts = [Act(person, "hoses", shelf, None) for shelf in dice.sample(SHELVES, dice.randint(1, 3))]
    if dice.random() < 0.5:
        acts.insert(dice.randint(0, len(acts)), Act(person, "handles", dice.choice(SHELVES), None))
    return (Phase((*acts, Act(person, "washes", SHELVES[0], None)), False),)


def _text(title: str, visit: Visit, header: str = "") -> str:
    phases = "".join(
        f'\nphase "{title} {number}"\n'
        + ("  may run into the next visit\n" if phase.runs_on else "")
        + "".join(act.line() for act in phase.acts)
        for number, phase in enumerate(visit)
    )
    choices = ""
    if any(act.when is not None for phase in visit for act in phase.acts):
        choices = "\nchoices, each visit\n  extra: yes, no\n"
    return f'protocol "{title}"\n{header}{HEAD}{choices}{phases}'


# --- The oracle -----------------------------------------------------------------------------------


@dataclass(frozen=True)
class Done:
    """An act in a turn: of which of its visits (1 or 2), in which phase."""

    act: Act
    visit: int
    phase: int
    runs_on: bool


def _turn(visits: tuple[Visit, ...], choices: tuple[bool, ...]) -> list[Done]:
    return [
        Done(act, number, at, phase.runs_on)
        for number, (visit, extra) in enumerate(zip(visits, choices, strict=True), start=1)
        for at, phase in enumerate(visit)
        for act in phase.acts
        if act.when is None or act.when is extra
    ]


def _comes_before(turn: list[Done], one: int, other: int) -> bool:
    """Of two acts, in the order written: whether the first has to be done first."""
    first, second = turn[one], turn[other]
    if (first.visit, first.phase) == (second.visit, second.phase):
        return True
    if not first.runs_on or first.act.person == second.act.person:
        return True
    return second.runs_on and first.visit == second.visit


Soiled = frozenset[str]


def _after(turn: list[Done], soiled: Soiled, whose: int | None) -> tuple[set[Soiled], bool]:
    """Where the soil may be after a turn, in all its orders; and whether another patient met it.

    ``whose``: which of the patients of the turn the soil is of; None: of an earlier one.
    """
    number = len(turn)
    before = [
        sum(1 << one for one in range(other) if _comes_before(turn, one, other))
        for other in range(number)
    ]
    states: dict[int, set[Soiled]] = {0: {soiled}}
    met = False
    for _ in turn:  # one act more in each round
        further: dict[int, set[Soiled]] = {}
        for done, here in states.items():
            for at in range(number):
                if done >> at & 1 or before[at] & ~done:
                    continue
                for state in here:
                    new, hit = _did(turn[at], state, whose)
                    met |= hit
                    further.setdefault(done | 1 << at, set()).add(new)
        states = further
    return states[(1 << number) - 1], met


def _did(done: Done, soiled: Soiled, whose: int | None) -> tuple[Soiled, bool]:
    act = done.act
    hands = f"{act.person}'s hands"
    match act.does:
        case "washes":
            return soiled - {hands}, False
        case "hoses":
            return soiled - {act.what}, False
        case "handles":
            pair = {hands, act.what}
            return (soiled | pair if soiled & pair else soiled), False
        case _:
            own = done.visit == whose
            mouth = f"{MOUTH} {done.visit}"
            if own:
                return soiled | {hands}, False
            hit = hands in soiled
            if hit or mouth in soiled:
                return soiled | {hands, mouth}, hit
            return soiled, False


def _reached(visits: list[Visit]) -> bool:
    """Whether soil of one patient gets to the mouth of another in some history."""
    turns = list(_turns(visits))
    waiting: set[Soiled] = set()
    for turn, patients in turns:
        for whose in range(1, patients + 1):
            ends, met = _after(turn, frozenset(), whose)
            if met:
                return True
            waiting |= {_lasting(end) for end in ends}
    seen: set[Soiled] = set()
    while waiting:
        soiled = waiting.pop()
        if soiled in seen or not soiled:
            continue
        seen.add(soiled)
        for turn, _ in turns:
            ends, met = _after(turn, soiled, None)
            if met:
                return True
            waiting |= {_lasting(end) for end in ends}
    return False


def _lasting(soiled: Soiled) -> Soiled:
    return frozenset(where for where in soiled if not where.startswith(MOUTH))


def _turns(visits: list[Visit]) -> Iterator[tuple[list[Done], int]]:
    for visit in visits:
        for extra in (True, False):
            yield _turn((visit,), (extra,)), 1
    for first, second in product(visits, repeat=2):
        if any(phase.runs_on for phase in first):
            for extras in product((True, False), repeat=2):
                yield _turn((first, second), extras), 2


# --- The comparison -------------------------------------------------------------------------------


def _judged(folder: Path, visits: list[Visit], turnover: Visit) -> bool:
    """What the engine says of a day of these visits, each with that turnover after it."""
    then = '  then "Turnover"\n' if turnover else ""
    if turnover:
        follows = _text("Turnover", turnover, "  follows another protocol\n")
        (folder / "turnover.protocol").write_text(follows, "utf-8")
    titles = [f"Visit {number}" for number in range(1, len(visits) + 1)]
    for title, visit in zip(titles, visits, strict=True):
        path = folder / f"{title.lower().replace(' ', '-')}.protocol"
        path.write_text(_text(title, visit, then), "utf-8")
    day = folder / "day.protocol"
    named = ", ".join(f'"{title}"' for title in titles)
    day.write_text(f'day "Day"\n  visits {named}\n', "utf-8")
    loaded = load(day)
    assert loaded.protocol is not None and not loaded.findings, loaded.findings
    judged = judge_protocol(loaded.protocol)
    assert isinstance(judged, Judged), judged
    judgement = judged.judgement
    assert judgement.paths is not None and not judgement.undecided
    assert not judgement.missteps and not judgement.not_ready
    return any(
        judgement.paths.first(frozenset({suspect})) is not None
        for suspect in judgement.suspects
        if suspect.who is Reached.PATIENT and suspect.origin in OF_PATIENTS
    )


def _apart(visits: list[Visit]) -> list[Visit]:
    return [tuple(Phase(phase.acts, False) for phase in visit) for visit in visits]


def test_days_with_parts_that_run_on_are_as_all_their_orders(tmp_path: Path):
    told: Counter[str] = Counter()
    for seed in range(USUAL):
        dice = random.Random(f"running on {seed}")
        visits = [_tidy_visit(dice) if seed % 2 else _visit(dice, True)]
        if dice.random() < 0.7:
            visits.append(_visit(dice, dice.random() < 0.3))
        turnover = _turnover(dice) if dice.random() < 0.5 else ()
        whole = [(*visit, *turnover) for visit in visits]
        expected = _reached(whole)
        folder = tmp_path / str(seed)
        folder.mkdir()
        assert _judged(folder, visits, turnover) is expected, f"seed {seed}\n" + "\n".join(
            _text(f"Visit {number}", visit) for number, visit in enumerate(whole, start=1)
        )
        told["reached" if expected else "safe"] += 1
        told["only by running on"] += expected and not _reached(_apart(whole))
    # A comparison that only ever met one answer would prove nothing.
    assert told["safe"] > 20 and told["reached"] > 20 and told["only by running on"] > 5
