"""The changes of a local edition in the steps of one phase.

All of them speak of the phase as the base has it: which comes first makes no difference, but for
steps that are put in at one place, which stand in the order of the changes.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace

from protocol_lang.findings import Finding
from protocol_lang.language import tree
from protocol_lang.language.local.find import Spot, label_of, lists_of, spot_of, spots
from protocol_lang.text import Place


@dataclass(frozen=True, slots=True)
class _Moved:
    """A step that is put in here and taken out where it stood."""

    item: tree.Item


_Put = tree.Item | _Moved


@dataclass(slots=True)
class _Plan:
    """What becomes of the items of a phase, by which one it is."""

    instead: dict[int, tuple[tree.Item, ...]] = field(default_factory=dict)
    moved: dict[int, tree.Item] = field(default_factory=dict)
    reworded: dict[int, tree.Change] = field(default_factory=dict)
    before: dict[int, list[Sequence[_Put]]] = field(default_factory=dict)
    after: dict[int, list[Sequence[_Put]]] = field(default_factory=dict)
    beside: dict[int, list[tree.Item]] = field(default_factory=dict)
    why: dict[int, tree.Change] = field(default_factory=dict)


def changed_phase(
    phase: tree.Phase, changes: Iterable[tree.Change], phases: Sequence[tree.Phase]
) -> tuple[tree.Phase, list[Finding]]:
    """A phase with the changes carried out; those that cannot be are told, and left out.

    ``phases``: all phases of the base.
    """
    plan = _Plan()
    findings: list[Finding] = []
    spots_changed: list[tuple[tree.Change, Spot]] = []
    for change in changes:
        found = spot_of(change.what, phase, phases)
        to = None if change.to is None else spot_of(change.to, phase, phases)
        wrong = [one for one in (found, to) if isinstance(one, Finding)]
        findings += wrong
        if wrong or isinstance(found, Finding) or isinstance(to, Finding):
            continue
        told = _take(plan, change, found, to)
        if told is not None:
            findings.append(told)
        else:
            spots_changed.append((change, found if to is None else to))
    gone = _gone(plan, spots_changed)
    if gone:
        return phase, [*findings, *gone]
    carried_out = _CarryOut(plan, findings)
    made = replace(phase, items=carried_out.items(phase.items, phase))
    for key, change in plan.why.items():
        if key in plan.moved and key not in carried_out.arrived:
            facts = {"name": change.what.name.plain}
            findings.append(Finding("change-move-into-itself", change.place, facts))
    return made, findings


def _take(plan: _Plan, change: tree.Change, found: Spot, to: Spot | None) -> Finding | None:
    """Notes a change in the plan; or tells why it cannot be made."""
    key = id(found.item)
    facts = {"name": change.what.name.plain}
    if change.how in ("instead of", "without", "move") and key in plan.why:
        others = (("first", plan.why[key].place),)
        return Finding("changed-twice", change.place, facts, others)
    if change.how == "move" and to is not None:
        if to.item is found.item or any(one is found.item for one in to.around):
            return Finding("change-move-into-itself", change.place, facts)
        plan.why[key] = change
        plan.moved[key] = found.item
        where = plan.after if change.after else plan.before
        where.setdefault(id(to.item), []).append((_Moved(found.item),))
        return None
    match change.how:
        case "instead of":
            plan.why[key] = change
            plan.instead[key] = _taking_over(found.item, change.items)
        case "without":
            plan.why[key] = change
            plan.instead[key] = ()
        case "before":
            plan.before.setdefault(key, []).append(change.items)
        case "after":
            plan.after.setdefault(key, []).append(change.items)
        case "beside":
            if not found.around or not isinstance(found.around[-1], tree.AnyOrder):
                return Finding("change-not-any-order", change.place, facts)
            plan.beside.setdefault(key, []).extend(change.items)
        case "reword":
            if not isinstance(found.item, tree.Step):
                return Finding("change-reword-block", change.place, facts)
            label = next((x for x in change.lines if isinstance(x, tree.Labelled)), None)
            if label is not None and isinstance(found.item.does, tree.Say):
                return Finding("change-label-said", label.place, facts)
            if key in plan.reworded:
                others = (("first", plan.reworded[key].place),)
                return Finding("changed-twice", change.place, facts, others)
            plan.reworded[key] = change
    return None


def _taking_over(old: tree.Item, new: tuple[tree.Item, ...]) -> tuple[tree.Item, ...]:
    """One step that stands for one with a label takes the label over, unless it has its own.

    A step in which something is only said has none.
    """
    if isinstance(old, tree.Step) and old.label is not None and len(new) == 1:
        step = new[0]
        only_said = isinstance(step, tree.Step) and isinstance(step.does, tree.Say)
        if isinstance(step, tree.Step) and step.label is None and not only_said:
            return (replace(step, label=old.label),)
    return new


def _gone(plan: _Plan, changes: Iterable[tuple[tree.Change, Spot]]) -> list[Finding]:
    """Changes of, or beside, what other changes take out."""
    told = []
    for change, spot in changes:
        asked = change.to or change.what
        outer = next((one for one in spot.around if id(one) in plan.instead), None)
        kind = "change-beside-gone"
        if change.how in ("instead of", "without"):
            kind = "changed-twice"
        elif change.how == "reword":
            kind = "changed-twice"
            outer = outer or (spot.item if id(spot.item) in plan.instead else None)
        elif plan.instead.get(id(spot.item)) == ():
            outer = outer or spot.item
        if outer is not None:
            others = (("first", plan.why[id(outer)].place),)
            told.append(Finding(kind, change.place, {"name": asked.name.plain}, others))
    return told


@dataclass(slots=True)
class _CarryOut:
    plan: _Plan
    findings: list[Finding]
    arrived: set[int] = field(default_factory=set)

    def items(
        self, items: tuple[tree.Item, ...], over: tree.Node, *, any_order: bool = False
    ) -> tuple[tree.Item, ...]:
        """A list as it is afterwards. ``over``: the line that it stands under."""
        made: list[tree.Item] = []
        for item in items:
            put = self._with_neighbours(item)
            if any_order and len(put) > 1:
                # What is listed is done from the top down, wherever it is put in.
                made.append(tree.InOrder(items=put, place=put[0].place))
            else:
                made += put
            made += self.plan.beside.get(id(item), ())
        if items and not made:
            self.findings.append(self._empty(items, over))
            return items
        return tuple(made)

    def _with_neighbours(self, item: tree.Item, *, here: bool = False) -> tuple[tree.Item, ...]:
        """What stands in the place of an item. ``here``: it is the place that it moves to."""
        if id(item) in self.plan.moved and not here:
            return ()
        made: list[tree.Item] = []
        for put in self.plan.before.get(id(item), ()):
            made += self._put(put)
        made += self.plan.instead[id(item)] if id(item) in self.plan.instead else (self._one(item),)
        for put in self.plan.after.get(id(item), ()):
            made += self._put(put)
        return tuple(made)

    def _put(self, put: Sequence[_Put]) -> Iterable[tree.Item]:
        for one in put:
            if isinstance(one, _Moved):
                self.arrived.add(id(one.item))
                yield from self._with_neighbours(one.item, here=True)
            else:
                yield one

    def _one(self, item: tree.Item) -> tree.Item:
        """An item that stays, with the changes in it."""
        match item:
            case tree.Step():
                change = self.plan.reworded.get(id(item))
                return item if change is None else reworded(item, change.lines)
            case tree.Where():
                return replace(
                    item,
                    branches=tuple(
                        replace(branch, items=self.items(branch.items, branch))
                        for branch in item.branches
                    ),
                )
            case tree.Either():
                ways = tuple(replace(way, items=self.items(way.items, way)) for way in item.ways)
                return replace(item, ways=ways)
            case tree.SideBySide():
                lanes = tuple(
                    replace(lane, items=self.items(lane.items, lane)) for lane in item.lanes
                )
                return replace(item, lanes=lanes)
            case tree.Again():
                return item
            case tree.AnyOrder():
                return replace(item, items=self.items(item.items, item, any_order=True))
            case _:
                return replace(item, items=self.items(item.items, item))

    def _empty(self, items: Iterable[tree.Item], over: tree.Node) -> Finding:
        from protocol_lang.language.neaten import changed_step  # for this finding alone

        change = next(self.plan.why[id(item)] for item in items if id(item) in self.plan.why)
        facts = {"name": change.what.name.plain, "named": changed_step(change.what)}
        if isinstance(over, tree.Phase):
            facts["phase"] = "" if over.title is None else over.title.plain
        return Finding("change-leaves-nothing", change.place, facts, (("over", over.place),))


def reworded(step: tree.Step, lines: Iterable[tree.RewordLine]) -> tree.Step:
    """A step in other words: what is said anew takes the place of all of its kind."""
    new = [line for line in lines if not isinstance(line, tree.Labelled | tree.ToSettle)]
    kinds = {type(line) for line in new}
    label = next((line.name for line in lines if isinstance(line, tree.Labelled)), step.label)
    kept = [line for line in step.lines if type(line) not in kinds]
    return replace(step, label=label, lines=(*kept, *new))


def lost_labels(
    old: Sequence[tree.Phase], new: Sequence[tree.Section]
) -> list[tuple[tree.Step, tuple[Place, ...]]]:
    """Steps of the base whose label is gone though lines name it, with where they do."""
    phases = [section for section in new if isinstance(section, tree.Phase)]
    happening = [section for section in new if isinstance(section, tree.CanHappen)]
    lists = [phase.items for phase in phases]
    for section in happening:
        lists += [line.items for line in section.lines if isinstance(line, tree.Mishap)]
    there = {label_of(spot.item) for items in lists for spot in spots(items)}
    named: dict[str, list[Place]] = {}
    for words in _named(lists, new):
        named.setdefault(words.plain, []).append(words.place)
    lost = []
    for phase in old:
        for spot in spots(phase.items):
            label = label_of(spot.item)
            gone = label is not None and label not in there and label in named
            if isinstance(spot.item, tree.Step) and label is not None and gone:
                lost.append((spot.item, tuple(named[label])))
    return lost


def _named(
    lists: Iterable[tuple[tree.Item, ...]], sections: Iterable[tree.Section]
) -> Iterable[tree.Words]:
    for items in lists:
        for spot in spots(items):
            if isinstance(spot.item, tree.Again):
                yield spot.item.label
            elif isinstance(spot.item, tree.Step):
                for line in spot.item.lines:
                    if isinstance(line, tree.After):
                        yield from line.labels
    for section in sections:
        if isinstance(section, tree.FoundOut):
            for fact in section.lines:
                if isinstance(fact, tree.FoundOutLine):
                    yield fact.label
        elif isinstance(section, tree.CanHappen):
            for mishap in section.lines:
                if isinstance(mishap, tree.Mishap):
                    yield from mishap.labels


__all__ = ["changed_phase", "lists_of", "lost_labels", "reworded"]
