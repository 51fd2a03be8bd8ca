"""Components: jobs that one report can reach, named by their smallest job id."""

from __future__ import annotations

from collections.abc import Collection, Hashable, Iterable, Iterator, Mapping

from jobs.graph.data import Arc, Branch, Node

Tie = tuple[Hashable, Hashable]
"""Two things that belong together: job ids, or keys of branches and groups that stand between jobs."""


def ties(nodes: Collection[Node], arcs: Iterable[Arc], branches: Iterable[Branch] = ()) -> Iterator[Tie]:
    """Whatever one walk must see together.

    The ends of each arc; and a branch ties its jobs to each other, to the check whose outcome opens it, to the branch
    that it is nested in and to its siblings in the group (D10, D11). What is not among `nodes` is passed over.
    """
    known = {node.id for node in nodes}
    for arc in arcs:
        yield arc.tail, arc.head
    for node in nodes:
        if node.branch is not None:
            yield ("branch", node.branch), node.id
    for branch in branches:
        own = ("branch", branch.id)
        if branch.group is not None:
            yield own, ("group", branch.season, branch.group)
        if branch.parent is not None:
            yield own, ("branch", branch.parent)
        if branch.opened_by is not None and branch.opened_by in known:
            yield own, branch.opened_by


def connected_components(jobs: Iterable[int], ties: Iterable[Tie]) -> dict[int, int]:
    """The component of every job, in the order of ids: the smallest id among the jobs that ties lead to.

    Sets that are united, with path halving (Tarjan)."""
    above: dict[Hashable, Hashable] = {job: job for job in sorted(jobs)}
    listed = list(above)

    def top(thing: Hashable) -> Hashable:
        above.setdefault(thing, thing)
        while above[thing] != thing:
            above[thing] = above[above[thing]]
            thing = above[thing]
        return thing

    for one, other in ties:
        one, other = top(one), top(other)
        if one != other:
            above[one] = other
    smallest: dict[Hashable, int] = {}
    return {job: smallest.setdefault(top(job), job) for job in listed if isinstance(job, int)}


def members(components: Mapping[int, int]) -> dict[int, list[int]]:
    """The jobs of every component, both in the order of ids."""
    found: dict[int, list[int]] = {}
    for job in sorted(components):
        found.setdefault(components[job], []).append(job)
    return dict(sorted(found.items()))
