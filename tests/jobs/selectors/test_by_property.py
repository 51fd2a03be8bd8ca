"""The pages of work stay short and ask the same number of queries, however long the lists behind them are."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from core.models import Holding, Person
from jobs.models import Assignment, Job, JobState, Need, NeedKind
from jobs.selectors.by_property import NEAREST, ON_A_PAGE, jobs_of_property, nearest_by_property
from plots.models import Plot, Property
from tests.jobs.api.matrix import reckon

NOON = datetime(2026, 4, 2, 17, tzinfo=UTC)
pytestmark = pytest.mark.django_db
Lay = Callable[..., list[Job]]


@pytest.fixture
def holding(holding_factory: Callable[..., Holding]) -> Holding:
    return holding_factory(name="Home holding", clock_at=NOON)


@pytest.fixture
def lay(holding: Holding, job_factory: Callable[..., Job], manager: Person) -> Lay:
    """So many jobs in a state on a plot, each with a need, given to the manager, the last one nearest."""

    def make(plot: Plot, state: str, count: int, **fields: Any) -> list[Job]:
        jobs = [job_factory(holding, f"{state} {k}", plot=plot) for k in range(count)]
        for k, job in enumerate(jobs):
            reckon(job, state=state, latest_start=NOON + timedelta(days=90 - k), **fields)
            Need.objects.create(holding=holding, job=job, kind=NeedKind.MACHINE, name="tractor")
            Assignment.objects.create(holding=holding, job=job, person=manager)
        return jobs

    return make


def test_of_each_property_the_nearest_are_shown_and_the_held_apart(
    holding: Holding, manager: Person, lay: Lay, plot_factory: Callable[..., Plot]
) -> None:
    here, there = plot_factory(holding), plot_factory(holding)
    open_here = lay(here, JobState.OPEN, NEAREST + 3)
    (begun,) = lay(here, JobState.UNDER_WAY, 1)
    held = lay(here, JobState.HELD, NEAREST + 1)
    (one,) = lay(there, JobState.OPEN, 1)
    found = nearest_by_property(holding, manager, [here.property_id, there.property_id], NOON)
    nearest = [begun, *reversed(open_here)][:NEAREST] + list(reversed(held))[:NEAREST]
    assert [answer["job"] for answer in found[here.property_id]] == [job.pk for job in nearest]
    assert [answer["job"] for answer in found[there.property_id]] == [one.pk]


def test_pages_of_a_property_hold_every_job_once(
    holding: Holding, manager: Person, lay: Lay, plot_factory: Callable[..., Plot]
) -> None:
    plot = plot_factory(holding)
    jobs = lay(plot, JobState.OPEN, ON_A_PAGE + 2) + lay(plot, JobState.LAPSED, 2)
    lay(plot, JobState.DONE, 2)
    lay(plot, JobState.LAPSED, 1, detail={"aside": True})
    pages = [jobs_of_property(holding, manager, plot.property_id, page, NOON) for page in (1, 2, 3)]
    assert [len(page) for page in pages] == [ON_A_PAGE, 4, 0]
    assert {answer["job"] for page in pages for answer in page} == {job.pk for job in jobs}


def test_page_says_how_many_there_are_and_where_the_rest_is(
    holding: Holding, manager: Person, lay: Lay, plot_factory: Callable[..., Plot], signed_in: Callable[..., Client]
) -> None:
    plot = plot_factory(holding)
    lay(plot, JobState.OPEN, ON_A_PAGE + 5)
    client = signed_in(manager)
    text = client.get("/by-property/").content.decode()
    assert f"The nearest {NEAREST} of {ON_A_PAGE + 5} are shown" in text
    assert f'href="?property={plot.property_id}"' in text
    first = client.get("/by-property/", {"property": plot.property_id}).content.decode()
    assert len(re.findall("<li class=.job ", first)) == ON_A_PAGE
    assert f"?property={plot.property_id}&amp;page=2" in first
    second = client.get("/by-property/", {"property": plot.property_id, "page": 2}).content.decode()
    assert len(re.findall("<li class=.job ", second)) == 5
    assert client.get("/by-property/", {"property": plot.property_id, "page": 99}).content.decode().count("<h3>") == 5


def test_property_of_another_holding_is_not_found(
    other_holding: Holding, manager: Person, plot_factory: Callable[..., Plot], signed_in: Callable[..., Client]
) -> None:
    away = plot_factory(other_holding)
    for asked in (away.property_id, 987_654_321, "x", "-1"):
        assert signed_in(manager).get("/by-property/", {"property": asked}).status_code == 404


@pytest.mark.parametrize("path", ["/", "/by-property/", "/by-property/?property={place}", "/api/next/"])
def test_queries_are_as_many_for_a_short_list_as_for_a_long_one(
    path: str,
    holding: Holding,
    manager: Person,
    lay: Lay,
    plot_factory: Callable[..., Plot],
    signed_in: Callable[..., Client],
) -> None:
    place = Property.objects.create(holding=holding, name="Property", latitude=39.0, longitude=-95.0)
    address = path.format(place=place.pk)
    client = signed_in(manager)
    asked = []
    for count in (1, 60):
        for state in (JobState.OPEN, JobState.HELD):
            lay(plot_factory(holding, property=place), state, count)
        client.get(address)
        with CaptureQueriesContext(connection) as queries:
            assert client.get(address).status_code == 200
        asked.append(len(queries))
        longest = max(query["sql"].count(", ") for query in queries.captured_queries)
        assert longest < 300, "no query carries the whole list"
    assert asked[0] == asked[1]
