"""Single changes after which less has to go right: thought of along the stories of smallest sets,
each tried by a full check and by asking for lapses again.

A change is offered only if nothing is to be corrected with it, no margin is smaller than before,
and fewer single lapses bring soil of a patient to somebody than before.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from protocol_lang.checks import findings_of
from protocol_lang.checks.edits import inserted, placed, written
from protocol_lang.checks.verbs import Toolbox
from protocol_lang.contamination.rounds import judge_as_deep
from protocol_lang.contamination.unfold import Unfolded
from protocol_lang.findings import Weight
from protocol_lang.lapsed import Change, Lapsed
from protocol_lang.lapses.doing import NoListedOrder
from protocol_lang.lapses.search import Smallest, smallest_sets
from protocol_lang.lapses.spread import Opens
from protocol_lang.lapses.telling import WORD, lapses_in
from protocol_lang.model.protocol import Protocol
from protocol_lang.model.steps import Item, Step
from protocol_lang.order.question import Budget
from protocol_lang.text import Place

#: Changes tried; each is a whole check and a search.
MOST_TRIES = 24
#: Changes told, the best first.
MOST_TOLD = 5
#: What a trial may cost: a change that is not decided within it is not offered.
TRIAL = Budget(own=300, conflicts=20_000)


@dataclass(frozen=True, slots=True)
class _Wish:
    """Steps to put just before a step."""

    step: Step
    items: tuple[Item, ...]


def improved(told: Lapsed, unfolded: Unfolded, smallest: Smallest) -> tuple[Change, ...]:
    """The changes that help, those first that leave the fewest single lapses.

    ``told``: the report with the stories of its sets.
    """
    before = _singles(smallest)
    found: list[Change] = []
    tried = 0
    for wish in _wishes(told, unfolded):
        if tried == MOST_TRIES:
            break
        tried += 1
        items = tuple(placed(item, wish.step.place) for item in wish.items)
        after = _asked(inserted(unfolded.protocol, wish.step, items), unfolded)
        if after is None or any(
            _worse(after.margin(what), smallest.margin(what)) for what in Opens
        ):
            continue
        singles = _singles(after)
        if all(singles[one] <= before[one] for one in before) and singles != before:
            lines = tuple(line.strip() for line in written(wish.items) if "[ ]" in line)
            found.append(
                Change(wish.step.text, wish.step.place, lines, dict(before), dict(singles))
            )
    found.sort(key=lambda one: sum(one.after.values()))
    return tuple(found[:MOST_TOLD])


def _singles(smallest: Smallest) -> dict[str, int]:
    """How many lapses alone open each kind of path that soil of a patient takes."""
    return {
        WORD[what]: sum(len(one) == 1 for one in smallest.sets[what])
        for what in (Opens.NEXT_PATIENT, Opens.STAFF)
    }


def _worse(after: int | None, before: int | None) -> bool:
    return after is not None and (before is None or after < before)


def _asked(protocol: Protocol, like: Unfolded) -> Smallest | None:
    """The single lapses of a changed protocol; None if it is not right, or not decided."""
    judged = judge_as_deep(protocol, like, TRIAL)
    if judged is None:
        return None
    findings, unchecked = findings_of(judged.unfolded, judged.judgement, mend=False)
    if unchecked or any(one.weight is Weight.CORRECT for one in findings):
        return None
    try:
        lapses = lapses_in(judged.unfolded, judged.judgement)
    except NoListedOrder:
        return None
    after = smallest_sets(lapses, 1, TRIAL)
    return None if after.undecided or after.already else after


def _wishes(told: Lapsed, unfolded: Unfolded) -> Iterator[_Wish]:
    """What might break the stories, the steps first that most of them pass."""
    steps = {step.place: step for step in unfolded.steps}
    tools = Toolbox(unfolded.protocol)
    gloves = [
        thing.name
        for thing in unfolded.protocol.things.values()
        if thing.worn_on == "hands" and thing.over is None
    ]
    passed: dict[tuple[Place, str, str], int] = {}
    for one in told.sets:
        if one.route is None or len(one.slips) > 1 or one.opens == "room":
            continue
        for row in one.route.steps[1:]:
            if row.place in steps and row.person is not None and tools.is_staff(row.person):
                for source, _ in row.moves:
                    key = (row.place, row.person, source)
                    passed[key] = passed.get(key, 0) + 1
    seen: set[tuple[Place, tuple[str, ...]]] = set()
    for (place, person, source), _ in sorted(passed.items(), key=lambda pair: -pair[1]):
        ways: list[tuple[Item, ...]] = []
        if source in unfolded.protocol.things:
            ways.append(tools.clean_and_disinfect(person, source))
        else:
            ways.append(tools.clean_hands(person))
            ways += [tools.fresh_gloves(person, glove) for glove in gloves]
        for items in ways:
            mark = (place, tuple(written(items)))
            if items and mark not in seen:
                seen.add(mark)
                yield _Wish(steps[place], items)
