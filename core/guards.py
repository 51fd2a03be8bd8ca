"""Guards: what the database itself refuses beyond foreign keys, uniqueness and checks, on SQLite and PostgreSQL alike.

A guard is a condition on a written row that must not hold. It is looked at after the row was written (a deferred one at
commit, where the database can) and refuses with a plain sentence. Guards of the holding's border are read off the
models of a migration's state, so a table cannot have a foreign key without one; others are named one by one.

SQLite makes a table anew to alter it, which drops its guards and stumbles over those that name it. A migration that
alters a guarded table therefore wraps its operations in `GuardsLifted`, and ends with `InstallGuards` for new columns.
"""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from django.apps.registry import Apps
from django.db import models
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.migrations.operations import SeparateDatabaseAndState
from django.db.migrations.operations.base import Operation
from django.db.migrations.state import ProjectState

PREFIX = "guard_"
BY_INDEX = "SET enable_seqscan = off SET enable_hashjoin = off SET enable_mergejoin = off"
"""A plan made while a table is small is kept in the session, and would scan the table that an import has made large."""


@dataclass(frozen=True, slots=True)
class Guard:
    """Refuse with `sentence` a write to `table` after which `forbidden` (SQL on NEW and OLD, both dialects) is true.

    `on` lists INSERT, DELETE, UPDATE or "UPDATE OF column". A `deferred` guard waits for the commit where the database
    can. `locks_graph` first locks the graph row of the row's holding, so that two writers at once see each other."""

    name: str
    table: str
    on: tuple[str, ...]
    forbidden: str
    sentence: str
    deferred: bool = False
    locks_graph: bool = False

    def statements(self, vendor: str) -> dict[str, list[str]]:
        """Statements that install the guard, by the name of the trigger that they make."""
        return self._on_postgresql() if vendor == "postgresql" else self._on_sqlite()

    def _on_sqlite(self) -> dict[str, list[str]]:
        return {
            f"{PREFIX}{self.name}_{event.split()[0].lower()}": [
                f"CREATE TRIGGER {PREFIX}{self.name}_{event.split()[0].lower()} AFTER {event} ON {self.table} "
                f"WHEN {self.forbidden} BEGIN SELECT RAISE(ABORT, '{_quoted(self.sentence)}'); END"
            ]
            for event in self.on
        }

    def _on_postgresql(self) -> dict[str, list[str]]:
        name = PREFIX + self.name
        lock = "PERFORM 1 FROM core_graph WHERE holding_id = NEW.holding_id FOR NO KEY UPDATE; " * self.locks_graph
        kind, when = ("CONSTRAINT TRIGGER", "DEFERRABLE INITIALLY DEFERRED ") if self.deferred else ("TRIGGER", "")
        return {
            name: [
                f"CREATE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql {BY_INDEX} AS $guard$ BEGIN {lock}"
                f"IF {self.forbidden} THEN RAISE EXCEPTION USING ERRCODE = 'check_violation', CONSTRAINT = '{name}', "
                f"MESSAGE = '{_quoted(self.sentence)}'; END IF; RETURN NULL; END $guard$",
                f"CREATE {kind} {name} AFTER {' OR '.join(self.on)} ON {self.table} {when}"
                f"FOR EACH ROW EXECUTE FUNCTION {name}()",
            ]
        }


def append_only(table: str, what: str) -> tuple[Guard, Guard]:
    """Rows are never changed, and leave only together with their holding: one that is closed, or gone already."""
    stays = f"{what} is kept for ever: it cannot be changed, and leaves only with its closed holding."
    open_holding = "EXISTS (SELECT 1 FROM core_holding WHERE id = OLD.holding_id AND state <> 'closed')"
    return (
        Guard(name=f"{table}_unchanged", table=table, on=("UPDATE",), forbidden="1 = 1", sentence=stays),
        Guard(name=f"{table}_kept", table=table, on=("DELETE",), forbidden=open_holding, sentence=stays),
    )


def border_of(apps: Apps, app_label: str) -> list[Guard]:
    """Guards of the holding's border for every table of an app: a row points inside its holding, or to what belongs to
    no holding, and never moves to another one."""
    guards = []
    for model in apps.get_app_config(app_label).get_models(include_auto_created=True):
        owner = owner_of(model)
        if owner is None:
            continue
        guards.append(_never_moves(model, owner))
        if not owner.null:
            guards += [
                _points_inside(model, owner, field, target)
                for field in model._meta.concrete_fields
                if isinstance(field, models.ForeignKey) and (target := owner_of(field.related_model)) is not None
            ]
    return guards


def owner_of(model: type[models.Model]) -> models.ForeignKey | None:
    """The column that says whose a row is (`holding`, or `owner` where some rows are nobody's), or None."""
    for field in model._meta.concrete_fields:
        if isinstance(field, models.ForeignKey) and not field.primary_key and field.name in ("holding", "owner"):
            return field
    return None


