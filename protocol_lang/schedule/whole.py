"""All about the time of one protocol: cases, one course, contact times, gains."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

from protocol_lang.contamination.kernel import Bits, Wet
from protocol_lang.contamination.marks import Layout, named_spots
from protocol_lang.contamination.unfold import Unfolded
from protocol_lang.contamination.unfold.spelling import repetitions
from protocol_lang.model.walk import steps_of
from protocol_lang.schedule.cases import NoVisit, cases
from protocol_lang.schedule.contact import Verdict, verdicts
from protocol_lang.schedule.critical import Times, times
from protocol_lang.schedule.gains import gains
from protocol_lang.schedule.least import least
from protocol_lang.schedule.tasks import MINUTE, At, Changes, Tasks
from protocol_lang.timetable import (
    Bar,
    Clearing,
    Contact,
    Course,
    Drying,
    Kept,
    Pairs,
    Timetable,
    Told,
)
from protocol_lang.trade.contact import drying_minutes, wettings


def timetable(unfolded: Unfolded, layout: Layout, session: int) -> Timetable:
    """How long a visit takes, over all that the protocol leaves open. ``session``: minutes.

    Raises :class:`~protocol_lang.schedule.cases.NoVisit`, and
    :class:`~protocol_lang.order.runs.OutOfBudgetError` if an order of the steps is not found in
    reasonable time.
    """
    return _Whole(unfolded, layout, session).timetable()


class _Whole:
    def __init__(self, unfolded: Unfolded, layout: Layout, session: int) -> None:
        self.unfolded = unfolded
        self.layout = layout
        self.session = session
        self.tasks = Tasks(unfolded)
        self.owners: dict[int, str] = {
            unfolded.plan.bodies[body].spot: owner for (owner, _), body in unfolded.bodies.items()
        }

    def timetable(self) -> Timetable:
        every_case = list(cases(self.tasks, self.session))
        longest = max(every_case, key=lambda one: (one.case.ready.most, one.case.ready.least))
        there, air = longest.there, self.tasks.carries(longest.world)
        every = (1 << self.unfolded.plan.worlds) - 1
        found = list(verdicts(self.tasks, self.layout.body_of_layer, every))
        protocol = self.unfolded.protocol
        return Timetable(
            title=protocol.header.title,
            cases=tuple(one.case for one in every_case),
            course=self._course(there, longest.case.choices, air),
            contacts=tuple(self._contacts(found)),
            drying=tuple(self._drying(there)),
            clearing=tuple(self._clearing()),
            gains=gains(self.tasks, there, air, found),
            untold=self._untold(),
            session=self.session,
            rounds=tuple(self._rounds()),
            mishaps=bool(protocol.mishaps),
        )

    # --- One visit as it runs --------------------------------------------------------------------

    def _course(self, there: Bits, choices: Pairs, air: bool) -> Course:
        tasks = self.tasks
        work = tasks.work(there, At.MIDDLE, air=air)
        found = least(work, None, tasks.ready)
        if found is None:
            raise NoVisit
        run = found.order
        when = times(work, run, tasks.ready)
        bars: list[Bar] = []
        # Of each person's steps, when the last one ended: a wait begins there.
        busy: dict[int | None, int] = {}
        for act in run:
            step = tasks.steps[act] if act < len(tasks.steps) else None
            if step is None or not there >> act & 1:
                continue
            note = self.unfolded.acts[act]
            start, length = when.start[act], work.lengths[act]
            wait = tasks.is_wait(act)
            begin = min(busy.get(work.who[act], start), start) if wait and not length else start
            if start + length > begin:
                bars.append(
                    Bar(
                        note.person or "",
                        step.short or step.text,
                        note.phase or "",
                        begin,
                        start + length,
                        _slack(when, act, found.ticks),
                        wait,
                        note.place,
                    )
                )
            busy[work.who[act]] = start + length
        return Course(choices, tuple(_together(bars)), found.ticks, found.exact)

    # --- Contact times ---------------------------------------------------------------------------

    def _contacts(self, found: Iterable[Verdict]) -> Iterator[Contact]:
        """The verdicts, those of one wetting and one touch together; what is too short first."""
        groups: dict[object, list[Verdict]] = {}
        plan, notes = self.unfolded.plan, self.unfolded.acts
        for one in found:
            if one.kept is Kept.SURELY and one.found is None:
                continue
            wetting = notes[one.wetting]
            touch = notes[one.touch].place if one.kept is Kept.SURELY else None
            groups.setdefault((one.kept, wetting.place, touch), []).append(one)
        order = {Kept.TOO_SHORT: 0, Kept.UNDECIDED: 1, Kept.SURELY: 2}
        listed = sorted(groups.values(), key=lambda group: (order[group[0].kept], group[0].wetting))
        for group in listed:
            worst = min(group, key=lambda one: one.found.bound if one.found else 0)
            same = {one.treatment for one in group}
            if worst.kept is not Kept.SURELY:
                same = {one.treatment for one in group if one.touch == worst.touch} or same
            spots: list[str] = []
            for treatment in sorted(same, key=lambda one: self.tasks.begins[one]):
                for spot in sorted(named_spots(plan, self.layout.body_of_layer, (Wet(treatment),))):
                    spots.append(self.owners.get(spot, plan.spots[spot].name))
            yield self._contact(worst, tuple(dict.fromkeys(spots)))

    def _contact(self, one: Verdict, things: tuple[str, ...]) -> Contact:
        tasks, notes = self.tasks, self.unfolded.acts
        found = one.found
        because: tuple[Told, ...] = ()
        story: tuple[Told, ...] = ()
        if found is not None and one.kept is Kept.SURELY:
            between = found.why.tasks if found.forced else found.way[1:-1]
            placed = {task: place for place, task in enumerate(found.order)}
            because = tuple(self._told(act) for act in sorted(between, key=placed.__getitem__))
        elif found is not None:
            at = {task: place for place, task in enumerate(found.order)}
            there = tasks.there(one.world)
            between = found.order[at[one.wetting] : at[one.touch] + 1]
            story = tuple(
                self._told(act)
                for act in between
                if there >> act & 1 and act < tasks.end and tasks.steps[act] is not None
            )
        return Contact(
            wetting=notes[one.wetting].text,
            place=notes[one.wetting].place,
            things=things,
            touch=None if one.touch == tasks.end else notes[one.touch].text,
            label=one.label,
            kept=one.kept,
            least=0 if found is None else (found.bound if one.kept is Kept.SURELY else found.ticks),
            because=tuple(told for told in because if told.length or told.wait),
            load=found is not None and found.forced and found.why.load,
            without_waits=one.without,
            story=story,
            choices=_pairs(self.unfolded, one.world),
        )

    def _told(self, act: int) -> Told:
        note = self.unfolded.acts[act]
        wait = self.tasks.is_wait(act)
        return Told(note.text, note.person or "", self.tasks.length(act, At.LEAST), wait)

    def _drying(self, there: Bits) -> Iterator[Drying]:
        """Labels that ask for longer than a water-based product stays wet, by published figures."""
        span = drying_minutes()
        wet = span.most or span.least
        work = self.tasks.work(there, At.MOST, Changes(no_waits=True))
        plan = self.unfolded.plan
        named = {
            treatment: named_spots(plan, self.layout.body_of_layer, (Wet(treatment),))
            for treatment in self.tasks.begins
        }
        told: set[object] = set()
        for treatment, act in sorted(self.tasks.begins.items(), key=lambda one: one[1]):
            label = self.tasks.label(treatment)
            if not there >> act & 1 or label <= wet * MINUTE:
                continue
            gap = None
            for other, later in self.tasks.begins.items():
                if work.before[later] >> act & 1 and named[treatment] <= named[other]:
                    came = least(work, act, later)
                    if came is not None:
                        gap = came.ticks if gap is None else min(gap, came.ticks)
            note = self.unfolded.acts[act]
            if note.place in told:
                continue
            told.add(note.place)
            often = wettings(label // MINUTE)
            yield Drying(note.text, note.place, label, int(wet * MINUTE), often, gap)

    # --- What else is said -----------------------------------------------------------------------

    def _clearing(self) -> Iterator[Clearing]:
        air = self.unfolded.protocol.air
        if air is None:
            return
        for where, minutes in self.tasks.clearing.items():
            changes = self.unfolded.protocol.places[where].air_changes
            yield Clearing(where, f"{float(changes or 0):g}", f"{float(air.percent):g}", minutes)

    def _rounds(self) -> Iterator[tuple[str, int, int]]:
        """What is repeated more often than was looked at: name, most, and looked at."""
        for item in repetitions(self.unfolded.protocol):
            deep = self.unfolded.depths.get(item.place, item.most)
            if deep < item.most:
                yield item.name, item.most, deep

    def _untold(self) -> tuple[str, ...]:
        """The steps of the checklist of which no time is told; what is done after mishaps is not
        among them."""
        written = {
            step.place for phase in self.unfolded.protocol.phases for step in steps_of(phase.items)
        }
        return tuple(
            dict.fromkeys(
                step.text
                for act, step in enumerate(self.tasks.steps)
                if step is not None and not self.tasks.is_told(act) and step.place in written
            )
        )


def _together(bars: Iterable[Bar]) -> Iterator[Bar]:
    """What one step does to several things one after the other is one bar."""
    last: Bar | None = None
    for bar in bars:
        same = last is not None and (last.place, last.person, last.end) == (
            bar.place,
            bar.person,
            bar.start,
        )
        if last is not None and same and last.text == bar.text:
            last = replace(last, end=bar.end, slack=min(last.slack, bar.slack))
            continue
        if last is not None:
            yield last
        last = bar
    if last is not None:
        yield last


def _slack(when: Times, act: int, ticks: int) -> int:
    """The slack of what need not be done before the next patient comes is all the time there is."""
    slack = when.slack[act]
    return ticks if slack is None else slack


def _pairs(unfolded: Unfolded, world: int) -> Pairs:
    """The choices that make this world another than the rest."""
    first, *others = unfolded.worlds.examples[world]
    return tuple(
        (choice.name, first[choice.name])
        for choice in unfolded.protocol.choices
        if choice.name in first
        and len(choice.values) > 1
        and all(other.get(choice.name) == first[choice.name] for other in others)
    )
