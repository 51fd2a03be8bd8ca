"""The ground of plots by hour: what was reported, a reckoning of the soil's water, and its temperature at planting
depth. All of it is a hint under what somebody finds with hand and thermometer."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

import numpy as np

from core.models import Holding
from jobs.minutes import day_end, day_start, floor_minute, instant, local_day
from jobs.models import Observation, Report
from jobs.reference import ground_settings
from jobs.selectors.air import AirHours, DayAir, air_hours
from jobs.selectors.hours import PlaceHours
from jobs.selectors.weather import PropertyWeather, property_weather
from jobs.windows import ground
from jobs.windows.choosing import CROP, SOIL, WEEDS
from jobs.windows.ground import GROUND, REPORTS, SEEN, GroundSettings
from jobs.windows.hours import HOUR, RAIN_BEGUN, RAIN_ENDED, RAIN_MOST, Floats, Hours
from plots.agromet.evapotranspiration import of_days, vapour_from_humidity_kpa
from plots.agromet.humid import saturation_kpa
from plots.agromet.soil_temperature import REMEMBERED, AirDay, damping_depth_mm, soil_temperatures
from plots.agromet.soil_water import TEXTURES, available_in_per_ft, bucket
from plots.models import Plot, Property

BACK = timedelta(days=60)
"""So far back the reckonings begin, where days are known."""
HOURS_OF_A_DAY = 20
READ_SOIL = "soil_temperature"
HEIGHTS: Mapping[str, str] = {"crop_height": CROP, "weed_height": WEEDS}
"""By the kind of the observation the quantity that it reads."""
MM_PER_IN = 25.4
FT_PER_M = 3.28084
HALF_FULL = 0.5
"""Share of its available water that the soil is taken to hold for its warmth."""


@dataclass(frozen=True, slots=True)
class PlotHours:
    """Hours by plot (row `place[plot]`), with the ground and the soil's temperature where anybody knows them; by plot
    with a reckoning of the soil's water what its evapotranspiration goes by, in words."""

    hours: Hours
    place: dict[int, int]
    methods: dict[int, str] = field(default_factory=dict)


def plot_hours(known: PlaceHours, plots: Mapping[int, int], holding: Holding, now: datetime) -> PlotHours:
    """The hours of plots ({plot: property}). Three queries, and six more where a texture is known."""
    settings = ground_settings()
    seen, read = _told(plots, known.hours.first, now, settings)
    textures = {
        pk: texture.strip().lower()
        for pk, texture in Plot.objects.filter(pk__in=sorted(plots)).values_list("pk", "texture")
        if texture.strip().lower() in TEXTURES
    }
    if not (seen or read or textures):
        return PlotHours(known.hours, {plot: known.place[place] for plot, place in plots.items()})
    days = _days(known, {plots[plot] for plot in textures}, holding, now, settings)
    order = sorted(plots)
    rows = [known.place[plots[plot]] for plot in order]
    first, count = known.hours.first, known.hours.count
    new = {name: np.full((len(order), count), np.nan) for name in (GROUND, SEEN, SOIL, CROP, WEEDS)}
    for at, plot in enumerate(order):
        shares = warmth = np.full(count, np.nan)
        texture = textures.get(plot)
        if texture is not None and plots[plot] in days:
            shares, warmth = _reckoned(days[plots[plot]], texture, settings, first, count)
        new[SEEN][at] = ground.seen_hours(known.hours, rows[at], seen[plot], settings)
        new[GROUND][at] = ground.ground_hours(new[SEEN][at], shares, settings.share(texture or ground.ANY))
        new[SOIL][at] = ground.read_or_modelled(first, read[plot, READ_SOIL], warmth, settings.reading_hours)
        for kind, name in HEIGHTS.items():
            new[name][at] = ground.read_or_modelled(first, read[plot, kind], new[name][at], settings.height_hours)
    values = {name: column[rows] for name, column in known.hours.values.items()}
    methods = {plot: days[plots[plot]].method for plot in textures if plots[plot] in days}
    place = {plot: at for at, plot in enumerate(order)}
    return PlotHours(Hours(first, len(order), count, {**values, **new}), place, methods)


