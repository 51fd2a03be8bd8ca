"""Queries that are asked at every request: their SQL is compiled once a process, their rows are read without instances.

Building and compiling a queryset costs more than running it. A prepared query is written as a queryset like any other,
with `Given("name", ...)` in the place of each value that differs from run to run. Words and numbers that never differ
stand in the SQL itself: SQLite compares a bound value with the condition of a partial index by preparing the statement
again at every run, which took longer than running it.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from typing import Any

import orjson
from django.db import DEFAULT_DB_ALIAS, connections, models
from django.db.models import F, Func, Subquery
from django.db.models.expressions import Expression
from django.db.models.functions import JSONArray
from django.db.models.lookups import In

Row = tuple[Any, ...]
Reader = Callable[[Any], Any]

MOST = 500
"""So many values of a list are sent in one query; longer lists go in several."""
CHUNK = 200


class Given(Expression):
    """A value of a prepared query that is given by its name at every run."""

    def __init__(self, name: str, output_field: models.Field[Any, Any] | None = None, *, many: bool = False) -> None:
        super().__init__(output_field=output_field or models.BigIntegerField())
        self.name, self.many = name, many

    def as_sql(self, compiler: Any, connection: Any) -> Any:
        return (_marker(self.name) if self.many else "%s"), [self]


def among(column: str, name: str) -> In:
    """That a column is one of the values of a list given by its name: `filter(among("job_id", "jobs"))`."""
    return In(F(column), [Given(name, many=True)])


def listed(rows: models.QuerySet[Any, Any], *columns: str) -> Subquery:
    """These columns of the rows as one JSON array of arrays, in no order, as a value of another query's row; null on
    PostgreSQL where there is no row. Days and hours are text in it, numbers have at least 15 digits."""
    return Subquery(rows.order_by().annotate(listed=_Gathered(JSONArray(*columns))).values("listed"))


class _Gathered(Func):
    """All values of a query as one JSON array. No aggregate to the framework, which would group by the outer row."""

    function = "JSON_GROUP_ARRAY"
    output_field = models.JSONField()

    def as_postgresql(self, compiler: Any, connection: Any, **context: Any) -> Any:
        return super().as_sql(compiler, connection, function="JSONB_AGG", **context)


def _marker(name: str) -> str:
    return f"<many {name}>"


@dataclass(frozen=True, slots=True)
class _Compiled:
    sql: str
    params: dict[str, Any]
    readers: tuple[tuple[int, Reader], ...]

    def run(self, given: dict[str, Any]) -> Any:
        """A cursor at the rows."""
        database = connections[DEFAULT_DB_ALIAS]
        sql, params = self.sql, {}
        for name, param in self.params.items():
            if not isinstance(param, Given):
                params[name] = param
                continue
            value = given[name]
            if param.many:
                places = {f"{name}_{place}": one for place, one in enumerate(value)}
                sql = sql.replace(_marker(name), ", ".join(f"%({place})s" for place in places))
                params |= places
            else:
                params[name] = (
                    param.output_field.get_db_prep_value(value, database) if isinstance(value, date) else value
                )
        cursor = database.cursor()
        cursor.execute(sql, params)
        return cursor

    def raw(self, given: dict[str, Any]) -> Iterator[Row]:
        with self.run(given) as cursor:
            while rows := cursor.fetchmany(CHUNK):
                yield from rows

    def rows(self, given: dict[str, Any]) -> list[Row]:
        with self.run(given) as cursor:
            rows: list[Row] = cursor.fetchall()
        return [self.read(row) for row in rows] if self.readers else rows

    def read(self, row: Row) -> Row:
        """A row of the driver with instants aware and JSON as data."""
        found = list(row)
        for place, reader in self.readers:
            value = found[place]
            if value is not None:
                found[place] = reader(value)
        return tuple(found)


class Prepared:
    """A query by its builder, which gets the shape (what changes the SQL) and returns a `values_list` queryset."""

    def __init__(self, build: Callable[..., models.QuerySet[Any, Any]]) -> None:
        self._build = build
        self._compiled: dict[tuple[Any, ...], _Compiled] = {}

    def rows(self, *shape: Any, **given: Any) -> list[Row]:
        """All rows, with instants aware and JSON as data. A list that is given is sent in parts of at most `MOST`."""
        compiled = self._of(shape)
        return [row for part in _parts(given) for row in compiled.rows(part)]

    def raw(self, *shape: Any, **given: Any) -> Iterator[Row]:
        """The rows as the driver gives them, by and by."""
        return self._of(shape).raw(given)

    def read(self, row: Row, *shape: Any) -> Row:
        """A raw row with instants aware and JSON as data."""
        return self._of(shape).read(row)

    def _of(self, shape: tuple[Any, ...]) -> _Compiled:
        key = (connections[DEFAULT_DB_ALIAS].vendor, *shape)
        found = self._compiled.get(key)
        if found is None:
            found = self._compiled[key] = _compile(self._build(*shape))
        return found


def _compile(rows: models.QuerySet[Any, Any]) -> _Compiled:
    compiler = rows.query.get_compiler(DEFAULT_DB_ALIAS)
    sql, params = _spelled_out(*compiler.as_sql())
    readers = []
    for place, (column, _, _) in enumerate(compiler.select[: compiler.col_count]):
        for kind, reader in _READERS.items():
            if isinstance(column.output_field, kind):
                readers.append((place, reader))
                break
    return _Compiled(sql, params, tuple(readers))


_PLACE = re.compile(r"%[s%]|<many \w+>")
_WORD = re.compile(r"[A-Za-z0-9_]*\Z", re.ASCII)


def _spelled_out(sql: str, params: tuple[Any, ...]) -> tuple[str, dict[str, Any]]:
    """The SQL with its constant words and whole numbers in it, and the params that are left, by name: the framework
    puts names in their places by one pass of formatting, where it looks for each place of a list by an expression."""
    left: dict[str, Any] = {}
    waiting = iter(params)

    def place(found: re.Match[str]) -> str:
        if found.group() == "%%":
            return "%%"
        param = next(waiting)
        if isinstance(param, str) and _WORD.match(param):
            return f"'{param!s}'"
        if isinstance(param, int) and not isinstance(param, bool):
            return str(int(param))
        name = param.name if isinstance(param, Given) else f"constant_{len(left)}"
        left[name] = param
        return f"%({name})s" if found.group() == "%s" else found.group()

    return _PLACE.sub(place, sql), left


def _parts(given: dict[str, Any]) -> Iterator[dict[str, Any]]:
    lists = [name for name, value in given.items() if isinstance(value, list)]
    if not lists:
        yield given
    for name in lists:
        for start in range(0, len(given[name]), MOST):
            yield {**given, name: given[name][start : start + MOST]}


def _instant(value: Any) -> datetime:
    found = datetime.fromisoformat(value) if isinstance(value, str) else value
    return found if found.tzinfo else found.replace(tzinfo=UTC)


def _day(value: Any) -> date:
    return date.fromisoformat(value) if isinstance(value, str) else value


def _time(value: Any) -> time:
    return time.fromisoformat(value) if isinstance(value, str) else value


def as_data(value: Any) -> Any:
    """A JSON column of a raw row as data."""
    return orjson.loads(value) if isinstance(value, str | bytes) else value


_READERS: dict[type[models.Field[Any, Any]], Reader] = {
    models.DateTimeField: _instant,  # before DateField, which it is too
    models.DateField: _day,
    models.TimeField: _time,
    models.JSONField: as_data,
    models.BooleanField: bool,
}
