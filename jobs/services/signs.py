"""The signs at a sprayed plot: one job puts them up before the spray, one takes them down after the entry time."""

from __future__ import annotations

from django.db import transaction

from core.errors import Refused
from core.models import Person
from core.services.facts import lock_graph
from jobs.law.data import SPRAYS
from jobs.models import Job, LagUnit, Need, Prerequisite
from jobs.selectors.facts import POST_SIGNS
from jobs.services.links import add_links
from jobs.services.single import add_job
from plots.models import Label

UP_HOURS, DOWN_HOURS = 24.0, 72.0
"""Signs go up at most so long before the spray begins, and come down within so long of the end of the entry time
(Washington State University, tree fruit guide)."""
SOURCE = "40-cfr-170"


def add_signs(*, spray: Job, by: Person | None) -> list[Job]:
    """Add both jobs with their waits; where they are there already, nothing is added. Returns what was added.

    The entry time is the longest of the labels of the mix as typed now; nobody enters before it ends whatever the
    waits say, as the hold of the spray reads the labels anew.

    Raises:
        Refused: the job sprays nothing, or an entry time of its materials is not typed (`not_known`).
    """
    if spray.operation not in SPRAYS:
        raise Refused(f"{spray.title} is no spray, so it needs no signs.", code="invalid", field="job")
    with transaction.atomic():
        lock_graph(spray.holding_id)
        there = Prerequisite.objects.filter(successor=spray, predecessor__operation=POST_SIGNS)
        if there.exists():
            return []
        hours = _entry_hours(spray)
        up = _job(spray, POST_SIGNS, f"Put up signs: {spray.title}", by)
        down = _job(spray, "remove_signs", f"Take down signs: {spray.title}", by)
        add_links(
            holding_id=spray.holding_id,
            by=by,
            links=[
                _link(up, spray, 0.0, UP_HOURS),
                _link(spray, down, hours, hours + DOWN_HOURS),
            ],
        )
    return [up, down]


def _entry_hours(spray: Job) -> float:
    chosen = Need.objects.filter(job=spray, material__isnull=False).exclude(material__active="")
    materials = set(chosen.values_list("material_id", flat=True))
    typed = Label.objects.filter(material_id__in=materials, entry_hours__isnull=False)
    known = {pk: hours for pk, hours in typed.values_list("material_id", "entry_hours") if hours is not None}
    if not materials or materials - known.keys():
        raise Refused(
            "Type the entry time of every label of the mix first: the signs stay until it has passed.",
            code="not_known",
            field="job",
        )
    return float(max(known.values()))


def _job(spray: Job, operation: str, title: str, by: Person | None) -> Job:
    job = Job(
        holding_id=spray.holding_id,
        plot_id=spray.plot_id,
        operation=operation,
        title=title[:120],
        duration_min=20,
        hazards=["lone_work"],
    )
    return add_job(job=job, by=by, fields=("plot", "operation", "title", "duration_min", "hazards"))


def _link(first: Job, then: Job, least: float, most: float) -> Prerequisite:
    return Prerequisite(
        holding_id=first.holding_id,
        predecessor=first,
        successor=then,
        min_amount=least,
        min_unit=LagUnit.HOURS,
        max_amount=most,
        max_unit=LagUnit.HOURS,
        source=SOURCE,
        worth="published",
        max_source=SOURCE,
        max_worth="published",
    )
