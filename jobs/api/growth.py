"""What years of weather and published tables say: the chance of a job, and of a plot its degree days, growth, replant
and chance. All computed when asked; nothing here is permission."""

from __future__ import annotations

import math
from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from core.api.authentication import person_behind
from core.api.facts import StrictSerializer
from core.api.fields import Day, Line
from core.clock import now_at
from core.errors import NotFound
from jobs.api.fields import LOOKERS
from jobs.api.windows import NamedLimitSerializer
from jobs.reference import reference
from jobs.selectors.chances import job_chance
from jobs.selectors.growth import FREEZE_F, degree_days_of, plot_growth
from jobs.selectors.replanting import Asked, replant_advice
from jobs.selectors.replays import plot_chance
from jobs.selectors.visible import visible_jobs
from plots.degree_days import DegreeDaySpec
from plots.models import Plot


class AskedFigure(serializers.FloatField):
    """A figure in an address, where every number comes as text; finite."""

    def to_internal_value(self, data: Any) -> float:
        value = float(super().to_internal_value(data))
        if not math.isfinite(value):
            self.fail("invalid")
        return value


class JobChanceSerializer(serializers.Serializer[Any]):
    """The days that are left beyond the forecast, by many years of daily weather."""

    job = serializers.IntegerField()
    title = serializers.CharField()
    zone = serializers.CharField()
    known = serializers.BooleanField(help_text="False: no chance is told, and the sentence says why.")
    sentence = serializers.CharField()
    first_day = serializers.DateField(allow_null=True)
    last_day = serializers.DateField(allow_null=True, help_text="The last day before its latest finish.")
    forecast_until = serializers.DateField(allow_null=True, help_text="Until then its windows tell.")
    years = serializers.IntegerField()
    first_year = serializers.IntegerField(allow_null=True)
    last_year = serializers.IntegerField(allow_null=True)
    of_days = serializers.IntegerField(allow_null=True, help_text="Days on which it may be done at all.")
    days = serializers.IntegerField(allow_null=True, help_text="Suitable days: the median of the years.")
    days_nine_of_ten = serializers.IntegerField(allow_null=True, help_text="Nine years of ten had so many or more.")
    days_one_of_ten = serializers.IntegerField(allow_null=True, help_text="One year of ten had so many or more.")
    days_needed = serializers.IntegerField(allow_null=True, help_text="Days on end that the work takes.")
    years_got = serializers.IntegerField(allow_null=True)
    share = serializers.FloatField(allow_null=True, help_text="Of the years in which it still got its window.")
    answered = NamedLimitSerializer(many=True, help_text="Limits that daily weather answers.")
    left_out = NamedLimitSerializer(many=True, help_text="Limits that it does not: the figure knows nothing of them.")
    stations = serializers.ListField(child=serializers.CharField())


class SpoilerSerializer(serializers.Serializer[Any]):
    job = serializers.IntegerField()
    title = serializers.CharField()
    plot = serializers.CharField()
    years = serializers.IntegerField()


class PlotChanceSerializer(serializers.Serializer[Any]):
    """One replay of the season for every year of history."""

    plot = serializers.IntegerField()
    name = serializers.CharField()
    known = serializers.BooleanField()
    sentence = serializers.CharField()
    years = serializers.IntegerField()
    first_year = serializers.IntegerField(allow_null=True)
    last_year = serializers.IntegerField(allow_null=True)
    years_finished = serializers.IntegerField(allow_null=True)
    share = serializers.FloatField(allow_null=True, help_text="Of the years in which all jobs were finished.")
    spoiler = SpoilerSerializer(allow_null=True, help_text="The job that spoils the plot most often.")
    left_out = NamedLimitSerializer(many=True)
    stations = serializers.ListField(child=serializers.CharField())
    assumed = serializers.CharField()


class DegreeDaysQuery(StrictSerializer):
    count = Line(
        max_length=12, required=False, help_text="'86/50' or a base such as '40'; without it as the crop counts."
    )
    since = Day(required=False, help_text="Without it from the day after the last sowing, else from 1 January.")

    def validate_count(self, told: str) -> str:
        try:
            return DegreeDaySpec.parse(told).key
        except ValueError as error:
            raise serializers.ValidationError(str(error)) from error


class DegreeDaysSerializer(serializers.Serializer[Any]):
    """Degree days of a plot to yesterday, and what the forecast adds."""

    plot = serializers.IntegerField()
    name = serializers.CharField()
    first_day = serializers.DateField()
    last_day = serializers.DateField()
    observed = serializers.FloatField()
    normal = serializers.FloatField(allow_null=True, help_text="Of the same days as `observed`.")
    ahead_of_normal = serializers.FloatField(allow_null=True)
    forecast = serializers.FloatField()
    forecast_until = serializers.DateField(allow_null=True)
    missing_days = serializers.IntegerField(help_text="Days without temperatures: they count in neither.")
    sentence = serializers.CharField()

    def get_fields(self) -> dict[str, Any]:
        return {**super().get_fields(), "count": serializers.CharField()}


