"""Probable inversions by the clock."""

from plots.agromet.inversion import inverted_stretches

DAY = 1440


def test_the_night_counts_from_four_hours_before_sunset_to_two_after_sunrise() -> None:
    suns = [(DAY + 360, DAY + 1200), (2 * DAY + 360, 2 * DAY + 1200)]
    assert inverted_stretches(suns) == [
        (360, DAY + 480),
        (DAY + 960, 2 * DAY + 480),
        (2 * DAY + 960, 3 * DAY + 1200),
    ]


def test_a_day_too_short_to_clear_stays_inverted() -> None:
    assert inverted_stretches([(600, 900)]) == [(600 - DAY, 900 + DAY)]


def test_without_a_sun_nothing_is_said() -> None:
    assert inverted_stretches([]) == []
