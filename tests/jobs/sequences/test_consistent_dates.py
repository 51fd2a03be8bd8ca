"""Each shipped sequence can be done in its own dates: no job begins later than its latest start, seen from the first
day of its season with nothing reported. The degree days are an invented year of about 40 N; no date here is a claim."""

import math
from dataclasses import replace
from datetime import date, timedelta

import pytest

from jobs.graph import schedule
from jobs.graph.data import FAR, Arc, Branch, Curve, DegreeDays, Fixed, Node, Problem, Rain, Schedule
from jobs.sequences import Expansion, SequenceSpec, expand
from jobs.sequences.spec import Unit
from plots.degree_days import DegreeDaySpec, degree_days

from .test_shipped import NAMES

YEAR = 2027
FREEZES = {28: date(2027, 10, 25), 32: date(2027, 10, 12)}
RAIN = "rain"
DAYS = 6 * 365


def minute(day: date) -> int:
    return (day - date(1970, 1, 1)).days * 1440


def curve(kind: str, first: date) -> Curve:
    """Warmest at 77 F around 19 July, coldest at 25 F; a day swings 22 F; no rain is ever observed."""
    days = [first + timedelta(days=k) for k in range(DAYS)]
    if kind == RAIN:
        values = [0] * DAYS
    else:
        means = [51 + 26 * math.sin(2 * math.pi * (day.timetuple().tm_yday - 109) / 365) for day in days]
        values = [degree_days(mean + 11, mean - 11, DegreeDaySpec.parse(kind)) for mean in means]
    starts = [minute(first) + 1440 * k for k in range(DAYS + 1)]
    return Curve(starts, values, ["missing" if kind == RAIN else "normal"] * DAYS)


def problem_of(season: Expansion, closed: tuple[date, date] | None = None, operations: frozenset[str] = frozenset()):
    """The graph of a season with nothing reported; `closed` days, both inclusive, stop the named operations."""
    jobs = {row.step: number for number, row in enumerate(season.jobs, start=1)}
    branches = {row.key: number for number, row in enumerate(season.branches, start=1)}
    kinds = {row.degree_days for row in season.prerequisites if row.degree_days} | {RAIN}
    curves = {kind: number for number, kind in enumerate(sorted(kinds), start=1)}

    def lag(amount: float | None, unit: Unit | None, then_days: float, kind: str) -> Fixed | DegreeDays | Rain | None:
        if amount is None:
            return None
        if unit is Unit.DEGREE_DAYS:
            return DegreeDays(curves[kind], round(amount * 100))
        if unit is Unit.RAIN_IN:
            return Rain(curves[RAIN], round(amount * 100), round(then_days * 1440))
        return Fixed(round(amount * (60 if unit is Unit.HOURS else 1440)))

    def spans(row) -> tuple[tuple[int, int], ...]:
        span = (minute(row.first_day), minute(row.last_day) + 1440)
        if closed is None or row.operation not in operations:
            return (span,)
        shut = (minute(closed[0]), minute(closed[1]) + 1440)
        parts = ((span[0], min(span[1], shut[0])), (max(span[0], shut[1]), span[1]))
        return tuple(part for part in parts if part[0] < part[1])

    return Problem(
        today=minute(season.first_day),
        nodes=tuple(
            Node(
                id=jobs[row.step],
                season=1,
                duration=row.duration_min,
                spans=spans(row),
                deadline=minute(row.deadline) + 1440 if row.deadline is not None else None,
                branch=branches[row.branch] if row.branch is not None else None,
            )
            for row in season.jobs
        ),
        arcs=tuple(
            Arc(
                id=number,
                tail=jobs[row.predecessor],
                head=jobs[row.successor],
                relation=row.relation,
                minimum=lag(row.min_amount, row.min_unit, row.min_then_days, row.degree_days),
                maximum=lag(row.max_amount, row.max_unit, 0, row.degree_days),
                confirm=bool(row.confirm),
            )
            for number, row in enumerate(season.prerequisites, start=1)
        ),
        branches=tuple(
            Branch(
                id=branches[row.key],
                season=1,
                group=row.group,
                order=row.order,
                parent=branches[row.parent] if row.parent is not None else None,
                opened_by=jobs[row.opened_by] if row.opened_by is not None else None,
                outcomes=frozenset(row.outcomes),
                expected=row.expected,
            )
            for row in season.branches
        ),
        curves={number: curve(kind, season.first_day - timedelta(days=1)) for kind, number in curves.items()},
    )


