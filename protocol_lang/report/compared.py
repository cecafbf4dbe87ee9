"""Two editions compared: what every form of that report sets down, and the page for people."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import date

from protocol_lang.comparison import (
    OF_DAYS,
    Assumed,
    Change,
    Comparison,
    Edition,
    Effect,
    Fate,
    Moved,
    Pair,
    RuleChange,
    Seen,
    Told,
)
from protocol_lang.findings import Weight
from protocol_lang.outcome import Coverage
from protocol_lang.report.sections import Row, Section
from protocol_lang.report.setting import Setting
from protocol_lang.report.told import tell_counts
from protocol_lang.text import Place
from protocol_lang.wording import ENTRIES, basis
from protocol_lang.wording import compared as words
from protocol_lang.wording.plain import begin, quoted


def render(
    comparison: Comparison,
    on: date | None = None,
    width: int = 72,
    colour: bool = False,
    ascii_only: bool = False,
) -> str:
    """The report as text, without a last line feed. The parameters are those of
    :func:`protocol_lang.report.page.render`; ``on``: the day of judgement.

    Raises KeyError for a finding that has no wording.
    """
    page = Setting(width, colour, ascii_only)
    page.put(upshot(comparison), bold=True)
    for section in sections(comparison, on):
        page.gap()
        if section.heading:
            page.put(section.heading, bold=True)
        for row in section.rows:
            page.row(row.label, row.lines, margin=None if section.heading else 0)
    return page.text()


# --- The first sentence --------------------------------------------------------------------------


def upshot(comparison: Comparison) -> str:
    """The one sentence that says what the change amounts to."""
    old, new = comparison.old, comparison.new
    if not (old.read and new.read):
        return words.not_read(old.read, new.read)
    if comparison.same_text and not comparison.in_effect:
        return words.SAME
    judged = old.coverage is not None, new.coverage is not None
    told = _findings_in_brief(comparison.findings, all(judged))
    if not all(judged):
        return f"{begin('; '.join([words.not_judged(*judged), *told]))}."
    if not told and not comparison.in_effect:
        told = [words.ONLY_TEXT]
    elif not told:
        told = [words.no_finding(_changes_in_brief(comparison))]
    partly = words.NOT_ALL_JUDGED.get((old.whole, new.whole), "")
    return f"{begin(partly + '; '.join(told))}."


def _changes_in_brief(comparison: Comparison) -> list[str]:
    counts = {
        "added": len(comparison.added),
        "removed": len(comparison.removed),
        "moved": len(comparison.moved),
        "otherwise": len(comparison.effects),
        "cases": len(comparison.done),
    }
    consider = any(
        one.fate is not Fate.STILL and one.finding.kind not in OF_DAYS
        for one in comparison.findings
    )
    others = [key for key in words.OTHER_CHANGES if getattr(comparison, key, False)]
    return words.changes(counts, [*others, *(["consider"] if consider else [])])


def _findings_in_brief(findings: Sequence[Told], judged: bool) -> list[str]:
    """Paths, then other faults, then what is not known; ``judged``: both editions were."""

    def number(fate: Fate, path: bool) -> int:
        return sum(
            one.fate is fate
            and (one.finding.kind in words.PATHS) is path
            and (one.sure or fate is Fate.NEW)
            and one.finding.weight is Weight.CORRECT
            for one in findings
        )

    opened, closed = number(Fate.NEW, True), number(Fate.GONE, True)
    come, gone = number(Fate.NEW, False), number(Fate.GONE, False)
    open_ones = sum(one.fate is Fate.GONE and not one.sure for one in findings)
    told = [words.paths(opened, closed)] if opened or closed else []
    if come or gone:
        told += [words.faults(come, gone, bool(told), bool(told) or not judged)]
    return told + ([words.not_known(open_ones)] if open_ones else [])


# --- Sections ------------------------------------------------------------------------------------


def sections(comparison: Comparison, on: date | None = None) -> tuple[Section, ...]:
    """All that is told after the first sentence, in its order; what is empty is left out."""
    made = (
        Section("", tuple(_editions(comparison))),
        Section("Header", tuple(_header(comparison))),
        Section("Findings", tuple(_findings(comparison))),
        Section("Rules", _rows("", map(_rule, comparison.rules))),
        Section("Steps", tuple(_steps(comparison))),
        Section("What steps do", tuple(_effects(comparison))),
        Section("Choices and what can happen", _rows("", map(_option, comparison.options))),
        Section("Room and words", _rows("", map(_declared, comparison.declared))),
        Section("What the answer rests on", tuple(_basis(comparison))),
        Section("", tuple(_closing(comparison, on))),
    )
    return tuple(section for section in made if section.rows)


def _rule(change: RuleChange) -> str:
    return words.rule(change.rule, change.pack, change.was, change.is_now)


def _rows(label: str, lines: Iterable[str]) -> tuple[Row, ...]:
    told = tuple(lines)
    return (Row(label, told),) if told else ()


def _editions(comparison: Comparison) -> Iterator[Row]:
    for label, one in (("Old", comparison.old), ("New", comparison.new)):
        outcome = one.outcome
        counts = basis.counts(*tell_counts(outcome))
        lines = [words.edition(outcome.title, one.number, one.in_force)]
        yield Row(label, (*lines, f"{outcome.file}: {counts}"))
    was, is_now = _extent(comparison.old.coverage), _extent(comparison.new.coverage)
    same = was == is_now
    yield Row("Checked", (f"both: {was}",) if same else (f"old: {was}", f"new: {is_now}"))


def _extent(coverage: Coverage | None) -> str:
    if coverage is None:
        return words.NOT_JUDGED
    orders = coverage.orders
    return words.extent(
        coverage.steps,
        coverage.combinations,
        None if orders is None else (orders.number, orders.exact),
        coverage.any_number_of_visits,
    )


_FATES = {Fate.NEW: "new", Fate.GONE: "gone", Fate.STILL: "still"}


def _findings(comparison: Comparison) -> Iterator[Row]:
    for fate, label in _FATES.items():
        for one in comparison.findings:
            if one.fate is fate:
                yield Row(
                    label if one.sure else f"{label}?",
                    (sentence_of(one), *(f"  {line}" for line in _about(one, comparison))),
                )


def sentence_of(told: Told) -> str:
    """The finding as its own edition's report says it."""
    return ENTRIES[told.finding.kind].sentence(told.finding.facts)


