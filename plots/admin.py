"""The facts of `plots` in the admin."""

from typing import Any

from django.contrib import admin
from django.db import transaction
from django.db.models import QuerySet
from django.http import HttpRequest

from core.admin import FactAdmin, SeenAdmin, SharedAdmin
from core.models import Graph, Person
from core.services.facts import ALL, touch
from plots.models import (
    Consent,
    Contract,
    CrewProperty,
    Crop,
    Day,
    Gauge,
    Hour,
    Label,
    LabelActive,
    Lot,
    Machine,
    Material,
    Normal,
    OwnLimit,
    PlantBack,
    Plot,
    Property,
    PropertyGauge,
    PropertySeries,
    QuietTime,
    Series,
    SoilTest,
    Source,
    StockMove,
    TellFirst,
)
from plots.services.land import save_plot, save_property
from plots.services.machines import save_machine
from plots.services.series import touch_readers


@admin.register(Property)
class PropertyAdmin(FactAdmin):
    list_display = ("name", "tenure", "tenure_ends", "zone", "holding")
    list_filter = ("holding", "tenure")
    list_select_related = ("holding",)
    search_fields = ("name",)

    def store(self, row: Property, by: Person | None, fields: list[str]) -> None:
        save_property(row=row, by=by, fields=fields)


@admin.register(Plot)
class PlotAdmin(FactAdmin):
    list_display = ("name", "property", "kind", "acres")
    list_filter = ("holding", "kind")
    list_select_related = ("property",)
    readonly_fields = ("acres_geodesic",)
    search_fields = ("name", "property__name")

    def store(self, row: Plot, by: Person | None, fields: list[str]) -> None:
        save_plot(row=row, by=by, fields=fields)


@admin.register(Consent)
class ConsentAdmin(FactAdmin):
    list_display = ("property", "operation", "whose", "given_on", "valid_to")
    list_select_related = ("property",)


@admin.register(TellFirst)
class TellFirstAdmin(FactAdmin):
    list_display = ("name", "role", "property", "operation", "hazard", "lead_hours")
    list_select_related = ("property",)


@admin.register(QuietTime)
class QuietTimeAdmin(FactAdmin):
    list_display = ("property", "plot", "kind", "first_day", "last_day", "from_time", "to_time", "reason")
    list_select_related = ("property", "plot")


@admin.register(Contract)
class ContractAdmin(FactAdmin):
    list_display = ("property", "practice", "first_day", "last_day", "closed_from", "closed_to")
    list_select_related = ("property",)


@admin.register(SoilTest)
class SoilTestAdmin(FactAdmin):
    list_display = ("plot", "on", "ph", "buffer_ph", "phosphorus_ppm", "potassium_ppm")
    list_select_related = ("plot",)


@admin.register(Machine)
class MachineAdmin(FactAdmin):
    list_display = ("name", "kind", "state", "until", "at_property")
    list_filter = ("holding", "state", "kind")
    list_select_related = ("at_property",)

    def store(self, row: Machine, by: Person | None, fields: list[str]) -> None:
        save_machine(row=row, by=by, fields=fields)


@admin.register(Material)
class MaterialAdmin(FactAdmin):
    list_display = ("name", "kind", "active", "unit", "restricted")
    list_filter = ("holding", "kind", "restricted")
    search_fields = ("name", "active")


@admin.register(Label)
class LabelAdmin(FactAdmin):
    list_display = ("material", "entry_hours", "rain_fast_hours", "wind_most_mph", "wash_before", "checked_on")
    list_select_related = ("material",)


@admin.register(LabelActive)
class LabelActiveAdmin(FactAdmin):
    list_display = ("label", "active", "per_unit", "unit", "season_most_per_acre")
    list_select_related = ("label__material",)


@admin.register(PlantBack)
class PlantBackAdmin(FactAdmin):
    list_display = ("label", "crop", "days", "after_rain_in")
    list_select_related = ("label__material",)


