"""Properties and plots out of maps and tables."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from core.errors import Refused
from plots.importing import BoundaryRow, PlaceRow, PlotRow
from plots.models import Plot, Property
from plots.services.importing.intake import Intake, Names, given
from plots.services.land import save_plot, save_property


def take_land(intake: Intake, rows: Sequence[Any], property: Property | None) -> None:
    """Properties first, whatever their place in the file, so that its plots find them."""
    land = _Land(intake, property)
    about_property = [row for row in rows if isinstance(row, BoundaryRow) or _is_property(row)]
    points = [row for row in rows if isinstance(row, PlaceRow) and not _is_property(row)]
    intake.take(about_property, land.property_of)
    intake.take([row for row in rows if isinstance(row, PlotRow)], land.plot_of)
    if points:
        intake.tell(len(points))
        names = ", ".join(row.name for row in points)
        intake.notes.append(
            f"Points left out: {names}. A point has no acres; draw an outline, or give acres in a table of plots."
        )


def _is_property(row: Any) -> bool:
    return isinstance(row, PlaceRow) and row.kind == "property"


class _Land:
    def __init__(self, intake: Intake, property: Property | None) -> None:
        self.intake = intake
        self.given = property
        self.properties = Names(Property.objects.filter(holding=intake.holding).order_by("id"))
        self.plots: dict[int, Names[Plot]] = {}

    def property_of(self, row: BoundaryRow | PlaceRow) -> str:
        """A new property at the place; one that is stored keeps its place and gets the outline, if there is one."""
        found = self.properties.find(row.name)
        values: dict[str, Any] = {"boundary": row.boundary} if isinstance(row, BoundaryRow) else {}
        if found is None:
            found = Property(holding=self.intake.holding)
            values |= {"name": row.name, "latitude": row.latitude, "longitude": row.longitude}
            self.intake.made(self.properties, found)
        if row.note:
            self.intake.notes.append(f"{row.where}: its remark was left out; a property has access notes instead.")
        return self.intake.put(found, values, save_property)

    def plot_of(self, row: PlotRow) -> str:
        """A plot by its property and name. A map gives the outline and so the size, a table typed acres, which win."""
        place = self._property(row)
        if place.pk not in self.plots:
            self.plots[place.pk] = Names(Plot.objects.filter(property=place).select_related("property").order_by("id"))
        plot = self.plots[place.pk].find(row.name)
        adding = plot is None
        if plot is None:
            plot = Plot(holding=self.intake.holding, property=place, name=row.name)
            self.intake.made(self.plots[place.pk], plot)
        values = given(row, ("kind", "note"), adding=adding)
        if row.polygon is not None:
            values["polygon"] = row.polygon
        else:
            values |= given(row, ("latitude", "longitude", "texture"), adding=adding) | {"acres_typed": row.acres}
        outcome = self.intake.put(plot, values, save_plot)
        if outcome != "same" and row.polygon is not None and plot.acres_typed is not None:
            self.intake.notes.append(
                f"{row.where}: its typed {plot.acres_typed:g} acres stay and win over the outline's "
                f"{plot.acres_geodesic:.2f}."
            )
        return outcome

    def _property(self, row: PlotRow) -> Property:
        if not row.property:
            if self.given is None:
                raise Refused("It names no property. Name it in the file, or name one for the whole import.")
            return self.given
        found = self.properties.find(row.property)
        if found is None:
            raise Refused(f"No property '{row.property}' is in this holding. Add it first, or correct the name.")
        return found
