"""Pages: read through selectors, write through services, say in plain words what was refused."""

from __future__ import annotations

import uuid
from datetime import timedelta
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.safestring import mark_safe
from django.views.decorators.http import require_GET, require_POST

from core.access import person_required
from core.clock import now_at
from core.errors import NotFound, Refused
from core.middleware import PersonRequest
from core.models import Graph, Person, Role
from core.selectors.health import parked_count
from jobs.forms import AsideForm, AssignForm, HoursForm, ReportForm, workers_of
from jobs.minutes import day_end, floor_minute, instant, local_day
from jobs.models import Assignment, Job, JobState, Override
from jobs.selectors.answers import answer_rows, answers
from jobs.selectors.by_property import ON_A_PAGE, ORDER, jobs_of_property, nearest_by_property
from jobs.selectors.next import Ask, next_list
from jobs.selectors.progress import progress
from jobs.selectors.visible import visible_jobs
from jobs.selectors.week import job_week
from jobs.sentences import REASONS
from jobs.services.assigning import assign_job
from jobs.services.assigning import end_assignment as end_the_assignment
from jobs.services.overriding import set_aside
from jobs.services.reports import NewReport, store_report
from jobs.services.walking import walk_holding
from jobs.windows.picture import week
from plots.models import Property

HELD_SHOWN = 3
"""So many jobs that open within seven days stand open in the list of next jobs; the others are one tap away."""
TYPED = "typed"
FURTHEST = 1_000_000
"""No list is longer; pages asked for beyond the end of one show its last."""


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
    asked = HoursForm({"hours": hours})
    ask = Ask(
        property=int(place) if place.isdecimal() and len(place) < 12 else None,
        hours=asked.cleaned_data["hours"] if asked.is_valid() else None,
    )
    page = _pages(request, FURTHEST)["page"]
    found = next_list(holding=person.holding, person=person, now=now, ask=ask, page=page, most=ON_A_PAGE)
    for job in found.jobs:
        job["client_id"] = uuid.uuid4()
        job["needs_a_look"] = _needs_a_look(job)
    held = [job for job in found.jobs if job["state"] == JobState.HELD]
    return render(
        request,
        "jobs/next.html",
        {
            "jobs": found.jobs[: len(found.jobs) - len(held) + HELD_SHOWN],
            "later": held[HELD_SHOWN:],
            "pages": _pages(request, found.count),
            "person": person,
            "reasons": REASONS,
            "properties": Property.objects.filter(holding=person.holding).order_by("name"),
            "ask": {"property": place, "hours": hours},
            "wrong": "" if asked.is_valid() else _first_error(asked),
        },
    )


def _needs_a_look(job: dict[str, Any]) -> bool:
    """Whether what is said beside the hours is more than their why: that there are none, or none to rely on, or what
    of them nobody knows, so that somebody has to look."""
    if not job["hours"] or not job["fit_known"] or (job["window"] is not None and job["window"]["not_known"]):
        return True
    return job["latest_start"] is not None and job["hours"][0]["from"] > job["latest_start"]


@require_GET
@person_required()
def work_page(request: PersonRequest) -> HttpResponse:
    """The work by property: progress, what is nearest, what holds the rest, who does what; with `?property=` all of it
    there, page by page."""
    person = _person(request)
    _catch_up(request, person)
    holding, now = person.holding, now_at(person.holding)
    rows = progress(person=person, by="property")
    workers = workers_of(holding) if person.role == Role.MANAGER else []
    asked = request.GET.get("property", "")
    if asked:
        row = next((row for row in rows if str(row["id"]) == asked), None)
        if row is None:
            raise Http404("This property is not in the holding, or no work of yours is there.")
        pages = _pages(request, sum(row["states"][state] for state in ORDER))
        jobs = jobs_of_property(holding, person, row["id"], pages["page"], now)
        return render(request, "jobs/property.html", {"row": row, "jobs": jobs, "pages": pages, "workers": workers})
    pages = _pages(request, len(rows))
    rows = rows[pages["before"] : pages["until"]]
    found = nearest_by_property(holding, person, [row["id"] for row in rows], now)
    places = []
    for row in rows:
        jobs = found.get(row["id"], [])
        near = [job for job in jobs if job["state"] != JobState.HELD]
        count = sum(row["states"][state] for state in ORDER if state != JobState.HELD)
        places.append({"row": row, "near": near, "count": count, "held": jobs[len(near) :]})
    parked = parked_count(holding.pk) if person.role == Role.MANAGER else 0
    shown = {"places": places, "pages": pages, "workers": workers, "parked": parked}
    return render(request, "jobs/work.html", shown)


