"""From a protocol in words to a plan of acts.

``worlds`` spells out the choices, ``room`` gives every part of a person or thing its spot, body and
layers, ``effects`` turns the lines of verbs into effects, ``arrange`` lays the acts in their order.
:func:`unfold` does all of it.
"""

from protocol_lang.contamination.unfold.arrange import (
    ActNote,
    ClaimNote,
    TooMany,
    Unfolded,
    unfold,
)

__all__ = ["ActNote", "ClaimNote", "TooMany", "Unfolded", "unfold"]
