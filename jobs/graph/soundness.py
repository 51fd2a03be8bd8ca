"""Whether fixed lags can be met at all, where siblings are never done both (D10, D14)."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import replace

from jobs.graph.cycles import FixedContradiction, fixed_contradiction, strongly_connected
from jobs.graph.data import Arc, Fixed

Choices = Mapping[int, Mapping[str, int]]
"""Of a job in branches: the branch that it belongs to, by group."""


def contradiction(arcs: Iterable[Arc], durations: Mapping[int, int], choices: Choices) -> FixedContradiction | None:
    """Fixed lags that no dates can meet, or None; minima that an observation confirms are not fixed.

    Jobs are looked at together only where fixed lags bind them both ways, and one set of branches at a time: the lowest
    branch of every group, and once each other branch of one group. So no loop runs through two siblings.
    """
    fixed = [replace(arc, minimum=None) if arc.confirm else arc for arc in arcs]
    ways = [(arc.tail, arc.head) for arc in fixed if isinstance(arc.minimum, Fixed)]
    ways += [(arc.head, arc.tail) for arc in fixed if isinstance(arc.maximum, Fixed)]
    part_of: dict[int, int] = {}
    parts = strongly_connected(sorted({job for way in ways for job in way}), ways)
    for number, part in enumerate(parts):
        part_of.update(dict.fromkeys(part, number))
    bound: dict[int, list[Arc]] = defaultdict(list)
    for arc in fixed:
        if part_of.get(arc.tail, -1) == part_of.get(arc.head, -2):
            bound[part_of[arc.tail]].append(arc)
    for number in sorted(bound):
        for copy in _copies(parts[number], choices):
            found = fixed_contradiction([arc for arc in bound[number] if {arc.tail, arc.head} <= copy], durations)
            if found is not None:
                return found
    return None


def _copies(part: Collection[int], choices: Choices) -> Iterable[set[int]]:
    groups: dict[str, set[int]] = defaultdict(set)
    for job in part:
        for group, branch in choices.get(job, {}).items():
            groups[group].add(branch)
    lowest = {group: min(branches) for group, branches in groups.items()}
    others = [{group: branch} for group in sorted(groups) for branch in sorted(groups[group])[1:]]
    for chosen in ({**lowest, **other} for other in ({}, *others)):
        yield {job for job in part if all(chosen[group] == branch for group, branch in choices.get(job, {}).items())}
