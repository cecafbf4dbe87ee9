"""What is used up, as a page for people."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from protocol_lang.report.letters import width as columns_of
from protocol_lang.report.sections import Row, Section
from protocol_lang.report.setting import Setting, Text
from protocol_lang.supplied import Count, Given, Supplies, Turn, Unit
from protocol_lang.wording import supplies as words

#: So many columns at most are for the names of things.
_WIDEST_NAME = 22


def render(
    supplies: Supplies,
    standing: str | None = None,
    notes: Mapping[str, str] | None = None,
    width: int = 72,
    colour: bool = False,
    ascii_only: bool = False,
) -> str:
    """The list as text, without a last line feed.

    ``standing``: what the check came to, if that is to be told at the head: "to correct" or "not
    checked". ``notes``: what the room says of its waste streams. The others are those of
    :func:`protocol_lang.report.page.render`.
    """
    page = Setting(width, colour, ascii_only)
    page.put(words.title(supplies.title), bold=True)
    edition = f", edition {supplies.edition}" if supplies.edition is not None else ""
    page.put(f"{supplies.file}{edition}")
    if standing is not None:
        page.put(words.STANDING[standing])
    told = tuple(sections(supplies, notes or {}))
    if not page.stacked:
        longest = max(columns_of(row.label) for section in told for row in section.rows)
        page.label = page.indent + min(longest, _WIDEST_NAME, page.columns // 4) + 2
    for section in told:
        page.gap()
        page.put(section.heading, bold=True)
        for row in section.rows:
            lines: list[Text] = [*row.lines]
            page.row(row.label, lines)
    page.gap()
    page.row(words.CAUTION, words.CAUTIONS, margin=0)
    return page.text()


def sections(supplies: Supplies, notes: Mapping[str, str]) -> Iterator[Section]:
    """All that is told, in its order: of a day first the whole, then each of its protocols."""
    many = len(supplies.turns) > 1
    each = [Section(words.whose(turn, many), tuple(_turn(turn, notes))) for turn in supplies.turns]
    if not many:
        yield from each
    yield Section(_session_heading(supplies), tuple(_session(supplies, notes)))
    if supplies.cycling or supplies.kept:
        yield Section(words.NEEDED, tuple(_needed(supplies)))
    if supplies.order.lines:
        order = supplies.order
        rows = [Row(one.thing, (words.ordered(one),)) for one in order.lines]
        yield Section(words.order(order.days), tuple(rows))
    if many:
        yield from each
    yield Section(words.RESTS_ON, tuple(_rests_on(supplies)))


def _turn(turn: Turn, notes: Mapping[str, str]) -> Iterator[Row]:
    back = {count.thing for count, _ in turn.back}
    used = [one for one in turn.used if one.thing not in back]
    yield from _counts(used)
    if turn.each:
        yield Row("each piece", tuple(words.each_piece(turn.each)))
    if not used and not turn.each and not turn.back:
        yield Row("", (words.NOTHING,))
    if turn.waste:
        bins = [words.waste(one, notes.get(one.stream or "")) for one in turn.waste]
        yield Row("waste", (*bins, words.OF_ONE_PIECE) if turn.each else tuple(bins))
    if turn.back:
        yield Row("comes back", tuple(_back(turn)))
    mishaps = [words.mishap(one.mishap, one.counts) for one in turn.mishaps if one.counts]
    if turn.not_counted:
        mishaps = [words.MISHAPS_NOT_COUNTED]
    if mishaps:
        yield Row("mishaps", tuple(mishaps))
    if turn.own:
        yield Row("not counted", (words.own(turn.own),))


def _back(turn: Turn) -> Iterator[str]:
    for count, to in turn.back:
        yield words.comes_back(count, to)
        yield from (f"  {words.by(one)}" for one in count.by)


def _counts(counts: Iterable[Count]) -> Iterator[Row]:
    for one in counts:
        told = [words.amount(one.number, one.unit), *(f"  {words.by(each)}" for each in one.by)]
        yield Row(one.thing, tuple(told))


def _session_heading(supplies: Supplies) -> str:
    patient = any(turn.patient for turn in supplies.turns)
    return words.session(supplies.session.visits, patient, supplies.is_day)


def _session(supplies: Supplies, notes: Mapping[str, str]) -> Iterator[Row]:
    session = supplies.session
    yield from _counts(session.used)
    if session.waste:
        told = [words.waste(one, notes.get(one.stream or "")) for one in session.waste]
        yield Row("waste", tuple(told))
    if session.loads.most:
        yield Row("treated", (words.loads(session.loads, session.pieces),))


def _needed(supplies: Supplies) -> Iterator[Row]:
    for one in supplies.cycling:
        lines = words.needed(one)
        mixed = words.enough(one, supplies.order.service)
        yield Row(one.thing, tuple([*lines, mixed] if mixed is not None else lines))
    if supplies.loads:
        yield Row("loads", tuple(words.load(one) for one in supplies.loads))
    for box in supplies.kept:
        yield Row(box.box or "kept", (words.kept(box),))


def _rests_on(supplies: Supplies) -> Iterator[Row]:
    for given in Given:
        told = [
            f"{words.assumed(one)} ({one.option})" if given is Given.USUAL else words.assumed(one)
            for one in supplies.assumed
            if one.given is given
        ]
        if told:
            yield Row(words.GIVEN[given], tuple(told))
    if supplies.mix:
        yield Row("mix", tuple(map(words.share, supplies.mix)))
    yield Row("order", tuple(words.basis_of_order(supplies.order)))
    yield Row("counts", tuple(_counted_so(supplies)))


def _counted_so(supplies: Supplies) -> Iterator[str]:
    units = {one.unit for turn in supplies.turns for one in turn.used}
    if Unit.PAIR in units:
        yield words.EACH_PAIR
    if any(turn.mishaps for turn in supplies.turns):
        yield words.MISHAPS_APART
    if any(turn.each for turn in supplies.turns):
        yield words.ONE_ROOM
    if supplies.running_on:
        yield words.RUNNING_ON
    if supplies.cycling:
        yield words.ALL_CLEAN
