"""What the database refuses reaches people in words; what is stored is checked, logged and told to the walk."""

from collections.abc import Callable

import pytest
from django.apps import apps
from django.core.exceptions import FieldDoesNotExist
from django.db import IntegrityError, connection, transaction

from core.errors import NotAllowed, NotFound, Refused
from core.models import Crew, CrewMember, Event, Holding, Person, Touched, User
from core.services.rows import remove_row, save_row, sentence_of
from jobs.models import Assignment, Job, Prerequisite, Season
from plots.models import Machine, Plot


def told(write: Callable[[], object]) -> tuple[str, str]:
    with pytest.raises(IntegrityError) as refusal, transaction.atomic():
        write()
    return sentence_of(refusal.value)


def test_every_constraint_has_words_that_can_be_said() -> None:
    for model in apps.get_models():
        for constraint in model._meta.constraints:
            assert str(constraint.get_violation_error_message()).endswith((".", "violated."))


def test_a_name_given_twice_is_said_in_the_constraint_s_words(holding: Holding) -> None:
    Crew.objects.create(holding=holding, name="Burn crew")
    said = told(lambda: Crew.objects.create(holding=holding, name="Burn crew"))
    assert said == ("", "A crew of this name is listed already.")


def test_a_constraint_on_an_expression_is_found_too(db: None) -> None:
    User.objects.create(email="ada@example.org")
    assert told(lambda: User.objects.create(email="Ada@example.org")) == ("", "This address signs in already.")


def test_a_unique_column_is_named(db: None) -> None:
    Holding.objects.create(key="home", name="Home")
    said = told(lambda: Holding.objects.create(key="home", name="Other"))
    assert said == ("key", "A holding of this key is there already.")


def test_a_check_is_said_in_its_words(holding: Holding) -> None:
    said = told(lambda: Machine.objects.create(holding=holding, name="Drill", kind="drill", width_ft=-2))
    assert "Width lies above 0" in said[1]


def test_a_missing_value_is_asked_for(holding: Holding) -> None:
    assert told(lambda: Crew.objects.create(holding=holding, name=None)) == ("name", "Give the name.")


def test_a_row_that_is_not_there_is_said_to_be_missing(holding: Holding) -> None:
    def write() -> None:
        Person.objects.create(holding=holding, name="Ada", user_id=999_999)
        connection.check_constraints()

    assert "not there" in told(write)[1]


def test_a_season_without_sequence_is_laid_once(holding: Holding, plot_factory: Callable[..., Plot]) -> None:
    fields = {"holding": holding, "plot": plot_factory(holding), "label": "2027", "year": 2027}
    days = {"first_day": "2027-03-01", "last_day": "2027-10-31"}
    Season.objects.create(**fields, **days)
    assert told(lambda: Season.objects.create(**fields, **days))[1] == "The plot has a season of this label already."


def test_a_stored_row_is_logged_and_wakes_the_walk(
    holding: Holding, manager: Person, job_factory: Callable[..., Job]
) -> None:
    job = job_factory(holding)
    job.title = "Till the creek field"
    save_row(row=job, by=manager, fields=["title"])
    assert Event.objects.get().change == {"title": "Till the creek field"}
    assert Touched.objects.get().key == f"job:{job.pk}"


def test_a_refused_row_leaves_nothing_behind(holding: Holding, job_factory: Callable[..., Job]) -> None:
    job = job_factory(holding)
    job.acres = -1
    with pytest.raises(Refused, match="Give acres above 0"):
        save_row(row=job, by=None, fields=["acres"])
    assert not Event.objects.exists()
    assert not Touched.objects.exists()


def test_the_guard_s_words_reach_the_caller_of_a_service(
    holding: Holding, helper_person: Person, job_factory: Callable[..., Job]
) -> None:
    hours = {"day": "2027-04-17", "starts": "08:00", "ends": "12:00", "person": helper_person, "holding": holding}
    save_row(row=Assignment(job=job_factory(holding), **hours), by=None)
    with pytest.raises(Refused, match="two places at one time") as refusal:
        save_row(row=Assignment(job=job_factory(holding), **hours), by=None)
    assert refusal.value.code == "invalid"


