"""The one question: its words, and what they mean.

A :class:`Network` describes many runs at once. A **run** is a choice of one *world* together with
one total order of all events that

* extends the partial order ``before``;
* keeps every :class:`Block` together: no event of ``block.others`` falls between two events of
  ``block.members``. A consequence that the decision procedure uses everywhere: if any event of one
  block comes before any event of another block, and each block's members are among the other's
  ``others``, then all of the first come before all of the second.

Every event has a place in every run. An event that is *absent* in the run's world (its bit of
``present`` is not set for that world) keeps its place and does nothing at all.

**Registers** are small memories. A register starts at ``initial``; each present event that has a
write for it sets it to that value. "The value of r at e" is the value just *before* e acts: what
the last present write before e wrote, or ``initial``.

**Marks** move. A :class:`Carry` follows a set of marks, each at a *position*, through a run. Each
mark moves alone: what happens to one never depends on where others are. When a present event e
acts, exactly one of its ways applies (the first one, in the order given, whose ``worlds`` has the
run's world and whose every ``when`` pair holds at e; if none applies, nothing moves). Under a way,
a mark at position p becomes marks at every position of ``moves[p]`` (which may include p, may be
empty: the mark is gone); a position that is not a key of ``moves`` is left as it is. A mark that is
at p just before the event acts *hits* every target of ``hits.get(p, ())`` under that way.

The **question** (:class:`Question`) asks whether there is a run in which every :class:`Stand` holds
and, if there is a carry, a mark that starts at one of the given positions (before every event) hits
one of the given targets. The answer is a run that shows it, a proof that there is none, or, past a
stated budget of counted steps, "not decided". Never a guess.

Deciding is NP-complete in general: a link with one excluded event can force an order literal, and
chains through clause gadgets make satisfiability. Most plans that people write are settled by the
polynomial relaxation (:mod:`protocol_lang.order.relaxed`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

#: A set of events or of worlds as the bits of a whole number: bit i is set when i is a member.
Bits = int


@dataclass(frozen=True, slots=True)
class Block:
    """Events done in one go: none of ``others`` may fall between two of ``members``.

    ``members`` and ``others`` are disjoint sets of events. An event in neither set may fall
    anywhere.
    """

    members: Bits
    others: Bits


@dataclass(frozen=True, slots=True)
class Register:
    """A small memory: ``initial`` value, and for some events the value they write."""

    initial: int
    writes: Mapping[int, int]


@dataclass(frozen=True, slots=True)
class Network:
    """What is common to all questions about one plan.

    ``events``: how many; they are numbered from 0.
    ``before[e]``: the events that come before e in every run. Must be transitively closed and
    without cycles (:func:`protocol_lang.order.network.close` makes it so and reports a cycle).
    ``blocks``: see :class:`Block`.
    ``worlds``: how many worlds, numbered from 0; at least 1.
    ``present[e]``: the worlds in which e takes place.
    ``registers``: numbered from 0.
    """

    events: int
    before: tuple[Bits, ...]
    blocks: tuple[Block, ...]
    worlds: int
    present: tuple[Bits, ...]
    registers: tuple[Register, ...] = ()


@dataclass(frozen=True, slots=True)
class Way:
    """How an event acts on marks when ``when`` holds: pairs (register, value), all at once."""

    when: tuple[tuple[int, int], ...]
    worlds: Bits
    moves: Mapping[int, tuple[int, ...]]
    hits: Mapping[int, tuple[int, ...]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Carry:
    """The ways of every event: ``ways[e]`` is empty for an event that moves nothing.

    ``positions``: how many, numbered from 0. Targets are numbers of the caller's choice.
    The ways of one event must exclude each other (differ in some register's value, or share no
    world); the first that applies is taken.
    """

    positions: int
    ways: tuple[tuple[Way, ...], ...]


@dataclass(frozen=True, slots=True)
class Stand:
    """``event`` takes place, and just before it ``register`` has one of ``values``."""

    event: int
    register: int
    values: frozenset[int]


@dataclass(frozen=True, slots=True)
class Question:
    """Is there one run, in a world of ``worlds``, in which all of this holds?

    * every event of ``takes_place`` is present;
    * every one of ``stands`` holds;
    * for every pair (a, b) of ``precedes``, a comes before b;
    * if ``carry`` is given, a mark from one of ``starts`` hits one of ``targets``.
    """

    worlds: Bits
    takes_place: Bits = 0
    stands: tuple[Stand, ...] = ()
    precedes: tuple[tuple[int, int], ...] = ()
    carry: Carry | None = None
    starts: frozenset[int] = frozenset()
    targets: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True)
class Hop:
    """One step of a mark's route: at ``event``, under ``way`` (index), to another position.

    The last hop of a route has ``target`` set (and ``to`` equal to ``start``): the hit.
    A hop in which a mark merely stays where it is is not listed.
    """

    event: int
    way: int
    start: int
    to: int
    target: int | None = None


@dataclass(frozen=True, slots=True)
class Found:
    """A run that shows it: a world, all events in order, and the mark's route if one was asked."""

    world: int
    order: tuple[int, ...]
    route: tuple[Hop, ...] = ()


@dataclass(frozen=True, slots=True)
class Impossible:
    """Proved: no run shows it."""


@dataclass(frozen=True, slots=True)
class Undecided:
    """The budget of counted steps ran out; ``spent`` says how many."""

    spent: int


Answer = Found | Impossible | Undecided


@dataclass(frozen=True, slots=True)
class Budget:
    """Counted limits, so that the same question has the same answer on every machine.

    ``own``: nodes of our own search, tests of explanations included, before the question is handed
    to the clause-learning solver.
    ``conflicts``: conflicts that solver may spend before the answer is :class:`Undecided`.
    """

    own: int = 300
    conflicts: int = 2_000_000


@dataclass(slots=True)
class Effort:
    """What answers cost: :func:`protocol_lang.order.decide` adds to it."""

    relaxed: int = 0
    settled_by_relaxation: int = 0
    nodes: int = 0
    explanations: int = 0
    handed_over: int = 0
