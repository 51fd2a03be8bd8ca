"""Filters of the lists. A parameter that is not known is refused by name instead of being passed over."""

from typing import Any

from django import forms
from django.db import models
from django_filters import rest_framework as filters
from django_filters.fields import IsoDateTimeField
from drf_spectacular.utils import extend_schema_field
from rest_framework.exceptions import ValidationError
from rest_framework.request import Request

from core.api.fields import EARLIEST, LARGEST_INTEGER, LATEST

LARGEST_ID = 2**63 - 1


class IdFilter(filters.NumberFilter):
    """A row's id. It looks nothing up, so another holding's id and one that never was both give an empty list."""

    field_class = forms.IntegerField

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, min_value=1, max_value=LARGEST_ID, **kwargs)


class InstantField(IsoDateTimeField):
    """An instant within the years that every database stores."""

    def to_python(self, value: Any) -> Any:
        found = super().to_python(value)
        if found is not None and not EARLIEST <= found.date() <= LATEST:
            raise forms.ValidationError(f"Give a time from {EARLIEST} to {LATEST}.")
        return found


class WholeFilter(filters.NumberFilter):
    """An integer; a fraction is none."""

    field_class = forms.IntegerField

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, min_value=-LARGEST_INTEGER, max_value=LARGEST_INTEGER, **kwargs)


class TruthField(forms.Field):
    """Only true or false. Anything else is refused: taken as no filter, it would show what was not asked for."""

    def to_python(self, value: Any) -> bool | None:
        if value in (None, ""):
            return None
        if value not in ("true", "false"):
            raise forms.ValidationError("Give true or false.")
        return bool(value == "true")


@extend_schema_field({"type": "boolean"})
class TruthFilter(filters.Filter):
    field_class = TruthField


class DayField(forms.DateField):
    """A day as ISO 8601 writes it."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(input_formats=["%Y-%m-%d"], **kwargs)


class DayFilter(filters.DateFilter):
    field_class = DayField


class InstantFilter(filters.IsoDateTimeFilter):
    field_class = InstantField


class FactFilters(filters.FilterSet):
    """The base of every filter set: ids are compared, never looked up."""

    class Meta:
        filter_overrides = {
            models.ForeignKey: {"filter_class": IdFilter},
            models.ManyToManyField: {"filter_class": IdFilter},
            models.BigAutoField: {"filter_class": IdFilter},
            models.BooleanField: {"filter_class": TruthFilter},
            models.DateField: {"filter_class": DayFilter},
            models.DateTimeField: {"filter_class": InstantFilter},
            models.IntegerField: {"filter_class": WholeFilter},
            models.PositiveIntegerField: {"filter_class": WholeFilter},
            models.PositiveSmallIntegerField: {"filter_class": WholeFilter},
        }

    @classmethod
    def filter_for_lookup(cls, field: Any, lookup_type: str) -> tuple[Any, dict[str, Any]]:
        return (TruthFilter, {}) if lookup_type == "isnull" else super().filter_for_lookup(field, lookup_type)


class Filters(filters.DjangoFilterBackend):
    """A view names its filters by `filterset_fields` or `filterset_class`; `extra_parameters` are read by the view."""

    filterset_base = FactFilters

    def filter_queryset(self, request: Request, queryset: Any, view: Any) -> Any:
        chosen = self.get_filterset_class(view, queryset)
        pager = getattr(view, "paginator", None)
        known = {*(chosen.base_filters if chosen else ()), *getattr(view, "extra_parameters", ())}
        known |= {getattr(pager, "page_query_param", None), getattr(pager, "page_size_query_param", None)}
        unknown = sorted(name for name in request.query_params if name not in known)
        if unknown and getattr(view, "detail", None) is not True:
            told = ", ".join(sorted(name for name in known if name))
            raise ValidationError({unknown[0]: f"This filter is not known here. Known: {told}."})
        several = {n for n, f in (chosen.base_filters if chosen else {}).items() if hasattr(f, "conjoined")}
        for name, given in request.query_params.lists():
            if "" in given or (len(given) > 1 and name not in several):
                raise ValidationError({name: "Give one value, or leave the parameter out."})
        return super().filter_queryset(request, queryset, view)
