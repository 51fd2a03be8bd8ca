"""Jobs: the list with its filters, one job with its answer and its reasons, single jobs, call-offs."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.db.models import Q, QuerySet
from django_filters import rest_framework as filters
from drf_spectacular.utils import OpenApiParameter, extend_schema, extend_schema_field, extend_schema_view
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.serializers import BaseSerializer

from core.api.facts import FactSerializer, FactViewSet, NothingSerializer
from core.api.filters import FactFilters, IdFilter, InstantFilter
from core.clock import now_at
from core.errors import NotFound
from core.models import CrewMember, Person
from jobs.api.answers import AnswerSerializer, CautionSerializer, WhySerializer
from jobs.api.fields import Word, chosen_units, with_areas
from jobs.api.windows import BurnPlanSerializer, CrewQuery, IgnitionSerializer, JobWindowsSerializer, SplitSerializer
from jobs.models import Assignment, AssignmentState, Job, JobState
from jobs.reference import reference
from jobs.selectors.answers import answer_rows, answers, cautions
from jobs.selectors.ignition import Coming, ignition
from jobs.selectors.visible import visible_jobs
from jobs.selectors.week import job_week
from jobs.selectors.why import why
from jobs.services.seasons import call_off
from jobs.services.signs import add_signs
from jobs.services.single import add_job, change_job, set_burn_plan, set_split
from jobs.services.walking import walk_holding

UNITS = OpenApiParameter("units", str, enum=["us", "metric"], description="How areas are shown.")
CHANGED = {"title", "instruction", "first_day", "last_day", "deadline", "duration_min", "acres", "round"}


class JobFilters(FactFilters):
    """Which jobs are listed."""

    property = IdFilter(field_name="plot__property_id")
    plot = IdFilter(field_name="plot_id")
    season = IdFilter(field_name="season_id")
    branch = IdFilter(field_name="branch_id")
    round = IdFilter(field_name="round_id")
    person = IdFilter(method="of_person", label="Given to this person, alone or through a crew.")
    sequence = filters.CharFilter(field_name="season__sequence__key", label="Key of the sequence.")
    year = filters.NumberFilter(field_name="season__year", min_value=1, max_value=9999)
    state = filters.MultipleChoiceFilter(field_name="reckoning__state", choices=JobState.choices)
    changed_since = InstantFilter(method="changed", label="The job or its reckoning changed since.")

    class Meta(FactFilters.Meta):
        model = Job
        fields = {
            "operation": ["exact"],
            "first_day": ["gte", "lte"],
            "last_day": ["gte", "lte"],
            "deadline": ["gte", "lte"],
        }

    def of_person(self, jobs: QuerySet[Job], name: str, person: int) -> QuerySet[Job]:
        crews = CrewMember.objects.filter(person_id=person).values("crew_id")
        given = Assignment.objects.filter(Q(person_id=person) | Q(crew_id__in=crews), state=AssignmentState.ACTIVE)
        return jobs.filter(pk__in=given.values("job_id"))

    def changed(self, jobs: QuerySet[Job], name: str, since: Any) -> QuerySet[Job]:
        return jobs.filter(Q(changed_at__gte=since) | Q(reckoning__changed_at__gte=since))


class JobSerializer(FactSerializer[Job]):
    hazards = serializers.ListField(child=Word(), max_length=20, required=False)
    outcomes = serializers.ListField(child=Word(), max_length=20, required=False)
    operation = Word()
    property = serializers.SerializerMethodField()
    cautions = serializers.SerializerMethodField()
    may_split = serializers.SerializerMethodField()
    least_piece_min = serializers.SerializerMethodField(help_text="Null where it may not be split.")
    answer = serializers.SerializerMethodField(help_text="Null until a walk has reckoned the job.")

    class Meta:
        model = Job
        fields = [
            "id",
            "plot",
            "property",
            "season",
            "branch",
            "step",
            "occurrence",
            "operation",
            "title",
            "instruction",
            "duration_min",
            "acres",
            "first_day",
            "last_day",
            "deadline",
            "dates_source",
            "hazards",
            "outcomes",
            "skip_effect",
            "round",
            "called_off_at",
            "version",
            "changed_at",
            "may_split",
            "least_piece_min",
            "cautions",
            "answer",
        ]
        read_only_fields = [
            "season",
            "branch",
            "step",
            "occurrence",
            "dates_source",
            "called_off_at",
            "version",
            "changed_at",
        ]

    def get_property(self, job: Job) -> int:
        return job.plot.property_id

    def get_may_split(self, job: Job) -> bool:
        return bool(job.details.get("work", {}).get("may_split"))

    def get_least_piece_min(self, job: Job) -> int | None:
        return job.details["work"].get("least_piece_min") if self.get_may_split(job) else None

    @extend_schema_field(CautionSerializer(many=True))
    def get_cautions(self, job: Job) -> list[dict[str, Any]]:
        operation = reference().operations.get(job.operation)
        return cautions(dict.fromkeys([*(operation.hazards if operation else ()), *job.hazards]))

    @extend_schema_field(AnswerSerializer(allow_null=True))
    def get_answer(self, job: Job) -> dict[str, Any] | None:
        found: dict[str, Any] | None = self.context.get("answers", {}).get(job.pk)
        return found


class JobChangeSerializer(JobSerializer):
    """What of a job may be changed; plot and field operation stay, as reports hang on them."""

    def get_fields(self) -> dict[str, Any]:
        found: dict[str, Any] = super().get_fields()
        for name, field in found.items():
            field.read_only = name not in CHANGED
            field.required = field.required and not field.read_only
        return found


@extend_schema_view(
    list=extend_schema(parameters=[UNITS]),
    retrieve=extend_schema(parameters=[UNITS]),
    partial_update=extend_schema(request=JobChangeSerializer, responses=JobSerializer),
)
class JobViewSet(FactViewSet):
    """Field operations on plots. Helpers see their own, those of their crews, and what is nobody's at their places."""

    queryset = Job.objects.select_related("plot")
    serializer_class = JobSerializer
    filterset_class = JobFilters
    extra_parameters = ("units",)
    refuses = False
    http_method_names = ["get", "head", "post", "patch"]

    def visible(self) -> QuerySet[Job]:
        return visible_jobs(self.person).select_related("plot")

    def get_serializer_class(self) -> type[BaseSerializer[Any]]:
        return JobChangeSerializer if self.action == "partial_update" else JobSerializer

    def get_serializer(self, *args: Any, **kwargs: Any) -> BaseSerializer[Any]:
        """With the answers of the jobs to be shown: one look for a whole page."""
        shown = args[0] if args else []
        jobs = [shown] if isinstance(shown, Job) else shown if isinstance(shown, list) else []
        if jobs:
            kwargs["context"] = {**self.get_serializer_context(), "answers": self._answers([job.pk for job in jobs])}
        return super().get_serializer(*args, **kwargs)

    def _answers(self, jobs: list[int]) -> dict[int, dict[str, Any]]:
        holding = self.person.holding
        units = chosen_units(holding, self.request.query_params)
        found = answers(holding, answer_rows(Job.objects.filter(pk__in=jobs)), now_at(holding))
        return {answer["job"]: with_areas(answer, units) for answer in found}

    def perform_create(self, serializer: BaseSerializer[Any]) -> None:
        values = serializer.validated_data
        serializer.instance = add_job(job=Job(**self.tenant(), **values), by=self.person, fields=sorted(values))

    def store(self, row: Job, values: Mapping[str, Any]) -> Job:
        return change_job(job=row, by=self.person, fields=sorted(values))

    @extend_schema(request=NothingSerializer, responses=JobSerializer)
    @action(detail=True, methods=["post"], url_path="call-off")
    def call_off(self, request: Request, pk: int) -> Response:
        """What waits for the job waits for its predecessors instead. Twice changes nothing."""
        job = self.get_object()
        NothingSerializer(data=request.data).is_valid(raise_exception=True)
        call_off(job=job, by=self.person, now=now_at(self.person.holding))
        job.refresh_from_db()
        return Response(self.get_serializer(job).data)

    @extend_schema(request=NothingSerializer, responses=JobSerializer)
    @action(detail=True, methods=["post"])
    def signs(self, request: Request, pk: int) -> Response:
        """Add the jobs that put signs up before a spray and take them down after its entry time; twice adds nothing."""
        job = self.get_object()
        NothingSerializer(data=request.data).is_valid(raise_exception=True)
        add_signs(spray=job, by=self.person)
        return Response(self.get_serializer(job).data)

    @extend_schema(responses=JobWindowsSerializer)
    @action(detail=True, methods=["get"])
    def windows(self, request: Request, pk: int) -> Response:
        """The windows of the job, every limit with its distance now, what was left out, and what was set aside."""
        job, holding = self.get_object(), self.person.holding
        NothingSerializer(data=request.query_params.dict()).is_valid(raise_exception=True)
        found = job_week(holding, job, now_at(holding))
        if found is None:  # added a moment ago
            walk_holding(holding.pk)
            found = job_week(holding, job, now_at(holding))
        assert found is not None
        return Response(found.told)

    @extend_schema(parameters=[CrewQuery], responses=IgnitionSerializer)
    @action(detail=True, methods=["get"], refuses=True)
    def ignition(self, request: Request, pk: int) -> Response:
        """Of a burn: the latest ignition of each stretch in prescription, and whether the crew makes it."""
        job, holding = self.get_object(), self.person.holding
        query = CrewQuery(data=request.query_params.dict())
        query.is_valid(raise_exception=True)
        asked = query.validated_data
        people = Person.objects.filter(holding=holding, active=True, pk__in=asked["crew"]).order_by("id")
        coming = Coming(tuple(people), asked["travel_min"], asked.get("free_at"))
        if len(coming.people) < len(asked["crew"]):
            raise NotFound("Somebody of this crew is not in the holding.", field="crew")
        return Response(ignition(holding, job, coming, now_at(holding)))

    @extend_schema(request=BurnPlanSerializer, responses=JobSerializer)
    @action(detail=True, methods=["post"], url_path="burn-plan")
    def burn_plan(self, request: Request, pk: int) -> Response:
        """Keep the figures of the unit's plan, and the hours in prescription that somebody typed."""
        job = self.get_object()
        body = BurnPlanSerializer(data=request.data)
        body.is_valid(raise_exception=True)
        set_burn_plan(job=job, by=self.person, plan=body.plan())
        job.refresh_from_db()
        return Response(self.get_serializer(job).data)

    @extend_schema(request=SplitSerializer, responses=JobSerializer)
    @action(detail=True, methods=["post"])
    def split(self, request: Request, pk: int) -> Response:
        """Say whether the job may be done in pieces, and the least of them: then shorter windows are enough."""
        job = self.get_object()
        body = SplitSerializer(data=request.data)
        body.is_valid(raise_exception=True)
        set_split(job=job, by=self.person, **body.validated_data)
        job.refresh_from_db()
        return Response(self.get_serializer(job).data)

    @extend_schema(responses=WhySerializer)
    @action(detail=True, methods=["get"])
    def why(self, request: Request, pk: int) -> Response:
        """Every hold with its rule and source, the chain behind the earliest start, and what could still follow."""
        job, holding = self.get_object(), self.person.holding
        found = why(holding, job, now_at(holding))
        if found is None:  # added a moment ago
            walk_holding(holding.pk)
            found = why(holding, job, now_at(holding))
        return Response(found)
