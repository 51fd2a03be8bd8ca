"""A file of facts, uploaded as a form."""

from typing import Any

from django.core.exceptions import RequestDataTooBig
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.parsers import MultiPartParser
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from core.api.authentication import person_behind
from core.api.facts import StrictSerializer
from core.api.fields import OwnRow, Zone
from core.errors import Refused
from plots.importing import KINDS, MAX_BYTES, guess_kind
from plots.models import Property
from plots.services.importing import Imported, import_file

LARGEST_FORM = MAX_BYTES + 100_000
"""Bytes of the file and what stands around it."""


class FormRow(OwnRow):
    """The id of a row of the asker's holding, written in a form."""

    def to_internal_value(self, data: Any) -> Any:
        written = isinstance(data, str) and data.isascii() and data.isdigit() and len(data) <= 18
        return super().to_internal_value(int(data) if written else data)


class ImportSerializer(StrictSerializer):
    file = serializers.FileField(allow_empty_file=True, help_text="At most 10,000,000 bytes.")
    kind = serializers.ChoiceField(choices=KINDS, required=False, help_text="Told from name and columns if left out.")
    property = FormRow(
        queryset=Property.objects.all(),
        required=False,
        help_text="Where plots lie that name no property, and what reads the weather.",
    )
    zone = Zone(required=False, help_text="Of hourly times without offset; without one, that of the property.")
    keep_good = serializers.BooleanField(default=False, help_text="Store the good rows of a file with refused ones.")


class RefusedRowSerializer(serializers.Serializer[Any]):
    line = serializers.CharField(help_text="Line 3 of a table, Feature 3 of a map; File if it is about the whole.")
    reason = serializers.CharField()
    cure = serializers.CharField()


class ImportedSerializer(serializers.Serializer[Any]):
    stored = serializers.IntegerField(help_text="New and changed rows of the file.")
    new = serializers.IntegerField()
    changed = serializers.IntegerField()
    same = serializers.IntegerField(help_text="Rows that say what is stored already.")
    refused = RefusedRowSerializer(many=True)
    notes = serializers.ListField(child=serializers.CharField())
    summary = serializers.CharField()


class ImportView(APIView):
    """Plots from GeoJSON, KML, KMZ and GPX; plots, people, machines, materials, days and hours from CSV;
    daily history (GHCN-Daily) and climate normals of a station as its service publishes them.

    A file is one transaction. With one refused row nothing is stored and the answer is 422 with every refused row in
    `facts`; with `keep_good` the rest is stored and the answer names what was left out.
    """

    parser_classes = [MultiPartParser]

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> None:
        """Refuse too large a form before anything reads it."""
        if int(request.META.get("CONTENT_LENGTH") or 0) > LARGEST_FORM:
            raise RequestDataTooBig
        super().initial(request, *args, **kwargs)

    @extend_schema(request={"multipart/form-data": ImportSerializer}, responses=ImportedSerializer)
    def post(self, request: Request) -> Response:
        serializer = ImportSerializer(data=request.data, context={"request": request})
        serializer.is_valid(raise_exception=True)
        values, person = serializer.validated_data, person_behind(request)
        data = values["file"].read()
        kind = values.get("kind") or guess_kind(values["file"].name, data)
        if kind is None:
            known = ", ".join(KINDS)
            raise Refused(f"What the file holds is not clear. Give its kind: {known}.", code="invalid", field="kind")
        imported = import_file(
            holding=person.holding,
            kind=kind,
            data=data,
            by=person,
            keep_good=values["keep_good"],
            property=values.get("property"),
            zone=values.get("zone"),
        )
        if imported.refused and not (imported.stored or imported.same):
            raise Refused(imported.summary, code="refused_rows", refused=_refused(imported), notes=list(imported.notes))
        counts = {name: getattr(imported, name) for name in ("stored", "new", "changed", "same", "summary")}
        return Response({**counts, "refused": _refused(imported), "notes": list(imported.notes)})


def _refused(imported: Imported) -> list[dict[str, str]]:
    return [{"line": row.where, "reason": row.reason, "cure": row.cure} for row in imported.refused]
