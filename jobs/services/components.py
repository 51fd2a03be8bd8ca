"""Keep `Job.component`: the smallest id among all jobs tied to a job. Call these under the holding's graph lock.

Jobs are tied by prerequisites, and through branches: a branch ties its jobs to each other, to the job whose outcome
opens it, to the branch it is nested in and to its siblings in the group.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from typing import Any

from core.models import Holding
from jobs.graph.components import Tie, connected_components
from jobs.models import Branch, Job, Prerequisite

MOST = 500
"""Longest list of ids in a statement; more components than this are read as the whole holding."""

UNLABELLED = 0
"""The component of jobs that were just made; `relabel` gives them one."""


def batched(ids: list[int], size: int) -> Iterator[list[int]]:
    yield from (ids[start : start + size] for start in range(0, len(ids), size))


def merge(*, holding_id: int, first: int, second: int) -> int:
    """Two components became one: the one with the greater label takes the smaller. Returns the label."""
    label, other = sorted((first, second))
    if label != other:
        Job.objects.filter(holding_id=holding_id, component=other).update(component=label)
    return label


def relabel(*, holding_id: int, components: Collection[int] | None = None) -> set[int]:
    """Label the jobs of these components anew (of the whole holding, if none are named), and of what is tied to them.

    For whatever may part or tie many: a link that left, jobs or branches that came or changed. Linear in the jobs and
    ties that it reads, which are those of the components. Returns the labels that the jobs now have.
    """
    while True:
        if components is not None and len(components) > MOST:
            components = None
        jobs, ties = _read(holding_id, components)
        if components is None or set(jobs.values()) <= set(components):
            break
        components = {*components, *jobs.values()}
    labels = connected_components(jobs, ties)
    moved: dict[int, list[int]] = {}
    for job, label in labels.items():
        if jobs[job] != label:
            moved.setdefault(label, []).append(job)
    for label in sorted(moved):
        for some in batched(moved[label], MOST):
            Job.objects.filter(pk__in=some).update(component=label)
    return set(labels.values())


def part_after_removal(*, job: Job, origin: Any) -> None:
    """Label what is left of the component of a removed job anew, once for all that went with `origin`.

    `origin` is the row or queryset whose removal took the job along: of a job, season, plot or property. The jobs that
    go together are all gone before this is told of the first; of a whole holding nothing is left."""
    if isinstance(origin, Holding) or getattr(origin, "model", None) is Holding:
        return
    parted: set[int] = vars(origin).setdefault("_parted", set())
    if job.component not in parted:
        parted.add(job.component)
        relabel(holding_id=job.holding_id, components=[job.component])


def _read(holding_id: int, components: Collection[int] | None) -> tuple[dict[int, int], list[Tie]]:
    """(label by job, ties) of the components and of every job that is tied to one of theirs.

    Ids are handed from query to query: with the holding in the condition too, SQLite reads the whole of it instead."""
    whole = components is None
    inside = Job.objects.filter(holding_id=holding_id)
    if components is not None:
        inside = inside.filter(component__in=components)
    rows = list(inside.values_list("id", "component", "branch_id"))
    jobs = {job: label for job, label, _ in rows}

    links = set(_pairs(holding_id, None if whole else sorted(jobs)))
    branches = _branches(holding_id, None if whole else sorted(jobs), {branch for *_, branch in rows if branch})
    if not whole:
        for some in batched(sorted(branches), MOST):
            rows += Job.objects.filter(branch__in=some).values_list("id", "component", "branch_id")
        ends = {end for pair in links for end in pair} | {row[3] for row in branches.values() if row[3] is not None}
        for some in batched(sorted(ends - jobs.keys()), MOST):
            jobs.update(Job.objects.filter(pk__in=some).values_list("id", "component"))
    ties: list[Tie] = [*links]
    for job, label, branch in rows:
        if branch is not None:
            jobs[job] = label
            ties.append((job, ("branch", branch)))
    for branch, (season, group, parent, opener) in branches.items():
        own = ("branch", branch)
        if group:
            ties.append((own, ("group", season, group)))
        if parent is not None:
            ties.append((own, ("branch", parent)))
        if opener is not None:
            ties.append((own, opener))
    return jobs, ties


def _pairs(holding_id: int, jobs: list[int] | None) -> Iterator[tuple[int, int]]:
    """(predecessor, successor) of the links that start or end at these jobs, or of all of the holding's."""
    links = Prerequisite.objects.values_list("predecessor_id", "successor_id")
    if jobs is None:
        yield from links.filter(holding_id=holding_id)
    else:
        for some in batched(jobs, MOST):
            yield from links.filter(predecessor__in=some)
            yield from links.filter(successor__in=some)


def _branches(
    holding_id: int, jobs: list[int] | None, known: Collection[int]
) -> dict[int, tuple[int, str, int | None, int | None]]:
    """(season, group, parent, opener) of every branch in the seasons of these jobs' branches, which siblings and
    nested branches share."""
    rows = Branch.objects.order_by("id")
    columns = ("id", "season_id", "group", "parent_id", "opened_by_id")
    if jobs is None:
        return {pk: row for pk, *row in rows.filter(holding_id=holding_id).values_list(*columns)}
    seasons: set[int] = set()
    for some in batched(sorted(known), MOST):
        seasons.update(rows.filter(pk__in=some).values_list("season_id", flat=True))
    for some in batched(jobs, MOST):
        seasons.update(rows.filter(opened_by__in=some).values_list("season_id", flat=True))
    found = {}
    for some in batched(sorted(seasons), MOST):
        found.update({pk: row for pk, *row in rows.filter(season__in=some).values_list(*columns)})
    return found
