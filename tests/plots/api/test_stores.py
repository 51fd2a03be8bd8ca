"""Machines, materials and stock by API."""

import pytest

from tests.core.world import World

pytestmark = pytest.mark.django_db


def test_stock_is_the_sum_of_all_movements(world: World) -> None:
    script, material = world.clients["manager"], world.home.id("material")
    url = f"/api/materials/{material}/"
    assert script.get(url).json()["stock"] == 50.0
    for quantity in (0.1, 0.2, -20.3):
        body = {"material": material, "quantity": quantity, "at": "2026-04-02T08:00:00-05:00"}
        assert script.post("/api/stock-moves/", body, format="json").status_code == 201
    assert script.get(url).json()["stock"] == 30.0
    listed = script.get("/api/materials/").json()["results"]
    assert [line["stock"] for line in listed if line["id"] == material] == [30.0]


def test_new_material_has_no_stock(world: World) -> None:
    body = {"name": "Rye", "kind": "seed", "unit": "lb"}
    assert world.clients["manager"].post("/api/materials/", body, format="json").json()["stock"] == 0.0


def test_movement_of_nothing_is_refused(world: World) -> None:
    body = {"material": world.home.id("material"), "quantity": 0, "at": "2026-04-02T12:00:00Z"}
    answer = world.clients["manager"].post("/api/stock-moves/", body, format="json")
    assert (answer.status_code, answer.json()["detail"]) == (400, "A movement is not 0.")


def test_time_without_offset_is_refused(world: World) -> None:
    body = {"material": world.home.id("material"), "quantity": 5, "at": "2026-04-02T12:00:00"}
    answer = world.clients["manager"].post("/api/stock-moves/", body, format="json")
    assert answer.status_code == 400
    assert "offset from UTC" in answer.json()["detail"]


def test_lot_must_be_of_the_material(world: World) -> None:
    script = world.clients["manager"]
    rye = script.post("/api/materials/", {"name": "Rye", "kind": "seed", "unit": "lb"}, format="json").json()
    body = {"material": rye["id"], "lot": world.home.id("lot"), "quantity": 5, "at": "2026-04-02T12:00:00Z"}
    answer = script.post("/api/stock-moves/", body, format="json")
    assert answer.status_code == 400
    assert answer.json()["errors"][0]["pointer"] == "#/lot"


def test_which_report_used_it_up_is_not_written_by_hand(world: World) -> None:
    body = {"material": world.home.id("material"), "quantity": -5, "at": "2026-04-02T12:00:00Z", "report_id": 7}
    answer = world.clients["manager"].post("/api/stock-moves/", body, format="json")
    assert answer.json()["errors"][0] == {
        "pointer": "#/report_id",
        "code": "invalid",
        "detail": "This field cannot be written.",
    }


@pytest.mark.parametrize("figure", [{"width_ft": 0}, {"width_ft": 201}, {"speed_mph": 61}, {"efficiency": 1.1}])
def test_figures_of_a_machine_have_their_range(figure: dict[str, float], world: World) -> None:
    answer = world.clients["manager"].patch(f"/api/machines/{world.home.id('machine')}/", figure, format="json")
    assert answer.status_code == 400
    assert "at most 200 ft" in answer.json()["detail"]


def test_reference_data_is_the_same_for_all_and_not_written(world: World) -> None:
    for asker in ("viewer", "stranger"):
        assert world.clients[asker].get("/api/crops/oats/").json()["name"] == "Oats"
    assert world.clients["manager"].patch("/api/crops/oats/", {"name": "x"}, format="json").status_code == 405
