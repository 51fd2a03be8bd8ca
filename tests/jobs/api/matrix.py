"""The rows of this room in the matrix of routes, and the things they are about."""

import uuid
from datetime import UTC, date, datetime, timedelta
from typing import Any

from jobs.models import (
    Assignment,
    Branch,
    Job,
    JobState,
    Need,
    NeedKind,
    Observation,
    Override,
    Prerequisite,
    Reckoning,
    Report,
    Round,
    Season,
    Sequence,
    Sheet,
)
from plots.models import Label, Material, Plot, Property
from tests.core.matrix import ALL, MANAGERS, OTHERS, WORKERS, Page, Row, by_id, fact, looked_at
from tests.core.world import Side
from tests.jobs.api.documents import strip_of_oats

LOOKERS = frozenset({"manager", "viewer"})
OTHER_CREW = frozenset({"other_crew"})
"""The job of a side is the first crew's, and so does not exist for a helper of another."""

NOW = datetime(2026, 4, 1, 17, tzinfo=UTC)
MACHINE_HOLD = {
    "kind": "machine",
    "rule": "machine:1",
    "clears": {"how": "report", "report": "machine"},
    "inputs": {"kind": "tractor", "machine": 1, "state": "down"},
}

BURN_PLAN = {"burn_out_min": 60, "mop_up_min": 60, "briefing_min": 15, "least_crew": 3}


def new_report(side: Side) -> dict[str, Any]:
    return {
        "client_id": "6f7c0f0e-5f0b-4a52-8a43-8b8d0f3b2a11",
        "job": side.id("new_job"),
        "kind": "start",
        "happened_at": "2026-04-01T12:00:00-05:00",
    }


def new_job(side: Side) -> dict[str, Any]:
    return {
        "plot": side.id("plot"),
        "operation": "till",
        "title": "Till once more",
        "duration_min": 90,
        "round": side.id("round"),
    }


def application(side: Side) -> dict[str, Any]:
    return {"plot": side.id("plot"), "year": 2028, "materials": {"oat seed": side.id("material")}}


def next_year(side: Side) -> dict[str, Any]:
    return {"from_year": 2026, "to_year": 2027, "swaps": [{"from": side.id("field"), "to": side.id("plot")}]}