class CitedSerializer(serializers.Serializer[Any]):
    key = serializers.CharField()
    title = serializers.CharField()
    worth = serializers.CharField()


class EmergenceSerializer(serializers.Serializer[Any]):
    state = serializers.ChoiceField(choices=["predicted", "moved", "confirmed", "overdue", "unknown"])
    early = serializers.DateField(allow_null=True)
    late = serializers.DateField(allow_null=True)
    early_by = serializers.CharField(allow_blank=True, help_text="What the day stands on: observed, forecast, normal.")
    late_by = serializers.CharField(allow_blank=True)
    low = serializers.FloatField(help_text="Degree days of the published range.")
    high = serializers.FloatField()
    sources = CitedSerializer(many=True)
    sentence = serializers.CharField()


class StageSerializer(serializers.Serializer[Any]):
    table = serializers.CharField()
    variety = serializers.CharField()
    total = serializers.FloatField()
    stage = serializers.CharField(allow_blank=True)
    left = serializers.FloatField(allow_null=True)
    source_title = serializers.CharField()
    sentence = serializers.CharField()

    def get_fields(self) -> dict[str, Any]:
        more = {"next": serializers.CharField(allow_blank=True), "source": serializers.CharField()}
        return {**super().get_fields(), **more}


class RipenessSerializer(serializers.Serializer[Any]):
    needed = serializers.FloatField(help_text="Degree days from planting to ripeness, less for a late planting.")
    freeze_f = serializers.FloatField()
    years = serializers.IntegerField()
    years_ripe = serializers.IntegerField()
    share = serializers.FloatField()
    mean_first_freeze = serializers.DateField(allow_null=True)
    sentence = serializers.CharField()


class GrowthQuery(StrictSerializer):
    ripe = AskedFigure(
        required=False,
        min_value=500,
        max_value=6_000,
        help_text="Degree days to ripeness of the variety, 500 to 6,000.",
    )
    freeze_f = AskedFigure(default=FREEZE_F, min_value=20, max_value=36, help_text="What ends it, 20 to 36 F.")


class GrowthSerializer(serializers.Serializer[Any]):
    """How far the crop on a plot is."""

    plot = serializers.IntegerField()
    name = serializers.CharField()
    crop = serializers.CharField(allow_blank=True)
    sown = serializers.DateField(allow_null=True)
    emergence = EmergenceSerializer(allow_null=True)
    stages = StageSerializer(many=True)
    ripeness = RipenessSerializer(allow_null=True)
    sentence = serializers.CharField()


class ReplantQuery(StrictSerializer):
    stand = AskedFigure(
        required=False, min_value=0, max_value=400_000, help_text="Plants an acre that live, 0 to 400,000."
    )
    planted = Day(required=False, help_text="Without it the last sowing that was reported.")
    on = Day(required=False, help_text="The day of the replant; without it today.")
    crop = Line(max_length=40, required=False, help_text="Key of the crop; without it what was sown.")
    gaps = serializers.ChoiceField(choices=["small", "large"], required=False, help_text="Gaps in the rows, if any.")
    expected_bu = AskedFigure(
        required=False, min_value=0, max_value=400, help_text="Bushels an acre of a full stand, 0 to 400."
    )

    def validate_crop(self, told: str) -> str:
        if told not in reference().crops:
            raise serializers.ValidationError(f"Give the key of a crop: {', '.join(sorted(reference().crops))}.")
        return told


class ReplantTableSerializer(serializers.Serializer[Any]):
    """What one published table says; null where it does not tell."""

    table = serializers.CharField()
    name = serializers.CharField()
    source_title = serializers.CharField()
    worth = serializers.CharField()
    kept_low = serializers.FloatField(allow_null=True, help_text="Percent of the highest yield, of the stand as it is.")
    kept_high = serializers.FloatField(allow_null=True)
    replant_low = serializers.FloatField(allow_null=True, help_text="Of a full stand planted on the replant's day.")
    replant_high = serializers.FloatField(allow_null=True)
    gain_low = serializers.FloatField(allow_null=True)
    gain_high = serializers.FloatField(allow_null=True)
    between_cells = serializers.BooleanField(help_text="Read on the straight line between published cells.")
    gaps_source = serializers.CharField(allow_blank=True)
    note = serializers.CharField(allow_blank=True)
    sentence = serializers.CharField()

    def get_fields(self) -> dict[str, Any]:
        return {**super().get_fields(), "source": serializers.CharField()}


class SaidSerializer(serializers.Serializer[Any]):
    source_title = serializers.CharField()
    worth = serializers.CharField()
    sentence = serializers.CharField()

    def get_fields(self) -> dict[str, Any]:
        return {**super().get_fields(), "source": serializers.CharField()}


