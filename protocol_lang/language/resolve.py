"""Trees of the files of a protocol to one model in which every name has been looked up."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from protocol_lang.findings import Finding, Unchecked, Weight
from protocol_lang.language import tree
from protocol_lang.language.claims import PROTOCOL, Reader
from protocol_lang.language.clashes import clashes
from protocol_lang.language.declared import Declarations
from protocol_lang.language.ground import ground_of
from protocol_lang.language.limits import MAX_FAULTS
from protocol_lang.language.misread import spelt_out
from protocol_lang.language.places import air_of
from protocol_lang.language.sections import (
    notes_of,
    only,
    sources_of,
)
from protocol_lang.language.spaces import Told
from protocol_lang.language.steps import Checklist, sentences_of
from protocol_lang.model.conditions import Claim
from protocol_lang.model.parts import PersonKind
from protocol_lang.model.protocol import Begins, Header, Protocol, Source
from protocol_lang.model.verbs import Verb
from protocol_lang.text import Place

if TYPE_CHECKING:
    from protocol_lang.model.rules import RuleBook


@dataclass(frozen=True, slots=True)
class Resolved:
    """A protocol and what was found on the way.

    ``protocol`` is None for files of another kind; ``rules``: those of a file of rules. They hold
    all that could be understood; ``complete`` is false when anything was left out, and then
    nothing may be claimed about it.
    """

    protocol: Protocol | None
    findings: tuple[Finding, ...]
    unchecked: tuple[Unchecked, ...]
    complete: bool
    rules: RuleBook | None = None


def resolve(
    files: Sequence[tree.File], sources: Sequence[Source] = (), *, hazy: bool = False
) -> Resolved:
    """The model of the last file, with all that the files before it declare.

    ``files``: in import order, each once, a file after those that it takes words from. ``sources``:
    what the protocol is to say of them. ``hazy``: a file that these take words from could not be
    read; then no name is called unknown.
    """
    told = Told(hazy=hazy)
    root = files[-1]
    ground = ground_of(files, told)
    told, declared, verbs = ground.told, ground.declared, ground.verbs
    if root.kind != "protocol":
        _tell_clashes(root, verbs, declared, told)
        return Resolved(None, *in_order(told, files), told.complete)
    reader = Reader(declared, told)
    begins: list[Begins] = []
    leaves: list[Claim] = []
    for section in root.sections:
        if isinstance(section, tree.BeginsWith):
            for begin in only(section.lines, tree.BeginsLine):
                begins.extend(_begins(begin, reader, told))
        elif isinstance(section, tree.Leaves):
            for leave in only(section.lines, tree.LeavesLine):
                claim = reader.claim(leave.claim, PROTOCOL)
                if claim is not None:
                    leaves.append(claim)
    checklist = Checklist(verbs, ground.sentences(), declared, told)
    happening = [s for s in root.sections if isinstance(s, tree.CanHappen)]
    phases = checklist.phases(
        [s for s in root.sections if isinstance(s, tree.Phase)],
        _strayed(root, told),
        [line.items for section in happening for line in section.lines],
    )
    found_out = checklist.found_out(s for s in root.sections if isinstance(s, tree.FoundOut))
    mishaps = checklist.mishaps(happening, [phase.title for phase in phases])
    protocol = Protocol(
        header=_header(root, told),
        people=declared.people,
        body_parts=tuple(part for kind in PersonKind for part in declared.parts[kind].values()),
        things=declared.things,
        groups=declared.groups,
        facts={fact.name: fact for fact in declared.facts.values()},
        duties=tuple(declared.duties),
        germs=declared.germs.values(),
        levels={level.name: level for level in declared.levels.values()},
        floors=ground.floors,
        streams={stream.name: stream for stream in declared.streams.values()},
        verbs=verbs,
        choices=tuple(found_out.get(c.name, c) for c in declared.choices.values()),
        begins=tuple(begins),
        leaves=tuple(leaves),
        phases=phases,
        files=tuple(sources),
        air=air_of(files, reader, told),
        places={where.name: where for where in declared.places.values()},
        follows=any(isinstance(line, tree.Follows) for line in root.header),
        mishaps=mishaps,
        figures={figure.name: figure for figure in declared.figures.values()},
        exposures={one.name: one for one in declared.exposures.values()},
        calls={one.name: one for one in declared.calls.values()},
        products={one.name: one for one in declared.products.values()},
        notes_of_exposures=tuple(dict.fromkeys(declared.notes_of_exposures)),
        notes_of_calls=tuple(dict.fromkeys(declared.notes_of_calls)),
    )
    return Resolved(protocol, *in_order(told, files), told.complete)


def _tell_clashes(
    root: tree.File, verbs: Sequence[Verb], declared: Declarations, told: Told
) -> None:
    """Sentences that this file makes ambiguous; in a protocol only those that occur are told.

    What files made ambiguous that this one takes words from is told when they are checked.
    """
    sentences = sentences_of(verbs, declared, told)
    seen: set[Place] = set()
    for clash in clashes(sentences.forms, sentences.names.all):
        readings = sentences.read(clash.sentence)
        names = {n for reading in readings for written in reading.written.values() for n in written}
        entries = [declared.named.declared(name) for name in sorted(names)]
        places = [entry.place for entry in entries if entry is not None]
        places += [clash.other.frame.place, clash.one.frame.place]
        here = [place for place in places if place.file == root.place.file]
        if not here or len(readings) < 2:
            continue
        # The longest of the names: the one that holds the small words.
        place = max(here, key=lambda place: place.end - place.column)
        if place not in seen:
            seen.add(place)
            told.tell(
                "form-clash",
                place,
                weight=Weight.CONSIDER,
                sentence=clash.sentence,
                one=spelt_out(readings[0]),
                other=spelt_out(readings[1]),
            )


def _strayed(root: tree.File, told: Told) -> tuple[tree.Phase, ...]:
    """Steps under a line at the margin that could not be read, to be looked at all the same."""
    found = []
    for section in root.sections:
        if isinstance(section, tree.Spoiled):
            told.complete = False
            if section.items:
                found.append(tree.Phase(place=section.place, title=None, items=section.items))
    if any(isinstance(line, tree.Spoiled) for line in root.header):
        told.complete = False
    return tuple(found)


def in_order(
    told: Told, files: Sequence[tree.File]
) -> tuple[tuple[Finding, ...], tuple[Unchecked, ...]]:
    """By file in import order, then by place; never by the order in which they were found."""
    order = {file.place.file: at for at, file in enumerate(files)}

    def at(place: Place | None) -> tuple[int, int, int]:
        if place is None:
            return (-1, 0, 0)
        return (order.get(place.file, len(order)), place.line, place.column)

    once = {(f.kind, f.place, tuple(sorted(f.facts.items()))): f for f in told.findings}
    findings = sorted(once.values(), key=lambda f: (at(f.place), f.kind))
    if len(findings) > MAX_FAULTS:
        more = findings[MAX_FAULTS]
        facts = {"limit": str(MAX_FAULTS), "more": str(len(findings) - MAX_FAULTS)}
        findings = [*findings[:MAX_FAULTS], Finding("more-faults", more.place, facts)]
    unchecked = sorted(told.unchecked, key=lambda u: at(u.place))
    return tuple(findings), tuple(unchecked)


def header_of(root: tree.File) -> Header:
    """The header of a file of any kind; what is wrong with its days is told elsewhere."""
    return _header(root, Told())


def _header(root: tree.File, told: Told) -> Header:
    # A line that stands twice has been told; the first counts.
    edition = next(only(root.header, tree.Edition), None)
    in_force = next(only(root.header, tree.InForce), None)
    review_by = next(only(root.header, tree.ReviewBy), None)
    owner = next(only(root.header, tree.Owner), None)
    if in_force is not None and review_by is not None and review_by.day < in_force.day:
        told.tell(
            "review-before-force",
            review_by.place,
            others=[("first", in_force.place)],
            review=review_by.day.isoformat(),
            force=in_force.day.isoformat(),
        )
    return Header(
        title=root.title.plain if root.title is not None else "",
        edition=edition.number if edition is not None else None,
        in_force=in_force.day if in_force is not None else None,
        review_by=review_by.day if review_by is not None else None,
        owner=owner.who.plain if owner is not None else None,
        sources=sources_of(root.header),
        notes=notes_of(root.header),
        place=root.place,
    )


def _begins(line: tree.BeginsLine, reader: Reader, told: Told) -> list[Begins]:
    claim = line.claim
    if isinstance(claim, tree.Wears):
        what, cover = claim.who, claim.cover
    elif isinstance(claim, tree.Covered) and claim.cover is not None:
        what, cover = claim.what, claim.cover
    else:
        found = isinstance(claim, tree.FoundUsed)
        refs = reader.refs(claim.what, PROTOCOL)
        return [Begins(ref, None, found, line.place) for ref in refs]
    covers = reader.covers(cover, PROTOCOL)
    if covers is None:
        return []
    if len(covers) != 1:
        told.tell("one-cover", cover.place, name=cover.plain, things=", ".join(covers) or None)
        return []
    refs = reader.refs(what, PROTOCOL)
    if isinstance(claim, tree.Wears):
        refs = reader.worn(claim, refs, covers[0], PROTOCOL)
    return [Begins(ref, covers[0], line.used, line.place) for ref in refs]
