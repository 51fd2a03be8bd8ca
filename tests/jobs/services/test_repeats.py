"""What comes round again is counted from the last one done, follows its correction, and ends when it is to end."""

import uuid
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest

from core.models import Event, Holding, Person
from jobs.models import Assignment, Job, Need, Prerequisite, Report, Season
from jobs.services.links import add_link
from jobs.services.reports import NewReport, store_report
from jobs.services.seasons import apply_sequence, latest_sequence
from jobs.services.single import change_job
from jobs.services.walking import differences, walk_holding
from plots.models import Plot

pytestmark = pytest.mark.django_db
NOW = datetime(2027, 5, 20, 17, tzinfo=UTC)
WEEKLY = {"every_days": 7}
JobFactory = Callable[..., Job]


@pytest.fixture
def holding(holding_factory: Callable[..., Holding]) -> Holding:
    return holding_factory(zone="America/Chicago", clock_at=NOW)


@pytest.fixture
def feed(holding: Holding, job_factory: JobFactory) -> Job:
    """A round fed every week, with a machine."""
    job = job_factory(holding, "Feed", step="feed", repeat=WEEKLY)
    Need.objects.create(holding=holding, job=job, kind="machine", name="truck")
    walk_holding(holding.pk)
    return job


def say(person: Person, job: Job, kind: str, day: int = 20, **more: Any) -> Report:
    """A report of a day in May, and the walk after it."""
    new = NewReport(
        client_id=uuid.uuid4(), kind=kind, happened_at=datetime(2027, 5, day, 15, tzinfo=UTC), job=job.pk, **more
    )
    stored = store_report(person=person, new=new, now=NOW)
    walk_holding(person.holding_id)
    assert differences(person.holding_id) == {}
    return Report.objects.get(pk=stored["id"])


def occurrences(job: Job) -> list[tuple[int, date | None]]:
    return list(Job.objects.filter(step=job.step).order_by("occurrence").values_list("occurrence", "first_day"))


def second(job: Job) -> Job:
    return Job.objects.get(step=job.step, occurrence=2)


def told(job: Job) -> list[tuple[str, str]]:
    events = Event.objects.filter(object="job", object_id=job.pk, person=None).order_by("id")
    return [(event.verb, event.change.get("because", "")) for event in events]


def test_a_corrected_day_moves_the_next_round(feed: Job, manager: Person) -> None:
    first = say(manager, feed, "done", 10)
    assert occurrences(feed) == [(1, None), (2, date(2027, 5, 17))]
    say(manager, feed, "done", 13, corrects=first.pk)
    assert occurrences(feed) == [(1, None), (2, date(2027, 5, 20))]
    assert told(second(feed)) == [("moved", "The last one was done on 2027-05-13.")]


def test_a_withdrawn_report_takes_the_next_round_back_and_a_new_one_makes_it_again(feed: Job, manager: Person) -> None:
    report = say(manager, feed, "done", 10)
    gone = second(feed)
    say(manager, feed, "withdrawn", corrects=report.pk)
    assert occurrences(feed) == [(1, None)]
    assert not Need.objects.filter(job=gone.pk).exists()
    assert [verb for verb, _ in told(gone)] == ["removed"]
    say(manager, feed, "done", 12)
    assert occurrences(feed) == [(1, None), (2, date(2027, 5, 19))]
    assert list(Need.objects.filter(job=second(feed)).values_list("name", flat=True)) == ["truck"]


def report_on(job: Job, person: Person) -> None:
    say(person, job, "note")


def assign(job: Job, person: Person) -> None:
    Assignment.objects.create(holding_id=job.holding_id, job=job, person=person)


def redate(job: Job, person: Person) -> None:
    job.first_day = date(2027, 5, 29)
    change_job(job=job, by=person, fields=["first_day"])


def tie(job: Job, person: Person) -> None:
    before = Job.objects.create(
        holding_id=job.holding_id, plot=job.plot, title="Buy", operation="order", duration_min=9
    )
    Job.objects.filter(pk=before.pk).update(component=before.pk)
    add_link(link=Prerequisite(holding_id=job.holding_id, predecessor=before, successor=job), by=person)


@pytest.mark.parametrize("touch", [report_on, assign, redate, tie])
def test_a_next_round_that_was_touched_stays_as_it_is_and_the_log_says_so(
    feed: Job, manager: Person, touch: Callable[[Job, Person], None]
) -> None:
    report = say(manager, feed, "done", 10)
    touch(second(feed), manager)
    as_it_was = occurrences(feed)
    report = say(manager, feed, "done", 13, corrects=report.pk)
    assert occurrences(feed) == as_it_was
    say(manager, feed, "withdrawn", corrects=report.pk)
    say(manager, feed, "note")
    assert occurrences(feed) == as_it_was
    assert [verb for verb, _ in told(second(feed))] == ["kept", "kept"]


