"""Stations that properties name: found, asked when due, stored by the day, kept through what a service leaves out."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from typing import Any

import pytest
from django.utils import timezone

from core.models import Graph, Holding
from plots.models import Day, Fetched, Normal, Property, PropertySeries, Series
from plots.services import fetching
from plots.services.stations import NORMALS_EVERY, fetch_station, find_stations
from plots.tasks import renew_station
from tests.plots.services.weather_stub import Stub, weather_service

pytestmark = pytest.mark.django_db
NUMBER = "USW00000002"
HISTORY, NORMALS = f"/history/{NUMBER}.csv", f"/normals/{NUMBER}.csv"


def table(header: str, rows: list[list[str]]) -> str:
    lines = [header.split(","), *rows]
    return "\n".join(",".join(f'"{field}"' for field in line) for line in lines) + "\n"


def history(station: str, days: int = 3, **changed: str) -> str:
    """The file of a station: tenths of a degree C and of a mm, padded, each element with its flags; the last days up to
    yesterday are 25.0 and 10.0 degrees with 2.5 mm."""
    place = "STATION,DATE,LATITUDE,LONGITUDE,ELEVATION,NAME"
    elements = ",".join(f"{name},{name}_ATTRIBUTES" for name in ("PRCP", "SNOW", "TMAX", "TMIN"))
    rows = []
    for back in range(days, 0, -1):
        day = (timezone.now() - timedelta(days=back)).date().isoformat()
        told = {"rain": "   25", "high": "  250", "low": "  100", "flags": ",,W,2400", "high_flags": ",,W"} | changed
        rows.append(
            [station, day, "34.7", "-92.2", "78.6", "EXAMPLE FIELD, US", told["rain"], told["flags"], "    0", ",,W",
             told["high"], told["high_flags"], told["low"], ",,W"]
        )  # fmt: skip
    return table(f"{place},{elements}", rows)


def normals(station: str, high: str = "   72.5", days: int = 365) -> str:
    rows = []
    for ahead in range(days):
        on = date(2026, 1, 1) + timedelta(days=ahead)
        rows.append([station, f"{on:%m-%d}", "EXAMPLE FIELD, US", high, "   50.5", "   11"])
    return table("STATION,DATE,NAME,DLY-TMAX-NORMAL,DLY-TMIN-NORMAL,DLY-GRDD-TB5086", rows)


@pytest.fixture
def stub(settings: Any, monkeypatch: pytest.MonkeyPatch) -> Iterator[Stub]:
    monkeypatch.setattr(fetching, "PAUSE_S", 0.01)
    with weather_service() as service:
        settings.GHCN_URL, settings.NORMALS_URL = service.url + "/history", service.url + "/normals"
        settings.CONTACT = "desk@farm.example.org"
        service.pages[HISTORY], service.pages[NORMALS] = history(NUMBER), normals(NUMBER)
        yield service


@pytest.fixture
def land(db: None) -> Property:
    holding = Holding.objects.create(name="Kettle Run", zone="America/Chicago")
    Graph.objects.create(holding=holding)
    return Property.objects.create(holding=holding, name="Home", latitude=34.7, longitude=-92.2, station=NUMBER)


def found() -> Series:
    (pk,) = find_stations()
    return Series.objects.get(pk=pk)


def test_a_station_is_read_after_all_else_and_once_however_many_properties_name_it(stub: Stub, land: Property) -> None:
    own = Series.objects.create(source="typed", place="yard")
    PropertySeries.objects.create(holding=land.holding, property=land, rank=4, series=own)
    Property.objects.create(holding=land.holding, name="Far", latitude=34.8, longitude=-92.2, station=NUMBER)
    series = found()
    assert (series.source, series.place, series.owner, series.zone) == ("ghcn", NUMBER, None, "America/Chicago")
    assert list(PropertySeries.objects.filter(property=land).order_by("rank").values_list("series", flat=True)) == [
        own.pk,
        series.pk,
    ]
    assert PropertySeries.objects.filter(series=series).count() == 2
    assert found() == series


def test_another_station_takes_the_place_of_the_one_named_before(stub: Stub, land: Property) -> None:
    before = Graph.objects.get().facts_version
    found()
    Property.objects.update(station="USC00000003")
    assert found().place == "USC00000003"
    Property.objects.update(station="")
    assert find_stations() == []
    assert not PropertySeries.objects.exists()
    assert Graph.objects.get().facts_version > before


def test_without_a_contact_or_with_a_clock_that_stands_nothing_is_asked(
    stub: Stub, land: Property, settings: Any
) -> None:
    Holding.objects.update(clock_at=timezone.now())
    assert find_stations() == []
    Holding.objects.update(clock_at=None)
    settings.CONTACT = ""
    assert find_stations() == []


def test_days_and_normals_are_stored_in_our_units_and_wake_the_holding(stub: Stub, land: Property) -> None:
    series, before = found(), Graph.objects.get().facts_version
    renew_station(series.pk)
    day = Day.objects.order_by("-date").first()
    assert day is not None
    assert day.date == (timezone.now() - timedelta(days=1)).date()
    assert [day.high_f, day.low_f, day.rain_in] == pytest.approx([77.0, 50.0, 2.5 / 25.4])
    normal = Normal.objects.get(month_day="07-15")
    assert (normal.high_f, normal.low_f, normal.degree_days) == (72.5, 50.5, {"86/50": 11.0})
    assert (Day.objects.count(), Normal.objects.count()) == (3, 365)
    assert Graph.objects.get().facts_version > before


def test_history_is_asked_for_once_a_day_and_normals_once_a_quarter(stub: Stub, land: Property) -> None:
    series, now = found(), timezone.now()
    asked = []
    for ahead in (timedelta(0), timedelta(hours=2), timedelta(hours=24), NORMALS_EVERY + timedelta(days=1)):
        del stub.seen[:]
        fetch_station(series, now + ahead)
        asked.append([path for path, _ in stub.seen])
    assert asked == [[HISTORY, NORMALS], [], [HISTORY], [HISTORY, NORMALS]]


def test_a_value_that_failed_a_check_or_is_missing_is_no_value_and_erases_none(stub: Stub, land: Property) -> None:
    series, now = found(), timezone.now()
    stub.pages[HISTORY] = history(NUMBER, high_flags=",I,W", rain="")
    fetch_station(series, now)
    assert set(Day.objects.values_list("high_f", "rain_in")) == {(None, None)}
    stub.etag, stub.pages[HISTORY] = '"2"', history(NUMBER)
    fetch_station(series, now + timedelta(days=1))
    stub.etag, stub.pages[HISTORY] = '"3"', history(NUMBER, high_flags=",I,W", rain="", low="  110")
    assert fetch_station(series, now + timedelta(days=2))
    ((high, low, rain),) = set(Day.objects.values_list("high_f", "low_f", "rain_in"))
    assert [high, low, rain] == pytest.approx([77.0, 51.8, 2.5 / 25.4])


@pytest.mark.parametrize(
    "page",
    [
        history("USW00000009"),
        history(NUMBER, high="warm"),
        history(NUMBER, flags=""),
        history(NUMBER, days=0),
        history(NUMBER).replace("DATE", "ON"),
        history(NUMBER)[:-9],
    ],
    ids=["another station", "no number", "no quality flag", "no day", "no column", "cut off"],
)
def test_a_history_that_cannot_serve_stores_nothing(stub: Stub, land: Property, page: str) -> None:
    stub.pages[HISTORY] = page
    fetch_station(found(), timezone.now())
    assert not Day.objects.exists()
    assert not Fetched.objects.filter(url__contains="history").exclude(body=b"").exists()


@pytest.mark.parametrize(
    "page",
    [normals("USW00000009"), normals(NUMBER, high="22.5"), normals(NUMBER, days=300), normals(NUMBER)[:-9]],
    ids=["another station", "degrees Celsius", "part of a year", "cut off"],
)
def test_normals_that_cannot_serve_store_nothing(stub: Stub, land: Property, page: str) -> None:
    stub.pages[NORMALS] = page
    fetch_station(found(), timezone.now())
    assert not Normal.objects.exists()


def test_a_failure_leaves_the_last_good_copy_with_its_age(stub: Stub, land: Property) -> None:
    series, now = found(), timezone.now()
    fetch_station(series, now)
    kept = dict(Fetched.objects.values_list("url", "fetched_at"))
    stub.etag, stub.faults = '"2"', ["503"] * 9
    assert not fetch_station(series, now + timedelta(days=1))
    assert Day.objects.count() == 3
    assert dict(Fetched.objects.values_list("url", "fetched_at")) == kept
