"""What is said when a local edition goes over to another edition of its base.

What clashes, by its kind, as one sentence without double quotes, since it is written between them:

===================  ===============================================================================
kind                 facts
===================  ===============================================================================
phase-gone           name
phase-changed        name
phase-put-in         name, other: the phase that the base puts in
step-gone            step: as the change names it; was: what it said
step-renamed         step, was, now: how it is named now
step-in-other-phase  step, phase
steps-counted        step, count: how many there are now
step-changed         step, was, is
step-put-in          step, other: what the base puts in there
step-moved           step
name-gone            name, sort
name-changed         name, sort
name-added           name, sort
===================  ===============================================================================
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from protocol_lang.wording.entry import Facts
from protocol_lang.wording.plain import count, quoted

_SAID: Mapping[str, Callable[[Facts], str]] = {
    "phase-gone": lambda facts: f"The base has no phase '{facts['name']}' any more.",
    "phase-changed": lambda facts: (
        f"The base says the phase '{facts['name']}' otherwise now; here it is another one."
    ),
    "phase-put-in": lambda facts: (
        f"The base puts the phase '{facts['other']}' in beside '{facts['name']}' too: which of the "
        "two comes first?"
    ),
    "step-gone": lambda facts: (
        f"The base does not have the step {facts['step']} any more"
        + (f", which said: {facts['was']}." if "was" in facts else ".")
    ),
    "step-renamed": lambda facts: (
        f"The step {facts['step']} is named {facts['now']} in the base now."
    ),
    "step-in-other-phase": lambda facts: (
        f"The step {facts['step']} stands in the phase '{facts['phase']}' of the base now."
    ),
    "steps-counted": lambda facts: (
        f"In the base {facts['count']} steps say so now: is {facts['step']} still the one that is "
        "meant?"
    ),
    "step-changed": lambda facts: (
        f"The base changed {facts['step']} too. It said: {facts['was']}. It says now: "
        f"{facts['is']}."
    ),
    "step-put-in": lambda facts: (
        f"The base puts something in beside {facts['step']} too: {facts['other']}. Which of the "
        "two comes first?"
    ),
    "step-moved": lambda facts: f"The base moved {facts['step']} too.",
    "name-gone": lambda facts: (
        f"The base does not declare the {facts['sort']} '{facts['name']}' any more."
    ),
    "name-changed": lambda facts: (
        f"The base says the {facts['sort']} '{facts['name']}' otherwise now; here it is another "
        "one."
    ),
    "name-added": lambda facts: (
        f"The base has the {facts['sort']} '{facts['name']}' now too: is it the same?"
    ),
}

KINDS = frozenset(_SAID)

#: The longest text of a clash that is written into a file.
_LONGEST = 300


def clash(kind: str, facts: Facts) -> str:
    """What clashes, as it is written into a local edition. Raises KeyError."""
    said = " ".join(_SAID[kind](facts).replace('"', "'").split())
    return said if len(said) <= _LONGEST else f"{said[: _LONGEST - 2]} …"


def upshot(title: str, was: int, is_now: int, changes: int, clashes: int) -> str:
    """The first sentence."""
    over = f"{quoted(title)}, edition {is_now}"
    if was != is_now:
        over = f"{quoted(title)}, from edition {was} to edition {is_now}"
    carried = f"{count(changes, 'change')} of yours"
    if not clashes:
        return f"{over}: {carried}, and none of them clashes."
    return f"{over}: {carried}, and {count(clashes, 'clash', 'clashes')} to settle."


#: What cannot be told without the text that a local edition was written for.
NO_OLD_BASE = (
    "The text that this was written for is not at hand, so that only what is missing in the new "
    "one could be told. Name it with --was, if you have a copy."
)


def pinned(edition: int, fingerprint: str) -> str:
    """What the new file names."""
    return f"edition {edition}, fingerprint {fingerprint}"


def lies_elsewhere(found: str, kept: str) -> str:
    """That a check will find another base than the one that was adopted."""
    return (
        f"A check looks for the base by its title, and will not find this file but {found}. Put "
        f"the new one in its place, or beside the local file as {kept}."
    )


def to_correct(number: int) -> str:
    """How many findings a check of the new file has."""
    return f'{count(number, "thing")} to correct in the new file; "check" tells them.'


#: That only what would come of it is shown.
NOT_WRITTEN = "nothing; -o NAME writes it into a new file, --write into this one"
