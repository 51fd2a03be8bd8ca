"""The page of one plot: what grows there, its degree days, how likely the season still is, keep or plant again."""

from __future__ import annotations

from typing import Any

from django import forms
from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from core.access import person_required
from core.clock import now_at
from core.middleware import PersonRequest
from core.models import Role
from jobs.selectors.chances import job_chance
from jobs.selectors.growth import degree_days_of, plot_growth
from jobs.selectors.replanting import Asked, replant_advice
from jobs.selectors.replays import plot_chance
from jobs.selectors.visible import visible_jobs
from plots.models import Plot

STAND_RANGE = "Give plants an acre from 0 to 400,000, as counted."


class StandForm(forms.Form):
    """A stand as somebody counted it."""

    stand = forms.FloatField(
        min_value=0,
        max_value=400_000,
        error_messages={"invalid": STAND_RANGE, "min_value": STAND_RANGE, "max_value": STAND_RANGE},
    )


@require_GET
@person_required(Role.MANAGER, Role.VIEWER)
def plot_page(request: PersonRequest, plot_id: int) -> HttpResponse:
    """One plot; with `?stand=` of plants an acre the replant tables weigh it."""
    person = request.person
    assert person is not None
    holding, now = person.holding, now_at(person.holding)
    plot = Plot.objects.select_related("property").filter(pk=plot_id, holding=holding).first()
    if plot is None:
        raise Http404("This plot is not in the holding.")
    form = StandForm(request.GET) if "stand" in request.GET else None
    stand = form.cleaned_data["stand"] if form is not None and form.is_valid() else None
    shown: dict[str, Any] = {
        "plot": plot,
        "growth": plot_growth(holding, plot, now),
        "sums": degree_days_of(holding, plot, now),
        "chance": plot_chance(holding, plot, now),
        "replant": replant_advice(holding, plot, Asked(stand=stand), now),
        "asked": request.GET.get("stand", ""),
        "wrong": "" if form is None or form.is_valid() else form.errors["stand"][0],
    }
    return render(request, "jobs/plot.html", shown)


@require_GET
@person_required()
def chance_page(request: PersonRequest, job_id: int) -> HttpResponse:
    """How likely a job still gets its days, beyond the forecast."""
    person = request.person
    assert person is not None
    job = visible_jobs(person).select_related("plot__property").filter(pk=job_id).first()
    if job is None:
        raise Http404("This job is not in the holding.")
    return render(
        request, "jobs/chance.html", {"job": job, "chance": job_chance(person.holding, job, now_at(person.holding))}
    )
