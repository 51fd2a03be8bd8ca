"""Store what somebody saw or did, once and for ever, with what follows from it."""

from __future__ import annotations

import hashlib
import uuid
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

import orjson
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction

from core.errors import NotAllowed, NotFound, Refused
from core.models import Graph, Person, Role
from core.services.facts import lock_graph, touch
from core.services.rows import log, sentence_of
from jobs.models import Job, Need, NeedKind, Observation, Prerequisite, Report, ReportKind
from jobs.reference import reference
from jobs.selectors.facts import NOT_YET, WASHED
from jobs.selectors.held import held_once
from jobs.selectors.visible import may_report, visible_jobs
from jobs.services.breakdowns import apply, weigh
from plots.models import Lot, Plot, StockMove

AHEAD = timedelta(minutes=10)
"""A happening later than its receipt by more than this is set to the receipt and marked."""

OUT_OF_SIGHT = (
    "You see no such job: it is given to others, at a property that your crews do not look after, or not in the "
    "holding. Ask the manager."
)
"""One answer for all three: which of them it is would tell what else there is."""

TOLD_OF_WORK = (ReportKind.START, ReportKind.DONE, ReportKind.COULD_NOT, ReportKind.SKIPPED)
"""Kinds that do not fit with a job that was called off or that somebody else has done."""


@dataclass(frozen=True, slots=True)
class NewReport:
    """A report as it comes in. `client_id` is the id that the sender made; `happened_at` is aware."""

    client_id: uuid.UUID
    kind: str
    happened_at: datetime
    job: int | None = None
    plot: int | None = None
    outcome: str = ""
    acres: float | None = None
    reason: str = ""
    done_by: str = ""
    note: str = ""
    day_only: bool = False
    corrects: int | None = None
    payload: Mapping[str, Any] = field(default_factory=dict)

    def sha256(self) -> str:
        """Hash of the content: the same id with another content is refused."""
        content = {name: str(getattr(self, name)) for name in self.__dataclass_fields__ if name != "payload"}
        body = orjson.dumps([content, dict(self.payload)], option=orjson.OPT_SORT_KEYS)
        return hashlib.sha256(body).hexdigest()


def store_report(*, person: Person, new: NewReport, now: datetime) -> dict[str, Any]:
    """Store a report and return its receipt; the same report again returns the same receipt and stores nothing.

    The receipt is {"id", "client_id", "facts_version", "clashes": [sentence, ...], "clock_set_back"} and never
    changes. `now` is the holding's clock.

    Raises:
        NotFound: the job or plot is not in the person's holding; the person neither sees the job nor ever held it; a
            helper has no job to see on the plot.
        NotAllowed: the person only looks, or no manager corrects what another said.
        Refused: same id with another content (code "other_content"), or absurd figures.
    """
    body = new.sha256()
    with transaction.atomic():
        lock_graph(person.holding_id)
        known = Report.objects.filter(person=person, client_id=new.client_id).first()
        if known is not None:
            if known.body_sha256 != body:
                raise Refused(
                    "A report with this id is stored already and says something else. Give the new report a new id.",
                    code="other_content",
                    field="client_id",
                    report=known.pk,
                )
            return _receipt(known)
        return _store(person, new, body, now)


def _store(person: Person, new: NewReport, body: str, now: datetime) -> dict[str, Any]:
    if person.role == Role.VIEWER:
        raise NotAllowed("A viewer looks and reports nothing.")
    job = _job(person, new)
    plot = job.plot if job is not None else _plot(person, new)
    happened, claimed = new.happened_at, None
    if happened > now + AHEAD:
        happened, claimed = now, new.happened_at
    _check(person.holding_id, new, job)
    clashes = _clashes(person, job, new)
    corrects = _last_word(new.corrects)
    _check_correction(person, new.corrects, corrects)
    if corrects != new.corrects:
        clashes.append("That report was corrected before. This one takes the place of the last correction.")
    version = Graph.objects.values_list("facts_version", flat=True).get(pk=person.holding_id) + 1
    report = Report(
        holding_id=person.holding_id,
        person=person,
        client_id=new.client_id,
        job=job,
        plot=plot,
        kind=new.kind,
        outcome=new.outcome,
        acres=new.acres,
        reason=new.reason,
        done_by=new.done_by,
        note=new.note,
        happened_at=happened,
        day_only=new.day_only,
        claimed_at=claimed,
        received_at=now,
        corrects_id=corrects,
        payload=dict(new.payload),
        body_sha256=body,
    )
    breakdown = weigh(report, job)
    clashes += breakdown.clashes
    report.receipt = {
        "client_id": str(new.client_id),
        "facts_version": version,
        "clashes": clashes,
        "clock_set_back": claimed is not None,
    }
    try:
        report.full_clean(exclude=["holding", "person", "job", "plot", "corrects"])
        report.save()
    except (ValidationError, IntegrityError) as error:
        name, sentence = sentence_of(error)
        raise Refused(sentence, code="invalid", field=name) from error
    keys = report.fact_keys() | _follow(report, job) | apply(breakdown, report)
    if report.corrects_id is not None:  # what the other report had seen stood for the whole plot
        keys.add(f"plot:{report.plot_id}")
    log(holding_id=person.holding_id, by=person, verb="reported", row=report, change={"kind": new.kind})
    touch(person.holding_id, keys)
    return _receipt(report)


