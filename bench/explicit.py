"""The same questions put to three: our engine, an answer-set solver, and a compiled state explorer.

``python -m bench.explicit``. The explorer is made here: for each question a small C program is
written out, compiled with the C compiler of this machine, and run. It goes through every state that
there is: which acts are done, what every layer holds, and *everything* that soil is on; and from
visit to visit through every set of things that soil is left on. It makes no use of any idea of the
engine: no mark is followed by itself, no order is left out but for this: an act that does nothing
in this world, and is no part of anything done in one go, is done as soon as it can be.

The answer-set solver (clingo) gets each visit whole, with the best encoding known to us and no
relaxation before (``bench.order.whole``); from visit to visit it is asked for a thing that soil may
be left on, until there is no other. All three have to agree, else the run ends with an error.

Times are seconds of processor time, user and system: ours the best of three, the solver's of one
run in this process; the explorer's of its own process, with the compiler told apart. Where the
order of a visit is nearly settled, as in most shipped protocols, there are few states, and going
through them in C is as quick as anything; what any order leaves open multiplies them. Without a C
compiler the columns say so.
"""

from __future__ import annotations

import os
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import TypeVar

from bench.check import longest, of_one_image
from bench.order import families
from bench.order.families import Instance
from bench.order.whole import solve_whole
from protocol_lang.contamination.kernel import Bits, Origin
from protocol_lang.contamination.marks import GoesOn, Layout, Spread, class_groups, lay_out
from protocol_lang.contamination.paths import Paths, hardest_speaks_for_all
from protocol_lang.contamination.visits import Meanings, Soil
from protocol_lang.lapses.making import Lapses
from protocol_lang.lapses.spread import Opens, opened, opens
from protocol_lang.lapses.telling import lapses_in
from protocol_lang.order import decide
from protocol_lang.order.bits import members
from protocol_lang.order.question import (
    Budget,
    Carry,
    Effort,
    Found,
    Network,
    Question,
    Undecided,
    Way,
)
from protocol_lang.pipeline import check_file
from protocol_lang.resources import folder

#: The explorer gives up after so many states of one world and one visit: memory is finite.
MOST_STATES = 6_000_000
RUNS = 3
#: So many single lapses are asked about, spread over all of them.
LAPSES = 12

T = TypeVar("T")


class AnswersDifferError(Exception):
    """Two ways of answering the same question do not agree: an error of ours."""


@dataclass(frozen=True, slots=True)
class Model:
    """Whether soil that is at ``starts`` when a visit begins gets to a target, and in which visit.

    ``own``: the targets that count in the visit itself; ``later``: those that count in any later
    one. ``onward``: for the targets that stand for it, where the next visit begins with the soil.
    ``worlds``: those looked at, visits of which can follow each other; ``ready``: those of them
    after which another visit comes. ``ours``: the engine's answer, worked out anew.
    """

    network: Network
    carry: Carry
    worlds: Bits
    starts: frozenset[int]
    own: frozenset[int]
    ours: Callable[[], bool]
    later: frozenset[int] = frozenset()
    onward: dict[int, int] = field(default_factory=dict)
    ready: Bits = 0


def of_instance(instance: Instance) -> Model:
    """A question of one visit."""
    asked = instance.question
    assert asked.carry is not None and not asked.stands and not asked.precedes

    def ours() -> bool:
        answer = decide(instance.network, asked)
        assert not isinstance(answer, Undecided)
        return isinstance(answer, Found)

    return Model(instance.network, asked.carry, asked.worlds, asked.starts, asked.targets, ours)


