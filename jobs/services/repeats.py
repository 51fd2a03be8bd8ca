"""The next occurrence of a job that comes round again, counted from the last one done; missed ones do not pile up."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from datetime import date, timedelta
from typing import Any

from django.db import transaction
from django.db.models import Q

from core.models import Holding
from core.services.facts import lock_graph, touch
from core.services.rows import log
from jobs.amounts import amount
from jobs.minutes import floor_minute, local_day
from jobs.models import Job, JobState, Need, Prerequisite
from jobs.services.components import MOST, batched


def keep_occurrences(*, holding: Holding, ended: Collection[int], reopened: Collection[int]) -> int:
    """Keep the next occurrence of every repeating job in step with the end of the last one.

    `ended` are jobs that were done or skipped, or whose end moved; `reopened` those that no longer are. Call it in the
    transaction that stores it: each is news once, and a walk that stopped between the two would lose it.

    The next one opens `every_days` after the day on which the last was done, until the rule's day or count, and is
    finished at latest `latest_days` after it; it is tied to its branch alone, its predecessors having been met by the
    first. While nobody touched it, it moves when that day moves and goes when the last one is open again; once
    somebody did, it stays as it is and the log says so. A job of `until_done` that is done calls off what is open of
    the repeat, and calls it back when it is open again.

    Returns how many were made, moved, removed, called off or called back."""
    changed = 0
    with transaction.atomic():
        lock_graph(holding.pk)
        for job in _repeating(holding, reopened):
            changed += _withdraw_next(job)
        for job in _repeating(holding, ended):
            changed += _place_next(holding, job)
        for steps, rows in _ruled_by(holding, [*ended, *reopened]):
            changed += _end_or_resume(holding, steps, rows)
    return changed


def _repeating(holding: Holding, jobs: Collection[int]) -> list[Job]:
    found: list[Job] = []
    for some in batched(sorted(jobs), MOST):
        rows = Job.objects.filter(pk__in=some, holding=holding, repeat__isnull=False)
        found += rows.select_related("plot__property", "reckoning", "season").order_by("id")
    return found


def _occurrences(job: Job) -> Any:
    return Job.objects.filter(holding_id=job.holding_id, season=job.season, plot=job.plot, step=job.step)


def _place_next(holding: Holding, job: Job) -> int:
    """Make or move the occurrence after `job`, which ended."""
    at = job.reckoning.finished_at
    following = _occurrences(job).filter(occurrence=job.occurrence + 1).first()
    if at is None or (following is not None and "ended_by" in (following.repeat or {})):
        return 0
    day = local_day(job.plot.property.zone or holding.zone, floor_minute(at))
    dates = _dates(job, day)
    if following is None:
        return _make(job, dates) if dates is not None and _stop(job) is None else 0
    if dates is None:
        return _remove(following)
    if all(getattr(following, name) == value for name, value in dates.items()):
        return 0
    if _touched(following):
        return _keep(following, f"The last one was done on {day}; its own days were set by hand and stay.")
    for name, value in dates.items():
        setattr(following, name, value)
    following.save(update_fields=[*dates, "changed_at"])
    change = {"first_day": following.first_day, "because": f"The last one was done on {day}."}
    log(holding_id=holding.pk, by=None, verb="moved", row=following, change=change)
    touch(holding.pk, following.fact_keys())
    return 1


def _dates(job: Job, day: date) -> dict[str, Any] | None:
    """The dates of the occurrence after `job`, done on `day`; None where the rule asks for no other."""
    rule = job.repeat or {}
    first = day + timedelta(days=rule["every_days"])
    last = date.fromisoformat(rule["until"]) if rule.get("until") else job.last_day
    if (last is not None and first > last) or (rule.get("at_most") and job.occurrence >= rule["at_most"]):
        return None
    dates: dict[str, Any] = {"first_day": first, "last_day": last}
    if rule.get("latest_days"):
        latest = day + timedelta(days=rule["latest_days"])
        first_one = _occurrences(job).get(occurrence=1)
        dates |= {"deadline": first_one.deadline, "details": first_one.details}
        if first_one.deadline is None or latest < first_one.deadline:
            note = f"at most {amount(rule['latest_days'], 'days')} after the last one"
            dates |= {"deadline": latest, "details": {**first_one.details, "deadline_note": note}}
    return dates


def _make(last: Job, dates: dict[str, Any]) -> int:
    needs = list(Need.objects.filter(job=last).order_by("id"))
    job = Job.objects.get(pk=last.pk)
    job.pk, job._state.adding = None, True
    job.occurrence, job.version, job.called_off_at = last.occurrence + 1, 1, None
    job.repeat = _rule(last)
    for name, value in dates.items():
        setattr(job, name, value)
    job.save()
    if job.branch_id is None:  # a branch ties its jobs, so there the component is that of the last one
        Job.objects.filter(pk=job.pk).update(component=job.pk)
    for need in needs:
        need.pk, need.job = None, job
    Need.objects.bulk_create(needs)
    touch(job.holding_id, last.fact_keys() | job.fact_keys())
    return 1


def _rule(job: Job) -> dict[str, Any]:
    return {name: value for name, value in (job.repeat or {}).items() if name != "ended_by"}


def _withdraw_next(job: Job) -> int:
    following = _occurrences(job).filter(occurrence=job.occurrence + 1).first()
    return _remove(following) if following is not None else 0


def _remove(job: Job) -> int:
    """Take back an occurrence that nobody touched; the largest id of its component goes, so that its label stays."""
    if _touched(job):
        return _keep(job, "The one before it is open again, or is the last now; this one was touched and stays.")
    key, keys = job.pk, _occurrences(job).filter(occurrence=job.occurrence - 1).values_list("pk", flat=True)
    wake = {f"job:{other}" for other in keys}
    job.delete()
    job.pk = key
    because = "The one before it is open again, or is the last now."
    log(holding_id=job.holding_id, by=None, verb="removed", row=job, change={"because": because})
    touch(job.holding_id, wake)
    return 1


def _touched(job: Job) -> bool:
    """Somebody reported, assigned, overruled, tied, called off or edited it."""
    tied = Prerequisite.objects.filter(Q(predecessor=job) | Q(successor=job))
    return (
        job.version > 1
        or job.called_off_at is not None
        or any(rows.exists() for rows in (job.reports, job.assignments, job.overrides, tied))
    )


def _keep(job: Job, because: str) -> int:
    log(holding_id=job.holding_id, by=None, verb="kept", row=job, change={"because": because})
    return 0


def _ruled_by(holding: Holding, jobs: Sequence[int]) -> Iterable[tuple[list[str], list[Job]]]:
    """The occurrences of each repeat that one of these jobs ends or no longer ends, with the steps that end it."""
    steps: dict[int, set[str]] = {}
    for some in batched(sorted(jobs), MOST):
        rows = Job.objects.filter(pk__in=some, holding=holding, season__isnull=False)
        for season, step in rows.values_list("season_id", "step"):
            steps.setdefault(season, set()).add(step)
    families: dict[tuple[int, str], list[Job]] = {}
    for some in batched(sorted(steps), MOST):
        rows = Job.objects.filter(season__in=some, repeat__has_key="until_done")
        for job in rows.select_related("plot__property", "reckoning", "season").order_by("season_id", "occurrence"):
            if job.season_id is not None and steps[job.season_id].intersection((job.repeat or {})["until_done"]):
                families.setdefault((job.season_id, job.step), []).append(job)
    return [((rows[0].repeat or {})["until_done"], rows) for rows in families.values()]


def _stop(job: Job) -> Job | None:
    """The done job that ends the repeat of `job`, if there is one."""
    named = (job.repeat or {}).get("until_done")
    if not named or job.season_id is None:
        return None
    done = Job.objects.filter(season=job.season_id, step__in=named, reckoning__state=JobState.DONE)
    return done.select_related("reckoning").order_by("id").first()


def _end_or_resume(holding: Holding, steps: list[str], rows: list[Job]) -> int:
    stop, changed = _stop(rows[0]), 0
    for job in rows:
        marked = "ended_by" in (job.repeat or {})
        if stop is not None and job.called_off_at is None and not _has_ended(job):
            job.called_off_at = stop.reckoning.finished_at
            job.repeat = _rule(job) | {"ended_by": stop.pk}
            verb, because = "called off", f"{stop.title} is done."
        elif stop is None and marked:
            job.called_off_at, job.repeat = None, _rule(job)
            verb, because = "called back", "What ended it is open again."
        else:
            continue
        job.save(update_fields=["called_off_at", "repeat", "changed_at"])
        log(holding_id=holding.pk, by=None, verb=verb, row=job, change={"because": because})
        touch(holding.pk, job.fact_keys())
        changed += 1
    if stop is None:
        last = [job for job in rows if _has_ended(job)][-1:]
        changed += sum(_place_next(holding, job) for job in last)
    return changed


def _has_ended(job: Job) -> bool:
    """Done or skipped, or begun: what somebody is at is not called off under their hands."""
    reckoning = getattr(job, "reckoning", None)
    return reckoning is not None and (reckoning.state == JobState.UNDER_WAY or reckoning.finished_at is not None)
