"""The walk through the database: what wakes it, what it tells, and that nothing it owes is lost between two steps."""

import uuid
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest

from core.models import Graph, Holding, Notice, NoticeState, Person, Way
from core.services.holding import change_holding
from core.services.rows import remove_row, save_row
from jobs.models import Job, Need, Prerequisite, Reckoning
from jobs.selectors.facts import Loaded
from jobs.services import walking
from jobs.services.links import add_link
from jobs.services.reports import NewReport, store_report
from jobs.services.seasons import call_off
from jobs.services.single import change_job
from jobs.services.walking import differences, walk_holding
from jobs.tasks import check_whole
from plots.models import Machine, Material, Plot, StockMove

SATURDAY = datetime(2027, 5, 8, 17, 0, tzinfo=UTC)

JobFactory = Callable[..., Job]


@pytest.fixture
def holding(holding_factory: Callable[..., Holding]) -> Holding:
    """A holding whose clock stands on a Saturday noon."""
    return holding_factory(zone="America/Chicago", clock_at=SATURDAY)


def state(job: Job) -> str:
    return Reckoning.objects.get(pk=job.pk).state


def done(person: Person, job: Job) -> None:
    new = NewReport(client_id=uuid.uuid4(), kind="done", happened_at=SATURDAY, job=job.pk)
    store_report(person=person, new=new, now=SATURDAY)


def test_a_successor_of_a_removed_job_waits_no_longer(
    holding: Holding, manager: Person, job_factory: JobFactory
) -> None:
    spray, plant = job_factory(holding, "Spray"), job_factory(holding, "Plant")
    add_link(link=Prerequisite(holding=holding, predecessor=spray, successor=plant), by=manager)
    walk_holding(holding.pk)
    assert state(plant) == "held"
    remove_row(row=spray, by=manager)
    walk_holding(holding.pk)
    assert state(plant) == "open"
    assert differences(holding.pk) == {}


def test_a_job_beside_a_removed_plot_waits_no_longer(
    holding: Holding, manager: Person, job_factory: JobFactory, plot_factory: Callable[..., Plot]
) -> None:
    strip = plot_factory(holding, name="Firebreak")
    clear, burn = job_factory(holding, "Clear", plot=strip), job_factory(holding, "Mow")
    add_link(link=Prerequisite(holding=holding, predecessor=clear, successor=burn), by=manager)
    walk_holding(holding.pk)
    remove_row(row=strip, by=manager)
    walk_holding(holding.pk)
    assert state(burn) == "open"
    assert differences(holding.pk) == {}


def test_a_job_whose_removed_material_was_short_goes_on(
    holding: Holding, manager: Person, job_factory: JobFactory
) -> None:
    job = job_factory(holding, "Lime", operation="lime", acres=2.0)
    lime = Material.objects.create(holding=holding, name="Lime", kind="lime", unit="ton")
    StockMove.objects.create(holding=holding, material=lime, quantity=1.0, at=SATURDAY)
    Need.objects.create(holding=holding, job=job, kind="material", name="lime", material=lime, rate_per_acre=2.0)
    walk_holding(holding.pk)
    assert state(job) == "held"
    remove_row(row=lime, by=manager)
    walk_holding(holding.pk)
    assert state(job) == "open"


def test_a_change_of_a_job_leaves_alone_what_was_written_since_it_was_read(
    holding: Holding, manager: Person, job_factory: JobFactory
) -> None:
    spray, plant = job_factory(holding, "Spray"), job_factory(holding, "Plant")
    read_before = Job.objects.get(pk=plant.pk)
    add_link(link=Prerequisite(holding=holding, predecessor=spray, successor=plant), by=manager)
    call_off(job=plant, by=manager, now=SATURDAY)
    read_before.title = "Plant the clover"
    change_job(job=read_before, by=manager, fields=["title"])
    stored = Job.objects.get(pk=plant.pk)
    assert (stored.title, stored.component, stored.called_off_at) == ("Plant the clover", spray.pk, SATURDAY)


def test_a_job_that_opens_again_before_its_notice_left_is_told_after_all(
    holding: Holding, manager: Person, job_factory: JobFactory
) -> None:
    Way.objects.create(holding=holding, person=manager, kind="console")
    tiller = Machine.objects.create(holding=holding, name="Tiller", kind="tiller")
    job = job_factory(holding, "Till")
    Need.objects.create(holding=holding, job=job, kind="machine", name="tiller")
    told = []
    for standing in ("works", "down", "works"):
        tiller.state = standing
        save_row(row=tiller, by=manager, fields=["state"])
        told.append((walk_holding(holding.pk).notices, Notice.objects.get().state))
    assert told == [(1, NoticeState.QUEUED), (0, NoticeState.WITHDRAWN), (1, NoticeState.QUEUED)]


