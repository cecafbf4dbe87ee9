"""Every word that cards add to those of the protocol and of the chart, for review and translation.

One frozen record of one language; English is the default. Braces are filled in.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from protocol_lang.chart.sheet import PanelKind


@dataclass(frozen=True, slots=True)
class CardWords:
    """The words of one language."""

    # All cards.
    code: str = "Code {code}"
    continued: str = "continued"
    steps: str = "steps {first} to {last}"
    step: str = "step {n}"
    minutes: str = "{n} min"

    # The sheet for somebody who observes.
    observation: str = "Observation sheet"
    how_to_observe: str = (
        "Watch, and do not prompt. Tick one box for each step. Not seen: you could not see it, or "
        "it was not due. If somebody may come to harm, stop watching and say so."
    )
    date_and_time: str = "Date and time"
    room: str = "Room"
    role: str = "Role of the person observed (no name)"
    observer: str = "Observer's signature"
    number: str = "No."
    to_do: str = "Step"
    done: str = "done"
    not_done: str = "not done"
    not_seen: str = "not seen"
    remarks: str = "Remarks"

    # The card for the door.
    on: str = "ON"
    on_when: str = "before you go in"
    off: str = "OFF"
    off_when: str = "in this order"
    one_way: str = "if it is done this way"
    in_between: str = "Gloves and hands in between: as the chart tells."
    again_later: str = "Worn again later: see the chart, {steps}."
    keep_closed: str = "Keep the door closed"
    wait_begins: str = "{minutes} min from step {n}, begun at"
    not_before: str = "Nobody goes in before"
    door_caution: str = (
        "Local rules say who wears what, who is fit tested, and where it is put on and taken off."
    )

    # The summary.
    summary: str = "Summary"
    summary_caution: str = "Not every step is here: work by the chart."
    more_step: str = "and 1 step more"
    more_steps: str = "and {n} steps more"
    panels: Mapping[PanelKind, str] = field(
        default_factory=lambda: {
            PanelKind.COVERED: "Cover",
            PanelKind.DISINFECTED: "Disinfect",
            PanelKind.STERILISED: "Sterilise",
            PanelKind.WASTE: "Waste",
            PanelKind.CALL: "Call",
        }
    )


_LANGUAGES = {"en": CardWords()}


def card_words_of(language: str) -> CardWords:
    """The words of a language by its code; English where there is no catalogue yet."""
    return _LANGUAGES.get(language, _LANGUAGES["en"])
