import pytest

from protocol_lang.chart.paper import CAPITAL_HEIGHT, POINTS_PER_MM, least_type, reading_distance


def millimetres(points: float) -> float:
    return points * CAPITAL_HEIGHT / POINTS_PER_MM


@pytest.mark.parametrize(
    ("distance", "letter"),
    [
        # ANSI Z535, 1:300 for the message (ratio from secondary literature): from 3 m a letter of
        # 10 mm; from 2 m 6.7 mm.
        (3.0, 10.0),
        (2.0, 6.67),
        (1.0, 3.33),
    ],
)
def test_letters_by_distance(distance, letter):
    assert millimetres(least_type(distance)) == pytest.approx(letter, abs=0.005)


def test_distance_and_type_undo_each_other():
    for distance in (0.3, 0.7, 1.0, 2.5, 10.0):
        assert reading_distance(least_type(distance)) == pytest.approx(distance)


@pytest.mark.parametrize("distance", [0.0, -1.0, 0.29, 10.1, float("nan"), float("inf")])
def test_distances_that_are_none(distance):
    with pytest.raises(ValueError, match="between"):
        least_type(distance)
