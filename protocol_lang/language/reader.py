"""From the lines of a text to the tree of a file, with everything that is wrong on the way.

Each line is read alone, by its opening words and by where it stands. A line that cannot be read
spoils itself: it becomes :class:`~protocol_lang.language.tree.Spoiled`, and the lines beside it and
under it are read all the same. One mistake makes one finding.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import get_args

from protocol_lang.findings import Finding
from protocol_lang.language import tree
from protocol_lang.language.layout import Raw, lay_out
from protocol_lang.language.limits import MAX_FAULTS
from protocol_lang.language.reading import declarations, local, openers, rules, waivers
from protocol_lang.language.reading.checklist import can_happen, is_item, items_under, phase
from protocol_lang.language.reading.desk import Desk, spoiled
from protocol_lang.language.reading.lines import Shape
from protocol_lang.language.reading.verbs import duty, found_out, verb
from protocol_lang.text import Place, Text


@dataclass(frozen=True, slots=True)
class Reading:
    """A file as a tree, and what is wrong in it, in the order of the lines.

    Without findings the tree holds no spoiled line, and prints to a text that reads the same.
    ``whole``: false when reading ended after as many findings as are listed, so that what the rest
    would declare is not known.
    """

    file: tree.File
    findings: tuple[Finding, ...]
    whole: bool = True


def read(text: Text) -> Reading:
    """Reads a whole file. Never raises: whatever is in the text ends up in tree or findings."""
    layout = lay_out(text)
    desk = Desk(list(layout.findings), layout=len(layout.findings))
    file = _file(desk, text, layout.lines, layout.closing)
    return Reading(file, _in_order(desk.findings, desk.unread), whole=not desk.unread)


def _in_order(findings: list[Finding], unread: bool) -> tuple[Finding, ...]:
    ordered = sorted(findings, key=lambda f: (f.place is not None, f.place, f.kind))
    if len(ordered) > MAX_FAULTS:
        more = ordered[MAX_FAULTS]
        facts = {"limit": str(MAX_FAULTS), "more": str(len(ordered) - MAX_FAULTS)}
        if unread:
            facts["unread"] = "yes"
        return (*ordered[:MAX_FAULTS], Finding("more-faults", more.place, facts))
    return tuple(ordered)


_KINDS: Mapping[str, tree.FileKind] = {kind.upper(): kind for kind in get_args(tree.FileKind)}


def _file(desk: Desk, text: Text, lines: tuple[Raw, ...], closing: tuple[str, ...]) -> tree.File:
    if not lines:
        # Nothing but comments.
        line = next(n for n, words in enumerate(text.lines, 1) if words.strip())
        place = text.place(line, 0, len(text.lines[line - 1]))
        desk.report("first-line-missing", place)
        return tree.File(kind="protocol", title=None, closing=closing, place=place)
    first, *others = lines
    shape: Shape | None = None
    if first.spoiled:
        pass
    elif openers.rule_of(first.words, "first"):
        shape = desk.parse("first", first.words)
    elif openers.rule_of(first.words, "section"):
        desk.report("first-line-missing", first.words.place)
        others = list(lines)
    else:
        desk.report_opening(first.words, "first")
    opened = others == list(lines)
    kind: tree.FileKind = next(
        (word for word in _KINDS.values() if first.words.text.startswith(word)), "protocol"
    )
    title = None if shape is None else desk.quoted(shape.get("QUOTED"))
    header = () if opened else _header(desk, first, kind)
    return tree.File(
        kind=kind,
        title=title,
        header=header,
        sections=_sections(desk, others, kind),
        closing=closing,
        place=first.words.place,
        remarks=tree.NO_REMARKS if opened else first.remarks,
        end=() if opened else first.end,
    )


# --- Header --------------------------------------------------------------------------------------


#: Header lines that belong to files of one kind.
_HOME: Mapping[str, str] = {
    "then": "protocol",
    "follows": "protocol",
    "opening": "day",
    "visits": "day",
    "closing": "day",
    "beside": "day",
    "examples_in": "rules",
    "adapts": "protocol",
    "to_settle": "protocol",
}

#: Header lines that stand at most once.
_ONCE = frozenset(
    {"edition", "in_force", "review_by", "owner", "then", "follows", "opening", "closing"}
    | {"adapts"}
)


def _header(desk: Desk, first: Raw, kind: tree.FileKind) -> tuple[tree.HeaderLine, ...]:
    desk.context = first.words.plain
    made: list[tree.HeaderLine] = []
    said: dict[str, Place] = {}
    for raw in first.lines:
        if not raw.spoiled and is_item(raw):
            desk.rule(raw, "header")
            made.append(replace(spoiled(raw), items=items_under(desk, (raw,))))
            continue
        rule = desk.rule(raw, "header")
        shape = None if rule is None else desk.parse(rule, raw.words)
        node = None if shape is None else _header_line(desk, raw, shape)
        if node is not None and _HOME.get(str(rule), kind) != kind:
            opened = openers.opening(raw.words, _phrase(str(rule)))
            facts = {"found": opened.plain, "kind": kind, "home": _HOME[str(rule)]}
            desk.report("section-not-here", opened.place, facts)
        if node is not None and rule in _ONCE:
            if rule in said:
                word = openers.opening(raw.words, _phrase(rule)).plain
                desk.report(
                    "said-twice", raw.words.place, {"found": word}, (("first", said[rule]),)
                )
            said.setdefault(rule, raw.words.place)
        made.append(spoiled(raw) if node is None else node)
    desk.context = None
    return tuple(made)


def _phrase(rule: str) -> str:
    return next(phrase for phrase, other in openers.HEADER.items() if other == rule)


def _header_line(desk: Desk, raw: Raw, shape: Shape) -> tree.HeaderLine | None:
    desk.no_lines_under(raw)
    place, remarks = raw.words.place, raw.remarks
    match shape.rule:
        case "edition":
            number = int(shape.get("NUMBER").text)
            return tree.Edition(number=number, place=place, remarks=remarks)
        case "in_force" | "review_by":
            day = _day(desk, shape)
            if day is None:
                return None
            if shape.rule == "in_force":
                return tree.InForce(day=day, place=place, remarks=remarks)
            return tree.ReviewBy(day=day, place=place, remarks=remarks)
        case "owner":
            return tree.Owner(who=shape.get("REST"), place=place, remarks=remarks)
        case "takes_words":
            titles = tuple(desk.quoted(words) for words in shape.all("QUOTED"))
            named = tuple(title for title in titles if title is not None)
            if not named:
                return None
            return tree.TakesWords(titles=named, place=place, remarks=remarks)
        case "then":
            title = desk.quoted(shape.get("QUOTED"))
            return None if title is None else tree.Then(title=title, place=place, remarks=remarks)
        case "follows":
            return tree.Follows(place=place, remarks=remarks)
        case "opening" | "visits" | "closing" | "beside" as role:
            titles = tuple(desk.quoted(words) for words in shape.all("QUOTED"))
            named = tuple(title for title in titles if title is not None)
            if not named:
                return None
            return tree.PartsOfDay(role=role, titles=named, place=place, remarks=remarks)
        case "examples_in":
            titles = tuple(desk.quoted(words) for words in shape.all("QUOTED"))
            named = tuple(title for title in titles if title is not None)
            return tree.ExamplesIn(titles=named, place=place, remarks=remarks) if named else None
        case "adapts":
            return local.adapts(desk, raw, shape)
        case "to_settle":
            return local.to_settle(desk, raw, shape)
        case rule:
            text = desk.quoted(shape.get("QUOTED"))
            if text is None:
                return None
            if rule == "note":
                return tree.Note(text=text, place=place, remarks=remarks)
            return tree.Source(text=text, place=place, remarks=remarks)


def _day(desk: Desk, shape: Shape) -> date | None:
    words = shape.get("DAY")
    try:
        return date.fromisoformat(words.text)
    except ValueError:
        desk.report("day-not-real", words.place, {"found": words.text})
        return None


# --- Sections ------------------------------------------------------------------------------------

_BUILDERS: Mapping[str, Callable[[Desk, Raw, Shape | None], tree.Section]] = {
    "choices": declarations.choices,
    "found_out": found_out,
    "can_happen": can_happen,
    "begins_with": declarations.begins_with,
    "leaves": declarations.leaves,
    "phase": phase,
    "kinds": declarations.kinds,
    "parts": declarations.parts,
    "facts": declarations.facts,
    "duty": duty,
    "verb": verb,
    "germs": declarations.germs,
    "levels": declarations.levels,
    "materials": declarations.materials,
    "products": declarations.products,
    "floors": declarations.floors,
    "people": declarations.people,
    "places": declarations.places,
    "air": declarations.air,
    "streams": declarations.streams,
    "things": declarations.things,
    "groups": declarations.groups,
    "figures": declarations.figures,
    "exposure_settings": declarations.exposure_settings,
    "whom_to_call": declarations.whom_to_call,
    "settings": rules.settings,
    "rule": lambda desk, raw, shape: rules.rule(desk, raw, shape, _of_example),
    "waiver": waivers.waiver,
    "changes_in": local.changes_in,
    "instead_of": lambda desk, raw, shape: local.instead(desk, raw, shape, _changed_section),
    "without": local.without,
    "before_phase": lambda desk, raw, shape: local.phases_beside(
        desk, raw, shape, _changed_section
    ),
    "after_phase": lambda desk, raw, shape: local.phases_beside(desk, raw, shape, _changed_section),
}

_CHANGES = frozenset({"changes_in", "instead_of", "without", "before_phase", "after_phase"})

_ONLY_IN_PROTOCOLS = frozenset(
    {"choices", "found_out", "can_happen", "begins_with", "leaves", "phase", *_CHANGES}
)
_ONLY_IN_RULES = frozenset({"settings", "rule"})

#: Sections that mean nothing without lines; a phase, and a verb, are told about elsewhere.
_MAY_BE_EMPTY = frozenset({"phase", "verb", "without", "instead_of"})


def _sections(desk: Desk, raws: Sequence[Raw], kind: tree.FileKind) -> tuple[tree.Section, ...]:
    made: list[tree.Section] = []
    before: Raw | None = None
    for raw in raws:
        if desk.full:
            break
        made.append(_section(desk, raw, kind, before))
        before = raw
    return tuple(made)


def _changed_section(desk: Desk, raw: Raw) -> tree.Section:
    """A section as a local edition says it anew, or puts it in."""
    context = desk.context
    made = _section(desk, raw, "protocol")
    desk.context = context
    return made


def _of_example(
    desk: Desk, raws: Iterable[Raw]
) -> tuple[tuple[tree.HeaderLine, ...], tuple[tree.Section, ...]]:
    """What the example of a rule says in its header, and what it declares."""
    header: list[tree.HeaderLine] = []
    sections: list[tree.Section] = []
    for raw in raws:
        if openers.rule_of(raw.words, "section") is not None:
            sections.append(_section(desk, raw, "protocol"))
            continue
        rule = openers.rule_of(raw.words, "header")
        shape = None if rule is None else desk.parse(rule, raw.words)
        node = None if shape is None else _header_line(desk, raw, shape)
        header.append(spoiled(raw) if node is None else node)
    return tuple(header), tuple(sections)


def _section(desk: Desk, raw: Raw, kind: tree.FileKind, before: Raw | None = None) -> tree.Section:
    desk.context = None
    rule = desk.rule(raw, "section", before)
    desk.context = raw.words.plain
    if rule is None:
        desk.context = None
        if raw.words.text.startswith("["):
            # A step of the phase above that stands too far left, and with it the steps after it.
            under = tuple(line for line in raw.lines if is_item(line))
            if not raw.spoiled and openers.rule_of(raw.words, "item") is not None:
                own = tuple(line for line in raw.lines if not is_item(line))
                under = (replace(raw, lines=own), *under)
            return replace(spoiled(raw), items=items_under(desk, under))
        return replace(spoiled(raw), items=items_under(desk, raw.lines))
    if (
        kind == "day"
        or (rule in _ONLY_IN_PROTOCOLS and kind != "protocol")
        or (rule in _ONLY_IN_RULES) is not (kind == "rules")
        or (rule == "waiver" and kind not in ("protocol", "waivers"))
        or (rule != "waiver" and kind == "waivers")
    ):
        phrase = max((p for p in openers.SECTIONS if raw.words.plain.startswith(p)), key=len)
        facts = {"found": phrase, "kind": kind}
        if rule in _ONLY_IN_RULES:
            facts["home"] = "file of rules"
        desk.report("section-not-here", openers.opening(raw.words, phrase).place, facts)
    shape = desk.parse(rule, raw.words)
    if shape is not None and not raw.lines and rule not in _MAY_BE_EMPTY:
        desk.report("empty-block", raw.words.place, {"found": raw.words.plain})
    section = _BUILDERS[rule](desk, raw, shape)
    desk.context = None
    return section
