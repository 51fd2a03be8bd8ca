"""Store or remove one fact: checked, logged and told to the walk, alike for pages, API, admin and imports."""

from collections.abc import Collection, Iterable, Mapping
from functools import cache
from typing import Any

from django.apps import apps
from django.core.exceptions import ValidationError
from django.db import IntegrityError, models, transaction

from core.errors import NotAllowed, NotFound, Refused
from core.guards import PREFIX
from core.models import Event, Holding, HoldingRow, HoldingState, Person
from core.services.facts import ALL, lock_graph, touch

HOLDING_CLOSED = "The holding is closed; nothing in it can be changed."

Sentences = dict[tuple[str, frozenset[str | None]], tuple[str, str]]
"""(field, sentence) by table and columns."""


def sentence_of(error: ValidationError | IntegrityError) -> tuple[str, str]:
    """(field, sentence) of the first thing that is wrong; what the database refused in its constraint's words."""
    if isinstance(error, IntegrityError):
        return _said_by_database(error)
    if hasattr(error, "error_dict"):
        field, sentences = next(iter(error.message_dict.items()))
        return ("" if field == "__all__" else field), sentences[0]
    return "", error.messages[0]


def _said_by_database(error: IntegrityError) -> tuple[str, str]:
    diagnosis = getattr(error.__cause__, "diag", None)
    if diagnosis is not None:  # PostgreSQL: 'Key (holding_id, name)=(1, Ada) already exists.'
        said, name, table = diagnosis.message_primary or "", diagnosis.constraint_name or "", diagnosis.table_name
        detail = diagnosis.message_detail or ""
        columns = [diagnosis.column_name] if diagnosis.column_name else detail[5 : detail.find(")=")].split(", ")
    else:  # SQLite: "CHECK constraint failed: job_duration", "UNIQUE constraint failed: core_crew.name"
        said = str(error)
        _, failed, name = said.partition(" constraint failed: ")
        name = name.removeprefix("index ").strip("'") if failed else PREFIX  # a guard speaks for itself
        table, columns = name.partition(".")[0], [part.rpartition(".")[2] for part in name.split(", ")]
    sentences, rules = _rules()
    key = (table, frozenset(columns))
    if "foreign key" in said.lower():
        return "", "It names something that is not there, or something that must stay still names it."
    if name.startswith(PREFIX):
        return "", said
    if name in sentences:
        return "", sentences[name]
    if "null" in said.lower() and key in rules["given"]:
        return rules["given"][key]
    if key in rules["once"]:
        return rules["once"][key]
    return "", "The database refused it, and nothing was stored."


@cache
def _rules() -> tuple[dict[str, str], dict[str, Sentences]]:
    """The sentence of every constraint by its name, and (field, sentence) by table and columns of what is given once
    or must be given."""
    sentences: dict[str, str] = {}
    once: Sentences = {}
    given: Sentences = {}
    for model in apps.get_models():
        meta, table = model._meta, model._meta.db_table
        for constraint in meta.constraints:
            sentence = str(constraint.get_violation_error_message())
            if constraint.violation_error_message == constraint.default_violation_error_message:
                sentence = f"This {meta.verbose_name} is there already, or breaks the rule {constraint.name}."
            sentences[constraint.name] = sentence
            if isinstance(constraint, models.UniqueConstraint):
                columns = {field.column for field in meta.concrete_fields if field.name in constraint.fields}
                once[table, frozenset(columns)] = ("", sentence)
        for field in meta.concrete_fields:
            column: tuple[str, frozenset[str | None]] = (table, frozenset([field.column]))
            given[column] = (field.name, f"Give the {field.verbose_name}.")
            if field.unique:
                once[column] = (field.name, f"A {meta.verbose_name} of this {field.verbose_name} is there already.")
    return sentences, {"once": once, "given": given}


def check_open(holding_id: int) -> None:
    """Call it once the graph is locked, so that nobody closes the holding meanwhile.

    Raises:
        NotAllowed: the holding is closed.
    """
    if Holding.objects.filter(pk=holding_id, state=HoldingState.CLOSED).exists():
        raise NotAllowed(HOLDING_CLOSED)


def check_same_holding(row: models.Model, holding_id: int) -> None:
    """Every row that `row` points to belongs to the same holding.

    Raises:
        NotFound: one does not; nothing more is said of it.
    """
    for field in row._meta.concrete_fields:
        if not isinstance(field, models.ForeignKey) or field.name == "holding":
            continue
        target = field.related_model
        value = getattr(row, field.attname)
        if value is None or not isinstance(target, type) or not issubclass(target, HoldingRow):
            continue
        if not target._default_manager.filter(pk=value, holding_id=holding_id).exists():
            raise NotFound(f"{field.verbose_name.capitalize()} {value} is not in this holding.", field=field.name)


