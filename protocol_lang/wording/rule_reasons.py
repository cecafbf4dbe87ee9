"""What is said of rules in one line: why one was not applied or not decided, and that one failed.

The kinds and facts are those of :class:`protocol_lang.rules.verdicts.Reason`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from protocol_lang.wording.entry import Facts
from protocol_lang.wording.plain import quoted

_SAID: Mapping[str, Callable[[Facts], str]] = {
    "about-nothing": lambda facts: "it is about no thing",
    "cannot-be-asked": lambda facts: f"it asks what cannot be asked here: {facts['what']}",
    "no-choice": lambda facts: f"no choice is {facts['choice']}: {facts['value']}",
    "no-course": lambda facts: "no course of the visit is what it is about",
    "no-figure": lambda facts: f"no figure is called {quoted(facts['figure'])}",
    "no-phase": lambda facts: f"no phase is called {facts['phases']}",
    "no-step": lambda facts: f"no step is {quoted(facts['text'])}",
    "no-stream": lambda facts: f"no waste stream is told for {facts['thing']}",
    "no-such": lambda facts: f"there is no {facts['name']}",
    "not-judged": lambda facts: "no order of the steps was looked at",
    "nothing": lambda facts: "nothing that it speaks of is done",
    "setting": lambda facts: f"{facts['name']} is set to {facts['value']}",
    "too-hard": lambda facts: "it takes more steps to decide than are spent",
}


def reason_said(kind: str, facts: Facts) -> str:
    """Why a rule was not applied or not decided; by its kind alone where that has no words."""
    said = _SAID.get(kind)
    try:
        return kind.replace("-", " ") if said is None else said(facts)
    except KeyError:
        return kind.replace("-", " ")


def failed_said(facts: Facts) -> str:
    """That a rule failed, and for what."""
    about = f" for {facts['thing']}" if "thing" in facts else ""
    return f"The rule {quoted(facts['rule'])} does not hold{about}."
