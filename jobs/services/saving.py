"""Write reckonings: only those that differ, in one statement, on either database. The one module that knows both."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from datetime import UTC, datetime
from functools import lru_cache
from itertools import repeat
from typing import Any

import orjson
from django.db import connection

from jobs.selectors.facts.rows import one_of

COLUMNS = (
    ("state", "text"),
    ("earliest_start", "timestamptz"),
    ("earliest_finish", "timestamptz"),
    ("latest_start", "timestamptz"),
    ("latest_finish", "timestamptz"),
    ("slack_min", "bigint"),
    ("critical", "boolean"),
    ("last_chance", "timestamptz"),
    ("look_by", "timestamptz"),
    ("next_window", "timestamptz"),
    ("acres_done", "double precision"),
    ("acres_left", "double precision"),
    ("finished_at", "timestamptz"),
    ("holds", "jsonb"),
    ("detail", "jsonb"),
    ("windows", "jsonb"),
)
NAMES = tuple(name for name, _ in COLUMNS)
Row = dict[str, Any]


def stored(holding_id: int, components: Iterable[int] | None = None) -> dict[int, Row]:
    """The reckonings now stored, by job id, in the form that `save` compares with."""
    # The sign makes SQLite hand over the text: equal instants are then read once, not once a row.
    sign = "" if connection.vendor == "postgresql" else "+"
    sql = f"SELECT r.job_id, {', '.join(f'{sign}r.{name}' for name in NAMES)} FROM jobs_reckoning r"
    args: list[Any] = [holding_id]
    if components is not None:
        sql += " JOIN jobs_job j ON j.id = r.job_id"
    sql += " WHERE r.holding_id = %s"
    if components is not None:
        condition, values = one_of("j.component", components)
        sql, args = f"{sql} AND {condition}", args + values
    with connection.cursor() as cursor:
        cursor.execute(sql, args)
        found = cursor.fetchall()
    if not found:
        return {}
    jobs, *columns = zip(*found, strict=True)
    read = [map(_READ[kind], column) for (_, kind), column in zip(COLUMNS, columns, strict=True)]
    return {job: dict(zip(NAMES, row, strict=True)) for job, row in zip(jobs, zip(*read, strict=True), strict=True)}


def save(holding_id: int, rows: Mapping[int, Row], before: Mapping[int, Row], now: datetime) -> list[int]:
    """Store the rows that differ from `before`; returns their job ids in order. Call inside the walk's transaction."""
    changed = sorted(job for job, row in rows.items() if before.get(job) != row)
    if not changed:
        return []
    write = _save_postgres if connection.vendor == "postgresql" else _save_sqlite
    write(holding_id, {job: rows[job] for job in changed}, before, now)
    return changed


@lru_cache(65_536)
def _instant(value: datetime | str | None) -> datetime | None:
    """SQLite keeps UTC without saying so."""
    return datetime.fromisoformat(value).replace(tzinfo=UTC) if isinstance(value, str) else value


@lru_cache(65_536)
def _text(value: datetime | None) -> str | None:
    """The text form that Django's SQLite backend stores, which PostgreSQL reads as UTC too."""
    return None if value is None else value.replace(tzinfo=None).isoformat(sep=" ")


def _document(value: Any) -> Any:
    return orjson.loads(value) if isinstance(value, str | bytes) else value


def _as_it_is(value: Any) -> Any:
    return value


_READ: dict[str, Callable[[Any], Any]] = {
    "text": _as_it_is,
    "timestamptz": _instant,
    "bigint": _as_it_is,
    "boolean": bool,
    "double precision": _as_it_is,
    "jsonb": _document,
}
"""From what a database hands over to the form that `save` compares: SQLite gives text and numbers."""

_WRITE: dict[str, Callable[[Any], Any]] = {
    "timestamptz": _text,
    "jsonb": lambda value: None if value is None else orjson.dumps(value).decode(),
}


_UPSERT = (
    f"INSERT INTO jobs_reckoning (changed_at, {', '.join(NAMES)}, holding_id, job_id) "
    "{rows} "
    f"ON CONFLICT (job_id) DO UPDATE SET changed_at = excluded.changed_at, "
    f"{', '.join(f'{name} = excluded.{name}' for name in NAMES)}"
)
_VALUES = f"VALUES ({', '.join(['%s'] * (3 + len(NAMES)))})"
_UPDATE = (
    f"UPDATE jobs_reckoning SET changed_at = %s, {', '.join(f'{name} = %s' for name in NAMES)} "
    "WHERE holding_id = %s AND job_id = %s"
)


def _save_sqlite(holding_id: int, rows: Mapping[int, Row], before: Mapping[int, Row], now: datetime) -> None:
    """A statement run for every row: for whole rows that is twice as fast as taking one document apart. A row that is
    there is updated, for an insert that meets it costs a third more."""
    there, new = [job for job in rows if job in before], [job for job in rows if job not in before]
    with connection.cursor() as cursor:
        for sql, jobs in ((_UPDATE, there), (_UPSERT.format(rows=_VALUES), new)):
            columns = (map(_WRITE.get(kind, _as_it_is), [rows[job][name] for job in jobs]) for name, kind in COLUMNS)
            cursor.executemany(sql, list(zip(repeat(_text(now)), *columns, repeat(holding_id), jobs, strict=False)))


def _save_postgres(holding_id: int, rows: Mapping[int, Row], before: Mapping[int, Row], now: datetime) -> None:
    shape = ", ".join(f"{name} {kind}" for name, kind in COLUMNS)
    sql = _UPSERT.format(
        rows=f"SELECT %s, {', '.join(NAMES)}, %s, job_id "
        f"FROM jsonb_to_recordset(%s::jsonb) AS row(job_id bigint, {shape})"
    )
    data = [{"job_id": job, **row} for job, row in rows.items()]
    with connection.cursor() as cursor:
        cursor.execute(sql, [now, holding_id, orjson.dumps(data).decode()])
