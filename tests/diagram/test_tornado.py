"""The picture of rates: its scale, what lies where, and its words."""

from __future__ import annotations

import io
import re
from collections import Counter

import pypdfium2  # type: ignore[import-untyped]
import pytest
from PIL import Image

from protocol_lang.diagram.inks import INKS
from protocol_lang.diagram.page import Format
from protocol_lang.diagram.tornado import draw_tornado, scale
from protocol_lang.lapsed import Ranking, Sway
from protocol_lang.wording import lapsed as words

WIDE = Sway("sleeve in the mouth leaks", 0.2, 0.5, 0.6, 0.9, 1.6, "A study: sleeves")
NARROW = Sway("hand cleaning left out", 0.3, 0.5, 0.6, 1.1, 1.3, "A study: hands")
SET = Sway("gloves not worn", 0.3, 0.3, 0.3, 1.2, 1.2, "A study: gloves")
RANKINGS = [
    Ranking("patient", 1.2, 1.0, 1.4, 20_000, (WIDE, NARROW, SET)),
    Ranking("room", 0.36, 0.18, 0.38, 20_000, (NARROW,)),
]


def drawn(format: Format = "svg") -> bytes:
    return draw_tornado(
        RANKINGS,
        words.TORNADO_TITLE,
        ("A visit", words.COMPARISON),
        "Local codes come first.",
        words.TORNADO,
        words.sum_of,
        words.rate_and_sum,
        words.share,
        format,
    )


@pytest.mark.parametrize(
    ("least", "most"),
    [(0.9, 1.6), (0.13, 0.42), (5.6, 7.9), (0.0, 0.004), (0.5, 0.5), (0.0, 0.0), (12.0, 240.0)],
)
def test_a_scale_has_both_ends_inside_and_few_round_lines(least: float, most: float):
    begins, ends, apart = scale(least, most)
    assert 0 <= begins <= least + 1e-9
    assert ends >= most - 1e-9
    assert ends > begins
    lines = (ends - begins) / apart
    assert lines == pytest.approx(round(lines))
    assert 1 <= round(lines) <= 10
    digits = f"{apart:e}".split("e")[0].rstrip("0").rstrip(".")
    assert digits in ("1", "2", "5")


def test_the_picture_says_in_words_what_it_shows():
    svg = drawn().decode()
    told = re.search(r"<desc[^>]*>(.*?)</desc>", svg, re.DOTALL)
    assert told is not None
    plain = " ".join(told[1].split())
    assert "sleeve in the mouth leaks, 90 % to 1.6 times a visit" in plain
    assert plain.index("sleeve in the mouth") < plain.index("hand cleaning left out")
    assert "add up to 1.2 times a visit" in plain


def test_a_pdf_has_the_words_and_the_caution():
    page = pypdfium2.PdfDocument(drawn("pdf"))[0]
    told = " ".join(page.get_textpage().get_text_bounded().split())
    for sought in (
        "Which rate matters most",
        "not a prediction of infections",
        "Sleeve in the mouth leaks",
        "50 %, from 20 to 60",
        "A study: sleeves",
        "nine draws in ten",
        "Local codes come first.",
    ):
        assert sought in told


def test_bars_are_as_long_as_they_sway():
    """The frame of the first bar goes from the sum with the rate at its least to that with it at
    its most, and the filled half begins at the sum as usual: counted in the picture."""
    picture = Image.open(io.BytesIO(drawn("png"))).convert("RGB")
    ink = bytes(int(INKS["ink"][at : at + 2], 16) for at in (1, 3, 5))
    runs: Counter[int] = Counter()
    for y in range(picture.height):
        row = picture.crop((0, y, picture.width, y + 1)).tobytes()
        run = best = 0
        for at in range(0, len(row), 3):
            run = run + 1 if row[at : at + 3] == ink else 0
            best = max(best, run)
        runs[best] += 1
    begins, ends, _ = scale(WIDE.low, WIDE.high)
    pixels = 400 * 2 / (ends - begins)  # the plot is 400 points wide
    whole, filled = (WIDE.high - WIDE.low) * pixels, (WIDE.high - 1.2) * pixels
    assert max(runs) == pytest.approx(whole, abs=6)
    assert sum(many for run, many in runs.items() if abs(run - filled) < 6) > 12


def test_the_same_picture_twice():
    assert drawn() == drawn()
    assert drawn("pdf") == drawn("pdf")
