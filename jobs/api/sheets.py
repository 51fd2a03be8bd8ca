"""What law, contract and safety ask of one job."""

from __future__ import annotations

from core.api.facts import FactSerializer, FactViewSet
from jobs.api.fields import LOOKERS
from jobs.models import Sheet


class SheetSerializer(FactSerializer[Sheet]):
    class Meta:
        model = Sheet
        fields = [
            "id",
            "job",
            "purpose",
            "permit_needed",
            "permit_number",
            "permit_issued_on",
            "permit_expires_on",
            "permit_most_days",
            "boss",
            "least_crew",
            "fuel_height_ft",
            "break_width_ft",
            "break_least_ft",
            "signs",
            "agency_checked_on",
            "agency_county",
            "check_in_minutes",
            "contact",
            "spray_method",
            "droplet_microns",
            "nozzle_in",
        ]


class SheetViewSet(FactViewSet):
    """What is typed of a job: purpose, permit, crew, firebreak, signs, agency, check-in, spray. Empty is unknown."""

    queryset = Sheet.objects.all()
    serializer_class = SheetSerializer
    readers = LOOKERS
    filterset_fields = {"job": ["exact"], "boss": ["exact"], "permit_expires_on": ["isnull", "gte", "lt"]}
