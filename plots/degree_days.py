"""Degree days, and the curve that lags are counted on (D4, D5).

Temperatures are degrees Fahrenheit, degree days integer hundredths, instants whole minutes since 1970-01-01 UTC,
days local civil days of a named zone. Nothing here reads a clock: `today` is an argument.
"""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from functools import lru_cache
from itertools import accumulate, pairwise
from zoneinfo import ZoneInfo

NEG = -(2**40)
FAR = 2**40

HOURS_FOR_A_DAY = 20
"""So many of a day's 24 hours must be observed before its high and low count as observed (D4)."""

NORMAL_YEARS = 2
"""Normals carry a curve so many years past the last known day; then it ends (D4)."""

HighLow = tuple[float, float]


class Curve:
    """Daily values of one series in integer hundredths, past and to come, with the four lag functions of D5.

    Day k is the local civil day from `day_starts[k]` to `day_starts[k + 1]` (minutes since 1970-01-01 UTC, so
    `len(day_starts) == len(values) + 1`); `values[k] >= 0`; `sources[k]` is "observed", "forecast", "normal" or, on
    a rain curve, "missing". `totals[k]` is the sum of the values of days 0 to k. A day's value is complete when the
    day ends, so the sum known at an instant is that of the last day ended by it.

    An instant outside the days we know has no sum to count from: `reach` and `hold` answer FAR, `latest_anchor` and
    `earliest_anchor` answer NEG. Amounts below 0 count as 0.
    """

    __slots__ = ("day_starts", "sources", "totals", "values")

    def __init__(self, day_starts: Sequence[int], values: Sequence[int], sources: Sequence[str]) -> None:
        if len(day_starts) != len(values) + 1 or len(sources) != len(values):
            raise ValueError(
                f"{len(values)} days need {len(values) + 1} day starts and {len(values)} sources, "
                f"not {len(day_starts)} and {len(sources)}."
            )
        if any(later < earlier for earlier, later in pairwise(day_starts)):
            raise ValueError("The day starts are out of order.")
        if any(value < 0 for value in values):
            raise ValueError("A day's value is below 0.")
        self.day_starts = list(day_starts)
        self.values = list(values)
        self.sources = list(sources)
        self.totals = list(accumulate(self.values))

    def __len__(self) -> int:
        return len(self.values)

    def day(self, instant: int) -> int | None:
        """Index of the day the instant lies in; None outside the curve."""
        found = bisect_right(self.day_starts, instant) - 1
        return found if 0 <= found < len(self.values) else None

    def last_ended(self, instant: int) -> int:
        """Index of the last day that has ended by the instant; -1 if none has."""
        return bisect_right(self.day_starts, instant, lo=1) - 2

    def counted(self, anchor: int, instant: int) -> int | None:
        """Sum from the day after the anchor's to the last day ended by the instant; None if the anchor's is unknown."""
        day = self.day(anchor)
        if day is None:
            return None
        return self.totals[max(self.last_ended(instant), day)] - self.totals[day]

    def reach(self, anchor: int, hundredths: int) -> int:
        """f: end of the first day k with total(k) - total(day of anchor) >= hundredths; FAR beyond the last day.

        The day is never one before the anchor's own, so an amount of 0 is reached when the anchor's day ends.
        """
        day = self.day(anchor)
        if day is None:
            return FAR
        k = bisect_left(self.totals, self.totals[day] + max(hundredths, 0), lo=day)
        return self.day_starts[k + 1] if k < len(self.totals) else FAR

    def latest_anchor(self, instant: int, hundredths: int) -> int:
        """g: last minute of the largest day k with total(k) <= total(last day ended by instant) - hundredths; else NEG.

        Law, for anchors t inside the curve: reach(t, D) <= s  <=>  t <= latest_anchor(s, D). FAR bounds nothing.
        """
        if instant >= FAR:
            return FAR
        last = self.last_ended(instant)
        if last < 0:
            return NEG
        k = bisect_right(self.totals, self.totals[last] - max(hundredths, 0), hi=last + 1) - 1
        return self.day_starts[k + 1] - 1 if k >= 0 else NEG

    def hold(self, anchor: int, hundredths: int) -> int:
        """h: last minute before the sum counted from the day after the anchor exceeds hundredths, or FAR."""
        day = self.day(anchor)
        if day is None:
            return FAR
        k = bisect_right(self.totals, self.totals[day] + max(hundredths, 0), lo=day)
        return self.day_starts[k + 1] - 1 if k < len(self.totals) else FAR

    def earliest_anchor(self, instant: int, hundredths: int) -> int:
        """Lower adjoint of h: the least t with hold(t, D) >= instant.

        Law, for anchors t inside the curve: hold(t, D) >= s  <=>  t >= earliest_anchor(s, D). NEG if all of them do.
        """
        last = self.last_ended(instant)
        if last < 0:
            return NEG
        k = bisect_left(self.totals, self.totals[last] - max(hundredths, 0), hi=last)
        return self.day_starts[k] if k else NEG


