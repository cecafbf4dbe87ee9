"""Which finding this is: a short code that stays when the text around its cause changes.

Two checks of one protocol, or of two editions of it, tell the same fault at other lines, beside
other steps and by another run. A code rests on the kind of finding, on the facts that name persons
and things, and on the things that the story passes. It does not rest on files, lines, numbers of
steps, titles of phases, the choices of the run that was shown, the changes that are offered, or on
what else is told beside the finding.
"""

from __future__ import annotations

from base64 import b32encode
from hashlib import sha256

from protocol_lang.findings import Finding

#: Facts that speak of the run that was shown, of the day of judgement, or of other findings; what
#: soil is called follows from where it comes from.
BESIDE_THE_CAUSE = frozenset(
    {
        "about",
        "after",
        "first",
        "follows",
        "last",
        "leaked_in",
        "line",
        "locally",
        "on",
        "rubbed_in",
        "soil",
        "tore_in",
        "touched",
        "treated_in",
    }
)

#: Of these kinds ``first`` and ``second`` are the cause itself, not the ends of a story.
_ABOUT_TWO_STEPS = frozenset({"not-ordered"})

#: How many letters a code has, of 32: a million million different ones.
LETTERS = 8


def identity_of(finding: Finding) -> str:
    """The code of a finding: lower-case letters and figures, the same for the same cause.

    Findings of one report share a code if they have one cause and meet the same things at several
    places: whoever follows them up has one thing to put right.
    """
    told: list[str] = [finding.kind]
    for name, value in sorted(finding.facts.items()):
        if name not in BESIDE_THE_CAUSE or (name == "first" and finding.kind in _ABOUT_TWO_STEPS):
            told.append(f"{name}\x1f{' '.join(value.split())}")
    if finding.route is not None:
        things = {name for step in finding.route.steps for move in step.moves for name in move}
        told += [f"passes\x1f{thing}" for thing in sorted(things)]
    digest = sha256("\x1e".join(told).encode("utf-8", "surrogatepass")).digest()
    return b32encode(digest).decode("ascii").lower()[:LETTERS]