def reread(row: HoldingRow, fields: Iterable[str] = ()) -> HoldingRow:
    """Lock a stored row and read it again; `row` keeps the named fields and gets all others as they stand now.

    The holding's graph is locked first, which every write of its facts does, so that no two of them wait for each
    other. Call it inside the transaction of the change. Returns the row as it is stored.

    Raises:
        NotFound: the row is gone.
    """
    lock_graph(row.holding_id)
    locked = type(row)._default_manager.select_for_update(no_key=True, of=("self",))
    stored: HoldingRow | None = locked.filter(pk=row.pk, holding_id=row.holding_id).first()
    if stored is None:
        raise NotFound(f"This {row._meta.verbose_name} is gone.")
    keep_named(row, stored, fields)
    return stored


def keep_named(row: models.Model, stored: models.Model, fields: Iterable[str]) -> None:
    """Give `row` every value of `stored` but those of the named fields."""
    kept = {row._meta.get_field(name) for name in fields}
    for field in row._meta.concrete_fields:
        if field not in kept:
            setattr(row, field.attname, getattr(stored, field.attname))


def stored_with(fields: Iterable[str], row: models.Model) -> list[str]:
    """The columns that a save of these fields writes: with those that keep the instant of the last change."""
    stamps = {field.name for field in row._meta.concrete_fields if getattr(field, "auto_now", False)}
    return sorted(stamps.union(fields)) if fields else []


def save_row(
    *,
    row: HoldingRow,
    by: Person | None,
    fields: Iterable[str] = (),
    unlogged: Collection[str] = (),
    noted: Mapping[str, Any] | None = None,
) -> HoldingRow:
    """Create a row of a holding, or store the named `fields` of one that stands.

    Of a stored row nothing but `fields` is taken: whatever else was written since it was read stays, and `row` shows
    it afterwards. The log tells their values, but for those in `unlogged`, and what is `noted` beside them.

    Raises:
        NotAllowed: the holding is closed.
        NotFound: the row is gone, or it names something of another holding.
        Refused: a rule of the table or the database does not allow it; nothing is stored.
    """
    adding, named = row._state.adding, list(fields)
    with transaction.atomic():
        lock_graph(row.holding_id)
        check_open(row.holding_id)
        before = set() if adding else reread(row, named).fact_keys()
        check_same_holding(row, row.holding_id)
        try:
            row.full_clean(exclude=["holding"])
            with transaction.atomic():
                row.save(update_fields=None if adding else stored_with(named, row))
        except (ValidationError, IntegrityError) as error:
            field, sentence = sentence_of(error)
            raise Refused(sentence, code="invalid", field=field) from error
        change = {name: getattr(row, name) for name in named if name not in unlogged} | dict(noted or {})
        log(holding_id=row.holding_id, by=by, verb="added" if adding else "changed", row=row, change=change)
        touch(row.holding_id, before | row.fact_keys())
    return row


def remove_row(*, row: HoldingRow, by: Person | None, noted: Mapping[str, Any] | None = None) -> None:
    """Delete a row of a holding as it stands now, log it with what is `noted` and tell the walk.

    Raises:
        NotAllowed: the holding is closed.
        NotFound: it is gone already.
        Refused: something that must stay hangs on it.
    """
    with transaction.atomic():
        reread(row)
        check_open(row.holding_id)
        keys, key = row.fact_keys(), row.pk
        if keys and _named_by_others(row):  # what named it goes or changes with it, and no key finds that afterwards
            keys = {ALL}
        try:
            with transaction.atomic():
                row.delete()
        except (models.ProtectedError, models.RestrictedError, IntegrityError) as error:
            raise Refused(
                "It cannot be removed: reports or records hang on it. Call it off or mark it inactive instead.",
                code="in_use",
            ) from error
        row.pk = key
        log(holding_id=row.holding_id, by=by, verb="removed", row=row, change=dict(noted or {}))
        touch(row.holding_id, keys)


def _named_by_others(row: models.Model) -> bool:
    return any(field.auto_created and not field.concrete for field in row._meta.get_fields(include_hidden=True))


def log(*, holding_id: int, by: Person | None, verb: str, row: models.Model, change: dict[str, Any]) -> None:
    """Write one line of the log of changes; call it inside the transaction of the change."""
    Event.objects.create(
        holding_id=holding_id,
        person=by,
        verb=verb,
        object=row._meta.model_name or "",
        object_id=row.pk if isinstance(row.pk, int) else None,
        change={name: _plain(value) for name, value in change.items()},
    )


def _plain(value: Any) -> Any:
    if value is None or isinstance(value, bool | int | float | str | list | dict):
        return value
    return value.pk if isinstance(value, models.Model) else str(value)
