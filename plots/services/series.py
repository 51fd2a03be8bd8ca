"""Weather series and their values; a new value wakes every holding that reads the series."""

from collections.abc import Iterable
from typing import TypeVar

from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction

from core.errors import NotAllowed, Refused
from core.models import Person
from core.services.facts import touch
from core.services.rows import log, sentence_of
from plots.models import Day, Hour, PropertySeries, Series

Values = TypeVar("Values", Series, Day, Hour)


def typed_source(holding_id: int) -> str:
    """The source of the series that a holding types itself, so that two holdings may use one name for a place."""
    return f"typed-{holding_id}"


def touch_readers(series_id: int) -> list[int]:
    """Tell the walk of every holding with a property that ranks the series, in id order; returns their ids."""
    ranked = PropertySeries.objects.filter(series_id=series_id)
    readers = sorted(set(ranked.values_list("holding_id", flat=True)))
    for holding_id in readers:
        touch(holding_id, [f"series:{series_id}"])
    return readers


def save_series(*, row: Series, by: Person, fields: Iterable[str] = ()) -> Series:
    """Add or change a series of the holding.

    Raises:
        NotAllowed: the series belongs to no holding, or to another.
        Refused: a rule of the table.
    """
    _check_owner(row, by)
    return _save(row, by, fields)


def save_values(*, row: Values, by: Person, fields: Iterable[str] = ()) -> Values:
    """Add or change a day or an hour of a series of the holding.

    Raises:
        NotAllowed: the series, or the one the values stood in before, is not the holding's own.
        Refused: a rule of the table.
    """
    _check_owner(_series_of(row), by)
    return _save(row, by, fields)


def remove_values(*, row: Series | Day | Hour, by: Person) -> None:
    """Remove a series with all its values, or one day or hour.

    Raises:
        NotAllowed: the series is not the holding's own.
    """
    series = _series_of(row)
    _check_owner(series, by)
    with transaction.atomic():
        touch_readers(series.pk)
        log(holding_id=by.holding_id, by=by, verb="removed", row=row, change={})
        row.delete()


def _series_of(row: Series | Day | Hour) -> Series:
    return row if isinstance(row, Series) else row.series


def _check_owner(series: Series, by: Person) -> None:
    if series.owner_id != by.holding_id:
        raise NotAllowed(
            "Values are typed into a series of your own holding. Add one under series/ and rank it for the property.",
            series=series.pk,
        )


def _save(row: Values, by: Person, fields: Iterable[str]) -> Values:
    verb = "added" if row._state.adding else "changed"
    with transaction.atomic():
        touched = set()
        if not row._state.adding:
            before = _series_of(type(row).objects.get(pk=row.pk))
            _check_owner(before, by)
            touched.add(before.pk)
        try:
            row.full_clean()
            with transaction.atomic():
                row.save()
        except (ValidationError, IntegrityError) as error:
            field, sentence = sentence_of(error)
            raise Refused(sentence, code="invalid", field=field) from error
        change = {name: getattr(row, name) for name in fields}
        log(holding_id=by.holding_id, by=by, verb=verb, row=row, change=change)
        for series_id in sorted(touched | {_series_of(row).pk}):
            touch_readers(series_id)
    return row
