"""Roles as people read them: what is one name however it is spelt, and what is not."""

from __future__ import annotations

import unicodedata

import pytest

from protocol_lang.audit.roles import nobody_but, same_role, two_scripts

OWNER = "practice manager"


@pytest.mark.parametrize(
    "spelt",
    [
        "the Practice Manager",
        "practice-manager",
        "manager of the practice",
        "practice manager of the clinic",
        "our clinic's practice manager",
        "practice managers",
        "\uff30ractice manager",
        "pr\u00e1ctice manager",
        "practice\u200b manager",
        "practlce manager",
        "practice rnanager",
        "manager at Imaging room 2",
    ],
)
def test_one_name_however_it_is_spelt(spelt: str):
    assert same_role(spelt, OWNER, ["Imaging room 2"])


@pytest.mark.parametrize(
    "other",
    [
        "health authority",
        "manager of the health authority",
        "deputy practice manager",
        "practice nurse",
        "infection control lead",
    ],
)
def test_other_roles_stay_other_roles(other: str):
    assert not same_role(other, OWNER, ["Imaging room 2"])


#: Letters that Unicode's data of confusable characters (Unicode Technical Standard 39) has for
#: Latin ones, by the names of the Unicode Standard; which are in it is from memory.
LOOK_ALIKE = {
    "a": ("CYRILLIC SMALL LETTER A", "GREEK SMALL LETTER ALPHA"),
    "c": ("CYRILLIC SMALL LETTER ES", "GREEK LUNATE SIGMA SYMBOL"),
    "e": ("CYRILLIC SMALL LETTER IE",),
    "i": ("CYRILLIC SMALL LETTER BYELORUSSIAN-UKRAINIAN I", "GREEK SMALL LETTER IOTA"),
    "o": ("CYRILLIC SMALL LETTER O", "GREEK SMALL LETTER OMICRON", "ARMENIAN SMALL LETTER OH"),
    "p": ("CYRILLIC SMALL LETTER ER", "GREEK SMALL LETTER RHO"),
    "s": ("CYRILLIC SMALL LETTER DZE",),
    "x": ("CYRILLIC SMALL LETTER HA", "GREEK SMALL LETTER CHI"),
    "y": ("CYRILLIC SMALL LETTER U",),
    "A": ("CYRILLIC CAPITAL LETTER A", "GREEK CAPITAL LETTER ALPHA"),
    "B": ("CYRILLIC CAPITAL LETTER VE", "GREEK CAPITAL LETTER BETA"),
    "H": ("CYRILLIC CAPITAL LETTER EN", "GREEK CAPITAL LETTER ETA"),
    "M": ("CYRILLIC CAPITAL LETTER EM", "GREEK CAPITAL LETTER MU"),
    "T": ("CYRILLIC CAPITAL LETTER TE", "GREEK CAPITAL LETTER TAU"),
}


@pytest.mark.parametrize("latin", LOOK_ALIKE)
def test_letters_of_one_shape_are_one(latin: str):
    for named in LOOK_ALIKE[latin]:
        letter = unicodedata.lookup(named)
        assert same_role(f"{letter}b lead", f"{latin}b lead"), named
        assert two_scripts(f"{letter}b lead") is not None, named


def test_whole_words_of_another_script_are_read_by_their_shapes():
    """Each word keeps to one script, so only its shape gives it away."""
    cyrillic = "".join(
        unicodedata.lookup(f"CYRILLIC SMALL LETTER {name}") for name in ("ER", "A", "ES", "IE")
    )
    assert two_scripts(cyrillic) is None and same_role(cyrillic, "pace")


def test_a_name_of_several_is_nobody_else_only_if_all_of_them_are():
    own = [OWNER, "operator", "helper"]
    assert nobody_but("operator and the helper", own)
    assert nobody_but("practice manager / operator", own)
    assert not nobody_but("practice manager and health authority", own)
    assert nobody_but("search and rescue", ["search and rescue"])


def test_a_role_that_is_nothing_but_the_place_is_still_a_name():
    assert same_role("the clinic", "clinic") and not same_role("the clinic", "the department")


@pytest.mark.parametrize(
    "approves", ["Nadia Berger", "infection control lead", "N\u00e1dia Berger and the lead"]
)
def test_of_an_owner_with_a_name_and_a_role_either_is_the_owner(approves: str):
    owner = "Nadia Berger, infection control lead"
    assert nobody_but(approves, [owner]) == ("and" not in approves)
    assert not nobody_but("health authority", [owner])
    assert not nobody_but("Nora Berger", [owner])
