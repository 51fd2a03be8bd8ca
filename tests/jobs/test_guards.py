"""What the database itself refuses, asked in plain SQL past every service and model."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime, time
from typing import Any
from uuid import uuid4

import pytest
from django.db import IntegrityError, connection, models, transaction

from core.models import Certificate, Crew, CrewMember, Event, FreeTime, Holding, HoldingState, Person, Skill
from core.services.rows import sentence_of
from jobs.models import Assignment, Job, Prerequisite, Reckoning, Report, Season, Sequence
from plots.models import Plot, PropertySeries, QuietTime, Series

JobFactory = Callable[..., Job]
SATURDAY = date(2027, 4, 17)
NOON = datetime(2027, 4, 17, 17, 0, tzinfo=UTC)


def sql(statement: str, *values: Any) -> None:
    with connection.cursor() as cursor:
        cursor.execute(statement, values)


@contextmanager
def refused(words: str) -> Iterator[None]:
    """The database refuses what is done inside, at the latest at commit, and people are told why in these words."""
    try:
        with transaction.atomic():
            yield
            connection.check_constraints()
    except IntegrityError as error:
        told = sentence_of(error)[1]
    else:
        pytest.fail(f"The database took what it should refuse: {words}")
    assert words in told


def change(row: models.Model, **columns: Any) -> None:
    """Set columns of one row in SQL, and see that the statement reached it."""
    sets = ", ".join(f"{name} = %s" for name in columns)
    with connection.cursor() as cursor:
        cursor.execute(
            f"UPDATE {row._meta.db_table} SET {sets} WHERE {row._meta.pk.column} = %s", [*columns.values(), row.pk]
        )
        assert cursor.rowcount == 1


def link(first: Job, then: Job, holding: Holding | None = None) -> None:
    row = Prerequisite(holding=holding or first.holding, predecessor=first, successor=then)
    values = {
        field.column: field.get_db_prep_save(getattr(row, field.attname), connection)
        for field in Prerequisite._meta.concrete_fields
        if not field.primary_key
    }
    sql(
        f"INSERT INTO jobs_prerequisite ({', '.join(values)}) VALUES ({', '.join(['%s'] * len(values))})",
        *values.values(),
    )


def test_a_job_never_comes_before_itself(holding: Holding, job_factory: JobFactory) -> None:
    job = job_factory(holding)
    with refused("A job cannot come before itself."):
        link(job, job)


def test_prerequisites_never_close_a_circle(holding: Holding, job_factory: JobFactory) -> None:
    first, second, third = (job_factory(holding) for _ in range(3))
    link(first, second)
    link(second, third)
    with refused("closes a circle"):
        link(third, first)
    link(first, third)


def test_a_prerequisite_is_not_turned_into_a_circle(holding: Holding, job_factory: JobFactory) -> None:
    first, second, third = (job_factory(holding) for _ in range(3))
    link(first, second)
    link(first, third)
    edge = Prerequisite.objects.get(successor=third)
    with refused("closes a circle"):
        change(edge, predecessor_id=second.pk, successor_id=first.pk)


def test_a_link_that_left_in_the_same_transaction_closes_nothing(holding: Holding, job_factory: JobFactory) -> None:
    first, second = job_factory(holding), job_factory(holding)
    with transaction.atomic():
        link(first, second)
        sql("DELETE FROM jobs_prerequisite WHERE predecessor_id = %s", first.pk)
        link(second, first)
        connection.check_constraints()
    assert Prerequisite.objects.get().predecessor == second


def test_a_prerequisite_never_crosses_holdings(
    holding: Holding, other_holding: Holding, job_factory: JobFactory
) -> None:
    ours, theirs = job_factory(holding), job_factory(other_holding)
    with refused("The successor of this prerequisite is not in its holding."):
        link(ours, theirs)
    with refused("The predecessor of this prerequisite is not in its holding."):
        link(ours, theirs, other_holding)


def test_a_row_never_moves_to_another_holding(
    holding: Holding, other_holding: Holding, job_factory: JobFactory
) -> None:
    job = job_factory(holding)
    with refused("never moves to another holding"):
        change(job, holding_id=other_holding.pk)
    with refused("never moves to another holding"):
        change(job.plot, holding_id=other_holding.pk)


def test_rows_point_inside_their_holding(
    holding: Holding, other_holding: Holding, job_factory: JobFactory, plot_factory: Callable[..., Plot]
) -> None:
    ours, theirs = job_factory(holding), job_factory(other_holding)
    with refused("The plot of this job is not in its holding."):
        change(ours, plot_id=theirs.plot_id)
    with refused("The property of this plot is not in its holding."):
        change(ours.plot, property_id=theirs.plot.property_id)
    with refused("The plot of this job is not in its holding."):
        job_factory(holding, plot=plot_factory(other_holding))


def test_a_reckoning_stays_with_its_job_s_holding(
    holding: Holding, other_holding: Holding, job_factory: JobFactory
) -> None:
    theirs = job_factory(other_holding)
    with refused("The job of this reckoning is not in its holding."):
        Reckoning.objects.create(holding=holding, job=theirs, state="open", changed_at=NOON)


def test_a_season_follows_a_sequence_of_its_holding_or_of_nobody(
    holding: Holding, other_holding: Holding, plot_factory: Callable[..., Plot]
) -> None:
    season = Season.objects.create(
        holding=holding, plot=plot_factory(holding), label="2027", year=2027, first_day=SATURDAY, last_day=SATURDAY
    )
    for owner in (None, holding):
        change(season, sequence_id=Sequence.objects.create(holding=owner, key="clover", name="Clover", document={}).pk)
    theirs = Sequence.objects.create(holding=other_holding, key="rye", name="Rye", document={})
    with refused("The sequence of this season is not in its holding."):
        change(season, sequence_id=theirs.pk)
    with refused("never moves to another holding"):
        change(theirs, holding_id=holding.pk)


def test_a_property_reads_weather_of_its_holding_or_of_nobody(
    holding: Holding, other_holding: Holding, plot_factory: Callable[..., Plot]
) -> None:
    place = plot_factory(holding).property
    for rank, owner in enumerate((None, holding)):
        series = Series.objects.create(source="typed", place=f"gauge {rank}", owner=owner)
        PropertySeries.objects.create(holding=holding, property=place, rank=rank, series=series)
    theirs = Series.objects.create(source="typed", place="their gauge", owner=other_holding)
    with refused("The series of this property series is not in its holding."):
        change(PropertySeries.objects.first(), series_id=theirs.pk)


def test_acres_are_never_negative(holding: Holding, job_factory: JobFactory) -> None:
    job = job_factory(holding, acres=2.0)
    with refused("Give acres above 0"):
        change(job, acres=-1)
    with refused("Give acres above 0"):
        change(job.plot, acres_typed=-0.5)


def test_no_window_ends_before_it_starts(holding: Holding, helper_person: Person, job_factory: JobFactory) -> None:
    job = job_factory(holding, first_day=date(2027, 4, 1), last_day=date(2027, 4, 30))
    with refused("The job's days end before they start."):
        change(job, last_day=date(2027, 3, 31))
    quiet = QuietTime.objects.create(
        holding=holding, property=job.plot.property, first_day=SATURDAY, last_day=SATURDAY, reason="Turkey season"
    )
    with refused("The quiet days end before they start."):
        change(quiet, last_day=date(2027, 4, 16))
    free = FreeTime.objects.create(holding=holding, person=helper_person, weekday=5, starts=time(8), ends=time(12))
    with refused("Free hours end before they start."):
        change(free, ends="07:00:00")


def test_no_certificate_ends_before_it_starts(holding: Holding, helper_person: Person) -> None:
    skill = Skill.objects.create(holding=holding, name="Certified applicator")
    paper = Certificate.objects.create(
        holding=holding, person=helper_person, skill=skill, valid_from=date(2026, 1, 1), valid_to=date(2028, 12, 31)
    )
    with refused("The certificate ends before it starts."):
        change(paper, valid_to=date(2025, 12, 31))


def test_no_state_is_unknown(holding: Holding, job_factory: JobFactory) -> None:
    job = job_factory(holding)
    reckoning = Reckoning.objects.create(holding=holding, job=job, state="open", changed_at=NOON)
    with refused("State is not known. Give one of: done, called_off,"):
        change(reckoning, state="soon")
    with refused("State is not known. Give one of: active, closed."):
        change(holding, state="asleep")


def report_of(person: Person, job: Job) -> Report:
    return Report.objects.create(
        holding=job.holding,
        person=person,
        client_id=uuid4(),
        job=job,
        plot=job.plot,
        kind="done",
        happened_at=NOON,
        received_at=NOON,
        body_sha256="0" * 64,
    )


def test_a_report_and_the_log_are_never_changed(
    holding: Holding, helper_person: Person, job_factory: JobFactory
) -> None:
    report = report_of(helper_person, job_factory(holding))
    event = Event.objects.create(holding=holding, person=helper_person, verb="added", object="job", object_id=1)
    with refused("A report is kept for ever"):
        change(report, note="Later words")
    with refused("A report is kept for ever"):
        sql("DELETE FROM jobs_report")
    with refused("A line of the log is kept for ever"):
        change(event, verb="removed")
    with refused("A line of the log is kept for ever"):
        sql("DELETE FROM core_event")


def test_a_report_is_not_replaced_under_its_id(
    holding: Holding, helper_person: Person, job_factory: JobFactory
) -> None:
    report = report_of(helper_person, job_factory(holding))
    columns = [field.column for field in Report._meta.concrete_fields]
    chosen = ", ".join("'Other words'" if name == "note" else name for name in columns)
    conflict = "" if connection.vendor == "sqlite" else " ON CONFLICT (id) DO UPDATE SET note = 'Other words'"
    verb = "INSERT OR REPLACE" if connection.vendor == "sqlite" else "INSERT"
    with refused("A report is kept for ever"):
        sql(f"{verb} INTO jobs_report ({', '.join(columns)}) SELECT {chosen} FROM jobs_report{conflict}")
    report.refresh_from_db()
    assert report.note == ""


def test_reports_and_log_leave_with_their_closed_holding_alone(
    holding: Holding, other_holding: Holding, helper_person: Person, other_manager: Person, job_factory: JobFactory
) -> None:
    report_of(helper_person, job_factory(holding))
    kept = report_of(other_manager, job_factory(other_holding))
    Event.objects.create(holding=holding, verb="added", object="job")
    change(holding, state=HoldingState.CLOSED)
    holding.delete()
    assert list(Report.objects.all()) == [kept]
    assert not Job.objects.filter(holding_id=holding.pk).exists()


def give(
    job: Job, who: Person | Crew, hours: tuple[int, int], day: date = SATURDAY, state: str = "active"
) -> Assignment:
    field = "person" if isinstance(who, Person) else "crew"
    return Assignment.objects.create(
        holding=job.holding, job=job, day=day, starts=time(hours[0]), ends=time(hours[1]), state=state, **{field: who}
    )


def test_one_person_is_never_at_two_places_at_one_time(
    holding: Holding, helper_person: Person, manager: Person, job_factory: JobFactory
) -> None:
    give(job_factory(holding), helper_person, (8, 12))
    with refused("two places at one time"):
        give(job_factory(holding), helper_person, (11, 14))
    later = give(job_factory(holding), helper_person, (12, 14))
    give(job_factory(holding), manager, (8, 12))
    give(job_factory(holding), helper_person, (8, 12), day=date(2027, 4, 18))
    give(job_factory(holding), helper_person, (8, 12), state="ended")
    with refused("two places at one time"):
        change(later, starts="11:30:00")


def test_a_crew_takes_its_members_along(holding: Holding, helper_person: Person, job_factory: JobFactory) -> None:
    crew = Crew.objects.create(holding=holding, name="Saturday crew")
    CrewMember.objects.create(holding=holding, crew=crew, person=helper_person)
    give(job_factory(holding), crew, (8, 12))
    with refused("two places at one time"):
        give(job_factory(holding), helper_person, (9, 10))
    with refused("two places at one time"):
        give(job_factory(holding), crew, (9, 10))


def test_two_crews_share_no_member_at_one_time(
    holding: Holding, helper_person: Person, manager: Person, job_factory: JobFactory
) -> None:
    first, second = (Crew.objects.create(holding=holding, name=name) for name in ("Burn crew", "Fence crew"))
    CrewMember.objects.create(holding=holding, crew=first, person=helper_person)
    CrewMember.objects.create(holding=holding, crew=second, person=manager)
    give(job_factory(holding), first, (8, 12))
    give(job_factory(holding), second, (9, 13))
    with refused("In this crew the person would be at two places at one time."):
        CrewMember.objects.create(holding=holding, crew=second, person=helper_person)
    third = Crew.objects.create(holding=holding, name="Feed crew")
    CrewMember.objects.create(holding=holding, crew=third, person=helper_person)
    with refused("two places at one time"):
        give(job_factory(holding), third, (11, 12))


def test_a_person_with_hours_of_their_own_does_not_join_a_busy_crew(
    holding: Holding, helper_person: Person, job_factory: JobFactory
) -> None:
    crew = Crew.objects.create(holding=holding, name="Burn crew")
    give(job_factory(holding), crew, (8, 12))
    give(job_factory(holding), helper_person, (10, 11))
    with refused("In this crew the person would be at two places at one time."):
        CrewMember.objects.create(holding=holding, crew=crew, person=helper_person)
