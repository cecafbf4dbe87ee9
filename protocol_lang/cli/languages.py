"""Charts in another language: the translations beside the files of a protocol, and what they lack.

What ``chart`` and ``texts`` share.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from protocol_lang.cli import terminal
from protocol_lang.cli.exits import CannotCarryOut

if TYPE_CHECKING:
    from protocol_lang.chart.sheet import Sheet
    from protocol_lang.model.protocol import Source
    from protocol_lang.pipeline import Checked
    from protocol_lang.translation.catalogue import Catalogue


def known(language: str) -> str:
    """The language as a chart has words for; its name in English is in ``LANGUAGES``.

    Raises :class:`CannotCarryOut` for any other.
    """
    from protocol_lang.chart.words import LANGUAGES

    if language not in LANGUAGES:
        named = ", ".join(f"{code} ({name})" for code, name in LANGUAGES.items())
        raise CannotCarryOut(
            f'"{terminal.visible_in_line(language)}" is not a language of charts. There are: '
            f"{named}."
        )
    return language


def in_language(
    sheets: tuple[Sheet, ...], language: str, file: str, found: Checked
) -> tuple[Sheet, ...]:
    """The sheets of a protocol in ``language``, with the translations that lie beside its files.

    Texts without a translation stay and are marked; how many is told on standard error.
    """
    if known(language) == "en":
        return sheets
    from protocol_lang.chart.translate import translated, untranslated
    from protocol_lang.chart.words import LANGUAGES
    from protocol_lang.translation.catalogue import texts
    from protocol_lang.wording.plain import count

    files = found.protocol.files if found.protocol is not None else ()
    own, others = catalogues(Path(file), files, language)
    said = texts(language, own, others)
    made = tuple(translated(sheet, said) for sheet in sheets)
    missing = len({text for sheet in made for text in untranslated(sheet)})
    if missing:
        terminal.complain(
            f"{count(missing, 'text')} of the chart {'is' if missing == 1 else 'are'} not in "
            f"{LANGUAGES[language]} and marked as such. "
            f'"protocol-lang texts {terminal.visible_in_line(file)} --language {language}" '
            "tells which."
        )
    return made


def catalogues(
    path: Path, files: Iterable[Source], language: str
) -> tuple[Catalogue | None, list[Catalogue]]:
    """The translation beside a file, and those beside the files that it takes words from, the
    nearest first. ``files``: all that were read, the file itself last.

    Raises :class:`CannotCarryOut` for one that may not or cannot be read.
    """
    *rest, _ = files
    others = [
        one
        for source in reversed(rest)
        if (one := catalogue(_path(source), language, source.file)) is not None
    ]
    return catalogue(path, language), others


def catalogue(protocol: Path, language: str, name: str | None = None) -> Catalogue | None:
    """The translation beside one file, or None; raises :class:`CannotCarryOut`."""
    from protocol_lang.translation.files import catalogue_beside

    with _told():
        return catalogue_beside(protocol, language, name)


def read_catalogue(path: Path) -> Catalogue:
    """The translation file at ``path``; raises :class:`CannotCarryOut`."""
    from protocol_lang.text import read_text
    from protocol_lang.translation.po import read

    with _told():
        return read(read_text(path))


@contextmanager
def _told() -> Iterator[None]:
    """What keeps a translation from being read becomes a sentence."""
    from protocol_lang.cli.check import unreadable
    from protocol_lang.text import Unreadable
    from protocol_lang.translation.files import LeadsOut
    from protocol_lang.translation.po import BadCatalogue

    try:
        yield
    except LeadsOut as problem:
        raise CannotCarryOut(
            f'"{terminal.visible_in_line(problem.file)}" is a link that leads out of its folder, '
            "and is not read. Put the file itself there."
        ) from None
    except Unreadable as problem:
        raise CannotCarryOut(unreadable(problem)) from None
    except BadCatalogue as problem:
        raise CannotCarryOut(terminal.visible_in_line(problem.sentence)) from None


def _path(source: Source) -> Path:
    """Where a file lies that was read: as it was named, or among those that travel along."""
    from protocol_lang.resources import folder

    named = Path(source.file)
    if not source.packaged or named.is_absolute():
        return named
    return folder("protocols").joinpath(*named.parts[1:])
