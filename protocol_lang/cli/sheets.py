"""From a file to the sheets that charts and cards print: checked, marked, with the rules asked."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from protocol_lang.cli import pictures
from protocol_lang.cli.exits import CannotCarryOut, ExitCode

if TYPE_CHECKING:
    from protocol_lang.audit.packs import Pack
    from protocol_lang.audited import FileReport
    from protocol_lang.chart.sheet import Mark, Sheet
    from protocol_lang.pipeline import Checked

#: More charts of one protocol than these are not made at once.
MOST_CHARTS = 48


@dataclass(frozen=True, slots=True)
class Asked:
    """What sheets are asked for: of these choices, on this day, with these files of rules.

    ``lapses``: with a mark on each step that must not be left out.
    """

    wanted: dict[str, str]
    day: date
    packs: tuple[Pack, ...] = ()
    lapses: bool = False


@dataclass(frozen=True, slots=True)
class Made:
    """The sheets of one protocol, and what they rest on.

    ``limited``: only some choices could be checked, though visits may differ in them. ``report``:
    what rules and waivers say, where there are any.
    """

    checked: Checked
    limited: bool
    sheets: tuple[Sheet, ...] = ()
    report: FileReport | None = None

    @property
    def code(self) -> ExitCode:
        """The exit code that these sheets end with."""
        from protocol_lang.chart.sheet import Draft

        if self.limited:
            return ExitCode.PARTLY_CHECKED
        if self.report is None:
            return pictures.code_of(self.checked.outcome)
        if not any(isinstance(sheet.mark, Draft) for sheet in self.sheets):
            return ExitCode.CLEAR  # what is found is waived
        wrong = _faults(self.checked, self.report) or _not_kept(self.report)
        return ExitCode.TO_CORRECT if wrong else ExitCode.PARTLY_CHECKED


def sheets_of(path: Path, asked: Asked) -> Made:
    """All sheets of the protocol at ``path``. Raises :class:`CannotCarryOut` with a sentence."""
    from protocol_lang.chart.words import words_of
    from protocol_lang.pages import number_of_sheets, sheets, standing

    checked, limited = _found(str(path), asked)
    unfolded, judgement = pictures.judged(checked, "chart")
    count = number_of_sheets(unfolded, asked.wanted)
    if count > MOST_CHARTS:
        raise CannotCarryOut(
            f"That would be {count} charts. Name choices with --choice so that at most "
            f"{MOST_CHARTS} are left."
        )
    report = _report(path, checked, asked) if asked.packs or _waived(checked) else None
    in_use = [] if report is None else [use for use in report.waivers if use.state == "in use"]
    own = checked.texts[checked.outcome.file]
    made = []
    marked = None
    if asked.lapses:
        from protocol_lang.lapses.must_not_skip import must_not_skip

        marked = must_not_skip(unfolded, judgement)
    mark = _mark(checked, limited, report)
    for sheet in sheets(unfolded, judgement, mark, asked.wanted, marked):
        sheet = standing(
            sheet,
            [own, *checked.texts.values()],
            [pack.book.header.title for pack in asked.packs],
            [(use.waiver.starts, use.waiver.ends) for use in in_use],
            asked.day,
        )
        if sheet.review_by is not None and asked.day > sheet.review_by:
            words = words_of(sheet.language)
            overdue = words.review_overdue.format(day=words.day(sheet.review_by))
            sheet = replace(sheet, cautions=(*sheet.cautions, overdue))
        made.append(sheet)
    return Made(checked, limited, tuple(made), report)


def _found(file: str, asked: Asked, lasting: bool = False) -> tuple[Checked, bool]:
    """The check that the sheets rest on, and whether it is limited to what was asked for.
    ``lasting``: as an audit tells findings.

    Visits of one clinic follow each other in any mix of their choices, so a chart for some of them
    is sound only if all are. Choices that are fixed for the clinic never mix: where the whole is
    not without faults, it is enough that the clinic asked for is.
    """
    from protocol_lang.outcome import Standing

    wanted = asked.wanted
    whole = pictures.checked(file, {}, asked.day, lasting=lasting)
    if whole.protocol is None:
        return whole, False
    names = {one.name: one for one in whole.protocol.choices}
    if any(name not in names or value not in names[name].values for name, value in wanted.items()):
        pictures.checked(file, wanted)  # says which one there is not
    if whole.unfolded is not None and whole.outcome.standing is Standing.CLEAR:
        return whole, False
    fixed = {name: value for name, value in wanted.items() if names[name].fixed}
    if fixed:
        clinic = pictures.checked(file, fixed, asked.day, lasting=lasting)
        if clinic.unfolded is not None:
            return clinic, False
    if whole.unfolded is None and wanted and not whole.outcome.findings:
        return pictures.checked(file, wanted, asked.day, lasting=lasting), True
    return whole, False


def _waived(checked: Checked) -> bool:
    """Whether waivers stand in the protocol itself."""
    from protocol_lang.audit.waiver_files import waivers_in

    return bool(waivers_in(checked.texts[checked.outcome.file]))


def _report(path: Path, checked: Checked, asked: Asked) -> FileReport:
    """What an audit says of the protocol: it tells findings so that waivers hold of them."""
    from protocol_lang.audit.asking import Ask, Job
    from protocol_lang.audit.look import seen

    name = checked.outcome.file
    paths = tuple(str(pack.path) for pack in asked.packs)
    found, _ = _found(str(path), asked, lasting=True)
    return seen(found, Job(str(path.absolute()), name), Ask(asked.day, paths)).report


def _mark(checked: Checked, limited: bool, report: FileReport | None) -> Mark:
    """Checked, or why not: faults that are not waived, rules not kept, and what is not known."""
    from protocol_lang.audited import Standing as RuleStanding
    from protocol_lang.chart.sheet import Checked as Fine
    from protocol_lang.chart.sheet import Draft
    from protocol_lang.outcome import Standing
    from protocol_lang.wording.plain import listed

    reasons = []
    if faults := _faults(checked, report):
        reasons.append(f"{_figure(faults, 'fault')} to correct")
    if report is not None and (broken := _not_kept(report)):
        reasons.append(f"{_figure(broken, 'rule')} not kept")
    if reasons:
        return Draft(listed(reasons))
    if limited:
        return Draft("other choices were not checked")
    if checked.outcome.standing is Standing.UNCHECKED or checked.unfolded is None:
        return Draft("part was not checked")
    if report is not None:
        open_rules = [r for r in report.rules if r.standing is RuleStanding.NOT_DECIDED]
        if open_rules:
            return Draft(f"{_figure(len(open_rules), 'rule')} not decided")
    return Fine()


def _figure(number: int, what: str) -> str:
    """In figures, which are found faster on a wall than words."""
    return f"{number} {what}{'' if number == 1 else 's'}"


def _faults(checked: Checked, report: FileReport | None) -> int:
    """Faults that are to be corrected and not waived."""
    from protocol_lang.findings import Weight

    if report is None:
        return pictures.faults(checked.outcome)
    return len(
        {
            one.identity
            for one in report.found
            if one.rule is None and one.weight == Weight.CORRECT.value and one.waived is None
        }
    )


def _not_kept(report: FileReport) -> int:
    """Rules that must be kept, or are the clinic's own, and are neither kept nor waived."""
    from protocol_lang.findings import Weight

    return len(
        {
            (one.pack, one.rule)
            for one in report.found
            if one.rule is not None and one.weight == Weight.CORRECT.value and one.waived is None
        }
    )
