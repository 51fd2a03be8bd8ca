"""Links written at the same moment never close a circle; without lock and guard they do, which the control shows."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from threading import Barrier, Thread

import networkx as nx
import pytest
from django.db import IntegrityError, connection, connections

from core.errors import Refused
from core.models import Holding
from jobs.guards import NO_CYCLE
from jobs.models import Job, Prerequisite
from jobs.services.components import relabel
from jobs.services.links import add_link

pytestmark = pytest.mark.django_db(transaction=True)

RACES = 20
SHAPES = {
    "both ways": ([], [(0, 1), (1, 0)]),
    "a ring of three": ([], [(0, 1), (1, 2), (2, 0)]),
    "a ring closed by two links without a common job": ([(1, 2), (3, 0)], [(0, 1), (2, 3)]),
}
Writer = Callable[[Prerequisite, Barrier], None]


def by_service(link: Prerequisite, start: Barrier) -> None:
    start.wait()
    add_link(link=link, by=None)


def by_hand(link: Prerequisite, start: Barrier) -> None:
    """Look whether the link closes a circle, and store it when all have looked: what the lock is there to prevent."""
    edges = list(Prerequisite.objects.filter(holding=link.holding).values_list("predecessor_id", "successor_id"))
    start.wait()
    if not nx.is_directed_acyclic_graph(nx.DiGraph([*edges, (link.predecessor_id, link.successor_id)])):
        raise Refused("A circle.")
    link.save()


def circles(shape: str, holding: Holding, jobs: list[Job], write: Writer, races: int = RACES) -> int:
    """Races after which the stored links hold a circle. In every other race at least one writer was refused."""
    there, new = SHAPES[shape]
    found = 0
    for _ in range(races):
        Prerequisite.objects.filter(holding=holding).delete()
        Prerequisite.objects.bulk_create(link(holding, jobs, pair) for pair in there)
        relabel(holding_id=holding.pk)
        start, refused, broken = Barrier(len(new), timeout=30), [], []

        def run(row: Prerequisite, start: Barrier = start, refused: list = refused, broken: list = broken) -> None:
            try:
                write(row, start)
            except (Refused, IntegrityError) as error:
                refused.append(error)
            except Exception as error:
                broken.append(error)
            finally:
                connections.close_all()

        threads = [Thread(target=run, args=(link(holding, jobs, pair),)) for pair in new]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        assert broken == []
        stored = list(Prerequisite.objects.filter(holding=holding).values_list("predecessor_id", "successor_id"))
        assert len(stored) + len(refused) == len(there) + len(new)
        if nx.is_directed_acyclic_graph(nx.DiGraph(stored)):
            assert refused
        else:
            found += 1
    return found


def link(holding: Holding, jobs: list[Job], pair: tuple[int, int]) -> Prerequisite:
    return Prerequisite(holding=holding, predecessor=jobs[pair[0]], successor=jobs[pair[1]])


@contextmanager
def without_guard() -> Iterator[None]:
    """Take the database's own guard against circles away for a while."""
    names = list(NO_CYCLE.statements(connection.vendor))
    with connection.cursor() as cursor:
        for name in names:
            if connection.vendor == "postgresql":
                cursor.execute(f"ALTER TABLE jobs_prerequisite DISABLE TRIGGER {name}")
            else:
                cursor.execute(f"DROP TRIGGER {name}")
        try:
            yield
        finally:
            for name, statements in NO_CYCLE.statements(connection.vendor).items():
                if connection.vendor == "postgresql":
                    cursor.execute(f"ALTER TABLE jobs_prerequisite ENABLE TRIGGER {name}")
                else:
                    cursor.execute(*statements)


@pytest.fixture
def jobs(holding: Holding, job_factory: Callable[..., Job]) -> list[Job]:
    return [job_factory(holding, f"Work {number}") for number in range(4)]


@pytest.mark.parametrize("shape", SHAPES)
def test_the_lock_lets_no_circle_close(shape: str, holding: Holding, jobs: list[Job]) -> None:
    with without_guard():
        assert circles(shape, holding, jobs, by_service) == 0


@pytest.mark.parametrize("shape", SHAPES)
def test_the_guard_lets_no_circle_close_past_the_lock(shape: str, holding: Holding, jobs: list[Job]) -> None:
    assert circles(shape, holding, jobs, by_hand) == 0


@pytest.mark.parametrize("shape", SHAPES)
def test_without_lock_and_guard_circles_close(shape: str, holding: Holding, jobs: list[Job]) -> None:
    with without_guard():
        assert circles(shape, holding, jobs, by_hand) >= 0.8 * RACES
