"""Windows through the API: next lists, the windows of one job, what is set aside, when a burn can be lit."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from plots.models import DayKind, Hour
from plots.services.series import touch_readers
from tests.farm import Farm

pytestmark = pytest.mark.django_db
CALM = {
    "temp_f": 64.0, "dew_point_f": 50.0, "wind_mph": 6.0, "gust_mph": 9.0, "wind_dir_deg": 200.0, "rain_in": 0.0,
}  # fmt: skip


class Weather:
    """A place with a forecast from the first hour of Thursday on; the manager is free on two mornings."""

    def __init__(self) -> None:
        self.farm = farm = Farm("2026-05-07 12:00")
        self.land = farm.place("Home")
        self.plot = farm.post("plots", name="Flat", property=self.land, acres_typed=2.0)["id"]
        self.series = farm.gauge(self.land)
        for weekday in (4, 5):
            person = farm.people["Manager"]
            farm.post("free-times", person=person, weekday=weekday, starts="06:00", ends="13:00")

    def job(self, operation: str = "spray", **more: Any) -> int:
        body = {"plot": self.plot, "operation": operation, "title": operation, "duration_min": 60} | more
        found: int = self.farm.post("jobs", **body)["id"]
        return found

    def forecast(self, hours: int = 96, issued: str = "2026-05-07 10:00", **wind: float) -> None:
        """Calm hours; `h34=14.0` is the wind of the 34th hour of Thursday."""
        first = datetime(2026, 5, 7, 5, tzinfo=UTC)
        Hour.objects.filter(series_id=self.series).delete()
        Hour.objects.bulk_create(
            Hour(
                series_id=self.series, at=first + timedelta(hours=at), kind=DayKind.FORECAST,
                issued_at=self.farm.instant(issued), **{**CALM, "wind_mph": wind.get(f"h{at}", CALM["wind_mph"])},
            )
            for at in range(hours)
        )  # fmt: skip
        touch_readers(self.series)
        self.farm.at(f"{self.farm.holding.clock_at:%Y-%m-%d} 12:00")

    def next(self, **asked: Any) -> dict[str, Any]:
        return {job["title"]: job for job in self.farm.get("next", **asked)["jobs"]}


@pytest.fixture
def weather() -> Weather:
    return Weather()


def test_next_hours_lie_in_windows_and_say_what_ends_them(weather: Weather) -> None:
    weather.job()
    weather.forecast(h34=14.0)
    job = weather.next()["spray"]
    friday, after, saturday = job["hours"]
    assert (weather.farm.local(friday["to"]), friday["ends"]) == ("Fri 8 May 10:00", "wind above 10 mph")
    assert weather.farm.local(after["from"]) == "Fri 8 May 11:00"
    assert (weather.farm.local(saturday["to"]), saturday["ends"]) == ("Sat 9 May 13:00", "")
    assert job["fit_known"] is True
    assert "Forecast of Thu 7 May 10:00." in job["hours_note"]


def test_without_a_forecast_the_job_stays_and_no_hours_are_offered(weather: Weather) -> None:
    weather.job()
    weather.farm.at("2026-05-08 08:30")
    job = weather.next()["spray"]
    assert (job["fit_known"], job["in_hours_now"]) == (False, False)
    assert job["hours_note"].startswith("No forecast: in which hours it may go is not known. So no hours are offered")


def test_a_stale_forecast_says_since_when(weather: Weather) -> None:
    weather.job()
    weather.forecast()
    weather.farm.at("2026-05-08 10:01")
    note = weather.next()["spray"]["hours_note"]
    assert note.startswith("No forecast since Thu 7 May 10:00: in which hours it may go is not known.")


def test_in_a_window_now_comes_first(weather: Weather) -> None:
    weather.job("fence", title="fence")
    weather.job()
    weather.forecast(issued="2026-05-07 11:30", h33=14.0)
    weather.farm.at("2026-05-08 09:30")
    assert list(weather.next()) == ["fence", "spray"]
    assert weather.next()["spray"]["in_hours_now"] is False
    weather.farm.at("2026-05-08 10:30")
    asked = weather.next()
    assert asked["spray"]["in_hours_now"] is True


def test_free_hours_outside_the_windows_are_said_to_be_so(weather: Weather) -> None:
    weather.job()
    weather.forecast(**{f"h{at}": 14.0 for at in [*range(24, 38), *range(48, 62)]})
    job = weather.next()["spray"]
    assert job["hours"] == []
    assert job["hours_note"].startswith("None of your free hours in daylight lie in hours that are fit. Fit Thu 7 May")


def test_an_unknown_query_of_the_windows_is_refused_by_name(weather: Weather) -> None:
    answer = weather.farm.manager.get(f"/api/jobs/{weather.job()}/windows/", {"colour": "red"})
    assert (answer.status_code, answer.json()["errors"][0]["pointer"]) == (400, "#/colour")


def test_windows_of_a_job_carry_limits_distances_what_is_left_out_and_the_age(weather: Weather) -> None:
    job = weather.job()
    weather.forecast(h34=14.0)
    told = weather.farm.get(f"jobs/{job}/windows")
    assert (told["known"], told["issued"], told["minutes"]) == (True, "2026-05-07T15:00:00Z", 60)
    limits = {limit["key"]: limit for limit in told["limits"]}
    assert (limits["spray_wind"]["distance"], limits["spray_wind"]["verdict"]) == (3.0, "stop")
    assert limits["spray_wind"]["sentence"] == "Wind is 3 mph clear of its limit now."
    assert limits["spray_wind"]["may_be_set_aside"] is False
    assert [one["key"] for one in told["left_out"]] == ["work_thunder"]
    first, second, *_ = told["windows"]
    assert first["now"] is True
    assert (second["ends"], second["opens"]) == (
        "wind above 10 mph",
        "the still air of the night should have mixed, 2 h after sunrise",
    )


def test_work_without_weather_and_work_that_is_not_open_have_no_windows(weather: Weather) -> None:
    fence, late = weather.job("fence"), weather.job("spray", first_day="2026-09-01")
    weather.forecast()
    assert weather.farm.get(f"jobs/{fence}/windows")["sentence"] == (
        "The weather does not decide its hours, and no heat, cold, thunder or high water is known to come over them. "
        "What no forecast tells, look for yourself."
    )
    told = weather.farm.get(f"jobs/{late}/windows")
    assert (told["windows"], told["sentence"]) == (
        [],
        "Its hours are looked for when it opens within the reach of a forecast.",
    )


def test_advice_is_set_aside_by_one_tap_and_the_log_remembers(weather: Weather) -> None:
    job = weather.job("mow")
    weather.forecast()
    assert weather.farm.get(f"jobs/{job}/windows")["windows"] != []
    weather.farm.at("2026-05-07 12:00")
    made = weather.farm.post("overrides", job=job, rule="mow_heat")
    assert made["reason"] == "Advice set aside by one tap."
    weather.farm.at("2026-05-07 12:01")
    told = weather.farm.get(f"jobs/{job}/windows")
    assert [one["key"] for one in told["set_aside"]] == ["mow_heat"]
    assert "mow_heat" not in {limit["key"] for limit in told["limits"]}
    logged = weather.farm.all("events", object="override")
    assert logged[-1]["change"]["rule"] == "mow_heat"


def test_a_written_reason_needs_its_words_and_a_stop_is_never_set_aside(weather: Weather) -> None:
    job, farm = weather.job(), weather.farm
    weather.forecast()
    farm.post("overrides", job=job, rule="work_heat", status=400)
    farm.post("overrides", job=job, rule="work_heat", reason="At five in the morning, two people.")
    for stop in ("spray_wind", "spray_dry_leaf", "work_thunder", "work_cold"):
        farm.post("overrides", job=job, rule=stop, reason="In a hurry.", status=400)
    refused = farm.post("overrides", job=job, rule="mow_heat", status=422)
    assert refused["detail"].startswith("No limit 'mow_heat' binds this job.")
