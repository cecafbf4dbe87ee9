"""Where a translation lies: ``NAME.es.po`` beside ``NAME.protocol``."""

from __future__ import annotations

import os
from pathlib import Path

from protocol_lang.text import read_text
from protocol_lang.translation.catalogue import Catalogue
from protocol_lang.translation.po import read


class LeadsOut(Exception):
    """A translation file is a link that leads out of its folder. ``file``: its name."""

    def __init__(self, file: str) -> None:
        super().__init__(file)
        self.file = file


def beside(protocol: Path, language: str) -> Path:
    """Where the translation of a file would lie."""
    return protocol.with_name(f"{protocol.stem}.{language}.po")


def catalogue_beside(protocol: Path, language: str, name: str | None = None) -> Catalogue | None:
    """The translation that lies beside a file; None if there is none.

    ``name``: of the protocol, as people see it. Raises :class:`LeadsOut`,
    :class:`~protocol_lang.text.Unreadable` and :class:`~protocol_lang.translation.po.BadCatalogue`.
    """
    path = beside(protocol, language)
    shown = str(beside(Path(name), language)) if name is not None else str(path)
    if not os.path.lexists(path):
        return None
    if path.is_symlink():
        inside = os.path.realpath(path.parent)
        if not Path(os.path.realpath(path)).is_relative_to(inside):
            raise LeadsOut(shown)
    return read(read_text(path, shown))