def _about(told: Told, comparison: Comparison) -> Iterator[str]:
    finding = told.finding
    home = comparison.old if told.is_now is None else comparison.new
    where = [finding.context] if finding.context else []
    where += (
        [f"{_line(finding.place, home)} of the {_which(told)} edition"] if finding.place else []
    )
    if where:
        yield ", ".join(where)
    yield f"{finding.kind} ({ENTRIES[finding.kind].number}), known as {told.code}"
    if not told.sure:
        other = "new" if told.fate is Fate.GONE else "old"
        yield f"part of the {other} edition was not judged, so it may be there too"


def _which(told: Told) -> str:
    return "old" if told.is_now is None else "new"


def _line(place: Place, home: Edition) -> str:
    """The line, and the file where it is not the edition's own."""
    line = f"line {place.line}"
    return line if place.file == home.outcome.file else f"{place.file}, {line}"


def _steps(comparison: Comparison) -> Iterator[Row]:
    old, new = comparison.old, comparison.new
    yield from _alone("added", comparison.added, new, _whole_parts(comparison, True))
    yield from _alone("removed", comparison.removed, old, _whole_parts(comparison, False))
    for reworded in comparison.reworded:
        pair, same = reworded.step, reworded.same
        effect = words.UNKNOWN_EFFECT
        if same is not None:
            effect = words.SAME_EFFECT if same else words.OTHER_EFFECT
        lines = (
            f"was: {pair.was.text}",
            f"is: {pair.is_now.text}",
            f"  {_spot(pair.is_now, new)}; {effect}",
        )
        yield Row("reworded", lines)
    for one in comparison.moved:
        yield Row("moved", (*_named(one.step, new), *_order(one)))
    for between in comparison.between:
        together = words.some([quoted(pair.is_now.text) for pair in between.together])
        others = [quoted(pair.is_now.text) for pair in between.others]
        yield Row("in one go", (together, f"  {words.between(others, between.can)}"))
    for pair in comparison.moved_in_text:
        yield Row("elsewhere", (*_named(pair, new), f"  {words.ELSEWHERE}"))
    parts = _whole_parts(comparison, True) | _whole_parts(comparison, False)
    phases = [one for one in comparison.phases if one.sort == "runs on" or one.name not in parts]
    yield from _rows("phases", map(_phase, phases))
    if not (old.ordered and new.ordered):
        yield Row("not known", (words.not_ordered(old.ordered, new.ordered),))
    if comparison.undecided:
        yield Row("not known", (words.undecided(comparison.undecided),))


def _whole_parts(comparison: Comparison, of_new: bool) -> set[str]:
    """The protocols that only one of two days has."""
    return {
        change.name
        for change in comparison.options
        if change.sort == "protocol" and (change.was if of_new else change.is_now) is None
    }


