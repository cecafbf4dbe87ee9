"""The words of the program in another language, from a catalogue that travels with it.

The catalogue is a PO file: text that anybody can read and mend, and no second, built file that
could be out of date. The library makes the binary form of it in memory, and the standard library's
``gettext`` reads that: it knows plural forms and contexts.
"""

from __future__ import annotations

import io
from gettext import GNUTranslations
from pathlib import Path


def messages(path: Path) -> GNUTranslations:
    """The catalogue at ``path``, which must be one of ours."""
    import polib

    binary = polib.pofile(str(path), encoding="utf-8").to_binary()
    return GNUTranslations(io.BytesIO(binary))
