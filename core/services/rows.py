"""Store or remove one fact: checked, logged and told to the walk, alike for pages, API, admin and imports."""

from collections.abc import Iterable
from typing import Any

from django.core.exceptions import ValidationError
from django.db import IntegrityError, models, transaction

from core.errors import NotFound, Refused
from core.models import Event, HoldingRow, Person
from core.services.facts import touch


def sentence_of(error: ValidationError | IntegrityError) -> tuple[str, str]:
    """(field, sentence) of the first thing that is wrong."""
    if isinstance(error, IntegrityError):
        return "", f"The database refused it: {str(error).splitlines()[0]}"
    if hasattr(error, "error_dict"):
        field, sentences = next(iter(error.message_dict.items()))
        return ("" if field == "__all__" else field), sentences[0]
    return "", error.messages[0]


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


def save_row(*, row: HoldingRow, by: Person | None, fields: Iterable[str] = ()) -> HoldingRow:
    """Create or change a row of a holding. `fields` names what changed, for the log.

    Raises:
        Refused: a rule of the table or the database does not allow it; nothing is stored.
    """
    verb = "added" if row._state.adding else "changed"
    with transaction.atomic():
        before = set()
        if not row._state.adding:
            before = type(row)._default_manager.get(pk=row.pk).fact_keys()
        check_same_holding(row, row.holding_id)
        try:
            row.full_clean(exclude=["holding"])
            with transaction.atomic():
                row.save()
        except (ValidationError, IntegrityError) as error:
            field, sentence = sentence_of(error)
            raise Refused(sentence, code="invalid", field=field) from error
        change = {name: getattr(row, name, None) for name in fields}
        log(holding_id=row.holding_id, by=by, verb=verb, row=row, change=change)
        touch(row.holding_id, before | row.fact_keys())
    return row


def remove_row(*, row: HoldingRow, by: Person | None) -> None:
    """Delete a row of a holding, log it and tell the walk.

    Raises:
        Refused: something that must stay hangs on it.
    """
    with transaction.atomic():
        keys, key = row.fact_keys(), row.pk
        try:
            with transaction.atomic():
                row.delete()
        except (models.ProtectedError, models.RestrictedError, IntegrityError) as error:
            raise Refused(
                "It cannot be removed: reports or records hang on it. Call it off or mark it inactive instead.",
                code="in_use",
            ) from error
        row.pk = key
        log(holding_id=row.holding_id, by=by, verb="removed", row=row, change={})
        touch(row.holding_id, keys)


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
