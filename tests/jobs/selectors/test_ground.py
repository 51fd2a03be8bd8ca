"""The ground of plots: what people reported, a bucket by texture, soil temperature typed or reckoned."""

from datetime import UTC, date, datetime, timedelta
from uuid import uuid4

import numpy as np
import pytest

from core.models import Graph, Holding, Person, Role
from jobs.models import Observation, Report, ReportKind
from jobs.selectors.air import air_hours
from jobs.selectors.ground import plot_hours, vapour_kpa
from jobs.selectors.hours import BEHIND_H, hours_at
from jobs.windows.choosing import SOIL
from jobs.windows.ground import GROUND, SEEN
from plots.agromet.evapotranspiration import of_days
from plots.models import Day, DayKind, Hour, Normal, Plot, Property, PropertySeries, RainTotal, Series

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 5, 7, 12, tzinfo=UTC)


@pytest.fixture
def plot() -> Plot:
    holding = Holding.objects.create(name="Kettle Run", zone="UTC")
    Graph.objects.create(holding=holding)
    place = Property.objects.create(holding=holding, name="Home", latitude=39.0, longitude=-85.0, zone="UTC")
    series = Series.objects.create(source="typed", place="yard")
    PropertySeries.objects.create(holding=holding, property=place, rank=1, series=series)
    return Plot.objects.create(holding=holding, property=place, name="Ridge", acres_typed=1.0)


def dry_forecast() -> None:
    """Every hour from three days ago to a week ahead: 50 to 72 F, no rain."""
    series, first = Series.objects.get(), NOW - timedelta(hours=72)
    for hour in range(72 + 192):
        at = first + timedelta(hours=hour)
        temp = 72.0 if at.hour == 15 else 50.0
        Hour.objects.create(series=series, at=at, kind=DayKind.FORECAST, issued_at=NOW, temp_f=temp)
        RainTotal.objects.create(series=series, starts=at, ends=at + timedelta(hours=1), issued_at=NOW, rain_in=0.0)


def days(count: int, rain_in: float | None = 0.0, last_rain_in: float = 0.0) -> None:
    """Typed days up to yesterday, highs 72 and lows 50."""
    for back in range(count, 0, -1):
        rain = last_rain_in if back == 1 else rain_in
        on = date(2026, 5, 7) - timedelta(days=back)
        Day.objects.create(series=Series.objects.get(), date=on, high_f=72.0, low_f=50.0, rain_in=rain)


def year_of_normals(mean_f: float) -> None:
    series = Series.objects.get()
    for ahead in range(365):
        on = date(2026, 1, 1) + timedelta(days=ahead)
        Normal.objects.create(series=series, month_day=f"{on:%m-%d}", high_f=mean_f + 10, low_f=mean_f - 10)


def value(plot: Plot, name: str, ahead: int = 0) -> float:
    known = hours_at([plot.property_id], NOW)
    found = plot_hours(known, {plot.pk: plot.property_id}, plot.holding, NOW)
    return float(found.hours.of(name)[found.place[plot.pk], BEHIND_H + ahead])


def seen(plot: Plot, kind: str, hours_ago: float, figure: float | None = None) -> Observation:
    at = NOW - timedelta(hours=hours_ago)
    return Observation.objects.create(holding=plot.holding, plot=plot, kind=kind, at=at, value=figure)


def test_without_anything_said_the_hours_are_the_propertys(plot: Plot) -> None:
    known = hours_at([plot.property_id], NOW)
    found = plot_hours(known, {plot.pk: plot.property_id}, plot.holding, NOW)
    assert found.hours is known.hours
    assert np.isnan(value(plot, GROUND))


def test_a_report_says_how_the_ground_is_for_two_days(plot: Plot) -> None:
    dry_forecast()
    seen(plot, "ground_fit", 4)
    assert (value(plot, GROUND), value(plot, SEEN, 43)) == (1.0, 1.0)
    assert np.isnan(value(plot, GROUND, 44))


