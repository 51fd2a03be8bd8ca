"""The ground by hour: 1 fit, 0 not fit, NaN where nobody says anything. A report goes before the bucket.

Reports and bucket are advice: they never set aside law, label, contract or weather."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from jobs.windows.hours import HOUR, RAIN_BAND, RAIN_BEGUN, RAIN_ENDED, Floats, Hours

GROUND = "ground"
SEEN = "ground_seen"
"""What was reported alone, without the bucket."""
REPORTS: Mapping[str, float] = {"ground_dust": 1.0, "ground_fit": 1.0, "ground_tacky": 0.0, "ground_water": 0.0}
ANY = "any"


@dataclass(frozen=True, slots=True)
class GroundSettings:
    """How long a report stands, when the bucket calls the ground wet; see `fixtures/ground.toml`."""

    report_hours: int
    report_rain_in: float
    depth_in: float
    dries_at: float
    least_days: int
    reading_hours: int
    height_hours: int
    planting_depth_in: float
    elevation_ft: float
    not_fit_share: Mapping[str, float]

    def share(self, texture: str) -> float:
        """The share of its available water above which a soil of this texture is not fit."""
        return self.not_fit_share.get(texture, self.not_fit_share[ANY])


def read_ground(text: str) -> GroundSettings:
    """Raises: ValueError: a figure is missing, unknown or out of range; it is named."""
    table = tomllib.loads(text)
    worth = table.pop("worth", "")
    try:
        found = GroundSettings(**table)
    except TypeError as error:
        raise ValueError(f"The settings of the ground: {error}.") from error
    figures = {name: getattr(found, name) for name in table if name != "not_fit_share"}
    wrong = [name for name, figure in figures.items() if not figure > 0]
    shares = found.not_fit_share
    wrong += [f"not_fit_share.{name}" for name, share in shares.items() if not 0 < share <= 1]
    if ANY not in shares or wrong or not worth:
        raise ValueError(f"The settings of the ground lack their worth or a share for any soil, or are wrong: {wrong}.")
    return found


@dataclass(frozen=True, slots=True)
class Report:
    """What somebody saw at a minute, by the kind of the observation."""

    at: int
    kind: str


def seen_hours(hours: Hours, place: int, reports: Sequence[Report], settings: GroundSettings) -> Floats:
    """By hour what the last report before it says; NaN where none stands any more.

    "Dust" and "fit" end when the rain that may have fallen since reaches the amount, and where rain is not known."""
    found = np.full(hours.count, np.nan)
    for report in sorted(reports, key=lambda one: (one.at, one.kind)):
        start = max((report.at - hours.first) // HOUR, 0)
        end = min(-((hours.first - report.at - settings.report_hours * HOUR) // HOUR), hours.count)
        if start >= end:
            continue
        found[start:] = np.nan
        found[start:end] = REPORTS[report.kind]
        if REPORTS[report.kind]:
            stands = _rain_since(hours, place, start)[start:end] < settings.report_rain_in
            found[start:end][~np.logical_and.accumulate(stands)] = np.nan
    return found


def _rain_since(hours: Hours, place: int, start: int) -> Floats:
    """By hour the most that may have fallen from the hour `start` until it: all totals not over before `start`."""
    begun, ended, band = (hours.of(name)[place] for name in (RAIN_BEGUN, RAIN_ENDED, RAIN_BAND))
    before = ended[start - 1] if start > 0 else 0.0
    return np.where(band == band[start], begun - before, np.nan)


def shares_by_hour(days: Sequence[tuple[int, int, float | None]], first: int, count: int) -> Floats:
    """By hour the share of available water from (start, end, share at its end) of days in order: of the evening before
    and the day's own evening the wetter one, so that rain of the day counts from its first hour."""
    found = np.full(count, np.nan)
    before: float | None = None
    for start, end, share in days:
        low, high = max((start - first) // HOUR, 0), min(-((first - end) // HOUR), count)
        if share is not None and before is not None and low < high:
            found[low:high] = max(before, share)
        before = share
    return found


def ground_hours(seen: Floats, shares: Floats, most_share: float) -> Floats:
    """What was reported, else what the bucket says."""
    hint = np.where(np.isnan(shares), np.nan, np.where(shares > most_share, 0.0, 1.0))
    return np.where(np.isnan(seen), hint, seen)


def read_or_modelled(first: int, readings: Sequence[tuple[int, float]], modelled: Floats, stands_hours: int) -> Floats:
    """A typed reading goes before the model for as long as it stands; (minute, value) in the order of time."""
    found = modelled.copy()
    for at, value in readings:
        start = max((at - first) // HOUR, 0)
        end = min(-((first - at - stands_hours * HOUR) // HOUR), len(found))
        if start < end:
            found[start:] = modelled[start:]
            found[start:end] = value
    return found
