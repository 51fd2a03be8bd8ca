"""Properties and plots: the zone found from the place, acres and perimeter measured from the outline."""

from collections.abc import Iterable
from typing import Any

from django.db import transaction

from core.errors import Refused
from core.models import Person
from core.services.rows import check_same_holding, reread, save_row
from plots.geometry import BadShape, Shape, read_shape, zone_at
from plots.models import Plot, Property


def save_property(*, row: Property, by: Person | None, fields: Iterable[str] = ()) -> Property:
    """Add or change a property. Without a zone typed with the place, the zone is the one of the place.

    Raises:
        Refused: the place is not on the globe, the boundary is no outline, or a rule of the table.
    """
    given = set(fields)
    with transaction.atomic():
        if not row._state.adding:
            reread(row, given)
        moved = bool(given & {"latitude", "longitude"}) and "zone" not in given
        if moved or not row.zone:
            try:
                row.zone = zone_at(row.latitude, row.longitude)
            except ValueError as error:
                raise Refused(str(error), code="invalid", field="latitude") from error
            given.add("zone")
        if row.boundary is not None and (row._state.adding or "boundary" in given):
            row.boundary = _shape(row.boundary, (row.latitude, row.longitude), "boundary").geojson
        save_row(row=row, by=by, fields=sorted(given), unlogged=("boundary",))
    return row


def save_plot(*, row: Plot, by: Person | None, fields: Iterable[str] = ()) -> Plot:
    """Add or change a plot. From a polygon come its acres, perimeter and, if none is typed, its place.

    Raises:
        Refused: the polygon is no outline, a perimeter is typed against a polygon, or a rule of the table.
    """
    given = set(fields)
    with transaction.atomic():
        if not row._state.adding:
            reread(row, given)
        check_same_holding(row, row.holding_id)
        drawn = row._state.adding or "polygon" in given
        if row.polygon is not None and "perimeter_ft" in given:
            raise Refused(
                "The perimeter is measured from the outline. Leave it out, or take the outline away.",
                code="invalid",
                field="perimeter_ft",
            )
        if drawn and row.polygon is None:
            row.acres_geodesic = None
            given.add("acres_geodesic")
        elif drawn:
            shape = _shape(row.polygon, (row.property.latitude, row.property.longitude), "polygon")
            row.polygon, row.acres_geodesic, row.perimeter_ft = shape.geojson, shape.acres, shape.perimeter_ft
            given |= {"acres_geodesic", "perimeter_ft"}
            if not given & {"latitude", "longitude"}:
                row.latitude, row.longitude = shape.centre
                given |= {"latitude", "longitude"}
        save_row(row=row, by=by, fields=sorted(given), unlogged=("polygon",))
    return row


def _shape(geometry: Any, near: tuple[float, float], field: str) -> Shape:
    try:
        return read_shape(geometry, near)
    except BadShape as error:
        raise Refused(str(error), code="invalid", field=field) from error