def test_a_report_that_was_taken_back_says_nothing(plot: Plot) -> None:
    dry_forecast()
    person = Person.objects.create(holding=plot.holding, name="Ada", role=Role.HELPER)
    told = {"holding": plot.holding, "person": person, "plot": plot, "happened_at": NOW, "received_at": NOW}
    first = Report.objects.create(**told, kind=ReportKind.SEEN, client_id=uuid4(), outcome="ground_fit")
    Observation.objects.create(holding=plot.holding, plot=plot, kind="ground_fit", at=NOW, report=first)
    assert value(plot, GROUND) == 1.0
    Report.objects.create(**told, kind=ReportKind.WITHDRAWN, client_id=uuid4(), corrects=first)
    assert np.isnan(value(plot, GROUND))


def textured(plot: Plot) -> None:
    Plot.objects.update(texture="Silt loam")


def test_the_bucket_says_wet_after_rain_and_fit_after_dry_weeks(plot: Plot) -> None:
    textured(plot)
    dry_forecast()
    days(40)
    assert value(plot, GROUND) == 1.0
    Day.objects.filter(date=date(2026, 5, 6)).update(rain_in=4.0)
    assert value(plot, GROUND) == 0.0


def test_a_report_goes_before_the_bucket(plot: Plot) -> None:
    textured(plot)
    dry_forecast()
    days(40, last_rain_in=4.0)
    seen(plot, "ground_dust", 1)
    assert value(plot, GROUND) == 1.0
    seen(plot, "ground_water", 0.5)
    assert value(plot, GROUND) == 0.0


@pytest.mark.parametrize("gap", ["rain_in", "high_f"])
def test_a_day_that_is_missing_begins_the_bucket_anew(plot: Plot, gap: str) -> None:
    textured(plot)
    days(40)
    Day.objects.filter(date=date(2026, 5, 2)).update(**{gap: None})
    assert np.isnan(value(plot, GROUND, -20))


def test_a_texture_that_is_not_listed_gives_no_bucket(plot: Plot) -> None:
    Plot.objects.update(texture="black gumbo")
    days(40)
    assert np.isnan(value(plot, GROUND, -20))


def test_a_typed_soil_temperature_goes_before_the_reckoned_one(plot: Plot) -> None:
    textured(plot)
    dry_forecast()
    days(50)
    year_of_normals(53.0)
    reckoned = value(plot, SOIL)
    assert 55.0 < reckoned < 65.0  # bare soil at 2 in, air around 61 F, yearly mean 53 F
    seen(plot, "soil_temperature", 2, 51.0)
    assert value(plot, SOIL) == 51.0
    assert value(plot, SOIL, 47) == pytest.approx(reckoned, abs=1.0)


def test_without_a_whole_year_of_normals_no_soil_temperature_is_reckoned(plot: Plot) -> None:
    textured(plot)
    dry_forecast()
    days(50)
    assert np.isnan(value(plot, SOIL))
    seen(plot, "soil_temperature", 2, 51.0)
    assert value(plot, SOIL) == 51.0


def airy(on: date, values: dict[str, float], hours: int = 24) -> None:
    """Observed hours of a day; the night as cool, the afternoon as warm as `days` say."""
    for hour in range(hours):
        at = datetime(on.year, on.month, on.day, hour, tzinfo=UTC)
        temp = 72.0 if hour == 15 else 50.0
        Hour.objects.create(series=Series.objects.get(), at=at, kind=DayKind.OBSERVED, temp_f=temp, **values)


def method(plot: Plot) -> str:
    known = hours_at([plot.property_id], NOW)
    return plot_hours(known, {plot.pk: plot.property_id}, plot.holding, NOW).methods.get(plot.pk, "")


