"""Properties, plots and what hangs on them."""

from collections.abc import Mapping
from typing import Any

from rest_framework import serializers

from core.api.facts import FactSerializer, FactViewSet
from core.api.fields import Line, Zone
from core.api.permissions import MANAGERS
from plots.api.fields import MonthDay, Outline
from plots.models import Consent, Contract, CrewProperty, Plot, Property, QuietTime, SoilTest, TellFirst
from plots.nesting import season_of
from plots.reference import nesting_seasons
from plots.services.land import save_plot, save_property


class PropertySerializer(FactSerializer[Property]):
    boundary = Outline(required=False, allow_null=True)
    zone = Zone(required=False, allow_blank=True, help_text="Found from the place if empty.")

    class Meta:
        model = Property
        fields = [
            "id",
            "name",
            "latitude",
            "longitude",
            "boundary",
            "tenure",
            "tenure_ends",
            "held_with",
            "zone",
            "access_notes",
            "floods",
            "station",
        ]


class PropertyViewSet(FactViewSet):
    """Pieces of land with a place; acres are those of their plots."""

    queryset = Property.objects.all()
    serializer_class = PropertySerializer
    filterset_fields = {"name": ["exact"], "tenure": ["exact"], "tenure_ends": ["gte", "lte"]}

    def store(self, row: Property, values: Mapping[str, Any]) -> Property:
        return save_property(row=row, by=self.person, fields=sorted(values))


class ConsentSerializer(FactSerializer[Consent]):
    class Meta:
        model = Consent
        fields = ["id", "property", "operation", "whose", "given_on", "valid_to", "note"]


class ConsentViewSet(FactViewSet):
    """Whose yes a field operation needs on a property, and the yes once given."""

    queryset = Consent.objects.all()
    serializer_class = ConsentSerializer
    filterset_fields = {"property": ["exact"], "operation": ["exact"], "given_on": ["isnull"]}


class TellFirstSerializer(FactSerializer[TellFirst]):
    class Meta:
        model = TellFirst
        fields = ["id", "property", "operation", "hazard", "name", "role", "reach", "lead_hours", "note"]


class TellFirstViewSet(FactViewSet):
    """Who is to be told before work on a property, how and how long before; managers alone see the list.

    Whoever goes reads it in the reminder of their job."""

    queryset = TellFirst.objects.all()
    serializer_class = TellFirstSerializer
    readers = MANAGERS
    filterset_fields = {"property": ["exact"], "operation": ["exact"], "hazard": ["exact"]}


class PlotSerializer(FactSerializer[Plot]):
    polygon = Outline(required=False, allow_null=True)
    acres = serializers.FloatField(read_only=True, help_text="Typed acres, or else those of the outline.")

    class Meta:
        model = Plot
        fields = [
            "id",
            "property",
            "name",
            "kind",
            "polygon",
            "latitude",
            "longitude",
            "acres",
            "acres_typed",
            "acres_geodesic",
            "perimeter_ft",
            "narrowest_ft",
            "flood_ft",
            "texture",
            "note",
        ]
        read_only_fields = ["acres_geodesic"]


class PlotViewSet(FactViewSet):
    """Parts of a property worked as one; acres and perimeter are measured from the outline, typed acres win."""

    queryset = Plot.objects.select_related("property")
    serializer_class = PlotSerializer
    filterset_fields = {"property": ["exact"], "kind": ["exact"], "name": ["exact"]}

    def store(self, row: Plot, values: Mapping[str, Any]) -> Plot:
        return save_plot(row=row, by=self.person, fields=sorted(values))


class QuietTimeSerializer(FactSerializer[QuietTime]):
    class Meta:
        model = QuietTime
        fields = [
            "id",
            "property",
            "plot",
            "kind",
            "first_day",
            "last_day",
            "from_time",
            "to_time",
            "operation",
            "way",
            "reason",
        ]


class QuietTimeViewSet(FactViewSet):
    """Days when nobody may enter, or only in some hours or by one way; both days inclusive."""

    queryset = QuietTime.objects.all()
    serializer_class = QuietTimeSerializer
    order = ("first_day", "id")
    filterset_fields = {
        "property": ["exact"],
        "plot": ["exact"],
        "kind": ["exact"],
        "first_day": ["lte"],
        "last_day": ["gte"],
    }


class ContractSerializer(FactSerializer[Contract]):
    closed_from = MonthDay(required=False, allow_blank=True)
    closed_to = MonthDay(required=False, allow_blank=True)
    closed_operations = serializers.ListField(child=Line(max_length=30), max_length=50, required=False)
    state = Line(
        max_length=2, write_only=True, required=False,
        help_text="Fills in the nesting season of this state where no closed days are given. The contract decides.",
    )  # fmt: skip

    class Meta:
        model = Contract
        fields = [
            "id",
            "property",
            "plot",
            "practice",
            "signed_on",
            "first_day",
            "last_day",
            "closed_from",
            "closed_to",
            "closed_operations",
            "share",
            "cap_acres",
            "field_acres",
            "least_acres",
            "least_width_ft",
            "disturb_share",
            "contract_acres",
            "exempt_acres",
            "source",
            "state",
        ]

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        state = attrs.pop("state", "")
        if not state or attrs.get("closed_from"):
            return attrs
        begins = attrs.get("first_day") or getattr(self.instance, "first_day", None)
        season = None if begins is None else season_of(nesting_seasons(), state, begins.year)
        if season is None:
            raise serializers.ValidationError(
                {"state": f"No nesting season of {state} is known here. Type the days that stand in the contract."}
            )
        filled = {"closed_from": season.first, "closed_to": season.last, "source": season.cited}
        return {**attrs, **filled, **({"source": attrs["source"]} if attrs.get("source") else {})}


class ContractViewSet(FactViewSet):
    """Conservation contracts with their days and their closed season of every year."""

    queryset = Contract.objects.all()
    serializer_class = ContractSerializer
    filterset_fields = {"property": ["exact"], "plot": ["exact"], "last_day": ["gte", "lte"]}


class SoilTestSerializer(FactSerializer[SoilTest]):
    class Meta:
        model = SoilTest
        fields = [
            "id",
            "plot",
            "on",
            "ph",
            "buffer_ph",
            "phosphorus_ppm",
            "potassium_ppm",
            "organic_pct",
            "nitrogen_lb",
            "phosphate_lb",
            "potash_lb",
            "lime_lb",
            "laboratory",
        ]


class SoilTestViewSet(FactViewSet):
    """Soil reports, values as printed on them."""

    queryset = SoilTest.objects.all()
    serializer_class = SoilTestSerializer
    order = ("on", "id")
    filterset_fields = {"plot": ["exact"], "on": ["exact", "gte", "lte"]}


class CrewPropertySerializer(FactSerializer[CrewProperty]):
    class Meta:
        model = CrewProperty
        fields = ["id", "crew", "property"]


class CrewPropertyViewSet(FactViewSet):
    """Which properties a crew looks after; a crew without any looks after all."""

    queryset = CrewProperty.objects.all()
    serializer_class = CrewPropertySerializer
    filterset_fields = {"crew": ["exact"], "property": ["exact"]}
