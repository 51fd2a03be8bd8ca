"""Fields that only facts of land and weather have."""

from collections.abc import Mapping
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


TABLE = (
    'Give it like {"32": {"spring": {"10": "05-11"}, "autumn": {"10": "10-03"}}}: degrees F from 16 to 36, levels of '
    "1 to 99 percent, month and day."
)


@extend_schema_field(OpenApiTypes.OBJECT)
class FreezeTable(serializers.JSONField):
    """Published days of the last freeze in spring and the first in autumn, by degrees F and level in percent:
    {"32": {"spring": {"10": "05-11", "50": "04-27"}, "autumn": {"10": "10-03"}}}."""

    def to_internal_value(self, data: Any) -> dict[str, dict[str, dict[str, str]]]:
        table = super().to_internal_value(data)
        if not isinstance(table, Mapping) or not all(isinstance(seasons, Mapping) for seasons in table.values()):
            raise serializers.ValidationError(TABLE)
        return {
            self._whole(degrees, 16, 36): {self._season(name): self._days(days) for name, days in seasons.items()}
            for degrees, seasons in table.items()
        }

    def _days(self, days: Any) -> dict[str, str]:
        if not isinstance(days, Mapping):
            raise serializers.ValidationError(TABLE)
        return {self._whole(level, 1, 99): MonthDay().run_validation(day) for level, day in days.items()}

    def _season(self, name: str) -> str:
        if name not in ("spring", "autumn"):
            raise serializers.ValidationError(TABLE)
        return name

    def _whole(self, text: str, least: int, most: int) -> str:
        if not (text.isascii() and text.isdigit() and least <= int(text) <= most):
            raise serializers.ValidationError(TABLE)
        return str(int(text))


@extend_schema_field(OpenApiTypes.OBJECT)
class Outline(serializers.JSONField):
    """A GeoJSON Polygon or MultiPolygon (RFC 7946); the service reads and checks it."""
