"""Fields that only facts of land and weather have."""

from datetime import date
from typing import Any

from django.db.models import Q, QuerySet
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from core.api.authentication import person_behind
from core.api.fields import Line, OwnRow
from core.models import Person
from plots.models import Series


def readable_series(person: Person) -> QuerySet[Series]:
    """The holding's own series and the public ones of stations."""
    return Series.objects.filter(Q(owner=person.holding_id) | Q(owner=None))


class SeriesRow(OwnRow):
    """The id of a series that the holding may read."""

    def get_queryset(self) -> QuerySet[Series]:
        if self.context.get("request") is None:
            return Series.objects.none()
        return readable_series(person_behind(self.context["request"]))


class MonthDay(Line):
    """A day of every year as month and day, 04-15; 02-29 is one."""

    default_error_messages = {"month_day": "Give month and day, like 04-15."}

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(max_length=5, **kwargs)

    def to_internal_value(self, data: Any) -> str:
        text = str(super().to_internal_value(data))
        if text:
            try:
                date.fromisoformat(f"2000-{text}")
            except ValueError:
                self.fail("month_day")
        return text


@extend_schema_field(OpenApiTypes.OBJECT)
class Outline(serializers.JSONField):
    """A GeoJSON Polygon or MultiPolygon (RFC 7946); the service reads and checks it."""
