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


@pytest.mark.parametrize(
    "query",
    [
        {"active": "maybe"},
        {"active": "null"},
        {"active": ""},
        {"active": ["true", "false"]},
        {"page_size": "many"},
        {"page_size": "0"},
    ],
)
def test_filter_that_says_nothing_clear_is_refused_instead_of_passed_over(
    query: dict[str, object], manager: Person
) -> None:
    answer = script_of(manager).get("/api/people/", query)
    assert answer.status_code == 400
    assert [error["pointer"] for error in answer.json()["errors"]] == [f"#/{name}" for name in query]


def test_filter_by_a_truth_value_tells_both_apart(manager: Person, helper_person: Person) -> None:
    helper_person.active = False
    helper_person.save()
    client = script_of(manager)
    for asked, expected in (("true", manager.pk), ("false", helper_person.pk)):
        lines = client.get("/api/people/", {"active": asked}).json()["results"]
        assert [line["id"] for line in lines] == [expected]
