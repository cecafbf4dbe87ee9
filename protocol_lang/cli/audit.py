"""``audit``: many files at once, with the rules that they have to keep; a report of all."""

from __future__ import annotations

import importlib
import importlib.util
import os
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, cast

import click

from protocol_lang.cli import terminal
from protocol_lang.cli.exits import CannotCarryOut, ExitCode, weightiest
from protocol_lang.cli.group import Command
from protocol_lang.cli.options import on_option

if TYPE_CHECKING:
    from protocol_lang.audit.packs import Pack
    from protocol_lang.audit.whole import Wanted
    from protocol_lang.audited import Audit, Waiver

#: What makes each form of the report: a module and its function from the audit to bytes. One that
#: is not there is not offered.
_FORMS: Mapping[str, tuple[str, str]] = {
    "pdf": ("protocol_lang.report.audit.pdf", "render"),
    "html": ("protocol_lang.report.audit.html", "render"),
    "json": ("protocol_lang.audit.data", "render"),
    "sarif": ("protocol_lang.report.audit.sarif", "render"),
    "csv": ("protocol_lang.report.audit.csv", "render"),
    "txt": ("protocol_lang.report.audit.text", "render"),
}

#: More workers than this are never started.
MOST_WORKERS = 256


@click.command("audit", cls=Command)
@click.argument("paths", metavar="PATHS...", nargs=-1, required=True)
@click.option(
    "--rules", multiple=True, metavar="PACK", help="A file of rules, or the title of a shipped one."
)
@click.option("-o", "target", metavar="NAME", help="Where to: its ending says in which form.")
@click.option("--setting", multiple=True, metavar="NAME=VALUE", help="A setting of the rules.")
@on_option
@click.option("--waivers", multiple=True, metavar="FILE", help="A file of waivers.")
@click.option("--earlier", metavar="REPORT", help="An earlier report (.json): tells what is new.")
@click.option("--workers", type=int, metavar="N", help="Files at once; as many as processors.")
@click.option("--changes", is_flag=True, help="Try changes too, as a check does; takes longer.")
@click.option("--cluster", metavar="ADDRESS", help="A distributed scheduler that shares the work.")
@click.option(
    "--verify", metavar="REPORT", help="Tell whether this report (.json) comes out again."
)
def command(
    paths: tuple[str, ...],
    rules: tuple[str, ...],
    target: str | None,
    setting: tuple[str, ...],
    on: str | None,
    waivers: tuple[str, ...],
    earlier: str | None,
    workers: int | None,
    changes: bool,
    cluster: str | None,
    verify: str | None,
) -> ExitCode:
    """Look at many files at once, and at the rules that they have to keep.

    PATHS are files, or folders whose files are all looked at. A file that is broken, or that does
    harm, is listed with the reason and stops no other. The same files give the same report, byte
    for byte; --verify tells whether one comes out again, from the files at hand.
    """
    from protocol_lang.audit.gather import TooMany
    from protocol_lang.audit.sharing import NoCluster
    from protocol_lang.audit.whole import audit

    form = _form(target)
    report = None if verify is None else _report(verify)
    if report is not None:
        if target is not None:
            raise CannotCarryOut("--verify makes no report: leave out -o.")
        rules = rules or _titles(report[0])
        setting = setting or _settings(report[0])
        on = on or report[0].on.isoformat()
        changes = report[0].changes
    wanted = _wanted(paths, rules, setting, on, waivers, earlier, workers, changes, cluster)
    try:
        made = audit(wanted)
    except (TooMany, NoCluster) as problem:
        raise CannotCarryOut(str(problem)) from None
    if report is not None:
        return _verified(*report, made)
    if target is None or form is None:
        from protocol_lang.audit import summary

        width, colour, ascii_only = terminal.looks()
        terminal.say_inked(summary.render(made, width, colour, ascii_only))
    else:
        from protocol_lang.cli.writing import write_over

        write_over(Path(target), form(made))
        terminal.say(f'{_total(made)} Written: "{terminal.visible_in_line(target)}".')
    return code_of(made)


def code_of(audit: Audit) -> ExitCode:
    """The exit code that says how an audit ended."""
    from protocol_lang.audit.views import standing
    from protocol_lang.outcome import Standing

    codes = [
        {
            Standing.CORRECT: ExitCode.TO_CORRECT,
            Standing.UNCHECKED: ExitCode.PARTLY_CHECKED,
            Standing.CLEAR: ExitCode.CLEAR,
        }[standing(audit)]
    ]
    if any(file.cause == "fault" for file in audit.files):
        codes.append(ExitCode.OUR_FAULT)
    return weightiest(codes)


def _total(audit: Audit) -> str:
    from protocol_lang.audit.summary import counts

    return counts(audit)


def _form(target: str | None) -> Callable[[Audit], bytes] | None:
    if target is None:
        return None
    from protocol_lang.cli.pictures import format_of

    module, function = _FORMS[format_of(Path(target), tuple(filter(_is_there, _FORMS)))]
    render = getattr(importlib.import_module(module), function)

    def made(audit: Audit) -> bytes:
        rendered = cast("str | bytes", render(audit))
        if isinstance(rendered, bytes):
            return rendered
        return (rendered if rendered.endswith("\n") else f"{rendered}\n").encode("utf-8")

    return made


