"""Sequences by API: the list, new versions checked whole, retiring, applying to plots; the shipped ones."""

from collections.abc import Callable
from typing import Any

import pytest
from rest_framework.test import APIClient

from core.models import Graph, Holding, Person
from jobs.models import Job, JobState, Need, Prerequisite, Season, Sequence
from jobs.sequences import Shipped, read_folder
from jobs.services.sequences import load_shipped
from plots.models import Material, Plot
from tests.core.world import World, script_of
from tests.jobs.api.documents import strip_of_oats
from tests.jobs.sequences.conftest import FIXTURES

pytestmark = pytest.mark.django_db


@pytest.fixture(scope="module")
def shipped() -> Shipped:
    return read_folder(FIXTURES)


@pytest.fixture
def script(manager: Person) -> APIClient:
    return script_of(manager)


def save(script: APIClient, **head: Any) -> dict[str, Any]:
    answer = script.post("/api/sequences/", {"document": strip_of_oats(**head)}, format="json")
    assert answer.status_code == 201, answer.content
    told: dict[str, Any] = answer.json()
    return told


def keys(script: APIClient, **query: Any) -> list[tuple[str, int, bool]]:
    rows = script.get("/api/sequences/", {"page_size": 200, **query}).json()["results"]
    return [(row["key"], row["version"], row["shipped"]) for row in rows]


# shipped


def test_loading_the_shipped_ones_again_changes_nothing(shipped: Shipped) -> None:
    assert sorted(Sequence.objects.values_list("key", flat=True)) == sorted(shipped.documents)
    assert load_shipped() == []
    assert Sequence.objects.count() == len(shipped.documents)
    assert set(Sequence.objects.values_list("holding", "retired")) == {(None, False)}


def test_a_changed_shipped_document_becomes_the_next_version(script: APIClient) -> None:
    old = Sequence.objects.get(key="corn")
    old.document["purpose"] = "As it was last year."
    old.save()
    (new,) = load_shipped()
    assert (new.key, new.version, new.document["version"]) == ("corn", old.version + 1, old.version + 1)
    assert load_shipped() == []
    assert [row for row in keys(script) if row[0] == "corn"] == [("corn", new.version, True)]


# versions


def test_list_shows_the_newest_version_and_ones_own_before_the_shipped(script: APIClient) -> None:
    save(script)
    assert save(script, name="Oats again")["version"] == 2
    copied = dict(Sequence.objects.get(key="corn").document, name="Our corn")
    answer = script.post("/api/sequences/", {"document": copied}, format="json")
    assert (answer.status_code, answer.json()["version"], answer.json()["shipped"]) == (201, 1, False)
    listed = keys(script)
    assert ("oat_strip", 2, False) in listed
    assert [row for row in listed if row[0] == "corn"] == [("corn", 1, False)]
    assert len(listed) == len({key for key, *_ in listed})
    assert [row for row in keys(script, shipped="false") if row[0] != "corn"] == [("oat_strip", 2, False)]


def test_one_version_is_shown_whole_also_an_old_one(script: APIClient) -> None:
    old, new = save(script), save(script, name="Oats again")
    told = script.get(f"/api/sequences/{old['id']}/").json()
    assert told["document"] == strip_of_oats()
    assert script.get(f"/api/sequences/{new['id']}/").json()["document"]["version"] == 2


def test_every_fault_is_named_and_nothing_is_stored(script: APIClient) -> None:
    document = strip_of_oats()
    document["step"][0].pop("source")
    document["step"][1]["operation"] = "conjure"
    document["link"][0]["min"] = "a while"
    answer = script.post("/api/sequences/", {"document": document}, format="json")
    assert answer.status_code == 400
    errors = answer.json()["errors"]
    assert {error["pointer"].split("/")[1] for error in errors} == {"document"}
    faults = [error["detail"] for error in errors]
    assert any("step till: its dates has no source" in fault for fault in faults)
    assert any("'conjure' is unknown" in fault for fault in faults)
    assert any("'a while' is unreadable" in fault for fault in faults)
    assert not Sequence.objects.filter(holding__isnull=False).exists()


@pytest.mark.parametrize(
    ("document", "said"),
    [
        ([], "one table of words"),
        ("corn", "one table of words"),
        ({"step": 7}, "step: this is a list"),
        (strip_of_oats(crop="dragonfruit"), "dragonfruit"),
        (
            strip_of_oats(
                across=[{"sequences": ["nothing"], "operation": "lime", "to": "till", "source": "common-practice"}]
            ),
            "unknown sequence nothing",
        ),
    ],
)
def test_document_that_is_no_sequence_is_refused_in_words(document: Any, said: str, script: APIClient) -> None:
    answer = script.post("/api/sequences/", {"document": document}, format="json")
    assert answer.status_code == 400
    assert said in answer.content.decode()


def test_a_circle_in_a_document_is_refused(script: APIClient) -> None:
    document = strip_of_oats()
    document["link"].append({"before": "look", "after": "till", "source": "common-practice"})
    answer = script.post("/api/sequences/", {"document": document}, format="json")
    assert answer.status_code == 400
    assert any("till" in error["detail"] and "look" in error["detail"] for error in answer.json()["errors"])


def test_retired_leaves_the_list_with_all_its_versions_and_the_shipped_one_comes_back(script: APIClient) -> None:
    copied = dict(Sequence.objects.get(key="corn").document)
    for _ in range(2):
        own = script.post("/api/sequences/", {"document": copied}, format="json").json()
    assert script.delete(f"/api/sequences/{own['id']}/").status_code == 204
    assert [row for row in keys(script) if row[0] == "corn"] == [("corn", copied["version"], True)]
    assert script.post("/api/sequences/", {"document": copied}, format="json").json()["version"] == 3


