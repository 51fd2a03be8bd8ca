"""How far the work is: jobs and acres by property, plot and sequence, with the smallest slack."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from typing import Any

from core.models import Person
from jobs.models import JobState
from jobs.selectors.visible import visible_jobs

GROUPS = {
    "property": ("plot__property_id", "plot__property__name"),
    "plot": ("plot_id", "plot__name"),
    "sequence": ("season__sequence__key", "season__sequence__name"),
}
COUNTED = tuple(JobState.values)


def progress(*, person: Person, by: str = "property", year: int | None = None) -> list[dict[str, Any]]:
    """One row for each property, plot or sequence: jobs by state, acres done and left, smallest slack in days.

    `by` is one of GROUPS. Acres are worked acres: a plot sprayed and planted counts twice. The smallest slack is that
    of the jobs still to do that are not too late. A way that is too late while another to the same end can be met is
    not counted."""
    key, name = GROUPS[by]
    jobs = visible_jobs(person).filter(reckoning__isnull=False)
    if year is not None:
        jobs = jobs.filter(season__year=year)
    columns = (
        key, name, "acres", "reckoning__state", "reckoning__slack_min", "reckoning__acres_done",
        "reckoning__detail__aside",
    )  # fmt: skip
    groups: dict[Any, list[tuple[Any, ...]]] = defaultdict(list)
    for row in jobs.order_by("id").values_list(*columns):
        groups[row[0]].append(row)
    found = [_row(group, rows) for group, rows in groups.items()]
    return sorted(found, key=lambda row: (row["name"], str(row["id"])))


def _row(group: Any, rows: Iterable[tuple[Any, ...]]) -> dict[str, Any]:
    rows = list(rows)
    named = rows[0][1] or "single jobs"
    rows = [row for row in rows if not (row[3] == JobState.LAPSED and row[6])]
    states = {state: sum(1 for row in rows if row[3] == state) for state in COUNTED}
    counted = [row for row in rows if row[3] not in (JobState.CALLED_OFF, JobState.NOT_CALLED_FOR)]
    done = sum(row[5] or 0.0 for row in counted)
    whole = sum(row[2] or 0.0 for row in counted)
    waiting = (JobState.OPEN, JobState.HELD, JobState.UNDER_WAY)
    slacks = [row[4] for row in counted if row[3] in waiting and row[4] is not None]
    return {
        "id": group,
        "name": named,
        "jobs": len(counted),
        "states": states,
        "acres_done": round(done, 2),
        "acres_left": round(max(0.0, whole - done), 2),
        "smallest_slack_days": min(slacks) // 1440 if slacks else None,
    }
