"""The calculators of a job's own sheet."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from core.api.authentication import person_behind
from core.api.facts import NothingSerializer
from core.errors import NotFound
from jobs.selectors.sheet import sheet_of
from jobs.selectors.visible import visible_jobs
from plots.api.calculators import WorkedSerializer


class FilledSerializer(serializers.Serializer[Any]):
    """One calculator, filled in from the job."""

    calculator = serializers.CharField()
    given = serializers.DictField(help_text="What is filled in; change it and POST it to the calculator.")
    origins = serializers.DictField(child=serializers.CharField(), help_text="By entry: where it is from.")
    answer = WorkedSerializer(allow_null=True)
    missing = serializers.DictField(child=serializers.CharField(), help_text="By entry: what is to be given.")


class JobCalculatorsSerializer(serializers.Serializer[Any]):
    job = serializers.IntegerField()
    calculators = FilledSerializer(many=True)


class JobCalculatorsView(APIView):
    """The calculators that belong to a job, filled in from its plot, machine and materials, with their answers."""

    report_methods = frozenset({"GET"})

    @extend_schema(operation_id="jobs_calculators", responses=JobCalculatorsSerializer)
    def get(self, request: Request, pk: int) -> Response:
        NothingSerializer(data=request.query_params.dict()).is_valid(raise_exception=True)
        jobs = visible_jobs(person_behind(request)).filter(pk=pk)
        job = jobs.select_related("plot", "reckoning").first()
        if job is None:
            raise NotFound
        told = [
            {
                "calculator": one.calculator.key,
                "given": one.given,
                "origins": one.origins,
                "answer": one.answer,
                "missing": one.missing,
            }
            for one in sheet_of(job)
        ]
        return Response({"job": job.pk, "calculators": told})
