"""People, free hours, certificates and crews by API."""

from datetime import datetime, timedelta

import pytest
from django.conf import settings
from django.test import Client
from django.utils import timezone

from core.models import Holding, Invitation, Person, Way
from tests.core.world import World, script_of

pytestmark = pytest.mark.django_db


def test_managers_see_all_of_people_and_others_name_and_role(world: World) -> None:
    full = world.clients["manager"].get("/api/people/").json()["results"]
    assert {frozenset(line) for line in full} == {frozenset({"id", "name", "role", "zone", "active", "evening_at"})}
    for asker in ("helper", "viewer", "other_crew"):
        brief = world.clients[asker].get("/api/people/").json()["results"]
        assert {frozenset(line) for line in brief} == {frozenset({"id", "name", "role"})}
        assert len(brief) == len(full)


def test_nobody_but_managers_meets_an_address(world: World) -> None:
    address = Way.objects.get(holding=world.home.holding).address
    for asker in ("helper", "viewer", "other_crew"):
        for path in ("people", "crews", "free-times", "certificates", "notices", "ways", "events", "me"):
            assert address not in world.clients[asker].get(f"/api/{path}/").content.decode()
    assert address in world.clients["manager"].get("/api/ways/").content.decode()


def test_same_name_twice_is_refused_in_the_tables_words(manager: Person) -> None:
    script = script_of(manager)
    script.post("/api/people/", {"name": "Ada"}, format="json")
    answer = script.post("/api/people/", {"name": "Ada"}, format="json")
    assert answer.status_code == 400
    assert answer.json()["detail"] == "A person of this name is in the holding already."


def test_last_manager_cannot_leave_by_api(manager: Person) -> None:
    answer = script_of(manager).patch(f"/api/people/{manager.pk}/", {"role": "helper"}, format="json")
    assert answer.status_code == 422
    assert answer.json()["type"].endswith("last_manager")


def test_zone_must_be_one(manager: Person) -> None:
    answer = script_of(manager).patch(f"/api/people/{manager.pk}/", {"zone": "Mars/Base"}, format="json")
    assert answer.status_code == 400
    assert answer.json()["detail"] == "Mars/Base is no time zone. Give a name like America/Chicago."


def test_free_hours_that_end_before_they_start_are_refused(manager: Person) -> None:
    body = {"person": manager.pk, "weekday": 5, "starts": "12:00", "ends": "08:00"}
    answer = script_of(manager).post("/api/free-times/", body, format="json")
    assert answer.status_code == 400
    assert answer.json()["detail"] == "Free hours end before they start. Give an end after the start."


def test_certificate_may_have_no_end_and_not_one_before_its_start(world: World) -> None:
    script, home = world.clients["manager"], world.home
    body = {"person": home.manager.pk, "skill": home.id("skill"), "valid_from": "2026-05-01"}
    good = script.post("/api/certificates/", body, format="json")
    assert (good.status_code, good.json()["valid_to"]) == (201, None)
    wrong = script.patch(f"/api/certificates/{good.json()['id']}/", {"valid_to": "2026-04-30"}, format="json")
    assert wrong.status_code == 400


def test_crew_is_made_and_changed_with_its_members(world: World) -> None:
    script, home = world.clients["manager"], world.home
    body = {"name": "Third", "members": [home.viewer.pk, home.helper.pk]}
    made = script.post("/api/crews/", body, format="json").json()
    assert made["members"] == sorted([home.helper.pk, home.viewer.pk])
    url = f"/api/crews/{made['id']}/"
    assert script.patch(url, {"members": [home.manager.pk]}, format="json").json()["members"] == [home.manager.pk]
    assert script.patch(url, {"name": "Fourth"}, format="json").json()["members"] == [home.manager.pk]
    assert script.get(url).json() == {"id": made["id"], "name": "Fourth", "members": [home.manager.pk]}


def test_id_in_a_body_that_is_not_in_the_holding_is_not_found(world: World) -> None:
    script, foreign = world.clients["manager"], world.away.helper.pk
    told = []
    for person in (foreign, 987_654_321):
        for path, body in (
            ("ways", {"person": person, "kind": "file"}),
            ("crews", {"name": "Third", "members": [person]}),
            ("tokens", {"person": person}),
        ):
            answer = script.post(f"/api/{path}/", body, format="json")
            assert answer.status_code == 404, path
            told.append(answer.content.decode().replace(str(person), "ID"))
    assert told[:3] == told[3:]


def test_field_that_is_not_known_is_refused_by_name(manager: Person) -> None:
    body = {"name": "Ada", "user": 1, "holding": 2, "is_staff": True}
    answer = script_of(manager).post("/api/people/", body, format="json")
    assert answer.status_code == 400
    assert {wrong["pointer"] for wrong in answer.json()["errors"]} == {"#/user", "#/holding", "#/is_staff"}


def test_a_manager_invites_and_the_link_lets_the_person_in_once(
    manager: Person, helper_person: Person, holding: Holding, client: Client
) -> None:
    Person.objects.filter(pk=helper_person.pk).update(user=None)
    told = script_of(manager).post(f"/api/people/{helper_person.pk}/invitation/", {}, format="json")
    assert (told.status_code, told.headers["Cache-Control"]) == (201, "no-store")
    link = told.json()["link"]
    assert link.startswith(settings.BASE_URL + "/invitation/")
    assert datetime.fromisoformat(told.json()["expires_at"]) - timezone.now() > timedelta(days=6, hours=23)
    assert link.rpartition("invitation/")[2].strip("/") not in str(list(Invitation.objects.values()))
    path = link.removeprefix(settings.BASE_URL)
    form = {"email": "new@example.org", "password": "a long enough one"}
    assert client.post(path, form).status_code == 302
    helper_person.refresh_from_db()
    assert helper_person.user is not None
    assert Client().get(path).status_code == 404


def test_a_second_invitation_ends_the_first(manager: Person, holding: Holding) -> None:
    spare, script = Person.objects.create(holding=holding, name="Spare"), script_of(manager)
    links = [script.post(f"/api/people/{spare.pk}/invitation/", {}, format="json").json()["link"] for _ in range(2)]
    paths = [link.removeprefix(settings.BASE_URL) for link in links]
    assert [Client().get(path).status_code for path in paths] == [404, 200]


def test_who_signs_in_or_left_is_not_invited(manager: Person, helper_person: Person, holding: Holding) -> None:
    gone = Person.objects.create(holding=holding, name="Gone", active=False)
    script = script_of(manager)
    told = [script.post(f"/api/people/{each.pk}/invitation/", {}, format="json") for each in (helper_person, gone)]
    assert [(each.status_code, each.json()["detail"]) for each in told] == [
        (422, "Helper of home signs in already."),
        (422, "Gone is not active. Make them active first."),
    ]
    assert not Invitation.objects.exists()
