"""River stages from services that misbehave: what is stored, what is left alone, and who is woken."""

from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import Any

import pytest
from django.utils import timezone

from core.models import Graph, Holding
from plots.models import DayKind, Gauge, Property, PropertyGauge, Reading
from plots.services import fetching
from plots.services.gauges import find_gauges, renew_gauge
from tests.plots.services.weather_stub import Stub, weather_service

pytestmark = pytest.mark.django_db
SITE = "03304050"
NEWER, OLDER, TOLD, AHEAD = "/newer", "/older", f"/told/{SITE}", f"/told/{SITE}/stageflow/forecast"


def newer(*readings: tuple[datetime, str]) -> dict[str, Any]:
    return {
        "features": [
            {
                "properties": {
                    "parameter_code": "00065",
                    "unit_of_measure": "ft",
                    "time": at.isoformat(),
                    "value": feet,
                }
            }
            for at, feet in readings
        ]
    }


def older(*readings: tuple[datetime, str]) -> dict[str, Any]:
    values = [{"value": feet, "dateTime": at.isoformat()} for at, feet in readings]
    variable = {"variableCode": [{"value": "00065"}], "unit": {"unitCode": "ft"}}
    return {"value": {"timeSeries": [{"variable": variable, "values": [{"value": values}]}]}}


def told(now: datetime, category: str = "no_flooding", crest: float = 17.5) -> dict[str, Any]:
    return {
        "lid": "EXMK2",
        "name": "Example River at the mill",
        "status": {
            "observed": {"primary": 9.0, "primaryUnit": "ft", "floodCategory": category, "validTime": now.isoformat()},
            "forecast": {
                "primary": crest,
                "primaryUnit": "ft",
                "floodCategory": "action",
                "validTime": (now + timedelta(hours=30)).isoformat(),
            },
        },
        "flood": {"categories": {"action": {"stage": 15.0}, "minor": {"stage": 18.0}, "major": {"stage": -9999}}},
    }


def ahead(issued: datetime, *stages: float) -> dict[str, Any]:
    return {
        "primaryName": "Stage",
        "primaryUnits": "ft",
        "issuedTime": issued.isoformat(),
        "data": [
            {"validTime": (issued + timedelta(hours=6 * step)).isoformat(), "primary": feet}
            for step, feet in enumerate(stages, 1)
        ],
    }


@pytest.fixture
def now() -> datetime:
    return timezone.now().replace(second=0, microsecond=0)


@pytest.fixture
def stub(settings: Any, monkeypatch: pytest.MonkeyPatch, now: datetime) -> Iterator[Stub]:
    monkeypatch.setattr(fetching, "PAUSE_S", 0.01)
    with weather_service() as service:
        settings.USGS_URL, settings.USGS_OLDER_URL = service.url + NEWER, service.url + OLDER
        settings.NWPS_URL, settings.CONTACT = service.url + "/told", "desk@farm.example.org"
        service.pages[NEWER] = newer((now - timedelta(minutes=30), "9.1"), (now - timedelta(minutes=15), "9.2"))
        service.pages[OLDER] = older((now - timedelta(minutes=45), "9.0"))
        service.pages[TOLD] = told(now)
        service.pages[AHEAD] = ahead(now, 12.0, 16.0, 17.5)
        yield service


@pytest.fixture
def gauge() -> Gauge:
    holding = Holding.objects.create(name="Kettle Run")
    Graph.objects.create(holding=holding)
    for name in ("Bottoms", "Oxbow"):
        place = Property.objects.create(holding=holding, name=name, latitude=37.2, longitude=-85.4)
        PropertyGauge.objects.create(holding=holding, property=place, site=SITE, level_ft=16.0)
    return Gauge.objects.create(site=SITE)


def observed() -> list[float]:
    return list(Reading.objects.filter(kind=DayKind.OBSERVED).order_by("at").values_list("feet", flat=True))


def forecast() -> list[float]:
    return list(Reading.objects.filter(kind=DayKind.FORECAST).order_by("at").values_list("feet", flat=True))


def test_a_gauge_is_asked_once_however_many_properties_depend_on_it(stub: Stub, gauge: Gauge, settings: Any) -> None:
    assert find_gauges() == [gauge.pk]
    Gauge.objects.all().delete()
    assert len(find_gauges()) == 1
    settings.CONTACT = ""
    assert find_gauges() == []


def test_a_holding_whose_clock_stands_asks_for_nothing(stub: Stub, gauge: Gauge, now: datetime) -> None:
    Holding.objects.update(clock_at=now)
    assert find_gauges() == []