@dataclass(frozen=True, slots=True)
class DegreeDaySpec:
    """How a crop's degree days are counted.

    `modified`: high and low are each brought between base and cap before they are averaged (86/50 for corn: Ohio
    State University Extension AGF-101, 2017). `simple`: the plain average, at most the cap if there is one. Both
    subtract the base and are never below 0. `key` is the short form, "86/50" or "40".
    """

    base_f: float
    cap_f: float | None = None
    method: str = "simple"

    def __post_init__(self) -> None:
        if self.method not in ("modified", "simple"):
            raise ValueError(f"The method is '{self.method}'. Give 'modified' or 'simple'.")
        if self.cap_f is None and self.method == "modified":
            raise ValueError("The modified method needs a cap, as in 86/50.")
        if self.cap_f is not None and self.cap_f <= self.base_f:
            raise ValueError(f"The cap {self.cap_f:g} is not above the base {self.base_f:g}.")

    @classmethod
    def parse(cls, key: str) -> DegreeDaySpec:
        """Read "86/50" (modified, cap before base) or "40" (simple); ValueError in plain words for anything else."""
        cap, slash, base = key.strip().rpartition("/")
        try:
            numbers = [float(base), float(cap) if slash else None]
        except ValueError:
            numbers = [math.nan]
        if any(number is not None and not math.isfinite(number) for number in numbers):
            raise ValueError(
                f"'{key}' names no way to count degree days. Give cap and base like 86/50, or a base like 40."
            )
        return cls(float(base), numbers[1], "modified" if slash else "simple")

    @property
    def key(self) -> str:
        if self.method == "modified":
            return f"{self.cap_f:g}/{self.base_f:g}"
        return f"{self.base_f:g}" if self.cap_f is None else f"{self.base_f:g} to {self.cap_f:g}"


CORN = DegreeDaySpec(50, 86, "modified")


def hundredths(number: float) -> int:
    """The number in hundredths, halves up; ValueError if it is not finite."""
    if not math.isfinite(number):
        raise ValueError("A value is not a number.")
    return math.floor(number * 100 + 0.5)


