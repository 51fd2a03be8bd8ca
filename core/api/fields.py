"""Fields with bounds, so that no value reaches a column it does not fit."""

import math
import re
from datetime import date, datetime
from functools import cache
from typing import Any
from zoneinfo import available_timezones

from django.db import models
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers
from rest_framework.relations import MANY_RELATION_KWARGS

from core.api.authentication import person_behind
from core.errors import NotFound

EARLIEST, LATEST = date(1900, 1, 1), date(2200, 12, 31)
LONGEST_TEXT = 4000
LARGEST_SMALL, LARGEST_INTEGER, LARGEST_FIGURE = 32_767, 2**31 - 1, 1e12
CONTROL = re.compile(r"[\x00-\x1f\x7f]")


def one_line(text: str) -> None:
    """Raises: ValidationError: a line break or another control character is in it."""
    if CONTROL.search(text):
        raise serializers.ValidationError("Write it on one line, without control characters.")


def no_control(text: str) -> None:
    """Raises: ValidationError: a control character other than tab and line break is in it."""
    if CONTROL.search(text.translate({9: None, 10: None, 13: None})):
        raise serializers.ValidationError("Leave out control characters.")


class Words(serializers.CharField):
    """Text given as text; a number is none."""

    def to_internal_value(self, data: Any) -> str:
        if not isinstance(data, str):
            self.fail("invalid")
        return str(super().to_internal_value(data))


class Line(Words):
    """Text on one line: it may stand in a heading or a mail's subject."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.validators.append(one_line)


class Text(Words):
    """Text of several lines, at most 4,000 characters."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("max_length", LONGEST_TEXT)
        kwargs.pop("style", None)
        super().__init__(**kwargs)
        self.validators.append(no_control)


@cache
def zones() -> frozenset[str]:
    return frozenset(available_timezones())


class Zone(Line):
    """The name of a time zone in the IANA list, such as America/Chicago."""

    default_error_messages = {"zone": "{zone} is no time zone. Give a name like America/Chicago."}

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(max_length=64, **kwargs)

    def to_internal_value(self, data: Any) -> str:
        name = str(super().to_internal_value(data))
        if name and name not in zones():
            self.fail("zone", zone=name[:64])
        return name


class Whole(serializers.IntegerField):
    """An integer that fits its column; a truth value or a text is none."""

    def to_internal_value(self, data: Any) -> int:
        if isinstance(data, bool | str):
            self.fail("invalid")
        return int(super().to_internal_value(data))


class Figure(serializers.FloatField):
    """A finite number within plus and minus 1e12; a truth value or a text is none."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("min_value", -LARGEST_FIGURE)
        kwargs.setdefault("max_value", LARGEST_FIGURE)
        super().__init__(**kwargs)

    def to_internal_value(self, data: Any) -> float:
        value = self.fail("invalid") if isinstance(data, bool | str) else float(super().to_internal_value(data))
        if not math.isfinite(value):
            self.fail("invalid")
        return value


class Day(serializers.DateField):
    """A civil day from 1900 to 2200."""

    default_error_messages = {"range": f"Give a day from {EARLIEST} to {LATEST}."}

    def to_internal_value(self, value: Any) -> date:
        day: date = super().to_internal_value(value)
        if not EARLIEST <= day <= LATEST:
            self.fail("range")
        return day


class Instant(serializers.DateTimeField):
    """An instant with its offset from UTC; a time without one is refused, as nobody can know when it was."""

    default_error_messages = {
        "naive": "Give the time with its offset from UTC, like 2026-04-18T14:00:00-05:00 or ...Z.",
        "range": f"Give a time from {EARLIEST} to {LATEST}.",
    }

    def enforce_timezone(self, value: datetime) -> datetime:
        if value.tzinfo is None:
            self.fail("naive")
        return super().enforce_timezone(value)

    def to_internal_value(self, value: Any) -> datetime:
        instant: datetime = super().to_internal_value(value)
        if not EARLIEST <= instant.date() <= LATEST:
            self.fail("range")
        return instant


class Truth(serializers.BooleanField):
    """true or false, and nothing that may mean one of them."""

    def to_internal_value(self, data: Any) -> bool:
        if not isinstance(data, bool):
            self.fail("invalid", input=str(data)[:20])
        return data


CLOCK = r"^([01][0-9]|2[0-3]):[0-5][0-9](:[0-5][0-9])?$"


@extend_schema_field({"type": "string", "pattern": CLOCK, "examples": ["08:00"]})
class ClockTime(serializers.TimeField):
    """A time of the local day, 00:00 to 23:59:59; it has no offset, so it is no "time" of RFC 3339."""

    def to_internal_value(self, value: Any) -> Any:
        if not isinstance(value, str) or not re.fullmatch(CLOCK, value, re.ASCII):
            self.fail("invalid", format="hh:mm[:ss]")
        return super().to_internal_value(value)


class OwnRows(serializers.ManyRelatedField):
    """A list of ids; an object is none."""

    def to_internal_value(self, data: Any) -> list[Any]:
        if not isinstance(data, list):
            self.fail("not_a_list", input_type=type(data).__name__)
        return list(super().to_internal_value(data))


class OwnRow(serializers.PrimaryKeyRelatedField):
    """The id of a row of the asker's holding. Any other id is not found, whether it exists elsewhere or not."""

    @classmethod
    def many_init(cls, *args: Any, **kwargs: Any) -> OwnRows:
        many = {name: kwargs[name] for name in MANY_RELATION_KWARGS if name in kwargs}
        return OwnRows(child_relation=cls(*args, **kwargs), **many)

    def get_queryset(self) -> models.QuerySet[Any]:
        rows: models.QuerySet[Any] = super().get_queryset()  # type: ignore[assignment]
        if self.context.get("request") is None:
            return rows.none()
        return rows.filter(holding_id=person_behind(self.context["request"]).holding_id)

    def to_internal_value(self, data: Any) -> Any:
        if isinstance(data, bool) or not isinstance(data, int):
            self.fail("incorrect_type", data_type=type(data).__name__)
        found = self.get_queryset().filter(pk=data).first()
        if found is None:
            name = (self.field_name or "row").replace("_", " ")
            raise NotFound(f"{name.capitalize()} {data} is not in this holding.", field=self.field_name)
        return found


BY_MODEL_FIELD: dict[type, type] = {
    models.CharField: Line,
    models.TextField: Text,
    models.IntegerField: Whole,
    models.PositiveIntegerField: Whole,
    models.PositiveSmallIntegerField: Whole,
    models.BigIntegerField: Whole,
    models.FloatField: Figure,
    models.BooleanField: Truth,
    models.DateField: Day,
    models.TimeField: ClockTime,
    models.DateTimeField: Instant,
}
