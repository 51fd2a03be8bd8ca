"""Rows to the plain facts of one walk: once per holding, or once per set of components."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime

from core.models import Holding
from jobs.facts import Facts
from jobs.folding import Folded
from jobs.graph.data import Problem
from jobs.minutes import day_end, day_start, floor_minute, local_day
from jobs.selectors.around import Around
from jobs.selectors.facts.floods import CHECK, lost_stands
from jobs.selectors.facts.law import law_bounds
from jobs.selectors.facts.law_rows import POST_SIGNS, WASHED
from jobs.selectors.facts.links import read_links
from jobs.selectors.facts.one_job import DESK, job_facts, node_of
from jobs.selectors.facts.rows import MOST, JobRow, job_rows
from jobs.selectors.facts.sprays import add_sprays, read_branches, read_needs, sprayed_on
from jobs.selectors.facts.told import NOT_YET, folded_reports

__all__ = ["CHECK", "DESK", "MOST", "NOT_YET", "POST_SIGNS", "WASHED", "JobRow", "Loaded", "load"]


@dataclass(frozen=True, slots=True)
class Loaded:
    """The facts of a walk, the job rows and folded reports beside them, and which branches a spray closed."""

    facts: Facts
    rows: Mapping[int, JobRow]
    folded: Mapping[int, Folded]
    closed_branches: Mapping[int, str] = field(default_factory=dict)


def load(holding: Holding, now: datetime, components: Collection[int] | None = None) -> Loaded:
    """All facts of the holding's walk at `now`, or those of some components alone.

    A fixed number of queries whatever the number of jobs. Facts of other components are read where a hold needs them
    (stock, machines), their reckonings never.
    """
    rows = job_rows(holding, components)
    minute = floor_minute(now)
    today = local_day(holding.zone, minute)
    folded = folded_reports(holding.pk, rows, job__component__in=components)
    needs = read_needs(holding.pk, job__component__in=components)
    sprayed = sprayed_on(holding, rows, needs, folded, components)
    branches, closed, closings = read_branches(holding.pk, rows, sprayed, today)
    links = read_links(holding.pk, components, rows, folded, today)
    around = Around(holding, {row.property for row in rows.values()}, components)
    local = {zone: local_day(zone, minute) for zone in {row.zone for row in rows.values()}}
    facts = {
        job: job_facts(row, folded[job], needs.get(job, ()), around, now, local[row.zone]) for job, row in rows.items()
    }
    add_sprays(facts, rows, closings)
    whole, under = components is None, around.contracts.keys()
    bounds = law_bounds(holding, rows, needs, folded, read_needs, whole, minute, under)
    facts |= {job: replace(facts[job], bounds=bound) for job, bound in bounds.items()}
    lost = lost_stands(holding, rows, folded, links.arcs)
    facts |= {job: replace(facts[job], bounds=(*facts[job].bounds, bound)) for job, bound in lost.items()}
    nodes = tuple(node_of(row, folded[job], facts[job]) for job, row in rows.items())
    problem = Problem(day_start(holding.zone, today), nodes, tuple(links.arcs), branches, links.curves)
    midnight = day_end(holding.zone, today)
    return Loaded(Facts(problem, facts, midnight, links.sources, links.again, links.upper), rows, folded, closed)
