"""Fine dead fuel moisture: what the tables do not cover has no figure."""

import numpy as np
import pytest

from plots.agromet.fuel_moisture import NotCovered, fuel_moisture_pct, ignition_probability

NOON = {"month": 4, "hour": 12.5, "shaded": False}


@pytest.mark.parametrize(
    ("temp", "humidity", "options", "words"),
    [
        (70, 40, {**NOON, "hour": 21}, "night"),
        (70, 40, {**NOON, "hour": 7.9}, "night"),
        (9.9, 40, NOON, "10 F"),
        (float("nan"), 40, NOON, "missing"),
        (70, float("nan"), NOON, "missing"),
        (70, 40, {**NOON, "month": 12, "aspect_deg": 270, "slope_pct": 31}, "western"),
        (70, 40, {**NOON, "fire_ft_above_weather": 2500}, "2,000 ft"),
    ],
)
def test_what_the_tables_do_not_cover_is_refused_in_words(
    temp: float, humidity: float, options: dict, words: str
) -> None:
    with pytest.raises(NotCovered, match=words):
        fuel_moisture_pct(temp, humidity, **options)


def test_the_cell_is_chosen_by_where_the_fire_lies() -> None:
    """Table B, open northern slope to 30 percent, 8:00: 2 below the weather site, 3 level, 4 above."""

    def at(feet: float) -> int:
        return fuel_moisture_pct(70, 40, month=7, hour=9, shaded=False, aspect_deg=0, fire_ft_above_weather=feet)

    assert [at(feet) for feet in (-2000, -1000, -999, 0, 999, 1000, 2000)] == [8, 8, 9, 9, 9, 10, 10]


def test_slopes_face_the_quarter_they_look_at() -> None:
    """Table C, open slopes above 30 percent, 12:00, level: north 3, east 1, south 1, west 2."""

    def facing(degrees: float) -> int:
        return fuel_moisture_pct(70, 40, month=4, hour=13, shaded=False, aspect_deg=degrees, slope_pct=40) - 6

    assert [facing(degrees) for degrees in (0, 45, 316, 360)] == [3, 3, 3, 3]
    assert [facing(degrees) for degrees in (46, 135, 136, 225)] == [1, 1, 1, 1]
    assert [facing(degrees) for degrees in (226, 315)] == [2, 2]


def test_every_daytime_cell_gives_a_figure_or_the_one_known_gap() -> None:
    gaps = 0
    for month in range(1, 13):
        for hour in range(8, 20):
            for aspect in (0, 90, 180, 270):
                for slope in (0, 31):
                    for shaded in (False, True):
                        try:
                            found = fuel_moisture_pct(
                                100, 100, month=month, hour=hour, shaded=shaded, aspect_deg=aspect, slope_pct=slope
                            )
                        except NotCovered:
                            gaps += 1
                            assert (month in (11, 12, 1), aspect, slope, shaded) == (True, 270, 31, False)
                        else:
                            assert 13 <= found <= 19
    assert gaps == 3 * 12


def test_ignition_falls_with_moisture_and_shade() -> None:
    open_ground = ignition_probability(70, np.arange(2, 13))
    assert (np.diff(open_ground) < 0).all()
    assert (ignition_probability(70, np.arange(2, 13), 1.0) < open_ground).all()
    assert [round(100 * value) for value in open_ground] == [96, 84, 73, 63, 55, 48, 41, 36, 31, 26, 23]  # regression
    assert ((open_ground >= 0) & (open_ground <= 1)).all()
