"""Published figures, asked for as users of the data do. Each has its source beside it.

"From memory": nobody looked the value up in the document.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest

from protocol_lang.trade.air import clearance_minutes, clearance_time, published
from protocol_lang.trade.contact import (
    Span,
    contact_minutes,
    dilution_ppm,
    drying_minutes,
    hand_seconds,
    label_minutes,
    wettings,
)
from protocol_lang.trade.exposure import (
    dose_part,
    least_cord,
    least_distance,
    metres,
    safe_angles,
)
from protocol_lang.trade.germicides import covers, minimum_level, readings
from protocol_lang.trade.germs import withstands
from protocol_lang.trade.intervals import (
    spore_test_days,
    spore_test_in_time,
    still_kept,
    storage_days,
)
from protocol_lang.trade.legibility import (
    acuity_factor,
    contrast,
    least_contrast,
    letter_height,
)
from protocol_lang.trade.steam import cycle, steam_minutes
from protocol_lang.trade.waste import stream_for, times_the_limit


def span(found: Span) -> tuple[float, float | None]:
    return float(found.least), None if found.most is None else float(found.most)


# --- Air ---


@pytest.mark.parametrize(
    ("changes", "percent", "minutes"), [(6, 99, 46), (6, 99.9, 69), (12, 99.9, 35), (2, 99.9, 207)]
)
def test_the_data_have_the_published_times(changes, percent, minutes):
    """CDC, Guidelines for Environmental Infection Control, 2003, table B.1."""
    (found,) = (
        one.minutes for one in published() if (one.air_changes, one.percent) == (changes, percent)
    )
    assert found == minutes


def test_every_time_of_the_data_is_what_the_formula_gives():
    """MMWR 1994;43(RR-13), table S3-1, against its formula."""
    assert len(published()) == 26 * 3
    for one in published():
        assert clearance_minutes(one.air_changes, one.percent) == one.minutes, one


def test_air_that_mixes_badly_takes_longer():
    """MMWR 1994, table S3-1, with a mixing factor of 3 (computed)."""
    assert round(clearance_time(6, 99, 3), 1) == 138.2


@pytest.mark.parametrize("wrong", [(0, 99), (-1, 99), (6, 0), (6, 100), (6, -1), (6, 101)])
def test_air_that_never_clears(wrong):
    with pytest.raises(ValueError, match="no such air"):
        clearance_time(*wrong)


# --- Bleach and contact ---


@pytest.mark.parametrize(
    ("percent", "parts", "ppm"),
    [
        (5, 100, 500),  # WHO 2014, annex G
        (2.5, 50, 500),  # WHO 2014, annex G: 2 parts to 98
        (5.25, 100, 525),  # CDC 2008, on hypochlorite
        (6.15, 100, 615),  # CDC 2008, on hypochlorite
        (5.25, 500, 105),  # CDC 2008, table 1: more than 100 ppm
        (5.25, 10, 5250),  # CDC 2008, on hypochlorite: from memory
    ],
)
def test_thinned_bleach(percent, parts, ppm):
    assert dilution_ppm(Fraction(str(percent)), parts) == ppm


@pytest.mark.parametrize("wrong", [(0, 100), (-5, 100), (101, 100), (5, 0), (5, Fraction(1, 2))])
def test_bleach_that_there_is_not(wrong):
    with pytest.raises(ValueError, match=r"^The (strength|number)"):
        dilution_ppm(*wrong)


def test_a_surface_that_dries_is_wetted_again():
    """CDC 2008, the authors on contact time: 10 minutes on the label, dry after about 1.5 to 2, so
    about five times; once is not enough."""
    assert wettings(10, 2) == 5
    assert wettings(10) == 5
    assert wettings(2, 2) == 1
    assert span(drying_minutes()) == (1.5, 2)
    with pytest.raises(ValueError, match="must be more than 0"):
        wettings(10, 0)


def test_contact_times_of_the_levels():
    """CDC 2008, table 1."""
    assert span(contact_minutes("high")) == (12, 30)
    assert span(contact_minutes("intermediate")) == span(contact_minutes("low")) == (1, None)
    with pytest.raises(ValueError, match='no contact time for the level "sterile"'):
        contact_minutes("sterile")


def test_times_on_labels():
    """Use as labelled (FIFRA); roughly 15 s to 10 min, second-hand."""
    assert span(label_minutes()) == (15 / 60, 10)


# --- Hands ---


def test_how_long_hands_are_rubbed_and_washed():
    """WHO 2009: rub 20 to 30 s, wash 40 to 60 s; CDC 2002: wash 15 s (from memory)."""
    rub, wash, short = hand_seconds("rub"), hand_seconds("wash"), hand_seconds("wash", "CDC 2002")
    assert span(rub) == (20, 30)
    assert rub.least > 10
    assert span(wash) == (40, 60)
    assert span(short) == (15, None)
    assert short.least <= 30 < wash.least
    with pytest.raises(ValueError, match='no way to treat hands "wipe"'):
        hand_seconds("wipe")


# --- Steam ---


def test_steam_for_wrapped_instruments():
    """CDC 2008, table 7."""
    assert 20 < steam_minutes("CDC 2008", "gravity", "wrapped instruments", 121) == 30
    assert steam_minutes("CDC 2008", "gravity", "wrapped instruments", 132) == 15
    assert steam_minutes("CDC 2008", "prevacuum", "wrapped instruments", 132) == 4
    assert steam_minutes("CDC 2008", "gravity", "textile packs", 132) == 25


def test_steam_in_the_uk():
    """Hold times of the Central Sterilising Club; HTM 01-05, 134 to 137 °C: from memory."""
    held = {
        at: steam_minutes("UK hold", "gravity", "wrapped instruments", at)
        for at in (115, 121, 126, 134)
    }
    assert held == {115: 30, 121: 15, 126: 10, 134: 3}
    assert steam_minutes("UK dental", "prevacuum", "textile packs", 135.5) == 3


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        (("CDC 2008", "prevacuum", "wrapped instruments", 121), "gives no time"),  # table 7: none
        (("CDC 2008", "gravity", "wrapped instruments", 125), "gives no time"),
        (("CDC 2008", "gravity", "any", 121), 'no kind of load "any"'),
        (("CDC 1900", "gravity", "textile packs", 121), "no profile"),
        (("CDC 2008", "warm", "textile packs", 121), "no type of steam cycle"),
        (("CDC 2008", "gravity", "textile packs", float("nan")), "must be a number"),
    ],
)
def test_steam_for_which_there_is_no_time(asked, said):
    with pytest.raises(ValueError, match=said):
        cycle(*asked)


# --- Intervals ---


def test_a_spore_test_lasts_a_week():
    """CDC 2003, dental, VI."""
    assert spore_test_days() == 7
    assert spore_test_in_time(7)
    assert not spore_test_in_time(8)


def test_packs_last_a_year():
    """HTM 01-05 (2013)."""
    assert still_kept(365, wrapped=True)
    assert not still_kept(366, wrapped=True)
    assert storage_days(wrapped=False, clinical=True) == 1
    assert storage_days(wrapped=False, clinical=False) == 7
    with pytest.raises(ValueError, match="at least 0"):
        still_kept(-1, wrapped=True)


# --- Germs ---


def test_germs_in_order():
    """CDC 2008, figure 1."""
    hardest_first = ["C. difficile", "M. tuberculosis", "norovirus", "Candida", "S. aureus", "HBV"]
    assert sorted(sorted(hardest_first), key=withstands, reverse=True) == hardest_first
    assert all(withstands(one) > withstands(other) for one, other in pairwise(hardest_first))


def test_a_claim_covers_what_withstands_less():
    """CDC 2008, levels of germicides; EPA practice."""
    assert covers("M. tuberculosis", "HBV")
    assert not covers("HBV", "M. tuberculosis")
    assert covers("intermediate", "norovirus")
    assert not covers("low", "Candida")
    assert not covers("high", "C. difficile")


def test_mycobacteria_can_be_counted_at_another_level():
    """CDC 2003, dental, against the text of figure 1 in CDC 2008."""
    assert readings() == ("dental practice", "figure 1")
    assert minimum_level("M. tuberculosis") == "intermediate"
    assert minimum_level("M. tuberculosis", reading="figure 1") == "high"
    assert not covers("intermediate", "norovirus", "figure 1")
    with pytest.raises(ValueError, match="no reading of the levels"):
        covers("low", "HBV", "mine")


def test_blood_asks_for_more():
    """CDC 2003, dental, surfaces."""
    assert minimum_level("HBV") == "low"
    assert minimum_level("HBV", with_blood=True) == "intermediate"


def test_no_level_ends_prions():
    """CDC 2008, figure 1 and the section on prions (from memory)."""
    with pytest.raises(ValueError, match="procedure of their own"):
        minimum_level("prions")


# --- At an exposure ---


def test_doses_by_distance():
    """The inverse square law (computed)."""
    assert dose_part(1, 2) == Fraction(1, 4)
    with pytest.raises(ValueError, match="farther distance must be more than 0"):
        dose_part(1, 0)


def test_cord_of_a_mobile_set():
    """WAC 246-225A: 12 ft."""
    assert round(float(least_cord()), 2) == 3.66


def test_two_metres_are_not_six_feet():
    """NCRP report 145, 2003: 2 m. US texts: 6 ft (a foot is 0.3048 m since 1959)."""
    assert least_distance() == 2
    assert least_distance("US texts") == metres(6) == Fraction("1.8288")
    assert [int(angle) for angle in safe_angles()] == [90, 135]
    with pytest.raises(ValueError, match="no distance by"):
        least_distance("hearsay")


# --- Letters ---


def test_letters_from_three_metres():
    """ANSI Z535: 1:300 for the message, 1:150 for the signal word (second-hand); computed."""
    assert letter_height(3) == 10
    assert letter_height(3, "signal word") == 20


def test_letters_by_an_older_rule():
    """The older UK rule: 100 mm for 25 m."""
    assert letter_height(25, by="UK rule") == 100
    with pytest.raises(ValueError, match="signal word"):
        letter_height(3, "signal word", by="UK rule")


@pytest.mark.parametrize("wrong", [0, -3, float("nan"), float("inf")])
def test_letters_from_no_distance(wrong):
    with pytest.raises(ValueError, match="reading distance must be"):
        letter_height(wrong)


def test_letters_for_weaker_eyes():
    """DIN 1450."""
    assert acuity_factor(0.5) == Fraction("1.4")
    assert acuity_factor(0.4) == Fraction("1.75")
    with pytest.raises(ValueError, match=r"Known are: 0\.7, 0\.5, 0\.4"):
        acuity_factor(0.45)


def test_grey_on_white():
    """WCAG 2.x, success criterion 1.4.3; 4.48 and 4.54 (computed)."""
    assert contrast("#777777", "#ffffff") < least_contrast("AA", "text") == Fraction("4.5")
    assert contrast("#767676", "#FFFFFF") > least_contrast("AA", "text")
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    with pytest.raises(ValueError, match="#rrggbb"):
        contrast("#777", "white")


# --- Waste ---


def test_used_fixer_is_hazardous():
    """Silver: 40 CFR 261.24, 5 mg/L; used fixer from 3000 mg/L on (texts of waste services)."""
    assert times_the_limit("silver", 3000) == 600
    assert times_the_limit("silver", 4.9) < 1 <= times_the_limit("silver", 5)
    with pytest.raises(ValueError, match='no limit for the substance "gold"'):
        times_the_limit("gold", 1)


@pytest.mark.parametrize(
    ("jurisdiction", "item", "stream", "inferred"),
    [
        ("India", "mask", "yellow", False),  # BMW Rules 2016, schedule I
        ("India", "sensor sleeve", "red", True),
        ("India", "gauze with saliva", "yellow", True),
        ("UK", "amalgam", "amalgam", False),  # HTM 07-01
        ("UK", "gloves", "offensive", True),  # from memory
        ("USA", "gloves", "ordinary", False),  # CDC 2003, dental, medical waste
        ("USA", "gauze that drips when squeezed", "regulated", True),  # OSHA 1910.1030(b)
        ("USA", "metal sharps", "regulated", False),
    ],
)
def test_where_waste_goes(jurisdiction, item, stream, inferred):
    found = stream_for(jurisdiction, item)
    assert (found.stream.name, found.basis.inferred) == (stream, inferred)


def test_waste_of_which_nothing_is_known():
    with pytest.raises(ValueError, match=r'no jurisdiction "Atlantis"\. Known are: India, UK, USA'):
        stream_for("Atlantis", "gloves")
    with pytest.raises(ValueError, match='for the item "piano"'):
        stream_for("UK", "piano")
