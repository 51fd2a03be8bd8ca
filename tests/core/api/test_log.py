"""The log of changes and the reminders, to look at."""

import pytest

from core.models import Person
from tests.core.world import World, script_of

pytestmark = pytest.mark.django_db


def test_every_write_by_api_leaves_who_what_and_values(manager: Person) -> None:
    script = script_of(manager)
    made = script.post("/api/skills/", {"name": "saw"}, format="json").json()
    script.patch(f"/api/skills/{made['id']}/", {"name": "chain saw"}, format="json")
    script.delete(f"/api/skills/{made['id']}/")
    lines = script.get("/api/events/", {"object": "skill"}).json()["results"]
    assert [(line["verb"], line["change"]) for line in lines] == [
        ("removed", {}),
        ("changed", {"name": "chain saw"}),
        ("added", {"name": "saw"}),
    ]
    assert {line["person"] for line in lines} == {manager.pk}
    assert {line["object_id"] for line in lines} == {made["id"]}


def test_people_see_their_own_reminders_and_managers_all(world: World) -> None:
    assert [line["person"] for line in world.clients["helper"].get("/api/notices/").json()["results"]] == [
        world.home.helper.pk
    ]
    assert world.clients["viewer"].get("/api/notices/").json()["count"] == 0
    assert world.clients["manager"].get("/api/notices/").json()["count"] == 1