def test_shipped_ones_are_not_retired_by_a_holding(script: APIClient) -> None:
    corn = Sequence.objects.get(key="corn")
    answer = script.delete(f"/api/sequences/{corn.pk}/")
    assert answer.status_code == 403
    assert "comes with the program" in answer.json()["detail"]


def test_somebody_elses_sequence_does_not_exist(world: World) -> None:
    url = f"/api/sequences/{world.away.id('sequence')}/"
    script = world.clients["manager"]
    assert script.get(url).status_code == script.delete(url).status_code == 404
    assert script.post(f"{url}apply/", {"plot": world.home.id("plot"), "year": 2026}, format="json").status_code == 404


# applying


def test_applied_to_several_plots_or_to_none(
    script: APIClient, holding: Holding, plot_factory: Callable[..., Plot], world: World
) -> None:
    url = f"/api/sequences/{save(script)['id']}/apply/"
    plots = [plot_factory(holding).pk for _ in range(2)]
    wrong = script.post(url, {"plots": [*plots, world.home.id("plot")], "year": 2027}, format="json")
    assert wrong.status_code == 404
    assert not Season.objects.filter(holding=holding).exists()
    answer = script.post(url, {"plots": plots, "year": 2027, "label": "Strip 27"}, format="json")
    assert answer.status_code == 201
    assert [(season["plot"], season["label"], season["year"]) for season in answer.json()["seasons"]] == [
        (plots[0], "Strip 27", 2027),
        (plots[1], "Strip 27", 2027),
    ]
    assert Job.objects.filter(holding=holding).count() == 8
    assert Prerequisite.objects.filter(holding=holding).count() == 6


def test_the_same_again_adds_nothing(script: APIClient, holding: Holding, plot_factory: Callable[..., Plot]) -> None:
    url, body = f"/api/sequences/{save(script)['id']}/apply/", {"plot": plot_factory(holding).pk, "year": 2027}
    first = script.post(url, body, format="json").json()
    assert script.post(url, body, format="json").json() == first
    assert Job.objects.count() == 4


def test_materials_are_chosen_by_their_role(
    script: APIClient, holding: Holding, plot_factory: Callable[..., Plot], world: World
) -> None:
    oats = Material.objects.create(holding=holding, name="Oats", kind="seed", unit="lb")
    url, plot = f"/api/sequences/{save(script)['id']}/apply/", plot_factory(holding)
    body = {"plot": plot.pk, "year": 2027, "materials": {"oat seed": oats.pk}}
    assert script.post(url, body, format="json").status_code == 201
    assert Need.objects.get(job__plot=plot, kind="material").material == oats
    wrong = script.post(url, {**body, "materials": {"corn seed": oats.pk}}, format="json")
    assert (wrong.status_code, wrong.json()["facts"]) == (422, {"roles": ["oat seed"]})
    foreign = script.post(url, {**body, "materials": {"oat seed": world.home.id("material")}}, format="json")
    assert foreign.status_code == 404


@pytest.mark.parametrize(
    "body",
    [
        {"year": 2027},
        {"plot": 1, "year": 20},
        {"plots": [], "year": 2027},
        {"plot": 1, "plots": [1], "year": 2027},
        {"plots": [1, 1], "year": 2027},
        {"plot": 1},
    ],
)
def test_application_that_makes_no_sense_is_refused(
    body: dict[str, Any], script: APIClient, holding: Holding, plot_factory: Callable[..., Plot]
) -> None:
    pk = plot_factory(holding).pk
    given = {**body, **({"plot": pk} if "plot" in body else {})}
    if "plots" in body:
        given["plots"] = [pk for _ in body["plots"]]
    answer = script.post(f"/api/sequences/{save(script)['id']}/apply/", given, format="json")
    assert answer.status_code == 400, answer.content
    assert not Season.objects.exists()


def test_retired_version_is_not_applied(script: APIClient, holding: Holding, plot_factory: Callable[..., Plot]) -> None:
    pk = save(script)["id"]
    script.delete(f"/api/sequences/{pk}/")
    answer = script.post(f"/api/sequences/{pk}/apply/", {"plot": plot_factory(holding).pk, "year": 2027}, format="json")
    assert (answer.status_code, answer.json()["type"].rpartition("/")[2]) == (422, "retired")


def test_every_shipped_sequence_is_applied_walked_and_explained(
    script: APIClient, holding: Holding, plot_factory: Callable[..., Plot]
) -> None:
    for key, _, _ in keys(script):
        pk = script.get("/api/sequences/", {"key": key}).json()["results"][0]["id"]
        plot = plot_factory(holding, name=key, perimeter_ft=1500.0)
        answer = script.post(f"/api/sequences/{pk}/apply/", {"plot": plot.pk, "year": 2027}, format="json")
        assert answer.status_code == 201, (key, answer.content)
    version = Graph.objects.get(holding=holding).facts_version
    assert script.get("/api/next/", {"after": version}).json()["walked_version"] == version
    jobs = Job.objects.filter(holding=holding).order_by("id")
    assert set(jobs.values_list("reckoning__state", flat=True)) <= set(JobState.values)
    explained = 0
    for job in jobs:
        told = script.get(f"/api/jobs/{job.pk}/why/").json()
        assert told["state"] != "held" or told["holds"]
        assert all(hold["sentence"] and hold["clears"] for hold in told["holds"])
        assert all(step["source_title"] for step in told["chain"])
        explained += 1
    assert explained > 100