def to_the_next_patient(layout: Layout, judged: Bits, ready: Bits) -> Model:
    """Whether soil of a patient, of the hardest class, gets to another one."""
    assert hardest_speaks_for_all(layout.plan)
    spread = Spread(layout, class_groups(layout)[0])
    meanings = Meanings(layout)

    def counting(own: bool) -> frozenset[int]:
        return frozenset(
            number
            for number, goal in enumerate(spread.goals)
            if any(
                opens(meaning.who, Origin.PATIENT) is Opens.NEXT_PATIENT
                for meaning in meanings.of(goal, Origin.PATIENT, own)
            )
        )

    def ours() -> bool:
        paths = Paths(layout, judged, ready, Budget(), Effort())
        wanted = frozenset(
            one
            for one in paths.suspects()
            if one.origin is Origin.PATIENT and opens(one.who, one.origin) is Opens.NEXT_PATIENT
        )
        found = bool(wanted) and paths.first(wanted) is not None
        assert not paths.undecided
        return found

    return Model(
        layout.network,
        spread.carry,
        judged,
        Soil(spread, judged, ready, Budget(), Effort()).starts(Origin.PATIENT),
        counting(own=True),
        ours,
        counting(own=False),
        {
            number: goal.position
            for number, goal in enumerate(spread.goals)
            if isinstance(goal, GoesOn)
        },
        ready,
    )


# --- The two others ------------------------------------------------------------------------------


def by_solver(model: Model) -> bool:
    """The answer-set solver alone, visit after visit."""

    def shown(worlds: Bits, starts: frozenset[int], targets: Iterable[int]) -> int | None:
        wanted = frozenset(targets)
        if not wanted or not worlds:
            return None
        asked = Question(worlds, carry=model.carry, starts=starts, targets=wanted)
        answer = solve_whole(Instance("", "", model.network, asked)).answer
        assert not isinstance(answer, Undecided)
        return answer.route[-1].target if isinstance(answer, Found) else None

    starts, seen, own = model.starts, set[int](), True
    while starts:
        if shown(model.worlds, starts, model.own if own else model.later) is not None:
            return True
        waiting = {one: at for one, at in model.onward.items() if at not in seen}
        left: set[int] = set()
        while (number := shown(model.ready, starts, waiting)) is not None:
            left.add(model.onward[number])
            waiting = {one: at for one, at in waiting.items() if at not in left}
        seen |= left
        starts, own = frozenset(left), False
    return False


@dataclass(frozen=True, slots=True)
class Explored:
    """What the explorer said. ``open_``: None where it gave up."""

    open_: bool | None
    states: int
    compiling: float
    running: float


def by_explorer(model: Model, compiler: str) -> Explored:
    """Every state, by a program made for this question."""
    with tempfile.TemporaryDirectory() as made:
        source, program = Path(made, "explore.c"), Path(made, "explore")
        source.write_text("".join(f"{line}\n" for line in _Program(model).lines()), "ascii")
        compiling, _ = _child([compiler, "-O1", "-w", "-o", str(program), str(source)])
        running, told = _child([str(program)])
    word, states = told.split()
    return Explored({"open": True, "shut": False}.get(word), int(states), compiling, running)


