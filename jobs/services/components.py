"""Keep `Job.component`: the smallest id among all jobs tied to a job. Call these under the holding's graph lock.

Jobs are tied by prerequisites, and through branches: a branch ties its jobs to each other, to the job whose outcome
opens it, to the branch it is nested in and to its siblings in the group.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator

from django.db.models import F, Q

from jobs.models import Branch, Job, Prerequisite

MOST = 500
"""Longest list of ids in a statement; more components than this are read as the whole holding."""

UNLABELLED = 0
"""The component of jobs that were just made; `relabel` gives them one."""

Tie = tuple[object, object]


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
    labels = _smallest(jobs, ties)
    moved: dict[int, list[int]] = {}
    for job, label in labels.items():
        if jobs[job] != label:
            moved.setdefault(label, []).append(job)
    for label in sorted(moved):
        for some in batched(moved[label], MOST):
            Job.objects.filter(pk__in=some).update(component=label)
    return set(labels.values())


def _read(holding_id: int, components: Collection[int] | None) -> tuple[dict[int, int], list[Tie]]:
    """(label by job, ties) of the components and of every job that is tied to one of theirs."""
    here = Q() if components is None else Q(component__in=list(components))
    inside = Job.objects.filter(here, holding_id=holding_id)
    links = Prerequisite.objects.filter(holding_id=holding_id)
    branches = Branch.objects.filter(holding_id=holding_id)
    branched = Job.objects.filter(holding_id=holding_id, branch__isnull=False)
    if components is not None:
        links = links.filter(Q(predecessor__component__in=components) | Q(successor__component__in=components))
        # unordered: siblings and nested branches share their season, and so are all found by it
        seasons = Q(jobs__in=inside) | Q(opened_by__in=inside)
        branches = branches.filter(season__in=branches.filter(seasons).values("season"))
        branched = branched.filter(branch__in=branches)
    jobs = dict(inside.values_list("id", "component"))
    ties: list[Tie] = []
    for tail, tail_label, head, head_label in links.values_list(
        "predecessor_id", "predecessor__component", "successor_id", "successor__component"
    ):
        jobs[tail], jobs[head] = tail_label, head_label
        ties.append((tail, head))
    for job, label, branch in branched.values_list("id", "component", "branch_id"):
        jobs[job] = label
        ties.append((job, ("branch", branch)))
    for branch, season, group, parent, opener, label in branches.annotate(label=F("opened_by__component")).values_list(
        "id", "season_id", "group", "parent_id", "opened_by_id", "label"
    ):
        own = ("branch", branch)
        if group:
            ties.append((own, ("group", season, group)))
        if parent is not None:
            ties.append((own, ("branch", parent)))
        if opener is not None:
            jobs[opener] = label
            ties.append((own, opener))
    return jobs, ties


def _smallest(jobs: Collection[int], ties: Iterable[Tie]) -> dict[int, int]:
    """The smallest job id tied to each job, by sets that are united (Tarjan, path halving)."""
    above: dict[object, object] = {job: job for job in jobs}

    def top(thing: object) -> object:
        above.setdefault(thing, thing)
        while above[thing] != thing:
            above[thing] = above[above[thing]]
            thing = above[thing]
        return thing

    for first, second in ties:
        above[top(first)] = top(second)
    least: dict[object, int] = {}
    for job in sorted(jobs):
        least.setdefault(top(job), job)
    return {job: least[top(job)] for job in jobs}