def test_stages_read_and_to_come_are_stored_with_the_levels_and_wake_the_holding(
    stub: Stub, gauge: Gauge, now: datetime
) -> None:
    before = Graph.objects.get().facts_version
    assert renew_gauge(gauge, now)
    assert (observed(), forecast()) == ([9.1, 9.2], [12.0, 16.0, 17.5])
    gauge.refresh_from_db()
    assert (gauge.name, gauge.lid, gauge.category) == ("Example River at the mill", "EXMK2", "no_flooding")
    assert (gauge.action_ft, gauge.minor_ft, gauge.major_ft) == (15.0, 18.0, None)
    assert Graph.objects.get().facts_version == before + 1
    assert not [path for path, _ in stub.seen if path.startswith(OLDER)]


def test_the_same_again_stores_nothing_and_wakes_nobody(stub: Stub, gauge: Gauge, now: datetime) -> None:
    renew_gauge(gauge, now)
    gauge.refresh_from_db()
    before = Graph.objects.get().facts_version
    assert not renew_gauge(gauge, now)
    assert Graph.objects.get().facts_version == before


@pytest.mark.parametrize("page", [{"features": []}, {"error": "gone"}, None])
def test_the_older_service_is_asked_where_the_newer_gives_nothing(
    stub: Stub, gauge: Gauge, now: datetime, page: Any
) -> None:
    stub.pages[NEWER] = page
    renew_gauge(gauge, now)
    assert observed() == [9.0]


def test_the_weather_services_own_reading_stands_in_where_both_are_down(
    stub: Stub, gauge: Gauge, now: datetime
) -> None:
    stub.pages[NEWER] = stub.pages[OLDER] = {"features": []}
    renew_gauge(gauge, now)
    assert observed() == [9.0]


@pytest.mark.parametrize("category", ["obs_not_current", "out_of_service", "not_defined"])
def test_a_category_that_is_not_current_gives_no_reading(
    stub: Stub, gauge: Gauge, now: datetime, category: str
) -> None:
    stub.pages[NEWER] = stub.pages[OLDER] = {"features": []}
    stub.pages[TOLD] = told(now, category)
    renew_gauge(gauge, now)
    assert observed() == []
    gauge.refresh_from_db()
    assert gauge.category == category


@pytest.mark.parametrize("value", ["-999999", "nan", "ice", ""])
def test_what_is_no_stage_is_not_stored(stub: Stub, gauge: Gauge, now: datetime, value: str) -> None:
    stub.pages[NEWER] = newer((now - timedelta(minutes=15), value), (now - timedelta(minutes=30), "9.1"))
    renew_gauge(gauge, now)
    assert observed() == [9.1]


def test_a_reading_from_the_future_is_not_stored(stub: Stub, gauge: Gauge, now: datetime) -> None:
    stub.pages[NEWER] = newer((now + timedelta(hours=2), "4.0"), (now, "9.1"))
    renew_gauge(gauge, now)
    assert observed() == [9.1]


def test_a_revised_reading_is_overwritten(stub: Stub, gauge: Gauge, now: datetime) -> None:
    renew_gauge(gauge, now)
    stub.etag = '"2"'
    stub.pages[NEWER] = newer((now - timedelta(minutes=15), "9.6"))
    assert renew_gauge(gauge, now)
    assert observed() == [9.1, 9.6]


@pytest.mark.parametrize("fault", ["500", "503", "cut", "html", "huge", "elsewhere"])
def test_when_all_services_fail_nothing_changes(stub: Stub, gauge: Gauge, now: datetime, fault: str) -> None:
    stub.faults = [fault] * 99
    assert not renew_gauge(gauge, now)
    assert (observed(), forecast()) == ([], [])


def test_a_crest_alone_stands_in_for_the_forecast_and_gives_way_to_it(stub: Stub, gauge: Gauge, now: datetime) -> None:
    whole = stub.pages.pop(AHEAD)
    renew_gauge(gauge, now)
    assert forecast() == [17.5]
    stub.pages[AHEAD] = whole
    fetching.Fetched.objects.filter(body=b"").delete()
    renew_gauge(gauge, now)
    assert forecast() == [12.0, 16.0, 17.5]
    del stub.pages[AHEAD]
    renew_gauge(gauge, now)
    assert forecast() == [12.0, 16.0, 17.5]


def test_an_older_forecast_never_takes_the_place_of_a_newer(stub: Stub, gauge: Gauge, now: datetime) -> None:
    renew_gauge(gauge, now)
    stub.etag = '"2"'
    stub.pages[AHEAD] = ahead(now - timedelta(hours=6), 1.0, 2.0)
    renew_gauge(gauge, now)
    assert forecast() == [12.0, 16.0, 17.5]


def test_readings_of_long_ago_are_dropped(stub: Stub, gauge: Gauge, now: datetime) -> None:
    Reading.objects.create(gauge=gauge, at=now - timedelta(days=11), feet=3.0)
    renew_gauge(gauge, now)
    assert observed() == [9.1, 9.2]
