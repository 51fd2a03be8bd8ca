"""Every route, every method, everybody who may ask, own things and another holding's: found from the addresses."""

import re
from typing import Any

import pytest
from django.db import transaction
from django.test import Client
from django.urls import reverse
from rest_framework import serializers
from rest_framework.test import APIClient

from core.models import Graph, Person, User
from tests.core.addresses import pages, patterns, routes, view_of
from tests.core.matrix import NOBODY, Row
from tests.core.rows import PAGES, ROWS
from tests.core.world import Side, World

pytestmark = pytest.mark.once
METHODS = ("GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS")
NEVER = 987_654_321
"""An id that nothing has."""


def ask(client: APIClient, method: str, row: Row, name: str, side: Side) -> Any:
    url = reverse(name, kwargs=dict(row.url(side)))
    body = row.body[method](side) if method in row.body else None
    return client.generic(method, url) if body is None else getattr(client, method.lower())(url, body, format=row.sends)


def asked_and_undone(client: APIClient, method: str, row: Row, name: str, side: Side) -> Any:
    """The answer, and everything as before."""
    with transaction.atomic():
        answer = ask(client, method, row, name, side)
        transaction.set_rollback(True)
    return answer


def test_every_route_of_the_api_has_a_row_and_every_row_a_route() -> None:
    addresses = [str(entry.name) for address, entry in patterns() if address.startswith("api/")]
    assert sorted(addresses) == sorted(set(addresses)), "a name stands twice"
    assert set(addresses) == set(ROWS)


def test_no_page_and_no_route_share_a_name() -> None:
    assert not set(pages()) & set(routes())


def test_every_page_has_a_row_and_every_row_a_page() -> None:
    assert set(pages()) == set(PAGES)


@pytest.mark.parametrize("name", sorted(ROWS))
def test_route_answers_everybody_as_its_row_says(name: str, world: World) -> None:
    row, wrong = ROWS[name], []
    for asker, client in world.clients.items():
        asked = METHODS if asker in ("anonymous", "manager") else [m for m in METHODS if m in row.methods]
        for method in asked:
            names_a_thing = row.detail or method in row.crossing
            sides = (world.home, world.away) if names_a_thing and asker not in NOBODY else (world.home,)
            for side in sides:
                answer = asked_and_undone(client, method, row, name, side)
                expected = row.expected(method, asker, side is world.away)
                if answer.status_code not in expected:
                    told = answer.content[:200].decode()
                    wrong.append(f"{method} by {asker} on {side.holding}: {answer.status_code}, not {expected}: {told}")
                if answer.status_code >= 400 and method != "HEAD":
                    assert answer["Content-Type"] == "application/problem+json"
    assert not wrong, "\n".join(wrong)


@pytest.mark.parametrize("name", sorted(name for name, row in ROWS.items() if row.detail and not row.shared))
def test_what_is_another_holdings_answers_like_what_never_was(name: str, world: World) -> None:
    row, compared = ROWS[name], 0
    client = world.clients["manager"]
    for method in row.methods:
        foreign = asked_and_undone(client, method, row, name, world.away)
        arguments = {key: NEVER if isinstance(value, int) else value for key, value in row.url(world.away).items()}
        body = row.body[method](world.away) if method in row.body else {}
        never = getattr(client, method.lower())(reverse(name, kwargs=arguments), body, format="json")
        assert foreign.status_code == never.status_code == 404
        assert {**foreign.json(), "instance": ""} == {**never.json(), "instance": ""}
        compared += 1
    assert compared


@pytest.mark.parametrize("name", sorted(name for name, row in ROWS.items() if row.thing and not row.detail))
def test_list_shows_what_is_ones_own_and_nothing_of_another_holding(name: str, world: World) -> None:
    row = ROWS[name]
    for asker in ("manager", "helper", "other_crew", "viewer", "stranger"):
        answer = world.clients[asker].get(reverse(name))
        if answer.status_code != 200:
            continue
        key = world.home.things[row.thing]._meta.pk.name
        shown = [line[key] for line in answer.json()["results"]]
        own, foreign = (world.away, world.home) if asker == "stranger" else (world.home, world.away)
        assert (own.id(row.thing) in shown) is (asker not in row.hidden), asker
        assert row.shared or foreign.id(row.thing) not in shown, asker


