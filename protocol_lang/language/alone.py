"""From the path of one file to what it says, with everything that is to be told on the way."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Hashable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from protocol_lang.findings import Finding, Unchecked
from protocol_lang.language import tree
from protocol_lang.language.header import may_take_more, stands_alone
from protocol_lang.language.local import UNDERSTOOD, Adapted, adapted, without_base
from protocol_lang.language.opening import Opened, Opening, open_file, open_text, rooms_near
from protocol_lang.language.resolve import Resolved, resolve
from protocol_lang.model.protocol import Protocol, Source
from protocol_lang.text import Text

if TYPE_CHECKING:
    from protocol_lang.model.rules import RuleBook


@dataclass(frozen=True, slots=True)
class Loaded:
    """What one file and those that it takes words from come to.

    ``protocol``: None for a file of another kind; ``rules``: those of a file of rules. They hold
    all that could be understood, and nothing may be claimed about them unless ``complete``.
    ``findings``: by file, each after those that it takes words from, and by place. ``unchecked``:
    steps left out. ``files``: all that were read, in that order, the file itself last. ``texts``:
    their lines, by the name shown to people. ``root``: the file as it is written; ``beside``: the
    folder in which it lies; ``packaged``: it travels with the program. ``adapted``: of a local
    edition, the base and what that takes words from, as they are written; ``base``: where the base
    lies.
    """

    protocol: Protocol | None
    findings: tuple[Finding, ...]
    unchecked: tuple[Unchecked, ...]
    files: tuple[Source, ...]
    texts: Mapping[str, Text]
    complete: bool
    root: tree.File
    beside: Path | None
    packaged: bool
    rules: RuleBook | None = None
    adapted: tuple[tree.File, ...] = ()
    base: Path | None = None


def load_alone(
    path: Path,
    library: Path,
    name: str | None = None,
    instead: Mapping[str, Text] | None = None,
    base: Path | None = None,
) -> Loaded:
    """Reads a file and all that it takes words from, and looks every name up.

    ``library``: the folder of protocols that travels with the program; ``name``: the name shown to
    people, the path as written unless told otherwise; ``instead``: texts to be read in the place of
    files, by such names; ``base``: what a local edition adapts, in the place of the file that is
    found by its title. Each file is read once in a process. Raises
    :class:`protocol_lang.text.Unreadable` for the file itself; another file that cannot be read is
    a finding where its words are taken.
    """
    return _resolved(open_file(path, library, name, instead, base), path.parent, library)


def load_text_alone(
    text: Text, beside: Path | None, library: Path, base: Path | None = None
) -> Loaded:
    """The same for a text at hand that lies in the folder ``beside``, or nowhere."""
    return _resolved(open_text(text, beside, library, base), beside, library)


def _resolved(opening: Opening, beside: Path | None, library: Path) -> Loaded:
    files = opening.files
    bases = {opened.base for opened in files}
    sources = tuple(
        Source(
            kind="base" if at in bases else opened.file.kind,
            title=opened.file.title.plain if opened.file.title is not None else "",
            file=opened.text.file,
            packaged=opened.packaged,
            fingerprint=opened.fingerprint,
        )
        for at, opened in enumerate(files)
    )
    trees = tuple(opened.file for opened in files)
    before, changed = _with_changes(files)
    at_base = files[-1].base
    hazy = (
        bool(opening.missing)
        or any(map(may_take_more, trees))
        or not all(opened.reading.whole for opened in files)
    )
    trees = changed.files
    found = _looked_up(tuple(opened.text for opened in files), trees, sources, hazy)
    told = [*opening.findings, *changed.findings]
    findings = [*told, *found.findings]
    if not hazy and _is_lost(found):
        alone = [opened for opened in files if stands_alone(opened.file)]
        if alone:
            found = _looked_up(tuple(opened.text for opened in files), trees, sources, hazy=True)
            told += [_no_words(opened, files[-1], beside, library) for opened in alone]
            findings = [*told, *found.findings]
    return Loaded(
        protocol=found.protocol,
        rules=found.rules,
        findings=in_order(findings, sources),
        unchecked=_folded(found.unchecked),
        files=sources,
        texts={opened.text.file: opened.text for opened in files},
        complete=found.complete and all(one.kind in UNDERSTOOD for one in told),
        root=trees[-1],
        beside=beside,
        packaged=files[-1].packaged,
        adapted=() if at_base is None else before[: at_base + 1],
        base=None if at_base is None else files[at_base].path,
    )


def _with_changes(files: tuple[Opened, ...]) -> tuple[tuple[tree.File, ...], Adapted]:
    """The trees of the files, with the changes of each local edition carried out on its base.

    First as they are before those of the last file, then after them.
    """
    trees = before = tuple(opened.file for opened in files)
    findings: list[Finding] = []
    for at, opened in enumerate(files):
        findings += without_base(opened.file)
        if opened.base is not None:
            before = trees
            made = adapted(trees, opened.base, at)
            trees = made.files
            findings += made.findings
    return before, Adapted(trees, tuple(findings))


#: A turnover that follows many visits, a room beside many: the same texts are looked up once.
MOST_KEPT = 16

_kept: OrderedDict[Hashable, Resolved] = OrderedDict()


def _looked_up(
    texts: tuple[Text, ...], trees: tuple[tree.File, ...], sources: tuple[Source, ...], hazy: bool
) -> Resolved:
    """What the files come to: a pure function of their texts and of what they are called."""
    key = (texts, sources, hazy)
    found = _kept.get(key)
    if found is None:
        found = _kept[key] = _resolver(trees[-1].kind)(trees, sources, hazy=hazy)
        if len(_kept) > MOST_KEPT:
            _kept.popitem(last=False)
    return found


def _resolver(kind: str) -> Callable[..., Resolved]:
    """What looks the names of such a file up; that of rules is seldom needed, and waits for it."""
    if kind == "rules":
        from protocol_lang.language.rules import resolve_rules

        return resolve_rules
    return resolve


#: What is told of names and sentences when nothing declares them.
_LOST = frozenset({"form-unknown-kind", "verb-form", "verb-forms"})


def _is_lost(found: Resolved) -> bool:
    """Whether some name or sentence is unknown."""
    kinds = {finding.kind for finding in found.findings}
    return not kinds.isdisjoint(_LOST) or any(kind.startswith("unknown-") for kind in kinds)


def _no_words(opened: Opened, root: Opened, beside: Path | None, library: Path) -> Finding:
    """That a file takes no words from any other, with the room that makes all names known."""
    facts: dict[str, str] = {"kind": opened.file.kind}
    if opened is root and opened.file.kind == "protocol":
        first, *rest = opened.text.lines[opened.file.place.line - 1 :]
        meant = []
        for title in rooms_near(beside, library):
            text = replace(opened.text, lines=(first, f'  takes words from "{title}"', *rest))
            tried = open_text(text, beside, library)
            if not tried.missing and not _is_lost(resolve([file.file for file in tried.files])):
                meant.append(title)
        if len(meant) == 1:
            facts["meant"] = meant[0]
    return Finding("no-words-taken", opened.file.place, facts)


def _folded(unchecked: tuple[Unchecked, ...]) -> tuple[Unchecked, ...]:
    """Steps left out in one sentence: why each was is told where it stands."""
    left_out = [part for part in unchecked if part.kind == "step-left-out"]
    if len(left_out) < 2:
        return unchecked
    lines = [str(part.place.line) for part in left_out if part.place is not None]
    facts = {"count": str(len(left_out)), "lines": ", ".join(lines)}
    others = tuple(part for part in unchecked if part.kind != "step-left-out")
    return (*others, Unchecked("steps-left-out", facts, left_out[0].place))


def in_order(findings: Sequence[Finding], sources: Sequence[Source]) -> tuple[Finding, ...]:
    """By the file in which they are, then by place."""
    order = {source.file: at for at, source in enumerate(sources)}

    def at(finding: Finding) -> tuple[int, int, int, str]:
        place = finding.place
        if place is None:
            return (-1, 0, 0, finding.kind)
        return (order.get(place.file, len(order)), place.line, place.column, finding.kind)

    return tuple(sorted(findings, key=at))
