"""Rivers at properties: stages in the hours of a property, windows that a river takes, and what has to be out."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from core.models import Graph, Holding
from jobs.minutes import floor_minute
from jobs.models import Job, JobState, Season, Sequence
from jobs.selectors.hours import BEHIND_H, hours_at
from jobs.selectors.water import water_coming
from jobs.windows.water import GOOD_FOR, STAGE
from plots.models import DayKind, Gauge, Machine, Plot, PlotKind, Property, PropertyGauge, Reading
from tests.jobs.api.documents import strip_of_oats
from tests.jobs.api.matrix import reckon

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 4, 14, 12, tzinfo=UTC)
SITE = "03304050"


@pytest.fixture
def holding() -> Holding:
    holding = Holding.objects.create(name="Kettle Run", zone="America/Chicago")
    Graph.objects.create(holding=holding)
    return holding


@pytest.fixture
def place(holding: Holding) -> Property:
    return Property.objects.create(
        holding=holding, name="Bottoms", latitude=37.2, longitude=-85.4, zone="America/Chicago"
    )


@pytest.fixture
def gauge() -> Gauge:
    gauge = Gauge.objects.create(site=SITE, name="Mill gauge", action_ft=15.0, category="no_flooding")
    for hours, feet in ((-2, 8.0), (-1, 9.0), (0, 10.0)):
        Reading.objects.create(gauge=gauge, at=NOW + timedelta(hours=hours), feet=feet)
    return gauge


def tied(place: Property, **fields: float | bool | None) -> PropertyGauge:
    return PropertyGauge.objects.create(holding=place.holding, property=place, site=SITE, **fields)


def forecast(gauge: Gauge, *stages: tuple[int, float], issued: datetime = NOW) -> None:
    for hours, feet in stages:
        at = NOW + timedelta(hours=hours)
        Reading.objects.create(gauge=gauge, at=at, kind=DayKind.FORECAST, feet=feet, issued_at=issued)


def stage(place: Property, hours: int) -> float:
    found = hours_at([place.pk], NOW)
    return float(found.hours.of(STAGE)[found.place[place.pk], BEHIND_H + hours])


def test_the_stage_stands_among_the_hours_read_before_and_forecast_after(place: Property, gauge: Gauge) -> None:
    tied(place, level_ft=16.0)
    forecast(gauge, (6, 12.0), (12, 18.0))
    assert (stage(place, -1), stage(place, 3), stage(place, 7)) == (10.0, 12.0, 18.0)
    assert np.isnan(stage(place, 12))


def test_an_old_forecast_of_the_stage_is_none(place: Property, gauge: Gauge) -> None:
    tied(place, level_ft=16.0)
    forecast(gauge, (6, 12.0), issued=NOW - timedelta(hours=25))
    assert stage(place, 1) == 10.0
    assert np.isnan(stage(place, 4))


@pytest.mark.parametrize("category", ["obs_not_current", "out_of_service", "not_defined"])
def test_a_gauge_that_is_not_current_is_not_known(place: Property, gauge: Gauge, category: str) -> None:
    Gauge.objects.update(category=category)
    tied(place, level_ft=16.0)
    assert np.isnan(stage(place, 0))
    (told,) = water_coming(place.holding, NOW)
    assert (told["state"], told["stage_ft"]) == ("unknown", None)


def test_a_property_without_a_gauge_has_no_gate_and_is_not_told(place: Property, gauge: Gauge) -> None:
    assert hours_at([place.pk], NOW).gates == {}
    assert water_coming(place.holding, NOW) == []


def test_hours_go_stale_with_the_reading(place: Property, gauge: Gauge) -> None:
    tied(place, level_ft=16.0)
    assert hours_at([place.pk], NOW).stale_at == floor_minute(NOW) + GOOD_FOR + 1
    forecast(gauge, (6, 12.0), issued=NOW - timedelta(hours=23))
    assert hours_at([place.pk], NOW).stale_at == floor_minute(NOW) + 60 + 1


def test_the_action_stage_stands_in_only_without_an_own_level_and_is_named(place: Property, gauge: Gauge) -> None:
    link = tied(place)
    forecast(gauge, (6, 15.5))
    (told,) = water_coming(place.holding, NOW)
    assert (told["level_ft"], told["by_action"], told["state"]) == (15.0, True, "coming")
    assert "15 ft (its action stage)" in told["sentences"][0]
    PropertyGauge.objects.filter(pk=link.pk).update(level_ft=18.0)
    (told,) = water_coming(place.holding, NOW)
    assert (told["level_ft"], told["by_action"], told["state"]) == (18.0, False, "clear")
    PropertyGauge.objects.filter(pk=link.pk).update(level_ft=None, use_action=False)
    (told,) = water_coming(place.holding, NOW)
    assert (told["level_ft"], told["state"]) == (None, "no_level")


def test_a_silent_gauge_is_said_with_its_last_reading(place: Property, gauge: Gauge) -> None:
    tied(place, level_ft=16.0)
    (told,) = water_coming(place.holding, NOW + timedelta(hours=4))
    assert told["state"] == "unknown"
    assert told["sentences"] == [
        "Bottoms: no reading of Mill gauge since Tue 14 Apr 07:00. Its stage is not known; look before you drive."
    ]


def test_what_stands_there_is_listed_with_when_to_begin(holding: Holding, place: Property, gauge: Gauge) -> None:
    """16 ft is passed 10 h from now (12 ft after 6, 18 ft after 12), 15 ft after 9: 16:00 local."""
    tied(place, level_ft=16.0)
    forecast(gauge, (6, 12.0), (12, 18.0), (18, 17.0))
    Machine.objects.create(holding=holding, name="Blue tractor", kind="tractor", at_property=place)
    Plot.objects.create(holding=holding, property=place, name="Oak", acres_typed=0.1, kind=PlotKind.FEEDING_PLACE)
    beans = Plot.objects.create(holding=holding, property=place, name="Beans", acres_typed=2.0)
    document = strip_of_oats()
    sequence = Sequence.objects.create(holding=holding, key="oats", name="Oats", document=document)
    season = Season.objects.create(
        holding=holding, plot=beans, sequence=sequence, label="Beans", year=2026,
        first_day="2026-01-01", last_day="2026-12-31",
    )  # fmt: skip

    def job(operation: str, title: str, state: str) -> Job:
        row = Job.objects.create(
            holding=holding,
            plot=beans,
            season=season,
            operation=operation,
            title=title,
            duration_min=240,
            step=operation,
        )
        reckon(row, state=state)
        return row

    built, down = (
        job("fence", "Build the fence", JobState.OPEN),
        job("open_fence", "Take down the fence", JobState.HELD),
    )
    (told,) = water_coming(holding, NOW)
    assert [one["what"] for one in told["out"]] == ["Blue tractor", "the feeder at Oak"]
    built.reckoning.state = JobState.DONE
    built.reckoning.save()
    (told,) = water_coming(holding, NOW)
    assert told["sentences"] == [
        "Bottoms: Mill gauge passes 16 ft (the level set for it) Tue 14 Apr 17:00 at the earliest and crests at 18 ft "
        "Tue 14 Apr 19:00. Everything is to be out by Tue 14 Apr 16:00."
    ]
    assert [(one["job"], one["sentence"]) for one in told["out"]] == [
        (down.pk, "Take down the fence (Beans): begin by Tue 14 Apr 12:00, it takes 240 min."),
        (None, "Blue tractor: begin by Tue 14 Apr 15:00, it takes 60 min."),
        (None, "the feeder at Oak: begin by Tue 14 Apr 15:00, it takes 60 min."),
    ]


def test_nobody_is_sent_into_the_water(holding: Holding, place: Property, gauge: Gauge) -> None:
    tied(place, level_ft=9.5)
    Machine.objects.create(holding=holding, name="Blue tractor", kind="tractor", at_property=place)
    (told,) = water_coming(holding, NOW)
    assert told["state"] == "in"
    assert told["out"][0]["sentence"] == "Blue tractor stands there still. Nobody drives into the water for it."


def test_the_most_pressing_place_comes_first(holding: Holding, place: Property, gauge: Gauge) -> None:
    tied(place, level_ft=17.0)
    oxbow = Property.objects.create(holding=holding, name="Oxbow", latitude=37.2, longitude=-85.4)
    tied(oxbow, level_ft=12.0)
    forecast(gauge, (6, 12.0), (12, 18.0))
    assert [told["name"] for told in water_coming(holding, NOW)] == ["Oxbow", "Bottoms"]