def _receipt(report: Report) -> dict[str, Any]:
    """In a fixed order: a database may give the stored keys back in another, and a replay is the same to the byte."""
    return {"id": report.pk, **dict(sorted(report.receipt.items()))}


def _job(person: Person, new: NewReport) -> Job | None:
    if new.job is None:
        return None
    job = (
        Job.objects.select_related("plot__property", "season").filter(pk=new.job, holding_id=person.holding_id).first()
    )
    if job is None or (not may_report(person, job) and not held_once(person, job)):
        raise NotFound(OUT_OF_SIGHT if person.role == Role.HELPER else "This job is not in the holding.", field="job")
    return job


def _plot(person: Person, new: NewReport) -> Plot:
    plot = Plot.objects.filter(pk=new.plot or 0, holding_id=person.holding_id).first()
    helps = person.role == Role.HELPER
    if plot is None or (helps and not visible_jobs(person).filter(plot=plot).exists()):
        raise NotFound("Say which job or which plot the report is about.", field="plot")
    return plot


def _last_word(corrects: int | None) -> int | None:
    """The report that now stands in the place of this one: each report is replaced by one other at most."""
    while corrects is not None:
        later = Report.objects.filter(corrects=corrects).values_list("pk", flat=True).first()
        if later is None:
            break
        corrects = later
    return corrects


def _check(holding_id: int, new: NewReport, job: Job | None) -> None:
    if new.kind not in ReportKind.values:
        raise Refused(f"'{new.kind}' is no report. Give one of: {', '.join(ReportKind.values)}.", field="kind")
    if job is None and new.kind not in (ReportKind.SEEN, ReportKind.NOTE, ReportKind.WITHDRAWN):
        raise Refused("Say which job it is about.", field="job")
    done = job is not None and new.kind == ReportKind.DONE and job.outcomes
    if job is not None and done and new.outcome and new.outcome not in job.outcomes:
        raise Refused(
            f"'{new.outcome}' is no outcome of this job. Give one of: {', '.join(job.outcomes)}.", field="outcome"
        )
    if job is not None and done and len(job.outcomes) > 1 and not new.outcome:
        raise Refused(f"Say how it came out: {', '.join(job.outcomes)}.", field="outcome")
    if new.acres is not None and job is not None and job.acres is not None and new.acres > job.acres * 1.5:
        raise Refused(
            f"{new.acres:g} acres is more than this job has ({job.acres:g}). Give acres from above 0 to {job.acres:g}.",
            field="acres",
        )
    _check_seen(holding_id, new, job)
    corrected = Report.objects.filter(holding_id=holding_id, job=job)
    if job is None:
        corrected = corrected.filter(plot=new.plot)
    if new.corrects is not None and not corrected.filter(pk=new.corrects).exists():
        raise NotFound("The report to be corrected is not one of this job.", field="corrects")
    if new.kind == ReportKind.WITHDRAWN and new.corrects is None:
        raise Refused("Say which report is withdrawn.", field="corrects")


def _check_correction(person: Person, corrects: int | None, last: int | None) -> None:
    """A helper corrects or withdraws what is their own and was not put right by somebody else; a manager anything."""
    if corrects is None or last is None or person.role == Role.MANAGER:
        return
    if Report.objects.filter(pk=corrects).exclude(person=person).exists():
        raise NotAllowed("You correct or withdraw your own reports only. Ask the manager to put this one right.")
    if Report.objects.filter(pk=last).exclude(person=person).exists():
        raise NotAllowed("Somebody else has put this report right since. Ask the manager if that is wrong too.")


def _check_seen(holding_id: int, new: NewReport, job: Job | None) -> None:
    """What was seen is something that a wait, a sequence or the reference data knows; others would close nothing."""
    kinds = set(reference().observations)
    if new.kind != ReportKind.SEEN or not new.outcome or new.outcome in kinds:
        return
    confirms = Prerequisite.objects.filter(holding_id=holding_id).exclude(confirm="").values_list("confirm", flat=True)
    kinds |= set(confirms.distinct()) | set(job.details.get("observes", {}).values() if job is not None else ())
    kinds |= {NOT_YET + kind for kind in kinds if not kind.startswith(NOT_YET)}
    if new.outcome not in kinds:
        known = sorted(kind for kind in kinds if not kind.startswith(NOT_YET))
        raise Refused(
            f"'{new.outcome}' is nothing that can be seen here. Give one of: {', '.join(known)};"
            f" with '{NOT_YET}' before it for what is not so yet. Anything else is a note.",
            code="not_known",
            field="outcome",
            kinds=known,
        )


