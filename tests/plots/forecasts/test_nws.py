"""Replies of the National Weather Service: the government's test set, and each way they go wrong."""

import copy
import json
from typing import Any

import pytest
from django.conf import settings

from plots.forecasts import Unusable, nws
from plots.forecasts.instants import minute_of, stretch_of

HOUR = 60


def reply(name: str) -> Any:
    return json.loads((settings.FIXTURES / "replies" / "nws" / f"{name}.json").read_text())


def at(text: str) -> int:
    return minute_of(text)


@pytest.mark.parametrize(
    ("text", "hours"),
    [
        ("2026-05-08T12:00:00+00:00/PT3H", 3),
        ("2026-05-08T12:00:00+00:00/P1DT9H", 33),
        ("2026-05-08T06:00:00+00:00/P8DT2H", 194),
        ("2026-05-08T06:00:00+00:00/P2D", 48),
        ("2026-05-08T06:00:00+00:00/PT30M", 0.5),
    ],
)
def test_a_stretch_has_the_hours_it_says(text: str, hours: float) -> None:
    start, end = stretch_of(text)
    assert end - start == hours * HOUR


def test_a_stretch_of_one_hour_ends_an_hour_later() -> None:
    """A maintainer's example: 2020-06-25T12:00:00+00:00/PT1H is the hour to 13:00Z."""
    assert stretch_of("2020-06-25T12:00:00+00:00/PT1H")[1] == at("2020-06-25T13:00:00+00:00")


@pytest.mark.parametrize("text", ["", "P1D", "2026-05-08T12:00:00/PT1H", "2026-05-08T12:00Z/PT0H", None, 7, "x/PT1H"])
def test_what_is_no_stretch_is_refused(text: Any) -> None:
    with pytest.raises(Unusable):
        stretch_of(text)


@pytest.mark.parametrize(("name", "cell"), [("points-LZK", "LZK/83,73"), ("points-OAX", "OAX/59,58")])
def test_a_point_names_its_cell_and_zone(name: str, cell: str) -> None:
    found = nws.cell_of(reply(name))
    assert (str(found), found.zone) == (cell, "America/Chicago")


def test_the_grids_are_read_whole() -> None:
    """Every stretch of every layer we keep gives its hours, in our unit."""
    for name in ("gridpoints-LZK", "gridpoints-OAX"):
        raw = reply(name)["properties"]
        found = nws.grid(reply(name))
        by_hour = {hour.at: hour for hour in found.hours}
        assert found.issued == at(raw["updateTime"])
        for layer, value_name in nws.LAYERS.items():
            for run in raw[layer]["values"]:
                start, end = stretch_of(run["validTime"])
                for hour in range(start, end, HOUR):
                    assert (getattr(by_hour[hour], value_name) is None) == (run["value"] is None), (layer, run)
        totals = sum(run["value"] for run in raw[nws.RAIN]["values"]) / 25.4
        assert sum(total.inches for total in found.rain) == pytest.approx(totals)
        assert len(found.rain) == len(raw[nws.RAIN]["values"])


def test_units_become_ours() -> None:
    """1.852 km/h is one knot, 1.1508 mph; 109.728 m are 360 ft; 20.5556 C are 69 F."""
    first = nws.grid(reply("gridpoints-LZK")).hours[0]
    assert first.temp_f == pytest.approx(36.0)
    assert first.dew_point_f == pytest.approx(31.0)
    assert first.wind_mph == pytest.approx(1.1508, abs=1e-4)
    assert first.mixing_ft == pytest.approx(360.0)