def test_a_notice_that_left_does_not_go_twice(holding: Holding, manager: Person, job_factory: JobFactory) -> None:
    Way.objects.create(holding=holding, person=manager, kind="console")
    tiller = Machine.objects.create(holding=holding, name="Tiller", kind="tiller")
    job = job_factory(holding, "Till")
    Need.objects.create(holding=holding, job=job, kind="machine", name="tiller")
    walk_holding(holding.pk)
    Notice.objects.update(state=NoticeState.SENT)
    for standing in ("down", "works"):
        tiller.state = standing
        save_row(row=tiller, by=manager, fields=["state"])
        walk_holding(holding.pk)
    assert Notice.objects.get().state == NoticeState.SENT


def test_a_walk_that_stops_before_the_next_occurrence_is_made_stores_no_end_either(
    holding: Holding, manager: Person, job_factory: JobFactory, monkeypatch: pytest.MonkeyPatch
) -> None:
    feed = job_factory(holding, "Feed", step="feed", repeat={"every_days": 7})
    walk_holding(holding.pk)
    done(manager, feed)
    with monkeypatch.context() as patched:
        patched.setattr(walking, "keep_occurrences", lambda **_: 1 / 0)
        with pytest.raises(ZeroDivisionError):
            walk_holding(holding.pk)
    assert state(feed) == "open"
    assert walk_holding(holding.pk).occurrences == 1
    following = Job.objects.get(step="feed", occurrence=2)
    assert following.first_day == SATURDAY.date() + timedelta(days=7)
    assert state(following) == "held"


def test_the_nightly_look_puts_right_what_differs(holding: Holding, job_factory: JobFactory) -> None:
    job = job_factory(holding, "Mow")
    walk_holding(holding.pk)
    Reckoning.objects.filter(pk=job.pk).update(state="held")
    assert differences(holding.pk) == {job.pk: ("state",)}
    check_whole()
    assert state(job) == "open"
    graph = Graph.objects.get(pk=holding.pk)
    assert graph.walked_version == graph.facts_version


def test_a_walk_whose_reads_a_write_tore_begins_again(
    holding: Holding, manager: Person, job_factory: JobFactory, monkeypatch: pytest.MonkeyPatch
) -> None:
    spray, plant = job_factory(holding, "Spray"), job_factory(holding, "Plant")
    add_link(link=Prerequisite(holding=holding, predecessor=spray, successor=plant), by=manager)
    read, torn = walking.load, []

    def torn_once(*args: Any) -> Loaded:
        """What the rows read before a job was removed give with what was read after it."""
        loaded = read(*args)
        if not torn:
            torn.append(spray.pk)
            remove_row(row=spray, by=manager)
            problem = loaded.facts.problem
            rest = tuple(node for node in problem.nodes if node.id not in torn)
            return replace(loaded, facts=replace(loaded.facts, problem=replace(problem, nodes=rest)))
        return loaded

    monkeypatch.setattr(walking, "load", torn_once)
    walk_holding(holding.pk)
    assert torn
    assert state(plant) == "open"
    assert differences(holding.pk) == {}


def test_a_zone_and_a_clock_that_change_while_a_walk_computes_are_walked(
    holding: Holding, job_factory: JobFactory, monkeypatch: pytest.MonkeyPatch
) -> None:
    job = job_factory(holding, "Mow", first_day=date(2027, 5, 12))
    later = SATURDAY + timedelta(days=12)
    read, changed = walking.load, []

    def changed_once(*args: Any) -> Loaded:
        loaded = read(*args)
        if not changed:
            changed.append(True)
            now = {"zone": "Pacific/Honolulu", "clock_at": later}
            change_holding(holding=Holding.objects.get(pk=holding.pk), by=None, changes=now)
        return loaded

    monkeypatch.setattr(walking, "load", changed_once)
    walk_holding(holding.pk)
    assert changed
    assert state(job) == "open"
    assert Graph.objects.get(pk=holding.pk).walked_at == later
    assert differences(holding.pk) == {}


def test_a_fault_that_no_write_explains_is_not_hidden(
    holding: Holding, job_factory: JobFactory, monkeypatch: pytest.MonkeyPatch
) -> None:
    job_factory(holding, "Spray")

    def faulty(*args: Any) -> Loaded:
        raise KeyError("a job that is nowhere")

    monkeypatch.setattr(walking, "load", faulty)
    with pytest.raises(KeyError):
        walk_holding(holding.pk)