def _told(
    plots: Mapping[int, int], first: int, now: datetime, settings: GroundSettings
) -> tuple[defaultdict[int, list[ground.Report]], defaultdict[tuple[int, str], list[tuple[int, float]]]]:
    """Reports from the ground by plot and readings by plot and kind that may stand in an hour from the first on, which
    stays the same all day long; without what a later report took back."""
    oldest = first - HOUR * max(settings.report_hours, settings.reading_hours, settings.height_hours)
    kinds = [*REPORTS, READ_SOIL, *HEIGHTS]
    rows = Observation.objects.filter(plot_id__in=sorted(plots), kind__in=kinds, at__gte=instant(oldest))
    told = list(
        rows.filter(at__lte=now).order_by("at", "id").values_list("plot_id", "kind", "at", "value", "report_id")
    )
    taken_back = set(
        Report.objects.filter(corrects_id__in=[row[4] for row in told]).values_list("corrects_id", flat=True)
    )
    seen: defaultdict[int, list[ground.Report]] = defaultdict(list)
    read: defaultdict[tuple[int, str], list[tuple[int, float]]] = defaultdict(list)
    for plot, kind, at, value, report in told:
        if report in taken_back:
            continue
        if kind in REPORTS:
            seen[plot].append(ground.Report(floor_minute(at), kind))
        elif value is not None:
            read[plot, kind].append((floor_minute(at), value))
    return seen, read


@dataclass(frozen=True, slots=True)
class _Day:
    """One local day of a property; None is missing. `start` and `end` are its minutes."""

    start: int
    end: int
    high_f: float | None
    low_f: float | None
    rain_in: float | None


@dataclass(frozen=True, slots=True)
class _Days:
    """Runs of whole days of a property without a gap."""

    runs: list[list[_Whole]]
    yearly_mean_f: float | None

    @property
    def method(self) -> str:
        """Which formula the last run's evapotranspiration goes by; empty without a day."""
        run = self.runs[-1] if self.runs else []
        by_air = sum(day.by_air for day in run)
        counts = ((by_air, "Penman-Monteith"), (len(run) - by_air, "Hargreaves"))
        named = [f"by {name} on {count} day{'' if count == 1 else 's'}" for count, name in counts if count]
        return f"Soil water: evapotranspiration {', '.join(named)}." if named else ""


def _days(
    known: PlaceHours, properties: set[int], holding: Holding, now: datetime, settings: GroundSettings
) -> dict[int, _Days]:
    """Days of properties from two months ago to the end of the hours: typed and observed ones, else made of hours."""
    if not properties:
        return {}
    rows = Property.objects.filter(pk__in=sorted(properties)).values_list("pk", "zone", "latitude")
    places = {pk: (zone or holding.zone, latitude) for pk, zone, latitude in rows}
    zones = {pk: zone for pk, (zone, _) in places.items()}
    today = floor_minute(now)
    first = min(local_day(zone, today) for zone in zones.values()) - BACK
    weather = property_weather(set(places), zones, first)
    air = air_hours(known, {pk: day_start(zone, first) for pk, zone in zones.items()})
    height_m = settings.elevation_ft / FT_PER_M
    found = {}
    for pk, (zone, latitude) in places.items():
        each = _each_day(known, pk, zone, first, weather.get(pk, PropertyWeather()))
        runs = [_reckoned_days(run, air[pk], zone, latitude, height_m) for run in _runs(each)]
        found[pk] = _Days(runs, _yearly_mean(weather.get(pk)))
    return found


def _each_day(known: PlaceHours, place: int, zone: str, first: date, weather: PropertyWeather) -> Iterator[_Day]:
    hours, row = known.hours, known.place[place]
    last = local_day(zone, hours.first + hours.count * HOUR - 1)
    for ahead in range((last - first).days + 1):
        day = first + timedelta(days=ahead)
        start, end = day_start(zone, day), day_end(zone, day)
        low_at, high_at = (start - hours.first) // HOUR, (end - hours.first) // HOUR
        high_low = weather.observed.get(day) or weather.forecast.get(day) or _high_low(hours, row, low_at, high_at)
        rain = weather.rain.get(day)
        if rain is None:
            rain = _rain(hours, row, low_at, high_at)
        high, low = high_low or (None, None)
        yield _Day(start, end, high, low, rain)


def _high_low(hours: Hours, row: int, low_at: int, high_at: int) -> tuple[float, float] | None:
    temps = hours.of("temp_f")[row, max(low_at, 0) : max(high_at, 0)]
    known = temps[~np.isnan(temps)]
    return (float(known.max()), float(known.min())) if len(known) >= HOURS_OF_A_DAY else None


def _rain(hours: Hours, row: int, low_at: int, high_at: int) -> float | None:
    """All that may fall on a day of which nearly every hour is known: totals that begin or end on it count whole."""
    if low_at < 0 or high_at > hours.count:
        return None
    known = ~np.isnan(hours.of(RAIN_MOST)[row, low_at:high_at])
    if known.sum() < HOURS_OF_A_DAY:
        return None
    begun = hours.of(RAIN_BEGUN)[row, high_at] if high_at < hours.count else hours.of(RAIN_ENDED)[row, -1]
    ended = hours.of(RAIN_ENDED)[row, low_at - 1] if low_at > 0 else 0.0
    return float(max(begun - ended, 0.0))


