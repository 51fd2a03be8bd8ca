"""News in the database: written once, woken by the clock, withdrawn when wanted no more, to every way of a person."""

import random
from datetime import date, time, timedelta
from typing import Any

from core.models import Graph, Holding, Notice, NoticeState, Person
from core.services.rows import remove_row, save_row
from jobs.models import Assignment, Job, Need, Reckoning
from jobs.services.assigning import assign_job, end_assignment
from jobs.services.seasons import call_off
from jobs.services.single import change_job
from jobs.services.walking import walk_holding
from plots.models import Material, StockMove, TellFirst
from tests.jobs.services.telling import NOON, JobFactory, at, clock, held, holding, mail, report, told, woken

__all__ = ["holding", "mail"]


def test_the_same_state_walked_twice_writes_nothing(
    holding: Holding, manager: Person, helper_person: Person, job_factory: JobFactory
) -> None:
    job = job_factory(holding, "Walk it", operation="look", last_day=date(2027, 5, 9))
    assign_job(holding_id=holding.pk, job_id=job.pk, by=manager, person_id=helper_person.pk, day=date(2027, 5, 8))
    first = walk_holding(holding.pk)
    assert first.notices == 4  # opened and given to the helper, last day to both
    before = list(Notice.objects.order_by("id").values())
    again = walk_holding(holding.pk, whole=True)
    assert (again.notices, again.withdrawn, again.changed) == (0, 0, ())
    assert list(Notice.objects.order_by("id").values()) == before


def test_news_of_a_called_off_job_is_withdrawn_in_the_walk_that_sees_it(
    holding: Holding, manager: Person, helper_person: Person, job_factory: JobFactory
) -> None:
    job = job_factory(holding, "Walk it", operation="look", last_day=date(2027, 5, 9))
    assign_job(holding_id=holding.pk, job_id=job.pk, by=manager, person_id=helper_person.pk, day=date(2027, 5, 8))
    walk_holding(holding.pk)
    call_off(job=job, by=manager, now=NOON)
    assert walk_holding(holding.pk).withdrawn == 4
    assert {state for _, _, state in told()} == {NoticeState.WITHDRAWN}


def test_news_about_a_removed_job_is_withdrawn(holding: Holding, manager: Person, job_factory: JobFactory) -> None:
    job = job_factory(holding, "Mow")
    walk_holding(holding.pk)
    remove_row(row=job, by=manager)
    assert walk_holding(holding.pk).withdrawn == 1
    assert told() == [("manager", "opened", NoticeState.WITHDRAWN)]


def test_a_walk_over_what_changed_tells_what_a_walk_over_everything_tells(
    holding: Holding, manager: Person, helper_person: Person, job_factory: JobFactory
) -> None:
    """Random facts; after each step the waiting news is what a whole walk from nothing would say, opened ones aside."""
    dice = random.Random(11)
    seed = Material.objects.create(holding=holding, name="Seed", kind="seed", unit="lb")
    StockMove.objects.create(holding=holding, material=seed, quantity=25.0, at=NOON)
    jobs = [job_factory(holding, f"Work {n}", acres=2.0, last_day=date(2027, 5, 8 + n)) for n in range(6)]
    for job in jobs[:4]:
        Need.objects.create(holding=holding, job=job, kind="material", name="seed", material=seed, rate_per_acre=4.0)
    walk_holding(holding.pk)

    def waiting() -> set[tuple[Any, ...]]:
        rows = Notice.objects.filter(state=NoticeState.QUEUED).exclude(kind="opened")
        return set(rows.values_list("person", "kind", "job_id", "basis"))

    compared = 0
    for _ in range(25):
        job = dice.choice(jobs)
        step = dice.randrange(4)
        if step == 0 and not Assignment.objects.filter(job=job, state="active").exists():
            day = date(2027, 5, 7) + timedelta(days=dice.randrange(6))
            assign_job(holding_id=holding.pk, job_id=job.pk, by=manager, person_id=helper_person.pk, day=day)
        elif step == 1:
            for row in Assignment.objects.filter(job=job, state="active"):
                end_assignment(assignment=row, by=manager, now=NOON)
        elif step == 2:
            job = Job.objects.get(pk=job.pk)
            job.last_day = date(2027, 5, 7) + timedelta(days=dice.randrange(9))
            change_job(job=job, by=manager, fields=["last_day"])
        else:
            move = StockMove(holding=holding, material=seed, quantity=dice.choice((-9.0, 7.0)), at=NOON)
            save_row(row=move, by=manager)
        walk_holding(holding.pk)
        found = waiting()
        Notice.objects.exclude(kind="opened").delete()
        walk_holding(holding.pk, whole=True)
        assert found == waiting()
        compared += len(found)
    assert compared > 100


