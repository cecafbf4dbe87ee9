"""How large things may grow, in one place. What one file holds at most: :mod:`protocol_lang.text`.

A limit is a promise that reading ends soon, not a judgement on a protocol: a real one stays far
below each.
"""

from __future__ import annotations

from protocol_lang.text import MAX_BYTES, MAX_LETTERS, MAX_LINES

__all__ = [
    "MAX_BYTES",
    "MAX_DIGITS",
    "MAX_ENTRIES",
    "MAX_FAULTS",
    "MAX_FILES",
    "MAX_LABEL_WORDS",
    "MAX_LAID_OUT",
    "MAX_LETTERS",
    "MAX_LINES",
    "MAX_NESTING",
    "MAX_ROUNDS",
    "MAX_TOTAL_BYTES",
]

#: Blocks inside blocks; a file's sections are at depth 1.
MAX_NESTING = 20
#: Digits of a whole number.
MAX_DIGITS = 9
#: How many of one supply a step lays out.
MAX_LAID_OUT = 1_000
#: Words in the label of a step.
MAX_LABEL_WORDS = 4
#: Faults of one file that are listed.
MAX_FAULTS = 100
#: Files that one protocol takes words from, directly or through others.
MAX_FILES = 64
#: How often something may be done again in one visit.
MAX_ROUNDS = 200
#: Bytes of a protocol and all files it takes words from, together.
MAX_TOTAL_BYTES = 8 * MAX_BYTES
#: Files and folders that are looked through for one file to take words from.
MAX_ENTRIES = 50_000
