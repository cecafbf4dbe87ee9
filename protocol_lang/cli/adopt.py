"""``adopt``: a local edition onto a new edition of the protocol that it adapts."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click

from protocol_lang.cli import pictures, terminal
from protocol_lang.cli.exits import CannotCarryOut, ExitCode, weightiest
from protocol_lang.cli.group import Command
from protocol_lang.cli.options import on_option

if TYPE_CHECKING:
    from protocol_lang.language import tree
    from protocol_lang.language.alone import Loaded
    from protocol_lang.language.local.adopting import Base, Clash
    from protocol_lang.pipeline import Checked
    from protocol_lang.text import Text


@click.command("adopt", cls=Command)
@click.argument("local")
@click.option(
    "--base",
    metavar="FILE",
    help="The new edition; the one that bears the title, nearest to LOCAL, if it is not told.",
)
@click.option(
    "--was",
    metavar="FILE",
    help="The edition that LOCAL was written for, if a check would not find it.",
)
@click.option("-o", "target", metavar="NAME", help="Where to: a new file.")
@click.option("--write", is_flag=True, help="Put the new text into LOCAL itself.")
@click.option("--keep", is_flag=True, help="Keep a copy of the new edition beside what is written.")
@on_option
def command(
    local: str,
    base: str | None,
    was: str | None,
    target: str | None,
    write: bool,
    keep: bool,
    on: str | None,
) -> ExitCode:
    """Put a local edition onto a new edition of the protocol that it adapts.

    Each change is looked at in the old edition and in the new one. Where the two clash, a line "to
    settle" says what about, above the change, which stays; the check tells such lines until they
    are taken away. No line of LOCAL is lost, nor a comment. Then old and new are both checked, and
    what is different in the end is told. With the base as it was, only its fingerprint is written
    in.

    The exit code is 1 if something clashes or is to be corrected in the new file, 4 if part could
    not be looked at, else 0; 2 if it could not be done.
    """
    from protocol_lang.cli.check import _day
    from protocol_lang.report import adopted as page

    if target is not None and write:
        raise CannotCarryOut('Name a new file with -o, or change LOCAL with "--write": not both.')
    if keep and target is None and not write:
        raise CannotCarryOut('A copy is kept beside what is written: add "-o NAME" or "--write".')
    path = Path(local)
    day = _day(on)
    asked = _asked(path)
    new = _loaded(path, Path(base) if base is not None else _newest(path, asked.line))
    assert new.base is not None
    old = _old(path, asked.line, None if was is None else Path(was))
    made = _made(asked, old, new)
    to = path if write else None if target is None else Path(target)
    is_now = _checked_text(made.text, to or path, path.parent, new.base, day)
    if to is not None:
        _write(to, made.text, path, [*new.texts, *([] if old is None else old.texts)], write)
        if keep:
            _keep(to.parent, new, asked.line.title.plain)
    told = page.Adopted(
        title=asked.line.title.plain,
        was=asked.line.edition,
        edition=_edition(new),
        fingerprint=_fingerprint(new),
        changes=made.changes,
        clashes=[(f"{pictures.shown(path)}:{clash.line}", said) for clash, said in made.settle],
        compared_in_full=old is not None,
        to_correct=pictures.faults(is_now.outcome),
        elsewhere=_elsewhere(to or path, made.text, new, asked.line.title.plain),
        written=None if to is None else pictures.shown(to),
    )
    terminal.say_inked(page.render(told, *terminal.looks()))
    if old is not None:
        _tell_difference(path, old, is_now, day)
    codes = [pictures.code_of(is_now.outcome)]
    codes += [ExitCode.TO_CORRECT] if made.settle else []
    codes += [ExitCode.PARTLY_CHECKED] if old is None else []
    return weightiest(codes)


@dataclass(frozen=True, slots=True)
class _Asked:
    """The local file: its text, what it says, and the line that names its base."""

    text: Text
    file: tree.File
    line: tree.Adapts


@dataclass(frozen=True, slots=True)
class _Made:
    """The new text, and what is to be settled in it."""

    text: str
    changes: int
    settle: tuple[tuple[Clash, str], ...]


def _asked(path: Path) -> _Asked:
    from protocol_lang.cli.check import unreadable
    from protocol_lang.language.local import adapts
    from protocol_lang.language.reader import read
    from protocol_lang.text import Unreadable, read_text

    try:
        text = read_text(path)
    except Unreadable as problem:
        raise CannotCarryOut(unreadable(problem)) from None
    reading = read(text)
    line = adapts(reading.file)
    shown = pictures.shown(path)
    if reading.findings:
        raise CannotCarryOut(
            f'There are faults in the text of "{shown}". "protocol-lang check" tells them; '
            "put them right first."
        )
    if line is None:
        raise CannotCarryOut(f'"{shown}" adapts no other protocol.')
    return _Asked(text, reading.file, line)


def _loaded(path: Path, base: Path | None) -> Loaded:
    """The local file on that base, or on the one that a check would take."""
    from protocol_lang.cli.check import unreadable
    from protocol_lang.language.alone import load_alone
    from protocol_lang.resources import folder
    from protocol_lang.text import Unreadable
    from protocol_lang.wording import ENTRIES

    if base is not None and not base.exists():
        raise CannotCarryOut(f'There is no file "{pictures.shown(base)}".')
    try:
        loaded = load_alone(path, folder("protocols"), base=base)
    except Unreadable as problem:
        raise CannotCarryOut(unreadable(problem)) from None
    if loaded.base is None:
        why = [
            ENTRIES[found.kind].sentence(found.facts)
            for found in loaded.findings
            if found.place is not None and found.place.file == str(path)
        ]
        raise CannotCarryOut(why[0] if why else "What it adapts cannot be read.")
    own = loaded.adapted[-1].place.file
    if any(found.place is not None and found.place.file == own and found.kind in _READING
           for found in loaded.findings):  # fmt: skip
        raise CannotCarryOut(f'There are faults in the text of "{own}".')
    return loaded


#: What may be told at a base of which a local edition cannot be made.
_READING = frozenset({"first-line-missing", "nested-too-deep", "more-faults"})


def _newest(path: Path, line: tree.Adapts) -> Path:
    """The file that bears the title of the base itself, not a copy of one edition."""
    from protocol_lang.findings import Finding
    from protocol_lang.language.opening import find_titled
    from protocol_lang.resources import folder
    from protocol_lang.wording import ENTRIES

    library = folder("protocols")
    found = find_titled(line.title, path.parent, library, str(path.parent), False)
    if isinstance(found, Finding):
        raise CannotCarryOut(ENTRIES[found.kind].sentence(found.facts))
    return found.path


def _old(path: Path, line: tree.Adapts, was: Path | None) -> Loaded | None:
    """The local file on the text that it was written for; None if that is not at hand."""
    if was is None:
        from protocol_lang.language.alone import load_alone
        from protocol_lang.resources import folder

        found = load_alone(path, folder("protocols"))
        return found if found.base is not None and _is_meant(found, line) else None
    loaded = _loaded(path, was)
    if not _is_meant(loaded, line):
        raise CannotCarryOut(
            f'"{pictures.shown(was)}" is not the text that "{pictures.shown(path)}" was written '
            f"for: it is edition {_edition(loaded)}, fingerprint {_fingerprint(loaded)}."
        )
    return loaded


def _is_meant(loaded: Loaded, line: tree.Adapts) -> bool:
    code = None if line.fingerprint is None else line.fingerprint.plain.casefold()
    return _edition(loaded) == line.edition and code in (None, _fingerprint(loaded))


def _edition(loaded: Loaded) -> int:
    from protocol_lang.language import tree

    header = loaded.adapted[-1].header
    return next((line.number for line in header if isinstance(line, tree.Edition)), 0)


def _fingerprint(loaded: Loaded) -> str:
    own = loaded.adapted[-1].place.file
    return next(source.fingerprint for source in loaded.files if source.file == own)


def _made(asked: _Asked, old: Loaded | None, new: Loaded) -> _Made:
    from protocol_lang.language.local import adopting
    from protocol_lang.wording import adopted as words

    bases: list[Base | None] = [
        None if loaded is None else adopting.Base(loaded.adapted) for loaded in (old, new)
    ]
    before, after = bases
    assert after is not None
    clashing = adopting.clashes(asked.file, before, after)
    settle = tuple((clash, words.clash(clash.kind, clash.facts)) for clash in clashing)
    text = adopting.rewritten(asked.text, asked.line, _edition(new), _fingerprint(new), settle)
    return _Made(text, adopting.count_of_changes(asked.file), settle)


def _checked_text(text: str, name: Path, beside: Path, base: Path, day: date) -> Checked:
    from protocol_lang.language.load import load_text
    from protocol_lang.pipeline import check_loaded
    from protocol_lang.text import decode

    return check_loaded(load_text(decode(text.encode(), str(name)), beside, base=base), on=day)


def _tell_difference(path: Path, old: Loaded, is_now: Checked, day: date) -> None:
    from protocol_lang.pipeline import check_file, compared
    from protocol_lang.report import compared as page

    was = check_file(path, on=day, base=old.base, mend=False)
    terminal.say("")
    terminal.say_inked(page.render(compared(was, is_now, (), day), day, *terminal.looks()))


def _elsewhere(to: Path, text: str, new: Loaded, title: str) -> tuple[str, str] | None:
    """The base that a check of the new file would take, if it is another one."""
    from protocol_lang.language.alone import load_text_alone
    from protocol_lang.language.opening import kept_name
    from protocol_lang.resources import folder
    from protocol_lang.text import decode

    found = load_text_alone(decode(text.encode(), str(to)), to.parent, folder("protocols"))
    if found.base is not None and _fingerprint(found) == _fingerprint(new):
        return None
    name = "none" if found.base is None else f'"{found.adapted[-1].place.file}"'
    return name, f'"{kept_name(title, _edition(new))}.protocol"'


def _write(to: Path, text: str, local: Path, read: list[str], over: bool) -> None:
    from protocol_lang.cli.writing import replace

    if over:
        replace(local, text)
    else:
        pictures.write(to, [text.encode("utf-8")], [str(local), *read])


def _keep(where: Path, new: Loaded, title: str) -> None:
    """A copy of the new base, under the name by which it is found before any later one."""
    from protocol_lang.cli.writing import write_new
    from protocol_lang.language.opening import kept_name

    to = where / f"{kept_name(title, _edition(new))}.protocol"
    lines = new.texts[new.adapted[-1].place.file].lines
    text = "".join(f"{line}\n" for line in lines)
    if to.exists() and to.read_text("utf-8") == text:
        return
    write_new(to, text)
