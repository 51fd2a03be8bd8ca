"""Every service that is asked, through a server on loopback that misbehaves in each way that people report.

Whatever it does, nothing that is missing or old opens a window: the hours and stages stored stay what they were, and
through the API a job has the windows it had, until its forecast is too old for any.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from django.conf import settings as project
from django.utils import timezone

from core.models import Graph, Holding
from plots.models import Day, Fetched, Gauge, Hour, Normal, Property, PropertyGauge, RainTotal, Reading, Series
from plots.services import fetching
from plots.services.gauges import find_gauges, renew_gauge
from plots.services.stations import fetch_history, fetch_normals, find_stations
from plots.services.weather import NWS, OPEN_METEO, renew
from tests.plots.services.test_gauges import ahead, newer, older, told
from tests.plots.services.test_stations import history, normals
from tests.plots.services.weather_stub import Stub, weather_service

pytestmark = [pytest.mark.django_db, pytest.mark.once]
SITE, STATION = "03304050", "USW00000001"


@dataclass(frozen=True)
class Service:
    """One service as it is asked: `ask()` stores what it gives, `stored()` says what stands."""

    name: str
    ask: Callable[[], Any]
    stored: Callable[[], Any]


def hours() -> list[Any]:
    rows = list(Hour.objects.order_by("series_id", "at").values_list("series_id", "at", "temp_f", "wind_mph"))
    return rows + list(RainTotal.objects.order_by("series_id", "starts").values_list("starts", "ends", "rain_in"))


def stages() -> list[Any]:
    return list(Reading.objects.order_by("at", "kind").values_list("at", "kind", "feet"))


def days() -> list[Any]:
    return list(Day.objects.order_by("date").values_list("date", "high_f", "low_f", "rain_in"))


def normal_days() -> list[Any]:
    return list(Normal.objects.order_by("month_day").values_list("month_day", "high_f", "low_f"))


class World:
    """The loopback server with a good page of each service, and what reads them."""

    def __init__(self, stub: Stub, settings: Any) -> None:
        self.stub, now = stub, timezone.now().replace(second=0, microsecond=0)
        self.now = now
        settings.CONTACT = "desk@farm.example.org"
        settings.NWS_URL, settings.OPEN_METEO_URL = stub.url, stub.url + "/general"
        settings.USGS_URL, settings.USGS_OLDER_URL = stub.url + "/newer", stub.url + "/older"
        settings.NWPS_URL = stub.url + "/told"
        grid = json.loads((project.FIXTURES / "replies" / "nws" / "gridpoints-LZK.json").read_text())
        grid["properties"]["updateTime"] = now.isoformat()
        first = int(now.timestamp()) // 3600 * 3600
        stub.pages["/gridpoints/LZK/83,73"] = grid
        stub.pages["/general"] = {
            "hourly_units": {"time": "unixtime", "temperature_2m": "°F", "wind_speed_10m": "mp/h"},
            "hourly": {
                "time": [first + 3600 * n for n in range(24)],
                "temperature_2m": [54.0] * 24,
                "wind_speed_10m": [7.0] * 24,
            },
        }  # fmt: skip
        stub.pages["/newer"] = newer((now - timedelta(minutes=15), "9.2"))
        stub.pages["/older"] = older((now - timedelta(minutes=45), "9.0"))
        stub.pages[f"/told/{SITE}"] = told(now)
        stub.pages[f"/told/{SITE}/stageflow/forecast"] = ahead(now, 12.0, 16.0)
        settings.GHCN_URL, settings.NORMALS_URL = stub.url + "/history", stub.url + "/normals"
        stub.pages[f"/history/{STATION}.csv"] = history(STATION)
        stub.pages[f"/normals/{STATION}.csv"] = normals(STATION)
        holding = Holding.objects.create(name="Kettle Run", zone="America/Chicago")
        Graph.objects.create(holding=holding)
        land = Property.objects.create(
            holding=holding, name="Home", latitude=34.749, longitude=-92.275, station=STATION
        )
        PropertyGauge.objects.create(holding=holding, property=land, site=SITE, level_ft=16.0)
        self.cell = Series.objects.create(source=NWS, place="LZK/83,73")
        self.general = Series.objects.create(source=OPEN_METEO, place="48.1,1.5")
        (station,) = find_stations()
        self.station = Series.objects.get(pk=station)
        (gauge,) = find_gauges()
        self.gauge = Gauge.objects.get(pk=gauge)

    def services(self) -> list[Service]:
        return [
            Service("forecast", lambda: renew(self.cell, timezone.now()), hours),
            Service("general forecast", lambda: renew(self.general, timezone.now()), hours),
            Service("gauge", lambda: renew_gauge(self.gauge, timezone.now()), stages),
            Service("history", lambda: fetch_history(self.station, timezone.now()), days),
            Service("normals", lambda: fetch_normals(self.station), normal_days),
        ]

    def service(self, name: str) -> Service:
        return next(one for one in self.services() if one.name == name)


@pytest.fixture
def world(settings: Any, monkeypatch: pytest.MonkeyPatch) -> Iterator[World]:
    monkeypatch.setattr(fetching, "PAUSE_S", 0.005)
    monkeypatch.setattr(fetching, "READ_S", 0.3)
    monkeypatch.setattr(fetching, "TOTAL_S", 0.8)
    with weather_service() as stub:
        yield World(stub, settings)


NAMES = ("forecast", "general forecast", "gauge", "history", "normals")
PASSING = ("500", "503", "429", "cut", "half json", "html", "null")
FAULTS = (
    "500", "503", "429", "400", "404", "cut", "half json", "html", "plain", "empty", "huge", "bomb", "elsewhere",
    "round", "hang", "trickle", "bad gzip", "null", "list", "latin",
)  # fmt: skip


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("fault", PASSING)
def test_a_passing_fault_is_tried_again_and_the_good_answer_kept(world: World, name: str, fault: str) -> None:
    world.stub.faults = [fault]
    service = world.service(name)
    service.ask()
    assert service.stored(), (name, fault)
    assert len(world.stub.seen) >= 2


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("fault", FAULTS)
def test_a_fault_that_stays_stores_nothing(world: World, name: str, fault: str) -> None:
    world.stub.faults = [fault] * 60
    service = world.service(name)
    assert not service.ask()
    assert service.stored() == [], (name, fault)


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("fault", FAULTS)
def test_a_fault_after_a_good_answer_leaves_what_was_stored_with_its_age(world: World, name: str, fault: str) -> None:
    service = world.service(name)
    service.ask()
    before = service.stored()
    assert before
    ages = dict(Fetched.objects.exclude(body=b"").values_list("url", "fetched_at"))
    world.stub.etag = '"2"'
    world.stub.faults = [fault] * 60
    service.ask()
    assert service.stored() == before, (name, fault)
    assert dict(Fetched.objects.filter(url__in=ages).values_list("url", "fetched_at")) == ages


@pytest.mark.parametrize("name", NAMES)
def test_the_same_answer_is_asked_for_by_its_validator_and_not_stored_again(world: World, name: str) -> None:
    service = world.service(name)
    service.ask()
    before, asked = service.stored(), len(world.stub.seen)
    service.ask()
    again = world.stub.seen[asked:]
    assert again
    assert {headers.get("If-None-Match") for _, headers in again} == {world.stub.etag}
    if name != "general forecast":  # its answers carry no time of issue: confirmed anew, they are as new as that
        assert service.stored() == before
    assert all(headers["User-Agent"] == "Readyground (desk@farm.example.org)" for _, headers in world.stub.seen)


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("packed", ["gzip", "gzip twice"])
def test_a_packed_answer_is_read(world: World, name: str, packed: str) -> None:
    """We ask for none; a server between may pack all the same. Packed twice is no JSON."""
    world.stub.faults = [packed] * 60
    service = world.service(name)
    service.ask()
    assert bool(service.stored()) == (packed == "gzip")


def test_nulls_and_missing_layers_store_hours_without_a_value(world: World) -> None:
    layers = world.stub.pages["/gridpoints/LZK/83,73"]["properties"]
    for run in layers["windSpeed"]["values"]:
        run["value"] = None
    layers["relativeHumidity"] = {"values": []}
    del layers["windGust"]
    assert renew(world.cell, timezone.now())
    assert not Hour.objects.exclude(wind_mph=None).exists()
    assert not Hour.objects.exclude(humidity_pct=None, gust_mph=None).exists()
    assert Hour.objects.exclude(temp_f=None).exists()


@pytest.mark.parametrize("hours_old", [25, 24 * 12, -2])
def test_an_old_or_future_issue_is_not_stored_whatever_the_status_says(world: World, hours_old: int) -> None:
    issued = timezone.now() - timedelta(hours=hours_old)
    world.stub.pages["/gridpoints/LZK/83,73"]["properties"]["updateTime"] = issued.isoformat()
    assert not renew(world.cell, timezone.now())
    assert hours() == []


def test_only_the_newer_gauge_service_failing_reads_the_older(world: World) -> None:
    world.stub.pages["/newer"] = None
    renew_gauge(world.gauge, timezone.now())
    assert 9.0 in {feet for _, _, feet in stages()}


def test_each_service_is_asked_once_a_look_however_many_read_it(world: World) -> None:
    for service in world.services():
        service.ask()
    paths = [path.partition("?")[0] for path, _ in world.stub.seen]
    assert sorted(paths) == sorted(
        [
            "/gridpoints/LZK/83,73",
            "/general",
            "/newer",
            f"/told/{SITE}",
            f"/told/{SITE}/stageflow/forecast",
            f"/history/{STATION}.csv",
            f"/normals/{STATION}.csv",
        ]
    )


def test_a_reading_keeps_its_own_time_however_late_it_comes(world: World) -> None:
    """Three days old and told as new: it is stored as three days old."""
    long_ago = datetime(2026, 1, 1, tzinfo=UTC)
    world.stub.pages["/newer"] = newer((long_ago, "2.0"))
    world.stub.pages[f"/told/{SITE}"] = None
    renew_gauge(world.gauge, timezone.now())
    assert {at for at, kind, _ in stages() if kind == "observed"} <= {long_ago}
