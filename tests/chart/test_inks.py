import re

import pytest

from protocol_lang.chart.inks import INKS, PAIRS
from protocol_lang.chart.typeset import TEMPLATE


def luminance(colour: str) -> float:
    """Relative luminance: WCAG 2.x, definition of relative luminance, sRGB."""
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """Contrast ratio: WCAG 2.x."""
    dark, light = sorted((luminance(one), luminance(other)))
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize(
    ("one", "other", "ratio"),
    [  # values known for the formula: black 21, and the two greys on either side of 4.5
        ("#000000", "#ffffff", 21.0),
        ("#767676", "#ffffff", 4.54),
        ("#777777", "#ffffff", 4.48),
    ],
)
def test_the_formula(one, other, ratio):
    assert contrast(one, other) == pytest.approx(ratio, abs=0.005)


@pytest.mark.parametrize(("what", "on", "kind"), PAIRS)
def test_contrast(what, on, kind):
    # WCAG 2.x AA: 4.5 for letters (1.4.3), 3 for shapes that mean something (1.4.11).
    assert contrast(INKS[what], INKS[on]) >= (4.5 if kind == "letters" else 3.0)


def test_black_and_white_print():
    # A printer without colour prints luminance: used hands stay dark, clean ones light.
    assert contrast(INKS["soil"], INKS["clean tint"]) >= 3.0


def test_the_template_has_no_other_colours():
    source = TEMPLATE.read_text(encoding="utf-8")
    assert not re.search(
        r'rgb\(\s*"|luma\(|cmyk\(|#[0-9a-fA-F]{6}\b|\b(red|blue|green|gray)\b', source
    )
