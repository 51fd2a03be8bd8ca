"""The ground by hour: a report before the bucket, for so long or until it rains; nothing said is nothing known."""

from collections.abc import Mapping

import numpy as np
import pytest

from jobs.windows.ground import (
    GROUND,
    SEEN,
    GroundSettings,
    Report,
    ground_hours,
    read_ground,
    read_or_modelled,
    seen_hours,
    shares_by_hour,
)
from jobs.windows.hours import HOUR, Hours, hours_of
from jobs.windows.limits import DryBefore, Fit
from plots.forecasts.values import RainTotal

FIRST = 28_000_020 * HOUR
COUNT = 72
MINE = GroundSettings(
    report_hours=6, report_rain_in=0.3, depth_in=12, dries_at=0.5, least_days=10, reading_hours=4,
    height_hours=5, planting_depth_in=2, elevation_ft=300, not_fit_share={"any": 0.8, "clay": 0.7},
)  # fmt: skip


def dry(**wet: float) -> Hours:
    """Dry hours but for inches by hour ("h3")."""
    rain = [RainTotal(FIRST + HOUR * h, FIRST + HOUR * (h + 1), wet.get(f"h{h}", 0.0)) for h in range(COUNT)]
    return hours_of(FIRST, COUNT, [([], rain)])


def said(hours: Hours, *reports: tuple[int, str]) -> list[float | None]:
    found = seen_hours(hours, 0, [Report(FIRST + HOUR * at, kind) for at, kind in reports], MINE)
    return [None if np.isnan(one) else float(one) for one in found[:16]]


@pytest.mark.parametrize(
    ("kind", "value"), [("ground_dust", 1.0), ("ground_fit", 1.0), ("ground_tacky", 0.0), ("ground_water", 0.0)]
)
def test_a_report_stands_its_hours_and_no_longer(kind: str, value: float) -> None:
    assert said(dry(), (2, kind)) == [None, None, *[value] * 6, *[None] * 8]


def test_fit_ends_when_so_much_rain_may_have_fallen_since() -> None:
    hours = dry(h1=2.0, h3=0.1, h4=0.2)
    assert said(hours, (2, "ground_fit"))[:8] == [None, None, 1.0, 1.0, 1.0, None, None, None]


def test_tacky_does_not_end_by_rain() -> None:
    assert said(dry(h3=1.0), (2, "ground_tacky"))[2:8] == [0.0] * 6


def test_fit_does_not_stand_where_rain_is_not_known() -> None:
    hours = hours_of(FIRST, COUNT, [([], [RainTotal(FIRST, FIRST + 4 * HOUR, 0.0)])])
    assert said(hours, (2, "ground_fit"))[:8] == [None, None, 1.0, 1.0, None, None, None, None]


def test_the_last_report_takes_the_place_of_the_one_before() -> None:
    assert said(dry(), (2, "ground_fit"), (4, "ground_water"))[2:11] == [1.0, 1.0, *[0.0] * 6, None]


def test_a_report_goes_before_the_bucket_and_the_bucket_before_nothing() -> None:
    seen = np.array([1.0, 0.0, np.nan, np.nan, np.nan])
    shares = np.array([0.9, 0.1, 0.81, 0.8, np.nan])
    assert ground_hours(seen, shares, MINE.share("loam"))[:4].tolist() == [1.0, 0.0, 0.0, 1.0]
    assert np.isnan(ground_hours(seen, shares, MINE.share("loam"))[4])
    assert ground_hours(seen, shares, MINE.share("clay"))[3] == 0.0


def test_the_wetter_of_two_evenings_counts_all_day() -> None:
    day = 24 * HOUR
    days = [(FIRST - day, FIRST, 0.5), (FIRST, FIRST + day, 0.9), (FIRST + day, FIRST + 2 * day, 0.6),
            (FIRST + 2 * day, FIRST + 3 * day, None)]  # fmt: skip
    found = shares_by_hour(days, FIRST, COUNT)
    assert (set(found[:24]), set(found[24:48]), np.isnan(found[48:]).all()) == ({0.9}, {0.9}, True)


def test_a_typed_soil_temperature_goes_before_the_model_while_it_stands() -> None:
    model = np.full(10, 50.0)
    found = read_or_modelled(FIRST, [(FIRST + HOUR, 60.0), (FIRST + 3 * HOUR, 58.0)], model, MINE.reading_hours)
    assert found.tolist() == [50.0, 60.0, 60.0, 58.0, 58.0, 58.0, 58.0, 50.0, 50.0, 50.0]


def column(**values: list[float]) -> Hours:
    length = len(next(iter(values.values())))
    return Hours(FIRST, 1, length, {name: np.array([column]) for name, column in values.items()})


def test_ground_that_is_not_fit_closes_and_silence_closes_nothing() -> None:
    margin = Fit(GROUND).margin(column(ground=[0.0, 1.0, np.nan]))[0]
    assert (margin >= 0).tolist() == [False, True, True]


def test_ground_seen_fit_goes_before_hours_since_rain() -> None:
    rule = DryBefore(24, 0.1, unless=SEEN)
    hours = column(rain_most_in=[0.5, 0.0, 0.0, 0.0], ground_seen=[np.nan, np.nan, 1.0, 0.0])
    assert (rule.margin(hours)[0] >= 0).tolist() == [False, False, True, False]


GOOD = """
worth = "from memory"
report_hours = 48
report_rain_in = 0.25
depth_in = 12
dries_at = 0.5
least_days = 10
reading_hours = 48
height_hours = 96
planting_depth_in = 2
elevation_ft = 300
not_fit_share = { any = 0.9 }
"""


@pytest.mark.parametrize(
    "change",
    [
        {"report_hours = 48\n": ""},
        {"depth_in = 12": "depth_in = 0"},
        {"any = 0.9": "clay = 0.9"},
        {"any = 0.9": "any = 1.9"},
        {'worth = "from memory"\n': ""},
        {"dries_at": "dried_at"},
    ],
)
def test_settings_that_break_the_form_are_refused(change: Mapping[str, str]) -> None:
    assert read_ground(GOOD).share("loam") == 0.9
    ((old, new),) = change.items()
    with pytest.raises(ValueError, match="ground"):
        read_ground(GOOD.replace(old, new))
