"""Pages that explain a word: a kind of finding, a construct of the language, a verb."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from enum import Enum

from protocol_lang.report.setting import Setting
from protocol_lang.wording import ENTRIES
from protocol_lang.wording.constructs import CONSTRUCTS
from protocol_lang.wording.examples import TAB, TAB_IS_SHOWN


class Sort(Enum):
    """What a page is about; also the headings of the list of all pages, in their order."""

    CONSTRUCT = "Words of the language"
    VERB = "Verbs"
    FINDING = "Kinds of finding"


@dataclass(frozen=True, slots=True)
class Subject:
    """Something that can be explained.

    ``name``: how it is called; ``also``: other names that lead here. ``meaning``: paragraphs, with
    a blank line between two. ``good`` and ``faulty``: texts, empty if there are none; ``faulty``
    shows what is not to be written. ``written``: its own lines, of a verb.
    """

    sort: Sort
    name: str
    also: tuple[str, ...]
    meaning: str
    good: str = ""
    faulty: str = ""
    written: str = ""


@dataclass(frozen=True, slots=True)
class Unknown:
    """A word that nothing explains; ``nearest``: the one name that it is surely a slip of."""

    word: str
    nearest: str | None


def subjects() -> tuple[Subject, ...]:
    """All kinds of finding and all constructs. Verbs stand in files; the caller adds them."""
    constructs = [
        Subject(Sort.CONSTRUCT, each.name, each.also, each.meaning, each.good, each.faulty)
        for each in CONSTRUCTS
    ]
    findings = [
        Subject(Sort.FINDING, each.kind, (each.number,), each.explanation, each.good, each.faulty)
        for each in ENTRIES.values()
    ]
    return (*constructs, *findings)


def find(word: str, among: Iterable[Subject]) -> tuple[Subject, ...] | Unknown:
    """The subjects that ``word`` names: one by its whole name, else the verbs it occurs in.

    Capitals and blanks at the ends make no difference. A near name is offered only if it is the
    only one that is close.
    """
    wanted = _plain(word)
    among = tuple(among)
    named = _named(among)
    if wanted in named:
        return (named[wanted],)
    verbs = tuple(
        subject
        for subject in among
        if subject.sort is Sort.VERB
        and any(wanted in _plain(name).split() for name in (subject.name, *subject.also))
    )
    if verbs:
        return verbs
    near = {named[name].name for name in get_close_matches(wanted, named, n=3, cutoff=0.75)}
    return Unknown(word, near.pop() if len(near) == 1 else None)


def render(found: Sequence[Subject], width: int = 72, ascii_only: bool = False) -> str:
    """The pages of ``found``, one under the other, without a last line feed."""
    setting = Setting(width, ascii_only=ascii_only)
    for subject in found:
        setting.gap()
        setting.put(_heading(subject))
        for paragraph in subject.meaning.split("\n\n"):
            setting.gap()
            setting.put(paragraph.replace("\n", " "))
        _sample(setting, "It is written like this:", subject.written)
        _sample(setting, "Good:", subject.good)
        _sample(setting, "Faulty:", subject.faulty)
    return setting.text()


def contents(among: Iterable[Subject], width: int = 72, ascii_only: bool = False) -> str:
    """The names of everything that can be explained, under their headings."""
    setting = Setting(width, ascii_only=ascii_only)
    by_sort: Mapping[Sort, list[Subject]] = {sort: [] for sort in Sort}
    for subject in among:
        by_sort[subject.sort].append(subject)
    for sort, group in by_sort.items():
        if group:
            setting.gap()
            setting.put(sort.value)
            for subject in group:
                number = f" ({subject.also[0]})" if sort is Sort.FINDING else ""
                setting.put(subject.name + number, "    ", hang=2)
    return setting.text()


def _heading(subject: Subject) -> str:
    if subject.sort is Sort.FINDING:
        return f"{subject.name} ({subject.also[0]}), a kind of finding"
    if subject.sort is Sort.VERB:
        return f"{subject.name}, a verb"
    also = f"; also {', '.join(subject.also)}" if subject.also else ""
    return f"{subject.name}, a word of the language{also}"


def _sample(setting: Setting, label: str, text: str) -> None:
    """A text as it stands in a file, to be copied: no line is broken, however long it is."""
    if not text:
        return
    setting.gap()
    setting.put(label)
    if "\t" in text:
        setting.put(TAB_IS_SHOWN)
    for line in text.rstrip("\n").split("\n"):
        setting.copy(line.replace("\t", TAB), "    ")


def _named(among: Iterable[Subject]) -> dict[str, Subject]:
    """Subjects by all their names. A name of its own goes before another's further name."""
    among = tuple(among)
    named = {_plain(subject.name): subject for subject in among}
    for subject in among:
        for name in subject.also:
            named.setdefault(_plain(name), subject)
    return named


def _plain(word: str) -> str:
    return " ".join(word.casefold().split()).rstrip(":")