ROWS: dict[str, Row] = {
    "next-jobs": Row({"GET": ALL}, report=frozenset({"GET"})),
    "progress": Row({"GET": ALL}),
    "inbound": Row(
        {"POST": ALL},
        anybody=True,
        body={"POST": lambda side: {"id": "1", "address": "helper@example.org", "text": "DONE"}},
        answers={"POST": 401},
    ),
    "job-list": Row(
        {"GET": ALL, "POST": MANAGERS},
        "job",
        body={"POST": new_job},
        crossing=frozenset({"POST"}),
        hidden=OTHER_CREW,
    ),
    "job-detail": Row(
        {"GET": ALL, "PATCH": MANAGERS},
        "job",
        by_id("job"),
        body={"PATCH": lambda side: {"deadline": "2026-05-20"}},
        hidden=OTHER_CREW,
    ),
    "job-calculators": Row({"GET": ALL}, "job", by_id("job"), hidden=OTHER_CREW, report=frozenset({"GET"})),
    "job-call-off": Row({"POST": MANAGERS}, "job", by_id("job"), body={"POST": lambda side: {}}, answers={"POST": 200}),
    "job-signs": Row(
        {"POST": MANAGERS}, "spray", by_id("spray"), body={"POST": lambda side: {}}, answers={"POST": 200}
    ),
    "job-why": Row({"GET": ALL}, "job", by_id("job"), hidden=OTHER_CREW),
    "job-ignition": Row({"GET": ALL}, "burn", by_id("burn")),
    "job-burn-plan": Row(
        {"POST": MANAGERS},
        "burn",
        by_id("burn"),
        body={"POST": lambda side: BURN_PLAN},
        answers={"POST": 200},
    ),
    "job-split": Row(
        {"POST": MANAGERS},
        "job",
        by_id("job"),
        body={"POST": lambda side: {"may_split": True, "least_piece_min": 45}},
        answers={"POST": 200},
    ),
    "job-windows": Row({"GET": ALL}, "job", by_id("job"), hidden=OTHER_CREW),
    "job-chance": Row({"GET": ALL}, "job", by_id("job"), hidden=OTHER_CREW),
    "plot-chance": Row({"GET": LOOKERS}, "field", by_id("field")),
    "plot-degree-days": Row({"GET": ALL}, "field", by_id("field")),
    "plot-growth": Row({"GET": LOOKERS}, "field", by_id("field")),
    "plot-replant": Row({"GET": LOOKERS}, "field", by_id("field")),
    "sequence-list": Row(
        {"GET": ALL, "POST": MANAGERS},
        "sequence",
        body={"POST": lambda side: {"document": strip_of_oats()}},
        quiet=frozenset({"POST"}),
    ),
    "sequence-detail": Row(
        {"GET": ALL, "DELETE": MANAGERS}, "sequence", by_id("sequence"), quiet=frozenset({"DELETE"})
    ),
    "sequence-apply": Row({"POST": MANAGERS}, "sequence", by_id("sequence"), body={"POST": application}),
    "season-list": Row({"GET": LOOKERS}, "season"),
    "season-detail": Row({"GET": LOOKERS}, "season", by_id("season")),
    "season-call-off": Row(
        {"POST": MANAGERS}, "season", by_id("season"), body={"POST": lambda side: {}}, answers={"POST": 200}
    ),
    "season-withdraw": Row(
        {"POST": MANAGERS}, "new_season", by_id("new_season"), body={"POST": lambda side: {}}, answers={"POST": 204}
    ),
    "season-roll-over": Row({"POST": MANAGERS}, body={"POST": next_year}, crossing=frozenset({"POST"})),
    "branch-list": Row({"GET": LOOKERS}, "branch"),
    "branch-detail": Row(
        {"GET": LOOKERS, "PATCH": MANAGERS},
        "branch",
        by_id("branch"),
        body={"PATCH": lambda side: {"called_off": True}},
    ),
    **fact(
        "prerequisite",
        lambda side: {"predecessor": side.id("new_job"), "successor": side.id("third_job"), "min_amount": 2},
        {"min_amount": 3.0},
        reads=LOOKERS,
    ),
    **fact(
        "need",
        lambda side: {"job": side.id("job"), "kind": "machine", "name": "tractor", "machine": side.id("machine")},
        {"rate_per_acre": 90.0},
        reads=LOOKERS,
    ),
    **fact(
        "sheet",
        lambda side: {"job": side.id("new_job"), "purpose": "weeds", "boss": side.helper.pk},
        {"contact": "Dispatch, by radio"},
        reads=LOOKERS,
    ),
    **fact(
        "round", lambda side: {"operation": "spray", "label": "Spring round"}, {"label": "All of it"}, crosses=False
    ),
    "assignment-list": Row(
        {"GET": ALL, "POST": MANAGERS},
        "assignment",
        body={"POST": lambda side: {"job": side.id("new_job"), "person": side.helper.pk, "day": "2026-04-04"}},
        crossing=frozenset({"POST"}),
        hidden=OTHER_CREW,
    ),
    "assignment-detail": Row({"GET": ALL, "DELETE": MANAGERS}, "assignment", by_id("assignment"), hidden=OTHER_CREW),
    "report-list": Row(
        {"GET": ALL, "POST": WORKERS},
        "report",
        body={"POST": new_report},
        crossing=frozenset({"POST"}),
        hidden=OTHERS,
        report=frozenset({"GET", "POST"}),
    ),
    "report-detail": Row({"GET": ALL}, "report", by_id("report"), hidden=OTHERS, report=frozenset({"GET", "POST"})),
    "override-list": Row(
        {"GET": LOOKERS, "POST": MANAGERS},
        "override",
        body={"POST": lambda side: {"job": side.id("job"), "rule": "machine", "reason": "The neighbour lends one."}},
        crossing=frozenset({"POST"}),
    ),
    "override-detail": Row(
        {"GET": LOOKERS, "PATCH": MANAGERS},
        "override",
        by_id("override"),
        body={"PATCH": lambda side: {"until": "2026-04-09T00:00:00Z"}},
    ),
    **looked_at("observation"),
}


def job_of(side: Side) -> dict[str, Any]:
    return {"job_id": side.id("job")}


PAGES: dict[str, Page] = {
    "next": Page(answers={"viewer": 302}),
    "work": Page(),
    "job": Page(url=job_of, hidden=OTHER_CREW),
    "chance": Page(url=job_of, hidden=OTHER_CREW),
    "job-amounts": Page(url=job_of, hidden=OTHER_CREW),
    "calculators": Page(),
    "calculator": Page(url=lambda side: {"key": "machine-hours"}, anybody=302),
    "plot": Page(roles=LOOKERS, url=lambda side: {"plot_id": side.id("field")}),
    "report": Page(
        roles=WORKERS,
        form=lambda own: {"client_id": str(uuid.uuid4()), "kind": "start"},
        url=job_of,
        hidden=OTHER_CREW,
        inside=302,
    ),
    "assign": Page(
        roles=MANAGERS, form=lambda own: {"to": f"person:{own.helper.pk}", "back": "work"}, url=job_of, inside=302
    ),
    "set-aside": Page(roles=MANAGERS, form=lambda own: {"rule": "mow_heat"}, url=job_of, inside=302),
    "end-assignment": Page(
        roles=MANAGERS,
        form=lambda own: {"back": "work"},
        url=lambda side: {"assignment_id": side.id("assignment")},
        inside=302,
    ),
}


