"""The admin: every write goes through the services, and nobody sees another holding's facts."""

from collections.abc import Callable
from datetime import UTC, date, datetime
from typing import Any

import pytest
from django.apps import apps
from django.contrib import admin
from django.test import Client
from django.urls import reverse

from core.admin import FactAdmin, SeenAdmin
from core.models import Event, Graph, Holding, HoldingRow, Notice, NoticeState, Person, Skill, User, Way
from jobs.models import Assignment, Job, Observation, Prerequisite
from plots.models import Day, Machine, Plot, Property, PropertySeries, Series

pytestmark = pytest.mark.django_db

Make = Callable[..., Any]


@pytest.fixture
def boss(client: Client) -> Client:
    """A superuser, member of no holding."""
    client.force_login(
        User.objects.create_superuser("root@example.org", "x" * 12), backend="django.contrib.auth.backends.ModelBackend"
    )
    return client


@pytest.fixture
def desk(manager: Person, signed_in: Callable[[Person], Client]) -> Client:
    """A manager, who uses the admin for the facts of their holding by being its manager."""
    return signed_in(manager)


@pytest.fixture
def field(holding: Holding) -> Plot:
    """A plot of the holding, on a property with a place."""
    land = Property.objects.create(holding=holding, name="Oak", latitude=40, longitude=-91, zone="America/Chicago")
    return Plot.objects.create(holding=holding, property=land, name="North", acres_typed=2)


def version(holding: Holding) -> int:
    return Graph.objects.get(holding=holding).facts_version


def url(model: Any, page: str, *args: object) -> str:
    return reverse(f"admin:{model._meta.app_label}_{model._meta.model_name}_{page}", args=args)


def job(plot: Plot, title: str) -> Job:
    made = Job.objects.create(holding=plot.holding, plot=plot, operation="mow", title=title, duration_min=60)
    Job.objects.filter(pk=made.pk).update(component=made.pk)
    return made


def test_every_fact_of_a_holding_has_a_page_that_writes_through_the_services_or_not_at_all() -> None:
    rows = [model for model in apps.get_models() if issubclass(model, HoldingRow)]
    around = [
        model.__name__ for model in rows if not isinstance(admin.site._registry.get(model), FactAdmin | SeenAdmin)
    ]
    assert around == []
    own = {"save_model", "delete_model", "delete_queryset"}
    assert [
        type(page).__name__
        for page in admin.site._registry.values()
        if isinstance(page, FactAdmin) and own & vars(type(page)).keys() and type(page) is not FactAdmin
    ] == []


def test_every_list_and_every_empty_form_opens(boss: Client) -> None:
    failures = []
    for model, page in admin.site._registry.items():
        if model._meta.app_label in ("core", "plots", "jobs"):
            pages = ["changelist"] if isinstance(page, SeenAdmin) else ["changelist", "add"]
            failures += [(model, name) for name in pages if boss.get(url(model, name)).status_code != 200]
    assert failures == []


def test_adding_changing_and_removing_a_fact_is_logged_and_wakes_the_walk(
    desk: Client, holding: Holding, manager: Person
) -> None:
    before = version(holding)
    assert desk.post(url(Skill, "add"), {"holding": holding.pk, "name": "saw"}).status_code == 302
    skill = Skill.objects.get()
    assert desk.post(url(Skill, "change", skill.pk), {"name": "chain saw"}).status_code == 302
    assert Skill.objects.get().name == "chain saw"
    assert desk.post(url(Skill, "delete", skill.pk), {"post": "yes"}).status_code == 302
    assert not Skill.objects.exists()
    assert version(holding) == before + 3
    log = Event.objects.filter(object="skill").order_by("id").values_list("verb", "person")
    assert list(log) == [("added", manager.pk), ("changed", manager.pk), ("removed", manager.pk)]


def test_many_removed_at_once_go_through_the_same_door(desk: Client, holding: Holding) -> None:
    rows = [Skill.objects.create(holding=holding, name=name) for name in ("saw", "burn boss")]
    before = version(holding)
    form = {"action": "delete_selected", "_selected_action": [row.pk for row in rows], "post": "yes"}
    assert desk.post(url(Skill, "changelist"), form).status_code == 302
    assert not Skill.objects.exists()
    assert version(holding) == before + 2


def test_what_a_service_refuses_is_a_sentence_and_stores_nothing(desk: Client, manager: Person) -> None:
    form = {"name": manager.name, "role": "helper", "evening_at": "18:00"}
    answer = desk.post(url(Person, "change", manager.pk), form, follow=True)
    assert "A holding keeps at least one active manager." in answer.content.decode()
    manager.refresh_from_db()
    assert manager.role == "manager"


