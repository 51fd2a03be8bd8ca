"""What people do and say: assignments, reports, observations, and reasons against holds."""

from __future__ import annotations

from typing import Any

from django.db.models import Q, QuerySet
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.serializers import BaseSerializer

from core.api.facts import FactSerializer, FactViewSet, ReadViewSet, StrictSerializer
from core.api.fields import Figure, Instant, Line, OwnRow, Text
from core.api.permissions import WORKERS
from core.clock import now_at
from core.models import CrewMember, Role
from jobs.api.fields import LOOKERS, Id
from jobs.models import Assignment, Observation, Override, Report, ReportKind
from jobs.selectors.spots import spot_applications
from jobs.services.assigning import assign_job, end_assignment
from jobs.services.overriding import KINDS, change_end, overrulable_limits, set_aside
from jobs.services.reports import NewReport, store_report
from jobs.windows.limits import Verdict
from plots.models import Lot, Machine


class AssignmentSerializer(FactSerializer[Assignment]):
    class Meta:
        model = Assignment
        fields = ["id", "job", "person", "crew", "day", "starts", "ends", "state", "made_at", "ended_at"]
        read_only_fields = ["state", "made_at", "ended_at"]


class AssignmentViewSet(FactViewSet):
    """Jobs given by hand to one person or one crew; helpers see their own. DELETE ends one, the row stays."""

    queryset = Assignment.objects.all()
    serializer_class = AssignmentSerializer
    http_method_names = ["get", "head", "post", "delete"]
    filterset_fields = {
        "job": ["exact"],
        "person": ["exact"],
        "crew": ["exact"],
        "state": ["exact"],
        "day": ["exact", "gte", "lte"],
    }

    def visible(self) -> QuerySet[Assignment]:
        rows = self.everything().filter(holding_id=self.person.holding_id)
        if self.person.role != Role.HELPER:
            return rows
        crews = CrewMember.objects.filter(person=self.person).values("crew_id")
        return rows.filter(Q(person=self.person) | Q(crew_id__in=crews))

    def perform_create(self, serializer: BaseSerializer[Any]) -> None:
        values = dict(serializer.validated_data)
        ids = {
            f"{name}_id": row.pk for name in ("job", "person", "crew") if (row := values.pop(name, None)) is not None
        }
        serializer.instance = assign_job(holding_id=self.person.holding_id, by=self.person, **ids, **values)

    def remove(self, row: Any) -> None:
        end_assignment(assignment=row, by=self.person, now=now_at(self.person.holding))


class ReportSerializer(FactSerializer[Report]):
    spot_application = serializers.SerializerMethodField(
        help_text="Of a spray: whether all that was sprayed on that day is under 0.1 acre; null for other reports."
    )
    _page: dict[int, bool] | None = None
    """Of the reports of one page, asked together."""

    def get_spot_application(self, report: Report) -> bool | None:
        if self.parent is None:
            return spot_applications(report.holding, [report]).get(report.pk)
        if self._page is None:
            self._page = spot_applications(report.holding, self.parent.instance or ())
        return self._page.get(report.pk)

    class Meta:
        model = Report
        fields = [
            "id",
            "person",
            "client_id",
            "job",
            "plot",
            "kind",
            "outcome",
            "acres",
            "reason",
            "done_by",
            "note",
            "happened_at",
            "day_only",
            "claimed_at",
            "received_at",
            "corrects",
            "payload",
            "spot_application",
        ]
        read_only_fields = fields


class NewReportSerializer(StrictSerializer):
    client_id = serializers.UUIDField(
        help_text="Made by the sender before the first attempt, the same at each further."
    )
    kind = serializers.ChoiceField(choices=ReportKind.choices)
    happened_at = Instant()
    job = Id(required=False, allow_null=True, default=None)
    plot = Id(required=False, allow_null=True, default=None, help_text="For a report that is about no job.")
    outcome = Line(
        max_length=30, required=False, allow_blank=True, default="", help_text="How it came out, or what was seen."
    )
    acres = Figure(
        required=False, allow_null=True, default=None, help_text="Of this report alone; none: all that was left."
    )
    reason = Line(max_length=30, required=False, allow_blank=True, default="", help_text="Why it could not be done.")
    done_by = Line(max_length=80, required=False, allow_blank=True, default="", help_text="Somebody hired, by name.")
    note = Text(required=False, allow_blank=True, default="")
    day_only = serializers.BooleanField(required=False, default=False, help_text="Only the day is known, not the hour.")
    corrects = Id(
        required=False, allow_null=True, default=None, help_text="The report that this one takes the place of."
    )
    machine = OwnRow(queryset=Machine.objects.all(), required=False, help_text="The machine that failed.")
    lot = OwnRow(queryset=Lot.objects.all(), required=False, help_text="The lot of seed that was planted.")
    value = Figure(required=False, help_text="The figure of what was seen: plants counted, inches in the gauge.")


