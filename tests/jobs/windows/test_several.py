"""Windows of many jobs at once are those of each alone; each limit is worked out once."""

from __future__ import annotations

from dataclasses import dataclass
from random import Random

import numpy as np
import pytest

from jobs.windows import several
from jobs.windows.choosing import Chosen
from jobs.windows.finding import held, windows
from jobs.windows.hours import HOUR, Floats, Hours
from jobs.windows.limits import Between, Limit, Verdict
from jobs.windows.several import Asked, coded, next_of, windows_of

FIRST, COUNT = 28_800_000, 96
ASKED: list[str] = []


@dataclass(frozen=True, slots=True)
class Counted:
    """A rule that keeps count of how often it is worked out."""

    quantity: str
    most: float

    def margin(self, hours: Hours) -> Floats:
        ASKED.append(self.quantity)
        return Between(self.quantity, most=self.most).margin(hours)


WIND = Limit("wind", "wind", "mph", 2.0, Counted("wind_mph", 10), "common-practice")
TEMP = Limit("temp", "temperature", "F", 5.0, Counted("temp_f", 85), "common-practice", verdict=Verdict.ADVICE)
ODD = Limit("odd", "chance", "%", 5.0, Counted("thunder_pct", 30), "common-practice")


def hours(places: int = 5) -> Hours:
    values = np.random.default_rng(7)
    wind = values.uniform(2, 14, (places, COUNT))
    wind[:, 40] = np.nan
    return Hours(FIRST, places, COUNT, {"wind_mph": wind, "temp_f": values.uniform(60, 90, (places, COUNT))})


def asked(places: int = 5) -> list[Asked]:
    """Jobs of two kinds of limits, of chance length, with chance stretches of light."""
    chance, found = Random(3), []
    for job in range(60):
        light = [(FIRST + 1440 * day + 360, FIRST + 1440 * day + chance.randint(900, 1200)) for day in range(4)]
        chosen = Chosen((WIND,)) if job % 2 else Chosen((WIND, TEMP, ODD), optional=frozenset({"odd"}))
        found.append(Asked(job, job % places, chosen, {"daylight": light}, chance.choice((30, 90, 240))))
    return found


def test_windows_of_many_are_those_of_each_alone() -> None:
    everything, jobs = hours(), asked()
    found = windows_of(jobs, everything, FIRST)
    some = 0
    for one in jobs:
        limits = [limit for limit in one.chosen.binding if limit is not ODD]
        what = held(limits, everything)
        alone = windows(what, one.place, one.inside, minutes=one.minutes, not_before=FIRST)
        assert found[one.job].get("found") == [coded(window) for window in alone][: several.MOST]
        assert ("why" in found[one.job]) is (not alone)
        some += len(alone)
    assert some > 100


def test_each_limit_is_worked_out_once_whatever_the_number_of_jobs() -> None:
    ASKED.clear()
    windows_of(asked(), hours(), FIRST)
    assert sorted(ASKED) == ["temp_f", "wind_mph"]


def test_what_nobody_knows_is_left_out_by_name_only_where_it_is_optional() -> None:
    told = windows_of(asked(), hours(), FIRST)
    assert {tuple(one.get("left_out", ())) for one in told.values()} == {(), ("odd",)}


def test_hours_that_are_over_are_no_hours() -> None:
    past = Hours(FIRST, 1, COUNT, {"wind_mph": np.where(np.arange(COUNT) < 24, 5.0, np.nan)[None, :]})
    one = Asked(1, 0, Chosen((WIND,)), {}, 60)
    assert "found" in windows_of([one], past, FIRST)[1]
    assert windows_of([one], past, FIRST + 24 * HOUR)[1]["why"] == {"kind": "unknown"}


def test_a_soil_or_a_river_without_a_forecast_is_no_forecast() -> None:
    known = {name: np.full((1, COUNT), 3.0) for name in ("soil_temp_f", "stage_ft", "rain_most_in")}
    soil = Hours(FIRST, 1, COUNT, known)
    one = Asked(1, 0, Chosen((WIND,)), {}, 60)
    assert windows_of([one], soil, FIRST)[1] == {"minutes": 60, "why": {"kind": "unknown"}}


def test_stretches_that_leave_nothing_are_the_reason() -> None:
    calm = Hours(FIRST, 1, COUNT, {"wind_mph": np.full((1, COUNT), 5.0)})
    one = Asked(1, 0, Chosen((WIND,)), {"contract": [], "daylight": [(FIRST, FIRST + 600)]}, 60)
    assert windows_of([one], calm, FIRST)[1]["why"] == {"kind": "closed", "by": "contract"}


@pytest.mark.parametrize(("unknown", "told"), [(60, {"hours": 60, "unknown": True}), (36, {"hours": 60})])
def test_hours_that_are_not_known_and_hours_that_are_broken_are_not_counted_together(
    unknown: int, told: dict[str, object]
) -> None:
    """No hour holds: of 96 so many are not known and all others too windy; what most of them are is said."""
    wind = np.where(np.arange(COUNT) < unknown, np.nan, 14.0)[None, :]
    one = Asked(1, 0, Chosen((WIND,)), {}, 60)
    why = windows_of([one], Hours(FIRST, 1, COUNT, {"wind_mph": wind}), FIRST)[1]["why"]
    assert why == {"kind": "limit", "key": "wind", "of": 96, **told}


def test_the_next_window_is_the_first_that_has_not_ended() -> None:
    told = {"found": [{"from": 10, "to": 20}, {"from": 30, "to": 40}]}
    assert [next_of(told, minute) for minute in (5, 19, 20, 40)] == [
        told["found"][0],
        told["found"][0],
        told["found"][1],
        None,
    ]
    assert next_of(None, 5) is None