def test_a_circle_is_refused_in_the_admin_too(desk: Client, field: Plot) -> None:
    first, second = job(field, "Mow"), job(field, "Spray")
    form = {
        "holding": field.holding_id,
        "relation": "FS",
        "min_amount": 0,
        "min_unit": "days",
        "min_then_days": 0,
        "max_unit": "",
    }
    assert (
        desk.post(url(Prerequisite, "add"), form | {"predecessor": first.pk, "successor": second.pk}).status_code == 302
    )
    second.refresh_from_db()
    assert second.component == first.pk
    answer = desk.post(url(Prerequisite, "add"), form | {"predecessor": second.pk, "successor": first.pk}, follow=True)
    assert "These jobs would wait for each other" in answer.content.decode()
    assert Prerequisite.objects.count() == 1


def test_a_job_added_by_hand_is_a_component_of_its_own(desk: Client, field: Plot) -> None:
    form = {
        "holding": field.holding_id,
        "plot": field.pk,
        "occurrence": 1,
        "operation": "mow",
        "title": "Mow",
        "duration_min": 60,
        "hazards": "[]",
        "outcomes": "[]",
        "details": "{}",
        "skip_effect": "passed_over",
        "repeat": "null",
    }
    answer = desk.post(url(Job, "add"), form)
    assert answer.status_code == 302, answer.context["errors"]
    made = Job.objects.get()
    assert made.component == made.pk


def test_an_operation_that_nobody_knows_is_refused_in_the_admin_too(desk: Client, field: Plot) -> None:
    form = {
        "holding": field.holding_id,
        "plot": field.pk,
        "occurrence": 1,
        "operation": "juggle",
        "title": "Juggle",
        "duration_min": 60,
        "skip_effect": "passed_over",
    }
    assert "is no field operation" in desk.post(url(Job, "add"), form, follow=True).content.decode()
    assert not Job.objects.exists()


def test_work_is_given_and_ended_by_the_services(
    desk: Client, field: Plot, helper_person: Person, viewer: Person
) -> None:
    form = {"holding": field.holding_id, "job": job(field, "Mow").pk}
    refused = desk.post(url(Assignment, "add"), form | {"person": viewer.pk}, follow=True)
    assert not Assignment.objects.exists()
    assert "Nothing was stored." in refused.content.decode()
    assert desk.post(url(Assignment, "add"), form | {"person": helper_person.pk}).status_code == 302
    given = Assignment.objects.get()
    assert desk.post(url(Assignment, "change", given.pk), form | {"person": viewer.pk}).status_code == 403
    desk.post(url(Assignment, "changelist"), {"action": "end", "_selected_action": [given.pk]})
    given.refresh_from_db()
    assert given.state == "ended"
    assert given.ended_at is not None


def test_a_manager_sees_and_chooses_the_own_holding_only(
    desk: Client, holding: Holding, other_holding: Holding
) -> None:
    own = Skill.objects.create(holding=holding, name="own skill")
    foreign = Skill.objects.create(holding=other_holding, name="foreign skill")
    listed = desk.get(url(Skill, "changelist")).content.decode()
    assert own.name in listed
    assert foreign.name not in listed
    assert desk.get(url(Skill, "change", foreign.pk)).status_code == 302
    assert desk.post(url(Skill, "change", foreign.pk), {"name": "mine now"}).status_code == 302
    assert Skill.objects.get(pk=foreign.pk).name == "foreign skill"
    assert desk.post(url(Skill, "add"), {"holding": other_holding.pk, "name": "planted"}).status_code == 200
    assert not Skill.objects.filter(name="planted").exists()
    assert other_holding.name not in desk.get(url(Skill, "add")).content.decode()


def test_a_superuser_sees_all_and_the_log_names_nobody_of_the_holding(
    boss: Client, holding: Holding, other_holding: Holding
) -> None:
    for place in (holding, other_holding):
        boss.post(url(Skill, "add"), {"holding": place.pk, "name": f"skill of {place.pk}"})
    listed = boss.get(url(Skill, "changelist")).content.decode()
    assert f"skill of {holding.pk}" in listed
    assert f"skill of {other_holding.pk}" in listed
    assert set(Event.objects.filter(object="skill").values_list("person", flat=True)) == {None}


