"""People with a way to reach them and the crews they belong to."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from core.models import Crew, CrewMember, Person, Role, Way, WayKind
from core.services.people import save_person
from core.services.rows import save_row
from plots.importing import PersonRow
from plots.services.importing.intake import Intake, Names, given, overall


def take_people(intake: Intake, rows: Sequence[Any]) -> None:
    """Managers first, so that a file that hands a holding over from one to another is taken."""
    people = _People(intake)
    intake.take(sorted(rows, key=lambda row: row.role != Role.MANAGER), people.person_of)


class _People:
    def __init__(self, intake: Intake) -> None:
        self.intake = intake
        self.people = Names(Person.objects.filter(holding=intake.holding).order_by("id"))
        self.crews = Names(Crew.objects.filter(holding=intake.holding).order_by("id"))

    def person_of(self, row: PersonRow) -> str:
        """The person, their mail address beside the ways they have, their crews beside those they are in."""
        person = self.people.find(row.name)
        adding = person is None
        was = None if person is None else person.role
        if person is None:
            person = Person(holding=self.intake.holding, name=row.name)
            self.intake.made(self.people, person)
        save = _save_person if was == Role.MANAGER else save_row
        main = self.intake.put(person, given(row, ("role", "zone"), adding=adding), save)
        others = [self._way(person, row.email)] if row.email else []
        return overall(main, *others, *(self._crew(person, name) for name in row.crews))

    def _way(self, person: Person, email: str) -> str:
        found = Way.objects.filter(person=person, kind=WayKind.MAIL, address__iexact=email).first()
        values = {"person": person, "kind": WayKind.MAIL, "address": email}
        return "same" if found else self.intake.put(Way(holding=self.intake.holding), values)

    def _crew(self, person: Person, name: str) -> str:
        crew = self.crews.find(name)
        if crew is None:
            crew = Crew(holding=self.intake.holding)
            self.intake.put(crew, {"name": name})
            self.intake.made(self.crews, crew)
        if CrewMember.objects.filter(crew=crew, person=person).exists():
            return "same"
        return self.intake.put(CrewMember(holding=self.intake.holding), {"crew": crew, "person": person})


def _save_person(*, row: Person, by: Person | None, fields: Sequence[str]) -> None:
    save_person(person=row, by=by, fields=fields)