def test_evapotranspiration_goes_by_temperatures_where_nothing_else_is_known(plot: Plot) -> None:
    textured(plot)
    days(40)
    assert method(plot) == "Soil water: evapotranspiration by Hargreaves on 40 days."


@pytest.mark.parametrize("back", [1, 30], ids=["in the frame", "before it"])
@pytest.mark.parametrize(
    ("values", "chosen"),
    [
        ({"humidity_pct": 60.0, "wind_mph": 6.0}, True),
        ({"dew_point_f": 48.0, "wind_mph": 6.0}, True),
        ({"humidity_pct": 60.0}, False),
        ({"wind_mph": 6.0}, False),
    ],
)
def test_a_day_whose_air_is_known_goes_by_the_fuller_formula(
    plot: Plot, back: int, values: dict[str, float], chosen: bool
) -> None:
    textured(plot)
    days(40)
    airy(date(2026, 5, 7) - timedelta(days=back), values)
    both = "by Penman-Monteith on 1 day, by Hargreaves on 39 days"
    said = both if chosen else "by Hargreaves on 40 days"
    assert method(plot) == f"Soil water: evapotranspiration {said}."


@pytest.mark.parametrize(("hours", "chosen"), [(19, False), (20, True)])
def test_a_day_with_a_gap_in_its_air_goes_by_temperatures(plot: Plot, hours: int, chosen: bool) -> None:
    textured(plot)
    days(40)
    airy(date(2026, 4, 7), {"humidity_pct": 60.0, "wind_mph": 6.0}, hours)
    assert ("Penman-Monteith" in method(plot)) is chosen


def test_the_better_rank_tells_the_air_of_an_hour(plot: Plot) -> None:
    first, second = Series.objects.get(), Series.objects.create(source="typed", place="far")
    PropertySeries.objects.create(holding=plot.holding, property=plot.property, rank=2, series=second)
    at = datetime(2026, 4, 7, tzinfo=UTC)
    for series, wind in ((second, 20.0), (first, 5.0)):
        for hour in range(24):
            Hour.objects.create(series=series, at=at + timedelta(hours=hour), wind_mph=wind)
    start = int(at.timestamp()) // 60
    air = air_hours(hours_at([plot.property_id], NOW), {plot.property_id: start})[plot.property_id]
    assert air.of_day(start, start + 24 * 60).wind_2_m == pytest.approx(5 * 0.44704 * 0.748, rel=1e-3)


def test_a_published_day_comes_through_the_same_way(plot: Plot) -> None:
    """FAO Irrigation and Drainage Paper 56 (Allen, Pereira, Raes, Smith), Rome 1998, example 18: Uccle, 6 July, 12.3 to
    21.5 C, humidity 63 to 84 percent, wind 2.78 m/s at 10 m, radiation 22.07: u2 2.078, ea 1.409 kPa, ETo 3.9 mm."""
    Property.objects.update(latitude=50.8)
    day = datetime(2026, 4, 7, tzinfo=UTC)
    for hour in range(24):
        Hour.objects.create(
            series=Series.objects.get(),
            at=day + timedelta(hours=hour),
            humidity_pct=84.0 if hour < 8 else 63.0,
            wind_mph=2.78 / 0.44704,
        )
    start = int(day.timestamp()) // 60
    known = hours_at([plot.property_id], NOW)
    air = air_hours(known, {plot.property_id: start})[plot.property_id].of_day(start, start + 24 * 60)
    low, high = np.array([12.3]), np.array([21.5])
    vapour = vapour_kpa(low, high, [air])
    assert [air.wind_2_m, vapour[0]] == pytest.approx([2.079, 1.409], abs=2e-3)
    et, by_air = of_days(
        low, high, latitude=50.8, day=[187], vapour=vapour, wind_2_m=air.wind_2_m, elevation_m=100, solar=22.07
    )
    assert float(et[0]) == pytest.approx(3.88, abs=0.01)
    assert bool(by_air[0])
