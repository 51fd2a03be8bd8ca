"""Windows that river and ground take, through reports, readings and the walk."""

from datetime import UTC, datetime, timedelta
from uuid import uuid4

import pytest

from core.services.facts import touch
from jobs.models import Job, ReportKind
from jobs.services.reports import NewReport, store_report
from plots.models import Gauge, PropertyGauge, Reading
from tests.jobs.selectors.test_windows import NOON, Land, local, span

pytestmark = pytest.mark.django_db
SITE = "03304050"


@pytest.fixture
def land() -> Land:
    return Land()


def river(land: Land, *stages: tuple[float, float], level_ft: float | None = 16.0) -> Gauge:
    """Readings by hours from noon (negative: before) and stages to come."""
    gauge, _ = Gauge.objects.get_or_create(site=SITE)
    PropertyGauge.objects.get_or_create(
        holding=land.holding, property=land.place, site=SITE, level_ft=level_ft, hours_down=2
    )
    Reading.objects.all().delete()
    for hours, feet in stages:
        at, ahead = NOON + timedelta(hours=hours), hours > 0
        kind, issued = ("forecast", NOON) if ahead else ("observed", None)
        Reading.objects.create(gauge=gauge, at=at, kind=kind, feet=feet, issued_at=issued)
    touch(land.holding.pk, [f"property:{land.place.pk}"])
    return gauge


def test_a_river_closes_the_access_where_its_water_may_stand_too_high(land: Land) -> None:
    """Low until 15:00, then up to 17 ft by 21:00: the stretch from 15:00 on counts as high as its end."""
    job = land.job("mow")
    land.forecast(120)
    river(land, (-1, 8.0), (0, 8.0), (3, 8.0), (9, 17.0))
    (window,) = land.windows(job)["found"]
    assert (local(window["from"]), window["opens"]) == ("Thu 11:00", {"key": "river"})
    assert (local(window["to"]), window["closes"]) == ("Thu 15:00", {"key": "river"})


def test_without_a_good_reading_the_place_has_no_window(land: Land) -> None:
    job = land.job("mow")
    land.forecast(120)
    river(land, (-6, 8.0), (3, 8.0))
    assert land.hours(job) == [("Thu 06:00", "Thu 09:00")]  # past, when the last reading was still good


def test_a_gauge_without_a_level_has_no_window(land: Land) -> None:
    job = land.job("mow")
    land.forecast(120)
    river(land, (0, 2.0), (6, 2.0), level_ft=None)
    assert land.windows(job)["why"] == {"kind": "closed", "by": "river"}


def test_a_reading_goes_stale_by_the_clock_and_the_walk_wakes_for_it(land: Land) -> None:
    job = land.job("mow")
    land.forecast(120)
    river(land, (0, 8.0), (6, 8.0))
    assert land.hours(job) == [("Thu 12:00", "Thu 18:00")]
    land.at(NOON + timedelta(minutes=181))
    assert land.hours(job) == [("Thu 12:00", "Thu 15:00")]


def seen(land: Land, kind: str, hour: int) -> None:
    at = datetime(2026, 5, 7, hour + 5, tzinfo=UTC)
    new = NewReport(client_id=uuid4(), kind=ReportKind.SEEN, happened_at=at, plot=land.plot.pk, outcome=kind)
    store_report(person=land.manager, new=new, now=NOON)


def test_tacky_ground_closes_tilling_for_two_days(land: Land) -> None:
    """Dry hours are known from Thursday on, so that the first 24 h cannot say when it last rained."""
    job = land.job("till")
    land.forecast(120)
    assert land.hours(job)[0][0].startswith("Fri 0")
    seen(land, "ground_tacky", 8)
    assert land.hours(job)[0][0] == "Sat 08:00"
    assert land.windows(job)["found"][0]["opens"] == {"key": "ground_fit", "margin": -1.0}


def test_ground_seen_fit_opens_tilling_though_nobody_knows_when_it_last_rained(land: Land) -> None:
    job = land.job("till")
    land.forecast(120)
    seen(land, "ground_tacky", 8)
    seen(land, "ground_fit", 11)
    assert land.hours(job)[0][0] == "Thu 11:00"


def test_a_look_at_the_ground_sets_no_rain_to_come_aside(land: Land) -> None:
    """Tilling stops a whole hour before the hour with 0.2 in, and from 0.25 in on the look is over."""
    job = land.job("till")
    land.forecast(120, rain_in={**span(2, 3, 0.6), **span(14, 15, 0.2)})
    seen(land, "ground_fit", 8)
    first = land.windows(job)["found"][0]
    assert (local(first["from"]), local(first["to"]), first["closes"]["key"]) == (
        "Thu 08:00", "Thu 13:00", "ground_dry",
    )  # fmt: skip


def test_a_look_that_ends_by_the_clock_changes_nothing_that_is_stored(land: Land) -> None:
    """Its hours are counted from the look, so a later walk over everything finds them as they were."""
    job = land.job("till")
    land.forecast(120)
    seen(land, "ground_fit", 8)
    walked = land.windows(job)["found"]
    land.at(NOON + timedelta(hours=6))
    assert land.windows(job)["found"] == walked
    for hours in (40, 47, 52):
        land.at(NOON + timedelta(hours=hours))
        land.windows(job)  # holds itself that nothing differs from a walk over everything


def read_soil(land: Land, value: float, hour: int) -> None:
    at = datetime(2026, 5, 7, hour + 5, tzinfo=UTC)
    new = NewReport(
        client_id=uuid4(), kind=ReportKind.SEEN, happened_at=at, plot=land.plot.pk, outcome="soil_temperature",
        payload={"value": value},
    )  # fmt: skip
    store_report(person=land.manager, new=new, now=NOON)


def planting(land: Land) -> Job:
    limit = {"what": "soil_temperature_f", "at_least": 50, "source": "ksu-fjell-2004"}
    job = land.job("plant", details={"limits": [limit]})
    land.forecast(120)
    return job


def test_cold_soil_that_somebody_read_closes_planting_while_the_reading_stands(land: Land) -> None:
    job = planting(land)
    read_soil(land, 44.0, 8)
    first = land.windows(job)["found"][0]
    assert local(first["from"]) == "Sat 08:00"
    assert first["opens"]["key"] == "soil_temperature_f"


def test_a_reading_that_has_ended_closes_nothing_and_is_told_as_not_known(land: Land) -> None:
    """Without a model: the hours after it are as they were before anybody read anything."""
    job = planting(land)
    before = land.hours(job)
    assert "soil_temperature_f" in land.windows(job)["left_out"]
    read_soil(land, 56.0, 8)
    assert land.hours(job) == before
    assert land.windows(job)["partly"] == ["soil_temperature_f"]
