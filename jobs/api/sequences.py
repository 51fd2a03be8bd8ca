"""Sequences: the newest versions, one with its document, a new version, applying one to plots."""

from __future__ import annotations

from collections.abc import Mapping
from collections.abc import Sequence as Rows
from typing import Any

from django.db.models import Exists, OuterRef, Q, QuerySet
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.serializers import BaseSerializer

from core.api.facts import FactSerializer, FactViewSet, StrictSerializer
from core.api.fields import Line, OwnRow, Whole
from core.api.filters import FactFilters, TruthFilter
from jobs.api.plan import SeasonSerializer, SeasonsSerializer
from jobs.models import Need, Season, Sequence
from jobs.selectors.closing import closes
from jobs.sequences import SequenceError
from jobs.services.sequences import MOST_PLOTS, apply_to_plots, retire_sequence, save_version
from plots.models import Material, Plot

MOST_ROLES = 40


@extend_schema_field(OpenApiTypes.OBJECT)
class Document(serializers.JSONField):
    """A whole sequence in the form of the shipped ones."""

    def to_internal_value(self, data: Any) -> Any:
        if not isinstance(data, Mapping):
            raise serializers.ValidationError("A sequence is one table of words and values.")
        return super().to_internal_value(dict(data))


class SequenceSerializer(FactSerializer[Sequence]):
    shipped = serializers.SerializerMethodField(help_text="It comes with the program and is not the holding's own.")

    class Meta:
        model = Sequence
        fields = ["id", "key", "version", "name", "retired", "shipped"]
        read_only_fields = fields

    def get_shipped(self, sequence: Sequence) -> bool:
        return sequence.holding_id is None


class WholeSequenceSerializer(SequenceSerializer):
    document = Document(read_only=True)

    class Meta(SequenceSerializer.Meta):
        fields = [*SequenceSerializer.Meta.fields, "document"]
        read_only_fields = fields


class NewVersionSerializer(StrictSerializer):
    document = Document(help_text="The whole sequence; the version in it is set by the program.")


class ApplySerializer(StrictSerializer):
    plot = OwnRow(queryset=Plot.objects.all(), required=False)
    plots = OwnRow(queryset=Plot.objects.all(), many=True, required=False)
    year = Whole(min_value=2000, max_value=2100, help_text="The year that the dates of the sequence are counted from.")
    label = Line(max_length=60, required=False, allow_blank=True, default="")  # type: ignore[assignment]
    materials = serializers.DictField(
        child=OwnRow(queryset=Material.objects.all()),
        required=False,
        default=dict,
        help_text='Materials by the role the sequence names: {"corn seed": 12}.',
    )

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        if ("plot" in attrs) == ("plots" in attrs):
            raise serializers.ValidationError({"plot": "Give one plot as plot, or several as plots."})
        plots = attrs.pop("plots") if "plots" in attrs else [attrs.pop("plot")]
        if not 1 <= len(plots) <= MOST_PLOTS or len({plot.pk for plot in plots}) < len(plots):
            raise serializers.ValidationError({"plots": f"Give 1 to {MOST_PLOTS} plots, each once."})
        if len(attrs["materials"]) > MOST_ROLES:
            raise serializers.ValidationError({"materials": f"Give at most {MOST_ROLES} materials."})
        return {**attrs, "plots": plots}


class AppliedSerializer(SeasonsSerializer):
    closes = serializers.ListField(
        child=serializers.CharField(), help_text="What the materials chosen close or keep waiting on these plots."
    )


class SequenceFilters(FactFilters):
    shipped = TruthFilter(field_name="holding", lookup_expr="isnull")

    class Meta(FactFilters.Meta):
        model = Sequence
        fields = {"key": ["exact"], "name": ["exact"]}


class SequenceViewSet(FactViewSet):
    """The list shows the newest version of each key, a holding's own before the shipped one. DELETE retires a key.

    A version is never edited: POST stores the next one of the document's key; seasons keep the one they came from."""

    queryset = Sequence.objects.all()
    serializer_class = NewVersionSerializer
    filterset_class = SequenceFilters
    order = ("key", "id")
    http_method_names = ["get", "head", "post", "delete"]

    def get_serializer_class(self) -> type[BaseSerializer[Any]]:
        return SequenceSerializer if self.action == "list" else WholeSequenceSerializer

    def visible(self) -> QuerySet[Sequence]:
        rows = self.everything().filter(Q(holding_id=self.person.holding_id) | Q(holding=None))
        return newest(rows, self.person.holding_id) if self.action == "list" else rows

    @extend_schema(request=NewVersionSerializer, responses={201: WholeSequenceSerializer})
    def create(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """Every fault of the document is listed by name, and nothing is stored with one."""
        body = NewVersionSerializer(data=request.data, context=self.get_serializer_context())
        body.is_valid(raise_exception=True)
        try:
            row = save_version(holding=self.person.holding, document=body.validated_data["document"], by=self.person)
        except SequenceError as error:
            raise serializers.ValidationError({"document": list(error.faults)}) from error
        return Response(WholeSequenceSerializer(row).data, status=201)

    def remove(self, row: Any) -> None:
        retire_sequence(sequence=row, by=self.person)

    @extend_schema(request=ApplySerializer, responses={201: AppliedSerializer})
    @action(detail=True, methods=["post"])
    def apply(self, request: Request, pk: int) -> Response:
        """Make the season on each plot, on all or on none. The same again adds what is missing and changes nothing."""
        sequence = self.get_object()
        body = ApplySerializer(data=request.data, context=self.get_serializer_context())
        body.is_valid(raise_exception=True)
        values = body.validated_data
        materials = {role: material.pk for role, material in values.pop("materials").items()}
        seasons = apply_to_plots(sequence=sequence, by=self.person, materials=materials, **values)
        return Response({"seasons": SeasonSerializer(seasons, many=True).data, "closes": _closes(seasons)}, status=201)


def _closes(seasons: Rows[Season]) -> list[str]:
    """What the sprays of these seasons close by the materials chosen for them."""
    needs = Need.objects.filter(job__season__in=seasons, material__isnull=False).order_by("id")
    found = closes(seasons[0].holding, needs.select_related("job__season")) if seasons else {}
    return list(dict.fromkeys(sentence for said in found.values() for sentence in said))


def newest(rows: QuerySet[Sequence], holding_id: int) -> QuerySet[Sequence]:
    """Of each key the newest version that is in use; the holding's own goes before the shipped one."""
    used = Sequence.objects.filter(key=OuterRef("key"), retired=False)
    own = used.filter(holding_id=holding_id)
    return rows.filter(retired=False).exclude(
        Q(holding_id=holding_id) & Exists(own.filter(version__gt=OuterRef("version")))
        | Q(holding=None) & (Exists(own) | Exists(used.filter(holding=None, version__gt=OuterRef("version"))))
    )
