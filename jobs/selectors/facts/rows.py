"""Jobs and prerequisites as a walk reads them: many rows, so by plain statements and without instances."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from datetime import UTC, date, datetime
from functools import lru_cache
from typing import Any, NamedTuple

import orjson
from django.db import connection

from core.models import Holding
from jobs.models import Season
from plots.models import Plot

MOST = 500
"""Longest list of ids in a statement: beyond it everything of the holding is read, and the rest is passed over."""

COLUMNS = (
    "id", "plot_id", "season_id", "branch_id", "step", "operation", "duration_min", "acres", "first_day", "last_day",
    "deadline", "called_off_at", "skip_effect", "dates_source", "details", "component", "round_id",
)  # fmt: skip


class JobRow(NamedTuple):
    """The columns of a job, then those of its property and season, that a walk reads."""

    id: int
    plot: int
    season: int | None
    branch: int | None
    step: str
    operation: str
    duration: int
    acres: float | None
    first_day: date | None
    last_day: date | None
    deadline: date | None
    called_off_at: datetime | None
    skip_effect: str
    dates_source: str
    details: dict[str, Any]
    component: int
    round: int | None
    property: int
    zone: str
    tenure_ends: date | None
    season_first: date | None
    season_last: date | None
    season_off: datetime | None


class LinkRow(NamedTuple):
    """The columns of a prerequisite that a walk reads."""

    id: int
    tail: int
    head: int
    relation: str
    amount: float
    unit: str
    then_days: float
    high: float | None
    high_unit: str
    degree_days: str
    confirm: str
    source: str
    worth: str
    high_worth: str


LINK_COLUMNS = (
    "id", "predecessor_id", "successor_id", "relation", "min_amount", "min_unit", "min_then_days", "max_amount",
    "max_unit", "degree_days", "confirm", "source", "worth", "max_worth",
)  # fmt: skip


def job_rows(
    holding: Holding, components: Collection[int] | None = None, jobs: Collection[int] | None = None
) -> dict[int, JobRow]:
    """Jobs of the holding, of some components or with some ids, by id in the order of ids."""
    # The sign makes SQLite hand over the text: equal days are then read once, not once a row.
    sign = "" if connection.vendor == "postgresql" else "+"
    wanted = ", ".join(f"{sign}j.{name}" for name in COLUMNS)
    sql, args = f"SELECT {wanted} FROM jobs_job j WHERE j.holding_id = %s", [holding.pk]
    for column, ids in (("component", components), ("id", jobs)):
        if ids is not None:
            condition, values = one_of(f"j.{column}", ids)
            sql, args = f"{sql} AND {condition}", args + values
    with connection.cursor() as cursor:
        cursor.execute(f"{sql} ORDER BY j.id", args)
        found = cursor.fetchall()
    places = _places(holding, {row[1] for row in found})
    seasons = _seasons(holding.pk, {row[2] for row in found if row[2] is not None})
    nowhen: tuple[Any, ...] = (None, None, None)
    return {
        row[0]: JobRow._make(
            (
                *row[:8],
                *map(_day, row[8:11]),
                _instant(row[11]),
                *row[12:14],
                _json(row[14]),
                *row[15:17],
                *places[row[1]],
                *seasons.get(row[2], nowhen),
            )
        )
        for row in found
    }


def link_rows(holding_id: int, components: Collection[int] | None = None) -> list[LinkRow]:
    """Prerequisites of the holding, or those whose successor lies in one of the components, in the order of ids."""
    wanted = ", ".join(f"p.{name}" for name in LINK_COLUMNS)
    sql, args = f"SELECT {wanted} FROM jobs_prerequisite p", [holding_id]
    condition = "TRUE"
    if components is not None:
        sql += " JOIN jobs_job j ON j.id = p.successor_id"
        condition, values = one_of("j.component", components)
        args += values
    with connection.cursor() as cursor:
        cursor.execute(f"{sql} WHERE p.holding_id = %s AND {condition} ORDER BY p.id", args)
        return [LinkRow._make(row) for row in cursor.fetchall()]


def one_of(column: str, ids: Iterable[int]) -> tuple[str, list[Any]]:
    """A condition with one parameter, however many ids there are."""
    wanted = sorted(ids)
    if connection.vendor == "postgresql":
        return f"{column} = ANY(%s)", [wanted]
    return f"{column} IN (SELECT value FROM json_each(%s))", [orjson.dumps(wanted).decode()]


def few(**ids: Collection[int] | None) -> dict[str, list[int]]:
    """The filters that are short enough for a statement."""
    return {name: sorted(some) for name, some in ids.items() if some is not None and len(some) <= MOST}


def _places(holding: Holding, plots: Collection[int]) -> dict[int, tuple[int, str, date | None]]:
    """By plot: its property with zone and end of tenure."""
    rows = Plot.objects.filter(holding_id=holding.pk, **few(pk__in=plots))
    found = rows.values_list("pk", "property_id", "property__zone", "property__tenure_ends")
    return {plot: (place, zone or holding.zone, ends) for plot, place, zone, ends in found}


def _seasons(holding_id: int, seasons: Collection[int]) -> dict[int, tuple[Any, ...]]:
    if not seasons:
        return {}
    rows = Season.objects.filter(holding_id=holding_id, **few(pk__in=seasons))
    return {row[0]: row[1:] for row in rows.values_list("pk", "first_day", "last_day", "called_off_at")}


@lru_cache(16_384)
def _day(value: date | str | None) -> date | None:
    return date.fromisoformat(value) if isinstance(value, str) else value


@lru_cache(16_384)
def _instant(value: datetime | str | None) -> datetime | None:
    """SQLite keeps UTC without saying so."""
    return datetime.fromisoformat(value).replace(tzinfo=UTC) if isinstance(value, str) else value


def _json(value: Any) -> dict[str, Any]:
    if not isinstance(value, str | bytes):
        return dict(value)
    return {} if value == "{}" else dict(orjson.loads(value))
