"""When a crop is up and how far it is, from a curve and from what was seen."""

from datetime import date, timedelta
from typing import Any

import pytest

from plots.agronomy.growth import Emergence, emergence, read_stages, to_date
from plots.degree_days import CORN, NormalDay, day_starts, degree_day_curve

ZONE = "America/Chicago"
MAY = date(2027, 5, 1)
PLANTED = day_starts(ZONE, MAY, 1)[0] + 600


def twenty_a_day(days: int, *, today: date, forecast: int = 0, normal: bool = True) -> Any:
    """Degree-day curve of 20 a day (80 over 60): observed to yesterday, then forecast, then normal."""
    observed = {MAY + timedelta(days=n): (80.0, 60.0) for n in range(days) if MAY + timedelta(days=n) < today}
    ahead = {today + timedelta(days=n): (80.0, 60.0) for n in range(forecast)}
    normals = {f"{MAY + timedelta(days=n):%m-%d}": NormalDay(80.0, 60.0) for n in range(90)} if normal else {}
    return degree_day_curve(CORN, ZONE, MAY - timedelta(days=1), today, observed, ahead, normals).curve


def up(today: date, **more: Any) -> Emergence:
    return emergence(twenty_a_day(30, today=today, forecast=1), ZONE, PLANTED, 10_000, 12_000, **more)


def test_emergence_has_an_early_and_a_late_day_and_says_what_they_stand_on() -> None:
    """20 a day from 2 May: 100 on the fifth day, 6 May; 120 on 7 May. A forecast for today, 6 May, then normals."""
    assert up(date(2027, 5, 6)) == Emergence("predicted", date(2027, 5, 6), date(2027, 5, 7), "forecast", "normal")


def test_a_sight_confirms_whatever_was_reckoned() -> None:
    seen = date(2027, 5, 4)
    assert up(date(2027, 5, 6), seen=seen) == Emergence("confirmed", seen, seen, "observed", "observed")


def test_a_look_in_vain_moves_the_early_day_and_after_the_late_day_it_is_overdue() -> None:
    assert up(date(2027, 5, 7), in_vain=date(2027, 5, 5)).state == "predicted"
    moved = up(date(2027, 5, 7), in_vain=date(2027, 5, 6))
    assert (moved.state, moved.early, moved.late) == ("moved", date(2027, 5, 7), date(2027, 5, 7))
    assert up(date(2027, 5, 9), in_vain=date(2027, 5, 8)) == Emergence("overdue", None, None)


def test_without_temperatures_that_reach_far_enough_nothing_is_said() -> None:
    short = twenty_a_day(3, today=date(2027, 5, 4), normal=False)
    assert emergence(short, ZONE, PLANTED, 10_000, 12_000) == Emergence("unknown", None, None)


def test_observed_and_normal_to_date_are_sums_over_the_same_days_and_the_forecast_stands_apart() -> None:
    today = date(2027, 5, 5)
    observed = {date(2027, 5, 1): (80.0, 60.0), date(2027, 5, 3): (90.0, 70.0), today: (99.0, 80.0)}
    forecast = {today: (70.0, 60.0), date(2027, 5, 6): (70.0, 50.0), date(2027, 5, 8): (70.0, 50.0)}
    normals = {f"05-{day:02d}": NormalDay(70.0, 50.0) for day in range(1, 32)}
    found = to_date(CORN, MAY, today, observed, forecast, normals)
    assert (found.observed, found.normal) == (2_000 + 2_800, 2 * 1_000)
    assert found.missing == (date(2027, 5, 2), date(2027, 5, 4))
    assert (found.counted_from, found.ahead_of_normal) == (date(2027, 5, 1), 2_800)
    assert (found.forecast, found.until) == (1_500 + 1_000, date(2027, 5, 6))


def test_one_missing_normal_leaves_the_normal_sum_unsaid() -> None:
    observed = {date(2027, 5, day): (70.0, 50.0) for day in (1, 2)}
    found = to_date(CORN, MAY, date(2027, 5, 3), observed, {}, {"05-01": NormalDay(70.0, 50.0)})
    assert (found.normal, found.ahead_of_normal, found.forecast, found.until) == (None, None, 0, None)


def test_without_an_observed_day_there_is_nothing_to_compare() -> None:
    found = to_date(CORN, MAY, date(2027, 5, 3), {}, {}, {f"05-0{day}": NormalDay(70.0, 50.0) for day in (1, 2)})
    assert (found.observed, found.normal, found.counted_from) == (0, None, None)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"source": "nobody"}, "not known"),
        ({"zero": "spring"}, "neither planting nor emergence"),
        ({"sums": {"any": [10]}}, "do not fit"),
        ({"sums": {"any": [20, 10]}}, "fall"),
    ],
)
def test_a_table_of_stages_that_breaks_its_form_is_refused(change: dict[str, Any], says: str) -> None:
    row = {"crop": "corn", "counted": "86/50", "zero": "planting", "source": "book", "stages": ["a", "b"]}
    row |= {"sums": {"any": [10, 20]}} | change
    lines = [f"{name} = {value!r}" for name, value in row.items() if name != "sums"]
    lines += ["[one.sums]", *(f"{name} = {value!r}" for name, value in row["sums"].items())]
    with pytest.raises(ValueError, match=says):
        read_stages("\n".join(["[one]", *lines]), sources={"book"}, crops={"corn"})
