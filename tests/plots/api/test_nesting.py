"""A contract made through the API takes its nesting days from its state, and its own days go before."""

from __future__ import annotations

import pytest

from tests.core.api_clients import world
from tests.core.world import World

__all__ = ["world"]


@pytest.mark.django_db
def test_a_contract_is_filled_in_from_its_state_and_its_own_days_go_before(world: World) -> None:
    script = world.clients["manager"]
    body = {
        "property": world.home.id("property"), "practice": "cover", "first_day": "2020-01-01",
        "last_day": "2030-12-31", "state": "il",
    }  # fmt: skip
    made = script.post("/api/contracts/", body, format="json").json()
    assert (made["closed_from"], made["closed_to"]) == ("04-15", "08-01")
    assert made["source"].startswith("Nesting season of IL: FSA bulletin")
    own = {"closed_from": "05-01", "closed_to": "06-30", "source": "contract, page 2"}
    kept = script.post("/api/contracts/", body | own, format="json").json()
    assert {name: kept[name] for name in own} == own
    refused = script.post("/api/contracts/", body | {"state": "NE"}, format="json")
    assert refused.status_code == 400
    assert "Type the days that stand in the contract" in refused.json()["detail"]