def test_a_closed_holding_is_only_looked_at(desk: Client, boss: Client, holding: Holding) -> None:
    skill = Skill.objects.create(holding=holding, name="saw")
    Holding.objects.filter(pk=holding.pk).update(state="closed")
    for client in (desk, boss):
        assert client.get(url(Skill, "changelist")).status_code == 200
        assert client.get(url(Skill, "change", skill.pk)).status_code == 200
        client.post(url(Skill, "add"), {"holding": holding.pk, "name": "burn boss"})
        assert client.post(url(Skill, "change", skill.pk), {"name": "chain saw"}).status_code == 403
        assert client.post(url(Skill, "delete", skill.pk), {"post": "yes"}).status_code == 403
        form = {"action": "delete_selected", "_selected_action": [skill.pk], "post": "yes"}
        client.post(url(Skill, "changelist"), form)
    assert list(Skill.objects.values_list("name", flat=True)) == ["saw"]
    assert not Event.objects.exists()


def test_beside_an_open_holding_the_closed_one_of_a_manager_stays_as_it_is(
    desk: Client, field: Plot, holding: Holding, other_holding: Holding, helper_person: Person, manager: Person
) -> None:
    """The manager of both chooses the open one alone, and what is done to many rows at once passes the other over."""
    Person.objects.create(holding=other_holding, role="manager", user=manager.user, name="Of both")
    skill = Skill.objects.create(holding=holding, name="saw")
    at = manager.user.joined_at
    parked = Notice.objects.create(
        holding=holding, person=helper_person, basis="1", way_kind="file", kind="opened", created_at=at, due_at=at,
        state=NoticeState.PARKED,
    )  # fmt: skip
    given = Assignment.objects.create(holding=holding, job=job(field, "Mow"), person=helper_person)
    Holding.objects.filter(pk=holding.pk).update(state="closed")
    assert desk.post(url(Skill, "add"), {"holding": holding.pk, "name": "planted"}).status_code == 200
    assert desk.post(url(Skill, "add"), {"holding": other_holding.pk, "name": "mow"}).status_code == 302
    form = {"action": "delete_selected", "_selected_action": [skill.pk], "post": "yes"}
    assert desk.post(url(Skill, "changelist"), form).status_code == 403
    desk.post(url(Notice, "changelist"), {"action": "send_parked_again", "_selected_action": [parked.pk]})
    desk.post(url(Assignment, "changelist"), {"action": "end", "_selected_action": [given.pk]})
    assert sorted(Skill.objects.values_list("name", flat=True)) == ["mow", "saw"]
    assert Assignment.objects.get().state == "active"
    assert Notice.objects.get().state == NoticeState.PARKED


@pytest.mark.parametrize(
    "label",
    [
        "jobs.report",
        "jobs.observation",
        "jobs.reckoning",
        "jobs.override",
        "core.event",
        "core.notice",
        "core.token",
    ],
)
def test_what_was_reported_reckoned_or_logged_is_only_looked_at(boss: Client, label: str) -> None:
    model = apps.get_model(label)
    assert boss.get(url(model, "changelist")).status_code == 200
    assert boss.get(url(model, "add")).status_code == 403


def test_whether_a_way_is_proved_or_stopped_is_no_manager_s_to_say(desk: Client, helper_person: Person) -> None:
    stopped = datetime(2026, 5, 1, 12, tzinfo=UTC)
    way = Way.objects.create(
        holding=helper_person.holding, person=helper_person, kind="mail", address="a@example.org", stopped_at=stopped
    )
    page = {"person": helper_person.pk, "kind": "mail", "address": "b@example.org", "daily_limit": 20}
    said = {"verified_at_0": "2026-05-02", "verified_at_1": "12:00:00", "stopped_at_0": "", "stopped_at_1": ""}
    assert desk.post(url(Way, "change", way.pk), page | said).status_code == 302
    way.refresh_from_db()
    assert (way.address, way.verified_at, way.stopped_at) == ("b@example.org", None, stopped)


def test_nobody_deletes_what_was_observed(desk: Client, boss: Client, field: Plot) -> None:
    at = datetime(2026, 5, 1, 12, tzinfo=UTC)
    seen = Observation.objects.create(holding=field.holding, plot=field, kind="flooded", at=at)
    for client in (desk, boss):
        assert client.post(url(Observation, "delete", seen.pk), {"post": "yes"}).status_code == 403
        form = {"action": "delete_selected", "_selected_action": [seen.pk], "post": "yes"}
        client.post(url(Observation, "changelist"), form)
    assert Observation.objects.get() == seen


def test_what_belongs_to_no_holding_is_for_superusers(desk: Client, boss: Client) -> None:
    for model in (Holding, User, Series, Day):
        assert desk.get(url(model, "changelist")).status_code == 403
        assert boss.get(url(model, "changelist")).status_code == 200


