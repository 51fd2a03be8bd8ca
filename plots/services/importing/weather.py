"""Days, hours and normals of a series that the holding keeps, in bulk: years of hours in one import."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, TypeVar

from django.db import IntegrityError, transaction

from core.errors import NotAllowed, NotFound, Refused
from core.models import Holding
from core.services.rows import log, save_row, sentence_of
from plots.importing import DayRow, HourRow
from plots.models import Day, DayKind, Hour, Normal, Property, PropertySeries, Series
from plots.services.importing.intake import Intake, Tally
from plots.services.series import touch_readers, typed_source

BATCH = 2_000
VALUES: Mapping[type[Day] | type[Hour], tuple[str, ...]] = {
    Day: ("high_f", "low_f", "rain_in"),
    Hour: ("temp_f", "humidity_pct", "wind_mph", "gust_mph", "wind_dir_deg", "rain_in"),
}
KEY = {Day: "date", Hour: "at"}

Values = TypeVar("Values", Day, Hour)


def check_series(series: Series, holding: Holding) -> None:
    """Raises: NotFound: another holding keeps it. NotAllowed: a station does."""
    if series.owner_id is None:
        raise NotAllowed("A station's weather is not imported by hand. Leave the series out, or name one of your own.")
    if series.owner_id != holding.pk:
        raise NotFound(f"Series {series.pk} is not in this holding.", field="series")


def take_weather(
    intake: Intake, rows: Sequence[Any], *, series: Series | None, property: Property | None, zone: str
) -> None:
    """Merge the rows into the series: a value that a row leaves empty stays as it is stored."""
    kept = series or _own_series(intake.holding, property, zone)
    if property is not None:
        _rank(intake, kept, property)
    if isinstance(rows[0], DayRow):
        _logged(intake, kept, Day, merge_values(intake, kept, Day, {row.date: row for row in rows}))
    else:
        for kind, here in (
            (DayKind.OBSERVED, {row.at: row for row in rows if row.issued is None}),
            (DayKind.FORECAST, {row.at: row for row in rows if row.issued is not None}),
        ):
            if here:
                _logged(intake, kept, Hour, merge_values(intake, kept, Hour, here, kind))
    if not PropertySeries.objects.filter(series=kept).exists():
        intake.notes.append(f"No property reads the series '{kept}' yet. Name the property, or rank the series for it.")


def take_normals(
    intake: Intake, rows: Sequence[Any], *, series: Series | None, property: Property | None, zone: str
) -> None:
    """Store the normals of a station with the series, in the place of those of the same days."""
    kept = series or _own_series(intake.holding, property, zone)
    if property is not None:
        _rank(intake, kept, property)
    new, changed = merge_normals(intake, kept, rows)
    if new or changed:
        change = {"normals new": new, "normals changed": changed}
        log(holding_id=intake.holding.pk, by=intake.by, verb="imported", row=kept, change=change)


def merge_normals(tally: Tally, kept: Series, rows: Sequence[Any]) -> tuple[int, int]:
    """Store normals in the place of those of the same days and wake who reads them; how many are (new, changed)."""
    stored = {
        day: (high, low, published)
        for day, high, low, published in Normal.objects.filter(series=kept).values_list(
            "month_day", "high_f", "low_f", "degree_days"
        )
    }
    new: list[Normal] = []
    changed: list[Normal] = []
    for row in rows:
        said = row.high_f, row.low_f, dict(row.degree_days)
        if stored.get(row.month_day) == said:
            tally.counts["same"] += 1
            continue
        made = Normal(series=kept, month_day=row.month_day, high_f=said[0], low_f=said[1], degree_days=said[2])
        (changed if row.month_day in stored else new).append(made)
    Normal.objects.bulk_create(
        [*new, *changed],
        update_conflicts=True,
        unique_fields=["series", "month_day"],
        update_fields=["high_f", "low_f", "degree_days"],
    )
    tally.counts.update(new=len(new), changed=len(changed))
    tally.tell(len(rows))
    if new or changed:
        touch_readers(kept.pk)
    return len(new), len(changed)


def _own_series(holding: Holding, property: Property | None, zone: str) -> Series:
    """The first own series that the property reads, or else the typed one of the property, or of the holding."""
    if property is not None:
        ranked = PropertySeries.objects.filter(property=property, series__owner=holding).order_by("rank")
        read = ranked.select_related("series").first()
        if read is not None:
            return read.series
    place = "holding" if property is None else f"property-{property.pk}"
    name = f"{holding.name if property is None else property.name}, typed and imported"
    found, _ = Series.objects.get_or_create(
        source=typed_source(holding.pk), place=place, defaults={"owner": holding, "zone": zone, "name": name[:120]}
    )
    return found


def _rank(intake: Intake, series: Series, property: Property) -> None:
    """Let the property read the series, after those it reads already."""
    ranked = PropertySeries.objects.filter(property=property)
    if ranked.filter(series=series).exists():
        return
    last = ranked.order_by("-rank").values_list("rank", flat=True).first() or 0
    row = PropertySeries(holding=intake.holding, property=property, rank=last + 1, series=series)
    save_row(row=row, by=intake.by, fields=["property", "rank", "series"])
    intake.notes.append(f"{property} reads the series '{series}' now, at rank {last + 1}.")


def _logged(intake: Intake, series: Series, model: type[Day] | type[Hour], done: Mapping[str, int]) -> None:
    if any(done.values()):
        change = {f"{model._meta.verbose_name_plural} {what}": count for what, count in done.items()}
        log(holding_id=intake.holding.pk, by=intake.by, verb="imported", row=series, change=change)


def merge_values(
    tally: Tally,
    series: Series,
    model: type[Values],
    rows: Mapping[Any, DayRow | HourRow],
    kind: str = DayKind.OBSERVED,
) -> dict[str, int]:
    """Merge days or hours into a series and wake who reads it; how many are "new" and "changed".

    A forecast takes the place of one issued earlier, whole, and never of a later one."""
    key: str = KEY[model]
    names: tuple[str, ...] = VALUES[model]
    span = {f"{key}__gte": min(rows), f"{key}__lte": max(rows)}
    here = model._default_manager.filter(series=series, kind=kind, **span)
    stored = {at: values for at, *values in here.values_list(key, *names, "issued_at")}
    before = tally.counts.copy()
    waiting: list[tuple[str, str, Values]] = []
    row: DayRow | HourRow
    for at, row in rows.items():
        said: list[Any] = [*(getattr(row, name) for name in names), getattr(row, "issued", None)]
        old = stored.get(at)
        merged = _joined(said, old, whole=kind == DayKind.FORECAST)
        if merged == old:
            tally.counts["same"] += 1
            tally.tell(1)
            continue
        made = model(series=series, kind=kind, **{key: at}, **dict(zip([*names, "issued_at"], merged, strict=True)))
        waiting.append((row.where, "new" if old is None else "changed", made))
    for start in range(0, len(waiting), BATCH):
        batch = waiting[start : start + BATCH]
        _store(tally, model, batch)
        tally.tell(len(batch))
    done = {what: tally.counts[what] - before[what] for what in ("new", "changed")}
    if any(done.values()):
        touch_readers(series.pk)
    return done


def _joined(said: list[Any], old: list[Any] | None, *, whole: bool) -> list[Any]:
    """What is stored after a row says its values, the time of issue last. A `whole` one takes the place of what was
    issued earlier, and gives way to what was issued later."""
    if old is None:
        return said
    if whole and old[-1] != said[-1]:
        return old if old[-1] is not None and old[-1] > said[-1] else said
    return [have if new is None else new for new, have in zip(said, old, strict=True)]


def _store(tally: Tally, model: type[Values], batch: Sequence[tuple[str, str, Values]]) -> None:
    """The batch in one go; where the database refuses it, row by row to find which."""
    try:
        _upsert(model, [row for _, _, row in batch])
    except IntegrityError as error:
        if len(batch) > 1:
            for one in batch:
                _store(tally, model, [one])
            return
        field, sentence = sentence_of(error)
        tally.refuse(batch[0][0], Refused(sentence, field=field))
    else:
        tally.counts.update(what for _, what, _ in batch)


def _upsert(model: type[Values], rows: Sequence[Values]) -> None:
    key: str = KEY[model]
    names: tuple[str, ...] = VALUES[model]
    with transaction.atomic():
        model._default_manager.bulk_create(
            rows, update_conflicts=True, unique_fields=["series", key, "kind"], update_fields=[*names, "issued_at"]
        )
