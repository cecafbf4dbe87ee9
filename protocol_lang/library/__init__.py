"""The protocols that travel with the program, for a clinic to begin from.

``contents``: which there are, and which of them answers to a few questions lead to; ``copying``:
the texts of a copy, with what it takes along. Files are written by whoever asks.
"""

from protocol_lang.library.contents import ANY, Answers, Kept, Question, Shelf, shelf
from protocol_lang.library.copying import Copied, Copy, copy

__all__ = ["ANY", "Answers", "Copied", "Copy", "Kept", "Question", "Shelf", "copy", "shelf"]