def test_changed_weather_wakes_every_holding_that_reads_the_series(
    boss: Client, holding: Holding, other_holding: Holding, field: Plot
) -> None:
    series = Series.objects.create(source="station", place="invented")
    PropertySeries.objects.create(holding=holding, property=field.property, rank=1, series=series)
    day = Day.objects.create(series=series, date=date(2026, 5, 1), high_f=70, low_f=50)
    before, elsewhere = version(holding), version(other_holding)
    form = {"series": series.pk, "date": "2026-05-01", "kind": "observed", "high_f": 84, "low_f": 50}
    assert boss.post(url(Day, "change", day.pk), form).status_code == 302
    assert version(holding) == before + 1
    assert version(other_holding) == elsewhere


def test_a_new_holding_has_its_graph_and_a_changed_clock_wakes_the_walk(boss: Client) -> None:
    form = {"name": "New land", "zone": "America/Chicago", "units": "us", "state": "active"}
    assert boss.post(url(Holding, "add"), form).status_code == 302
    made = Holding.objects.get()
    before = version(made)
    moved = form | {"clock_at_0": "2026-03-05", "clock_at_1": "18:00:00"}
    assert boss.post(url(Holding, "change", made.pk), moved).status_code == 302
    assert version(made) == before + 1


def test_a_sign_in_is_made_with_a_hashed_password(boss: Client) -> None:
    form = {"email": "ada@example.org", "password1": "a long clover password", "password2": "a long clover password"}
    assert boss.post(url(User, "add"), form).status_code == 302
    assert User.objects.get(email="ada@example.org").check_password("a long clover password")


def test_parked_notices_are_sent_again_from_the_list(desk: Client, helper_person: Person, manager: Person) -> None:
    at = manager.user.joined_at
    standard = {"holding": manager.holding, "way_kind": "file", "kind": "opened", "created_at": at, "due_at": at}
    parked = Notice.objects.create(person=helper_person, basis="1", state=NoticeState.PARKED, attempts=8, **standard)
    sent = Notice.objects.create(person=helper_person, basis="2", state=NoticeState.SENT, **standard)
    form = {"action": "send_parked_again", "_selected_action": [parked.pk, sent.pk]}
    answer = desk.post(url(Notice, "changelist"), form, follow=True)
    assert "1 put back into the queue." in answer.content.decode()
    states = Notice.objects.order_by("id").values_list("state", "attempts")
    assert list(states) == [(NoticeState.QUEUED, 0), (NoticeState.SENT, 0)]


def sent_back(client: Client, address: str) -> dict[str, Any]:
    """What a browser sends of a page as it was opened: every field, and hidden what it showed."""
    form = client.get(address).context["adminform"].form
    sent = {}
    for bound in form:
        value = bound.value()
        for name in (bound.html_name, bound.html_initial_name):
            if value not in (None, False):
                sent[name] = value
    return sent


def test_an_old_page_changes_what_was_edited_on_it_and_nothing_else(desk: Client, holding: Holding) -> None:
    drill = Machine.objects.create(holding=holding, name="Drill", kind="planter", note="as it was")
    page = sent_back(desk, url(Machine, "change", drill.pk))
    Machine.objects.filter(pk=drill.pk).update(state="down", note="belt")
    assert desk.post(url(Machine, "change", drill.pk), page | {"name": "Grain drill"}).status_code == 302
    drill.refresh_from_db()
    assert (drill.name, drill.state, drill.note) == ("Grain drill", "down", "belt")
    assert Event.objects.get().change == {"name": "Grain drill"}


def test_who_signs_in_as_whom_is_no_manager_s_to_choose(
    desk: Client, boss: Client, holding: Holding, other_manager: Person
) -> None:
    """Another holding's user named in the form is not taken; a superuser's is."""
    spare = Person.objects.create(holding=holding, name="Spare")
    form = {"name": "Spare", "role": "helper", "active": "on", "evening_at": "18:00", "user": other_manager.user_id}
    desk.post(url(Person, "change", spare.pk), form)
    spare.refresh_from_db()
    assert spare.user_id is None
    add = {**form, "holding": holding.pk, "name": "New"}
    desk.post(url(Person, "add"), add)
    assert Person.objects.get(name="New").user_id is None
    boss.force_login(User.objects.get(email="root@example.org"), "django.contrib.auth.backends.ModelBackend")
    boss.post(url(Person, "change", spare.pk), form)
    spare.refresh_from_db()
    assert spare.user_id == other_manager.user_id


def test_a_manager_finds_the_facts_and_neither_sign_ins_nor_what_belongs_to_no_holding(desk: Client) -> None:
    shown = desk.get("/admin/").content.decode()
    assert url(Property, "changelist") in shown
    hidden = [User, Holding, *(m for m in apps.get_models() if m._meta.app_label in ("auth", "axes"))]
    registered = [model for model in hidden if model in admin.site._registry]
    assert len(registered) > 3
    assert [desk.get(url(model, "changelist")).status_code for model in registered] == [403] * len(registered)
