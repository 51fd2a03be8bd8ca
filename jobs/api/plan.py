"""What ties jobs together and what they take along: seasons, branches, prerequisites, needs, rounds."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.serializers import BaseSerializer

from core.api.facts import FactSerializer, FactViewSet, NothingSerializer, ReadViewSet, StrictSerializer
from core.api.fields import OwnRow, Whole
from core.clock import now_at
from jobs.api.fields import LOOKERS, Word
from jobs.models import Branch, Need, Prerequisite, Round, Season
from jobs.selectors.closing import closes
from jobs.services.calling_off import call_branch, call_off_season
from jobs.services.links import add_link, change_link, remove_link
from jobs.services.needs import remove_need, save_need
from jobs.services.seasons import roll_over
from jobs.services.withdrawing import withdraw_season
from plots.models import Plot

MOST_SWAPS = 200


class SeasonSerializer(FactSerializer[Season]):
    class Meta:
        model = Season
        fields = ["id", "plot", "sequence", "label", "year", "first_day", "last_day", "called_off_at"]
        read_only_fields = fields


class SwapSerializer(StrictSerializer):
    """What grew on one plot grows on another next. Two plots that swap are two of these."""

    to = OwnRow(queryset=Plot.objects.all())

    def get_fields(self) -> dict[str, Any]:
        return {**super().get_fields(), "from": OwnRow(queryset=Plot.objects.all())}


class RollOverSerializer(StrictSerializer):
    from_year = Whole(min_value=2000, max_value=2100)
    to_year = Whole(min_value=2000, max_value=2100)
    swaps = serializers.ListField(child=SwapSerializer(), max_length=MOST_SWAPS, required=False, default=list)

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        if attrs["from_year"] == attrs["to_year"]:
            raise serializers.ValidationError({"to_year": "Give another year than the one that is taken over."})
        sources = [swap["from"].pk for swap in attrs["swaps"]]
        if len(set(sources)) < len(sources):
            raise serializers.ValidationError({"swaps": "A plot is named twice as the one that is taken over."})
        return attrs


class SeasonsSerializer(serializers.Serializer[Any]):
    seasons = SeasonSerializer(many=True)


class SeasonViewSet(ReadViewSet):
    """Applications of sequences to plots; they are made by `sequences/{id}/apply/`."""

    queryset = Season.objects.all()
    serializer_class = SeasonSerializer
    readers = LOOKERS
    http_method_names = ["get", "head", "post"]
    filterset_fields = {
        "plot": ["exact"],
        "year": ["exact"],
        "label": ["exact"],
        "called_off_at": ["isnull"],
        "first_day": ["lte"],
        "last_day": ["gte"],
    }

    @extend_schema(exclude=True)
    def create(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        return self.http_method_not_allowed(request, *args, **kwargs)

    @extend_schema(request=NothingSerializer, responses=SeasonSerializer)
    @action(detail=True, methods=["post"], url_path="call-off")
    def call_off(self, request: Request, pk: int) -> Response:
        """Every job of the season that is not done is called off. Twice changes nothing."""
        season = self.get_object()
        NothingSerializer(data=request.data).is_valid(raise_exception=True)
        call_off_season(season=season, by=self.person, now=now_at(self.person.holding))
        return Response(SeasonSerializer(season).data)

    @extend_schema(request=NothingSerializer, responses={204: None})
    @action(detail=True, methods=["post"])
    def withdraw(self, request: Request, pk: int) -> Response:
        """Take back a season applied by mistake, with its jobs. Refused (422) once anything was reported on it: then
        it can be called off."""
        season = self.get_object()
        NothingSerializer(data=request.data).is_valid(raise_exception=True)
        withdraw_season(season=season, by=self.person)
        return Response(status=204)

    @extend_schema(request=RollOverSerializer, responses={201: SeasonsSerializer})
    @action(detail=False, methods=["post"], url_path="roll-over")
    def roll_over(self, request: Request) -> Response:
        """Like one year, these plots swap: every season again in another year, each in its newest version.

        The answer lists the seasons of the new year, also those that were there already."""
        body = RollOverSerializer(data=request.data, context=self.get_serializer_context())
        body.is_valid(raise_exception=True)
        values = body.validated_data
        made = roll_over(
            holding=self.person.holding,
            from_year=values["from_year"],
            to_year=values["to_year"],
            swaps={swap["from"].pk: swap["to"].pk for swap in values["swaps"]},
            by=self.person,
        )
        return Response({"seasons": SeasonSerializer(made, many=True).data}, status=201)


class BranchSerializer(FactSerializer[Branch]):
    called_off = serializers.BooleanField(write_only=True, help_text="True calls the branch off, false calls it back.")

    class Meta:
        model = Branch
        fields = [
            "id",
            "season",
            "key",
            "name",
            "parent",
            "group",
            "order",
            "opened_by",
            "outcomes",
            "expected",
            "option",
            "called_off_at",
            "called_off",
        ]
        read_only_fields = fields[:-1]


class BranchViewSet(FactViewSet):
    """Alternatives and what an outcome calls for; a manager calls one off, or back."""

    queryset = Branch.objects.all()
    serializer_class = BranchSerializer
    readers = LOOKERS
    order = ("season_id", "order", "id")
    http_method_names = ["get", "head", "patch"]
    filterset_fields = {
        "season": ["exact"],
        "key": ["exact"],
        "group": ["exact"],
        "opened_by": ["exact"],
        "called_off_at": ["isnull"],
    }

    def perform_update(self, serializer: BaseSerializer[Any]) -> None:
        branch, values = serializer.instance, serializer.validated_data
        assert isinstance(branch, Branch)
        if "called_off" in values:
            call_branch(branch=branch, off=values["called_off"], by=self.person, now=now_at(self.person.holding))


class PrerequisiteSerializer(FactSerializer[Prerequisite]):
    class Meta:
        model = Prerequisite
        fields = [
            "id",
            "predecessor",
            "successor",
            "relation",
            "min_amount",
            "min_unit",
            "min_then_days",
            "max_amount",
            "max_unit",
            "degree_days",
            "confirm",
            "source",
            "worth",
            "max_source",
            "max_worth",
            "note",
        ]


class PrerequisiteViewSet(FactViewSet):
    """Which job comes before which, with the shortest and the longest wait. Circles and contradictions are refused."""

    queryset = Prerequisite.objects.all()
    serializer_class = PrerequisiteSerializer
    readers = LOOKERS
    filterset_fields = {"predecessor": ["exact"], "successor": ["exact"], "relation": ["exact"], "source": ["exact"]}

    def store(self, row: Prerequisite, values: Mapping[str, Any]) -> Prerequisite:
        if row._state.adding:
            return add_link(link=row, by=self.person)
        return change_link(link=row, by=self.person, fields=sorted(values))

    def remove(self, row: Any) -> None:
        remove_link(link=row, by=self.person)


class NeedSerializer(FactSerializer[Need]):
    closes = serializers.SerializerMethodField(
        help_text="What the spray of this material closes or keeps waiting on its plot afterwards, in sentences."
    )
    _page: dict[int, list[str]] | None = None
    """Of the needs of one page, asked together."""

    class Meta:
        model = Need
        fields = ["id", "job", "kind", "name", "machine", "material", "rate_per_acre", "amount", "closes"]

    def get_closes(self, need: Need) -> list[str]:
        if self.parent is None:
            return closes(need.job.holding, [need]).get(need.pk, [])
        if self._page is None:
            self._page = closes(need.job.holding, self.parent.instance or ())
        return self._page.get(need.pk, [])


class NeedViewSet(FactViewSet):
    """What a job takes along. `machine` and `material` choose one; a machine is of the kind that `name` says."""

    queryset = Need.objects.select_related("job__season", "job__holding")
    serializer_class = NeedSerializer

    def store(self, row: Any, values: Mapping[str, Any]) -> Need:
        return save_need(need=row, by=self.person, fields=sorted(values))

    def remove(self, row: Any) -> None:
        remove_need(need=row, by=self.person)

    readers = LOOKERS
    filterset_fields = {"job": ["exact"], "kind": ["exact"], "machine": ["exact"], "material": ["exact"]}


class RoundSerializer(FactSerializer[Round]):
    operation = Word()

    class Meta:
        model = Round
        fields = ["id", "operation", "label"]


class RoundViewSet(FactViewSet):
    """Jobs done in one go; a job names its round."""

    queryset = Round.objects.all()
    serializer_class = RoundSerializer
    filterset_fields = {"operation": ["exact"], "label": ["exact"]}
