"""Properties, plots and what hangs on them by API."""

import pytest

from core.models import Graph, Person
from tests.core.world import World, script_of

pytestmark = pytest.mark.django_db

SQUARE = {
    "type": "Polygon",
    "coordinates": [[[-91.1, 40.1], [-91.099, 40.1], [-91.099, 40.101], [-91.1, 40.101], [-91.1, 40.1]]],
}


def test_property_gets_its_zone_and_keeps_its_boundary(manager: Person) -> None:
    body = {"name": "Hill", "latitude": 40.1, "longitude": -91.1, "boundary": SQUARE}
    made = script_of(manager).post("/api/properties/", body, format="json")
    assert made.status_code == 201
    assert made.json()["zone"] == "America/Chicago"
    assert made.json()["boundary"]["type"] == "Polygon"


@pytest.mark.parametrize(("latitude", "longitude"), [(90.5, 0), (0, 181), (-91, 0)])
def test_place_off_the_globe_is_refused(latitude: float, longitude: float, manager: Person) -> None:
    body = {"name": "Hill", "latitude": latitude, "longitude": longitude}
    answer = script_of(manager).post("/api/properties/", body, format="json")
    assert answer.status_code == 400
    assert "between -90 and 90" in answer.json()["detail"]


def test_plot_answers_measured_and_typed_acres(world: World) -> None:
    script = world.clients["manager"]
    body = {"name": "Bench", "property": world.home.id("property"), "polygon": SQUARE}
    made = script.post("/api/plots/", body, format="json").json()
    assert made["acres"] == made["acres_geodesic"] == pytest.approx(2.339, abs=0.005)
    url = f"/api/plots/{made['id']}/"
    assert script.patch(url, {"acres_typed": 2.0}, format="json").json()["acres"] == 2.0
    refused = script.patch(url, {"acres_geodesic": 9.0}, format="json")
    assert refused.json()["errors"][0]["pointer"] == "#/acres_geodesic"
    assert script.get(url).json()["acres_geodesic"] == made["acres_geodesic"]


def test_outline_that_crosses_itself_is_refused_at_its_field(world: World) -> None:
    crossed = {
        "type": "Polygon",
        "coordinates": [[[-91.1, 40.1], [-91, 40.2], [-91, 40.1], [-91.1, 40.2], [-91.1, 40.1]]],
    }
    body = {"name": "Bench", "property": world.home.id("property"), "polygon": crossed}
    answer = world.clients["manager"].post("/api/plots/", body, format="json")
    assert answer.status_code == 400
    assert answer.json()["errors"][0]["pointer"] == "#/polygon"
    assert "crosses" in answer.json()["detail"]


def test_plots_are_filtered_by_property_and_kind(world: World) -> None:
    script, place = world.clients["helper"], world.home.id("new_property")
    body = {"name": "Round the pond", "property": place, "kind": "trail", "acres_typed": 0.4}
    trail = world.clients["manager"].post("/api/plots/", body, format="json").json()["id"]
    for query, found in (
        ({"property": place}, [trail]),
        ({"property": place, "kind": "trail"}, [trail]),
        ({"property": place, "kind": "food_plot"}, []),
        ({"property": world.home.id("property"), "kind": "trail"}, []),
    ):
        assert [line["id"] for line in script.get("/api/plots/", query).json()["results"]] == found, query
    assert script.get("/api/plots/", {"kind": "moon"}).status_code == 400


