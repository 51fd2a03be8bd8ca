"""Replies of the general forecast service."""

from typing import Any

import pytest

from plots.forecasts import Unusable, open_meteo

T = 1_777_593_600  # 2026-05-01 00:00 UTC


def reply(**hourly: Any) -> dict[str, Any]:
    units = {
        "time": "unixtime",
        "temperature_2m": "°C",
        "wind_speed_10m": "km/h",
        "relative_humidity_2m": "%",
        "precipitation": "mm",
    }
    table = {
        "time": [T, T + 3600],
        "temperature_2m": [12.5, None],
        "wind_speed_10m": [16.09344, None],
        "relative_humidity_2m": [50, 60],
        "precipitation": [0.0, 2.54],
    }
    return {"hourly_units": units, "hourly": {**table, **hourly}}


def test_hours_come_in_our_units_and_a_gap_stays_a_gap() -> None:
    first, second = open_meteo.hours(reply(), issued=7).hours
    assert (first.at, first.temp_f, first.humidity_pct) == (T // 60, 54.5, 50)
    assert first.wind_mph == pytest.approx(10.0)
    assert (second.temp_f, second.wind_mph, second.humidity_pct) == (None, None, 60)


def test_rain_is_the_sum_of_the_hour_before_its_stamp() -> None:
    last = open_meteo.hours(reply(), issued=7).rain[-1]
    assert (last.starts, last.ends, last.inches) == (T // 60, T // 60 + 60, pytest.approx(0.1))


def test_a_column_of_another_length_is_missing() -> None:
    found = open_meteo.hours(reply(temperature_2m=[1.0]), issued=7)
    assert [hour.temp_f for hour in found.hours] == [None, None]


def test_an_unknown_unit_is_missing() -> None:
    spoiled = reply()
    spoiled["hourly_units"]["wind_speed_10m"] = "kn"
    assert {hour.wind_mph for hour in open_meteo.hours(spoiled, issued=7).hours} == {None}


@pytest.mark.parametrize(
    "broken",
    [
        None,
        {"error": True, "reason": "no"},
        {"hourly": {}},
        {"hourly": {"time": [T]}, "hourly_units": {"time": "iso8601"}},
        reply(time=["2026-05-01T00:00", "2026-05-01T01:00"]),
        reply(time=[True, False]),
        reply(temperature_2m=None, wind_speed_10m=None, relative_humidity_2m=None),
    ],
)
def test_a_reply_that_cannot_serve_is_refused(broken: Any) -> None:
    with pytest.raises(Unusable):
        open_meteo.hours(broken, issued=7)