def test_another_holding_s_row_is_not_found(holding: Holding, other_manager: Person) -> None:
    crew = Crew.objects.create(holding=holding, name="Burn crew")
    with pytest.raises(NotFound, match="not in this holding"):
        save_row(row=CrewMember(holding=holding, crew=crew, person=other_manager), by=None)


def test_a_removed_row_is_logged_and_wakes_the_walk(
    holding: Holding, manager: Person, job_factory: Callable[..., Job]
) -> None:
    link = Prerequisite.objects.create(
        holding=holding, predecessor=job_factory(holding), successor=job_factory(holding)
    )
    remove_row(row=link, by=manager)
    assert Event.objects.get().verb == "removed"
    assert set(Touched.objects.values_list("key", flat=True)) == {
        f"job:{link.predecessor_id}",
        f"job:{link.successor_id}",
    }


def test_of_a_stored_row_the_named_fields_alone_are_taken(holding: Holding, manager: Person) -> None:
    drill = Machine.objects.create(holding=holding, name="Drill", kind="planter")
    Machine.objects.filter(pk=drill.pk).update(state="down", note="belt")
    drill.name, drill.note = "Grain drill", "as it was read"
    save_row(row=drill, by=manager, fields=["name"])
    stored = Machine.objects.get(pk=drill.pk)
    assert (stored.name, stored.state, stored.note) == ("Grain drill", "down", "belt")
    assert (drill.name, drill.state, drill.note) == ("Grain drill", "down", "belt")
    assert Event.objects.get().change == {"name": "Grain drill"}


def test_what_moved_meanwhile_wakes_what_read_it_where_it_is_now(holding: Holding, manager: Person) -> None:
    drill = Machine.objects.create(holding=holding, name="Drill", kind="planter")
    Machine.objects.filter(pk=drill.pk).update(kind="seeder")
    save_row(row=drill, by=manager, fields=["name"])
    assert set(Touched.objects.values_list("key", flat=True)) == {"machine:seeder"}


def test_a_row_that_is_gone_is_neither_changed_nor_removed(holding: Holding, manager: Person) -> None:
    drill = Machine.objects.create(holding=holding, name="Drill", kind="planter")
    Machine.objects.filter(pk=drill.pk).delete()
    for write in (lambda: save_row(row=drill, by=manager, fields=["name"]), lambda: remove_row(row=drill, by=manager)):
        with pytest.raises(NotFound, match="This machine is gone"):
            write()
    assert not Machine.objects.exists()
    assert not Event.objects.exists()


def test_in_a_closed_holding_nothing_is_stored_or_removed(holding: Holding, manager: Person) -> None:
    drill = Machine.objects.create(holding=holding, name="Drill", kind="planter")
    Holding.objects.filter(pk=holding.pk).update(state="closed")
    drill.name = "Grain drill"
    for write in (
        lambda: save_row(row=drill, by=manager, fields=["name"]),
        lambda: save_row(row=Machine(holding=holding, name="Mower", kind="mower"), by=manager),
        lambda: remove_row(row=drill, by=manager),
    ):
        with pytest.raises(NotAllowed, match="The holding is closed"):
            write()
    assert list(Machine.objects.values_list("name", flat=True)) == ["Drill"]
    assert not Event.objects.exists()


def test_a_change_stamps_the_row(holding: Holding, job_factory: Callable[..., Job]) -> None:
    job = job_factory(holding)
    before = job.changed_at
    save_row(row=job, by=None, fields=["title"])
    assert Job.objects.get(pk=job.pk).changed_at > before


def test_a_field_that_the_table_does_not_have_is_no_change(holding: Holding, job_factory: Callable[..., Job]) -> None:
    with pytest.raises(FieldDoesNotExist):
        save_row(row=job_factory(holding), by=None, fields=["tilte"])
