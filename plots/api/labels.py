"""What labels say: entry times, rain-fast hours, wind, waits, washing, the most of an active, what may follow when."""

from rest_framework import serializers

from core.api.facts import FactSerializer, FactViewSet
from plots.models import Label, LabelActive, PlantBack
from plots.reference import crop_key, unknown_crop


class LabelSerializer(FactSerializer[Label]):
    class Meta:
        model = Label
        fields = [
            "id",
            "material",
            "entry_hours",
            "rain_fast_hours",
            "wind_least_mph",
            "wind_most_mph",
            "droplet",
            "night_low_f",
            "crop_least_in",
            "crop_most_in",
            "weed_most_in",
            "till_wait_days",
            "mow_wait_days",
            "wash_known",
            "wash_before",
            "over_crops",
            "checked_on",
            "source",
        ]


class LabelViewSet(FactViewSet):
    """The figures of a label as typed from the container; what is empty is not known, and nothing fills it in."""

    queryset = Label.objects.all()
    serializer_class = LabelSerializer
    filterset_fields = {"material": ["exact"], "checked_on": ["isnull", "gte", "lt"]}


class LabelActiveSerializer(FactSerializer[LabelActive]):
    class Meta:
        model = LabelActive
        fields = ["id", "label", "active", "per_unit", "unit", "season_most_per_acre"]


class LabelActiveViewSet(FactViewSet):
    """The active ingredients of a label: how much a unit of the material holds, the most in a calendar year."""

    queryset = LabelActive.objects.all()
    serializer_class = LabelActiveSerializer
    filterset_fields = {"label": ["exact"], "active": ["exact"]}


class PlantBackSerializer(FactSerializer[PlantBack]):
    class Meta:
        model = PlantBack
        fields = ["id", "label", "crop", "days", "after_rain_in"]

    def validate_crop(self, crop: str) -> str:
        """The key of a crop, also where its name was sent."""
        key = crop_key(crop)
        if key is None:
            raise serializers.ValidationError(unknown_crop(crop))
        return key


class PlantBackViewSet(FactViewSet):
    """How long after a spray a crop may be planted, by the label; an empty crop is any that the label does not name."""

    queryset = PlantBack.objects.all()
    serializer_class = PlantBackSerializer
    filterset_fields = {"label": ["exact"], "crop": ["exact"]}
