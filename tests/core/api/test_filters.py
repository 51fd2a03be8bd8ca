"""Filters narrow a list, and what they do not know they refuse."""

import pytest

from core.models import Holding, Person
from tests.core.world import script_of

pytestmark = pytest.mark.django_db


def test_role_narrows_the_people(manager: Person, helper_person: Person, viewer: Person) -> None:
    lines = script_of(manager).get("/api/people/", {"role": "helper"}).json()["results"]
    assert [line["id"] for line in lines] == [helper_person.pk]


def test_value_that_is_no_choice_is_refused_with_its_parameter(manager: Person) -> None:
    answer = script_of(manager).get("/api/people/", {"role": "king"})
    assert (answer.status_code, answer.json()["errors"][0]["pointer"]) == (400, "#/role")


def test_unknown_filter_is_refused_and_the_known_are_told(manager: Person) -> None:
    answer = script_of(manager).get("/api/people/", {"rôle": "helper"})
    assert answer.status_code == 400
    assert answer.json()["detail"] == "This filter is not known here. Known: active, name, page, page_size, role."


def test_id_past_every_table_is_refused_or_empty(manager: Person, holding: Holding) -> None:
    script = script_of(manager)
    assert script.get("/api/free-times/", {"person": str(2**63 - 1)}).json()["count"] == 0
    assert script.get("/api/free-times/", {"person": str(2**63)}).status_code == 400
