"""Seasons, branches, prerequisites, needs and rounds by API."""

from collections.abc import Callable
from typing import Any

import pytest
from rest_framework.test import APIClient

from core.models import Event, Graph, Holding, Person
from jobs.models import Branch, Job, Need, Prerequisite, Season, Sequence
from plots.models import Machine, Material, Plot
from tests.core.world import World, script_of
from tests.jobs.api.documents import strip_of_oats

pytestmark = pytest.mark.django_db


@pytest.fixture
def script(manager: Person) -> APIClient:
    return script_of(manager)


def plant(script: APIClient, *plots: Plot, year: int = 2026, **more: Any) -> list[dict[str, Any]]:
    """Store the oat strip and apply it to the plots."""
    sequence = script.post("/api/sequences/", {"document": strip_of_oats()}, format="json").json()["id"]
    body = {"plots": [plot.pk for plot in plots], "year": year, **more}
    answer = script.post(f"/api/sequences/{sequence}/apply/", body, format="json")
    assert answer.status_code == 201, answer.content
    seasons: list[dict[str, Any]] = answer.json()["seasons"]
    return seasons


def roll(script: APIClient, *swaps: tuple[Plot, Plot], status: int = 201, **years: int) -> Any:
    pairs = [{"from": first.pk, "to": then.pk} for first, then in swaps]
    answer = script.post(
        "/api/seasons/roll-over/", {"from_year": 2026, "to_year": 2027, **years, "swaps": pairs}, format="json"
    )
    assert answer.status_code == status, answer.content
    return answer.json()


# seasons


def test_like_last_year_and_these_plots_swap(
    script: APIClient, holding: Holding, plot_factory: Callable[..., Plot]
) -> None:
    ridge, creek, bare = (plot_factory(holding, name=name) for name in ("Ridge", "Creek", "Bare"))
    plant(script, ridge, creek)
    made = roll(script, (ridge, bare))["seasons"]
    assert [(season["plot"], season["label"], season["year"]) for season in made] == [
        (bare.pk, "Oat strip 2027", 2027),
        (creek.pk, "Oat strip 2027", 2027),
    ]
    assert Job.objects.filter(plot=bare, first_day__year=2027).count() == 4


def test_rolled_over_twice_makes_one_year(
    script: APIClient, holding: Holding, plot_factory: Callable[..., Plot]
) -> None:
    plant(script, plot_factory(holding))
    first = roll(script)
    script.post("/api/sequences/", {"document": strip_of_oats(name="Oat strip anew")}, format="json")
    assert roll(script) == first, "a newer version does not double a season that is there"
    assert Season.objects.filter(year=2027).count() == 1


def test_rolled_over_takes_the_newest_version_with_the_materials_of_last_year(
    script: APIClient, holding: Holding, plot_factory: Callable[..., Plot]
) -> None:
    oats = Material.objects.create(holding=holding, name="Oats", kind="seed", unit="lb")
    plot = plot_factory(holding)
    plant(script, plot, materials={"oat seed": oats.pk}, label="East strip")
    newest = script.post("/api/sequences/", {"document": strip_of_oats()}, format="json").json()
    (season,) = roll(script)["seasons"]
    assert (season["sequence"], season["label"]) == (newest["id"], "East strip 2027")
    assert Need.objects.get(job__season=season["id"], kind="material").material == oats


def test_two_plots_rolled_onto_one_are_refused_and_nothing_is_made(
    script: APIClient, holding: Holding, plot_factory: Callable[..., Plot]
) -> None:
    ridge, creek = plot_factory(holding, name="Ridge"), plot_factory(holding, name="Creek")
    plant(script, ridge, creek)
    told = roll(script, (ridge, creek), status=422)
    assert told["detail"] == "Oat strip would come to Creek from two plots. Give one another plot."
    assert not Season.objects.filter(year=2027).exists()
    assert len(roll(script, (ridge, creek), (creek, ridge))["seasons"]) == 2


def test_rolling_over_refuses_what_makes_no_sense(
    script: APIClient, holding: Holding, plot_factory: Callable[..., Plot], world: World
) -> None:
    plot = plot_factory(holding)
    assert "nothing to roll over" in roll(script, status=422)["detail"]
    plant(script, plot)
    assert roll(script, to_year=2026, status=400)["errors"][0]["pointer"] == "#/to_year"
    assert roll(script, (plot, plot), (plot, plot), status=400)["errors"][0]["pointer"] == "#/swaps"
    foreign = world.home.things["plot"]
    assert isinstance(foreign, Plot)
    roll(script, (plot, foreign), status=404)


def test_called_off_season_wakes_the_walk_once(
    script: APIClient, holding: Holding, plot_factory: Callable[..., Plot]
) -> None:
    (season,) = plant(script, plot_factory(holding))
    before = Graph.objects.get(holding=holding).facts_version
    first = script.post(f"/api/seasons/{season['id']}/call-off/", {}, format="json").json()["called_off_at"]
    assert first is not None
    assert script.post(f"/api/seasons/{season['id']}/call-off/").json()["called_off_at"] == first
    assert Graph.objects.get(holding=holding).facts_version == before + 1
    assert script.get("/api/seasons/", {"called_off_at__isnull": "true"}).json()["count"] == 0


def test_seasons_are_made_by_applying_alone(script: APIClient) -> None:
    assert script.post("/api/seasons/", {"label": "A"}, format="json").status_code == 405


# branches


