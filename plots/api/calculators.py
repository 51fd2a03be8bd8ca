"""The calculators: what there is, what each asks, and its answer. Nothing is stored."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from core.api.facts import NothingSerializer
from core.api.permissions import EVERYBODY
from core.errors import NotFound
from plots.agronomy.calculators import Absurd, Calculator
from plots.agronomy.calculators.telling import answered, described
from plots.reference import shelf


class OptionSerializer(serializers.Serializer[Any]):
    key = serializers.CharField()
    sentence = serializers.CharField()


class ColumnSerializer(serializers.Serializer[Any]):
    """One entry of a calculator, or of a line of one."""

    name = serializers.CharField()
    kind = serializers.CharField(help_text="number, choice, text, numbers or rows.")
    unit = serializers.CharField(allow_blank=True, help_text="What a bare number is in.")
    units = serializers.ListField(child=serializers.CharField(), help_text="Units that are turned into it: '7 km/h'.")
    low = serializers.FloatField(allow_null=True)
    high = serializers.FloatField(allow_null=True)
    sensible = serializers.CharField(allow_blank=True, help_text="The range, or the form, in words.")
    optional = serializers.BooleanField()
    whole = serializers.BooleanField()
    options = OptionSerializer(many=True)
    help = serializers.CharField(allow_blank=True)

    def get_fields(self) -> dict[str, Any]:
        taken = {  # names that the serializer itself has
            "label": serializers.CharField(),
            "default": serializers.CharField(allow_null=True, help_text="Counts where nothing is given."),
        }
        return {**super().get_fields(), **taken}


class EntrySerializer(ColumnSerializer):
    columns = ColumnSerializer(many=True, help_text="Of a list of lines: what each line asks.")


class SourceToldSerializer(serializers.Serializer[Any]):
    key = serializers.CharField()
    title = serializers.CharField()
    worth = serializers.CharField()


class HazardSerializer(serializers.Serializer[Any]):
    hazard = serializers.CharField()
    lines = serializers.ListField(child=serializers.CharField())
    decides = serializers.CharField()


class CalculatorSerializer(serializers.Serializer[Any]):
    key = serializers.CharField()
    name = serializers.CharField()
    purpose = serializers.CharField()
    entries = EntrySerializer(many=True)
    operations = serializers.ListField(child=serializers.CharField(), help_text="Field operations it belongs to.")
    sources = SourceToldSerializer(many=True)
    cautions = HazardSerializer(many=True)
    note = serializers.CharField(allow_blank=True)


class ShelfSerializer(serializers.Serializer[Any]):
    results = CalculatorSerializer(many=True)


class FigureSerializer(serializers.Serializer[Any]):
    key = serializers.CharField()
    value = serializers.FloatField()
    unit = serializers.CharField(allow_blank=True)
    text = serializers.CharField(help_text="The figure as pages say it.")

    def get_fields(self) -> dict[str, Any]:
        return {**super().get_fields(), "label": serializers.CharField()}


class WorkedSerializer(serializers.Serializer[Any]):
    """The figures in their order. Nothing here is permission."""

    calculator = serializers.CharField()
    name = serializers.CharField()
    figures = FigureSerializer(many=True)
    notes = serializers.ListField(child=serializers.CharField())
    sources = SourceToldSerializer(many=True)
    cautions = HazardSerializer(many=True)
    decides = serializers.CharField()


class CalculatorsView(APIView):
    """The calculators that a person uses while working, each with its entries, units, ranges and sources."""

    report_methods = frozenset({"GET"})

    @extend_schema(operation_id="calculators_list", responses=ShelfSerializer)
    def get(self, request: Request) -> Response:
        NothingSerializer(data=request.query_params.dict()).is_valid(raise_exception=True)
        return Response({"results": [described(one) for one in shelf().calculators.values()]})


class CalculatorView(APIView):
    """One calculator: GET says what it asks, POST answers."""

    report_methods = frozenset({"GET", "POST"})
    writers = EVERYBODY

    @extend_schema(operation_id="calculators_retrieve", responses=CalculatorSerializer)
    def get(self, request: Request, key: str) -> Response:
        NothingSerializer(data=request.query_params.dict()).is_valid(raise_exception=True)
        return Response(described(calculator_named(key)))

    @extend_schema(operation_id="calculators_answer", request=OpenApiTypes.OBJECT, responses=WorkedSerializer)
    def post(self, request: Request, key: str) -> Response:
        """Work it out. The body holds the entries by name: numbers in the entry's unit, or text with another unit such
        as "7 km/h". What is absurd is refused with the sensible range."""
        calculator = calculator_named(key)
        if not isinstance(request.data, Mapping):
            raise serializers.ValidationError("Give the entries by name.")
        try:
            return Response(answered(calculator, calculator.answer(request.data)))
        except Absurd as error:
            raise serializers.ValidationError(error.sentences) from error


def calculator_named(key: str) -> Calculator:
    """Raises: NotFound: there is none of this key."""
    found = shelf().calculators.get(key)
    if found is None:
        raise NotFound(f"There is no calculator '{key}'. Known are {', '.join(shelf().calculators)}.", field="key")
    return found