@admin.register(OwnLimit)
class OwnLimitAdmin(FactAdmin):
    list_display = ("quantity", "least", "most", "operation", "machine", "plot", "person")
    list_select_related = ("machine", "plot", "person")


@admin.register(StockMove)
class StockMoveAdmin(FactAdmin):
    list_display = ("material", "lot", "quantity", "at", "note")
    list_select_related = ("material", "lot")
    readonly_fields = ("report_id",)


@admin.register(PropertySeries)
class PropertySeriesAdmin(FactAdmin):
    list_display = ("property", "rank", "series")
    list_select_related = ("property", "series")
    raw_id_fields = ("series",)


@admin.register(PropertyGauge)
class PropertyGaugeAdmin(FactAdmin):
    list_display = ("property", "site", "level_ft", "margin_ft", "hours_down", "use_action")
    list_select_related = ("property",)


admin.site.register([CrewProperty, Lot], FactAdmin)


class WeatherAdmin(SharedAdmin):
    """Weather belongs to no holding; a changed value wakes every holding that reads the series."""

    def _series(self, row: Any) -> int:
        return int(row.pk if isinstance(row, Series) else row.series_id)

    def save_model(self, request: HttpRequest, obj: Any, form: Any, change: bool) -> None:
        with transaction.atomic():
            before = {self._series(type(obj).objects.get(pk=obj.pk))} if change else set()
            super().save_model(request, obj, form, change)
            for series_id in sorted(before | {self._series(obj)}):
                touch_readers(series_id)

    def delete_model(self, request: HttpRequest, obj: Any) -> None:
        with transaction.atomic():
            touch_readers(self._series(obj))
            super().delete_model(request, obj)

    def delete_queryset(self, request: HttpRequest, queryset: QuerySet[Any]) -> None:
        with transaction.atomic():
            for row in queryset.order_by("pk"):
                self.delete_model(request, row)


@admin.register(Series)
class SeriesAdmin(WeatherAdmin):
    list_display = ("source", "place", "name", "zone", "owner")
    search_fields = ("source", "place", "name")


@admin.register(Day)
class DayAdmin(WeatherAdmin):
    list_display = ("series", "date", "kind", "high_f", "low_f", "rain_in")
    list_filter = ("kind",)
    list_select_related = ("series",)
    raw_id_fields = ("series",)
    date_hierarchy = "date"


@admin.register(Hour)
class HourAdmin(WeatherAdmin):
    list_display = ("series", "at", "kind", "temp_f", "humidity_pct", "wind_mph", "rain_in")
    list_filter = ("kind",)
    list_select_related = ("series",)
    raw_id_fields = ("series",)


@admin.register(Normal)
class NormalAdmin(WeatherAdmin):
    list_display = ("series", "month_day", "high_f", "low_f", "rain_in")
    list_select_related = ("series",)
    raw_id_fields = ("series",)


@admin.register(Gauge)
class GaugeAdmin(SeenAdmin):
    """As the public services tell it; it belongs to no holding, and nobody edits it."""

    list_display = ("site", "name", "lid", "action_ft", "category", "told_at")
    list_filter = ()
    search_fields = ("site", "name", "lid")

    def get_queryset(self, request: HttpRequest) -> QuerySet[Any]:
        return Gauge.objects.all()


@admin.register(Crop)
class CropAdmin(SharedAdmin):
    """A crop's figures are everybody's: every holding is walked again."""

    list_display = ("key", "name", "degree_days")

    def save_model(self, request: HttpRequest, obj: Crop, form: Any, change: bool) -> None:
        with transaction.atomic():
            super().save_model(request, obj, form, change)
            for holding_id in Graph.objects.order_by("holding_id").values_list("holding_id", flat=True):
                touch(holding_id, [ALL])

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False


@admin.register(Source)
class SourceAdmin(SharedAdmin):
    list_display = ("key", "title", "publisher", "year", "worth")
    search_fields = ("key", "title")