def too_late(season: Expansion, found: Schedule) -> dict[str, tuple[int, int]]:
    """Steps whose earliest start lies after their latest, or whose maximal waits had to be set aside.

    What is to be followed by rain that nobody has seen yet has no latest start to be judged by."""
    before_rain = {row.predecessor for row in season.prerequisites if row.min_unit is Unit.RAIN_IN}
    rows = [(row.step, found.dates[number]) for number, row in enumerate(season.jobs, start=1)]
    return {
        step: (dates.es, dates.ls)
        for step, dates in rows
        if dates.contradiction or (dates.ls < dates.es < FAR and step not in before_rain)
    }


def laid_out(spec: SequenceSpec, acres: float = 4.0) -> Expansion:
    return expand(spec, YEAR, acres, freezing_normals=FREEZES)


@pytest.mark.parametrize("name", sorted(NAMES))
def test_a_sequence_can_be_done_in_its_own_dates(name, shipped):
    season = laid_out(shipped.sequences[name])
    found = schedule(problem_of(season))
    assert too_late(season, found) == {}
    assert all(dates.es < FAR and dates.ls < FAR for dates in found.dates.values())


def test_a_wait_too_long_for_the_dates_is_seen(shipped):
    """The control: the same check fails once a wait no longer fits."""
    season = laid_out(shipped.sequences["corn"])
    longer = tuple(
        replace(row, min_amount=60.0) if (row.predecessor, row.successor) == ("burndown", "plant") else row
        for row in season.prerequisites
    )
    spoiled = replace(season, prerequisites=longer)
    assert "burndown" in too_late(spoiled, schedule(problem_of(spoiled)))


def test_a_contract_closed_from_15_april_leaves_the_early_burn_alone(shipped):
    """Illinois: primary nesting season 15 April to 1 August, both inclusive (Farm Service Agency notices)."""
    season = laid_out(shipped.sequences["native_grass_burn"])
    steps = {row.step: number for number, row in enumerate(season.jobs, start=1)}
    free = schedule(problem_of(season))
    assert free.dates[steps["burn_late"]].on_reference
    assert not free.dates[steps["burn_early"]].on_reference

    nesting = (date(2027, 4, 15), date(2027, 8, 1))
    shut = schedule(problem_of(season, nesting, frozenset({"burn", "mow", "spray", "till"})))
    late, early = shut.dates[steps["burn_late"]], shut.dates[steps["burn_early"]]
    assert late.es == FAR or late.ls < late.es
    assert early.on_reference
    assert early.ls >= early.es
    assert early.ls < minute(date(2027, 4, 15))


def test_only_the_dicamba_wait_hangs_on_rain(shipped):
    waits = [
        (name, link.before)
        for name, spec in shipped.sequences.items()
        for link in spec.links
        if link.minimum is not None and link.minimum.unit is Unit.RAIN_IN
    ]
    assert waits == [("soybean", "burndown_dicamba")]


def test_a_failed_corn_stand_leaves_each_replant_time_and_says_until_when_to_look(shipped):
    season = laid_out(shipped.sequences["corn"])
    steps = {row.step: number for number, row in enumerate(season.jobs, start=1)}
    dates = schedule(problem_of(season)).dates
    for step in ("replant_corn", "replant_soybean", "replant_sorghum", "replant_brassica", "give_up_to_cover"):
        assert dates[steps[step]].slack >= 0, step
    assert dates[steps["replant_corn"]].ls < minute(date(2027, 6, 16))
    look_by = dates[steps["stand_count"]].look_by
    assert minute(date(2027, 5, 9)) <= look_by < minute(date(2027, 7, 11))


def test_the_fence_of_corn_goes_up_after_emergence_and_that_of_beans_before(shipped):
    fifty = DegreeDaySpec.parse("86/50")
    for name, before in (("corn", False), ("soybean", True)):
        season = laid_out(shipped.sequences[name])
        steps = {row.step: number for number, row in enumerate(season.jobs, start=1)}
        problem = problem_of(season)
        dates = schedule(problem).dates
        planted, fence, up = (dates[steps[step]] for step in ("plant", "fence", "look_emergence"))
        assert (fence.ef <= up.es) is before
        assert fence.es >= planted.ef
        assert fifty.key in {row.degree_days for row in season.prerequisites}
