"""Windows of jobs as the walk stores them: hours, what opens and closes them, what is not known, the clock."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest

from core.models import Graph, Holding, Notice, NoticeState, Person, Role, Way
from jobs.models import Job, Override, Reckoning
from jobs.services.walking import differences, walk_holding
from plots.daylight import daylight
from plots.models import Contract, DayKind, Hour, Plot, Property, PropertySeries, QuietTime, Series
from plots.services.series import touch_readers

pytestmark = pytest.mark.django_db
NOON = datetime(2026, 5, 7, 17, tzinfo=UTC)
ISSUED = NOON - timedelta(hours=2)
CALM: dict[str, float] = {
    "temp_f": 64.0, "dew_point_f": 50.0, "wind_mph": 6.0, "gust_mph": 9.0, "wind_dir_deg": 200.0, "rain_in": 0.0,
}  # fmt: skip
FIRST = datetime(2026, 5, 7, 5, tzinfo=UTC)
"""Midnight in Central time."""


class Land:
    """A property with a forecast series of its own."""

    def __init__(self, name: str = "Home") -> None:
        self.holding = Holding.objects.create(name=f"Holding of {name}", zone="America/Chicago", clock_at=NOON)
        Graph.objects.create(holding=self.holding)
        here = {"holding": self.holding}
        self.manager = Person.objects.create(**here, name="Manager", role=Role.MANAGER)
        self.place = Property.objects.create(**here, name=name, latitude=40.0, longitude=-91.0)
        self.plot = Plot.objects.create(**here, property=self.place, name="Flat", acres_typed=2.0)
        self.series = Series.objects.create(owner=self.holding, source="typed", place=name)
        PropertySeries.objects.create(**here, property=self.place, rank=1, series=self.series)

    def job(self, operation: str = "spray", minutes: int = 60, **more: Any) -> Job:
        return Job.objects.create(
            holding=self.holding, plot=self.plot, operation=operation, title=more.pop("title", operation),
            duration_min=minutes, component=Job.objects.count() + 1, **more,
        )  # fmt: skip

    def forecast(self, hours: int = 72, issued: datetime = ISSUED, **changed: dict[int, float | None]) -> None:
        """Calm, dry hours from the first midnight on, but for what is changed by hour of the frame."""
        Hour.objects.filter(series=self.series).delete()
        rows = []
        for at in range(hours):
            values = {**CALM, **{name: by_hour[at] for name, by_hour in changed.items() if at in by_hour}}
            moment = FIRST + timedelta(hours=at)
            rows.append(Hour(series=self.series, at=moment, kind=DayKind.FORECAST, issued_at=issued, **values))
        Hour.objects.bulk_create(rows)
        touch_readers(self.series.pk)

    def at(self, clock: datetime) -> None:
        Holding.objects.filter(pk=self.holding.pk).update(clock_at=clock)
        walk_holding(self.holding.pk)

    def windows(self, job: Job) -> dict[str, Any]:
        walk_holding(self.holding.pk)
        assert differences(self.holding.pk) == {}
        found = Reckoning.objects.get(pk=job.pk).windows
        assert found is not None
        return dict(found)

    def hours(self, job: Job) -> list[tuple[str, str]]:
        """Windows in local time, "Thu 10:00"."""
        return [(local(w["from"]), local(w["to"])) for w in self.windows(job).get("found", ())]


def local(minute: int) -> str:
    return f"{datetime.fromtimestamp(minute * 60, UTC) - timedelta(hours=5):%a %H:%M}"


def span(first: int, last: int, value: float | None) -> dict[int, float | None]:
    return dict.fromkeys(range(first, last), value)


SUN = daylight(40.0, -91.0, date(2026, 5, 7), "America/Chicago") or (0, 0)
SPRAYED = local(SUN[0] + 120), local(SUN[1] - 240)
NOON_MINUTE = int(NOON.timestamp()) // 60


@pytest.fixture
def land() -> Land:
    return Land()


def test_a_window_says_what_opens_and_closes_it_and_by_how_much_it_is_clear(land: Land) -> None:
    job = land.job("mow")
    land.forecast(120, rain_in=span(10, 14, 0.3))
    first, second, third = land.windows(job)["found"]
    assert (local(first["to"]), first["closes"]) == ("Thu 10:00", {"key": "mow_dry", "margin": -0.26})
    assert (local(second["from"]), second["opens"]) == ("Thu 14:00", {"key": "mow_dry", "margin": -0.26})
    assert second["closes"] == {"key": "daylight"}
    assert (third["tightest"], third["least"]) == ("mow_dry", 0.04)


def test_spray_goes_outside_the_hours_in_which_the_air_may_be_layered(land: Land) -> None:
    """From 2 h after sunrise to 4 h before sunset, by the rule of `plots.agromet.inversion`."""
    job = land.job("spray")
    land.forecast(36)
    (window,) = land.windows(job)["found"]
    assert (window["opens"]["key"], window["closes"]["key"]) == ("inversion", "inversion")
    assert (local(window["from"]), local(window["to"])) == SPRAYED


def test_hours_that_are_not_known_open_nothing_and_end_a_window(land: Land) -> None:
    job = land.job("spray")
    land.forecast(36, wind_mph=span(13, 36, None))
    (window,) = land.windows(job)["found"]
    assert (local(window["to"]), window["closes"]) == ("Thu 13:00", {"key": "spray_wind"})


@pytest.mark.parametrize("hole", ["temp_f", "dew_point_f", "wind_mph", "rain_in"])
def test_each_hour_that_is_taken_away_closes_the_windows_that_needed_it(land: Land, hole: str) -> None:
    job = land.job("spray")
    land.forecast(36)
    assert land.hours(job) == [SPRAYED]
    land.forecast(36, **{hole: {11: None}})
    covering = [w for w in land.hours(job) if w[0] <= "Thu 11:00" < w[1]]
    assert covering == []


def test_without_any_hours_the_job_says_that_nothing_is_known(land: Land) -> None:
    job = land.job("spray")
    assert land.windows(job) == {"minutes": 60, "why": {"kind": "unknown"}}


def test_a_forecast_goes_stale_by_the_clock_alone_and_the_walk_wakes_for_it(land: Land) -> None:
    job = land.job("spray")
    land.forecast(72, issued=NOON - timedelta(hours=22))
    assert land.hours(job) != []
    wake = Graph.objects.get(pk=land.holding.pk).wake_at
    assert wake is not None
    assert wake <= NOON + timedelta(hours=2, minutes=1)
    land.at(NOON + timedelta(hours=2))
    assert land.hours(job) != []
    land.at(NOON + timedelta(hours=2, minutes=1))
    told = land.windows(job)
    assert told["why"] == {"kind": "unknown"}
    assert told["last"] == int((NOON - timedelta(hours=22)).timestamp()) // 60


def test_the_next_window_moves_on_when_one_ends_and_between_the_wakings_nothing_does(land: Land) -> None:
    job = land.job("spray")
    land.forecast(60)
    walk_holding(land.holding.pk)
    for _ in range(4):
        graph = Graph.objects.get(pk=land.holding.pk)
        assert graph.wake_at is not None
        land.at(graph.wake_at - timedelta(minutes=1))
        before = Reckoning.objects.values("next_window", "windows", "changed_at").get(pk=job.pk)
        assert differences(land.holding.pk) == {}
        land.at(graph.wake_at)
        assert differences(land.holding.pk) == {}
    assert before["windows"] is not None


def test_an_equal_forecast_writes_nothing(land: Land) -> None:
    job = land.job("spray")
    land.forecast(48)
    land.windows(job)
    stood = Reckoning.objects.get(pk=job.pk).changed_at
    land.holding.clock_at = NOON + timedelta(minutes=5)
    land.holding.save()
    land.forecast(48)
    assert walk_holding(land.holding.pk).changed == ()
    assert Reckoning.objects.get(pk=job.pk).changed_at == stood


def test_windows_move_no_date_and_no_state(land: Land) -> None:
    job = land.job("spray")
    walk_holding(land.holding.pk)
    columns = ("state", "earliest_start", "latest_start", "slack_min", "holds")
    before = Reckoning.objects.values(*columns).get(pk=job.pk)
    for wind in (6.0, 25.0, None):
        land.forecast(72, wind_mph=span(0, 72, wind))
        walk_holding(land.holding.pk)
        assert Reckoning.objects.values(*columns).get(pk=job.pk) == before


def test_the_limit_that_holds_longest_is_the_reason_why_there_is_none(land: Land) -> None:
    job = land.job("spray")
    land.forecast(192, wind_mph=span(0, 192, 14.0), rain_in={40: 0.2})
    why = land.windows(job)["why"]
    assert (why["kind"], why["key"], why["hours"]) == ("limit", "spray_wind", why["of"])


def test_no_stretch_long_enough_is_said_with_the_longest(land: Land) -> None:
    job = land.job("spray", 300)
    land.forecast(30, wind_mph={11: 14.0})
    assert land.windows(job)["why"] == {"kind": "short", "needed": 300, "longest": SUN[1] - 240 - NOON_MINUTE}


def test_work_that_may_be_split_takes_pieces(land: Land) -> None:
    job = land.job("spray", 300, details={"work": {"may_split": True, "least_piece_min": 60}})
    land.forecast(30, wind_mph={11: 14.0})
    assert land.hours(job) == [(SPRAYED[0], "Thu 11:00"), ("Thu 12:00", SPRAYED[1])]


def test_a_contract_a_quiet_day_and_quiet_hours_close_what_weather_opens(land: Land) -> None:
    job, here = land.job("spray"), {"holding": land.holding, "property": land.place}
    land.forecast(132)
    QuietTime.objects.create(
        **here, kind="closed", first_day="2026-05-08", last_day="2026-05-08", reason="hunting", from_time="10:00",
        to_time="12:00",
    )  # fmt: skip
    touch_readers(land.series.pk)
    friday = [hours for hours in land.hours(job) if hours[0].startswith("Fri")]
    assert [friday[0][1], friday[1][0]] == ["Fri 10:00", "Fri 12:00"]
    Contract.objects.create(
        **here, practice="cover", first_day="2020-01-01", last_day="2030-01-01", closed_from="05-08", closed_to="08-01"
    )
    touch_readers(land.series.pk)
    assert {window[0][:3] for window in land.hours(job)} == {"Thu"}
    assert land.windows(job)["found"][-1]["closes"] == {"key": "inversion"}


def test_an_unknown_chance_of_thunder_is_left_out_by_name_and_a_known_one_binds(land: Land) -> None:
    job = land.job("spray")
    land.forecast(36)
    assert land.windows(job)["left_out"] == ["work_thunder"]
    land.forecast(36, thunder_pct=span(0, 36, 5.0) | span(12, 16, 60.0))
    told = land.windows(job)
    assert "left_out" not in told
    assert told["found"][0]["closes"] == {"key": "work_thunder", "margin": -30.0}


def test_cold_nights_ahead_close_a_spray_until_somebody_sets_them_aside(land: Land) -> None:
    job = land.job(
        "spray", details={"limits": [{"what": "night_low_f", "at_least": 40, "source": "missouri-ipm-2014"}]}
    )
    land.forecast(72, temp_f=span(26, 30, 33.0), dew_point_f=span(26, 30, 30.0))
    assert [w for w in land.hours(job) if w[0].startswith("Thu")] == []
    Override.objects.create(
        holding=land.holding, job=job, rule="night_low_f", reason="Told.", person=land.manager, at=NOON
    )
    touch_readers(land.series.pk)
    assert land.windows(job)["set_aside"] == ["night_low_f"]
    assert [w for w in land.hours(job) if w[0].startswith("Thu")] == [SPRAYED]


def test_the_forecast_before_is_kept_when_a_newer_one_comes(land: Land) -> None:
    job = land.job("spray")
    land.forecast(36, issued=ISSUED - timedelta(hours=6))
    (first,) = land.windows(job)["found"]
    land.forecast(36, issued=ISSUED)
    told = land.windows(job)
    six_before = int((ISSUED - timedelta(hours=6)).timestamp()) // 60
    assert told["before"] == {"issued": six_before, "starts": first["from"], "ends": first["to"]}


def test_a_window_is_told_when_two_forecasts_agree_and_taken_back_once(land: Land) -> None:
    """By the walk alone: forecasts come in, reminders are queued; what went is taken back when the hours are gone."""
    Way.objects.create(holding=land.holding, person=land.manager, kind="mail", address="ann@example.org")
    land.job("spray")

    def told(kind: str) -> list[str]:
        walk_holding(land.holding.pk)
        rows = Notice.objects.filter(holding=land.holding, kind=kind).exclude(state=NoticeState.WITHDRAWN)
        return [row.payload["item"]["news"] for row in rows]

    land.forecast(60, issued=ISSUED - timedelta(hours=6))
    assert told("window") == []
    land.forecast(60, issued=ISSUED)
    assert told("window") == [f"Hours ahead: Thu 7 May {SPRAYED[0][4:]} to {SPRAYED[1][4:]}, as two forecasts say."]
    land.forecast(60, issued=ISSUED + timedelta(minutes=30))
    assert len(told("window")) == 1
    Notice.objects.filter(kind="window").update(state=NoticeState.SENT)
    land.forecast(60, issued=ISSUED + timedelta(minutes=45), wind_mph=span(0, 60, 15.0))
    assert told("window_gone") == []  # it had begun when this forecast was made


def test_what_was_told_of_tomorrow_is_taken_back_by_the_newest_forecast(land: Land) -> None:
    Way.objects.create(holding=land.holding, person=land.manager, kind="mail", address="ann@example.org")
    job = land.job("spray", first_day=date(2026, 5, 8))
    for hours in (6, 3):
        land.forecast(60, issued=ISSUED - timedelta(hours=hours))
        walk_holding(land.holding.pk)
    assert not Notice.objects.filter(kind="window").exists()  # held until tomorrow: nothing is news yet
    land.at(NOON + timedelta(hours=14))
    for minutes in (1, 2):
        land.forecast(72, issued=NOON + timedelta(hours=13, minutes=minutes))
        walk_holding(land.holding.pk)
    assert Reckoning.objects.get(pk=job.pk).state == "open"
    assert Notice.objects.filter(kind="window").update(state=NoticeState.SENT) == 1
    land.forecast(72, issued=NOON + timedelta(hours=13, minutes=9), wind_mph=span(0, 72, 15.0))
    walk_holding(land.holding.pk)
    walk_holding(land.holding.pk)
    (gone,) = Notice.objects.filter(kind="window_gone")
    assert gone.payload["item"]["news"] == "The hours of Fri 8 May are gone: the newest forecast has none."
