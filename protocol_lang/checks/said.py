"""What a claim of the plan is in the author's words."""

from __future__ import annotations

from typing import get_args

from protocol_lang.contamination.kernel import FactIs
from protocol_lang.contamination.unfold import ActNote, ClaimNote, Unfolded
from protocol_lang.model.conditions import Claim
from protocol_lang.model.said import claim, reference

__all__ = ["claim_of", "reference"]

_OF_THE_AUTHOR = get_args(Claim)


def claim_of(unfolded: Unfolded, number: int, note: ActNote) -> str:
    """The claim of that number in words, as it stands before the act of ``note``."""
    record: ClaimNote = unfolded.claims[number]
    if record.kind == "laid-out":
        return f"{record.facts['thing']} is laid out on {record.facts['surface']}"
    if record.kind == "from-afar":
        where = record.facts.get("where")
        place = f"in {where}" if where is not None else f"where {record.facts['thing']} is"
        return f"{record.facts['person']} is {place}"
    if record.kind == "gloves-behind":
        return f"{record.facts['person']} leaves the gloves on the dirty side"
    if record.kind == "air":
        return f"{record.facts['person']} does not breathe the air of {record.facts['where']}"
    if record.kind == "air-at-end":
        return f"the air of {record.facts['where']} is clear"
    if record.kind == "exposure":
        return f"{record.facts['person']} is {record.facts['safe']}"
    if record.kind == "duty" and isinstance(record.claim, FactIs):
        fact = next(name for (name, _), at in unfolded.facts.items() if at == record.claim.fact)
        return f"{record.facts['person']} is not {fact}"
    told = record.claim
    return claim(told, note.filled) if isinstance(told, _OF_THE_AUTHOR) else "this"
