"""What became of a local edition on a new edition of its base, for people."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from protocol_lang.report.setting import Setting
from protocol_lang.wording import adopted as words


@dataclass(frozen=True, slots=True)
class Adopted:
    """How it went. ``was``, ``edition``: editions of the base; ``changes``: how many of them the
    local edition makes; ``clashes``: (file and line, what clashes), in the order of the text;
    ``compared_in_full``: the text that it was written for was at hand; ``to_correct``: findings of
    a check of the new file; ``elsewhere``: a base that a check would find instead, and the name
    under which a copy of the new one is found."""

    title: str
    was: int
    edition: int
    fingerprint: str
    changes: int
    clashes: Sequence[tuple[str, str]]
    compared_in_full: bool
    to_correct: int
    elsewhere: tuple[str, str] | None
    written: str | None


def render(
    adopted: Adopted, width: int = 72, colour: bool = False, ascii_only: bool = False
) -> str:
    """The report as text, without a last line feed."""
    page = Setting(width, colour, ascii_only)
    page.put(
        words.upshot(
            adopted.title, adopted.was, adopted.edition, adopted.changes, len(adopted.clashes)
        ),
        bold=True,
    )
    page.gap()
    for number, (where, said) in enumerate(adopted.clashes, 1):
        page.put(said, f"{number}. ".ljust(page.indent))
        page.row("where", [where])
    page.gap()
    page.row("Base", [words.pinned(adopted.edition, adopted.fingerprint)], margin=0)
    page.row("Written", [adopted.written or words.NOT_WRITTEN], margin=0)
    if adopted.to_correct:
        page.row("Check", [words.to_correct(adopted.to_correct)], margin=0)
    if not adopted.compared_in_full:
        page.row("Not checked", [words.NO_OLD_BASE], margin=0)
    if adopted.elsewhere is not None:
        page.row("Beware", [words.lies_elsewhere(*adopted.elsewhere)], margin=0)
    return page.text()