def _is_there(form: str) -> bool:
    """Whether the module that makes a form is there."""
    try:
        return importlib.util.find_spec(_FORMS[form][0]) is not None
    except ModuleNotFoundError:
        return False


def _wanted(
    paths: tuple[str, ...],
    rules: tuple[str, ...],
    setting: tuple[str, ...],
    on: str | None,
    waivers: tuple[str, ...],
    earlier: str | None,
    workers: int | None,
    changes: bool,
    cluster: str | None,
) -> Wanted:
    from protocol_lang.audit.packs import NoPack, open_pack, settings_of
    from protocol_lang.audit.whole import Wanted
    from protocol_lang.cli.check import _day

    for path in paths:
        if not os.path.lexists(path):
            shown = terminal.visible_in_line(path)
            raise CannotCarryOut(f'There is no file or folder "{shown}".')
    if workers is not None and not 1 <= workers <= MOST_WORKERS:
        raise CannotCarryOut(f"--workers takes a number from 1 to {MOST_WORKERS}.")
    day = _day(on)
    try:
        packs: tuple[Pack, ...] = tuple(open_pack(one) for one in dict.fromkeys(rules))
        settings = settings_of(packs, setting)
    except NoPack as problem:
        raise CannotCarryOut(terminal.visible_in_line(problem.sentence)) from None
    told, files = _waivers(waivers)
    return Wanted(
        paths=tuple(map(Path, paths)),
        on=day,
        packs=packs,
        settings=tuple(sorted(settings.items())),
        waivers=told,
        waiver_files=files,
        earlier=None if earlier is None else _report(earlier),
        workers=workers or _processors(),
        cluster=cluster,
        changes=changes,
    )


def _processors() -> int:
    """The processors that this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def _waivers(
    names: tuple[str, ...],
) -> tuple[tuple[Waiver, ...], tuple[tuple[str, str], ...]]:
    from protocol_lang import prints
    from protocol_lang.audit.waiver_files import Faulty, read_waivers
    from protocol_lang.cli.check import unreadable
    from protocol_lang.text import Unreadable

    told: list[Waiver] = []
    files: list[tuple[str, str]] = []
    for name in dict.fromkeys(names):
        try:
            waivers, title, text = read_waivers(Path(name))
        except Unreadable as problem:
            raise CannotCarryOut(unreadable(problem)) from None
        except Faulty as problem:
            shown = terminal.visible_in_line(name)
            why = terminal.visible_in_line(problem.why)
            raise CannotCarryOut(f'"{shown}" is no file of waivers to go by. {why}') from None
        told += waivers
        files.append((title, prints.of_texts([text])))
    return tuple(told), tuple(files)


def _report(name: str) -> tuple[Audit, str]:
    """A report that was written before, and its fingerprint."""
    from protocol_lang import prints
    from protocol_lang.audit import data

    shown = terminal.visible_in_line(name)
    path = Path(name)
    try:
        if not path.is_file():
            raise CannotCarryOut(f'There is no file "{shown}".')
        if path.stat().st_size > data.MOST_BYTES:
            raise CannotCarryOut(f'"{shown}" is larger than any report of an audit.')
        content = path.read_bytes()
        return data.read(content), prints.of_bytes(content)
    except OSError as problem:
        raise CannotCarryOut(f'"{shown}" cannot be read: {problem.strerror}.') from None
    except data.NotAReport as problem:
        why = terminal.visible_in_line(problem.why)
        raise CannotCarryOut(f'"{shown}" is no report of an audit: {why}.') from None


def _titles(report: Audit) -> tuple[str, ...]:
    """The titles of the rules that a report applied: only those that travel along are found."""
    return tuple(pack.title for pack in report.packs)


def _settings(report: Audit) -> tuple[str, ...]:
    return tuple(f"{name}={value}" for pack in report.packs for name, value in pack.settings)


def _verified(report: Audit, fingerprint: str, anew: Audit) -> ExitCode:
    """Say whether the same report comes out, or what differs.

    ``fingerprint``: of the report as it lies in its file. What stands there beside the records, its
    verdict among it, follows from them; so its text is compared with the one that they come to.
    """
    from protocol_lang import prints
    from protocol_lang.audit import data
    from protocol_lang.audit.verify import differences, not_compared

    found = differences(report, anew)
    if report.version == anew.version and prints.of_bytes(data.render(report)) != fingerprint:
        found = ("Its text was changed after it was written.", *found)
    left_out = not_compared(report, anew)
    if found:
        terminal.say("Another report comes out:")
        for one in found:
            terminal.say(f"  {terminal.visible_in_line(one)}")
    else:
        terminal.say("The same report comes out.")
    if left_out:
        names = ", ".join(map(terminal.visible_in_line, left_out))
        terminal.say(f"Not compared, since not checked in one of them: {names}.")
    if found:
        return ExitCode.TO_CORRECT
    return ExitCode.PARTLY_CHECKED if left_out else ExitCode.CLEAR
