"""From a reply of the forecast service to the windows that the API tells: what is not in it opens no hour."""

from __future__ import annotations

from typing import Any

import pytest

from jobs.services.walking import walk_holding
from plots.forecasts import nws
from plots.models import PropertySeries, RainTotal, Series
from plots.services.forecasts import store_forecast
from tests.rules_of_land.land import Land, burn

pytestmark = pytest.mark.django_db
UNITS = {"temperature": "degC", "dewpoint": "degC", "windSpeed": "km_h-1", "windGust": "km_h-1",
         "windDirection": "degree_(angle)", "quantitativePrecipitation": "mm", "mixingHeight": "m"}  # fmt: skip
CALM = {"temperature": 10.0, "dewpoint": 1.0, "windSpeed": 13.0, "windGust": 18.0, "windDirection": 200.0}
HOURS = 60
FIRST = "2027-03-03T06:00:00+00:00"
"""Midnight in Central time."""


def stretch(hour: int, length: int) -> str:
    day, of_day = divmod(hour + 6, 24)
    return f"2027-03-{3 + day:02d}T{of_day:02d}:00:00+00:00/PT{length}H"


def reply(issued: str = "2027-03-03T11:00:00+00:00", rain: Any = ((0, HOURS, 0.0),), **layers: Any) -> dict[str, Any]:
    """A grid of calm hours. A layer given as {hour: value} replaces those hours, None takes one out altogether."""
    body: dict[str, Any] = {"updateTime": issued}
    for name in {*CALM, *layers}:
        changed = layers.get(name, {})
        runs = []
        for hour in range(HOURS):
            value = changed.get(hour, CALM.get(name))
            if value is not None:
                runs.append({"validTime": stretch(hour, 1), "value": value})
        body[name] = {"uom": f"wmoUnit:{UNITS[name]}", "values": runs}
    totals = [{"validTime": stretch(at, length), "value": mm} for at, length, mm in rain]
    body["quantitativePrecipitation"] = {"uom": "wmoUnit:mm", "values": totals}
    return {"properties": body}


class Place(Land):
    """Land that reads one cell; each reply is issued a minute after the one before."""

    def __init__(self) -> None:
        super().__init__("2027-03-03 06:00")
        farm = self.farm
        skill = farm.post("skills", name="burn boss")["id"]
        farm.post("certificates", person=farm.people["Manager"], skill=skill, valid_from="2026-01-01")
        self.series = Series.objects.create(source="nws", place="LZK/83,73")
        PropertySeries.objects.create(holding=farm.holding, property_id=self.land, rank=1, series=self.series)
        self.replies = 0

    def forecast(self, **changed: Any) -> None:
        self.replies += 1
        forecast = nws.grid(reply(f"2027-03-03T11:{self.replies:02d}:00+00:00", **changed))
        assert store_forecast(series_id=self.series.pk, forecast=forecast)
        walk_holding(self.farm.holding.pk)

    def windows(self, job: int) -> list[tuple[str, str]]:
        told = self.farm.get(f"jobs/{job}/windows")
        return [(self.farm.local(one["from"])[:-6], f"{self.hour(one['from'])}-{self.hour(one['to'])}")
                for one in told["windows"]]  # fmt: skip

    def hour(self, instant: str) -> str:
        return self.farm.local(instant)[-5:]

    def said(self, job: int) -> str:
        return str(self.farm.get(f"jobs/{job}/windows")["sentence"])


@pytest.fixture
def place() -> Place:
    return Place()


@pytest.mark.parametrize("layer", ["temperature", "windSpeed", "windDirection"])
def test_an_hour_taken_out_of_a_layer_closes_every_window_that_needed_it(place: Place, layer: str) -> None:
    """Noon of Wednesday; the turn of the wind is looked at over twelve hours, so there all hours before it close."""
    job = burn(place, break_width_ft=8.0)
    place.forecast()
    before = place.windows(job)
    assert [day for day, _ in before][:1] == ["Wed 3 Mar"]
    place.forecast(**{layer: {12: None}})
    covering = [hours for day, hours in place.windows(job) if day == "Wed 3 Mar" and hours[:5] <= "12:00" < hours[6:]]
    assert covering == []
    early = [hours for day, hours in place.windows(job) if day == "Wed 3 Mar" and hours[:5] < "12:00"]
    assert bool(early) is (layer != "windDirection"), early
    place.forecast()
    assert place.windows(job) == before


@pytest.mark.parametrize(("inches", "fits"), [(0.09, True), (0.12, False)])
def test_a_six_hour_total_stays_one_total(place: Place, inches: float, fits: bool) -> None:
    """Tilling bears a tenth of an inch in its hour and the next. Copied to each hour 0.09 in would close it; spread
    over the six, 0.12 in would not. All of it may fall in any hour, and it is stored once. On the second day, as nobody
    knows the rain of the day before the first."""
    job = place.job("till", duration_min=60)
    place.forecast(rain=((0, 36, 0.0), (36, 6, inches * 25.4), (42, HOURS - 42, 0.0)))
    total = RainTotal.objects.get(rain_in__gt=0)
    assert round((total.ends - total.starts).total_seconds()) == 6 * 3600
    assert total.rain_in == pytest.approx(inches)
    noon = [hours for day, hours in place.windows(job) if day == "Thu 4 Mar" and hours[:5] <= "13:00" < hours[6:]]
    assert bool(noon) is fits, place.windows(job)
    assert [hours for day, hours in place.windows(job) if day == "Thu 4 Mar"], "before and after the stretch it may go"


def test_a_burn_whose_plan_names_a_mixing_height_has_no_window_where_nobody_knows_it(place: Place) -> None:
    job = burn(place, break_width_ft=8.0)
    plan = {"burn_out_min": 20, "mop_up_min": 20, "briefing_min": 5, "least_crew": 2}
    place.farm.post(f"jobs/{job}/burn-plan", status=200, **plan)
    place.forecast()
    assert place.windows(job)
    place.farm.post(f"jobs/{job}/burn-plan", status=200, **plan, mixing_least_ft=1700)
    walk_holding(place.farm.holding.pk)
    assert place.windows(job) == []
    assert "mixing height is not known" in place.said(job)
    place.forecast(mixingHeight=dict.fromkeys(range(HOURS), 500.0))
    assert place.windows(job) == []
    assert "mixing height" in place.said(job)
    place.forecast(mixingHeight=dict.fromkeys(range(HOURS), 600.0))
    assert place.windows(job), "600 m are 1,969 ft"