def test_a_value_holds_for_its_whole_stretch_and_a_total_is_never_spread() -> None:
    found = nws.grid(reply("gridpoints-LZK"))
    hours = {hour.at: hour for hour in found.hours}
    start = at("2026-05-08T12:00:00+00:00")
    assert [hours[start + k * HOUR].sky_pct for k in (0, 1)] == [1, 1]
    lengths = {(total.ends - total.starts) // HOUR for total in found.rain}
    assert lengths == {1, 6}
    assert found.rain[0].inches == pytest.approx(13 / 25.4)


def test_the_hourly_reply_is_read_whole() -> None:
    raw = reply("hourly-OAX")["properties"]["periods"]
    found = nws.hourly(reply("hourly-OAX"))
    assert len(found.hours) == len(raw) == 156
    for period, hour in zip(raw, found.hours, strict=True):
        assert hour.at == at(period["startTime"])
        assert hour.temp_f == period["temperature"]
        assert hour.wind_mph == float(period["windSpeed"].removesuffix(" mph"))
        assert hour.humidity_pct == period["relativeHumidity"]["value"]
        assert hour.wind_dir_deg is not None
    assert found.hours[0].wind_dir_deg == 45.0


@pytest.mark.parametrize(
    ("text", "mph"), [("0 mph", 0.0), ("6 to 14 mph", 14.0), ("calm", None), ("", None), (7, None)]
)
def test_wind_in_words_is_the_greater_figure_or_missing(text: Any, mph: float | None) -> None:
    changed = reply("hourly-OAX")
    changed["properties"]["periods"][0]["windSpeed"] = text
    assert nws.hourly(changed).hours[0].wind_mph == mph


BREAKS = [
    ("a layer is missing", lambda p: p.pop("mixingHeight"), "mixing_ft"),
    ("a layer is empty", lambda p: p.update(mixingHeight={"values": []}), "mixing_ft"),
    ("a layer is no layer", lambda p: p.update(mixingHeight=[1, 2]), "mixing_ft"),
    ("a unit is missing", lambda p: p["mixingHeight"].pop("uom"), "mixing_ft"),
    ("a unit is new", lambda p: p["mixingHeight"].update(uom="wmoUnit:furlong"), "mixing_ft"),
    ("values are null", lambda p: [run.update(value=None) for run in p["mixingHeight"]["values"]], "mixing_ft"),
    ("values are text", lambda p: [run.update(value="high") for run in p["mixingHeight"]["values"]], "mixing_ft"),
    ("values are absurd", lambda p: [run.update(value=1e9) for run in p["windSpeed"]["values"]], "wind_mph"),
    (
        "values are no number",
        lambda p: [run.update(value=float("nan")) for run in p["windSpeed"]["values"]],
        "wind_mph",
    ),
]


@pytest.mark.parametrize(("what", "spoil", "name"), BREAKS, ids=[what for what, _, _ in BREAKS])
def test_what_a_reply_does_not_say_is_missing_never_zero(what: str, spoil: Any, name: str) -> None:
    changed = reply("gridpoints-OAX")
    spoil(changed["properties"])
    found = nws.grid(changed)
    assert {getattr(hour, name) for hour in found.hours} == {None}
    assert any(hour.temp_f is not None for hour in found.hours)


@pytest.mark.parametrize(
    "broken",
    [
        None,
        [],
        {},
        {"properties": None},
        {"properties": {"updateTime": "2026-05-08T11:13:00+00:00"}},
        {"title": "Forecast Grid Expired", "status": 503},
    ],
)
def test_a_reply_without_hours_is_unusable(broken: Any) -> None:
    for read in (nws.grid, nws.hourly, nws.cell_of):
        with pytest.raises(Unusable):
            read(broken)


@pytest.mark.parametrize("issued", [None, "", "yesterday", "2026-05-08T11:13:00", 20260508])
def test_a_grid_that_says_not_when_it_was_issued_is_unusable(issued: Any) -> None:
    changed = reply("gridpoints-OAX")
    changed["properties"]["updateTime"] = issued
    with pytest.raises(Unusable):
        nws.grid(changed)


def test_one_removed_stretch_leaves_a_gap() -> None:
    changed = copy.deepcopy(reply("gridpoints-OAX"))
    runs = changed["properties"]["temperature"]["values"]
    start, end = stretch_of(runs.pop(10)["validTime"])
    hours = {hour.at: hour for hour in nws.grid(changed).hours}
    assert all(hours[hour].temp_f is None for hour in range(start, end, HOUR))
