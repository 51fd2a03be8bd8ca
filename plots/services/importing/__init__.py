"""Import a file of facts: one transaction, every refused line with its reason, the same file twice changes nothing."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass

from django.db import transaction

from core.errors import NotFound, Refused
from core.models import Holding, Person
from plots.importing import KINDS, Refusal, parse
from plots.importing.rows import DayRow, HourRow, MachineRow, MaterialRow, NormalRow, PersonRow
from plots.models import Property, Series
from plots.services.importing.intake import Intake, Progress
from plots.services.importing.land import take_land
from plots.services.importing.people import take_people
from plots.services.importing.stores import take_machines, take_materials
from plots.services.importing.weather import check_series, take_normals, take_weather

__all__ = ["Imported", "Progress", "import_file"]


@dataclass(frozen=True, slots=True)
class Imported:
    """What an import did: rows of the file that are new, that changed what is stored, and that said what is stored
    already; what was refused, in the order of the file; and notes for people."""

    new: int
    changed: int
    same: int
    refused: tuple[Refusal, ...]
    notes: tuple[str, ...]

    @property
    def stored(self) -> int:
        return self.new + self.changed

    @property
    def summary(self) -> str:
        """What happened, in one sentence or two."""
        counts = f"{self.new:,} new, {self.changed:,} changed, {self.same:,} as before."
        if not self.refused:
            return counts
        many = f"{len(self.refused):,} refused"
        if self.new or self.changed or self.same:
            return f"{counts} {many} and left out."
        return f"{many}. Nothing was stored."


def import_file(
    *,
    holding: Holding,
    kind: str,
    data: bytes,
    by: Person | None,
    keep_good: bool = False,
    property: Property | None = None,
    series: Series | None = None,
    zone: str | None = None,
    progress: Progress | None = None,
) -> Imported:
    """Store what a file of a kind in `KINDS` holds. With one refused row nothing is stored, unless `keep_good`.

    Rows are matched by name (a plot by its property and name, weather by day or hour) and change what is stored; what
    a file leaves empty stays as it is. `property` is the land of plots that name none, and the one that reads the
    weather; `series` a series of the holding to keep the weather in, by default the property's own, or the holding's.
    `zone` names the zone of hourly times without offset, by default that of the series or the property. `progress` is
    called with (rows seen, rows in all) every so many rows. `by` is None where no person stands behind the import.

    Raises:
        Refused: no such kind.
        NotFound: the property or series is not in this holding.
        NotAllowed: the series is a station's.
    """
    if kind not in KINDS:
        raise Refused(f"'{kind}' is no kind of file. Give one of: {', '.join(KINDS)}.", code="invalid", field="kind")
    if property is not None and property.holding_id != holding.pk:
        raise NotFound(f"Property {property.pk} is not in this holding.", field="property")
    if series is not None:
        check_series(series, holding)
    where = zone or (series and series.zone) or (property and property.zone) or holding.zone
    near = (property.latitude, property.longitude) if property is not None else None
    parsed = parse(kind, data, zone=where, near=near)
    intake = Intake(holding, by, len(parsed.rows), progress)
    with transaction.atomic():
        match parsed.rows:
            case []:
                pass
            case [PersonRow(), *_]:
                take_people(intake, parsed.rows)
            case [MachineRow(), *_]:
                take_machines(intake, parsed.rows)
            case [MaterialRow(), *_]:
                take_materials(intake, parsed.rows)
            case [DayRow() | HourRow(), *_]:
                take_weather(intake, parsed.rows, series=series, property=property, zone=where)
            case [NormalRow(), *_]:
                take_normals(intake, parsed.rows, series=series, property=property, zone=where)
            case _:
                take_land(intake, parsed.rows, property)
        refused = tuple(sorted([*parsed.refused, *intake.refused], key=_place))
        if refused and not keep_good:
            transaction.set_rollback(True)
    kept = keep_good or not refused
    counts, notes = (intake.counts, intake.notes) if kept else (Counter(), [])
    return Imported(counts["new"], counts["changed"], counts["same"], refused, (*parsed.notes, *notes))


def _place(refusal: Refusal) -> int:
    """The number of the line or element; what concerns the file as a whole comes first."""
    number = re.search(r"\d+", refusal.where)
    return int(number.group()) if number else 0
