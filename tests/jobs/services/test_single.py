"""What is kept with a job is changed piece by piece: who read the job before keeps nothing of another's from it."""

from collections.abc import Callable
from typing import Any

import pytest

from core.models import Holding, Person
from jobs.models import Job
from jobs.services.single import change_job, set_burn_plan, set_split

pytestmark = pytest.mark.django_db

PLAN = {"burn_out_min": 60, "mop_up_min": 120, "briefing_min": 20, "least_crew": 4, "hours": []}
Write = Callable[[Job, Person], Job]


def typed(job: Job, by: Person) -> Job:
    job.duration_min = 90
    return change_job(job=job, by=by, fields=["duration_min"])


def split(job: Job, by: Person) -> Job:
    return set_split(job=job, by=by, may_split=True, least_piece_min=30)


def planned(job: Job, by: Person) -> Job:
    return set_burn_plan(job=job, by=by, plan=PLAN)


WRITES = [typed, split, planned]


@pytest.mark.parametrize("then", WRITES)
@pytest.mark.parametrize("first", WRITES)
def test_what_was_written_to_a_job_since_it_was_read_stays(
    first: Write, then: Write, holding: Holding, manager: Person, job_factory: Callable[..., Job]
) -> None:
    job = job_factory(holding, operation="burn", details={"least_crew": 4, "work": {"usual_min": 45}})
    one, other = Job.objects.get(pk=job.pk), Job.objects.get(pk=job.pk)
    first(one, manager)
    assert then(other, manager).details == Job.objects.get(pk=job.pk).details
    expected: dict[str, Any] = {"least_crew": 4, "work": {"usual_min": 45}}
    for write in (first, then):
        if write is typed:
            expected["work"]["typed"] = True
        elif write is split:
            expected["work"] |= {"may_split": True, "least_piece_min": 30}
        else:
            expected["burn_plan"] = PLAN
    assert Job.objects.get(pk=job.pk).details == expected
