"""Short codes of editions: the check letter against every slip, and the QR by an own reading."""

import random
import re
from dataclasses import replace

import pytest

from protocol_lang.chart.edition import ALPHABET, NoCode, code, read, square
from protocol_lang.prints import in_full
from protocol_lang.text import Text

PRINT = "00443214c74254b635cf84653a56d7c675be77df" + "0" * 24


def prints(count):
    chance = random.Random(7)
    return [f"{chance.getrandbits(256):064x}" for _ in range(count)]


def test_letters_that_cannot_be_mistaken():
    assert len(set(ALPHABET)) == 32
    assert not set(ALPHABET) & set("IOLQ")


def test_the_code_carries_the_first_45_bits():
    # The bits of the fingerprint as a string, five by five: no arithmetic of the module.
    for one in prints(200):
        bits = "".join(f"{int(digit, 16):04b}" for digit in one)[:45]
        letters = code(one).replace(" ", "")
        assert "".join(f"{ALPHABET.index(letter):05b}" for letter in letters[:9]) == bits
        assert re.fullmatch(r"\S{5} \S{5}", code(one))


def test_every_slip_of_one_letter_and_every_swap_is_seen():
    for one in prints(5):
        right = code(one).replace(" ", "")
        for place, letter in enumerate(right):
            for other in set(ALPHABET) - {letter}:
                with pytest.raises(NoCode, match="misread"):
                    read(right[:place] + other + right[place + 1 :])
            for second in range(place + 1, len(right)):
                if right[second] != letter:
                    swapped = list(right)
                    swapped[place], swapped[second] = swapped[second], swapped[place]
                    with pytest.raises(NoCode, match="misread"):
                        read("".join(swapped))


def test_reading_forgives():
    for one in prints(100):
        right = code(one)
        typed = right.replace("0", "o").replace("1", "l").lower()
        for way in (typed, typed.replace(" ", ""), f" {typed[:3]} {typed[3:]}-", typed.upper()):
            assert read(way) == right
        assert read(right.replace("1", "I").replace("0", "Q")) == right


@pytest.mark.parametrize("typed", ["", "ABC", "ABCDE FGHJK M", "ABCDE FGH!K", "ÄBCDE FGHJK"])
def test_what_is_no_code(typed):
    with pytest.raises(NoCode):
        read(typed)


def text(*lines):
    return Text("any name", lines)


def test_the_fingerprint_rests_on_the_lines_of_all_files():
    own, a, b = text("one", "two"), text("three"), text("four")
    whole = in_full([own, a, b])
    assert re.fullmatch(r"[0-9a-f]{64}", whole)
    assert in_full([own, b, a, own, b]) == whole
    assert in_full([replace(own, file="other"), a, b]) == whole
    # Another protocol that takes from the same files is another.
    assert in_full([a, own, b]) != whole
    assert in_full([own, a]) != whole != in_full([own, a, text("four!")])


def test_the_square_holds_code_and_title():
    picture = square(PRINT, "Intraoral, wired sensor")
    assert picture.startswith("<svg") and "http" not in picture.replace("http://www.w3.org", "")
    assert square(PRINT, "x" * 500) != picture
    # ISO/IEC 18004: a symbol of version v has 17 + 4v modules a side, and a quiet zone of 4.
    found = re.search(r'viewBox="0 0 (\d+)|width="(\d+)"', picture)
    assert found is not None
    side = int(found.group(1) or found.group(2)) - 8
    assert (side - 17) % 4 == 0 and 21 <= side <= 45
