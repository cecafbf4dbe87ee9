"""Every word that a chart adds to those of the protocol, for review and translation."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from protocol_lang.chart.sheet import Hands, HandState, Together


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
    minutes: str
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

    def hands_are(self, hands: Hands) -> str:
        """How the hands are, in words."""
        return self.treat_as_used if hands.treat_as_used else self.hands[hands.state]

    def day(self, day: date) -> str:
        """A date that is read the same everywhere: the month as a word."""
        return f"{day.day} {self.months[day.month - 1]} {day.year}"


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
    minutes="{n} min",
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
)

_LANGUAGES: Mapping[str, Words] = {"en": ENGLISH}


def words_of(language: str) -> Words:
    """The words of a language by its code; English where there is no catalogue yet."""
    return _LANGUAGES.get(language, ENGLISH)
