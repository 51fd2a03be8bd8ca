"""Weather series and their values; a new value wakes every holding that reads the series."""

from collections.abc import Iterable
from typing import Any, TypeVar

from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction

from core.errors import NotAllowed, NotFound, Refused
from core.models import Person
from core.services.facts import lock_graph, touch
from core.services.rows import keep_named, log, sentence_of
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
    with transaction.atomic():
        lock_graph(by.holding_id)
        series = _series_of(_locked(row))
        _check_owner(series, by)
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
    """As `save_row`: of a stored row nothing but the named fields is taken."""
    adding, named = row._state.adding, list(fields)
    with transaction.atomic():
        lock_graph(by.holding_id)
        touched = set()
        if not adding:
            stored = _locked(row)
            _check_owner(_series_of(stored), by)
            touched.add(_series_of(stored).pk)
            keep_named(row, stored, named)
        try:
            row.full_clean()
            with transaction.atomic():
                row.save(update_fields=None if adding else named)
        except (ValidationError, IntegrityError) as error:
            name, sentence = sentence_of(error)
            raise Refused(sentence, code="invalid", field=name) from error
        change = {name: getattr(row, name) for name in named}
        log(holding_id=by.holding_id, by=by, verb="added" if adding else "changed", row=row, change=change)
        for series_id in sorted(touched | {_series_of(row).pk}):
            touch_readers(series_id)
    return row


def _locked(row: Series | Day | Hour) -> Any:
    stored = type(row)._default_manager.select_for_update(no_key=True, of=("self",)).filter(pk=row.pk).first()
    if stored is None:
        raise NotFound(f"This {row._meta.verbose_name} is gone.")
    return stored