def _child(command: list[str]) -> tuple[float, str]:
    """(seconds of processor time of another process, what it printed)."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    told = subprocess.run(command, check=True, capture_output=True, text=True).stdout
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime - before.ru_utime + after.ru_stime - before.ru_stime, told


# --- The program that goes through the states ----------------------------------------------------


class _Program:
    """The C text for one question."""

    def __init__(self, model: Model) -> None:
        self.model = model
        self.events = model.network.events
        self.marks = self._numbered()
        ways = [way for ways in model.carry.ways for way in ways]
        asked = sorted({register for way in ways for register, _ in way.when})
        self.registers = {register: number for number, register in enumerate(asked)}
        self.sets: dict[Bits, int] = {}
        self.every = (1 << model.network.worlds) - 1

    def _numbered(self) -> dict[int, int]:
        """The positions that marks may be at if every act could be done at any time: the others
        are never marked, and have no bit."""
        ways = [way for ways in self.model.carry.ways for way in ways]
        onward = self.model.onward
        met = set(self.model.starts)
        more = True
        while more:
            more = False
            for way in ways:
                for source in met & way.moves.keys():
                    fresh = set(way.moves[source]) - met
                    met |= fresh
                    more = more or bool(fresh)
                for source in met & way.hits.keys():
                    fresh = {onward[one] for one in way.hits[source] if one in onward} - met
                    met |= fresh
                    more = more or bool(fresh)
        return {position: number for number, position in enumerate(sorted(met))}

    def lines(self) -> Iterator[str]:
        """The whole text."""
        words = max(1, -(-len(self.marks) // 64))
        done = -(-self.events // 64)
        registers = -(-max(1, len(self.registers)) // 8) * 8
        functions = [line for event in range(self.events) for line in self._act(event)]
        tests = [line for event in range(self.events) for line in self._may(event)]
        tables = list(self._tables())
        yield from (
            "#include <stdint.h>",
            "#include <stdio.h>",
            "#include <stdlib.h>",
            "#include <string.h>",
            f"enum {{ EVENTS = {self.events}, DONE = {done}, MARKS = {words}, "
            f"REGISTERS = {registers} }};",
            f"#define MOST {MOST_STATES}ull",
            "typedef struct { uint64_t done[DONE], mark[MARKS], on[MARKS]; "
            "uint64_t hit; uint8_t reg[REGISTERS]; } state;",
            "static int world, own;",
            "#define IN(set) ((set)[world >> 6] >> (world & 63) & 1)",
            "#define HAS(words, bit) ((words)[(bit) >> 6] >> ((bit) & 63) & 1)",
            "#define PUT(words, bit) ((words)[(bit) >> 6] |= 1ull << ((bit) & 63))",
            "#define CUT(words, bit) ((words)[(bit) >> 6] &= ~(1ull << ((bit) & 63)))",
        )
        for bits, number in self.sets.items():
            parts = ", ".join(
                f"{bits >> 64 * at & (1 << 64) - 1:#x}ull"
                for at in range(max(1, -(-self.model.network.worlds // 64)))
            )
            yield f"static const uint64_t set{number}[] = {{ {parts} }};"
        yield from functions
        yield from tests
        yield from tables
        yield _MAIN

    def _set(self, bits: Bits) -> str:
        """A test for these worlds."""
        if not self.every & ~bits:
            return "1"
        return f"IN(set{self.sets.setdefault(bits & self.every, len(self.sets))})"

    def _act(self, event: int) -> Iterator[str]:
        """What an act does to a state; 1 where a target that counts is hit."""
        yield f"static int act{event}(const state *s, state *t) {{"
        yield f"  if (!({self._set(self.model.network.present[event])})) return 0;"
        for way in self.model.carry.ways[event]:
            asked = [self._set(way.worlds)]
            asked += [f"s->reg[{self.registers[r]}] == {self._value(v)}" for r, v in way.when]
            yield f"  if ({' && '.join(asked)}) {{"
            yield from self._way(way)
            yield "    goto written;"
            yield "  }"
        yield "  written:;"
        for register, number in self.registers.items():
            writes = self.model.network.registers[register].writes
            if event in writes:
                yield f"  t->reg[{number}] = {self._value(writes[event])};"
        yield "  return 0;"
        yield "}"

    def _value(self, value: int) -> int:
        return value + 1  # nothing is -1

    def _way(self, way: Way) -> Iterator[str]:
        model = self.model
        for source, targets in way.hits.items():
            if source not in self.marks:
                continue
            has = f"HAS(s->mark, {self.marks[source]})"
            if model.own & set(targets):
                yield f"    if (own && {has}) return 1;"
            if model.later & set(targets):
                yield f"    if (!own && {has}) return 1;"
            for target in targets:
                if target in model.onward:
                    yield f"    if ({has}) PUT(t->on, {self.marks[model.onward[target]]});"
        moving = [source for source in way.moves if source in self.marks]
        for source in moving:
            if source not in way.moves[source]:
                yield f"    CUT(t->mark, {self.marks[source]});"
        for source in moving:
            for goal in way.moves[source]:
                if goal != source:
                    yield (
                        f"    if (HAS(s->mark, {self.marks[source]})) "
                        f"PUT(t->mark, {self.marks[goal]});"
                    )

    def _may(self, event: int) -> Iterator[str]:
        """Whether an act may come next: all that comes before is done, nothing is cut in two."""
        network = self.model.network
        yield f"static int may{event}(const state *s) {{"
        for at in range(-(-self.events // 64)):
            before = network.before[event] >> 64 * at & (1 << 64) - 1
            if before:
                yield f"  if ({before:#x}ull & ~s->done[{at}]) return 0;"
        for block in network.blocks:
            if block.others >> event & 1:
                some = " || ".join(f"HAS(s->done, {one})" for one in members(block.members))
                every = " && ".join(f"HAS(s->done, {one})" for one in members(block.members))
                yield f"  if (({some}) && !({every})) return 0;"
        yield "  return 1;"
        yield "}"

    def _tables(self) -> Iterator[str]:
        model = self.model
        names = range(self.events)
        for what, kind in (("act", "const state *, state *"), ("may", "const state *")):
            listed = ", ".join(f"{what}{event}" for event in names)
            yield f"static int (*const {what}s[])({kind}) = {{ {listed} }};"
        in_one_go = 0
        for block in model.network.blocks:
            in_one_go |= block.members | block.others
        yield "static int idle(int e) {  /* does nothing here, and cuts nothing in two */"
        yield "  switch (e) {"
        for event in names:
            if in_one_go >> event & 1:
                continue
            works = model.network.present[event]
            if not any(event in model.network.registers[r].writes for r in self.registers):
                works &= self._worlds_of(model.carry.ways[event])
            idle = self._idle(works)
            yield f"    case {event}: return {idle};"
        yield "  }"
        yield "  return 0;"
        yield "}"
        for what, worlds in (("looked", model.worlds), ("ready", model.ready)):
            listed = ", ".join(str(worlds >> w & 1) for w in range(model.network.worlds))
            yield f"static const char {what}[] = {{ {listed} }};"
        yield f"enum {{ WORLDS = {model.network.worlds} }};"
        yield "static void begin(state *s) {"
        for start in model.starts:
            yield f"  PUT(s->mark, {self.marks[start]});"
        yield "}"
        yield "static void registers(state *s) {"
        for register, number in self.registers.items():
            initial = self._value(model.network.registers[register].initial)
            yield f"  s->reg[{number}] = {initial};"
        yield "}"

    def _worlds_of(self, ways: Iterable[Way]) -> Bits:
        found: Bits = 0
        for way in ways:
            if way.moves or way.hits:
                found |= way.worlds
        return found & self.every

    def _idle(self, works: Bits) -> str:
        """A test for the worlds in which an act does nothing."""
        if not works & self.every:
            return "1"
        return f"!({self._set(works)})"


#: The search: depth first over the states of one visit in one world, then over what is left.
_MAIN = r"""
static state *kept; static uint64_t *table, many, room, slots, in_all;

