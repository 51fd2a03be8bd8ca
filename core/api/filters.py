"""Filters of the lists. A parameter that is not known is refused by name instead of being passed over."""

from typing import Any

from django import forms
from django.db import models
from django_filters import rest_framework as filters
from django_filters.fields import IsoDateTimeField
from rest_framework.exceptions import ValidationError
from rest_framework.request import Request

from core.api.fields import EARLIEST, LATEST

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


class InstantFilter(filters.IsoDateTimeFilter):
    field_class = InstantField


class FactFilters(filters.FilterSet):
    """The base of every filter set: ids are compared, never looked up."""

    class Meta:
        filter_overrides = {
            models.ForeignKey: {"filter_class": IdFilter},
            models.ManyToManyField: {"filter_class": IdFilter},
            models.BigAutoField: {"filter_class": IdFilter},
            models.DateTimeField: {"filter_class": InstantFilter},
        }


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
        return super().filter_queryset(request, queryset, view)
