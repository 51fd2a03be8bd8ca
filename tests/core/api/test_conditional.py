"""A row is changed or removed as it was read, or not at all; of two edits of one state exactly one is done."""

from collections.abc import Callable
from threading import Barrier, Thread
from typing import Any

import pytest
from django.db import connections
from django.urls import reverse
from rest_framework.test import APIClient, APIRequestFactory

from core.api.conditional import answered, tag_of
from core.models import Event, Holding, Person
from jobs.models import Job, Reckoning
from jobs.services.walking import walk_holding
from plots.models import Machine
from tests.core.rows import ROWS
from tests.core.world import World, script_of

CHANGED = [
    (name, method) for name, row in sorted(ROWS.items()) for method in ("PATCH", "DELETE") if method in row.methods
]
SHOWN = sorted({name for name, _ in CHANGED})


def ask(world: World, name: str, method: str, match: str | None) -> Any:
    """A manager's request on the thing of home; `match` None sends no If-Match, as a careless script does."""
    row, side = ROWS[name], world.home
    body = row.body[method](side) if method in row.body else {}
    said = {} if match is None else {"HTTP_IF_MATCH": match}
    client = APIClient(raise_request_exception=False)
    client.credentials(**world.clients["manager"]._credentials)
    url = reverse(name, kwargs=dict(row.url(side)))
    return client.generic(method, url, body_of(body), "application/json", **said)


def body_of(body: Any) -> bytes:
    request = APIRequestFactory().post("/", body, format="json")
    return bytes(request.body)


def shown(world: World, name: str, **headers: str) -> Any:
    return world.clients["manager"].get(reverse(name, kwargs=dict(ROWS[name].url(world.home))), headers=headers)


def code_of(answer: Any) -> str:
    assert answer["Content-Type"] == "application/problem+json"
    return str(answer.json()["type"].rpartition("/")[2])


def test_there_are_rows_to_change() -> None:
    assert len(CHANGED) >= 50


@pytest.mark.django_db
@pytest.mark.parametrize(("name", "method"), CHANGED)
def test_a_change_without_the_state_that_was_read_is_not_done(name: str, method: str, world: World) -> None:
    before, events = shown(world, name), Event.objects.count()
    silent = ask(world, name, method, None)
    assert (silent.status_code, code_of(silent)) == (428, "no_match_given")
    stale = ask(world, name, method, '"0123"')
    assert (stale.status_code, code_of(stale)) == (412, "changed_meanwhile")
    assert stale.json()["detail"].startswith("It was changed after you read it. Read it again, then change it.")
    assert stale.json()["facts"] == {"etag": shown(world, name).headers["ETag"]}
    assert Event.objects.count() == events
    if not name.startswith("token"):  # a token tells when it was used last
        assert shown(world, name).content == before.content


@pytest.mark.django_db
@pytest.mark.parametrize(("name", "method"), CHANGED)
def test_whatever_it_is_now_is_a_state_too(name: str, method: str, world: World) -> None:
    assert ask(world, name, method, "*").status_code in (200, 204)


@pytest.mark.django_db
@pytest.mark.parametrize("name", SHOWN)
def test_one_row_is_shown_with_its_tag_and_not_twice(name: str, world: World) -> None:
    first = shown(world, name)
    tag = first.headers["ETag"]
    assert tag == tag_of(first.data)
    again = shown(world, name, if_none_match=f'W/"other", {tag}')
    assert (again.status_code, again.content, again.headers["ETag"]) == (304, b"", tag)
    assert shown(world, name, if_none_match='"other"').status_code == 200


@pytest.mark.django_db
def test_the_answer_to_a_change_carries_the_tag_for_the_next(manager: Person, holding: Holding) -> None:
    drill, script = Machine.objects.create(holding=holding, name="Drill", kind="planter"), script_of(manager)
    url = f"/api/machines/{drill.pk}/"
    tag = script.get(url).headers["ETag"]
    for name in ("One", "Two", "Three"):
        answer = script.patch(url, {"name": name, "width_ft": 7}, format="json", HTTP_IF_MATCH=tag)
        assert answer.status_code == 200
        assert answer.headers["ETag"] not in ("", tag)
        tag = answer.headers["ETag"]
        assert script.get(url).headers["ETag"] == tag


@pytest.mark.django_db
@pytest.mark.parametrize("said", ["W/{tag}", "{bare}", '"a" "b"', "", '{tag}x"'])
def test_a_weak_or_mangled_tag_matches_nothing(said: str, manager: Person, holding: Holding) -> None:
    drill, script = Machine.objects.create(holding=holding, name="Drill", kind="planter"), script_of(manager)
    url = f"/api/machines/{drill.pk}/"
    tag = script.get(url).headers["ETag"]
    wrong = said.format(tag=tag, bare=tag.strip('"')) if said != '{tag}x"' else tag[:-1] + 'x"'
    assert script.patch(url, {"name": "New"}, format="json", HTTP_IF_MATCH=wrong).status_code == 412
    assert script.patch(url, {"name": "New"}, format="json", HTTP_IF_MATCH=f'"a", {tag}').status_code == 200


@pytest.mark.django_db
def test_a_changed_derived_value_is_another_state(
    manager: Person, holding: Holding, job_factory: Callable[..., Job]
) -> None:
    job, script = job_factory(holding, "Till"), script_of(manager)
    url = f"/api/jobs/{job.pk}/"
    before = script.get(url).headers["ETag"]
    walk_holding(holding.pk)
    assert Reckoning.objects.filter(job=job).exists()
    assert script.patch(url, {"title": "New"}, format="json", HTTP_IF_MATCH=before).status_code == 412
    assert script.patch(url, {"title": "New"}, format="json").status_code == 200


def test_a_list_of_bytes_makes_one_tag() -> None:
    request: Any = APIRequestFactory().get("/")
    request.headers.get("If-None-Match")
    told = answered(request, {"b": 1, "a": [2.0, None]})
    assert told.headers["ETag"] == tag_of({"b": 1, "a": [2.0, None]}) != tag_of({"b": 1, "a": [2.5, None]})


@pytest.mark.django_db(transaction=True)
def test_of_edits_of_one_state_at_once_exactly_one_is_done(manager: Person, holding: Holding) -> None:
    drill = Machine.objects.create(holding=holding, name="Drill", kind="planter")
    url = f"/api/machines/{drill.pk}/"
    for number in range(10):
        tag = script_of(manager).get(url).headers["ETag"]
        start, answers = Barrier(4, timeout=30), list[Any]()

        def edit(name: str, tag: str = tag, start: Barrier = start, answers: list[Any] = answers) -> None:
            script = script_of(manager)
            try:
                start.wait()
                answers.append((name, script.patch(url, {"name": name}, format="json", HTTP_IF_MATCH=tag)))
            finally:
                connections.close_all()

        threads = [Thread(target=edit, args=(f"{number} by {who}",)) for who in range(4)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        assert sorted(answer.status_code for _, answer in answers) == [200, 412, 412, 412]
        (won,) = [name for name, answer in answers if answer.status_code == 200]
        drill.refresh_from_db()
        assert drill.name == won
        assert {a.json()["facts"]["etag"] for _, a in answers if a.status_code == 412} == {
            a.headers["ETag"] for _, a in answers if a.status_code == 200
        }
