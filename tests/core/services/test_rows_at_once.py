"""Two edits of one row at the same moment both stand; saved as whole rows one of them is lost, as the control shows."""

import uuid
from collections.abc import Callable
from threading import Barrier, Thread
from time import monotonic, sleep

import pytest
from django.db import connections
from django.utils import timezone

from core.models import Holding, Person
from core.services.rows import save_row
from jobs.models import Job, Need
from jobs.services.reports import NewReport, store_report
from plots.models import Machine, Plot, Property
from plots.services.land import save_plot

pytestmark = pytest.mark.django_db(transaction=True)
RACES = 15
SQUARE = {
    "type": "Polygon",
    "coordinates": [[[-95.0, 39.0], [-94.998, 39.0], [-94.998, 39.001], [-95.0, 39.001], [-95.0, 39.0]]],
}


def at_once(*writes: Callable[[Barrier], None]) -> None:
    """Run the writers in threads of their own; each waits at the barrier when it has read."""
    start, broken = Barrier(len(writes), timeout=30), []

    def run(write: Callable[[Barrier], None]) -> None:
        try:
            write(start)
        except Exception as error:
            broken.append(error)
        finally:
            connections.close_all()

    threads = [Thread(target=run, args=(write,)) for write in writes]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert broken == []


def lost_breakdowns(manager: Person, holding: Holding, job: Job, rename: Callable[[Machine], None]) -> int:
    """Races of a new name and "the machine broke" after which the machine works again; every new name must stand."""
    lost = 0
    for number in range(RACES):
        Machine.objects.filter(holding=holding).update(kind="retired")
        machine = Machine.objects.create(holding=holding, name=f"Drill {number}", kind="planter")

        def renamed(start: Barrier, pk: int = machine.pk) -> None:
            row = Machine.objects.get(pk=pk)
            row.name = f"Named {pk}"
            start.wait()
            rename(row)

        def broke(start: Barrier) -> None:
            now = timezone.now()
            new = NewReport(client_id=uuid.uuid4(), job=job.pk, kind="could_not", reason="machine", happened_at=now)
            start.wait()
            store_report(person=manager, new=new, now=now)

        at_once(renamed, broke)
        stored = Machine.objects.get(pk=machine.pk)
        assert stored.name == f"Named {machine.pk}"
        lost += stored.state != "down"
    return lost


@pytest.fixture
def plant(holding: Holding, job_factory: Callable[..., Job]) -> Job:
    job = job_factory(holding, "Plant")
    Need.objects.create(holding=holding, job=job, kind="machine", name="planter")
    return job


def test_a_new_name_and_a_breakdown_at_once_both_stand(manager: Person, holding: Holding, plant: Job) -> None:
    assert lost_breakdowns(manager, holding, plant, lambda row: save_row(row=row, by=manager, fields=["name"])) == 0


def test_rows_saved_whole_lose_breakdowns(manager: Person, holding: Holding, plant: Job) -> None:
    def late(row: Machine) -> None:
        given_up = monotonic() + 20
        while not Machine.objects.filter(pk=row.pk, state="down").exists() and monotonic() < given_up:
            sleep(0.01)
        row.save()

    assert lost_breakdowns(manager, holding, plant, late) == RACES


def test_an_outline_and_a_note_at_once_both_stand(
    manager: Person, holding: Holding, plot_factory: Callable[..., Plot]
) -> None:
    place = Property.objects.create(holding=holding, name="Hill", latitude=39.0, longitude=-95.0)
    for number in range(RACES):
        plot = plot_factory(
            holding, property=place, name=f"Strip {number}", polygon=SQUARE, latitude=39.0, longitude=-95.0
        )

        def noted(start: Barrier, pk: int = plot.pk) -> None:
            row = Plot.objects.get(pk=pk)
            row.note = "wet corner"
            start.wait()
            save_plot(row=row, by=manager, fields=["note"])

        def drawn(start: Barrier, pk: int = plot.pk) -> None:
            row = Plot.objects.get(pk=pk)
            row.polygon = {"type": "Polygon", "coordinates": [[[x, y + 0.01] for x, y in SQUARE["coordinates"][0]]]}
            start.wait()
            save_plot(row=row, by=manager, fields=["polygon"])

        at_once(noted, drawn)
        stored = Plot.objects.get(pk=plot.pk)
        assert (stored.note, stored.polygon["coordinates"][0][0]) == ("wet corner", [-95.0, 39.01])
        assert stored.acres_geodesic is not None
        assert stored.latitude is not None
        assert stored.latitude > 39.01
