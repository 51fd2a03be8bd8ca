"""Write reckonings: only those that differ, in one statement, on either database. The one module that knows both."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import UTC, datetime
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
INSTANTS = frozenset(name for name, kind in COLUMNS if kind == "timestamptz")

Row = dict[str, Any]


def stored(holding_id: int, components: Iterable[int] | None = None) -> dict[int, Row]:
    """The reckonings now stored, by job id, in the form that `save` compares with."""
    sql = f"SELECT r.job_id, {', '.join('r.' + name for name in NAMES)} FROM jobs_reckoning r"
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
        return {row[0]: dict(zip(NAMES, _read(row[1:]), strict=True)) for row in cursor.fetchall()}


def _read(values: Iterable[Any]) -> Iterable[Any]:
    for name, value in zip(NAMES, values, strict=True):
        if value is None:
            yield None
        elif name in ("holds", "detail"):
            yield orjson.loads(value) if isinstance(value, str | bytes) else value
        elif name in INSTANTS:
            yield value if value.tzinfo else value.replace(tzinfo=UTC)  # SQLite keeps UTC without saying so
        elif name == "critical":
            yield bool(value)
        else:
            yield value


def save(holding_id: int, rows: Mapping[int, Row], before: Mapping[int, Row], now: datetime) -> list[int]:
    """Store the rows that differ from `before`; returns their job ids in order. Call inside the walk's transaction."""
    changed = sorted(job for job, row in rows.items() if before.get(job) != row)
    if not changed:
        return []
    data = [{"job_id": job, **_plain(rows[job])} for job in changed]
    payload = orjson.dumps(data).decode()
    (_save_postgres if connection.vendor == "postgresql" else _save_sqlite)(holding_id, payload, now)
    return changed


def _plain(row: Row) -> Row:
    return {name: _text(value) if name in INSTANTS else value for name, value in row.items()}


def _text(value: datetime | None) -> str | None:
    """The text form that Django's SQLite backend stores, which PostgreSQL reads as UTC too."""
    return None if value is None else value.replace(tzinfo=None).isoformat(sep=" ")


_UPSERT = (
    f"INSERT INTO jobs_reckoning (job_id, holding_id, changed_at, {', '.join(NAMES)}) "
    "SELECT {select} FROM {source} "
    f"ON CONFLICT (job_id) DO UPDATE SET changed_at = excluded.changed_at, "
    f"{', '.join(f'{name} = excluded.{name}' for name in NAMES)}"
)


def _save_sqlite(holding_id: int, payload: str, now: datetime) -> None:
    picks = ", ".join(f"json_extract(value, '$.{name}')" for name in NAMES)
    sql = _UPSERT.format(select=f"json_extract(value, '$.job_id'), %s, %s, {picks}", source="json_each(%s) WHERE true")
    with connection.cursor() as cursor:
        cursor.execute(sql, [holding_id, _text(now), payload])


def _save_postgres(holding_id: int, payload: str, now: datetime) -> None:
    shape = ", ".join(f"{name} {'timestamp' if kind == 'timestamptz' else kind}" for name, kind in COLUMNS)
    picks = ", ".join(f"{name} AT TIME ZONE 'UTC'" if name in INSTANTS else name for name in NAMES)
    sql = _UPSERT.format(
        select=f"job_id, %s, %s, {picks}",
        source=f"jsonb_to_recordset(%s::jsonb) AS row(job_id bigint, {shape})",
    )
    with connection.cursor() as cursor:
        cursor.execute(sql, [holding_id, now, payload])