def ids_in(home: Any, away: Any, at: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """Where two bodies of one make name different rows: the places of ids."""
    if isinstance(home, dict):
        return [place for key in home for place in ids_in(home[key], away[key], (*at, key))]
    if isinstance(home, list):
        return [place for n, inner in enumerate(home) for place in ids_in(inner, away[n], (*at, n))]
    return [at] if isinstance(home, int) and home != away else []


def with_id(body: Any, at: tuple[Any, ...], value: Any) -> Any:
    if not at:
        return value
    changed = dict(body) if isinstance(body, dict) else list(body)
    changed[at[0]] = with_id(body[at[0]], at[1:], value)
    return changed


def crossing_bodies() -> list[tuple[str, str]]:
    return [(name, method) for name, row in sorted(ROWS.items()) for method in sorted(row.crossing)]


@pytest.mark.parametrize(("name", "method"), crossing_bodies())
def test_each_id_of_another_holding_in_a_body_answers_like_one_that_never_was(
    name: str, method: str, world: World
) -> None:
    row = ROWS[name]
    own = row.body[method](world.home)
    places = ids_in(own, row.body[method](world.away))
    assert places, "a body that crosses names an id"
    url = reverse(name, kwargs=dict(row.url(world.home)))
    for at in places:
        foreign = row.body[method](world.away)
        for key in at:
            foreign = foreign[key]
        said = []
        for value in (foreign, NEVER):
            with transaction.atomic():
                body = with_id(row.body[method](world.home), at, value)
                answer = getattr(world.clients["manager"], method.lower())(url, body, format=row.sends)
                transaction.set_rollback(True)
            said.append((answer.status_code, re.sub(rf"\b{value}\b".encode(), b"#", answer.content)))
        assert said[0] == said[1], at
        assert said[0][0] in (400, 404), (at, said)


def listed_views() -> list[tuple[str, str]]:
    """(route, filter) of every filter of every list that takes an id."""
    found = []
    for name in routes():
        view = view_of(name)
        fields = getattr(view, "filterset_fields", None)
        if not fields or not name.endswith("-list"):
            continue
        for field_name in fields:
            if view.queryset.model._meta.get_field(field_name).is_relation:
                found.append((name, field_name))
    return sorted(found)


@pytest.mark.parametrize(("name", "filtered"), listed_views())
def test_filter_by_another_holdings_id_answers_like_one_that_never_was(name: str, filtered: str, world: World) -> None:
    model = view_of(name).queryset.model
    related = model._meta.get_field(filtered).related_model
    foreign = related._default_manager.order_by("-pk").first()
    owner = getattr(foreign, "holding_id", None) or getattr(foreign, "owner_id", None)
    assert owner == world.away.holding.pk
    client = world.clients["manager"]
    answers = [client.get(reverse(name), {filtered: asked}) for asked in (foreign.pk, NEVER)]
    assert [answer.status_code for answer in answers] == [200, 200]
    assert answers[0].json()["results"] == answers[1].json()["results"] == []


def writes() -> list[tuple[str, str]]:
    return [
        (name, method)
        for name, row in sorted(ROWS.items())
        for method in sorted({"POST", "PATCH", "DELETE"} & row.methods.keys())
        if not row.anybody  # what is signed instead of signed in has tests of its own
    ]


@pytest.mark.parametrize(("name", "method"), writes())
def test_every_write_of_a_fact_wakes_the_walk(name: str, method: str, world: World) -> None:
    graph = Graph.objects.filter(holding=world.home.holding)
    before = graph.get().facts_version
    answer = ask(world.clients["manager"], method, ROWS[name], name, world.home)
    assert answer.status_code < 300
    assert (graph.get().facts_version > before) is (method not in ROWS[name].quiet)


def written_details() -> list[str]:
    return sorted(
        name for name, row in ROWS.items() if row.detail and "PATCH" in row.methods and not name.startswith("token")
    )


@pytest.mark.parametrize("name", written_details())
def test_fields_that_are_not_writable_stay_as_they_are(name: str, world: World) -> None:
    row, client = ROWS[name], world.clients["manager"]
    thing = world.home.things[row.thing]
    serializer: serializers.ModelSerializer[Any] = view_of(name).serializer_class()
    writable = {key for key, bound in serializer.fields.items() if not bound.read_only}
    closed = {bound.name for bound in thing._meta.concrete_fields} - writable
    assert {"id"} <= closed
    before = type(thing)._default_manager.filter(pk=thing.pk).values().get()
    for field_name in sorted(closed):
        answer = client.patch(reverse(name, kwargs=dict(row.url(world.home))), {field_name: 1}, format="json")
        assert answer.status_code == 400, field_name
        assert [error["pointer"] for error in answer.json()["errors"]] == [f"#/{field_name}"]
    assert type(thing)._default_manager.filter(pk=thing.pk).values().get() == before


def test_serializers_list_their_fields_by_name() -> None:
    checked = 0
    for name in routes():
        kind = getattr(view_of(name), "serializer_class", None)
        if kind is not None and issubclass(kind, serializers.ModelSerializer):
            assert isinstance(kind.Meta.fields, list)
            checked += 1
    assert checked >= 40


def signed_in(person: Person | None) -> Client:
    client = Client(raise_request_exception=False)
    if person is not None:
        person.user = User.objects.create(email=f"someone{person.pk}@example.org")
        person.save()
        client.force_login(person.user, backend="django.contrib.auth.backends.ModelBackend")
    return client


@pytest.mark.parametrize("name", sorted(PAGES))
def test_page_answers_everybody_as_its_row_says(name: str, world: World) -> None:
    page, home, away = PAGES[name], world.home, world.away
    url = reverse(name, kwargs=dict(page.url(home)))
    askers: dict[str, tuple[Person | None, Side]] = {
        "anonymous": (None, home),
        "manager": (home.manager, home),
        "helper": (home.helper, home),
        "other_crew": (home.other_crew, home),
        "viewer": (home.viewer, home),
        "stranger": (away.manager, away),
    }
    for asker, (person, own) in askers.items():
        with transaction.atomic():
            client = signed_in(person)
            answer = client.get(url) if page.form is None else client.post(url, page.form(own))
            transaction.set_rollback(True)
        if person is not None:
            assert answer.status_code == page.expected(asker, person.role), asker
        elif page.anybody is not None:
            assert answer.status_code == page.anybody
        else:
            assert answer.status_code == 302
            assert answer["Location"].startswith(reverse("sign-in"))


def test_admin_is_for_managers_and_staff_alone(world: World) -> None:
    home = world.home
    assert [signed_in(who).get("/admin/").status_code for who in (None, home.helper, home.viewer)] == [302] * 3
    manager = signed_in(home.manager)
    assert manager.get("/admin/").status_code == 200
    home.manager.active = False
    home.manager.save()
    assert manager.get("/admin/").status_code == 302