def _alone(label: str, steps: Sequence[Seen], home: Edition, parts: set[str]) -> Iterator[Row]:
    """Steps that are in one edition only; a whole protocol of a day in one line."""
    whole: dict[str, int] = {}
    for seen in steps:
        if seen.part is not None and seen.part in parts:
            whole[seen.part] = whole.get(seen.part, 0) + 1
        else:
            yield Row(label, (seen.text, f"  {_spot(seen, home)}"))
    for part, number in whole.items():
        yield Row(label, (words.all_steps(number, part),))


def _named(pair: Pair, home: Edition) -> tuple[str, str]:
    return (pair.is_now.text, f"  {_spot(pair.is_now, home)}, was line {pair.was.place.line}")


def _spot(seen: Seen, home: Edition) -> str:
    return words.spot(_line(seen.place, home), seen.phase, seen.number, seen.part)


def _order(moved: Moved) -> Iterator[str]:
    """One line for all others to which it stands alike."""
    groups: dict[tuple[str, str], list[str]] = {}
    for one in moved.to:
        name = f"{quoted(one.other.is_now.text)} (line {one.other.is_now.place.line})"
        groups.setdefault((one.was.value, one.is_now.value), []).append(name)
    for (was, is_now), others in groups.items():
        yield f"  {words.order(was, is_now, others)}"


def _effects(comparison: Comparison) -> Iterator[Row]:
    new = comparison.new
    alike: dict[tuple[tuple[Effect, ...], tuple[Effect, ...]], list[Pair]] = {}
    for one in comparison.effects:
        alike.setdefault((one.no_longer, one.now), []).append(one.step)
    for (no_longer, now), steps in alike.items():
        lines = list(_together(steps, new))
        lines += [f"  no longer: {effect_in_words(effect)}" for effect in no_longer]
        lines += [f"  now: {effect_in_words(effect)}" for effect in now]
        if not no_longer and not now:
            lines.append(f"  {words.OTHER_SEQUENCE}")
        yield Row("otherwise", tuple(lines))
    for case in comparison.done:
        told = words.was_is(
            ", ".join(case.was) or words.ALWAYS, ", ".join(case.is_now) or words.ALWAYS
        )
        yield Row("done when", (*_named(case.step, new), *(f"  {line}" for line in told)))


def _together(steps: Sequence[Pair], home: Edition) -> Iterator[str]:
    """Steps of which the same is told; one alone with all about it."""
    if len(steps) == 1:
        yield from _named(steps[0], home)
        return
    yield words.several(len(steps))
    for pair in steps:
        yield f"  {pair.is_now.text} ({_line(pair.is_now.place, home)})"


def effect_in_words(effect: Effect) -> str:
    """One thing that a step does."""
    return words.effect(effect.kind, dict(effect.names))


def _option(change: Change) -> str:
    return words.option(change.sort, change.name, change.was, change.is_now)


def _declared(change: Change) -> str:
    return words.declared(change.sort, change.name, change.was, change.is_now)


def _phase(change: Change) -> str:
    return words.phase(change.sort, change.name, change.was, change.is_now)


def _basis(comparison: Comparison) -> Iterator[Row]:
    def told(newly: bool) -> tuple[str, ...]:
        alike: dict[tuple[str, tuple[str, ...]], list[str]] = {}
        for one in comparison.assumed:
            if one.newly is newly:
                at = words.THING_OF.get(one.kind, len(one.names))
                same = alike.setdefault((one.kind, (*one.names[:at], "", *one.names[at + 1 :])), [])
                same += one.names[at : at + 1]
        return tuple(words.assumed(kind, names, things) for (kind, names), things in alike.items())

    yield from _rows("newly", told(True))
    yield from _rows("no longer", told(False))
    for in_new, label in ((True, "unchecked"), (False, "checked now")):
        lines = [
            ENTRIES[part.kind].sentence(part.facts)
            for part, new in comparison.unchecked
            if new is in_new
        ]
        yield from _rows(label, lines)


def assumed_in_words(assumed: Assumed) -> str:
    """Something that an answer rests on."""
    at = words.THING_OF.get(assumed.kind, len(assumed.names))
    return words.assumed(assumed.kind, assumed.names, assumed.names[at : at + 1])


def _header(comparison: Comparison) -> Iterator[Row]:
    for change in comparison.header:
        if change.sort in ("source", "note"):
            fate = "new" if change.was is None else "gone"
            yield Row(change.sort, (f"{fate}: {quoted(change.name)}",))
        else:
            yield Row(change.sort, tuple(words.was_is(change.was, change.is_now)))


def _closing(comparison: Comparison, on: date | None) -> Iterator[Row]:
    if comparison.findings:
        yield Row("More", (words.MORE,))
    yield Row("Caution", basis.CAUTIONS)
    if on is not None:
        yield Row("Date", (basis.day(on.isoformat()),))
