"""Progress by API: jobs and acres done, open, held and lapsed, by property, plot or sequence."""

from collections.abc import Callable
from datetime import date
from typing import Any

import pytest

from core.models import Holding, Person
from jobs.models import Assignment, Job, JobState, Season, Sequence
from plots.models import Plot
from tests.core.world import script_of
from tests.jobs.api.matrix import reckon

pytestmark = pytest.mark.django_db


@pytest.fixture
def worked(holding: Holding, job_factory: Callable[..., Job], plot_factory: Callable[..., Plot]) -> dict[str, Plot]:
    """Two plots of 4 acres: on one a job done, one half done and one held; on the other one lapsed and one single."""
    ridge, creek = plot_factory(holding, name="Ridge"), plot_factory(holding, name="Creek")
    sequence = Sequence.objects.create(holding=holding, key="oats", name="Oats", document={})
    days = {"first_day": date(2026, 3, 1), "last_day": date(2026, 9, 1)}
    seasons = {
        plot.pk: Season.objects.create(holding=holding, plot=plot, sequence=sequence, label="26", year=2026, **days)
        for plot in (ridge, creek)
    }

    def job(plot: Plot, state: str, single: bool = False, **fields: Any) -> None:
        row = job_factory(holding, plot=plot, acres=4.0, season=None if single else seasons[plot.pk])
        reckon(row, state=state, **fields)

    job(ridge, JobState.DONE, acres_done=4.0)
    job(ridge, JobState.UNDER_WAY, acres_done=1.5, slack_min=5 * 1440 + 700)
    job(ridge, JobState.HELD, slack_min=9 * 1440)
    job(creek, JobState.LAPSED, slack_min=-3 * 1440)
    job(creek, JobState.OPEN, single=True)
    return {"ridge": ridge, "creek": creek}


def test_by_plot_acres_states_and_the_smallest_slack(manager: Person, worked: dict[str, Plot]) -> None:
    told = script_of(manager).get("/api/progress/", {"by": "plot"}).json()
    creek, ridge = told["rows"]
    assert (ridge["name"], ridge["id"], ridge["jobs"]) == ("Ridge", worked["ridge"].pk, 3)
    assert {state: count for state, count in ridge["states"].items() if count} == {"done": 1, "under_way": 1, "held": 1}
    assert (ridge["acres_done"], ridge["acres_left"], ridge["smallest_slack_days"]) == (5.5, 6.5, 5)
    assert (creek["states"]["lapsed"], creek["smallest_slack_days"]) == (1, None)


def test_by_property_and_by_sequence_with_single_jobs_apart(manager: Person, worked: dict[str, Plot]) -> None:
    script = script_of(manager)
    assert len(script.get("/api/progress/").json()["rows"]) == 2
    rows = script.get("/api/progress/", {"by": "sequence"}).json()["rows"]
    assert [(row["id"], row["name"], row["jobs"]) for row in rows] == [("oats", "Oats", 4), (None, "single jobs", 1)]


def test_of_one_year_and_in_hectares(manager: Person, worked: dict[str, Plot]) -> None:
    script = script_of(manager)
    assert script.get("/api/progress/", {"year": 2025}).json()["rows"] == []
    rows = script.get("/api/progress/", {"by": "plot", "year": 2026, "units": "metric"}).json()["rows"]
    assert [row["jobs"] for row in rows] == [1, 3]
    assert rows[1]["area_done"] == {"value": 2.23, "unit": "ha"}


def test_helper_sees_the_progress_of_own_jobs_alone(
    helper_person: Person, holding: Holding, worked: dict[str, Plot]
) -> None:
    script = script_of(helper_person)
    assert script.get("/api/progress/").json()["rows"] == []
    Assignment.objects.create(
        holding=holding, job=Job.objects.filter(plot=worked["ridge"]).first(), person=helper_person
    )
    (row,) = script.get("/api/progress/", {"by": "plot"}).json()["rows"]
    assert (row["name"], row["jobs"]) == ("Ridge", 1)


@pytest.mark.parametrize("query", ["by=crew", "year=1", "year=x", "plot=1", "units=x"])
def test_parameter_that_makes_no_sense_is_refused(query: str, manager: Person) -> None:
    assert script_of(manager).get(f"/api/progress/?{query}").status_code == 400
