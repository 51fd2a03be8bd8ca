"""The holding and who asks."""

from datetime import UTC, datetime

import pytest

from core.models import Holding, Person
from tests.core.world import script_of

pytestmark = pytest.mark.django_db


def test_me_says_who_where_and_that_the_clock_stands(helper_person: Person, holding: Holding) -> None:
    Holding.objects.filter(pk=holding.pk).update(clock_at=datetime(2026, 4, 16, 23, 30, tzinfo=UTC))
    answer = script_of(helper_person, "read").get("/api/me/").json()
    assert answer["name"] == helper_person.name
    assert answer["holding"]["id"] == holding.pk
    assert (answer["now"], answer["clock_stands"]) == ("2026-04-16T23:30:00Z", True)
    assert (answer["zone"], answer["token_kind"]) == ("America/Chicago", "read")


def test_clock_of_a_real_holding_does_not_stand(manager: Person) -> None:
    assert script_of(manager).get("/api/me/").json()["clock_stands"] is False


def test_manager_changes_name_zone_and_units_alone(manager: Person, holding: Holding) -> None:
    script = script_of(manager)
    changed = script.patch("/api/holding/", {"units": "metric", "zone": "America/Denver"}, format="json")
    assert (changed.status_code, changed.json()["units"]) == (200, "metric")
    for field in ("clock_at", "state", "id", "key"):
        refused = script.patch("/api/holding/", {field: None}, format="json")
        assert refused.json()["errors"][0]["pointer"] == f"#/{field}"
    holding.refresh_from_db()
    assert (holding.zone, holding.clock_at, holding.state) == ("America/Denver", None, "active")
