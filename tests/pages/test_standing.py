"""What the caller knows of a sheet: fingerprint, rules, waivers."""

from __future__ import annotations

from base64 import b32encode
from dataclasses import replace
from datetime import date

from protocol_lang import prints
from protocol_lang.chart.sheet import Waived
from protocol_lang.pages import standing
from tests.pages.shipped import SENSOR, checked, one_sheet

JANUARY, MARCH = date(2027, 1, 15), date(2027, 3, 31)
WAIVERS = [(date(2026, 11, 2), JANUARY), (date(2026, 12, 1), MARCH)]


def sheet():
    return one_sheet(SENSOR, staffing="alone", shielding="none")


def test_waivers_count_on_the_days_on_which_they_hold():
    def waived(day: date | None) -> Waived | None:
        return standing(sheet(), (), waivers=WAIVERS, on=day).waived

    assert waived(date(2026, 12, 24)) == Waived(2, JANUARY)
    assert waived(date(2026, 11, 2)) == Waived(1, JANUARY)
    assert waived(JANUARY) == Waived(2, JANUARY)
    assert waived(date(2027, 1, 16)) == Waived(1, MARCH)
    assert waived(date(2026, 11, 1)) is waived(date(2027, 4, 1)) is waived(None) is None


def test_the_fingerprint_is_that_of_an_audit():
    found = checked(SENSOR)
    own = found.texts[found.outcome.file]
    texts = [own, *found.texts.values()]
    made = standing(sheet(), texts, rules=["Waste"], on=JANUARY)
    assert made.fingerprint is not None
    # An audit prints the first bits of the same number, in letters of 32 kinds (RFC 4648).
    letters = b32encode(bytes.fromhex(made.fingerprint)).decode().lower()
    assert letters.startswith(prints.of_texts(texts)) and len(made.fingerprint) == 64
    assert made.rules == ("Waste",) and made.checked_on == JANUARY
    room = next(text for text in texts if "imaging-room-2.protocol" in text.file)
    other = replace(room, lines=(*room.lines, "# one word more"))
    changed = [other if text is room else text for text in texts]
    assert standing(sheet(), changed).fingerprint != made.fingerprint
    assert standing(sheet(), ()).fingerprint is None