def test_branch_is_called_off_and_back_by_a_manager(
    script: APIClient, holding: Holding, plot_factory: Callable[..., Plot]
) -> None:
    (season,) = plant(script, plot_factory(holding))
    (branch,) = script.get("/api/branches/", {"season": season["id"]}).json()["results"]
    assert (branch["key"], branch["outcomes"], branch["called_off_at"]) == ("give_up", ["failed"], None)
    url = f"/api/branches/{branch['id']}/"
    assert script.patch(url, {"called_off": True}, format="json").json()["called_off_at"] is not None
    assert script.patch(url, {"called_off": True}, format="json").status_code == 200
    assert script.patch(url, {"called_off": False}, format="json").json()["called_off_at"] is None
    verbs = Event.objects.filter(object="branch").order_by("id").values_list("verb", flat=True)
    assert list(verbs) == ["called off", "called back"]
    assert script.patch(url, {"outcomes": []}, format="json").status_code == 400
    assert Branch.objects.get().outcomes == ["failed"]


# prerequisites


def test_circle_is_refused_with_the_names_of_its_jobs(
    script: APIClient, holding: Holding, job_factory: Callable[..., Job]
) -> None:
    till, sow = job_factory(holding, "Till"), job_factory(holding, "Sow")
    body = {"predecessor": till.pk, "successor": sow.pk}
    assert script.post("/api/prerequisites/", body, format="json").status_code == 201
    answer = script.post("/api/prerequisites/", {"predecessor": sow.pk, "successor": till.pk}, format="json")
    assert answer.status_code == 409
    assert "Till -> Sow -> Till" in answer.json()["detail"]
    assert answer.json()["facts"] == {"jobs": [till.pk, sow.pk]}
    assert answer["Content-Type"] == "application/problem+json"


def test_contradicting_waits_are_refused_also_by_a_change(
    script: APIClient, holding: Holding, job_factory: Callable[..., Job]
) -> None:
    till, sow = job_factory(holding, "Till"), job_factory(holding, "Sow")
    body = {"predecessor": till.pk, "successor": sow.pk, "max_amount": 5, "max_unit": "days"}
    script.post("/api/prerequisites/", body, format="json")
    wait = script.post(
        "/api/prerequisites/", {"predecessor": till.pk, "successor": sow.pk, "relation": "SS"}, format="json"
    ).json()
    answer = script.patch(f"/api/prerequisites/{wait['id']}/", {"min_amount": 9}, format="json")
    assert (answer.status_code, answer.json()["type"].rpartition("/")[2]) == (409, "contradiction")
    assert Prerequisite.objects.get(pk=wait["id"]).min_amount == 0


def test_removed_prerequisite_parts_its_jobs(
    script: APIClient, holding: Holding, job_factory: Callable[..., Job]
) -> None:
    till, sow = job_factory(holding, "Till"), job_factory(holding, "Sow")
    body = {"predecessor": till.pk, "successor": sow.pk}
    made = script.post("/api/prerequisites/", body, format="json").json()
    assert Job.objects.get(pk=sow.pk).component == till.pk
    assert script.delete(f"/api/prerequisites/{made['id']}/").status_code == 204
    assert Job.objects.get(pk=sow.pk).component == sow.pk


def test_maximum_without_its_unit_is_refused(
    script: APIClient, holding: Holding, job_factory: Callable[..., Job]
) -> None:
    till, sow = job_factory(holding, "Till"), job_factory(holding, "Sow")
    answer = script.post(
        "/api/prerequisites/", {"predecessor": till.pk, "successor": sow.pk, "max_amount": 5}, format="json"
    )
    assert (answer.status_code, answer.json()["detail"]) == (400, "Give the maximum with its unit, or neither.")


# needs and rounds


def test_machine_of_another_kind_is_no_answer_to_a_need(
    script: APIClient, holding: Holding, job_factory: Callable[..., Job]
) -> None:
    job = job_factory(holding, "Plant")
    planter = Machine.objects.create(holding=holding, name="Red", kind="planter")
    oats = Material.objects.create(holding=holding, name="Oats", kind="seed", unit="lb")
    body = {"job": job.pk, "kind": "machine", "name": "planter"}
    made = script.post("/api/needs/", body, format="json").json()
    url = f"/api/needs/{made['id']}/"
    assert script.patch(url, {"machine": planter.pk}, format="json").json()["machine"] == planter.pk
    for wrong in ({"name": "sprayer"}, {"kind": "skill"}, {"material": oats.pk}):
        answer = script.patch(url, wrong, format="json")
        assert answer.status_code == 400, wrong
    assert Need.objects.get().name == "planter"
    assert script.delete(url).status_code == 204


def test_jobs_are_put_into_a_round(script: APIClient, holding: Holding, job_factory: Callable[..., Job]) -> None:
    jobs = [job_factory(holding, f"Spray {number}") for number in range(2)]
    made = script.post("/api/rounds/", {"operation": "spray", "label": "All clover"}, format="json").json()["id"]
    for job in jobs:
        assert script.patch(f"/api/jobs/{job.pk}/", {"round": made}, format="json").json()["round"] == made
    assert script.get("/api/jobs/", {"round": made}).json()["count"] == 2
    assert script.delete(f"/api/rounds/{made}/").status_code == 204
    assert set(Job.objects.values_list("round", flat=True)) == {None}


def test_helpers_are_told_the_plan_by_their_jobs_alone(world: World) -> None:
    for path in ("seasons", "branches", "prerequisites", "needs", "overrides"):
        assert world.clients["helper"].get(f"/api/{path}/").status_code == 403
        assert world.clients["viewer"].get(f"/api/{path}/").status_code == 200
    assert Sequence.objects.exists()