static uint64_t hash(const state *s) {
  const uint64_t *w = (const uint64_t *)s;
  uint64_t h = 1469598103934665603ull;
  for (size_t i = 0; i < sizeof(state) / 8; i++) {
    h ^= w[i]; h *= 0x9e3779b97f4a7c15ull; h ^= h >> 29;
  }
  return h ^ h >> 32;
}

static void *must(void *p) {
  if (p) return p;
  printf("gave-up %llu\n", (unsigned long long)in_all);
  exit(0);
}

static int add(const state *s) {  /* 1 if it is new */
  if (2 * (many + 1) > slots) {
    uint64_t old = slots;
    slots = old ? old * 2 : 1024;
    free(table);
    table = must(calloc(slots, sizeof *table));
    for (uint64_t i = 0; i < many; i++) {
      uint64_t at = hash(&kept[i]) & (slots - 1);
      while (table[at]) at = (at + 1) & (slots - 1);
      table[at] = i + 1;
    }
  }
  uint64_t at = hash(s) & (slots - 1);
  while (table[at]) {
    if (!memcmp(&kept[table[at] - 1], s, sizeof *s)) return 0;
    at = (at + 1) & (slots - 1);
  }
  if (many == room) {
    room = room ? room * 2 : 1024;
    kept = must(realloc(kept, room * sizeof *kept));
  }
  kept[many] = *s;
  table[at] = ++many;
  in_all++;
  return 1;
}

typedef struct { uint64_t mark[MARKS]; } soil;
static soil *left; static uint64_t lefts, left_room;

