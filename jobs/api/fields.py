"""Fields and words that several endpoints of the plan share."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from rest_framework import serializers

from core.api.fields import Line
from core.api.filters import LARGEST_ID
from core.api.permissions import MANAGERS
from core.models import Holding, Role, Units
from plots.units import area

LOOKERS = MANAGERS | {Role.VIEWER.value}
"""Who may look at the plan as a whole. Helpers are told what concerns their own jobs by these jobs."""


_UNITS = frozenset(Units.values)


class Id(serializers.IntegerField):
    """An id in an address's parameters."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(min_value=1, max_value=LARGEST_ID, **kwargs)


class UnitsField(serializers.ChoiceField):
    """How areas are shown; without it as the holding has chosen."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(choices=Units.choices, **kwargs)


def chosen_units(holding: Holding, parameters: Mapping[str, Any]) -> str:
    """`?units=` if it is given, else the holding's own.

    Raises:
        ValidationError: these units are not known.
    """
    asked = parameters.get("units") or holding.units
    if asked not in _UNITS:
        raise serializers.ValidationError({"units": f"Give one of {', '.join(Units.values)}."})
    return str(asked)


def with_areas(answer: dict[str, Any], units: str) -> dict[str, Any]:
    """An answer with its areas in the units people chose, beside the acres."""
    return {**answer, "area": area(answer["acres"], units), "area_left": area(answer["acres_left"], units)}


class Word(Line):
    """A short word of the trade, as in the reference data."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(max_length=30, **kwargs)