def test_a_correction_past_the_last_day_takes_the_next_round_back(
    holding: Holding, manager: Person, job_factory: JobFactory
) -> None:
    mow = job_factory(holding, "Mow", step="mow", repeat={"every_days": 7, "until": "2027-05-22"})
    walk_holding(holding.pk)
    report = say(manager, mow, "done", 14)
    assert len(occurrences(mow)) == 2
    say(manager, mow, "done", 18, corrects=report.pk)
    assert len(occurrences(mow)) == 1


def test_missed_rounds_do_not_pile_up(feed: Job, manager: Person, holding: Holding) -> None:
    say(manager, feed, "done", 1)
    for weeks in (1, 2, 5):
        Holding.objects.filter(pk=holding.pk).update(clock_at=NOW + timedelta(weeks=weeks))
        walk_holding(holding.pk, whole=True)
    assert occurrences(feed) == [(1, None), (2, date(2027, 5, 8))]


def test_the_next_round_is_finished_at_latest_so_many_days_after_the_last(
    holding: Holding, manager: Person, job_factory: JobFactory
) -> None:
    rule = {"every_days": 4, "latest_days": 6}
    fill = job_factory(holding, "Fill", step="fill", repeat=rule, deadline=date(2027, 5, 27))
    walk_holding(holding.pk)
    say(manager, fill, "done", 15)
    assert second(fill).deadline == date(2027, 5, 21)
    assert second(fill).details["deadline_note"] == "at most 6 days after the last one"
    say(manager, second(fill), "done", 20)
    assert Job.objects.get(step="fill", occurrence=3).deadline == date(2027, 5, 26)  # not bound by the second's


def test_the_sequence_s_own_deadline_goes_before_a_later_one(
    holding: Holding, manager: Person, job_factory: JobFactory
) -> None:
    rule = {"every_days": 4, "latest_days": 6}
    fill = job_factory(holding, "Fill", step="fill", repeat=rule, deadline=date(2027, 5, 20))
    walk_holding(holding.pk)
    say(manager, fill, "done", 15)
    assert second(fill).deadline == date(2027, 5, 20)
    assert "deadline_note" not in second(fill).details


@pytest.fixture
def fenced(holding: Holding, plot_factory: Callable[..., Plot]) -> Season:
    plot = plot_factory(holding)
    season = apply_sequence(plot=plot, sequence=latest_sequence(holding.pk, "fence"), year=2027, by=None)
    walk_holding(holding.pk)
    return season


@pytest.mark.parametrize("end", ["open", "take_down"])
def test_the_weekly_look_at_the_fence_ends_with_the_fence(fenced: Season, manager: Person, end: str) -> None:
    check, ending = fenced.jobs.get(step="check_fence"), fenced.jobs.get(step=end)
    say(manager, check, "done", 10)
    report = say(manager, ending, "done", 18)
    assert second(check).called_off_at == report.happened_at
    assert second(check).reckoning.state == "called_off"
    assert told(second(check)) == [("called off", f"{ending.title} is done.")]

    say(manager, ending, "withdrawn", corrects=report.pk)
    assert second(check).called_off_at is None
    assert second(check).reckoning.state != "called_off"
    assert [verb for verb, _ in told(second(check))] == ["called off", "called back"]
    assert len(occurrences(check)) == 2


def test_a_look_reported_late_makes_no_other_while_the_fence_is_open(fenced: Season, manager: Person) -> None:
    check = fenced.jobs.get(step="check_fence")
    report = say(manager, fenced.jobs.get(step="open"), "done", 18)
    assert Job.objects.get(pk=check.pk).called_off_at is not None
    say(manager, check, "done", 17)
    assert len(occurrences(check)) == 1
    say(manager, fenced.jobs.get(step="open"), "withdrawn", corrects=report.pk)
    assert occurrences(check)[1:] == [(2, date(2027, 5, 24))]


def test_a_skipped_opening_ends_no_looking(fenced: Season, manager: Person) -> None:
    check = fenced.jobs.get(step="check_fence")
    say(manager, fenced.jobs.get(step="open"), "skipped", 18)
    assert Job.objects.get(pk=check.pk).called_off_at is None
