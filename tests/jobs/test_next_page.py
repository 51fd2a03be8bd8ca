"""The page of next jobs: what opens later is folded, what needs eyes is not."""

import uuid
from collections.abc import Callable
from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone

from core.models import Holding, Person
from jobs.models import Job, JobState, Reckoning
from jobs.selectors.next import HOURS_ASKED
from plots.models import Plot

pytestmark = pytest.mark.django_db


def test_more_than_three_that_open_later_stand_behind_their_number(
    holding: Holding, manager: Person, plot_factory: Callable[..., Plot], signed_in: Callable[[Person], Client]
) -> None:
    plot, soon = plot_factory(holding), timezone.now() + timedelta(days=2)
    for state, count in ((JobState.OPEN, 2), (JobState.HELD, 5)):
        for number in range(count):
            job = Job.objects.create(
                holding=holding, plot=plot, operation="till", title=f"Till {state} {number}", duration_min=60
            )
            Job.objects.filter(pk=job.pk).update(component=job.pk)
            Reckoning.objects.create(holding=holding, job=job, state=state, earliest_start=soon, changed_at=soon)
    shown = signed_in(manager).get("/").content.decode()
    before, _, folded = shown.partition('<details class="later">')
    assert [before.count(f"Till {state}") for state in (JobState.OPEN, JobState.HELD)] == [2, 3]
    assert "2 more that wait and open within seven days" in folded
    assert folded.count("Till held") == 2


@pytest.mark.parametrize("hours", ["-2", "abc", "0", "25"])
def test_hours_that_make_no_sense_are_told_in_the_sentence_of_command_and_api(
    hours: str, manager: Person, signed_in: Callable[[Person], Client]
) -> None:
    assert HOURS_ASKED in signed_in(manager).get("/", {"hours": hours}).content.decode()
    assert HOURS_ASKED not in signed_in(manager).get("/", {"hours": "2.5"}).content.decode()


def test_a_refused_report_of_the_jobs_page_comes_back_there_with_what_was_typed(
    holding: Holding, manager: Person, job_factory: Callable[..., Job], signed_in: Callable[[Person], Client]
) -> None:
    job, client = job_factory(holding, "Till", operation="till", acres=4.0), signed_in(manager)
    Reckoning.objects.create(holding=holding, job=job, state=JobState.OPEN, changed_at=timezone.now())
    said = {"client_id": str(uuid.uuid4()), "back": "job", "kind": "done", "acres": "-3", "note": "Half of it"}
    answer = client.post(f"/jobs/{job.pk}/report/", said, follow=True)
    page = answer.content.decode()
    assert answer.redirect_chain == [(f"/jobs/{job.pk}/", 302)]
    assert "Give acres as a number like 2.5, above 0 and at most 10,000. Nothing was stored." in page
    assert 'value="-3"' in page
    assert 'value="Half of it"' in page
    assert 'value="-3"' not in client.get(f"/jobs/{job.pk}/").content.decode(), "it is shown once"
