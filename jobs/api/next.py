"""The answers: what is next, and how far the work is."""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import lru_cache
from types import MappingProxyType
from typing import Any

from django.http import HttpResponse, QueryDict
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from core.api.authentication import person_behind
from core.api.facts import StrictSerializer
from core.api.fields import Day, Line
from core.api.filters import LARGEST_ID
from core.api.permissions import is_manager
from core.api.rendering import Negotiation, json_response
from core.clock import now_at, standing
from core.errors import NotAllowed, NotFound
from core.models import Graph, Holding, Person
from core.selectors.prepared import Given, Prepared
from jobs.api.answers import AnswerSerializer, AreaSerializer, NamedSerializer
from jobs.api.fields import Id, UnitsField, chosen_units
from jobs.api.told import told
from jobs.models import JobState
from jobs.selectors.next import HOURS_ASKED, MOST_LISTED, Ask, next_page
from jobs.selectors.progress import GROUPS, progress
from jobs.services.walking import walk_holding
from plots.models import Property
from plots.units import area


class AskedHours(serializers.FloatField):
    """Hours in an address, where every number comes as text; finite and above 0."""

    default_error_messages = {"invalid": HOURS_ASKED, "max_value": HOURS_ASKED, "min_value": HOURS_ASKED}

    def to_internal_value(self, data: Any) -> float:
        value = float(super().to_internal_value(data))
        if not (math.isfinite(value) and value > 0):
            self.fail("invalid")
        return value


class NextQuery(StrictSerializer):
    person = Id(required=False, help_text="Somebody else's list, for managers.")
    property = Id(required=False, help_text="Only jobs there.")
    machine = serializers.ListField(
        child=Line(max_length=80),
        max_length=30,
        required=False,
        help_text="Repeat it: only jobs that these machines, by name or kind, are enough for.",
    )
    hours = AskedHours(min_value=0, max_value=24, required=False, help_text="Only jobs that fit into so many hours.")
    on = Day(required=False, help_text="Only jobs with free hours on this day.")
    days = serializers.IntegerField(
        min_value=1, max_value=31, default=7, help_text="How many days of free hours are shown."
    )
    page = serializers.IntegerField(min_value=1, max_value=10_000, default=1, help_text=f"Of {MOST_LISTED} jobs each.")
    after = serializers.IntegerField(
        min_value=0,
        max_value=LARGEST_ID,
        required=False,
        help_text="The facts_version of a receipt: the list is walked up to it before it is answered.",
    )
    units = UnitsField(required=False)


class StretchSerializer(serializers.Serializer[Any]):
    to = serializers.DateTimeField()
    zone = serializers.CharField()
    ends = serializers.CharField(allow_blank=True, help_text="What ends it, where the weather or the land does.")

    def get_fields(self) -> dict[str, Any]:
        return {**super().get_fields(), "from": serializers.DateTimeField()}


class NextJobSerializer(AnswerSerializer):
    hours = StretchSerializer(many=True, help_text="The person's free hours in daylight there, and in a window.")
    hours_known = serializers.BooleanField()
    fit_known = serializers.BooleanField(help_text="False: no forecast, so the free hours are no offer.")
    hours_note = serializers.CharField(allow_blank=True)
    in_hours_now = serializers.BooleanField()


class HoldingNameSerializer(NamedSerializer):
    zone = serializers.CharField()
    units = serializers.CharField()


class NextSerializer(serializers.Serializer[Any]):
    holding = HoldingNameSerializer()
    now = serializers.DateTimeField(help_text="The holding's instant.")
    clock_stands = serializers.BooleanField()
    clock_sentence = serializers.CharField(allow_blank=True, help_text="What every screen says while the clock stands.")
    facts_version = serializers.IntegerField()
    walked_version = serializers.IntegerField(help_text="Behind facts_version: some fact is not in the list yet.")
    person = NamedSerializer()
    jobs = NextJobSerializer(many=True, help_text=f"At most {MOST_LISTED}: one page.")
    count = serializers.IntegerField(help_text="Of all pages.")


class NextView(APIView):
    """The next jobs of the asker, or for a manager of anybody: under way, open, and what opens within seven days."""

    report_methods = frozenset({"GET"})
    content_negotiation_class = Negotiation

    @extend_schema(operation_id="next_retrieve", parameters=[NextQuery], responses=NextSerializer)
    def get(self, request: Request) -> HttpResponse:
        asker = person_behind(request)
        asked = _asked(request.META.get("QUERY_STRING", ""))
        holding, person = asker.holding, _whose(asker, asked.get("person"))
        ask = Ask(
            property=_property(holding, asked.get("property")),
            machines=frozenset(asked["machine"]) if asked.get("machine") else None,
            hours=asked.get("hours"),
            on=asked.get("on"),
            days=asked["days"],
        )
        facts_version, walked_version = _caught_up(holding, asked.get("after"))
        now, units = now_at(holding), chosen_units(holding, asked)
        found = next_page(holding=holding, person=person, now=now, ask=ask, page=asked["page"], most=MOST_LISTED)
        return json_response(
            {
                "holding": {"id": holding.pk, "name": holding.name, "zone": holding.zone, "units": units},
                "now": now,
                "clock_stands": holding.clock_at is not None,
                "clock_sentence": standing(holding),
                "facts_version": facts_version,
                "walked_version": walked_version,
                "person": {"id": person.pk, "name": person.name},
                "jobs": told(holding, found, now, units),
                "count": found.count,
            }
        )


