"""The base of every fact's endpoint: serializers check and never write, services write, a holding sees its own rows."""

from collections.abc import Mapping
from typing import Any, TypeVar

from django.db import models
from rest_framework import serializers, viewsets
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.serializers import BaseSerializer, ModelSerializer

from core.api.authentication import person_behind
from core.api.conditional import ASKED, answered, check_match, in_turn, tag_of
from core.api.fields import BY_MODEL_FIELD, LARGEST_INTEGER, LARGEST_SMALL, OwnRow
from core.api.permissions import EVERYBODY, MANAGERS, NOBODY, is_manager
from core.models import HoldingRow, Person
from core.services.rows import remove_row, save_row

Row = TypeVar("Row", bound=models.Model)


class StrictMixin:
    """Refuses every name in a body that cannot be written, by that name."""

    def to_internal_value(self, data: Any) -> Any:
        if isinstance(data, Mapping):
            fields: Mapping[str, Any] = self.fields  # type: ignore[attr-defined]
            wrong = {
                name: "This field cannot be written." if name in fields else "This field is not known here."
                for name in data
                if name not in fields or fields[name].read_only
            }
            if wrong:
                raise serializers.ValidationError(wrong)
        return super().to_internal_value(data)  # type: ignore[misc]


class StrictSerializer(StrictMixin, serializers.Serializer[Any]):
    """A body that is no row."""


class NothingSerializer(StrictSerializer):
    """An empty body."""


class FactSerializer(StrictMixin, ModelSerializer[Row]):
    """Fields of a row, listed by name. Rules of the table stay with the table; this checks shape and bounds."""

    serializer_field_mapping = {**ModelSerializer.serializer_field_mapping, **BY_MODEL_FIELD}
    serializer_related_field = OwnRow

    def get_validators(self) -> list[Any]:
        """None of the framework's own: uniqueness is the table's, which answers in the house's sentences."""
        return []

    def get_uniqueness_extra_kwargs(
        self, field_names: Any, declared_fields: Any, extra_kwargs: dict[str, Any]
    ) -> tuple[dict[str, Any], dict[str, Any]]:
        """A field that is part of a unique set stays as optional as the table has it."""
        return extra_kwargs, {}

    def build_standard_field(self, field_name: str, model_field: Any) -> tuple[Any, dict[str, Any]]:
        kind, options = super().build_standard_field(field_name, model_field)
        if isinstance(model_field, models.IntegerField) and issubclass(kind, serializers.IntegerField):
            small = isinstance(model_field, models.PositiveSmallIntegerField)
            largest = LARGEST_SMALL if small else LARGEST_INTEGER
            options["max_value"] = min(options.get("max_value", largest), largest)
            options.setdefault("min_value", -LARGEST_INTEGER)
        return kind, options

    def create(self, validated_data: Any) -> Row:
        raise AssertionError("A serializer never writes; the view calls a service.")

    def update(self, instance: Row, validated_data: Any) -> Row:
        raise AssertionError("A serializer never writes; the view calls a service.")


class FactViewSet(viewsets.ModelViewSet[Any]):
    """List, one, add, change, remove: for rows of the asker's holding; change and remove ask for If-Match.

    `readers`, `writers`, `report_methods` see `InHolding`. `own_by` names the field that must be the asker for all but
    managers ("" = everybody sees every row of the holding). `order` ends at the id. Override `store` and `remove` to
    call a service of your own.
    """

    readers = EVERYBODY
    writers = MANAGERS
    report_methods = NOBODY
    own_by = ""
    order: tuple[str, ...] = ("id",)
    lookup_value_converter = "int"
    http_method_names = ["get", "head", "post", "patch", "delete"]

    @property
    def person(self) -> Person:
        return person_behind(self.request)

    def everything(self) -> models.QuerySet[Any]:
        """Rows of all holdings; only `visible` narrows them."""
        rows: models.QuerySet[Any] = super().get_queryset()
        return rows

    def visible(self) -> models.QuerySet[Any]:
        """Rows of the asker's holding that the asker may see."""
        rows = self.everything().filter(holding_id=self.person.holding_id)
        return rows.filter(**{self.own_by: self.person}) if self.own_by and not is_manager(self.person) else rows

    def get_queryset(self) -> models.QuerySet[Any]:
        if getattr(self, "swagger_fake_view", False):
            return self.everything().none()
        return self.visible().order_by(*self.order)

    def get_object(self) -> Any:
        """The row of the address; a change or removal of it names the state that was read (`conditional`)."""
        row = super().get_object()
        if self.request.method in ASKED:
            check_match(self.request, tag_of(self.shown(row)))
        return row

    def shown(self, row: Any) -> Any:
        """What the asker is shown of a row."""
        return self.get_serializer(row).data

    def retrieve(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        return answered(request, self.shown(self.get_object()))

    @in_turn
    def update(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        row = self.get_object()
        serializer = self.get_serializer(row, data=request.data, partial=kwargs.get("partial", False))
        serializer.is_valid(raise_exception=True)
        self.perform_update(serializer)
        return answered(request, self.shown(self.get_queryset().get(pk=row.pk)))

    @in_turn
    def destroy(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        return super().destroy(request, *args, **kwargs)

    def perform_create(self, serializer: BaseSerializer[Any]) -> None:
        values = serializer.validated_data
        row = serializer.Meta.model(**self.tenant(), **values)  # type: ignore[attr-defined]
        serializer.instance = self.store(row, values)

    def perform_update(self, serializer: BaseSerializer[Any]) -> None:
        row, values = serializer.instance, serializer.validated_data
        for name, value in values.items():
            setattr(row, name, value)
        serializer.instance = self.store(row, values)

    def perform_destroy(self, instance: Any) -> None:
        self.remove(instance)

    def tenant(self) -> dict[str, Any]:
        """What a new row of this holding carries beside its body."""
        return {"holding": self.person.holding}

    def store(self, row: Any, values: Mapping[str, Any]) -> Any:
        """Write the row by a service and return it."""
        return save_row(row=row, by=self.person, fields=sorted(values))

    def remove(self, row: HoldingRow) -> None:
        remove_row(row=row, by=self.person)


class ReadViewSet(FactViewSet):
    """Only to look at. One that has actions lists "post" and refuses `create`, which is then not advertised either."""

    http_method_names = ["get", "head"]

    @property
    def allowed_methods(self) -> list[str]:
        return [name for name in super().allowed_methods if self.action_map.get(name.lower()) != "create"]
