"""How a local edition would change what stands at a place of its base."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import TypeVar

from protocol_lang.findings import Finding
from protocol_lang.language import tree
from protocol_lang.language.local.declared import named_in, sort_of
from protocol_lang.language.local.find import named_by, spots
from protocol_lang.text import Place

N = TypeVar("N", bound=tree.Node)

#: The fact that holds such lines, in a finding of any kind.
LOCALLY = "locally"


def with_hints(findings: Iterable[Finding], files: Sequence[tree.File]) -> tuple[Finding, ...]:
    """The findings; those that stand in one of these files with how to change that locally."""
    by_name = {file.place.file: file for file in files}
    told = []
    for finding in findings:
        lines = _tried(finding, by_name)
        file = None if finding.place is None else by_name.get(finding.place.file)
        if lines is None and file is not None and finding.place is not None:
            lines = locally(file, finding.place)
        if lines is None:
            told.append(finding)
        else:
            told.append(replace(finding, facts={**finding.facts, LOCALLY: lines}))
    return tuple(told)


#: What a change that was tried does beside its step, by its kind.
_DOES = {
    "add-after": "instead of",
    "after-label": "instead of",
    "add-step": "after",
    "clean-before": "before",
    "throw-away": "after",
    "add-cover": "before",
    "write-instead": "instead of",
}


def _tried(finding: Finding, files: Mapping[str, tree.File]) -> str | None:
    """The lines of the first change that was tried, if it is one of a step of the base."""
    first = next(iter(finding.remedies), None)
    if first is None or first.place is None or first.kind not in _DOES:
        return None
    file = files.get(first.place.file)
    if file is None:
        return None
    lines = locally(file, first.place, _DOES[first.kind])
    if lines is None or "\n" not in lines:
        return None
    boxes = (line for line in first.facts.get("text", "").splitlines() if line.strip())
    return "\n".join([lines, *(f"    {_boxed(line)}" for line in boxes)])


def _boxed(line: str) -> str:
    return line if line.lstrip().startswith(("[", "in ", "where", "other")) else f"[ ] {line}"


def locally(file: tree.File, place: Place, how: str = "instead of") -> str | None:
    """The lines by which what stands at a place is changed; None where nothing can change it.

    ``how``: what is done with a step that stands there.
    """
    from protocol_lang.language.neaten import section_heading  # only where something is told

    section = _last_before(file.sections, place.line)
    if section is None:
        return None
    if isinstance(section, tree.Phase):
        steps = [spot.item for spot in spots(section.items) if isinstance(spot.item, tree.Step)]
        step = _last_before(steps, place.line)
        named = None if step is None else named_by(section, step)
        if named is None or section.title is None:
            return None
        return f"{_quoted('changes in', section.title)}\n  {how} {named}"
    if isinstance(section, tree.Verb | tree.BeginsWith | tree.Leaves | tree.Air):
        return f"instead of {section_heading(section)}"
    if sort_of(section) is None:
        return None
    line = _last_before(getattr(section, "lines", ()), place.line)
    names = () if line is None else named_in(line)
    here = [name for name in names if name.place.column <= place.column < name.place.end]
    if not names:
        return None
    name = (here or list(names))[0].plain
    return f"instead of {section_heading(section)}\n  {name}: …"


def _quoted(before: str, title: tree.Words) -> str:
    return f'{before} "{title.plain}"'


def _last_before(nodes: Iterable[N], line: int) -> N | None:
    """The node that begins on this line, or last above it."""
    found = [node for node in nodes if node.place.line <= line]
    return max(found, key=lambda node: node.place.line, default=None)
