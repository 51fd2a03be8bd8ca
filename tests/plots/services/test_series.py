"""Values of a series wake those who read it, and only its owner writes them."""

from datetime import date

import pytest

from core.errors import NotAllowed, Refused
from core.models import Graph, Holding, Person, Touched
from plots.models import Day, Property, PropertySeries, Series
from plots.services.series import remove_values, save_series, save_values, touch_readers, typed_source

pytestmark = pytest.mark.django_db


def reads(holding: Holding, series: Series, name: str = "Land") -> None:
    land = Property.objects.create(holding=holding, name=name, latitude=40, longitude=-91, zone="America/Chicago")
    PropertySeries.objects.create(holding=holding, property=land, rank=1, series=series)


def versions(*holdings: Holding) -> list[int]:
    return [Graph.objects.get(holding=holding).facts_version for holding in holdings]


@pytest.fixture
def own(holding: Holding) -> Series:
    return Series.objects.create(owner=holding, source=typed_source(holding.pk), place="yard")


@pytest.fixture
def station() -> Series:
    return Series.objects.create(source="station", place="somewhere")


def test_public_series_wakes_every_holding_that_ranks_it_once(
    station: Series, holding: Holding, other_holding: Holding, holding_factory: object
) -> None:
    silent = holding_factory()  # type: ignore[operator]
    reads(other_holding, station)
    reads(holding, station)
    reads(holding, station, "More land")
    before = versions(holding, other_holding, silent)
    assert touch_readers(station.pk) == [holding.pk, other_holding.pk]
    assert versions(holding, other_holding, silent) == [before[0] + 1, before[1] + 1, before[2]]
    assert set(Touched.objects.values_list("key", flat=True)) == {f"series:{station.pk}"}


def test_new_changed_and_removed_value_wakes_the_reader(own: Series, holding: Holding, manager: Person) -> None:
    reads(holding, own)
    seen = versions(holding)
    day = save_values(row=Day(series=own, date=date(2026, 4, 1), high_f=60.0), by=manager)
    seen += versions(holding)
    day.high_f = 61.0
    save_values(row=day, by=manager, fields=["high_f"])
    seen += versions(holding)
    remove_values(row=day, by=manager)
    seen += versions(holding)
    assert seen == sorted(set(seen))
    assert not Day.objects.exists()


def test_value_that_moves_to_another_series_wakes_readers_of_both(
    own: Series, holding: Holding, manager: Person
) -> None:
    second = save_series(row=Series(owner=holding, source=own.source, place="pond"), by=manager)
    reads(holding, own)
    reads(holding, second, "By the pond")
    day = save_values(row=Day(series=own, date=date(2026, 4, 1)), by=manager)
    Touched.objects.all().delete()
    day.series = second
    save_values(row=day, by=manager, fields=["series"])
    keys = set(Touched.objects.values_list("key", flat=True))
    assert keys == {f"series:{own.pk}", f"series:{second.pk}"}


def test_values_of_a_station_or_of_somebody_else_are_not_written(
    own: Series, station: Series, manager: Person, other_manager: Person
) -> None:
    for series, person in ((station, manager), (own, other_manager)):
        with pytest.raises(NotAllowed):
            save_values(row=Day(series=series, date=date(2026, 4, 1)), by=person)
        with pytest.raises(NotAllowed):
            remove_values(row=series, by=person)
    theirs = Day.objects.create(series=station, date=date(2026, 4, 1))
    theirs.series = own
    with pytest.raises(NotAllowed):
        save_values(row=theirs, by=manager, fields=["series"])
    assert Day.objects.get().series_id == station.pk


def test_high_below_low_is_refused_and_nobody_is_woken(own: Series, holding: Holding, manager: Person) -> None:
    reads(holding, own)
    before = versions(holding)
    with pytest.raises(Refused, match="high is below its low"):
        save_values(row=Day(series=own, date=date(2026, 4, 1), high_f=40.0, low_f=50.0), by=manager)
    assert versions(holding) == before