static void leave(const uint64_t *on) {
  for (uint64_t i = 0; i < lefts; i++) if (!memcmp(left[i].mark, on, sizeof(soil))) return;
  if (lefts == left_room) {
    left_room = left_room ? left_room * 2 : 64;
    left = must(realloc(left, left_room * sizeof *left));
  }
  memcpy(left[lefts++].mark, on, sizeof(soil));
}

static int whole(const state *s) {
  for (int e = 0; e < EVENTS; e++) if (!HAS(s->done, e)) return 0;
  return 1;
}

static uint64_t *waiting, waits, waiting_room;

static void wait_for(uint64_t at) {
  if (waits == waiting_room) {
    waiting_room = waiting_room ? waiting_room * 2 : 1024;
    waiting = must(realloc(waiting, waiting_room * sizeof *waiting));
  }
  waiting[waits++] = at;
}

static int visit(const soil *from) {  /* 1 if a target is hit, 2 if it is given up */
  for (world = 0; world < WORLDS; world++) {
    if (!looked[world]) continue;
    many = waits = 0;
    if (table) memset(table, 0, slots * sizeof *table);
    state s;
    memset(&s, 0, sizeof s);
    memcpy(s.mark, from->mark, sizeof(soil));
    registers(&s);
    add(&s);
    wait_for(0);
    while (waits) {
      state here = kept[waiting[--waits]], next;
      if (many > MOST) return 2;
      int only = -1, some = 0;
      for (int e = 0; e < EVENTS && only < 0; e++)
        if (!HAS(here.done, e) && idle(e) && mays[e](&here)) only = e;
      for (int e = only < 0 ? 0 : only; e < (only < 0 ? EVENTS : only + 1); e++) {
        if (HAS(here.done, e) || !mays[e](&here)) continue;
        some = 1;
        next = here;
        PUT(next.done, e);
        if (!here.hit && acts[e](&here, &next)) {
          /* What else becomes of the soil does not matter, only whether the visit has an end. */
          next.hit = 1;
        }
        if (next.hit) {
          memset(next.mark, 0, sizeof next.mark);
          memset(next.on, 0, sizeof next.on);
          memset(next.reg, 0, sizeof next.reg);
        }
        if (add(&next)) wait_for(many - 1);
      }
      if (some || !whole(&here)) continue;
      if (here.hit) return 1;
      static const uint64_t none[MARKS];
      if (ready[world] && memcmp(here.on, none, sizeof none)) leave(here.on);
    }
  }
  return 0;
}