@lru_cache(maxsize=1_024)
def _asked(query: str) -> Mapping[str, Any]:
    """The parameters of an address, checked; the same address asks for the same.

    Raises:
        ValidationError: a parameter is unknown or makes no sense.
    """
    form = NextQuery(data=_flat(QueryDict(query), several=("machine",)))
    form.is_valid(raise_exception=True)
    return MappingProxyType(form.validated_data)


def _flat(given: QueryDict, several: tuple[str, ...] = ()) -> dict[str, Any]:
    """The parameters of an address as a body: one value each, but lists where several are meant."""
    return {name: given.getlist(name) if name in several else given.get(name) for name in given}


def _whose(asker: Person, asked: int | None) -> Person:
    if asked is None or asked == asker.pk:
        return asker
    if not is_manager(asker):
        raise NotAllowed("Only managers ask for somebody else's list.", role=asker.role)
    person = Person.objects.filter(pk=asked, holding_id=asker.holding_id).first()
    if person is None:
        raise NotFound(f"Person {asked} is not in this holding.", field="person")
    return person


def _property(holding: Holding, asked: int | None) -> int | None:
    if asked is not None and not Property.objects.filter(pk=asked, holding=holding).exists():
        raise NotFound(f"Property {asked} is not in this holding.", field="property")
    return asked


_VERSIONS = Prepared(lambda: Graph.objects.filter(pk=Given("holding")).values_list("facts_version", "walked_version"))


def _caught_up(holding: Holding, after: int | None) -> tuple[int, int]:
    """(facts_version, walked_version), walked first where it is behind a version the asker has seen, so that no list
    is older than the asker's own report."""
    ((facts, walked),) = _VERSIONS.rows(holding=holding.pk)
    if after is not None and walked < min(after, facts):
        walk_holding(holding.pk)
        ((facts, walked),) = _VERSIONS.rows(holding=holding.pk)
    return facts, walked


class ProgressQuery(StrictSerializer):
    by = serializers.ChoiceField(choices=sorted(GROUPS), default="property")
    year = serializers.IntegerField(
        min_value=2000, max_value=2200, required=False, help_text="Only jobs of seasons of this year."
    )
    units = UnitsField(required=False)


class StatesSerializer(serializers.Serializer[Any]):
    """How many jobs are in each state."""

    def get_fields(self) -> dict[str, Any]:
        return {state: serializers.IntegerField() for state in JobState.values}


class ProgressRowSerializer(serializers.Serializer[Any]):
    id = serializers.JSONField(help_text="Id of the property or plot, key of the sequence; null for single jobs.")
    name = serializers.CharField()
    jobs = serializers.IntegerField(help_text="Without those called off or not called for.")
    states = StatesSerializer()
    acres_done = serializers.FloatField(help_text="Worked acres: sprayed and planted counts twice.")
    acres_left = serializers.FloatField()
    area_done = AreaSerializer()
    area_left = AreaSerializer()
    smallest_slack_days = serializers.IntegerField(allow_null=True)


class ProgressSerializer(serializers.Serializer[Any]):
    by = serializers.CharField()
    year = serializers.IntegerField(allow_null=True)
    now = serializers.DateTimeField()
    clock_stands = serializers.BooleanField()
    rows = ProgressRowSerializer(many=True)


class ProgressView(APIView):
    """How far the work is, by property, plot or sequence, of the jobs that the asker may see."""

    @extend_schema(operation_id="progress_retrieve", parameters=[ProgressQuery], responses=ProgressSerializer)
    def get(self, request: Request) -> Response:
        person = person_behind(request)
        query = ProgressQuery(data=_flat(request.query_params))
        query.is_valid(raise_exception=True)
        asked, holding = query.validated_data, person.holding
        units = chosen_units(holding, asked)
        rows = progress(person=person, by=asked["by"], year=asked.get("year"))
        shown = [
            {**row, "area_done": area(row["acres_done"], units), "area_left": area(row["acres_left"], units)}
            for row in rows
        ]
        return Response(
            {
                "by": asked["by"],
                "year": asked.get("year"),
                "now": now_at(holding),
                "clock_stands": holding.clock_at is not None,
                "rows": shown,
            }
        )
