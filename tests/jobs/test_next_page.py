"""The page of next jobs: what opens later is folded, what needs eyes is not."""

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone

from core.models import Holding, Person
from jobs.models import Job, JobState, Reckoning
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
