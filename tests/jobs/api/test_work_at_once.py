"""The same report sent eight times at once is one report; one person given away several times at once is given once."""

from collections.abc import Callable
from datetime import UTC, datetime
from threading import Barrier, Thread
from typing import Any

import pytest
from django.db import IntegrityError, connections

from core.models import Holding, Person
from jobs.models import Assignment, Job, Need, Report
from plots.models import Material, StockMove
from tests.core.world import script_of

pytestmark = pytest.mark.django_db(transaction=True)
AT_ONCE = 8
NOON = datetime(2026, 4, 2, 17, tzinfo=UTC)
ROUNDS = 5


def send_at_once(person: Person, path: str, bodies: list[dict[str, Any]]) -> list[Any]:
    """The answers to all bodies, each from a script of its own, sent when all are ready."""
    start, answers = Barrier(len(bodies), timeout=30), []
    scripts = [script_of(person) for _ in bodies]

    def send(script: Any, body: dict[str, Any]) -> None:
        try:
            start.wait()
            answers.append(script.post(path, body, format="json"))
        finally:
            connections.close_all()

    threads = [Thread(target=send, args=pair) for pair in zip(scripts, bodies, strict=True)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(answers) == len(bodies)
    return answers


def test_the_same_report_eight_times_at_once_is_one_report(
    manager: Person, holding: Holding, job_factory: Callable[..., Job]
) -> None:
    job = job_factory(holding, "Till")
    for number in range(ROUNDS):
        body = {
            "client_id": f"0d9a3b54-0a54-4f1b-9a43-{number:012d}",
            "job": job.pk,
            "kind": "start",
            "happened_at": "2026-04-02T08:30:00-05:00",
        }
        answers = send_at_once(manager, "/api/reports/", [body] * AT_ONCE)
        assert [answer.status_code for answer in answers] == [201] * AT_ONCE
        assert len({answer.content for answer in answers}) == 1
        assert Report.objects.count() == number + 1


def test_without_the_claim_the_same_report_at_once_is_answered_in_several_ways(
    manager: Person, holding: Holding, job_factory: Callable[..., Job]
) -> None:
    """Looked for, then stored: each finds none and stores one; the database keeps the first and refuses the others."""
    job, refused = job_factory(holding, "Till"), 0
    for number in range(ROUNDS):
        start, failed = Barrier(AT_ONCE, timeout=30), []
        body = {"person": manager, "client_id": f"0d9a3b54-0a54-4f1b-9a43-{number:012d}"}

        def store(start: Barrier = start, body: dict[str, Any] = body, failed: list[Any] = failed) -> None:
            rest = {"happened_at": NOON, "received_at": NOON, "body_sha256": "0" * 64}
            try:
                there = Report.objects.filter(**body).exists()
                start.wait()
                if not there:
                    Report.objects.create(holding=holding, job=job, plot=job.plot, kind="start", **body, **rest)
            except IntegrityError as error:
                failed.append(error)
            finally:
                connections.close_all()

        threads = [Thread(target=store) for _ in range(AT_ONCE)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        assert Report.objects.count() == number + 1
        refused += len(failed)
    assert refused == ROUNDS * (AT_ONCE - 1)


def test_of_one_id_with_several_contents_at_once_one_is_stored(
    manager: Person, holding: Holding, job_factory: Callable[..., Job]
) -> None:
    job = job_factory(holding, "Till", acres=9.0)
    happened = {"kind": "done", "happened_at": "2026-04-02T08:30:00-05:00", "job": job.pk}
    client = {"client_id": "0d9a3b54-0a54-4f1b-9a43-000000000001"}
    answers = send_at_once(manager, "/api/reports/", [{**client, **happened, "acres": n + 1} for n in range(4)])
    assert sorted(answer.status_code for answer in answers) == [201, 422, 422, 422]
    assert Report.objects.count() == 1


def test_one_person_given_to_several_jobs_at_once_is_given_to_one(
    manager: Person, helper_person: Person, holding: Holding, job_factory: Callable[..., Job]
) -> None:
    jobs = [job_factory(holding, f"Job {number}") for number in range(4)]
    for number in range(1, ROUNDS + 1):
        hours = {"person": helper_person.pk, "day": f"2026-05-{number:02d}", "starts": "08:00", "ends": "10:00"}
        answers = send_at_once(manager, "/api/assignments/", [{"job": job.pk, **hours} for job in jobs])
        assert sorted(answer.status_code for answer in answers) == [201, 409, 409, 409]
        assert Assignment.objects.filter(state="active").count() == 1
        Assignment.objects.update(state="ended")


def test_stock_is_the_sum_of_what_eight_reports_at_once_took(
    manager: Person, holding: Holding, job_factory: Callable[..., Job]
) -> None:
    """Eight parts of half an acre at 2 lb an acre, of one job, all at once: eight movements of 1 lb."""
    seed = Material.objects.create(holding=holding, name="Rye", kind="seed", unit="lb")
    StockMove.objects.create(holding=holding, material=seed, quantity=100.0, at=NOON)
    job = job_factory(holding, "Sow", acres=8.0)
    Need.objects.create(holding=holding, job=job, kind="material", name="seed", material=seed, rate_per_acre=2.0)
    part = {"kind": "done", "happened_at": "2026-04-02T08:30:00-05:00", "job": job.pk, "acres": 0.5}
    bodies = [{**part, "client_id": f"0d9a3b54-0a54-4f1b-9a44-{number:012d}"} for number in range(AT_ONCE)]
    answers = send_at_once(manager, "/api/reports/", bodies)
    assert [answer.status_code for answer in answers] == [201] * AT_ONCE
    moved = list(StockMove.objects.filter(material=seed).values_list("quantity", flat=True))
    assert sorted(moved) == [-1.0] * AT_ONCE + [100.0]
    assert script_of(manager).get(f"/api/materials/{seed.pk}/").json()["stock"] == sum(moved) == 92.0
