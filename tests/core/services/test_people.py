"""Rules between people: somebody manages, and a crew is who it says."""

import pytest

from core.errors import NotFound, Refused
from core.models import Crew, CrewMember, Graph, Holding, Person, Role
from core.services.people import remove_person, save_crew, save_person

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("change", [{"role": Role.HELPER}, {"active": False}])
def test_last_manager_stays(change: dict[str, object], manager: Person) -> None:
    for name, value in change.items():
        setattr(manager, name, value)
    with pytest.raises(Refused, match="at least one active manager"):
        save_person(person=manager, by=manager, fields=change)
    manager.refresh_from_db()
    assert (manager.role, manager.active) == ("manager", True)


def test_last_manager_is_not_removed(manager: Person) -> None:
    with pytest.raises(Refused, match="at least one active manager"):
        remove_person(person=manager, by=None)
    assert Person.objects.filter(name=manager.name).exists()


def test_one_of_two_managers_may_go(manager: Person, holding: Holding) -> None:
    second = save_person(person=Person(holding=holding, name="Second", role=Role.MANAGER), by=manager)
    manager.role = Role.HELPER
    save_person(person=manager, by=second, fields=["role"])
    assert Person.objects.get(pk=manager.pk).role == Role.HELPER


def test_crew_has_the_members_given_last(manager: Person, helper_person: Person, viewer: Person) -> None:
    crew = save_crew(
        crew=Crew(holding=manager.holding, name="One"), by=manager, members=[manager, helper_person, helper_person]
    )
    assert set(CrewMember.objects.filter(crew=crew).values_list("person", flat=True)) == {manager.pk, helper_person.pk}
    save_crew(crew=crew, by=manager, members=[viewer, manager])
    assert set(CrewMember.objects.filter(crew=crew).values_list("person", flat=True)) == {manager.pk, viewer.pk}
    crew.name = "First"
    save_crew(crew=crew, by=manager, fields=["name"])
    assert CrewMember.objects.filter(crew=crew).count() == 2


def test_member_of_another_holding_is_not_found_and_nothing_is_stored(manager: Person, other_manager: Person) -> None:
    with pytest.raises(NotFound):
        save_crew(crew=Crew(holding=manager.holding, name="One"), by=manager, members=[manager, other_manager])
    assert not Crew.objects.exists()
    assert not CrewMember.objects.exists()


def test_change_of_a_crew_wakes_the_walk(manager: Person, holding: Holding) -> None:
    crew = save_crew(crew=Crew(holding=holding, name="One"), by=manager)
    before = Graph.objects.get(holding=holding).facts_version
    save_crew(crew=crew, by=manager, members=[manager])
    assert Graph.objects.get(holding=holding).facts_version > before
