"""Writes a page for each shipped file of rules: what it asks, whose it is, how surely it is known.

Run by ``python -m tools.rules`` from the folder of the project; a test fails when a page on disk
says something else. Everything on a page comes from the file of rules itself.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

from protocol_lang.language.load import load
from protocol_lang.model.rules import Rule, RuleBook
from protocol_lang.resources import folder

ROOT = Path(__file__).resolve().parent.parent
PAGES = ROOT / "docs" / "rules"

#: How the strength of a rule is told.
_BINDS = {"must": "must", "should": "should", "local": "house rule"}


def main() -> int:
    """Write all pages. Return 0."""
    PAGES.mkdir(exist_ok=True)
    for path, text in pages().items():
        path.write_text(text, "utf-8")
        print(f"wrote {path.relative_to(ROOT)}")
    return 0


def pages() -> dict[Path, str]:
    """The pages as they should be, the list of them first."""
    books = {path.stem: _book(path) for path in _files()}
    return {
        PAGES / "README.md": "\n".join(_contents(books)),
        **{PAGES / f"{stem}.md": "\n".join(_page(book)) for stem, book in books.items()},
    }


def _files() -> list[Path]:
    return sorted((folder("protocols") / "rules").glob("*.protocol"))


def _book(path: Path) -> RuleBook:
    loaded = load(path)
    assert loaded.rules is not None and loaded.complete, loaded.findings
    return loaded.rules


def _contents(books: dict[str, RuleBook]) -> Iterator[str]:
    yield "# Rules that come with the program\n"
    yield (
        "Local codes, the labels of products and licensed practice come first. Each file can be "
        'named by its title: `protocol-lang audit FOLDER --rules "Hand hygiene"`. How rules are '
        "written is told in [the language](../language.md#rules), what each form means exactly in "
        "[what a rule asks](../meaning/rules.md).\n"
    )
    yield "| file of rules | rules | settings |"
    yield "| --- | --- | --- |"
    for stem, book in books.items():
        settings = "; ".join(f"{one.name}: {', '.join(one.values)}" for one in book.settings)
        yield f"| [{book.header.title}]({stem}.md) | {len(book.rules)} | {settings or '-'} |"
    yield ""


def _page(book: RuleBook) -> Iterator[str]:
    header = book.header
    yield f"# {header.title}\n"
    yield (
        f"Edition {header.edition}, in force from {header.in_force}, review by {header.review_by}, "
        f"owner {header.owner}. Local codes, the labels of products and licensed practice come "
        "first.\n"
    )
    for note in header.notes:
        yield f"{note}\n"
    for source in header.sources:
        yield f"* {source}"
    if header.sources:
        yield ""
    if book.settings:
        yield "Settings, the first value of each holds unless another is told:\n"
        for setting in book.settings:
            yield f"* {setting.name}: {', '.join(setting.values)}"
        yield ""
    for rule in book.rules:
        yield from _rule(rule)


def _rule(rule: Rule) -> Iterator[str]:
    yield f"## {rule.title}\n"
    told = [_BINDS[rule.strength.value]]
    if rule.where:
        told += [f"where {one.name} is {'' if one.so else 'not '}{one.value}" for one in rule.where]
    if rule.about is not None:
        told.append(rule.about.text)
    yield f"{'; '.join(told).capitalize()}. {rule.because or ''}\n"
    for source in rule.sources:
        yield f"* {source}"
    for note in rule.notes:
        yield f"* Note: {note}"
    for other in rule.others:
        word = "Tightens" if other.tightens else "Loosens"
        yield f'* {word} "{other.title}" of "{other.pack}".'
    yield ""


if __name__ == "__main__":
    sys.exit(main())
