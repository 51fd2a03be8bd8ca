"""Who works on which jobs, and by which ways they can be reached."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection

from core.models import CrewMember, Person, Way
from jobs.models import Assignment, AssignmentState, Job
from jobs.reminder_rules import Hearer, hearers
from plots.models import CrewProperty


def crews_by_property(holding_id: int) -> tuple[dict[int, set[int]], set[int]]:
    """(crews that look after each property, crews that look after all): a crew without properties looks after all."""
    listed: dict[int, set[int]] = defaultdict(set)
    with_some = set()
    for crew, place in CrewProperty.objects.filter(holding_id=holding_id).values_list("crew_id", "property_id"):
        listed[place].add(crew)
        with_some.add(crew)
    every = set(CrewMember.objects.filter(holding_id=holding_id).values_list("crew_id", flat=True)) - with_some
    return listed, every


def people_of(holding_id: int) -> list[Hearer]:
    """The active people of a holding with their crews."""
    crews: dict[int, set[int]] = defaultdict(set)
    for crew, person in CrewMember.objects.filter(holding_id=holding_id).values_list("crew_id", "person_id"):
        crews[person].add(crew)
    rows = Person.objects.filter(holding_id=holding_id, active=True).order_by("id").values_list("id", "role")
    return [Hearer(pk, role, frozenset(crews.get(pk, ()))) for pk, role in rows]


def who_hears(holding_id: int, jobs: Collection[int]) -> dict[int, tuple[int, ...]]:
    """By job: the people who are told that it opened."""
    people = people_of(holding_id)
    listed, every = crews_by_property(holding_id)
    given_people: dict[int, set[int]] = defaultdict(set)
    given_crews: dict[int, set[int]] = defaultdict(set)
    active = Assignment.objects.filter(holding_id=holding_id, job_id__in=jobs, state=AssignmentState.ACTIVE)
    for job, person, crew in active.values_list("job_id", "person_id", "crew_id"):
        (given_people if person else given_crews)[job].add(person or crew)
    places = Job.objects.filter(pk__in=jobs).order_by("id").values_list("id", "plot__property_id")
    return {
        job: hearers(
            people,
            assigned_people=frozenset(given_people.get(job, ())),
            assigned_crews=frozenset(given_crews.get(job, ())),
            crews_here=frozenset(listed.get(place, set()) | every),
        )
        for job, place in places
    }


def ways_of(people: Collection[int]) -> dict[int, list[tuple[int, str]]]:
    """By person: (id, kind) of their ways, in the order of id."""
    found: dict[int, list[tuple[int, str]]] = defaultdict(list)
    for pk, person, kind in (
        Way.objects.filter(person_id__in=people).order_by("id").values_list("id", "person_id", "kind")
    ):
        found[person].append((pk, kind))
    return found
