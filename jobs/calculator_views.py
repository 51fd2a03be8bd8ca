"""Pages of the calculators: all of them, one of them, and those of a job's own sheet. Nothing is stored."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from core.access import person_required
from core.middleware import PersonRequest
from jobs.models import Job
from jobs.selectors.sheet import sheet_of
from jobs.selectors.visible import visible_jobs
from plots.agronomy.calculators import Absurd, Calculator
from plots.agronomy.calculators.telling import answered, described, from_form
from plots.agronomy.entries import Rows, figure
from plots.reference import shelf


@require_GET
@person_required()
def calculators_page(request: PersonRequest) -> HttpResponse:
    """What can be worked out."""
    return render(request, "jobs/calculators.html", {"calculators": list(shelf().calculators.values())})


@require_GET
@person_required()
def calculator_page(request: PersonRequest, key: str) -> HttpResponse:
    """One calculator: its entries, and under them the figures once they are given."""
    calculator = shelf().calculators.get(key)
    if calculator is None:
        raise Http404("There is no calculator of this name.")
    return render(
        request, "jobs/calculator.html", {"one": worked(calculator, from_form(calculator, request.GET.dict()))}
    )


@require_GET
@person_required()
def job_amounts_page(request: PersonRequest, job_id: int) -> HttpResponse:
    """The calculators of a job, filled in from plot, machine and materials."""
    assert request.person is not None
    job = visible_jobs(request.person).filter(pk=job_id).select_related("plot__property", "reckoning").first()
    if job is None:
        raise Http404("This job is not in the holding.")
    return render(request, "jobs/job_amounts.html", {"job": job, "parts": _parts(job)})


def _parts(job: Job) -> list[dict[str, Any]]:
    return [worked(one.calculator, one.given, one.origins) for one in sheet_of(job)]


def worked(calculator: Calculator, told: Mapping[str, Any], origins: Mapping[str, str] | None = None) -> dict[str, Any]:
    """A calculator for a template: every field with its value and sentence, and the answer if there is one."""
    answer, wrong = None, {}
    if told:
        try:
            answer = answered(calculator, calculator.answer(told))
        except Absurd as error:
            wrong = dict(error.sentences)
    fields = [_field(entry, told, wrong, origins or {}) for entry in described(calculator)["entries"]]
    shown = {"calculator": calculator, "answer": answer, "wrong": list(wrong.values()), "from_job": bool(origins)}
    least = {entry.name: entry.shown for entry in calculator.entries if isinstance(entry, Rows)}
    for one in fields:
        if one["kind"] == "rows":
            one["lines"] = _lines(one, told, wrong, least[one["name"]])
    return {**shown, "fields": fields}


def _field(entry: Mapping[str, Any], told: Mapping[str, Any], wrong: Mapping[str, str], origins: Any) -> dict[str, Any]:
    name = entry["name"]
    value = told.get(name, entry["default"])
    return {**entry, "value": _text(value), "wrong": wrong.get(name, ""), "origin": origins.get(name, "")}


def _lines(entry: Mapping[str, Any], told: Mapping[str, Any], wrong: Mapping[str, str], least: int) -> list[Any]:
    given = list(told.get(entry["name"]) or [])
    lines = []
    for n in range(max(least, len(given))):
        line = given[n] if n < len(given) else {}
        cells = []
        for column in entry["columns"]:
            path = f"{entry['name']}.{n}.{column['name']}"
            value = _text(line.get(column["name"]))
            cells.append({**column, "path": path, "number": n + 1, "value": value, "wrong": wrong.get(path, "")})
        lines.append(cells)
    return lines


def _text(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, list | tuple):
        return " ".join(_text(each) for each in value)
    return figure(value) if isinstance(value, int | float) else str(value)