@pytest.mark.parametrize("path", ["quiet-times", "contracts"])
def test_plot_must_lie_on_the_property(path: str, world: World) -> None:
    home = world.home
    days = {"first_day": "2026-11-01", "last_day": "2026-11-15"}
    body = {**days, "property": home.id("new_property"), "plot": home.id("plot")}
    body |= {"reason": "season"} if path == "quiet-times" else {"practice": "grass"}
    answer = world.clients["manager"].post(f"/api/{path}/", body, format="json")
    assert answer.status_code == 400
    assert answer.json()["errors"] == [
        {"pointer": "#/plot", "code": "invalid", "detail": "This plot lies on another property."}
    ]


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"last_day": "2026-10-31"}, "end before they start"),
        ({"from_time": "08:00"}, "both hours or none"),
        ({"from_time": "09:00", "to_time": "08:00"}, "end before they start"),
        ({"kind": "only"}, "two hours"),
        ({"first_day": "1899-12-31"}, "1900"),
        ({"first_day": "2026-02-30"}, "Date"),
    ],
)
def test_quiet_days_must_make_sense(change: dict[str, str], told: str, world: World) -> None:
    body = {
        "property": world.home.id("property"),
        "first_day": "2026-11-01",
        "last_day": "2026-11-15",
        "reason": "season",
    }
    answer = world.clients["manager"].post("/api/quiet-times/", {**body, **change}, format="json")
    assert answer.status_code == 400
    assert told in answer.content.decode()


@pytest.mark.parametrize("closed", [("04-31", "08-01"), ("4-15", "08-01"), ("04-15", ""), ("13-01", "08-01")])
def test_closed_season_is_two_real_days_of_the_year(closed: tuple[str, str], world: World) -> None:
    body = {
        "property": world.home.id("property"),
        "practice": "grass",
        "first_day": "2026-01-01",
        "last_day": "2030-12-31",
        "closed_from": "04-15",
        "closed_to": "08-01",
    }
    script = world.clients["manager"]
    assert script.post("/api/contracts/", body, format="json").status_code == 201
    wrong = {**body, "closed_from": closed[0], "closed_to": closed[1]}
    assert script.post("/api/contracts/", wrong, format="json").status_code == 400


def test_soil_ph_has_its_range_and_a_day_one_test(world: World) -> None:
    script, plot = world.clients["manager"], world.home.id("plot")
    for ph, status in ((2.9, 400), (3.0, 201)):
        assert (
            script.post("/api/soil-tests/", {"plot": plot, "on": "2026-06-01", "ph": ph}, format="json").status_code
            == status
        )
    again = script.post("/api/soil-tests/", {"plot": plot, "on": "2026-06-01", "ph": 6.0}, format="json")
    assert again.json()["detail"] == "A soil test of this day is stored already."


def test_consent_not_yet_given_is_found(world: World) -> None:
    script = world.clients["helper"]
    assert script.get("/api/consents/", {"given_on__isnull": "true"}).json()["count"] == 1
    assert script.get("/api/consents/", {"given_on__isnull": "false"}).json()["count"] == 0


def test_people_to_tell_first_are_for_managers_and_wake_the_walk(world: World) -> None:
    land = world.home.id("property")
    body = {"property": land, "hazard": "pesticide", "name": "Ida Moss", "role": "beekeeper", "reach": "555-0117"}
    manager = world.clients["manager"]
    before = Graph.objects.get(pk=world.home.holding.pk).facts_version
    made = manager.post("/api/tell-first/", body, format="json")
    assert (made.status_code, made.json()["lead_hours"]) == (201, 24)
    assert Graph.objects.get(pk=world.home.holding.pk).facts_version > before
    assert world.clients["helper"].get("/api/tell-first/").status_code == 403
    again = manager.post("/api/tell-first/", body, format="json")
    assert (again.status_code, again.json()["detail"]) == (400, "They are listed for this already.")


def test_somebody_to_tell_first_is_named_for_an_operation_or_a_hazard(world: World) -> None:
    body = {"property": world.home.id("property"), "name": "Ida Moss", "role": "beekeeper", "reach": "555-0117"}
    for wrong in ({"operation": "spray", "hazard": "pesticide"}, {"lead_hours": 0}, {"lead_hours": 721}):
        answer = world.clients["manager"].post("/api/tell-first/", body | wrong, format="json")
        assert answer.status_code == 400, wrong
