"""Short complete protocols that the explanations show; the tests run every one of them."""

from __future__ import annotations


def visit(body: str, declared: str = "", choices: str = "") -> str:
    """A complete protocol around some steps.

    ``body``: the lines of its one phase, indented by two; ``declared``: sections of the protocol's
    own; ``choices``: its choices.
    """
    sections = [
        'protocol "A short visit"\n  edition 1\n  takes words from "Imaging room 2"',
        choices,
        declared,
        'phase "Visit"\n' + body.strip("\n"),
    ]
    return "\n\n".join(text.strip("\n") for text in sections if text) + "\n"


#: How a tab is shown in an example, which nobody could see otherwise.
TAB = "<tab>"
TAB_IS_SHOWN = f"({TAB} stands for the sign that the tab key makes.)"

#: A verb of the example's own, so that soil of the patient comes into play in one line.
GUM = """
verb ACTOR feels the gum
  meet ACTOR's hands, the patient's mouth
"""

#: Something used once that nobody takes to be thrown away unless a step says so.
TOWEL = """
things
  towel: wipe; has face, back; used once; from wipe tub
"""

STAFFING = """
choices, each visit
  staffing: alone, paired
"""

#: Hands from outside to clean gloves, and back.
GLOVES_ON = """
  [ ] operator cleans hands
  [ ] operator puts on gloves
"""
GLOVES_OFF = """
  in one go
    [ ] operator takes off gloves
    [ ] operator cleans hands
"""


def steps(*parts: str) -> str:
    """Lines of steps one after the other."""
    return "".join(part.strip("\n") + "\n" for part in parts)