# the clock


def test_the_clock_alone_brings_the_last_day_and_then_takes_it_back(
    holding: Holding, manager: Person, job_factory: JobFactory
) -> None:
    job = held(job_factory, holding, manager, deadline=date(2027, 5, 20))
    walk_holding(holding.pk)
    version = Graph.objects.get(pk=holding.pk).facts_version
    late = Reckoning.objects.get(pk=job.pk).latest_start
    assert woken(holding, "last_day", job) == late - timedelta(days=7)
    assert told("last_day", job_id=job.pk) == [("manager", "last_day", NoticeState.QUEUED)]
    clock(holding, "2027-05-25 08:00")
    assert told("last_day", job_id=job.pk) == [("manager", "last_day", NoticeState.WITHDRAWN)]
    assert Graph.objects.get(pk=holding.pk).facts_version == version


def test_the_clock_alone_brings_who_is_to_be_told_first(
    holding: Holding, manager: Person, helper_person: Person, job_factory: JobFactory
) -> None:
    job = held(job_factory, holding, manager, "Burn", operation="burn")
    TellFirst.objects.create(
        holding=holding,
        property=job.plot.property,
        operation="burn",
        name="County dispatch",
        role="fire dispatch",
        reach="555-0100",
        lead_hours=3,
    )
    hours = {"day": date(2027, 5, 8), "starts": time(9), "ends": time(12)}
    assign_job(holding_id=holding.pk, job_id=job.pk, by=manager, person_id=helper_person.pk, **hours)
    walk_holding(holding.pk)
    assert woken(holding, "tell_first", job) == at("2027-05-07 06:00"), "a day before three hours before nine"
    assert told("tell_first") == [
        ("manager", "tell_first", NoticeState.QUEUED),
        ("helper", "tell_first", NoticeState.QUEUED),
    ]
    payload = Notice.objects.filter(kind="tell_first").first().payload
    assert payload["title"] == "To be told first: County dispatch. Burn is set for Sat 8 May 09:00: Burn, Plot 1"
    assert "   Tell before: County dispatch, fire dispatch, 555-0100, 3 h before." in payload["lines"]
    assert any(line.startswith("Care, fire.") for line in payload["lines"])
    assert not Notice.objects.exclude(person__in=[manager, helper_person]).exists()


def test_the_clock_alone_brings_the_question_for_a_missing_report(
    holding: Holding, manager: Person, helper_person: Person, job_factory: JobFactory
) -> None:
    job = job_factory(holding, "Mow")
    assign_job(holding_id=holding.pk, job_id=job.pk, by=manager, person_id=helper_person.pk, day=date(2027, 5, 7))
    walk_holding(holding.pk)
    clock(holding, "2027-05-07 23:59")
    assert told("overdue") == []
    clock(holding, "2027-05-08 00:00")
    assert told("overdue") == [("helper", "overdue", NoticeState.QUEUED)]
    clock(holding, "2027-05-09 00:00")
    assert [who for who, _, _ in told("overdue")] == ["helper", "manager"]
    assert told("assigned") == [("helper", "assigned", NoticeState.WITHDRAWN)], "its day is over"
    report(helper_person, job, "done", "2027-05-09 00:01")
    clock(holding, "2027-05-09 00:02")
    assert {state for _, _, state in told("overdue")} == {NoticeState.WITHDRAWN}


def test_work_begun_and_not_ended_is_asked_about_on_the_next_day(
    holding: Holding, manager: Person, helper_person: Person, job_factory: JobFactory
) -> None:
    job = job_factory(holding, "Mow")
    assign_job(holding_id=holding.pk, job_id=job.pk, by=manager, person_id=helper_person.pk)
    report(helper_person, job, "start", "2027-05-06 11:00")
    walk_holding(holding.pk)
    clock(holding, "2027-05-07 00:00")
    assert [who for who, _, _ in told("overdue")] == ["helper"]
    clock(holding, "2027-05-08 00:00")
    assert [who for who, _, _ in told("overdue")] == ["helper", "manager"]