def _clashes(person: Person, job: Job | None, new: NewReport) -> list[str]:
    """What does not fit together, in sentences; stored all the same, for what happened is a fact."""
    if job is None or new.kind not in TOLD_OF_WORK or new.corrects is not None:
        return []
    found = []
    if _called_off(job):
        found.append("This job was called off. The report is kept and shown beside that.")
    replaced = Report.objects.filter(job=job, corrects__isnull=False).values("corrects")
    others = Report.objects.filter(job=job, kind=ReportKind.DONE, acres__isnull=True).exclude(person=person)
    other = others.exclude(pk__in=replaced).select_related("person").order_by("id").first()
    if other is not None:
        at = other.happened_at
        found.append(f"{other.person.name} reported this job done on {at:%a} {at.day} {at:%b}. Both are kept.")
    return found


def _called_off(job: Job) -> bool:
    """By itself, with its season, or with a branch that it is in."""
    if job.called_off_at is not None or (job.season is not None and job.season.called_off_at is not None):
        return True
    branch = job.branch
    while branch is not None and branch.called_off_at is None:
        branch = branch.parent
    return branch is not None


def _follow(report: Report, job: Job | None) -> set[str]:
    """What a report means beside its job: an observation, stock used. Returns the keys it touched."""
    keys: set[str] = set()
    seen = {report.outcome} if report.kind == ReportKind.SEEN and report.outcome else set()
    if job is not None and report.kind == ReportKind.DONE:
        kind = job.details.get("observes", {}).get(report.outcome)
        seen |= {kind} if kind else set()
    for kind in sorted(seen):
        Observation.objects.create(
            holding_id=report.holding_id,
            plot_id=report.plot_id,
            season_id=job.season_id if job is not None else None,
            kind=kind,
            at=report.happened_at,
            value=report.payload.get("value"),
            report=report,
        )
        keys.add(f"plot:{report.plot_id}")
        if kind == WASHED:
            keys.add("sprayers")
    if report.corrects_id is not None:
        keys |= _give_back(report)
        if Report.objects.filter(pk=report.corrects_id, outcome=WASHED).exists():
            keys.add("sprayers")
    if job is not None and report.kind in (ReportKind.DONE, ReportKind.COULD_NOT):
        keys |= _use_up(report, job)
    return keys


def _give_back(report: Report) -> set[str]:
    """Put back into stock what the corrected or withdrawn report took."""
    keys = set()
    for move in StockMove.objects.filter(report_id=report.corrects_id).order_by("id"):
        StockMove.objects.create(
            holding_id=report.holding_id,
            material_id=move.material_id,
            lot_id=move.lot_id,
            quantity=-move.quantity,
            at=report.happened_at,
            note=f"taken back with report {report.corrects_id}",
        )
        keys.add(f"material:{move.material_id}")
    return keys


def _use_up(report: Report, job: Job) -> set[str]:
    """Take what the done acres used off the stock; without a figure, what the reports that stand left of the job."""
    keys: set[str] = set()
    if report.kind == ReportKind.COULD_NOT and report.acres is None:
        return keys
    replaced = Report.objects.filter(job=job, corrects__isnull=False).values("corrects")
    earlier = Report.objects.filter(job=job, kind__in=(ReportKind.DONE, ReportKind.COULD_NOT), pk__lt=report.pk)
    acres = report.acres
    if acres is None:
        acres = max(0.0, (job.acres or 0.0) - sum(_acres_of(job, each) for each in earlier.exclude(pk__in=replaced)))
    share = acres / job.acres if job.acres else float(not earlier.exclude(pk__in=replaced).exists())
    used: dict[int, float] = {}  # a material that two needs name is one movement
    for need in Need.objects.filter(job=job, kind=NeedKind.MATERIAL, material__isnull=False).order_by("id"):
        took = need.rate_per_acre * acres if need.rate_per_acre else (need.amount or 0.0) * share
        used[need.material_id or 0] = used.get(need.material_id or 0, 0.0) + took
    lot = Lot.objects.filter(pk=report.payload.get("lot") or 0, holding_id=report.holding_id).first()
    for material, amount in used.items():
        if amount > 0:
            StockMove.objects.create(
                holding_id=report.holding_id,
                material_id=material,
                lot=lot if lot is not None and lot.material_id == material else None,
                quantity=-amount,
                at=report.happened_at,
                report_id=report.pk,
            )
            keys.add(f"material:{material}")
    return keys


def _acres_of(job: Job, report: Report) -> float:
    """What a report says was done: the whole job where it is done without a figure."""
    if report.acres is None and report.kind == ReportKind.DONE:
        return job.acres or 0.0
    return report.acres or 0.0
