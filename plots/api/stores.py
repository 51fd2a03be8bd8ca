"""Machines, materials with their lots and stock, and the reference data of crops and sources."""

from collections.abc import Mapping
from typing import Any

from django.db.models import FloatField, QuerySet, Sum, Value
from django.db.models.functions import Coalesce
from rest_framework import serializers

from core.api.facts import FactSerializer, FactViewSet, ReadViewSet
from plots.models import Crop, Lot, Machine, Material, Source, StockMove
from plots.services.machines import save_machine


class MachineSerializer(FactSerializer[Machine]):
    class Meta:
        model = Machine
        fields = [
            "id",
            "name",
            "kind",
            "width_ft",
            "speed_mph",
            "efficiency",
            "row_in",
            "tank_gal",
            "gallons_per_acre",
            "nozzle_gpm",
            "nozzle_psi",
            "at_property",
            "state",
            "until",
            "with_operator",
            "droplet",
            "note",
        ]


class MachineViewSet(FactViewSet):
    """Machines, where they stand and whether they work."""

    queryset = Machine.objects.all()
    serializer_class = MachineSerializer
    filterset_fields = {"name": ["exact"], "kind": ["exact"], "state": ["exact"], "at_property": ["exact"]}

    def store(self, row: Machine, values: Mapping[str, Any]) -> Machine:
        return save_machine(row=row, by=self.person, fields=sorted(values))


class MaterialSerializer(FactSerializer[Material]):
    stock = serializers.SerializerMethodField(help_text="The sum of all movements, in the material's unit.")

    class Meta:
        model = Material
        fields = [
            "id",
            "name",
            "kind",
            "active",
            "analysis",
            "unit",
            "pack_size",
            "pack_price",
            "lead_days",
            "restricted",
            "note",
            "stock",
        ]

    def get_stock(self, material: Material) -> float:
        moved = getattr(material, "moved", None)
        if moved is None:
            moved = material.moves.aggregate(sum=Sum("quantity"))["sum"] or 0.0
        return round(float(moved), 6)


class MaterialViewSet(FactViewSet):
    """What is used up, with its stock."""

    queryset = Material.objects.annotate(moved=Coalesce(Sum("moves__quantity"), Value(0.0), output_field=FloatField()))
    serializer_class = MaterialSerializer
    filterset_fields = {"name": ["exact"], "kind": ["exact"], "restricted": ["exact"]}


class LotSerializer(FactSerializer[Lot]):
    class Meta:
        model = Lot
        fields = [
            "id",
            "material",
            "number",
            "note",
            "tolerates",
            "purity_pct",
            "germination_pct",
            "dormant_pct",
        ]


class LotViewSet(FactViewSet):
    """Deliveries by the number on the bag."""

    queryset = Lot.objects.all()
    serializer_class = LotSerializer
    filterset_fields = {"material": ["exact"], "number": ["exact"]}


class StockMoveSerializer(FactSerializer[StockMove]):
    class Meta:
        model = StockMove
        fields = ["id", "material", "lot", "quantity", "at", "report_id", "note"]
        read_only_fields = ["report_id"]


class StockMoveViewSet(FactViewSet):
    """What came in (above 0) or was used (below 0)."""

    queryset = StockMove.objects.all()
    serializer_class = StockMoveSerializer
    order = ("at", "id")
    filterset_fields = {"material": ["exact"], "lot": ["exact"], "at": ["gte", "lt"]}


class CropSerializer(FactSerializer[Crop]):
    class Meta:
        model = Crop
        fields = ["key", "name", "degree_days", "facts"]
        read_only_fields = fields


class ReferenceViewSet(ReadViewSet):
    """Reference data that all holdings share, by its key."""

    lookup_value_converter = "slug"
    order = ("key",)

    def visible(self) -> QuerySet[Any]:
        return self.everything()


class CropViewSet(ReferenceViewSet):
    """Crops and the degree days they are counted by."""

    queryset = Crop.objects.all()
    serializer_class = CropSerializer
    filterset_fields = {"name": ["exact"]}


class SourceSerializer(FactSerializer[Source]):
    class Meta:
        model = Source
        fields = ["key", "title", "publisher", "year", "worth"]
        read_only_fields = fields


class SourceViewSet(ReferenceViewSet):
    """Where waits, dates and figures come from, and what they are worth."""

    queryset = Source.objects.all()
    serializer_class = SourceSerializer
    filterset_fields = {"worth": ["exact"]}
