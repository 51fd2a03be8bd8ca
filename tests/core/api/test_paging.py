"""Lists come in pages of bounded size and depth, in a fixed order."""

import pytest

from core.models import Holding, Person, Skill
from tests.core.world import script_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def skills(holding: Holding) -> list[str]:
    names = [f"skill {number:03}" for number in range(230)]
    Skill.objects.bulk_create(Skill(holding=holding, name=name) for name in names)
    return names


def test_page_holds_fifty_and_names_the_next(manager: Person, skills: list[str]) -> None:
    answer = script_of(manager).get("/api/skills/").json()
    assert list(answer) == ["count", "next", "previous", "results"]
    assert answer["count"] == 230
    assert [line["name"] for line in answer["results"]] == skills[:50]
    assert answer["next"].endswith("/api/skills/?page=2")


def test_page_holds_two_hundred_at_most(manager: Person, skills: list[str]) -> None:
    answer = script_of(manager).get("/api/skills/", {"page_size": "100000"}).json()
    assert len(answer["results"]) == 200


def test_pages_together_show_every_row_once(manager: Person, skills: list[str]) -> None:
    script, url, seen = script_of(manager), "/api/skills/?page_size=60", []
    while url:
        answer = script.get(url).json()
        seen += [line["name"] for line in answer["results"]]
        url = answer["next"]
    assert seen == skills


def test_page_past_the_end_is_not_found(manager: Person, skills: list[str]) -> None:
    answer = script_of(manager).get("/api/skills/", {"page": "6"})
    assert (answer.status_code, answer.json()["detail"]) == (404, "This list has no such page: it ends before it.")


@pytest.mark.parametrize("page", ["0", "-1", "two", ""])
def test_a_page_that_is_no_number_from_one_on_is_refused(page: str, manager: Person) -> None:
    answer = script_of(manager).get("/api/skills/", {"page": page})
    assert answer.status_code == 400
    assert [error["pointer"] for error in answer.json()["errors"]] == ["#/page"]


def test_list_ends_at_row_one_hundred_thousand(manager: Person) -> None:
    answer = script_of(manager).get("/api/skills/", {"page": "2001"})
    assert answer.status_code == 400
    assert "Narrow the list" in answer.json()["detail"]


def test_list_takes_the_same_queries_whatever_its_length(
    manager: Person, skills: list[str], django_assert_num_queries: object
) -> None:
    script = script_of(manager)
    script.get("/api/skills/")
    for size in ("1", "200"):
        with django_assert_num_queries(3):  # type: ignore[operator]
            script.get("/api/skills/", {"page_size": size})