class ClosedBySerializer(serializers.Serializer[Any]):
    what = serializers.CharField()
    source_title = serializers.CharField(allow_blank=True)
    sentence = serializers.CharField()

    def get_fields(self) -> dict[str, Any]:
        return {**super().get_fields(), "source": serializers.CharField(allow_blank=True)}


class ReplantOptionSerializer(serializers.Serializer[Any]):
    branch = serializers.IntegerField()
    name = serializers.CharField()
    jobs = serializers.ListField(child=serializers.IntegerField())
    last_day = serializers.DateField(allow_null=True)
    source_title = serializers.CharField(allow_blank=True)
    open = serializers.BooleanField(help_text="Nothing that was sprayed closes it on that day, and it is not too late.")
    closed_by = ClosedBySerializer(many=True)
    sentence = serializers.CharField()

    def get_fields(self) -> dict[str, Any]:
        return {**super().get_fields(), "source": serializers.CharField(allow_blank=True)}


class ReplantSerializer(serializers.Serializer[Any]):
    """Keep the stand or plant again: every source for itself, and what was sprayed."""

    plot = serializers.IntegerField()
    name = serializers.CharField()
    crop = serializers.CharField(allow_blank=True)
    planted = serializers.DateField(allow_null=True)
    stand = serializers.FloatField(allow_null=True)
    on = serializers.DateField()
    tables = ReplantTableSerializer(many=True)
    rules = SaidSerializer(many=True)
    options = ReplantOptionSerializer(many=True)
    decides = serializers.CharField()
    sentence = serializers.CharField()


def _asked(form: type[StrictSerializer], request: Request) -> dict[str, Any]:
    query = form(data=request.query_params.dict())
    query.is_valid(raise_exception=True)
    found: dict[str, Any] = query.validated_data
    return found


class JobChanceView(APIView):
    """Beyond the forecast: how many suitable days are usually left, and how often the job still got its window."""

    @extend_schema(operation_id="jobs_chance_retrieve", responses=JobChanceSerializer)
    def get(self, request: Request, pk: int) -> Response:
        person = person_behind(request)
        job = visible_jobs(person).filter(pk=pk).first()
        if job is None:
            raise NotFound("This job is not in the holding.")
        return Response(job_chance(person.holding, job, now_at(person.holding)))


class OfAPlot(APIView):
    """A question about one plot of the asker's holding."""

    def plot(self, request: Request, pk: int) -> Plot:
        holding = person_behind(request).holding
        plot = Plot.objects.select_related("property").filter(pk=pk, holding=holding).first()
        if plot is None:
            raise NotFound("This plot is not in the holding.")
        return plot


class PlotChanceView(OfAPlot):
    """In which share of the years of history the plot is finished, and the job that spoils it most often."""

    readers = LOOKERS

    @extend_schema(operation_id="plots_chance_retrieve", responses=PlotChanceSerializer)
    def get(self, request: Request, pk: int) -> Response:
        holding = person_behind(request).holding
        return Response(plot_chance(holding, self.plot(request, pk), now_at(holding)))


class PlotDegreeDaysView(OfAPlot):
    """Degree days observed, normal and forecast to date."""

    @extend_schema(
        operation_id="plots_degree_days_retrieve", parameters=[DegreeDaysQuery], responses=DegreeDaysSerializer
    )
    def get(self, request: Request, pk: int) -> Response:
        holding, asked = person_behind(request).holding, _asked(DegreeDaysQuery, request)
        plot = self.plot(request, pk)
        return Response(degree_days_of(holding, plot, now_at(holding), asked.get("count", ""), asked.get("since")))


class PlotGrowthView(OfAPlot):
    """Emergence, stages and ripeness of the crop that was sown."""

    readers = LOOKERS

    @extend_schema(operation_id="plots_growth_retrieve", parameters=[GrowthQuery], responses=GrowthSerializer)
    def get(self, request: Request, pk: int) -> Response:
        holding, asked = person_behind(request).holding, _asked(GrowthQuery, request)
        plot = self.plot(request, pk)
        ripe, freeze_f = asked.get("ripe"), asked["freeze_f"]
        return Response(plot_growth(holding, plot, now_at(holding), ripe=ripe, freeze_f=freeze_f))


class PlotReplantView(OfAPlot):
    """Yield kept and gained by every published table, and which replants what was sprayed leaves open."""

    readers = LOOKERS

    @extend_schema(operation_id="plots_replant_retrieve", parameters=[ReplantQuery], responses=ReplantSerializer)
    def get(self, request: Request, pk: int) -> Response:
        holding, asked = person_behind(request).holding, _asked(ReplantQuery, request)
        plot = self.plot(request, pk)
        return Response(replant_advice(holding, plot, Asked(**asked), now_at(holding)))
