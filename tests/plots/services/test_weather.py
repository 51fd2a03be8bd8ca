"""Forecasts fetched from a service that misbehaves in each way people report: a gap or an old value opens nothing."""

import json
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from django.conf import settings as project
from django.utils import timezone

from core.models import Graph, Holding
from plots.models import DayKind, Fetched, Hour, Property, PropertySeries, RainTotal, Series
from plots.services import fetching
from plots.services.fetching import Failed, ask
from plots.services.weather import NWS, cells_read, find_cells, renew
from tests.plots.services.weather_stub import Stub, weather_service

pytestmark = pytest.mark.django_db
CELL = "/gridpoints/LZK/83,73"
POINT = "/points/34.749,-92.275"


@pytest.fixture
def stub(settings: Any, monkeypatch: pytest.MonkeyPatch) -> Iterator[Stub]:
    monkeypatch.setattr(fetching, "PAUSE_S", 0.01)
    with weather_service() as service:
        settings.NWS_URL, settings.CONTACT = service.url, "desk@farm.example.org"
        folder = project.FIXTURES / "replies" / "nws"
        service.pages[POINT] = json.loads((folder / "points-LZK.json").read_text())
        service.pages[CELL] = json.loads((folder / "gridpoints-LZK.json").read_text())
        service.pages[CELL]["properties"]["updateTime"] = timezone.now().isoformat()
        yield service


@pytest.fixture
def place() -> Property:
    holding = Holding.objects.create(name="Kettle Run", zone="America/Chicago")
    Graph.objects.create(holding=holding)
    return Property.objects.create(holding=holding, name="Home", latitude=34.749, longitude=-92.275)


@pytest.fixture
def series() -> Series:
    return Series.objects.create(source=NWS, place="LZK/83,73")


def test_a_property_finds_its_cell_and_every_property_there_shares_it(stub: Stub, place: Property) -> None:
    Property.objects.create(holding=place.holding, name="Next door", latitude=34.7491, longitude=-92.2751)
    assert find_cells() == 2
    assert len(cells_read()) == 1
    assert PropertySeries.objects.count() == 2
    assert find_cells() == 0
    assert [path for path, _ in stub.seen].count(POINT) == 2  # the second confirms by its validator


def test_a_forecast_is_stored_with_its_totals_and_wakes_the_holding(stub: Stub, place: Property) -> None:
    find_cells()
    before = Graph.objects.get(holding=place.holding).facts_version
    assert renew(Series.objects.get(), timezone.now())
    assert Graph.objects.get(holding=place.holding).facts_version > before
    assert Hour.objects.filter(kind=DayKind.FORECAST).count() > 150
    assert RainTotal.objects.count() == 19
    assert not Hour.objects.exclude(rain_in=None).exists()


def test_the_same_issue_again_changes_nothing(stub: Stub, series: Series) -> None:
    assert renew(series, timezone.now())
    rows = list(Hour.objects.values_list("pk", flat=True))
    assert not renew(series, timezone.now())
    assert list(Hour.objects.values_list("pk", flat=True)) == rows
    assert stub.seen[-1][1]["If-None-Match"] == stub.etag


def test_who_asks_is_said_and_nobody_is_asked_without_that(stub: Stub, place: Property, settings: Any) -> None:
    ask(stub.url + CELL)
    assert stub.seen[0][1]["User-Agent"] == "Readyground (desk@farm.example.org)"
    settings.CONTACT = ""
    assert (find_cells(), cells_read()) == (0, [])
    assert len(stub.seen) == 1


def test_a_holding_whose_clock_stands_asks_for_nothing(stub: Stub, place: Property) -> None:
    Holding.objects.update(clock_at=datetime(2026, 5, 7, 23, tzinfo=UTC))
    assert find_cells() == 0
    assert stub.seen == []


@pytest.mark.parametrize("fault", ["500", "503", "429", "cut", "html"])
def test_a_passing_failure_is_tried_again(stub: Stub, series: Series, fault: str) -> None:
    stub.faults = [fault, fault]
    assert renew(series, timezone.now())
    assert len(stub.seen) == 3


@pytest.mark.parametrize("fault", ["500", "503", "html", "half json", "huge", "elsewhere", "round", "cut"])
def test_a_failure_that_stays_opens_nothing(stub: Stub, series: Series, fault: str) -> None:
    stub.faults = [fault] * 9
    assert not renew(series, timezone.now())
    assert not Hour.objects.exists()


def test_a_hanging_service_is_left_within_its_limits(
    stub: Stub, series: Series, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(fetching, "READ_S", 1.0)
    monkeypatch.setattr(fetching, "TOTAL_S", 0.5)
    stub.faults = ["hang"] * 3
    assert not renew(series, timezone.now())
    assert len(stub.seen) == 1


def test_the_last_good_copy_is_kept_with_its_age(stub: Stub, series: Series) -> None:
    ask(stub.url + CELL)
    stub.faults = ["503"] * 9
    answer = ask(stub.url + CELL)
    row = Fetched.objects.get()
    assert not answer.fresh
    assert answer.fetched_at == row.fetched_at < row.failed_at
    assert row.failure == "The service answers 503."
    stub.faults = []
    assert ask(stub.url + CELL).fresh
    assert Fetched.objects.get().failed_at is None


def test_what_is_refused_for_good_is_not_asked_again_that_day(stub: Stub) -> None:
    for _ in range(2):
        with pytest.raises(Failed, match="404"):
            ask(stub.url + "/points/1,1")
    assert len(stub.seen) == 1


def test_a_move_to_a_rounded_place_is_followed(stub: Stub) -> None:
    stub.pages["/rounded"] = {"properties": {}}
    stub.faults = ["rounded"]
    assert ask(stub.url + "/points/34.74901,-92.27501").said == {"properties": {}}


@pytest.mark.parametrize("hours", [25, 24 * 12, -1])
def test_a_forecast_issued_long_ago_or_in_the_future_is_not_stored(stub: Stub, series: Series, hours: int) -> None:
    issued = timezone.now() - timedelta(hours=hours)
    stub.pages[CELL]["properties"]["updateTime"] = issued.isoformat()
    assert not renew(series, timezone.now())
    assert not Hour.objects.exists()
