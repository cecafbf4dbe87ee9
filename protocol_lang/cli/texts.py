"""``texts``: what a chart says, and which of it has a translation."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

import click

from protocol_lang.cli import languages, pictures, terminal
from protocol_lang.cli.exits import CannotCarryOut, ExitCode
from protocol_lang.cli.group import Command

if TYPE_CHECKING:
    from collections.abc import Iterable

    from protocol_lang.model.protocol import Source
    from protocol_lang.translation.catalogue import Catalogue
    from protocol_lang.translation.refresh import Account, Wanted


@click.command("texts", cls=Command)
@click.argument("file")
@click.option("--language", metavar="CODE", required=True, help="es, fr, hi or ar.")
@click.option(
    "-o",
    "target",
    metavar="NAME",
    help="Write them into a translation file; one that is there is brought up to date.",
)
def command(file: str, language: str, target: str | None) -> ExitCode:
    """Tell which texts of a chart are not translated yet.

    Of a protocol these are all texts that its charts print; of a room, or of a file of words or
    data, what it declares, which all protocols that take words from it use. The translation of
    "visit.protocol" into Spanish lies beside it as "visit.es.po", and "chart --language es" finds
    it there by itself.

    With -o a translation file is written, or brought up to date: what is translated stays, new
    texts are added, and texts that are no longer used are kept as such.

    Exit code 4 tells that texts are missing or have to be looked at, 1 that a translation tells
    other numbers than the text. Such texts are printed as in the protocol, and marked.
    """
    from protocol_lang.chart.words import LANGUAGES
    from protocol_lang.translation.refresh import account, refreshed

    if languages.known(language) == "en":
        raise CannotCarryOut("The texts need no translation into English. Name es, fr, hi or ar.")
    path = Path(file)
    into = None if target is None else Path(target)
    if into is not None and into.suffix.lower() != ".po":
        raise CannotCarryOut(
            "The name after -o is that of a translation file: it must end in .po, and "
            f'"{pictures.shown(into)}" does not.'
        )
    title, wanted, files = _wanted(file)
    own, others = languages.catalogues(path, files, language)
    if into is None:
        found = account(wanted, own, others)
        _tell(title, LANGUAGES[language], found)
        return _code(found)
    if os.path.lexists(into):
        own = languages.read_catalogue(into)
    made = refreshed(wanted, own or _new(title, language), others, language)
    _write(into, made)
    found = account(wanted, made, others)
    left = len(found.missing) + len(found.doubtful) + len(found.differing)
    terminal.say(
        f'Wrote "{pictures.shown(into)}": {_texts(found.total)}, '
        f"{left or 'none'} still to be translated or looked at."
    )
    return _code(found)


def _wanted(file: str) -> tuple[str, tuple[Wanted, ...], Iterable[Source]]:
    """The title of a file, its texts, and all files that were read for it."""
    from protocol_lang.chart.sheet import Checked
    from protocol_lang.chart.translate import wanted
    from protocol_lang.language.load import load
    from protocol_lang.language.namelist import declared_words
    from protocol_lang.pages import sheets
    from protocol_lang.translation.refresh import Wanted

    found = pictures.checked(file, {})
    if found.protocol is None and found.outcome.kind in ("room", "words", "data"):
        loaded = load(Path(file))
        words = tuple(Wanted(words, about) for words, about in declared_words(loaded.root))
        return loaded.files[-1].title, words, loaded.files
    unfolded, judgement = pictures.judged(found, "chart")
    texts = wanted(sheets(unfolded, judgement, Checked(), {}))
    return unfolded.protocol.header.title, texts, unfolded.protocol.files


def _new(title: str, language: str) -> Catalogue:
    """An empty translation file."""
    from protocol_lang.chart.words import LANGUAGES
    from protocol_lang.translation.catalogue import REVIEWED_BY, Catalogue

    remark = (
        f'The texts of "{title}" in {LANGUAGES[language]}.\n'
        f"Charts say that nobody has looked the translation through, until {REVIEWED_BY} names\n"
        "the native speaker of the clinic who has."
    )
    return Catalogue((), {REVIEWED_BY: "", "Language": language}, remark)


def _write(into: Path, made: Catalogue) -> None:
    from protocol_lang.cli.writing import write_over
    from protocol_lang.translation.po import written

    write_over(into, written(made).encode("utf-8"))


def _code(found: Account) -> ExitCode:
    if found.differing:
        return ExitCode.TO_CORRECT
    return ExitCode.PARTLY_CHECKED if found.missing or found.doubtful else ExitCode.CLEAR


def _texts(number: int) -> str:
    return f"{number} text{'' if number == 1 else 's'}"


def _tell(title: str, language: str, found: Account) -> None:
    left = len(found.missing) + len(found.doubtful) + len(found.differing)
    terminal.say(
        f'{_texts(found.total)} of "{title}": {found.total - left} in {language}, '
        f"{left or 'none'} not."
    )
    _list("Not translated:", [f"{text}" for text in found.missing])
    _list(
        'To be looked at; take out the line "fuzzy" when they are right:',
        [f"{one.text}\n    {one.said}" for one in found.doubtful],
    )
    _list(
        "To correct, the numbers differ:",
        [f"{one.text}\n    {one.said}" for one in found.differing],
    )
    _list("No longer used:", [one.text for one in found.unused])


def _list(head: str, lines: list[str]) -> None:
    if lines:
        terminal.say(f"\n{head}")
        for line in lines:
            terminal.say(f"  {line}")