@lru_cache(maxsize=16_384)
def degree_days(high_f: float, low_f: float, spec: DegreeDaySpec = CORN) -> int:
    """Degree days of one day in integer hundredths.

    Rounding: each temperature to its nearest hundredth of a degree (halves up), exact whole-number sums from there,
    and the half that averaging may leave goes up. ValueError if the low is above the high.
    """
    high, low, base = hundredths(high_f), hundredths(low_f), hundredths(spec.base_f)
    if low > high:
        raise ValueError(f"The low {low_f:g} is above the high {high_f:g}. Check both.")
    cap = None if spec.cap_f is None else hundredths(spec.cap_f)
    if spec.method == "modified" and cap is not None:
        high, low = (min(max(value, base), cap) for value in (high, low))
    twice = high + low
    if cap is not None:
        twice = min(twice, 2 * cap)
    return max(0, (twice - 2 * base + 1) // 2)


def day_starts(zone: str, first_day: date, count: int) -> list[int]:
    """The first instants of `count` local days and the end of the last: count + 1 minutes since 1970-01-01 UTC.

    Days of 23 and 25 hours come out as such. Where midnight is skipped the day starts at the skip; where it comes
    twice, at the first of the two. Raises zoneinfo.ZoneInfoNotFoundError for an unknown zone.
    """
    return [_midnight(zone, first_day + timedelta(days=offset)) for offset in range(count + 1)]


@lru_cache(maxsize=16_384)
def _midnight(zone: str, day: date) -> int:
    midnight = datetime(day.year, day.month, day.day, tzinfo=ZoneInfo(zone))
    return int(midnight.astimezone(UTC).timestamp()) // 60


def days_from_hours(hours: Mapping[int, float], zone: str) -> dict[date, HighLow]:
    """High and low of every local day with at least 20 observed hours.

    `hours` maps minutes since 1970-01-01 UTC to degrees F. Several readings in one clock hour count as one hour, yet
    each may set the high or the low.
    """
    tz = ZoneInfo(zone)
    readings: dict[date, list[float]] = {}
    seen: dict[date, set[int]] = {}
    for minute in sorted(hours):
        day = datetime.fromtimestamp(minute * 60, tz).date()
        readings.setdefault(day, []).append(hours[minute])
        seen.setdefault(day, set()).add(minute // 60)
    return {day: (max(temps), min(temps)) for day, temps in readings.items() if len(seen[day]) >= HOURS_FOR_A_DAY}


@dataclass(frozen=True, slots=True)
class NormalDay:
    """A station's normal day. `published` is its printed degree days for the spec in use, not in hundredths."""

    high_f: float | None = None
    low_f: float | None = None
    published: float | None = None

    def value(self, spec: DegreeDaySpec) -> tuple[int, bool] | None:
        """(hundredths, computed from normal high and low?), or None if this normal says neither."""
        if self.published is not None:
            return hundredths(self.published), False
        if self.high_f is None or self.low_f is None:
            return None
        return degree_days(self.high_f, self.low_f, spec), True


@dataclass(frozen=True, slots=True)
class CurveReport:
    """A curve and what must be said beside it.

    `first_day` is the date of the curve's day 0. `missing` are past days without an observation, counted as normal.
    `computed_normals` says that some normal day was reckoned from a normal high and low, which is not the same as a
    published degree-day normal: the mean of clamped days is not the clamp of the means. `ends_at_gap` is the first
    day that nothing at all is known about, if that is what ended the curve.
    """

    curve: Curve
    first_day: date
    missing: tuple[date, ...]
    computed_normals: bool
    ends_at_gap: date | None


def degree_day_curve(
    spec: DegreeDaySpec,
    zone: str,
    first_day: date,
    today: date,
    observed: Mapping[date, HighLow],
    forecast: Mapping[date, HighLow],
    normals: Mapping[str, NormalDay],
) -> CurveReport:
    """Degree days day by day: observed, else forecast, else normal (D4).

    `observed` holds (high, low) that were typed or stand on at least 20 hours; a date after `today` is no observation
    and is passed over, as is a forecast for a day before it. `normals` goes by month and day ("05-09"); 29 February
    counts as 28 February. The curve starts at `first_day`, or a day before the first one after it that anything is
    known about, as counting from there needs no value of its own; it ends two years past the last known day, or before
    the first day with neither value nor normal.
    """
    observed = {day: temps for day, temps in observed.items() if day <= today}
    forecast = {day: temps for day, temps in forecast.items() if day >= today}
    last_known = max([*observed, *forecast], default=today)
    end = _years_later(last_known, NORMAL_YEARS)
    values: list[int] = []
    sources: list[str] = []
    missing: list[date] = []
    computed = False
    gap: date | None = None
    start = day = first_day
    while day <= end:
        if day in observed or day in forecast:
            source, temps = ("observed", observed[day]) if day in observed else ("forecast", forecast[day])
            values.append(degree_days(*temps, spec))
            sources.append(source)
        else:
            normal = normals.get("02-28" if (day.month, day.day) == (2, 29) else f"{day:%m-%d}")
            known = normal.value(spec) if normal else None
            if known is not None:
                values.append(known[0])
                sources.append("normal")
                computed = computed or known[1]
                if day < today:
                    missing.append(day)
            elif values:
                gap = day
                break
            else:
                start = day + timedelta(days=1)
        day += timedelta(days=1)
    if values and start > first_day:
        start -= timedelta(days=1)
        values.insert(0, 0)
        sources.insert(0, "not known")
    curve = Curve(day_starts(zone, start, len(values)), values, sources)
    return CurveReport(curve, start, tuple(missing), computed, gap)


def rain_curve(zone: str, first_day: date, last_day: date, observed: Mapping[date, float]) -> Curve:
    """Rain in hundredths of an inch, day by day from `first_day` to `last_day`: what was not observed counts as 0.

    `last_day` is the last day that can have been observed; forecasts and normals have no part in it (D4, D5).
    """
    days = [first_day + timedelta(days=offset) for offset in range((last_day - first_day).days + 1)]
    values = [hundredths(observed[day]) if day in observed else 0 for day in days]
    sources = ["observed" if day in observed else "missing" for day in days]
    return Curve(day_starts(zone, first_day, len(days)), values, sources)


def _years_later(day: date, years: int) -> date:
    """The same date in a later year; 29 February becomes 28 February."""
    return day.replace(year=day.year + years, day=28 if (day.month, day.day) == (2, 29) else day.day)
