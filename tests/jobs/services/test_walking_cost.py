"""What the walk after one report reads: its component, however large the holding is, in the same number of queries."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from typing import Any

import pytest
from django.db import connection

from core.models import Graph, Holding, Person, Way
from jobs.models import Job, Need, Override, Prerequisite, Reckoning, Report
from jobs.services.components import relabel
from jobs.services.reports import NewReport, store_report
from jobs.services.walking import walk_holding
from plots.models import Material, StockMove

NOON = datetime(2027, 5, 6, 17, 0, tzinfo=UTC)
LENGTH = 10

JobFactory = Callable[..., Job]


@pytest.fixture
def holding(holding_factory: Callable[..., Holding]) -> Holding:
    return holding_factory(zone="America/Chicago", clock_at=NOON)


def chain_of_jobs(holding: Holding, manager: Person, make: JobFactory) -> list[Job]:
    """Ten jobs in a row with prerequisites, needs, a move of stock each, an override, and the first one reported."""
    jobs = [make(holding, f"Step {k}", component=0, acres=2.0) for k in range(LENGTH)]
    Prerequisite.objects.bulk_create(
        Prerequisite(holding=holding, predecessor=tail, successor=head) for tail, head in pairwise(jobs)
    )
    for job in jobs:
        seed = Material.objects.create(holding=holding, name=f"Seed for {job.pk}", kind="seed", unit="lb")
        StockMove.objects.create(holding=holding, material=seed, quantity=100.0, at=NOON)
        Need.objects.create(holding=holding, job=job, kind="material", name="seed", material=seed, rate_per_acre=10.0)
    Override.objects.create(holding=holding, job=jobs[1], rule="machine", reason="Borrowed.", person=manager, at=NOON)
    relabel(holding_id=holding.pk)
    report(manager, jobs[0])
    return jobs


def report(person: Person, job: Job) -> None:
    new = NewReport(client_id=uuid.uuid4(), kind="done", happened_at=NOON - timedelta(hours=2), job=job.pk)
    store_report(person=person, new=new, now=NOON)


def rows_read(run: Callable[[], object]) -> tuple[int, int]:
    """(rows that the queries of a run return, queries): each is asked a second time for its number of rows."""
    asked: list[tuple[str, Any]] = []

    def keep(execute: Callable[..., Any], sql: str, params: Any, many: bool, context: dict[str, Any]) -> Any:
        if sql.startswith("SELECT") and not many:
            asked.append((sql.removesuffix(" FOR NO KEY UPDATE"), params))
        return execute(sql, params, many, context)

    with connection.execute_wrapper(keep):
        run()
    total = 0
    with connection.cursor() as cursor:
        for sql, params in asked:
            cursor.execute(f"SELECT count(*) FROM ({sql}) AS asked", params)
            total += cursor.fetchone()[0]
    return total, len(asked)


def rows_of(component: int) -> int:
    """Rows that are the component's own."""
    jobs = Job.objects.filter(component=component)
    own = (Need, Report, Override, Reckoning)
    links = Prerequisite.objects.filter(successor__in=jobs).count()
    return jobs.count() + links + sum(model.objects.filter(job__in=jobs).count() for model in own)


def walk_of_one_report(holding: Holding, manager: Person, job: Job) -> tuple[int, int]:
    Way.objects.get_or_create(holding=holding, person=manager, kind="mail", address="ada@example.org")
    walk_holding(holding.pk)
    report(manager, job)
    read = rows_read(lambda: walk_holding(holding.pk))
    graph = Graph.objects.get(pk=holding.pk)
    assert graph.walked_version == graph.facts_version
    assert Reckoning.objects.get(pk=job.pk).state == "done"
    return read


def test_walk_after_one_report_reads_no_more_than_five_times_its_component(
    holding: Holding, manager: Person, job_factory: JobFactory
) -> None:
    jobs = chain_of_jobs(holding, manager, job_factory)
    for _ in range(6):
        chain_of_jobs(holding, manager, job_factory)
    rows, _ = walk_of_one_report(holding, manager, jobs[1])
    component = Job.objects.values_list("component", flat=True).get(pk=jobs[1].pk)
    assert LENGTH * 3 < rows <= 5 * rows_of(component)


def test_walk_after_one_report_costs_the_same_however_large_the_holding_is(
    holding: Holding, manager: Person, job_factory: JobFactory
) -> None:
    jobs = chain_of_jobs(holding, manager, job_factory)
    small = walk_of_one_report(holding, manager, jobs[1])
    for _ in range(6):
        chain_of_jobs(holding, manager, job_factory)
    rows, queries = walk_of_one_report(holding, manager, jobs[2])
    assert queries == small[1]
    assert rows == small[0] + 2  # the report before, and the notice it made


def test_counting_rows_sees_a_walk_over_the_whole_holding(
    holding: Holding, manager: Person, job_factory: JobFactory
) -> None:
    jobs = chain_of_jobs(holding, manager, job_factory)
    for _ in range(6):
        chain_of_jobs(holding, manager, job_factory)
    walk_of_one_report(holding, manager, jobs[1])
    rows, _ = rows_read(lambda: walk_holding(holding.pk, whole=True))
    component = Job.objects.values_list("component", flat=True).get(pk=jobs[1].pk)
    assert rows > 5 * rows_of(component)
