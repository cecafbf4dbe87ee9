"""A translation file brought up to date: what is asked for now, and nothing of the old lost."""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass, replace
from difflib import get_close_matches

from protocol_lang.translation.catalogue import REVIEWED_BY, Catalogue, Entry

#: How alike two texts are, of 1, for the translation of one to be offered for the other.
ALIKE = 0.8


@dataclass(frozen=True, slots=True)
class Wanted:
    """A text that a chart prints. ``about``: what it is ("step", "note", "name" ...)."""

    text: str
    about: str


@dataclass(frozen=True, slots=True)
class Account:
    """How the texts stand, each list in the order of the chart.

    ``missing``: without a translation; ``doubtful``: with one that somebody has to look at;
    ``differing``: with one that tells other numbers; these three are printed as in the original.
    ``unused``: translations that nothing asks for.
    """

    total: int
    missing: tuple[str, ...]
    doubtful: tuple[Entry, ...]
    differing: tuple[Entry, ...]
    unused: tuple[Entry, ...]


def account(
    wanted: Sequence[Wanted], own: Catalogue | None, others: Sequence[Catalogue]
) -> Account:
    """How ``wanted`` stands in the file of the protocol and in ``others``, as that of a room."""
    mine = {} if own is None else _used(own)
    done = {key for other in others for key, entry in _used(other).items() if entry.counts}
    missing: list[str] = []
    doubtful: list[Entry] = []
    differing: list[Entry] = []
    for one in wanted:
        key = _key(one.text)
        entry = mine.get(key)
        if (entry is not None and entry.counts) or key in done:
            continue
        if entry is None or not entry.said:
            missing.append(one.text)
        elif entry.doubtful:
            doubtful.append(entry)
        else:
            differing.append(entry)
    keys = {_key(one.text) for one in wanted}
    unused = () if own is None else tuple(
        entry for entry in own.entries
        if entry.context is None and entry.said and (entry.unused or entry.key not in keys)
    )  # fmt: skip
    return Account(len(wanted), tuple(missing), tuple(doubtful), tuple(differing), unused)


def refreshed(
    wanted: Sequence[Wanted], own: Catalogue | None, others: Sequence[Catalogue], language: str
) -> Catalogue:
    """The file of a protocol with every text that is wanted, in the order of the chart.

    Translations and remarks stay. What nothing asks for is kept as unused, and taken up again when
    it is asked for. A new text is offered the translation of one that it is much like, as doubtful.
    Texts that ``others`` translate are left to them, unless they stand here already.
    """
    old = own or Catalogue((), {"Language": language, REVIEWED_BY: ""})
    foreign = tuple(entry for entry in old.entries if entry.context is not None or entry.plural)
    ours = [entry for entry in old.entries if entry.context is None and not entry.plural]
    mine: dict[tuple[str | None, str], Entry] = {}
    for entry in sorted(ours, key=lambda entry: (not entry.said, entry.unused)):
        mine.setdefault(entry.key, entry)
    done = {key for other in others for key, entry in _used(other).items() if entry.counts}
    keys = {_key(one.text) for one in wanted}
    left = {entry.text: entry for entry in ours if entry.key not in keys and entry.said}
    made: list[Entry] = []
    for one in wanted:
        key = _key(one.text)
        if key in mine:
            made.append(replace(mine[key], unused=False, about=one.about))
        elif key not in done:
            made.append(_offered(one, left))
    rest = [
        replace(entry, unused=True)
        for entry in ours
        if (entry.key not in keys or entry is not mine[entry.key]) and (entry.said or entry.remark)
    ]
    header = {**old.header, "Language": old.header.get("Language") or language}
    return replace(old, entries=(*made, *foreign, *rest), header=header)


def _offered(one: Wanted, left: dict[str, Entry]) -> Entry:
    near = get_close_matches(one.text, left, n=1, cutoff=ALIKE)
    if not near:
        return Entry(one.text, about=one.about)
    like = left[near[0]]
    return Entry(one.text, like.said, doubtful=True, about=one.about, before=like.text)


def _used(catalogue: Catalogue) -> dict[tuple[str | None, str], Entry]:
    return {entry.key: entry for entry in catalogue.entries if not entry.unused}


def _key(text: str) -> tuple[str | None, str]:
    return None, unicodedata.normalize("NFC", text)