class ReceiptSerializer(serializers.Serializer[Any]):
    id = serializers.IntegerField()
    client_id = serializers.UUIDField()
    facts_version = serializers.IntegerField(help_text="Ask for the next jobs with ?after= this.")
    clashes = serializers.ListField(child=serializers.CharField(), help_text="What does not fit; stored all the same.")
    clock_set_back = serializers.BooleanField(help_text="The sender's clock ran ahead; the receipt's instant counts.")


class ReportViewSet(FactViewSet):
    """What people saw or did, kept for ever; all but managers see their own."""

    queryset = Report.objects.select_related("job", "plot__property", "holding")
    serializer_class = NewReportSerializer
    writers = WORKERS
    report_methods = frozenset({"GET", "POST"})
    own_by = "person"
    order = ("-id",)
    http_method_names = ["get", "head", "post"]
    filterset_fields = {
        "job": ["exact"],
        "plot": ["exact"],
        "person": ["exact"],
        "kind": ["exact"],
        "happened_at": ["gte", "lt"],
        "received_at": ["gte", "lt"],
    }

    def get_serializer_class(self) -> type[BaseSerializer[Any]]:
        return ReportSerializer

    @extend_schema(request=NewReportSerializer, responses={201: ReceiptSerializer})
    def create(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """The same report again gives the same receipt; the same `client_id` with another content is refused."""
        body = NewReportSerializer(data=request.data, context=self.get_serializer_context())
        body.is_valid(raise_exception=True)
        values = dict(body.validated_data)
        payload = {}
        if "machine" in values:
            payload["machine"] = values.pop("machine").pk
        if "lot" in values:
            payload["lot"] = values.pop("lot").pk
        if "value" in values:
            payload["value"] = values.pop("value")
        now = now_at(self.person.holding)
        receipt = store_report(person=self.person, new=NewReport(**values, payload=payload), now=now)
        return Response(receipt, status=201)


class ObservationSerializer(FactSerializer[Observation]):
    class Meta:
        model = Observation
        fields = ["id", "plot", "season", "kind", "at", "value", "report"]
        read_only_fields = fields


class ObservationViewSet(ReadViewSet):
    """What was seen on plots; it comes in by reports."""

    queryset = Observation.objects.all()
    serializer_class = ObservationSerializer
    order = ("at", "id")
    filterset_fields = {"plot": ["exact"], "season": ["exact"], "kind": ["exact"], "at": ["gte", "lt"]}


class OverrideSerializer(FactSerializer[Override]):
    """Of a written reason only its end may be changed."""

    class Meta:
        model = Override
        fields = ["id", "job", "rule", "reason", "person", "at", "until"]
        read_only_fields = ["job", "rule", "reason", "person", "at"]


class NewOverrideSerializer(OverrideSerializer):
    rule = serializers.ChoiceField(
        choices=[*KINDS, *overrulable_limits()], help_text="The kind of hold, or the limit of its hours, set aside."
    )
    reason = Line(max_length=200, required=False, allow_blank=True, default="", help_text="Only advice goes without.")

    class Meta:
        model = Override
        fields = OverrideSerializer.Meta.fields
        read_only_fields = ["person", "at"]

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        advice = overrulable_limits().get(attrs["rule"]) is Verdict.ADVICE
        if not attrs["reason"].strip() and not advice:
            raise serializers.ValidationError({"reason": "Write the reason: only advice is set aside without one."})
        return dict(super().validate(attrs))


class OverrideViewSet(FactViewSet):
    """A manager's written reasons against holds that may be set aside. Label and local codes decide all the same."""

    queryset = Override.objects.all()
    serializer_class = OverrideSerializer
    readers = LOOKERS
    http_method_names = ["get", "head", "post", "patch"]
    filterset_fields = {"job": ["exact"], "rule": ["exact"], "person": ["exact"], "until": ["isnull", "gte", "lt"]}

    def get_serializer_class(self) -> type[BaseSerializer[Any]]:
        return NewOverrideSerializer if self.action == "create" else OverrideSerializer

    def perform_create(self, serializer: BaseSerializer[Any]) -> None:
        row = Override(**self.tenant(), **serializer.validated_data)
        serializer.instance = set_aside(override=row, by=self.person, now=now_at(self.person.holding))

    def perform_update(self, serializer: BaseSerializer[Any]) -> None:
        row = serializer.instance
        assert isinstance(row, Override)
        if "until" in serializer.validated_data:
            row.until = serializer.validated_data["until"]
            change_end(override=row, by=self.person)
