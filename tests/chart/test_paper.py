import pytest

from protocol_lang.chart.paper import (
    CAPITAL_HEIGHT,
    POINTS_PER_MM,
    Paper,
    distance_of,
    least_type,
    reading_distance,
)


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


@pytest.mark.parametrize(
    ("typed", "metres"),
    [
        ("2m", 2.0),
        ("2 m", 2.0),
        ("2", 2.0),
        ("150 cm", 1.5),
        ("150cm", 1.5),
        ("1,5 M", 1.5),
        ("0.75m", 0.75),
        (" 2000 mm ", 2.0),
    ],
)
def test_distances_as_people_write_them(typed, metres):
    assert distance_of(typed) == pytest.approx(metres)


@pytest.mark.parametrize(
    "typed", ["", "m", "two", "2 km", "2 ft", "-2", "2m2", "1e1", "nan", "٢ m"]
)
def test_what_is_no_distance(typed):
    with pytest.raises(ValueError, match="metres or centimetres"):
        distance_of(typed)


@pytest.mark.parametrize("typed", ["0", "20 cm", "2 mm", "150", "11m"])
def test_distances_beyond_a_wall(typed):
    with pytest.raises(ValueError, match="between"):
        distance_of(typed)


def test_upright():
    for paper in Paper:
        lying, upright = paper.value, paper.value.upright
        assert (upright.width, upright.height) == (lying.height, lying.width)
    # ISO 216: a sheet is one half of the next larger, sides 1 to the root of 2, whole millimetres.
    assert Paper.A2.value.height == Paper.A3.value.width
    assert Paper.A2.value.width == pytest.approx(420 * 2**0.5, abs=1)
