"""Every word that charts and cards add to those of the protocol, for review and translation.

The English words stand here; each other language has a catalogue in ``languages/``, in which they
are found by the name of the field (the context) and the English words. ``tools/catalogues.py``
brings the catalogues up to date.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields
from datetime import date
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from protocol_lang.chart.sheet import Hands, HandState, PanelKind, Together

if TYPE_CHECKING:
    from gettext import GNUTranslations

#: The languages of charts: their codes, and what they are called in English.
LANGUAGES: Mapping[str, str] = {
    "en": "English",
    "es": "Spanish",
    "fr": "French",
    "hi": "Hindi",
    "ar": "Arabic",
}

#: Of these the ones that are written from right to left (CLDR, characterOrder).
_RIGHT_TO_LEFT = frozenset({"ar"})

FOLDER = Path(__file__).with_name("languages")


def _english(one: str, many: str, n: int) -> str:
    return one if n == 1 else many


@dataclass(frozen=True, slots=True)
class Counted:
    """Words that differ with a number, which stands in them as ``{n}``.

    ``choose``: from the English words for one and for many, and the number, to the words. Filled in
    like any other words: ``counted.format(n=3)``.
    """

    one: str
    many: str
    choose: Callable[[str, str, int], str] = _english

    def format(self, *, n: int, **more: str) -> str:
        """The words for ``n``, with everything filled in."""
        return self.choose(self.one, self.many, n).format(n=n, **more)


@dataclass(frozen=True, slots=True)
class Words:
    """The words of one language; braces are filled in."""

    hands: Mapping[HandState, str]
    treat_as_used: str
    together: Mapping[Together, str]
    continued: str
    runs_on: str
    do_not_touch: str
    never_touch: str
    minutes: Counted
    after: str
    legend: str
    edition: str
    in_force: str
    review_by: str
    owner: str
    checked: str
    draft: str
    draft_because: str
    sheet_of: str
    cautions: tuple[str, ...]
    as_written: str
    as_written_on: str
    review_overdue: str
    months: tuple[str, ...]
    date_form: str
    first_of_month: str
    comma: str
    semicolon: str
    panels: Mapping[PanelKind, str]
    touch_only: str
    meanwhile: str
    must_not_skip: str
    go_on: str
    which_hand: Mapping[str, str]
    checked_waived: Counted
    rules: str
    code: str
    reasons: Mapping[str, str]
    faults: Counted
    headings: Mapping[str, str]
    phrases: Mapping[str, str]
    observation_sheet: str
    how_to_observe: str
    date_and_time: str
    room: str
    role: str
    observer: str
    step_number: str
    to_do: str
    done: str
    not_done: str
    not_seen: str
    remarks: str
    step: str
    steps: str
    door_card: str
    put_on: str
    put_on_when: str
    take_off: str
    take_off_when: str
    one_way: str
    in_between: str
    worn_again: str
    keep_closed: str
    wait_begins: str
    not_before: str
    who_wears_what: str
    summary: str
    not_every_step: str
    more_steps: Counted
    not_translated: str
    not_reviewed: str
    reviewed: str
    radiation: str
    right_to_left: bool = False

    def hands_are(self, hands: Hands) -> str:
        """How the hands are, in words."""
        return self.treat_as_used if hands.treat_as_used else self.hands[hands.state]

    def steps_from(self, first: int, last: int) -> str:
        """The steps from one number to another, in words."""
        return (
            self.step.format(n=first)
            if first == last
            else self.steps.format(first=first, last=last)
        )

    def day(self, day: date) -> str:
        """A date that is read the same everywhere: the month as a word."""
        number = self.first_of_month if day.day == 1 else "{n}"
        return self.date_form.format(
            day=number.format(n=day.day), month=self.months[day.month - 1], year=day.year
        )


ENGLISH = Words(
    hands={
        HandState.USED_GLOVES: "used gloves",
        HandState.USED_BARE: "used hands",
        HandState.UNKNOWN: "treat as used",
        HandState.NOT_CLEAN_GLOVES: "gloves not clean",
        HandState.NOT_CLEAN: "hands not clean",
        HandState.CLEAN_GLOVES: "clean gloves",
        HandState.CLEAN_BARE: "clean hands",
    },
    treat_as_used="treat as used",
    together={
        Together.IN_ORDER: "in this order",
        Together.ANY_ORDER: "in any order",
        Together.MIXED: "in any order",
        Together.IN_ONE_GO: "in one go",
        Together.SIDE_BY_SIDE: "at the same time",
        Together.LANE: "",
        Together.HEADED: "",
    },
    continued="continued",
    runs_on="May run into the next visit: nobody waits for it.",
    do_not_touch="Do not touch now:",
    never_touch="Never with used gloves or hands:",
    minutes=Counted("{n} min", "{n} min"),
    after="after {n}",
    legend="Hands after each step",
    edition="Edition {n}",
    in_force="in force from {day}",
    review_by="review by {day}",
    owner="Owner: {owner}",
    checked="checked, no faults",
    draft="DRAFT",
    draft_because="DRAFT: {reason}",
    sheet_of="Sheet {n} of {all}",
    cautions=("Local rules and licensed practice come first.",),
    as_written="Checked as written; what people do is not checked.",
    review_overdue="The review was due by {day}.",
    as_written_on="Checked on {day} as written; what people do is not checked.",
    months=(
        "January",
        "February",
        "March",
        "April",
        "May",
        "June",
        "July",
        "August",
        "September",
        "October",
        "November",
        "December",
    ),
    date_form="{day} {month} {year}",
    first_of_month="{n}",
    comma=", ",
    semicolon="; ",
    panels={
        PanelKind.LAY_OUT: "Lay out before gloving",
        PanelKind.STANDS: "Who stands where at an exposure",
        PanelKind.SETTINGS: "Exposure settings",
        PanelKind.COVERED: "Covered",
        PanelKind.DISINFECTED: "Disinfected",
        PanelKind.STERILISED: "Sterilised",
        PanelKind.WASTE: "Waste",
        PanelKind.HAPPENS: "If this happens",
        PanelKind.CALL: "Whom to call",
    },
    touch_only="Touch only:",
    meanwhile="meanwhile {steps}",
    must_not_skip="must not be skipped",
    go_on="go on with step {n}",
    which_hand={
        "left": "left hand",
        "right": "right hand",
        "both hands": "both hands",
        "the clean hand": "clean hand",
        "the used hand": "used hand",
    },
    checked_waived=Counted("checked, {n} waived until {day}", "checked, {n} waived until {day}"),
    rules="rules: {titles}",
    code="code {code}",
    reasons={
        "not checked": "not checked",
        "other choices were not checked": "other choices were not checked",
        "part was not checked": "part was not checked",
    },
    faults=Counted("{n} fault to correct", "{n} faults to correct"),
    headings={
        "either": "either",
        "or": "or",
        "otherwise": "otherwise",
        "may be left out": "may be left out",
        "first time only": "first time only",
        "last time only": "last time only",
        "if {what}": "if {what}",
        "for each {what}, {n} to {m}": "for each {what}, {n} to {m}",
        "for each {what}, {n}": "for each {what}, {n}",
        "again from step {n}, at most once": "again from step {n}, at most once",
        "again from step {n}, at most {m} times": "again from step {n}, at most {m} times",
        "again from “{what}”, at most once": "again from “{what}”, at most once",
        "again from “{what}”, at most {m} times": "again from “{what}”, at most {m} times",
    },
    phrases={
        "{what} level, with {names}": "{what} level, with {names}",
        "{what} level": "{what} level",
        "per {what}": "per {what}",
        "in all up to {n} steps, see the protocol": "in all up to {n} steps, see the protocol",
        "up to {n} steps, see the protocol": "up to {n} steps, see the protocol",
    },
    observation_sheet="Observation sheet",
    how_to_observe="Watch, and do not prompt. Tick one box for each step. Not seen: you could not "
    "see it, or it was not due. If somebody may come to harm, stop watching and say so.",
    date_and_time="Date and time",
    room="Room",
    role="Role of the person observed (no name)",
    observer="Observer's signature",
    step_number="No.",
    to_do="Step",
    done="done",
    not_done="not done",
    not_seen="not seen",
    remarks="Remarks",
    step="step {n}",
    steps="steps {first} to {last}",
    door_card="Protective equipment",
    put_on="ON",
    put_on_when="before you go in",
    take_off="OFF",
    take_off_when="in this order",
    one_way="if it is done this way",
    in_between="Gloves and hands in between: as the chart tells.",
    worn_again="Worn again later: see the chart, {steps}.",
    keep_closed="Keep the door closed",
    wait_begins="{minutes} from step {n}, begun at",
    not_before="Nobody goes in before",
    who_wears_what="Local rules say who wears what, who is fit tested, and where it is put on and "
    "taken off.",
    summary="Summary",
    not_every_step="Not every step is here: work by the chart.",
    more_steps=Counted("and {n} step more", "and {n} steps more"),
    not_translated="Texts marked {mark} are in the language of the protocol: not translated yet.",
    not_reviewed="This translation has not been looked through: let a native speaker of the clinic "
    "do so before it is used.",
    radiation="Caution: ionising radiation",
    reviewed="Translation looked through by {who}.",
)


@cache
def words_of(language: str) -> Words:
    """The words of a language by its code; English where there is no catalogue.

    A region, as in "es-MX", makes no difference.
    """
    plain = language.partition("-")[0]
    if plain == "en" or plain not in LANGUAGES:
        return ENGLISH
    from protocol_lang.translation.messages import messages

    found = messages(FOLDER / f"{plain}.po")
    said = {name: _said(name, value, found) for name, value in by_name(ENGLISH).items()}
    return Words(**{**said, "right_to_left": plain in _RIGHT_TO_LEFT})


def by_name(words: Words) -> dict[str, Any]:
    """The fields with what is to be translated: all but flags."""
    named = {one.name: getattr(words, one.name) for one in fields(words)}
    return {name: value for name, value in named.items() if not isinstance(value, bool)}


def _said(name: str, value: Any, found: GNUTranslations) -> Any:
    """The same in another language, in the same shape."""
    if isinstance(value, str):
        return found.pgettext(name, value) if value else ""
    if isinstance(value, Counted):
        return Counted(
            value.one, value.many, lambda one, many, n: found.npgettext(name, one, many, n)
        )
    if isinstance(value, tuple):
        return tuple(_said(name, one, found) for one in value)
    return {key: _said(name, one, found) for key, one in value.items()}
