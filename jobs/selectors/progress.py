"""How far the work is: jobs and acres by property, plot and sequence, with the smallest slack."""

from __future__ import annotations

from typing import Any

from django.db.models import Count, Min, Q, Sum

from core.models import Person
from jobs.models import JobState
from jobs.selectors.visible import visible_jobs

GROUPS = {
    "property": ("plot__property_id", "plot__property__name"),
    "plot": ("plot_id", "plot__name"),
    "sequence": ("season__sequence__key", "season__sequence__name"),
}
ASIDE = Q(reckoning__state=JobState.LAPSED, reckoning__detail__has_key="aside")
"""Too late, but only as one of several ways: another way to the same end stands in the plan."""
_COUNTED = ~Q(reckoning__state__in=(JobState.CALLED_OFF, JobState.NOT_CALLED_FOR)) & ~ASIDE
_WAITING = Q(reckoning__state__in=(JobState.OPEN, JobState.HELD, JobState.UNDER_WAY))


def progress(*, person: Person, by: str = "property", year: int | None = None) -> list[dict[str, Any]]:
    """One row for each property, plot or sequence: jobs by state, acres done and left, smallest slack in days.

    `by` is one of GROUPS. Acres are worked acres: a plot sprayed and planted counts twice. The smallest slack is that
    of the jobs still to do that are not too late. A way that is too late while another to the same end can be met is
    not counted. One query, counted by the database."""
    key, name = GROUPS[by]
    jobs = visible_jobs(person).filter(reckoning__isnull=False)
    if year is not None:
        jobs = jobs.filter(season__year=year)
    states = {state: Count("pk", filter=Q(reckoning__state=state) & ~ASIDE) for state in JobState.values}
    rows = (
        jobs.order_by()
        .values(key)
        .annotate(
            called=Min(name),
            jobs=Count("pk", filter=_COUNTED),
            done_acres=Sum("reckoning__acres_done", filter=_COUNTED),
            all_acres=Sum("acres", filter=_COUNTED),
            slack=Min("reckoning__slack_min", filter=_WAITING),
            **{f"in_{state}": count for state, count in states.items()},
        )
    )
    found = [_row(row[key], row) for row in rows]
    return sorted(found, key=lambda row: (row["name"], str(row["id"])))


def _row(group: Any, row: dict[str, Any]) -> dict[str, Any]:
    done = row["done_acres"] or 0.0
    return {
        "id": group,
        "name": row["called"] or "single jobs",
        "jobs": row["jobs"],
        "states": {state: row[f"in_{state}"] for state in JobState.values},
        "acres_done": round(done, 2),
        "acres_left": round(max(0.0, (row["all_acres"] or 0.0) - done), 2),
        "smallest_slack_days": None if row["slack"] is None else row["slack"] // 1440,
    }