def grow(side: Side) -> None:
    """Add one thing of each kind of this room to a side, under the names that `ROWS` use.

    The job is the first crew's; two more are nobody's, at the property that this crew looks after."""
    here, things = {"holding": side.holding}, side.things

    def add(key: str, row: Any) -> Any:
        row.save()
        things[key] = row
        return row

    def job(key: str, plot: Plot, **fields: Any) -> Job:
        row = add(key, Job(**here, plot=plot, operation="till", title=key, duration_min=60, acres=1.0, **fields))
        Job.objects.filter(pk=row.pk).update(component=row.pk)
        return row

    far = add("far_property", Property(**here, name="Far", latitude=40.4, longitude=-91.4, zone="America/Chicago"))
    field = add("field", Plot(**here, property=far, name="Field", acres_typed=3.0))
    near = add("near_plot", Plot(**here, property=things["property"], name="Near", acres_typed=1.0))
    document = strip_of_oats()
    sequence = add("sequence", Sequence(**here, key=document["key"], name=document["name"], document=document))
    days = {"first_day": date(2026, 4, 1), "last_day": date(2026, 6, 30)}
    season = add("season", Season(**here, plot=field, sequence=sequence, label="Oat strip 2026", year=2026, **days))
    first = job("job", field, season=season, **days)
    add("new_season", Season(**here, plot=field, sequence=sequence, label="Oat strip by mistake", year=2026, **days))
    reckon(first, state=JobState.HELD, holds=[MACHINE_HOLD])
    new, third = job("new_job", near), job("third_job", near)
    reckon(new, state=JobState.OPEN)
    reckon(third, state=JobState.OPEN)
    spray = add("spray", Job(**here, plot=near, operation="spray", title="Spray", duration_min=60, acres=1.0))
    Job.objects.filter(pk=spray.pk).update(component=spray.pk)
    reckon(spray, state=JobState.OPEN)
    plan = {"burn_plan": BURN_PLAN}
    burn = add("burn", Job(**here, plot=near, operation="burn", title="Burn", duration_min=60, details=plan))
    Job.objects.filter(pk=burn.pk).update(component=burn.pk)
    reckon(burn, state=JobState.OPEN)
    drum = add("drum", Material(**here, name="Drum", kind="herbicide", unit="gal", active="dicamba"))
    add("drum_label", Label(**here, material=drum, entry_hours=20.0))
    Need.objects.create(**here, job=spray, kind=NeedKind.MATERIAL, name="herbicide", material=drum)
    add("round", Round(**here, operation="till", label="First round"))
    add("branch", Branch(**here, season=season, key="either", name="Either way"))
    add("prerequisite", Prerequisite(**here, predecessor=first, successor=new, min_amount=1))
    Job.objects.filter(pk=new.pk).update(component=first.pk)
    add("sheet", Sheet(**here, job=first, purpose="weeds"))
    add("need", Need(**here, job=first, kind=NeedKind.MATERIAL, name="oat seed", material=things["material"]))
    add("assignment", Assignment(**here, job=first, crew=things["crew"]))
    number = uuid.UUID("6f7c0f0e-5f0b-4a52-8a43-8b8d0f3b2a10")
    times = {"happened_at": NOW, "received_at": NOW}
    about = {"job": first, "plot": field, "kind": "note", "note": "Dry.", "body_sha256": "0" * 64}
    add("report", Report(**here, person=side.helper, client_id=number, **about, **times))
    add("override", Override(**here, job=first, rule="machine", reason="Lent out.", person=side.manager, at=NOW))
    add("observation", Observation(**here, plot=field, season=season, kind="emerged", at=NOW))


def reckon(job: Job, *, state: str, **fields: Any) -> Reckoning:
    """A reckoning as a walk would store it, for tests that need none to run."""
    standard = {"earliest_start": NOW - timedelta(days=1), "acres_left": job.acres, "changed_at": NOW}
    return Reckoning.objects.create(holding=job.holding, job=job, state=state, **(standard | fields))
