"""What a chosen spray closes on its plot afterwards: said when the material is chosen, not when it is too late."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from datetime import date, timedelta
from typing import Any

from core.models import Holding
from jobs.law.data import CROPS_SOWN, SPRAYS, LabelFact, crop_name
from jobs.models import Branch, Job, JobState, Need, Season
from jobs.selectors.facts.crops import crop_sown
from jobs.selectors.facts.law_rows import label_facts
from jobs.sequences.options import OTHER

OVER = (JobState.DONE, JobState.CALLED_OFF)


def closes(holding: Holding, needs: Iterable[Need]) -> dict[int, list[str]]:
    """By need of a spray that is not over, in sentences: ways and crops on the plot that its material closes, or keeps
    waiting. A fixed number of queries; needs of other work close nothing."""
    sprays = [
        need
        for need in needs
        if need.material_id is not None and need.job.operation in SPRAYS and need.job.called_off_at is None
    ]
    if not sprays:
        return {}
    labels = label_facts(holding.pk, {need.material_id for need in sprays if need.material_id is not None})
    plots = {need.job.plot_id for need in sprays}
    followers, ways = _followers(holding, plots), _ways(holding, plots)
    crops = dict(Season.objects.filter(holding=holding, plot__in=plots).values_list("pk", "sequence__document__crop"))
    found = {}
    for need in sprays:
        label = labels.get(need.material_id or 0)
        if label is None:
            continue
        said = [*_closed_ways(label, ways[need.job.plot_id], need.job)]
        said += _kept_waiting(label, followers[need.job.plot_id], need.job, crops)
        if said:
            found[need.pk] = list(dict.fromkeys(said))
    return found


def _followers(holding: Holding, plots: Iterable[int]) -> dict[int, list[Job]]:
    """By plot the sowings that are still to come, nearest season first."""
    rows = Job.objects.filter(holding=holding, plot__in=sorted(plots), operation__in=CROPS_SOWN, called_off_at=None)
    rows = rows.exclude(reckoning__state__in=OVER).select_related("season", "branch").order_by("first_day", "id")
    found: dict[int, list[Job]] = defaultdict(list)
    for job in rows:
        if job.season is None or job.season.called_off_at is None:
            found[job.plot_id].append(job)
    return found


def _ways(holding: Holding, plots: Iterable[int]) -> dict[int, list[tuple[str, int | None, list[Any]]]]:
    """By plot (name, season, rules) of branches and jobs that a spray may close by its active ingredients."""
    found: dict[int, list[tuple[str, int | None, list[Any]]]] = defaultdict(list)
    branches = Branch.objects.filter(holding=holding, season__plot__in=sorted(plots), season__called_off_at=None)
    for branch in branches.filter(called_off_at=None).select_related("season").order_by("id"):
        if branch.option.get("closed_by"):
            name = f"{branch.name} ({branch.season.label})"
            found[branch.season.plot_id].append((name, branch.season_id, branch.option["closed_by"]))
    jobs = Job.objects.filter(holding=holding, plot__in=sorted(plots), details__has_key="closed_by", called_off_at=None)
    for job in jobs.exclude(reckoning__state__in=OVER).select_related("season").order_by("id"):
        name = f"{job.title} ({job.season.label})" if job.season is not None else job.title
        found[job.plot_id].append((name, job.season_id, job.details["closed_by"]))
    return found


def _closed_ways(label: LabelFact, ways: Iterable[tuple[str, int | None, list[Any]]], spray: Job) -> Iterable[str]:
    """Ways of the spray's own season that its actives close. A list without the active closes by its last row."""
    for name, season, rules in ways:
        by_active = {rule["active"].lower(): rule for rule in rules}
        for active in label.actives:
            rule = by_active.get(active) or by_active.get(OTHER)
            if season != spray.season_id or rule is None or rule.get("days") == 0:
                continue
            days, rain = rule.get("days"), rule.get("after_rain_in")
            how_long = "for this season" if days is None else f"for {days:g} days"
            counted = f", counted after a day with {rain:g} in of rain" if rain is not None else ""
            note = f" {rule['note']}" if rule.get("note") else ""
            yield f"{active.capitalize()} closes {name} {how_long}{counted}.{note} The label decides."


def _kept_waiting(
    label: LabelFact, followers: Iterable[Job], spray: Job, crops: Mapping[int, str | None]
) -> Iterable[str]:
    """Sowings on the plot that the label's own waits close or keep back, from the spray's first possible day on."""
    mine = crop_name(crops.get(spray.season_id or 0) or "")
    begins = spray.first_day or (spray.season.first_day if spray.season is not None else None)
    for job in followers:
        crop = crop_name(crop_sown(job.step, job.details.get("tags", ()), crops.get(job.season_id or 0) or ""))
        if begins is not None and job.last_day is not None and job.last_day < begins:
            continue
        own = bool(crop) and crop == mine
        wait = label.plant_back.get(crop) or (None if own else label.plant_back.get(""))
        name = f"{job.title} ({job.season.label})" if job.season is not None else job.title
        least = label.plant_back_at_least
        if wait is None and not own and (label.plant_back or least or "residual" in spray.details.get("tags", ())):
            yield f"Not known when {name} may follow {label.name}: type the label's wait for {crop or 'that crop'}."
        wait = wait.or_longer(least) if wait is not None else least
        if wait is None or (not wait.days and wait.after_rain_in is None):
            continue
        counted = f", counted after a day with {wait.after_rain_in:g} in of rain" if wait.after_rain_in else ""
        asks = f"The label of {label.name} asks for {wait.days:g} days before {crop or 'another crop'}{counted}"
        ends = _last_day(job)
        if begins is None:
            yield f"{asks}: {name} waits for it."
        elif ends is not None and begins + timedelta(days=wait.days) > ends:
            first = begins + timedelta(days=wait.days)
            yield f"{asks}. It closes {name}: not before {_told(first)}, and its last day is {_told(ends)}."
        elif job.first_day is None or _latest(spray, begins) + timedelta(days=wait.days) > job.first_day:
            yield f"{asks}: {name} waits for it."


def _last_day(job: Job) -> date | None:
    days = [day for day in (job.last_day, job.deadline, job.season.last_day if job.season is not None else None) if day]
    return min(days, default=None)


def _latest(spray: Job, begins: date) -> date:
    return spray.last_day or spray.deadline or begins


def _told(day: date) -> str:
    return f"{day:%a} {day.day} {day:%b %Y}"
