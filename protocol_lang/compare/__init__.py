"""Two editions of a protocol, or of a day, side by side: what is different, as values.

``steps`` lists the tick boxes, ``match`` says which is which, ``order`` what comes before what in
every permitted order, ``effects`` what a step does by names, ``declared`` and ``basis`` what it all
rests on; ``editions`` puts these together.
"""

from protocol_lang.compare.editions import compare

__all__ = ["compare"]
