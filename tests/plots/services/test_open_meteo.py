"""The second forecast source: asked where the national service refuses a place, and as wary of what it answers."""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from typing import Any
from urllib.parse import parse_qs, urlsplit

import pytest
from django.utils import timezone

from core.models import Graph, Holding
from plots.models import DayKind, Fetched, Hour, Property, PropertySeries, RainTotal, Series
from plots.services import fetching
from plots.services.weather import OPEN_METEO, cells_read, find_cells, renew
from tests.plots.services.weather_stub import Stub, weather_service

pytestmark = pytest.mark.django_db
PATH = "/v1/forecast"
FIRST = int(datetime(2026, 5, 1, tzinfo=UTC).timestamp())


def reply(**columns: Any) -> dict[str, Any]:
    units = {"time": "unixtime", "temperature_2m": "°F", "wind_speed_10m": "mp/h", "precipitation": "inch"}
    times = [FIRST + 3600 * hour for hour in range(3)]
    hourly = {"time": times, "temperature_2m": [54.0, 53.0, None], "wind_speed_10m": [7.0, 8.0, 9.0]}
    return {"hourly_units": units, "hourly": {**hourly, "precipitation": [0.0, 0.1, 0.0], **columns}}


@pytest.fixture
def stub(settings: Any, monkeypatch: pytest.MonkeyPatch) -> Iterator[Stub]:
    monkeypatch.setattr(fetching, "PAUSE_S", 0.01)
    with weather_service() as service:
        settings.NWS_URL, settings.OPEN_METEO_URL = service.url, service.url + PATH
        settings.CONTACT = "desk@farm.example.org"
        service.pages[PATH] = reply()
        yield service


def place(name: str, latitude: float, longitude: float) -> Property:
    holding, new = Holding.objects.get_or_create(name="Overseas", defaults={"zone": "Europe/Paris"})
    if new:
        Graph.objects.create(holding=holding)
    return Property.objects.create(
        holding=holding, name=name, latitude=latitude, longitude=longitude, zone="Europe/Paris"
    )


@pytest.fixture
def series() -> Series:
    return Series.objects.create(source=OPEN_METEO, place="48.1,1.5")


def test_a_place_that_the_national_service_refuses_reads_the_general_one_by_rounded_cell(stub: Stub) -> None:
    place("Home", 48.12, 1.49)
    place("Next door", 48.09, 1.52)
    assert find_cells() == 2
    series = Series.objects.get()
    assert (series.source, series.place, series.zone) == (OPEN_METEO, "48.1,1.5", "Europe/Paris")
    assert PropertySeries.objects.count() == 2
    assert cells_read() == [series.pk]
    assert find_cells() == 0


def test_a_refusal_kept_from_before_still_sends_to_the_general_service(stub: Stub) -> None:
    place("Home", 48.12, 1.49)
    find_cells()
    PropertySeries.objects.all().delete()
    asked = len(stub.seen)
    assert find_cells() == 1
    assert len(stub.seen) == asked


@pytest.mark.parametrize("fault", ["500", "503", "429", "html", "cut"])
def test_an_outage_of_the_national_service_is_no_refusal(stub: Stub, fault: str) -> None:
    place("Home", 48.12, 1.49)
    stub.faults = [fault] * 9
    assert find_cells() == 0
    assert not PropertySeries.objects.exists()


def test_it_is_asked_in_utc_seconds_and_our_units(stub: Stub, series: Series) -> None:
    assert renew(series, timezone.now())
    (path, _), *_ = stub.seen
    asked = {name: values[0] for name, values in parse_qs(urlsplit(path).query).items()}
    assert (asked["timezone"], asked["timeformat"]) == ("GMT", "unixtime")
    assert (asked["temperature_unit"], asked["wind_speed_unit"], asked["precipitation_unit"]) == (
        "fahrenheit",
        "mph",
        "inch",
    )
    assert (asked["latitude"], asked["longitude"]) == ("48.1", "1.5")
    assert Fetched.objects.get().url.endswith(urlsplit(path).query)  # the whole address fits its column


def test_its_hours_are_issued_when_they_were_fetched(stub: Stub, series: Series) -> None:
    now = timezone.now()
    assert renew(series, now)
    hours = list(Hour.objects.order_by("at"))
    assert [(hour.temp_f, hour.wind_mph) for hour in hours] == [(54.0, 7.0), (53.0, 8.0), (None, 9.0)]
    assert {hour.kind for hour in hours} == {DayKind.FORECAST}
    assert all(abs((hour.issued_at - now).total_seconds()) < 70 for hour in hours if hour.issued_at)
    wet = RainTotal.objects.get(rain_in__gt=0)
    assert (wet.starts.timestamp(), wet.ends.timestamp()) == (FIRST, FIRST + 3600)


def test_a_kept_answer_is_as_old_as_its_fetching(stub: Stub, series: Series) -> None:
    assert renew(series, timezone.now())
    old = timezone.now() - timedelta(hours=25)
    Fetched.objects.update(fetched_at=old)
    Hour.objects.all().delete()
    stub.faults = ["503"] * 9
    assert not renew(series, timezone.now())
    assert not Hour.objects.exists()


@pytest.mark.parametrize("fault", ["500", "cut", "half json", "400", "html"])
def test_a_failure_that_stays_stores_nothing(stub: Stub, series: Series, fault: str) -> None:
    stub.faults = [fault] * 9
    assert not renew(series, timezone.now())
    assert not Hour.objects.exists()


def test_a_hanging_service_is_left(stub: Stub, series: Series, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(fetching, "READ_S", 0.5)
    monkeypatch.setattr(fetching, "TOTAL_S", 0.4)
    stub.faults = ["hang"] * 3
    assert not renew(series, timezone.now())
    assert len(stub.seen) == 1


@pytest.mark.parametrize(
    "page",
    [
        reply(temperature_2m=[float("nan")] * 3),
        {"error": True, "reason": "Cannot initialize"},
        reply(time=["2026-05-01T00:00"] * 3),
    ],
)
def test_an_answer_that_is_none_stores_nothing(stub: Stub, series: Series, page: dict[str, Any]) -> None:
    stub.pages[PATH] = page
    assert not renew(series, timezone.now())
    assert not Hour.objects.exists()
