"""Pages: read through selectors, write through services, say in plain words what was refused."""

from __future__ import annotations

import uuid
from collections import defaultdict
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_POST

from core.access import person_required
from core.clock import now_at
from core.errors import NotFound, Refused
from core.middleware import PersonRequest
from core.models import Graph, Person, Role
from jobs.forms import AssignForm, ReportForm, workers_of
from jobs.models import Assignment, Job, JobState
from jobs.selectors.answers import answer_rows, answers
from jobs.selectors.next import Ask, next_jobs
from jobs.selectors.progress import progress
from jobs.selectors.visible import visible_jobs
from jobs.sentences import REASONS
from jobs.services.assigning import assign_job
from jobs.services.assigning import end_assignment as end_the_assignment
from jobs.services.reports import NewReport, store_report
from jobs.services.walking import walk_holding
from plots.models import Property

LISTED = (JobState.OPEN, JobState.UNDER_WAY, JobState.HELD, JobState.LAPSED)


def _person(request: PersonRequest) -> Person:
    assert request.person is not None
    return request.person


def _catch_up(request: PersonRequest, person: Person) -> None:
    """Nobody's list is older than their own report: walk what it touched before answering."""
    after = request.GET.get("after", "")
    graph = Graph.objects.get(pk=person.holding_id)
    if after.isdecimal() and len(after) < 20 and graph.walked_version < min(int(after), graph.facts_version):
        walk_holding(person.holding_id)


@require_GET
@person_required()
def next_page(request: PersonRequest) -> HttpResponse:
    """My next jobs: in hours now, open, soon; each with its report buttons."""
    person = _person(request)
    if person.role == Role.VIEWER:
        return redirect("work")
    _catch_up(request, person)
    now = now_at(person.holding)
    place, hours = request.GET.get("property", ""), request.GET.get("hours", "")
    ask = Ask(
        property=int(place) if place.isdecimal() and len(place) < 12 else None,
        hours=float(hours) if hours.isdecimal() and len(hours) < 4 else None,
    )
    jobs = next_jobs(holding=person.holding, person=person, now=now, ask=ask)
    for job in jobs:
        job["client_id"] = uuid.uuid4()
    return render(
        request,
        "jobs/next.html",
        {
            "jobs": jobs,
            "person": person,
            "reasons": REASONS,
            "properties": Property.objects.filter(holding=person.holding).order_by("name"),
            "ask": {"property": place, "hours": hours},
        },
    )


@require_GET
@person_required()
def work_page(request: PersonRequest) -> HttpResponse:
    """The work by property: progress, what is open, what holds the rest, who does what."""
    person = _person(request)
    _catch_up(request, person)
    holding, now = person.holding, now_at(person.holding)
    rows = answer_rows(visible_jobs(person).filter(reckoning__state__in=LISTED))
    by_place: dict[int, list[dict[str, Any]]] = defaultdict(list)
    for answer in answers(holding, rows, now):
        by_place[answer["property"]["id"]].append(answer)
    order = {state: place for place, state in enumerate(("under_way", "open", "lapsed", "held"))}
    places = []
    for row in progress(person=person, by="property"):
        jobs = sorted(
            by_place.get(row["id"], []),
            key=lambda job: (order[job["state"]], job["latest_start"] is None, job["latest_start"] or now, job["job"]),
        )
        near = [job for job in jobs if job["state"] != "held"]
        places.append({"row": row, "near": near, "held": [job for job in jobs if job["state"] == "held"]})
    return render(
        request,
        "jobs/work.html",
        {"places": places, "workers": workers_of(holding) if person.role == Role.MANAGER else []},
    )


@require_GET
@person_required()
def job_page(request: PersonRequest, job_id: int) -> HttpResponse:
    """One job: where, until when, everything that holds it, what to heed, what was reported."""
    person = _person(request)
    _catch_up(request, person)
    rows = answer_rows(visible_jobs(person).filter(pk=job_id))
    if not rows:
        raise Http404("This job is not in the holding.")
    (answer,) = answers(person.holding, rows, now_at(person.holding))
    answer["client_id"] = uuid.uuid4()
    reports = Job.objects.get(pk=job_id).reports.select_related("person").order_by("happened_at", "id")
    return render(
        request,
        "jobs/job.html",
        {
            "job": answer,
            "reports": reports,
            "reasons": REASONS,
            "may_report": person.role != Role.VIEWER,
            "workers": workers_of(person.holding) if person.role == Role.MANAGER else [],
        },
    )


@require_POST
@person_required(Role.MANAGER, Role.HELPER)
def report(request: PersonRequest, job_id: int) -> HttpResponse:
    """Take a report from a form; pressing twice is one report."""
    person = _person(request)
    back = _back(request)
    form = ReportForm(request.POST)
    if not form.is_valid():
        return _refused(request, _first_error(form), back)
    said = form.cleaned_data
    now = now_at(person.holding)
    new = NewReport(
        client_id=said["client_id"],
        kind=said["kind"],
        happened_at=now,
        job=job_id,
        acres=said["acres"],
        outcome=said["outcome"],
        reason=said["reason"],
        note=said["note"],
    )
    try:
        receipt = store_report(person=person, new=new, now=now)
    except NotFound as error:
        raise Http404(error.sentence) from error
    except Refused as error:
        return _refused(request, error.sentence, back)
    messages.success(request, "Stored. Thank you." if not receipt["clashes"] else " ".join(receipt["clashes"]))
    return redirect(f"{back}{'&' if '?' in back else '?'}after={receipt['facts_version']}")


@require_POST
@person_required(Role.MANAGER)
def assign(request: PersonRequest, job_id: int) -> HttpResponse:
    """Give a job by hand to a person or a crew."""
    person = _person(request)
    back = _back(request)
    form = AssignForm(request.POST, holding=person.holding)
    if not form.is_valid():
        return _refused(request, _first_error(form), back)
    kind, _, pk = form.cleaned_data["to"].partition(":")
    try:
        assign_job(
            holding_id=person.holding_id,
            job_id=job_id,
            by=person,
            day=form.cleaned_data["day"],
            starts=form.cleaned_data["starts"],
            ends=form.cleaned_data["ends"],
            **{f"{kind}_id": int(pk)},
        )
    except NotFound as error:
        raise Http404(error.sentence) from error
    except Refused as error:
        return _refused(request, error.sentence, back)
    messages.success(request, "Given.")
    return redirect(back)


@require_POST
@person_required(Role.MANAGER)
def end_assignment(request: PersonRequest, assignment_id: int) -> HttpResponse:
    """Take a job back from whom it was given to."""
    person = _person(request)
    found = Assignment.objects.filter(pk=assignment_id, holding_id=person.holding_id).first()
    if found is None:
        raise Http404("This assignment is not in the holding.")
    end_the_assignment(assignment=found, by=person, now=now_at(person.holding))
    messages.success(request, "Taken back.")
    return redirect(_back(request))


def _back(request: PersonRequest) -> str:
    """Where the form stood; only pages of our own."""
    return {"work": reverse("work"), "next": reverse("next")}.get(request.POST.get("back", ""), reverse("next"))


def _first_error(form: Any) -> str:
    return str(next(iter(form.errors.values()))[0])


def _refused(request: PersonRequest, sentence: str, back: str) -> HttpResponse:
    messages.error(request, f"{sentence} Nothing was stored.")
    return redirect(back)