def _pages(request: PersonRequest, count: int) -> dict[str, int]:
    """The page asked for of a list of so many, or the nearest there is."""
    asked, last = request.GET.get("page", ""), max(1, -(-count // ON_A_PAGE))
    page = max(1, min(int(asked), last)) if asked.isdecimal() and len(asked) < 8 else 1
    before = (page - 1) * ON_A_PAGE
    return {
        "page": page,
        "earlier": page - 1,
        "later": page + 1,
        "last": last,
        "count": count,
        "before": before,
        "first": before + 1,
        "until": min(count, page * ON_A_PAGE),
    }


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
    job = Job.objects.get(pk=job_id)
    reports = job.reports.select_related("person").order_by("happened_at", "id")
    hours = job_week(person.holding, job, now_at(person.holding))
    typed = request.session.pop(TYPED, {})
    return render(
        request,
        "jobs/job.html",
        {
            "job": answer,
            "reports": reports,
            "typed": typed if typed.get("job") == job_id else {},
            "hours": hours,
            "picture": mark_safe(week(hours.shown, in_page=True)) if hours is not None and hours.shown else "",
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
    back = refused_to = _back(request)
    if request.POST.get("back") == "job":
        refused_to = reverse("job", args=[job_id])
    form = ReportForm(request.POST)
    if not form.is_valid():
        _keep_typed(request, job_id)
        return _refused(request, _first_error(form), refused_to)
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
        _keep_typed(request, job_id)
        return _refused(request, error.sentence, refused_to)
    messages.success(request, "Stored. Thank you." if not receipt["clashes"] else " ".join(receipt["clashes"]))
    return redirect(f"{back}{'&' if '?' in back else '?'}after={receipt['facts_version']}")


@require_POST
@person_required(Role.MANAGER)
def set_limit_aside(request: PersonRequest, job_id: int) -> HttpResponse:
    """Set a limit of a job's hours aside for a week: advice by a tap, others with a written reason."""
    person = _person(request)
    back, now = reverse("job", args=[job_id]), now_at(person.holding)
    form = AsideForm(request.POST)
    if not form.is_valid():
        return _refused(request, _first_error(form), back)
    zone = person.holding.zone
    override = Override(
        holding=person.holding,
        job_id=job_id,
        rule=form.cleaned_data["rule"],
        reason=form.cleaned_data["reason"],
        until=instant(day_end(zone, local_day(zone, floor_minute(now)) + timedelta(days=7))),
    )
    try:
        set_aside(override=override, by=person, now=now)
    except NotFound as error:
        raise Http404(error.sentence) from error
    except Refused as error:
        return _refused(request, error.sentence, back)
    walk_holding(person.holding_id)
    messages.success(request, "Set aside for a week; the log remembers it.")
    return redirect(back)


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


def _keep_typed(request: PersonRequest, job_id: int) -> None:
    """What was typed into a refused report, for the job's page to show again once."""
    request.session[TYPED] = {"job": job_id, **{name: request.POST.get(name, "")[:2000] for name in ("acres", "note")}}


def _first_error(form: Any) -> str:
    return str(next(iter(form.errors.values()))[0])


def _refused(request: PersonRequest, sentence: str, back: str) -> HttpResponse:
    messages.error(request, f"{sentence} Nothing was stored.")
    return redirect(back)
