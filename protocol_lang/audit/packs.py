"""The files of rules that an audit applies: found, read, and their settings."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from protocol_lang import prints
from protocol_lang.audited import PackUsed
from protocol_lang.language.load import load
from protocol_lang.language.opening import Titled, find_titled
from protocol_lang.language.tree import Words
from protocol_lang.model.rules import RuleBook
from protocol_lang.resources import folder
from protocol_lang.text import Place, Unreadable
from protocol_lang.wording import ENTRIES


class NoPack(Exception):
    """A file of rules that cannot be applied: ``sentence`` says why."""

    def __init__(self, sentence: str) -> None:
        super().__init__(sentence)
        self.sentence = sentence


@dataclass(frozen=True, slots=True)
class Pack:
    """A file of rules that is fit to be applied."""

    path: Path
    book: RuleBook
    fingerprint: str

    def used(self, settings: Mapping[str, str]) -> PackUsed:
        """How the report names it."""
        header = self.book.header
        return PackUsed(
            title=header.title,
            edition=header.edition,
            fingerprint=self.fingerprint,
            settings=tuple(
                (one.name, settings.get(one.name, one.values[0])) for one in self.book.settings
            ),
            rules=len(self.book.rules),
        )


def open_pack(asked: str) -> Pack:
    """The pack of that path, or of that title among those that travel with the program.

    Raises :class:`NoPack`: it is not there, is no file of rules, or has faults.
    """
    path = Path(asked)
    if not os.path.isfile(path):
        path = _titled(asked)
    try:
        loaded = load(path, name=path.name)
    except Unreadable as problem:
        raise NoPack(ENTRIES[problem.kind].sentence(problem.facts)) from None
    kind = loaded.root.kind
    if kind != "rules":
        raise NoPack(f'{_shown(asked)} is no file of rules: it begins with "{kind}".')
    for finding in loaded.findings:
        where = f"line {finding.place.line}: " if finding.place is not None else ""
        entry = ENTRIES.get(finding.kind)
        what = finding.kind if entry is None else entry.sentence(finding.facts)
        raise NoPack(f"{_shown(asked)} has faults and cannot be applied. {where}{what}")
    if loaded.rules is None or not loaded.complete:
        raise NoPack(f"{_shown(asked)} has faults and cannot be applied.")
    texts = [loaded.texts[path.name], *loaded.texts.values()]
    return Pack(path.absolute(), loaded.rules, prints.of_texts(texts))


def settings_of(packs: Sequence[Pack], asked: Sequence[str]) -> dict[str, str]:
    """The settings that are asked for, "NAME=VALUE" each, in the spelling of the packs.

    Raises :class:`NoPack` for one that no pack has, or a value that it does not offer.
    """
    known = {one.name.casefold(): one for pack in packs for one in pack.book.settings}
    chosen: dict[str, str] = {}
    for word in asked:
        name, equals, value = (" ".join(part.split()) for part in word.partition("="))
        if not equals or not name or not value:
            raise NoPack(f'{_shown(word)} is not a setting. Write it as "NAME=VALUE".')
        setting = known.get(name.casefold())
        if setting is None:
            names = ", ".join(one.name for one in known.values()) or "none"
            raise NoPack(f"No file of rules has a setting {_shown(name)}. There are: {names}.")
        values = {one.casefold(): one for one in setting.values}
        if value.casefold() not in values:
            raise NoPack(
                f"The setting {_shown(setting.name)} has no value {_shown(value)}. "
                f"Its values: {', '.join(setting.values)}."
            )
        if chosen.setdefault(setting.name, values[value.casefold()]) != values[value.casefold()]:
            raise NoPack(f"The setting {_shown(setting.name)} was given twice.")
    return chosen


def _titled(title: str) -> Path:
    library = folder("protocols")
    words = Words(title, Place("", 1, 1, 2))
    found = find_titled(words, None, library, "", True)
    if not isinstance(found, Titled):
        raise NoPack(
            f"There is no file {_shown(title)}, and no file of rules of that title comes along."
        )
    return found.path


def _shown(word: str) -> str:
    return f'"{word}"'
