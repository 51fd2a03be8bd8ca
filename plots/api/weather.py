"""Weather series, their days and hours, which series a property reads, and the river gauge of its access."""

from collections.abc import Mapping
from typing import Any

from django.db.models import QuerySet
from rest_framework import serializers

from core.api.facts import FactSerializer, FactViewSet
from core.api.fields import Line, Zone
from plots.api.fields import FreezeTable, SeriesRow, readable_series
from plots.models import Day, Hour, PropertyGauge, PropertySeries, Series
from plots.services.series import remove_values, save_series, save_values, typed_source


class SeriesSerializer(FactSerializer[Series]):
    zone = Zone(required=False)
    freeze = FreezeTable(required=False, help_text="Freeze days as a station's annual normals publish them.")
    own = serializers.SerializerMethodField(help_text="Whether your holding keeps the series and may type into it.")

    class Meta:
        model = Series
        fields = ["id", "source", "place", "name", "zone", "freeze", "own"]
        read_only_fields = ["source"]

    def get_own(self, series: Series) -> bool:
        return series.owner_id is not None


class SeriesViewSet(FactViewSet):
    """Series that the holding keeps itself, and those of stations, which are only read."""

    queryset = Series.objects.all()
    serializer_class = SeriesSerializer
    filterset_fields = {"source": ["exact"], "place": ["exact"]}

    def visible(self) -> QuerySet[Series]:
        return readable_series(self.person)

    def tenant(self) -> dict[str, Any]:
        return {"owner": self.person.holding, "source": typed_source(self.person.holding_id)}

    def store(self, row: Series, values: Mapping[str, Any]) -> Series:
        return save_series(row=row, by=self.person, fields=sorted(values))

    def remove(self, row: Any) -> None:
        remove_values(row=row, by=self.person)


class ValuesViewSet(FactViewSet):
    """Values of a series the holding may read; only its own series may be written."""

    def visible(self) -> QuerySet[Any]:
        return self.everything().filter(series__in=readable_series(self.person))

    def tenant(self) -> dict[str, Any]:
        return {}

    def store(self, row: Any, values: Mapping[str, Any]) -> Any:
        return save_values(row=row, by=self.person, fields=sorted(values))

    def remove(self, row: Any) -> None:
        remove_values(row=row, by=self.person)


class DaySerializer(FactSerializer[Day]):
    series = SeriesRow(queryset=Series.objects.all())

    class Meta:
        model = Day
        fields = ["id", "series", "date", "kind", "high_f", "low_f", "rain_in", "issued_at"]


class DayViewSet(ValuesViewSet):
    """High and low in degrees F, rain in inches, of local civil days."""

    queryset = Day.objects.all()
    serializer_class = DaySerializer
    order = ("date", "id")
    filterset_fields = {"series": ["exact"], "kind": ["exact"], "date": ["exact", "gte", "lte"]}


class HourSerializer(FactSerializer[Hour]):
    series = SeriesRow(queryset=Series.objects.all())

    class Meta:
        model = Hour
        fields = [
            "id",
            "series",
            "at",
            "kind",
            "issued_at",
            "temp_f",
            "humidity_pct",
            "wind_mph",
            "gust_mph",
            "wind_dir_deg",
            "rain_in",
        ]


class HourViewSet(ValuesViewSet):
    """Hours with the values that the source gives."""

    queryset = Hour.objects.all()
    serializer_class = HourSerializer
    order = ("at", "id")
    filterset_fields = {"series": ["exact"], "kind": ["exact"], "at": ["exact", "gte", "lt"]}


class PropertySeriesSerializer(FactSerializer[PropertySeries]):
    series = SeriesRow(queryset=Series.objects.all())

    class Meta:
        model = PropertySeries
        fields = ["id", "property", "rank", "series"]


class PropertySeriesViewSet(FactViewSet):
    """The series that a property reads, the lowest rank first."""

    queryset = PropertySeries.objects.all()
    serializer_class = PropertySeriesSerializer
    order = ("property_id", "rank", "id")
    filterset_fields = {"property": ["exact"], "series": ["exact"]}


class PropertyGaugeSerializer(FactSerializer[PropertyGauge]):
    site = Line(max_length=15, help_text="The site number of the U.S. Geological Survey, 8 to 15 digits.")

    class Meta:
        model = PropertyGauge
        fields = ["id", "property", "site", "level_ft", "margin_ft", "hours_down", "use_action", "note"]


class PropertyGaugeViewSet(FactViewSet):
    """The river gauge that a property's access depends on. From `level_ft` on (feet on that gauge) nobody goes in;
    after that, when the river has stood `margin_ft` below it for `hours_down` hours. Without an own level the action
    stage of the National Weather Service stands in where `use_action` says so."""

    queryset = PropertyGauge.objects.all()
    serializer_class = PropertyGaugeSerializer
    filterset_fields = {"property": ["exact"], "site": ["exact"]}
