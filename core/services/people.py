"""People and crews, with the rules that hold between rows."""

from collections.abc import Iterable

from django.db import transaction

from core.errors import Refused
from core.models import Crew, CrewMember, Person, Role
from core.services.rows import log, remove_row, save_row


def save_person(*, person: Person, by: Person | None, fields: Iterable[str] = ()) -> Person:
    """Add or change a person.

    Raises:
        Refused: the holding would be left without an active manager, or a rule of the table.
    """
    with transaction.atomic():
        save_row(row=person, by=by, fields=fields)
        check_managed(person.holding_id)
    return person


def remove_person(*, person: Person, by: Person | None) -> None:
    """Remove a person nobody has a report of; others are marked inactive instead.

    Raises:
        Refused: the holding would be left without an active manager, or something hangs on the person.
    """
    with transaction.atomic():
        remove_row(row=person, by=by)
        check_managed(person.holding_id)


def check_managed(holding_id: int) -> None:
    """Raises: Refused: no active manager is in the holding, so that nobody could change it any more."""
    if not Person.objects.filter(holding_id=holding_id, role=Role.MANAGER, active=True).exists():
        raise Refused(
            "A holding keeps at least one active manager. Make somebody else a manager first.", code="last_manager"
        )


def save_crew(
    *, crew: Crew, by: Person | None, members: Iterable[Person] | None = None, fields: Iterable[str] = ()
) -> Crew:
    """Add or change a crew; `members`, if given, are its people from now on.

    Raises:
        Refused: a rule of the table, or a member of another holding.
    """
    with transaction.atomic():
        save_row(row=crew, by=by, fields=sorted(set(fields) - {"members"}))
        if members is not None:
            wanted = {person.pk for person in members}
            held = {row.person_id: row for row in CrewMember.objects.filter(crew=crew)}
            for person_id in sorted(held.keys() - wanted):
                remove_row(row=held[person_id], by=by)
            for person_id in sorted(wanted - held.keys()):
                member = CrewMember(holding_id=crew.holding_id, crew=crew, person_id=person_id)
                save_row(row=member, by=by, fields=("crew", "person"))
            if wanted != held.keys():
                log(holding_id=crew.holding_id, by=by, verb="changed", row=crew, change={"members": sorted(wanted)})
    return crew
