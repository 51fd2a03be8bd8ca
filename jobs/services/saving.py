"""Write reckonings: only those that differ, in one statement, on either database. The one module that knows both."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import UTC, datetime
from functools import lru_cache
from typing import Any

import orjson
from django.db import connection

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
)
NAMES = tuple(name for name, _ in COLUMNS)
JSON = ("holds", "detail")
INSTANTS = frozenset(name for name, kind in COLUMNS if kind == "timestamptz")

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
        wanted = list(components)
        sql += f" AND j.component IN ({', '.join(['%s'] * len(wanted)) or 'NULL'})"
        args += wanted
    with connection.cursor() as cursor:
        cursor.execute(sql, args)
        return {job: _read(values) for job, *values in cursor.fetchall()}


def _read(values: Iterable[Any]) -> Row:
    """A stored row as `save` compares it: SQLite gives instants, JSON and truth values as text and numbers."""
    row = dict(zip(NAMES, values, strict=True))
    for name in INSTANTS:
        if isinstance(row[name], str):
            row[name] = _instant(row[name])
    for name in JSON:
        if isinstance(row[name], str | bytes):
            row[name] = orjson.loads(row[name])
    row["critical"] = bool(row["critical"])
    return row


def save(holding_id: int, rows: Mapping[int, Row], before: Mapping[int, Row], now: datetime) -> list[int]:
    """Store the rows that differ from `before`; returns their job ids in order. Call inside the walk's transaction."""
    changed = sorted(job for job, row in rows.items() if before.get(job) != row)
    if not changed:
        return []
    write = _save_postgres if connection.vendor == "postgresql" else _save_sqlite
    write(holding_id, {job: rows[job] for job in changed}, now)
    return changed


@lru_cache(65_536)
def _instant(text: str) -> datetime:
    """SQLite keeps UTC without saying so."""
    return datetime.fromisoformat(text).replace(tzinfo=UTC)


@lru_cache(65_536)
def _text(value: datetime | None) -> str | None:
    """The text form that Django's SQLite backend stores, which PostgreSQL reads as UTC too."""
    return None if value is None else value.replace(tzinfo=None).isoformat(sep=" ")


_UPSERT = (
    f"INSERT INTO jobs_reckoning (job_id, holding_id, changed_at, {', '.join(NAMES)}) "
    "{rows} "
    f"ON CONFLICT (job_id) DO UPDATE SET changed_at = excluded.changed_at, "
    f"{', '.join(f'{name} = excluded.{name}' for name in NAMES)}"
)


def _save_sqlite(holding_id: int, rows: Mapping[int, Row], now: datetime) -> None:
    """One statement run for every row: for whole rows that is twice as fast as taking one document apart."""
    at = _text(now)
    data = [(job, holding_id, at, *(_sqlite(name, row[name]) for name in NAMES)) for job, row in rows.items()]
    with connection.cursor() as cursor:
        cursor.executemany(_UPSERT.format(rows=f"VALUES ({', '.join(['%s'] * (3 + len(NAMES)))})"), data)


def _sqlite(name: str, value: Any) -> Any:
    if name in INSTANTS:
        return _text(value)
    return orjson.dumps(value).decode() if name in JSON else value


def _save_postgres(holding_id: int, rows: Mapping[int, Row], now: datetime) -> None:
    shape = ", ".join(f"{name} {'timestamp' if kind == 'timestamptz' else kind}" for name, kind in COLUMNS)
    picks = ", ".join(f"{name} AT TIME ZONE 'UTC'" if name in INSTANTS else name for name in NAMES)
    sql = _UPSERT.format(
        rows=f"SELECT job_id, %s, %s, {picks} FROM jsonb_to_recordset(%s::jsonb) AS row(job_id bigint, {shape})"
    )
    data = [
        {"job_id": job, **{name: _text(value) if name in INSTANTS else value for name, value in row.items()}}
        for job, row in rows.items()
    ]
    with connection.cursor() as cursor:
        cursor.execute(sql, [holding_id, now, orjson.dumps(data).decode()])
