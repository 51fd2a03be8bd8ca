"""What every test may ask for: holdings with their people, clients, and the services of the machine."""

import os
import shutil
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from itertools import count
from pathlib import Path
from threading import Barrier
from typing import Any

import pytest
from django.db import connection
from django.test import Client

from core.celery import app
from core.models import Graph, Holding, HoldingState, Person, Role, User
from jobs.models import Job
from plots.models import Plot, Property

NEEDS = {
    "postgres": (lambda: connection.vendor == "postgresql", "a PostgreSQL server: set DATABASE_URL"),
    "redis": (lambda: bool(os.environ.get("REDIS_URL")), "a Redis server: set REDIS_URL"),
    "browser": (lambda: any(shutil.which(name) for name in ("chromium", "chromium-browser")), "Chromium: install it"),
}


def pytest_runtest_setup(item: pytest.Item) -> None:
    """A test that needs a missing service says so; with CI_SERVICES=1 every service is required and it fails."""
    for mark, (there, what) in NEEDS.items():
        if item.get_closest_marker(mark) and not there():
            (pytest.fail if os.environ.get("CI_SERVICES") == "1" else pytest.skip)(f"needs {what}")


def pytest_sessionfinish(session: pytest.Session) -> None:
    """Where every service is required, a skipped test is a failure, whatever it was skipped for."""
    reporter = session.config.pluginmanager.get_plugin("terminalreporter")
    if os.environ.get("CI_SERVICES") == "1" and reporter is not None and reporter.stats.get("skipped"):
        session.exitstatus = session.exitstatus or pytest.ExitCode.TESTS_FAILED


@pytest.fixture(scope="session")
def django_db_modify_db_settings(
    django_db_modify_db_settings_parallel_suffix: None, tmp_path_factory: pytest.TempPathFactory
) -> None:
    """SQLite is tested as it is run, as a file: one in memory knows no write-ahead log and locks by table."""
    if connection.vendor == "sqlite":
        connection.settings_dict["TEST"]["NAME"] = str(tmp_path_factory.mktemp("database") / "test.sqlite3")


@pytest.fixture(scope="session", autouse=True)
def queue_in_memory() -> None:
    """Messages of the tests reach nobody's worker."""
    app.conf.update(broker_url="memory://", broker_transport_options={})


@pytest.fixture(autouse=True)
def holdings_closed_at_the_end(request: pytest.FixtureRequest, _django_db_marker: None) -> Iterator[None]:
    """After a test that really commits, close its holdings: the log and the reports of open ones cannot be cleared."""
    mark = request.node.get_closest_marker("django_db")
    commits = bool(mark and mark.kwargs.get("transaction"))
    for name in ("live_server", "transactional_db"):
        if name in request.fixturenames:
            request.getfixturevalue(name)
            commits = True
    yield
    if commits:
        Holding.objects.update(state=HoldingState.CLOSED)


HoldingFactory = Callable[..., Holding]
PersonFactory = Callable[..., Person]


@pytest.fixture
def holding_factory(db: None) -> HoldingFactory:
    """Make holdings with their graph row: `holding_factory(name="Hollow")`."""
    numbers = count(1)

    def make(**fields: Any) -> Holding:
        holding = Holding.objects.create(**{"name": f"Holding {next(numbers)}", **fields})
        Graph.objects.create(holding=holding)
        return holding

    return make


@pytest.fixture
def person_factory(db: None) -> PersonFactory:
    """Make people: `person_factory(holding, "manager", name="Ada", signs_in=True)`."""
    numbers = count(1)

    def make(holding: Holding, role: str = Role.HELPER, *, signs_in: bool = False, **fields: Any) -> Person:
        number = next(numbers)
        user = User.objects.create(email=f"{role}{number}@example.org") if signs_in else None
        standard = {"holding": holding, "role": role, "user": user, "name": f"{role} {number}"}
        return Person.objects.create(**(standard | fields))

    return make


@pytest.fixture
def holding(holding_factory: HoldingFactory) -> Holding:
    return holding_factory(name="Home holding")


@pytest.fixture
def other_holding(holding_factory: HoldingFactory) -> Holding:
    """Somebody else's land."""
    return holding_factory(name="Other holding")


@pytest.fixture
def manager(holding: Holding, person_factory: PersonFactory) -> Person:
    return person_factory(holding, Role.MANAGER, signs_in=True, name="Manager of home")


@pytest.fixture
def helper_person(holding: Holding, person_factory: PersonFactory) -> Person:
    return person_factory(holding, Role.HELPER, signs_in=True, name="Helper of home")


@pytest.fixture
def viewer(holding: Holding, person_factory: PersonFactory) -> Person:
    return person_factory(holding, Role.VIEWER, signs_in=True, name="Viewer of home")


@pytest.fixture
def other_manager(other_holding: Holding, person_factory: PersonFactory) -> Person:
    return person_factory(other_holding, Role.MANAGER, signs_in=True, name="Manager of other")


@pytest.fixture
def plot_factory(db: None) -> Callable[..., Plot]:
    """Make plots, each on a property of its own: `plot_factory(holding, acres_typed=3.0)`."""
    numbers = count(1)

    def make(holding: Holding, **fields: Any) -> Plot:
        number = next(numbers)
        if "property" not in fields:
            fields["property"] = Property.objects.create(
                holding=holding, name=f"Property {number}", latitude=39.0, longitude=-95.0
            )
        return Plot.objects.create(**{"holding": holding, "name": f"Plot {number}", "acres_typed": 2.0} | fields)

    return make


@pytest.fixture
def job_factory(plot_factory: Callable[..., Plot]) -> Callable[..., Job]:
    """Make jobs, each a component of its own, all on one plot of their holding: `job_factory(holding, "Till")`."""
    plots: dict[int, Plot] = {}

    def make(holding: Holding, title: str = "Work", **fields: Any) -> Job:
        if "plot" not in fields:
            fields["plot"] = plots.get(holding.pk) or plots.setdefault(holding.pk, plot_factory(holding))
        job = Job.objects.create(
            **{"holding": holding, "title": title, "operation": "till", "duration_min": 60} | fields
        )
        if "component" not in fields:
            Job.objects.filter(pk=job.pk).update(component=job.pk)
            job.component = job.pk
        return job

    return make


@pytest.fixture
def signed_in() -> Callable[[Person], Client]:
    """A browser session of a person: `signed_in(manager).get("/")`."""

    def make(person: Person) -> Client:
        client = Client()
        client.force_login(person.user, backend="django.contrib.auth.backends.ModelBackend")
        return client

    return make


@pytest.fixture
def at_once() -> Callable[[Callable[[], Any]], list[Any]]:
    """The same work in eight threads at once: `at_once(work)` gives what each returned and raises what one raised."""

    def run(work: Callable[[], Any]) -> list[Any]:
        start = Barrier(8)

        def alone(_: int) -> Any:
            start.wait()
            try:
                return work()
            finally:
                connection.close()

        with ThreadPoolExecutor(8) as pool:
            return list(pool.map(alone, range(8)))

    return run


@pytest.fixture
def data_folder(tmp_path: Path, settings: Any) -> Path:
    """An empty data folder of this test alone."""
    settings.DATA = tmp_path
    return tmp_path
