"""In which share of the years each plot is finished, and which job spoils it most often."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from jobs.chances.history import Ints
from jobs.chances.replay import Season
from jobs.graph.arcs import KNOWN
from jobs.graph.network import Network, Role, role_of


@dataclass(frozen=True, slots=True)
class PlotChance:
    """Of a plot: in how many of the years all its jobs were finished, and the job that spoiled it most often with the
    count of those years (None where nothing did). Ties go to the lowest id."""

    plot: int
    years: int
    finished: int
    spoiler: int | None
    spoiled: int

    @property
    def share(self) -> float:
        return self.finished / self.years


def plots_of(season: Season, finishes: Ints, plots: Mapping[int, int]) -> dict[int, PlotChance]:
    """By plot; `finishes` by (job, year) in the order of job ids, `plots` by job id.

    What spoils a year is the first job, in the order in which the walk reckons, that was not finished and that the
    plot's jobs wait for or are: a job of another plot too, where one of this plot waited for it."""
    nodes = sorted(season.problem.nodes, key=lambda node: node.id)
    net = Network(nodes, season.problem.arcs, season.curves(0) if season.years else {}, season.problem.today)
    place = {k: n for n, k in enumerate(net.order)}
    before: dict[int, list[int]] = {}
    for bound in net.minimal:
        before.setdefault(bound[2], []).append(bound[1])
    missed = finishes >= KNOWN
    mine: dict[int, list[int]] = {}
    for k, node in enumerate(nodes):
        if role_of(node) is not Role.RELAY:
            mine.setdefault(plots[node.id], []).append(k)
    found = {}
    for plot, jobs in sorted(mine.items()):
        lost = np.asarray(missed[jobs].any(axis=0), bool)
        asked = _with_all_before(jobs, before)
        firsts: Counter[int] = Counter()
        for year in np.flatnonzero(lost).tolist():
            first = min((k for k in asked if missed[k, year]), key=lambda k: place.get(k, -1))
            firsts[nodes[first].id] += 1
        spoiler, times = min(firsts.items(), key=lambda pair: (-pair[1], pair[0]), default=(None, 0))
        found[plot] = PlotChance(plot, season.years, season.years - int(lost.sum()), spoiler, times)
    return found


def _with_all_before(jobs: list[int], before: Mapping[int, list[int]]) -> list[int]:
    seen, waiting = set(jobs), list(jobs)
    while waiting:
        for tail in before.get(waiting.pop(), ()):
            if tail not in seen:
                seen.add(tail)
                waiting.append(tail)
    return sorted(seen)
