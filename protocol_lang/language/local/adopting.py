"""A local edition put onto another edition of its base: what does not fit, and the new text.

Each change is looked at in the base that it was written for and in the new one. Where the new one
does not have what is changed, or says it otherwise than the old one, or puts something in at the
same place, the two clash. The text of the local file stays as it is, with all its comments: only
the line "adapts" names the new edition, and above each change that clashes stands what to settle.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, fields, is_dataclass, replace
from typing import Any, TypeVar

from protocol_lang.findings import Finding
from protocol_lang.language import tree
from protocol_lang.language.layout import cut
from protocol_lang.language.local import adapts
from protocol_lang.language.local.declared import (
    BY_HEADING,
    WHOLE,
    lines_by_name,
    named_in,
    sort_of,
)
from protocol_lang.language.local.find import (
    Spot,
    lists_of,
    named_by,
    phase_of,
    sentence_of,
    spot_of,
    spots,
    steps_of,
)
from protocol_lang.language.neaten import changed_step, section_heading
from protocol_lang.language.spaces import key_of, name_text
from protocol_lang.text import Text

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Clash:
    """A change of a local edition that the new base does not fit.

    ``kind`` and ``facts``: as in a finding; the words are in ``wording.adopted``. ``line``: of the
    local file, to which it belongs; ``under``: what is to be settled stands under that line, not
    above it.
    """

    kind: str
    facts: Mapping[str, str]
    line: int
    under: bool = False


@dataclass(frozen=True, slots=True)
class Base:
    """A base with the files that it takes words from, itself last, as they are written."""

    files: tuple[tree.File, ...]

    @property
    def phases(self) -> list[tree.Phase]:
        """The phases of the base itself."""
        return [part for part in self.files[-1].sections if isinstance(part, tree.Phase)]


def clashes(local: tree.File, old: Base | None, new: Base) -> tuple[Clash, ...]:
    """What of a local edition does not fit the new base, in the order of the text.

    ``local``: as it is written. ``old``: what it was written for; None if that is not at hand, and
    then only what is missing in the new base can be told.
    """
    found: list[Clash] = []
    for section in local.sections:
        match section:
            case tree.ChangesIn():
                found += _in_phase(section, old, new)
            case tree.Instead() | tree.Without() | tree.PhasesBeside():
                found += (
                    Clash(one.kind, one.facts, section.place.line, under=True)
                    for one in _of_section(section, old, new)
                )
            case _:
                found += _added(section, local, old, new)
    return tuple(found)


def count_of_changes(local: tree.File) -> int:
    """How many changes a local edition makes: lines of changes, names, sections, phases."""
    count = 0
    for section in local.sections:
        match section:
            case tree.ChangesIn(lines=lines):
                count += sum(isinstance(line, tree.Change) for line in lines)
            case tree.Instead(section=inner):
                count += max(1, sum(len(named_in(line)) for line in getattr(inner, "lines", ())))
            case tree.Without(lines=names, phase=phase):
                count += (
                    1
                    if phase is not None
                    else sum(len(line.names) for line in names if isinstance(line, tree.NamesLine))
                )
            case tree.PhasesBeside(phases=phases):
                count += len(phases)
            case _:
                count += 1
    return count


#: Changes that a change of the same step in the base can run against.
_REPLACES = ("instead of", "without", "reword")

# --- Steps ---------------------------------------------------------------------------------------


def _in_phase(section: tree.ChangesIn, old: Base | None, new: Base) -> Iterator[Clash]:
    if section.phase is None:
        return
    there = phase_of(section.phase, new.phases)
    was = None if old is None else phase_of(section.phase, old.phases)
    if isinstance(was, Finding):
        return  # it did not fit the old one either, and the check tells that
    if isinstance(there, Finding):
        facts = {"name": section.phase.plain}
        yield Clash("phase-gone", facts, section.place.line, under=True)
        return
    for change in section.lines:
        if isinstance(change, tree.Change):
            for asked in (change.what, change.to):
                if asked is not None:
                    moves = change.how == "move"
                    yield from _of_step(
                        change, asked, moves and asked is change.to, (was, old), (there, new)
                    )


def _of_step(
    change: tree.Change,
    asked: tree.Changed,
    target: bool,
    was: tuple[tree.Phase | None, Base | None],
    there: tuple[tree.Phase, Base],
) -> Iterator[Clash]:
    """What does not fit of a step that a change names. ``target``: it is where another moves."""
    line = change.place.line
    facts = {"step": changed_step(asked)}
    after = spot_of(asked, there[0], there[1].phases)
    before = None if was[0] is None or was[1] is None else spot_of(asked, was[0], was[1].phases)
    if isinstance(before, Finding):
        return
    if isinstance(after, Finding):
        yield Clash(*_missing(after, facts, before, there[0]), line)
        return
    if before is None or was[0] is None:
        return
    beside = change.how in ("before", "after") or target
    if beside:
        later = change.after if change.how == "move" else change.how == "after"
        put = _put_in(before, was[0], after, there[0], later)
        if put is not None:
            yield Clash("step-put-in", {**facts, "other": _shown(put)}, line)
    elif change.how in ("instead of", "without", "reword") and bare(before.item) != bare(
        after.item
    ):
        facts["was"], facts["is"] = _shown(before.item), _shown(after.item)
        yield Clash("step-changed", facts, line)
    if (
        change.how == "move"
        and not target
        and _place_of(before, was[0], there[0]) != _place_of(after, there[0], was[0])
    ):
        yield Clash("step-moved", facts, line)


def _missing(
    why: Finding, facts: dict[str, str], before: Spot | None, phase: tree.Phase
) -> tuple[str, dict[str, str]]:
    """That the new base does not have a step, with what it has in its place."""
    if why.kind == "change-which-step":
        return "steps-counted", {**facts, "count": why.facts["count"]}
    if "elsewhere" in why.facts:
        return "step-in-other-phase", {**facts, "phase": why.facts["elsewhere"]}
    if before is not None and isinstance(before.item, tree.Step):
        facts = {**facts, "was": sentence_of(before.item)}
        same = [
            spot.item
            for spot in steps_of(phase)
            if isinstance(spot.item, tree.Step)
            and sentence_of(spot.item) == sentence_of(before.item)
        ]
        named = named_by(phase, same[0]) if len(same) == 1 else None
        if named is not None:
            return "step-renamed", {**facts, "now": named}
    return "step-gone", facts


def _put_in(
    before: Spot, old: tree.Phase, after: Spot, new: tree.Phase, later: bool
) -> tree.Item | None:
    """What the new base puts in directly after a step (``later``), or before it."""
    now = _neighbour(after, new, later)
    if now is None:
        return None
    had = _neighbour(before, old, later)
    if had is not None and bare(had) == bare(now):
        return None
    known = (bare(spot.item) for spot in spots(old.items))
    return None if any(bare(now) == one for one in known) else now


def _neighbour(spot: Spot, phase: tree.Phase, later: bool) -> tree.Item | None:
    lists = lists_of(spot.around[-1]) if spot.around else (phase.items,)
    for items in lists:
        for at, item in enumerate(items):
            if item is spot.item:
                other = at + 1 if later else at - 1
                return items[other] if 0 <= other < len(items) else None
    return None


def _place_of(spot: Spot, phase: tree.Phase, other: tree.Phase) -> int:
    """How many steps that both phases have, and that stand in each once, come before it."""
    ours, theirs = _once(phase), _once(other)
    count = 0
    for one in spots(phase.items):
        if one.item is spot.item:
            return count
        if isinstance(one.item, tree.Step):
            said = sentence_of(one.item)
            count += said in ours and said in theirs
    return count


def _once(phase: tree.Phase) -> set[str]:
    said = [sentence_of(x.item) for x in steps_of(phase) if isinstance(x.item, tree.Step)]
    return {one for one in said if said.count(one) == 1}


def _shown(item: tree.Item) -> str:
    """A step as it is named in a sentence; a block by its first step."""
    if isinstance(item, tree.Step):
        said = sentence_of(item)
        under = len(item.lines)
        return said + (f", with {under} {'line' if under == 1 else 'lines'} under it" * bool(under))
    first = next((x.item for x in spots((item,)) if isinstance(x.item, tree.Step)), None)
    return "a block" if first is None else f"a block that begins with: {sentence_of(first)}"


# --- Sections ------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Told:
    kind: str
    facts: dict[str, str]


def _of_section(section: tree.Section, old: Base | None, new: Base) -> Iterator[_Told]:
    match section:
        case tree.Instead(section=tree.Phase(title=tree.Words() as title)):
            yield from _whole_phase(title, old, new)
        case tree.Instead(section=tree.Verb() as verb):
            yield from _whole(_verb(verb, old), _verb(verb, new), verb.form.plain)
        case tree.Instead(section=inner) if isinstance(inner, WHOLE):
            heading = section_heading(inner)
            yield from _whole(_all_of(type(inner), old), _all_of(type(inner), new), heading)
        case tree.Instead(section=inner):
            sort = sort_of(inner)
            for line in getattr(inner, "lines", ()):
                for name in named_in(line):
                    yield from _name(sort or "", name, old, new)
        case tree.Without(phase=tree.Words() as title):
            yield from _whole_phase(title, old, new)
        case tree.Without():
            sort = BY_HEADING[section.heading.plain]
            for line in section.lines:
                if isinstance(line, tree.NamesLine):
                    names: Iterable[tree.Words] = line.names
                    if sort == "exposure setting":
                        text = ", ".join(name.plain for name in line.names)
                        names = (tree.Words(text, line.place),)
                    for name in names:
                        yield from _name(sort, name, old, new)
        case tree.PhasesBeside(phase=tree.Words() as title):
            yield from _beside_phase(section, title, old, new)
        case _:
            pass


def _whole_phase(title: tree.Words, old: Base | None, new: Base) -> Iterator[_Told]:
    there = phase_of(title, new.phases)
    was = None if old is None else phase_of(title, old.phases)
    if isinstance(was, Finding):
        return
    if isinstance(there, Finding):
        yield _Told("phase-gone", {"name": title.plain})
    elif was is not None and bare(was) != bare(there):
        yield _Told("phase-changed", {"name": title.plain})


def _beside_phase(
    section: tree.PhasesBeside, title: tree.Words, old: Base | None, new: Base
) -> Iterator[_Told]:
    there = phase_of(title, new.phases)
    was = None if old is None else phase_of(title, old.phases)
    if isinstance(was, Finding):
        return
    if isinstance(there, Finding):
        yield _Told("phase-gone", {"name": title.plain})
        return
    if was is None or old is None:
        return
    other = new.phases.index(there) + (1 if section.after else -1)
    if 0 <= other < len(new.phases):
        beside = new.phases[other].title
        if beside is not None and isinstance(phase_of(beside, old.phases), Finding):
            yield _Told("phase-put-in", {"name": title.plain, "other": beside.plain})


def _verb(asked: tree.Verb, base: Base | None) -> tree.Verb | None:
    for file in base.files if base is not None else ():
        for section in file.sections:
            if isinstance(section, tree.Verb) and section.form.plain == asked.form.plain:
                return section
    return None


def _all_of(kind: type[tree.Node], base: Base | None) -> tuple[tree.Node, ...] | None:
    if base is None:
        return None
    return tuple(part for file in base.files for part in file.sections if type(part) is kind)


def _whole(was: object, there: object, name: str) -> Iterator[_Told]:
    """Of something that is said anew as a whole."""
    if was is None or was == ():
        return
    if not there:
        yield _Told("name-gone", {"name": name, "sort": "part"})
    elif bare(was) != bare(there):
        yield _Told("name-changed", {"name": name, "sort": "part"})


def _name(sort: str, name: tree.Words, old: Base | None, new: Base) -> Iterator[_Told]:
    key = (sort, key_of(name_text(name)))
    facts = {"name": name_text(name), "sort": sort}
    there = lines_by_name(new.files).get(key)
    was = None if old is None else lines_by_name(old.files).get(key)
    if old is not None and was is None:
        return
    if there is None:
        yield _Told("name-gone", facts)
    elif was is not None and bare(was) != bare(there):
        yield _Told("name-changed", facts)


def _added(section: tree.Section, local: tree.File, old: Base | None, new: Base) -> Iterator[Clash]:
    """What a local edition adds and the new base has now, too."""
    head = adapts(local)
    line = local.place.line if head is None else head.place.line
    if old is None:
        return
    if isinstance(section, tree.Phase) and section.title is not None:
        was = phase_of(section.title, old.phases)
        if isinstance(was, Finding) and not isinstance(
            phase_of(section.title, new.phases), Finding
        ):
            facts = {"name": section.title.plain, "sort": "phase"}
            yield Clash("name-added", facts, line, under=True)
        return
    sort = sort_of(section)
    if sort is None:
        return
    had, has = lines_by_name(old.files), lines_by_name(new.files)
    for one in getattr(section, "lines", ()):
        for name in named_in(one):
            key = (sort, key_of(name_text(name)))
            if key in has and key not in had:
                facts = {"name": name_text(name), "sort": sort}
                yield Clash("name-added", facts, line, under=True)


def bare(value: T) -> T:
    """A part of a tree without its comments: equal to another when both say the same."""
    made: Any = value
    if isinstance(value, tuple):
        made = tuple(bare(one) for one in value)
    elif isinstance(value, tree.Node) and is_dataclass(value):
        changed = {
            each.name: bare(getattr(value, each.name))
            for each in fields(value)
            if each.name not in ("place", "remarks", "end")
        }
        changed["remarks"] = tree.NO_REMARKS
        if isinstance(value, tree.Block):
            changed["end"] = ()
        made = replace(value, **changed)
    return made  # type: ignore[no-any-return]


# --- The new text --------------------------------------------------------------------------------


def rewritten(
    text: Text,
    line: tree.Adapts,
    edition: int,
    fingerprint: str,
    settle: Iterable[tuple[Clash, str]],
) -> str:
    """The text of a local edition for another edition of its base.

    ``line``: the one that says what it adapts; ``settle``: what clashes, with the words for it.
    Every other line stays as it is.
    """
    above: dict[int, list[str]] = {}
    for clash, said in settle:
        at = clash.line + 1 if clash.under else clash.line
        blanks = _blanks(text, clash)
        put = f'{blanks}to settle "{said}"'
        if put not in above.setdefault(at, []):
            above[at].append(put)
    made: list[str] = []
    for number, old in enumerate(text.lines, 1):
        made += (one for one in above.pop(number, ()) if one.strip() not in _just_above(made))
        made.append(
            _adapting(old, line, edition, fingerprint) if number == line.place.line else old
        )
    for left in above.values():
        made += left
    return "".join(f"{one}\n" for one in made)


def _just_above(lines: Sequence[str]) -> set[str]:
    """What is to be settled already at this place."""
    found = set()
    for line in reversed(lines):
        if not line.strip().startswith("to settle"):
            break
        found.add(line.strip())
    return found


def _blanks(text: Text, clash: Clash) -> str:
    """The blanks before a line of its own: those of the line beside which it stands."""
    own = text.lines[clash.line - 1]
    blanks = own[: len(own) - len(own.lstrip())]
    if not clash.under:
        return blanks
    if blanks:
        return blanks  # under the line "adapts", which stands in a header
    below = (line for line in text.lines[clash.line :] if cut(line)[0].strip())
    first = next(below, "")
    return first[: len(first) - len(first.lstrip())] or "  "


def _adapting(old: str, line: tree.Adapts, edition: int, fingerprint: str) -> str:
    """The line "adapts" for that edition; its indentation and comment stay."""
    words, comment = cut(old)
    blanks = old[: len(old) - len(old.lstrip())]
    made = f'{blanks}adapts "{line.title.plain}" edition {edition} fingerprint {fingerprint}'
    if words.strip() == made.strip():
        return old
    return made if comment is None else f"{made}  {old[len(words) :].lstrip()}"
