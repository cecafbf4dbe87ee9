"""A local edition: what a file says is different from its base, carried out on the base.

What comes of it is a tree as if somebody had written it all in one file: each line keeps the place
at which it stands, in the base or in the local file, and everything after this works on it as on
any other protocol.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from protocol_lang.findings import Finding
from protocol_lang.language import tree
from protocol_lang.language.local.declared import Declared
from protocol_lang.language.local.find import phase_of, sentence_of
from protocol_lang.language.local.steps import changed_phase, lost_labels
from protocol_lang.text import Place

__all__ = ["UNDERSTOOD", "Adapted", "adapted", "adapts", "is_change", "without_base"]

#: What is told of a local edition whose text is understood all the same, so that it can be judged.
UNDERSTOOD = frozenset({"base-newer", "base-other-edition", "base-changed", "change-to-settle"})

_CHANGES = (tree.ChangesIn, tree.Instead, tree.Without, tree.PhasesBeside)


@dataclass(frozen=True, slots=True)
class Adapted:
    """The files after the changes: those that the base takes words from, the local one last.

    The base stands among them without anything in it, so that its place in the order is known.
    """

    files: tuple[tree.File, ...]
    findings: tuple[Finding, ...]


def adapts(file: tree.File) -> tree.Adapts | None:
    """The line that says which protocol a file adapts, if it is a local edition."""
    return next((line for line in file.header if isinstance(line, tree.Adapts)), None)


def is_change(section: tree.Section) -> bool:
    """Whether a section changes what another file says."""
    return isinstance(section, _CHANGES)


def without_base(file: tree.File) -> tuple[Finding, ...]:
    """Changes in a file that says of no base what they are to change."""
    if adapts(file) is not None or any(isinstance(x, tree.Spoiled) for x in file.header):
        return ()
    first = next((section for section in file.sections if is_change(section)), None)
    return () if first is None else (Finding("changes-without-base", first.place),)


def adapted(files: Sequence[tree.File], base: int, local: int) -> Adapted:
    """The changes of one file, carried out.

    ``files``: in import order; ``base`` and ``local``: which of them.
    """
    own = files[local]
    findings: list[Finding] = [
        Finding("change-to-settle", line.place, {"text": line.text.plain})
        for line in _to_settle(own)
    ]
    taken = Declared(list(files[: base + 1]))
    for section in own.sections:
        if isinstance(section, tree.Instead) and not isinstance(section.section, tree.Phase):
            taken.instead(section.section)
        elif isinstance(section, tree.Without) and section.phase is None:
            taken.without(section)
    findings += taken.findings
    changed = taken.files[base]
    phases, told = _phases(changed, own)
    findings += told
    sections = _put_in(changed, own, phases)
    old = [section for section in changed.sections if isinstance(section, tree.Phase)]
    sections, lost = _labels_kept(old, sections, own)
    findings += lost
    whole = replace(
        own,
        header=_header(changed.header, own.header),
        sections=sections,
    )
    made = [*taken.files[:base], replace(changed, header=(), sections=())]
    made += [*files[base + 1 : local], whole, *files[local + 1 :]]
    return Adapted(tuple(made), tuple(findings))


def _to_settle(file: tree.File) -> Iterable[tree.ToSettle]:
    for header in file.header:
        if isinstance(header, tree.ToSettle):
            yield header
    for section in file.sections:
        match section:
            case tree.ChangesIn(lines=lines):
                for line in lines:
                    if isinstance(line, tree.ToSettle):
                        yield line
                    elif isinstance(line, tree.Change):
                        yield from (x for x in line.lines if isinstance(x, tree.ToSettle))
            case tree.Instead() | tree.Without() | tree.PhasesBeside():
                yield from section.settle
            case _:
                pass


#: Lines of a header that hold for one edition alone, or that a local edition has of its own.
_OWN = (
    tree.Edition,
    tree.InForce,
    tree.ReviewBy,
    tree.Owner,
    tree.Adapts,
    tree.ToSettle,
)


def _header(
    base: tuple[tree.HeaderLine, ...], own: tuple[tree.HeaderLine, ...]
) -> tuple[tree.HeaderLine, ...]:
    """Who is responsible, and from when, is told by the local file alone; what it goes on with by
    the local file if it says so; words, sources and notes by both."""
    goes_on = any(isinstance(line, tree.Then) for line in own)
    kept = [
        line
        for line in base
        if not isinstance(line, _OWN) and not (goes_on and isinstance(line, tree.Then))
    ]
    added = [line for line in own if not isinstance(line, tree.Adapts | tree.ToSettle)]
    return (*added, *kept)


# --- Phases --------------------------------------------------------------------------------------


def _phases(
    base: tree.File, own: tree.File
) -> tuple[dict[int, tuple[tree.Phase, ...]], list[Finding]]:
    """What stands in the place of each phase of the base, by which one it is."""
    findings: list[Finding] = []
    phases = [section for section in base.sections if isinstance(section, tree.Phase)]
    became: dict[int, tuple[tree.Phase, ...]] = {}
    why: dict[int, tree.Section] = {}
    changes: dict[int, list[tree.ChangesIn]] = {}

    def once(phase: tree.Phase, section: tree.Section) -> bool:
        """Whether nothing else has been said of the phase; else that is told."""
        if id(phase) in why:
            title = "" if phase.title is None else phase.title.plain
            others = (("first", why[id(phase)].place),)
            findings.append(Finding("changed-twice", section.place, {"name": title}, others))
            return False
        why[id(phase)] = section
        return True

    for section in own.sections:
        title = _about(section)
        if title is None:
            continue
        phase = phase_of(title, phases)
        if isinstance(phase, Finding):
            findings.append(phase)
        elif isinstance(section, tree.ChangesIn):
            if id(phase) in changes or once(phase, section):
                changes.setdefault(id(phase), []).append(section)
        elif isinstance(section, tree.Instead) and isinstance(section.section, tree.Phase):
            if once(phase, section):
                became[id(phase)] = (section.section,)
        elif isinstance(section, tree.Without) and once(phase, section):
            became[id(phase)] = ()
    for phase in phases:
        for_it = changes.get(id(phase), ())
        asked = [line for one in for_it for line in one.lines if isinstance(line, tree.Change)]
        if asked:
            made, told = changed_phase(phase, asked, phases)
            became[id(phase)] = (made,)
            findings += told
    for section in own.sections:
        if not isinstance(section, tree.PhasesBeside) or section.phase is None:
            continue
        beside = phase_of(section.phase, phases)
        if isinstance(beside, Finding):
            continue  # told above
        put = tuple(phase for phase in section.phases if isinstance(phase, tree.Phase))
        there = became.get(id(beside), (beside,))
        became[id(beside)] = (*there, *put) if section.after else (*put, *there)
    return became, findings


def _about(section: tree.Section) -> tree.Words | None:
    """The title of the phase that a change is about."""
    match section:
        case tree.ChangesIn(phase=title) | tree.Without(phase=title):
            return title
        case tree.PhasesBeside(phase=title):
            return title
        case tree.Instead(section=tree.Phase(title=title)):
            return title
        case _:
            return None


def _put_in(
    base: tree.File, own: tree.File, phases: dict[int, tuple[tree.Phase, ...]]
) -> tuple[tree.Section, ...]:
    """The sections of the base as they are now, then those that the local file adds."""
    made: list[tree.Section] = []
    for section in base.sections:
        if isinstance(section, tree.Phase):
            made += phases.get(id(section), (section,))
        else:
            made.append(section)
    added = [section for section in own.sections if not is_change(section)]
    return (*made, *added)


def _labels_kept(
    old: Sequence[tree.Phase], sections: tuple[tree.Section, ...], own: tree.File
) -> tuple[tuple[tree.Section, ...], list[Finding]]:
    """Labels that went with a step though lines name them: told, and taken as known after that."""
    findings = []
    for step, places in lost_labels(old, sections):
        assert step.label is not None
        facts = {"name": step.label.plain}
        others = tuple(("named here", place) for place in places)
        at = _taken_out(own, step) or own.place
        findings.append(Finding("change-label-lost", at, facts, others))
        kept = tree.Spoiled(words=step.label, names=(step.label,), place=at)
        sections = (*sections, kept)
    return sections, findings


def _taken_out(own: tree.File, step: tree.Step) -> Place | None:
    """Where the local file takes a step out: by its label or sentence, or with its phase."""
    assert step.label is not None
    names = {step.label.plain, sentence_of(step)}
    whole: Place | None = None
    for section in own.sections:
        if isinstance(section, tree.ChangesIn):
            for line in section.lines:
                if isinstance(line, tree.Change) and line.what.name.plain in names:
                    return line.place
        elif not isinstance(section, tree.PhasesBeside) and _about(section) is not None:
            whole = whole or section.place
    return whole
