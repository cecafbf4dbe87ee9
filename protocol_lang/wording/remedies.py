"""How the changes are said that the engine has tried and found to work.

Each is one sentence and, where something is to be written, the lines to write, as an author
would. The place of a remedy is that of the step beside which something is written. The facts of
each kind:

============  ==================================================================================
add-after     step: the one that has to wait; label: what it waits for; of: the step with that
              label; new: "yes" if the label is not there yet
add-step      text: the lines to add, or the sentence of one step; after: the step they follow, or
              none: they are the first of all
clean-before  what: the thing or hands; step: the one before which it is cleaned; text, if known:
              the steps that do it
throw-away    what; after: the last step that uses it; text, if known: the step that does it
add-cover     cover, what; before: the step that must find it covered; text, if known: the step
              that does it
write-instead step: the one to change; text: what to write
change-cover  text: the steps that take the old cover off; step: the one before which, if it is not
              the last; then: the steps that put a fresh one on; last: the step after which
============  ==================================================================================
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from protocol_lang.findings import Remedy
from protocol_lang.text import Place
from protocol_lang.wording.entry import Facts
from protocol_lang.wording.plain import count, quoted


@dataclass(frozen=True, slots=True)
class Change:
    """A change in words. ``lines``: what to write, without indentation; may be empty."""

    sentence: str
    lines: tuple[str, ...] = ()


def said(remedy: Remedy) -> Change:
    """The words for a remedy. Raises KeyError for a kind that has none."""
    return _SAID[remedy.kind](remedy.facts, remedy.place)


#: What is said above the one change that is known.
ONE = "This change puts it right; it has been tried:"


def several(n: int) -> str:
    """What is said above a list of ``n`` changes, more than one."""
    return f"Any one of these {count(n, 'change')} puts it right; each has been tried:"


def _boxes(text: str) -> tuple[str, ...]:
    """The lines as an author writes them; a sentence alone gets its tick box."""
    lines = tuple(line for line in text.splitlines() if line.strip())
    if any(line.lstrip().startswith("[ ]") for line in lines):
        return lines
    return tuple(f"[ ] {line}" for line in lines)


def _step(text: str, place: Place | None) -> str:
    """A step by its words and, since several may have the same words, its line."""
    return f"{quoted(text)} (line {place.line})" if place else quoted(text)


def _add(where: str, facts: Facts, otherwise: str) -> Change:
    """Lines to add, or where these are not known, what they are to do."""
    if not facts.get("text"):
        return Change(f"{where}, {otherwise}.")
    lines = _boxes(facts["text"])
    return Change(f"{where} add {'this line' if len(lines) == 1 else 'these lines'}:", lines)


def _add_after(facts: Facts, place: Place | None) -> Change:
    under = f"under {_step(facts['step'], place)} add this line"
    if facts.get("new"):
        return Change(
            f"{under}, and give {quoted(facts['of'])} its label:",
            (f"    after {facts['label']}", f"[ ] {facts['label']}: {facts['of']}"),
        )
    return Change(
        f"{under}, so that it waits for {quoted(facts['of'])}:", (f"    after {facts['label']}",)
    )


def _add_step(facts: Facts, place: Place | None) -> Change:
    after = facts.get("after")
    where = f"after {_step(after, place)}" if after else "before the first step"
    return _add(where, facts, "a step is to be added")


def _clean_before(facts: Facts, place: Place | None) -> Change:
    return _add(f"before {_step(facts['step'], place)}", facts, f"clean {facts['what']}")


def _throw_away(facts: Facts, place: Place | None) -> Change:
    return _add(f"after {_step(facts['after'], place)}", facts, f"throw away {facts['what']}")


def _add_cover(facts: Facts, place: Place | None) -> Change:
    put = f"put {facts['cover']} on {facts['what']}"
    return _add(f"before {_step(facts['before'], place)}", facts, put)


def _write_instead(facts: Facts, place: Place | None) -> Change:
    return Change(f"instead of {_step(facts['step'], place)} write:", _boxes(facts["text"]))


def _change_cover(facts: Facts, place: Place | None) -> Change:
    then = f"and after {quoted(facts['last'])}, the last step:"
    if "step" not in facts:
        lines = (*_boxes(facts["text"]), *_boxes(facts["then"]))
        return Change(f"after {_step(facts['last'], place)} add these lines:", lines)
    lines = (*_boxes(facts["text"]), then, *_boxes(facts["then"]))
    return Change(f"before {_step(facts['step'], place)} add:", lines)


_SAID: Mapping[str, Callable[[Facts, Place | None], Change]] = {
    "add-after": _add_after,
    "after-label": _add_after,
    "add-step": _add_step,
    "clean-before": _clean_before,
    "throw-away": _throw_away,
    "add-cover": _add_cover,
    "write-instead": _write_instead,
    "change-cover": _change_cover,
}

#: Every kind of remedy that has words.
KINDS = frozenset(_SAID)