def _never_moves(model: type[models.Model], owner: models.ForeignKey) -> Guard:
    table, column = model._meta.db_table, owner.column
    return Guard(
        name=f"{table}_stays",
        table=table,
        on=(f"UPDATE OF {column}",),
        forbidden=f"COALESCE(NEW.{column}, 0) <> COALESCE(OLD.{column}, 0)",
        sentence=f"A {model._meta.verbose_name} never moves to another holding. Make a new one there.",
    )


def _points_inside(
    model: type[models.Model], owner: models.ForeignKey, field: models.ForeignKey, target: models.ForeignKey
) -> Guard:
    table, column, aim = model._meta.db_table, field.column, field.target_field
    found = f"SELECT 1 FROM {aim.model._meta.db_table} WHERE {aim.column} = NEW.{column}"
    if getattr(field, "db_constraint", True):
        nobodys = f"{target.column} IS NULL OR " if target.null else ""
        outside = f"NOT EXISTS ({found} AND ({nobodys}{target.column} = NEW.{owner.column}))"
    else:
        outside = f"EXISTS ({found} AND {target.column} <> NEW.{owner.column})"
    return Guard(
        name=f"{table}_{field.name}_inside",
        table=table,
        on=("INSERT", f"UPDATE OF {column}"),
        forbidden=f"NEW.{column} IS NOT NULL AND {outside}",
        sentence=f"The {field.verbose_name} of this {model._meta.verbose_name} is not in its holding.",
    )


class InstallGuards(Operation):
    """Install the border guards of the migration's app and the guards named besides, those that are not there yet."""

    reversible = True
    reduces_to_sql = True

    def __init__(self, *besides: Guard) -> None:
        self.besides = besides

    def state_forwards(self, app_label: str, state: ProjectState) -> None:
        """Guards are no part of the models' state."""

    def database_forwards(
        self, app_label: str, schema_editor: BaseDatabaseSchemaEditor, from_state: ProjectState, to_state: ProjectState
    ) -> None:
        connection = schema_editor.connection
        there = set() if schema_editor.collect_sql else {name for name, _ in installed(connection)}
        for guard in self._all(to_state, app_label):
            for name, statements in guard.statements(connection.vendor).items():
                for statement in statements if name not in there else ():
                    schema_editor.execute(statement, params=None)

    def database_backwards(
        self, app_label: str, schema_editor: BaseDatabaseSchemaEditor, from_state: ProjectState, to_state: ProjectState
    ) -> None:
        vendor = schema_editor.connection.vendor
        drop = "DROP FUNCTION IF EXISTS {}() CASCADE" if vendor == "postgresql" else "DROP TRIGGER IF EXISTS {}"
        for guard in self._all(from_state, app_label):
            for name in guard.statements(vendor):
                schema_editor.execute(drop.format(name), params=None)

    def describe(self) -> str:
        return "Install guards"

    def _all(self, state: ProjectState, app_label: str) -> list[Guard]:
        return [*border_of(state.apps, app_label), *self.besides]


class GuardsLifted(SeparateDatabaseAndState):
    """Run operations that alter tables with the guards out of their way, and put the same guards back."""

    def __init__(self, operations: Sequence[Operation]) -> None:
        super().__init__(database_operations=operations, state_operations=operations)

    def deconstruct(self) -> tuple[str, list[Any], dict[str, Any]]:
        return type(self).__name__, [], {"operations": self.database_operations}

    def database_forwards(
        self, app_label: str, schema_editor: BaseDatabaseSchemaEditor, from_state: ProjectState, to_state: ProjectState
    ) -> None:
        with _lifted(schema_editor):
            super().database_forwards(app_label, schema_editor, from_state, to_state)

    def database_backwards(
        self, app_label: str, schema_editor: BaseDatabaseSchemaEditor, from_state: ProjectState, to_state: ProjectState
    ) -> None:
        with _lifted(schema_editor):
            super().database_backwards(app_label, schema_editor, from_state, to_state)


@contextmanager
def _lifted(schema_editor: BaseDatabaseSchemaEditor) -> Iterator[None]:
    """PostgreSQL alters a table in place, so only SQLite needs it."""
    lifted = []
    if schema_editor.connection.vendor == "sqlite":
        with schema_editor.connection.cursor() as cursor:
            cursor.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger' ORDER BY name")
            lifted = [(name, sql) for name, sql in cursor.fetchall() if name.startswith(PREFIX)]
    for name, _ in lifted:
        schema_editor.execute(f"DROP TRIGGER {name}", params=None)
    yield
    for _, sql in lifted:
        schema_editor.execute(sql, params=None)


def installed(connection: BaseDatabaseWrapper) -> Iterator[tuple[str, str]]:
    """(name, table) of every guard's trigger that the database has, by name."""
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(
                "SELECT tgname, relname FROM pg_trigger JOIN pg_class ON pg_class.oid = tgrelid "
                "WHERE NOT tgisinternal AND tgenabled = 'O' ORDER BY tgname"
            )
        else:
            cursor.execute("SELECT name, tbl_name FROM sqlite_master WHERE type = 'trigger' ORDER BY name")
        yield from ((name, table) for name, table in cursor.fetchall() if name.startswith(PREFIX))


def _quoted(sentence: str) -> str:
    return sentence.replace("'", "''")