def _yearly_mean(weather: PropertyWeather | None) -> float | None:
    """The mean of a whole year of normals; None where it is not whole."""
    normals = weather.normals.values() if weather is not None else ()
    means = [(high + low) / 2 for high, low, _ in normals if high is not None and low is not None]
    return sum(means) / len(means) if len(means) >= 365 else None


def _reckoned(told: _Days, texture: str, settings: GroundSettings, first: int, count: int) -> tuple[Floats, Floats]:
    """(share of available water, soil temperature in degrees F) by hour, from runs of days without a gap."""
    holds = available_in_per_ft(texture) * settings.depth_in / 12.0
    profile_mm = settings.depth_in * MM_PER_IN
    damping = damping_depth_mm(TEXTURES[texture][2], HALF_FULL * holds * MM_PER_IN, profile_mm)
    shares: list[tuple[int, int, float | None]] = []
    warmth = np.full(count, np.nan)
    for run in told.runs:
        et = [day.et_in for day in run]
        steps = bucket([day.rain for day in run], et, holds_in=holds, start_deficit_in=0.0, crop=settings.dries_at)
        for at, (day, step) in enumerate(zip(run, steps, strict=True)):
            late = step is not None and at >= settings.least_days
            shares.append((day.start, day.end, 1.0 - step.deficit / holds if step is not None and late else None))
        shares.append((run[-1].end, run[-1].end, None))
        if told.yearly_mean_f is None:
            continue
        temperatures = soil_temperatures(
            [AirDay(day.high, day.low, day.mean, day.rain > 0) for day in run],
            yearly_mean_c=(told.yearly_mean_f - 32.0) / 1.8,
            depth_mm=settings.planting_depth_in * MM_PER_IN,
            damping_mm=damping,
        )
        for day, (_, there) in list(zip(run, temperatures, strict=True))[REMEMBERED:]:
            low, high = max((day.start - first) // HOUR, 0), max((day.end - first) // HOUR, 0)
            warmth[low:high] = there * 1.8 + 32.0
    return ground.shares_by_hour(shares, first, count), warmth


@dataclass(frozen=True, slots=True)
class _Whole:
    """A day of which all is known, in degrees Celsius; `by_air`: its evapotranspiration goes by Penman-Monteith."""

    start: int
    end: int
    high: float
    low: float
    mean: float
    rain: float
    et_in: float
    by_air: bool


def _runs(days: Iterable[_Day]) -> Iterator[list[tuple[_Day, float, float, float]]]:
    """Runs of days of which all is known, each with its low and high in degrees C and its rain."""
    run: list[tuple[_Day, float, float, float]] = []
    for day in days:
        if day.high_f is None or day.low_f is None or day.rain_in is None:
            if run:
                yield run
            run = []
        else:
            run.append((day, (day.low_f - 32.0) / 1.8, (day.high_f - 32.0) / 1.8, day.rain_in))
    if run:
        yield run


def _reckoned_days(
    run: list[tuple[_Day, float, float, float]], air: AirHours, zone: str, latitude: float, height_m: float
) -> list[_Whole]:
    low, high = (np.array([row[at] for row in run]) for at in (1, 2))
    said = [air.of_day(day.start, day.end) for day, *_ in run]
    of_year = np.array([local_day(zone, day.start).timetuple().tm_yday for day, *_ in run])
    et, by_air = of_days(
        low,
        high,
        latitude=latitude,
        day=of_year,
        vapour=vapour_kpa(low, high, said),
        wind_2_m=[one.wind_2_m for one in said],
        elevation_m=height_m,
    )
    return [
        _Whole(day.start, day.end, warm, cool, (warm + cool) / 2, rain, float(mm) / MM_PER_IN, bool(modelled))
        for (day, cool, warm, rain), mm, modelled in zip(run, et, by_air, strict=True)
    ]


def vapour_kpa(low_c: Floats, high_c: Floats, air: Sequence[DayAir]) -> Floats:
    """Actual vapour pressure of days: by their dew point, else by the least and greatest humidity; NaN without."""
    dew, least, most = (np.array([getattr(one, name) for one in air]) for name in ("dew_c", "least_pct", "most_pct"))
    by_humidity = vapour_from_humidity_kpa(low_c, high_c, least, most)
    return np.where(np.isnan(dew), by_humidity, saturation_kpa(dew))