int main(void) {
  state s;
  memset(&s, 0, sizeof s);
  begin(&s);
  soil first;
  memcpy(first.mark, s.mark, sizeof first);
  own = 1;
  int found = visit(&first);
  own = 0;
  for (uint64_t i = 0; !found && i < lefts; i++) {
    soil from = left[i];
    found = visit(&from);
  }
  printf("%s %llu\n", found == 2 ? "gave-up" : found ? "open" : "shut", (unsigned long long)in_all);
  return 0;
}
"""


# --- Tables --------------------------------------------------------------------------------------


def timed(what: Callable[[], T], runs: int = RUNS) -> tuple[float, T]:
    """(seconds of processor time of this process, what came of it): the best of several runs."""
    best, came = float("inf"), None
    for _ in range(runs):
        begun = time.process_time()
        came = what()
        best = min(best, time.process_time() - begun)
    assert came is not None
    return best, came


HEADER = (
    f"  {'question':<42}{'acts':>5}{'ours':>9}{'clingo':>9}{'ratio':>7}{'explorer':>10}{'ratio':>8}"
    f"{'states':>12}{'compiling':>11}  verdict"
)


def row(name: str, model: Model, compiler: str | None) -> None:
    """One line: the three side by side. Raises :class:`AnswersDifferError`."""
    ours, verdict = timed(model.ours)
    theirs, other = timed(partial(by_solver, model), runs=1)
    if other is not verdict:
        raise AnswersDifferError(f"{name}: clingo {other}, ours {verdict}")
    told = f"{'no C compiler here':>41}"
    if compiler is not None:
        explored = by_explorer(model, compiler)
        if explored.open_ is not None and explored.open_ is not verdict:
            raise AnswersDifferError(f"{name}: explorer {explored.open_}, ours {verdict}")
        ratio = _times(explored.running / ours) if explored.open_ is not None else "gave up"
        told = (
            f"{explored.running:>10.3f}{ratio:>8}{explored.states:>12,}{explored.compiling:>11.2f}"
        )
    print(
        f"  {name:<42}{model.network.events:>5}{ours:>9.4f}{theirs:>9.4f}{_times(theirs / ours):>7}"
        f"{told}  {'open' if verdict else 'shut'}",
        flush=True,
    )


def _times(ratio: float) -> str:
    """How many times longer."""
    return f"{ratio:.0f}" if ratio >= 10 else f"{ratio:.1f}" if ratio >= 1 else f"{ratio:.2f}"


def heading(text: str) -> None:
    """A heading and the names of the columns."""
    print(f"\n  {text}\n{HEADER}")


def of_file(path: Path) -> Iterator[Model]:
    """A protocol as it is: soil of a patient to the next one, for each part of the clinic."""
    found = check_file(path, mend=False)
    assert found.judgement is not None and found.judgement.layout is not None
    judgement, layout = found.judgement, found.judgement.layout
    for part in layout.plan.clinic:
        if judgement.judged & part:
            yield to_the_next_patient(layout, judgement.judged & part, judgement.ready & part)


def with_lapses(path: Path, compiler: str | None) -> None:
    """Single lapses of a protocol, some of all of them; also against what ``lapses`` says."""
    found = check_file(path, mend=False)
    assert found.unfolded is not None and found.judgement is not None
    lapses = lapses_in(found.unfolded, found.judgement)
    apart = max(1, len(lapses.all) // LAPSES)
    for number in range(0, len(lapses.all), apart):
        lapse = lapses.all[number]
        step = found.unfolded.acts[lapse.act].text if lapse.act >= 0 else "when the visit begins"
        name = f"{lapse.kind.value}: {step}"[:41]
        told = opened(lapses, (number,), frozenset({Opens.NEXT_PATIENT}))
        models = list(of_lapse(lapses, number))
        verdicts = [model.ours() for model in models]
        if any(verdicts) is not (Opens.NEXT_PATIENT in told.hits):
            raise AnswersDifferError(f"{name}: visit by visit {verdicts}, lapses {told.hits}")
        for model in models:
            row(name, model, compiler)


def of_lapse(lapses: Lapses, number: int) -> Iterator[Model]:
    """The plan with one lapse made, for each part of the clinic that begins alike."""
    answer = opened(lapses, (number,), frozenset())
    layout = lay_out(answer.made.plan)
    assert isinstance(layout, Layout)
    for part in layout.plan.clinic:
        yield to_the_next_patient(layout, layout.worlds & part, answer.made.ready & part)


def main() -> int:
    """Print all tables. Return 0."""
    compiler = shutil.which(os.environ.get("CC", "cc"))
    if compiler is None:
        print("  There is no C compiler here: the explorer was not run.")
    solve_whole(families.exposures(1))  # loads the solver, which is not what is measured
    heading("one visit: growth in what may be done in any order")
    for instance in (
        *(families.two_people(many) for many in (2, 4, 6, 8)),
        *(families.any_order(many) for many in (2, 4, 6)),
        *(families.exposures(many) for many in (1, 2, 5, 10)),
    ):
        row(f"{instance.family}, {instance.name}", of_instance(instance), compiler)
    heading("one visit: random orders, dense in cleaning and covers")
    for seed in range(6):
        instance = families.dense(22, seed)
        row(instance.name, of_instance(instance), compiler)
    heading(
        "shipped protocols as they are: soil of a patient to the next one, any number of visits"
    )
    shipped = folder("protocols")
    for path in (
        shipped / "treatment-room" / "dressing-change.protocol",
        shipped / "blood-taking-room" / "taking-blood-at-the-chair.protocol",
        of_one_image(),
        longest(),
    ):
        for model in of_file(path):
            row(path.stem, model, compiler)
    heading("the same of one image, with one lapse made")
    with_lapses(of_one_image(), compiler)
    return 0


if __name__ == "__main__":
    sys.exit(main())
