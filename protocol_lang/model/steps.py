"""The checklist: steps and the blocks that order them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from protocol_lang.model.conditions import Claim, Condition
from protocol_lang.model.verbs import Exposes, Frame, Lasting, SetsFact, Verb
from protocol_lang.text import Place


@dataclass(frozen=True, slots=True)
class Doing:
    """A sentence read as a verb: ``frame`` is the form that matched, ``filled`` what fills each
    slot.

    Each filling is a tuple of names (of people, things, streams; groups spelt out); more than one
    only in a slot that takes a list. ``numbers``: for slots of supplies that are laid out, how many
    of each filling; None where no number is told, which means as many as are taken.
    """

    verb: Verb
    frame: Frame
    filled: Mapping[str, tuple[str, ...]]
    numbers: Mapping[str, tuple[int | None, ...]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Saying:
    """say: …, a step without contact."""

    text: str


@dataclass(frozen=True, slots=True)
class Waiting:
    """A wait of so many minutes, or until a thing is dry."""

    actor: str
    minutes: int | None
    until_dry: str | None


@dataclass(frozen=True, slots=True)
class Round:
    """Which time round a step is done: the ``number``-th ``name`` (counted from 1).

    ``place``: the line that says that it is repeated.
    """

    name: str
    number: int
    place: Place


@dataclass(frozen=True, slots=True)
class Step:
    """One tick box. ``label``: its name, if it has one. ``text``: the sentence as written.

    ``rounds``: of a step that is spelt out for each time it is done, which time this is, for each
    repetition around it, the outermost first. ``before``: labels of steps that come after it.
    ``takes``: how long it takes, for each thing where it is done to several one by one.
    """

    label: str | None
    text: str
    short: str | None
    does: Doing | Saying | Waiting
    claims: tuple[Claim, ...]
    sets: tuple[SetsFact, ...]
    after: tuple[tuple[str, Place], ...]
    notes: tuple[str, ...]
    sources: tuple[str, ...]
    place: Place
    rounds: tuple[Round, ...] = ()
    before: tuple[str, ...] = ()
    takes: Lasting | None = None

    @property
    def exposes(self) -> bool:
        """Whether an exposure is made."""
        return isinstance(self.does, Doing) and any(
            isinstance(line, Exposes) for line in self.does.verb.lines
        )


@dataclass(frozen=True, slots=True)
class InOrder:
    """Items one after the other."""

    items: tuple[Item, ...]
    place: Place


@dataclass(frozen=True, slots=True)
class AnyOrder:
    """Items in any order; a sub-list stays in one go unless ``mixed``."""

    items: tuple[Item, ...]
    mixed: bool
    place: Place


@dataclass(frozen=True, slots=True)
class InOneGo:
    """Items one after the other, with no other step of the same person in between."""

    items: tuple[Item, ...]
    place: Place


@dataclass(frozen=True, slots=True)
class SideBySide:
    """Lanes of people who work at the same time: (person, items)."""

    lanes: tuple[tuple[str, tuple[Item, ...]], ...]
    place: Place


@dataclass(frozen=True, slots=True)
class Where:
    """Branches: the first whose condition holds is done; the last may have none (otherwise)."""

    branches: tuple[tuple[Condition | None, tuple[Item, ...]], ...]
    place: Place


@dataclass(frozen=True, slots=True)
class Border:
    """Where one protocol ends and another goes on: no step, but what is claimed just there.

    ``title``: of the protocol that begins here (``begins``) or ends. ``visit_begins``: the next
    visit begins here, while a part of the last one may still be done. ``day_begins``: the next day
    begins here; those who work there come in anew.
    """

    title: str
    begins: bool
    claims: tuple[Claim, ...]
    place: Place
    visit_begins: bool = False
    day_begins: bool = False


@dataclass(frozen=True, slots=True)
class Either:
    """Ways of which whoever does it is free to take any, in any visit."""

    ways: tuple[tuple[Item, ...], ...]
    place: Place


@dataclass(frozen=True, slots=True)
class MayBeLeftOut:
    """Items that may be done or left out, in any visit.

    ``when``: when they are done, as written: "every week". It means the same to the proof.
    """

    items: tuple[Item, ...]
    place: Place
    when: str | None = None


@dataclass(frozen=True, slots=True)
class ForEach:
    """Items done again for each ``name``: from ``least`` to ``most`` times in a visit."""

    name: str
    least: int
    most: int
    items: tuple[Item, ...]
    place: Place


@dataclass(frozen=True, slots=True)
class TimeOnly:
    """Items done only the first time round (``first``), or only the last."""

    first: bool
    items: tuple[Item, ...]
    place: Place


@dataclass(frozen=True, slots=True)
class Again:
    """Everything from the step with that label on is done again, at most so many times."""

    label: str
    most: int
    place: Place


@dataclass(frozen=True, slots=True)
class RoundEnds:
    """Where the ``number``-th time round ends and the next begins: no step, but a moment to look
    at. ``place``: of the line that says that it is repeated."""

    name: str
    number: int
    place: Place


#: Blocks that say how the steps under them are ordered or chosen.
Plain = Step | InOrder | AnyOrder | InOneGo | SideBySide | Where | Border | RoundEnds

#: All that a checklist is written with; what is not plain is spelt out before it is judged.
Item = Plain | Either | MayBeLeftOut | ForEach | TimeOnly | Again


@dataclass(frozen=True, slots=True)
class Mishap:
    """Something that can happen in a phase, at most one in a visit, and what is then done.

    ``person``: between any two steps of that person; or None, and it happens right after the steps
    with these labels. ``part``, ``visit``: as in :class:`Phase`.
    ``short``: in few words what is done.
    """

    name: str
    phases: tuple[str, ...]
    person: str | None
    labels: tuple[str, ...]
    items: tuple[Item, ...]
    place: Place
    part: str | None = None
    visit: int = 1
    short: str | None = None


@dataclass(frozen=True, slots=True)
class Phase:
    """A titled part of the checklist; phases follow each other.

    ``part``: the title of the protocol that it stands in, where several are put together.
    ``runs_on``: nobody waits for its end but those who do it, before they do anything that comes
    after it. ``visit``: in which visit it is, where one runs into another (the first is 1).
    """

    title: str
    short: str | None
    notes: tuple[str, ...]
    items: tuple[Item, ...]
    place: Place
    part: str | None = None
    runs_on: bool = False
    visit: int = 1
