"""A machine goes down with the report that it broke and comes back with its withdrawal, unless it was changed since."""

import uuid
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest

from core.models import Event, Holding, Person, Touched
from jobs.models import Job, Need
from jobs.services.reports import NewReport, store_report
from plots.models import Machine, Property
from plots.services.machines import save_machine

SATURDAY = datetime(2027, 5, 8, 17, 0, tzinfo=UTC)
MONDAY = SATURDAY + timedelta(days=2)


@pytest.fixture
def holding(holding_factory: Callable[..., Holding]) -> Holding:
    """A holding whose clock stands on a Saturday noon."""
    return holding_factory(zone="America/Chicago", clock_at=SATURDAY)


@pytest.fixture
def plant(holding: Holding, job_factory: Callable[..., Job]) -> Job:
    job = job_factory(holding, "Plant")
    Need.objects.create(holding=holding, job=job, kind="machine", name="planter")
    return job


@pytest.fixture
def planter(holding: Holding) -> Machine:
    barn = Property.objects.create(holding=holding, name="Barn", latitude=39.0, longitude=-95.0)
    return Machine.objects.create(holding=holding, name="Planter", kind="planter", at_property=barn)


def say(person: Person, job: Job, kind: str, now: datetime = SATURDAY, **fields: Any) -> dict[str, Any]:
    fields = {"happened_at": now, "job": job.pk} | fields
    return store_report(person=person, new=NewReport(client_id=uuid.uuid4(), kind=kind, **fields), now=now)


def broke(person: Person, job: Job, **fields: Any) -> dict[str, Any]:
    return say(person, job, "could_not", reason="machine", **fields)


def clock(holding: Holding, at: datetime) -> None:
    Holding.objects.filter(pk=holding.pk).update(clock_at=at)


def set_state(planter: Machine, by: Person, state: str, until: date | None = None) -> None:
    row = Machine.objects.get(pk=planter.pk)
    row.state, row.until = state, until
    save_machine(row=row, by=by, fields=["state", "until"])


def state(planter: Machine) -> tuple[str, date | None, int | None]:
    row = Machine.objects.get(pk=planter.pk)
    return row.state, row.until, row.at_property_id


def test_a_withdrawn_breakdown_gives_the_machine_its_state_back(manager: Person, plant: Job, planter: Machine) -> None:
    hired = date(2027, 6, 1)
    set_state(planter, manager, "hired", hired)
    told = broke(manager, plant)
    assert state(planter) == ("down", None, plant.plot.property_id)
    Touched.objects.all().delete()
    withdrawn = say(manager, plant, "withdrawn", corrects=told["id"])
    assert withdrawn["clashes"] == []
    assert state(planter) == ("hired", hired, planter.at_property_id)
    assert Touched.objects.filter(key="machine:planter").exists()


@pytest.mark.parametrize("kind", ["done", "note", "could_not"])
def test_a_corrected_breakdown_gives_the_machine_back(kind: str, manager: Person, plant: Job, planter: Machine) -> None:
    told = broke(manager, plant)
    say(manager, plant, kind, corrects=told["id"], reason="rain" if kind == "could_not" else "")
    assert state(planter)[0] == "works"


def test_a_breakdown_put_right_in_its_words_stays_one_until_that_is_withdrawn(
    manager: Person, plant: Job, planter: Machine
) -> None:
    told = broke(manager, plant)
    again = broke(manager, plant, corrects=told["id"], note="the chain, not the belt")
    assert (state(planter)[0], again["clashes"]) == ("down", [])
    say(manager, plant, "withdrawn", corrects=again["id"])
    assert state(planter) == ("works", None, planter.at_property_id)


def test_a_breakdown_put_right_to_another_machine_swaps_them(manager: Person, plant: Job, planter: Machine) -> None:
    other = Machine.objects.create(holding=plant.holding, name="Second planter", kind="planter")
    told = broke(manager, plant, payload={"machine": planter.pk})
    broke(manager, plant, corrects=told["id"], payload={"machine": other.pk})
    assert (state(planter)[0], state(other)[0]) == ("works", "down")


def test_a_machine_changed_since_stays_as_it_is_and_the_withdrawal_says_so(
    manager: Person, plant: Job, planter: Machine
) -> None:
    told = broke(manager, plant)
    set_state(planter, manager, "down", date(2027, 5, 12))
    withdrawn = say(manager, plant, "withdrawn", corrects=told["id"])
    assert withdrawn["clashes"] == ["Planter was changed after that report and stays down. Say so if it works."]
    assert state(planter)[:2] == ("down", date(2027, 5, 12))


def test_another_name_is_no_change_of_state(manager: Person, plant: Job, planter: Machine) -> None:
    told = broke(manager, plant)
    row = Machine.objects.get(pk=planter.pk)
    row.name = "Old planter"
    save_machine(row=row, by=manager, fields=["name"])
    say(manager, plant, "withdrawn", corrects=told["id"])
    assert state(planter)[0] == "works"


def test_a_report_of_saturday_that_comes_on_monday_breaks_nothing_repaired_on_sunday(
    manager: Person, holding: Holding, plant: Job, planter: Machine
) -> None:
    broke(manager, plant)
    clock(holding, SATURDAY + timedelta(days=1))
    set_state(planter, manager, "works")
    clock(holding, MONDAY)
    late = broke(manager, plant, now=MONDAY, happened_at=SATURDAY + timedelta(minutes=5))
    assert late["clashes"] == ["Planter was changed after this happened and stays as it is: Works."]
    assert state(planter)[0] == "works"
    new = broke(manager, plant, now=MONDAY)
    assert (new["clashes"], state(planter)[0]) == ([], "down")


def test_a_late_report_of_what_nobody_touched_since_puts_the_machine_down(
    manager: Person, holding: Holding, plant: Job, planter: Machine
) -> None:
    clock(holding, SATURDAY - timedelta(days=3))
    set_state(planter, manager, "works")
    clock(holding, MONDAY)
    late = broke(manager, plant, now=MONDAY, happened_at=SATURDAY)
    assert (late["clashes"], state(planter)[0]) == ([], "down")


def test_two_who_tell_of_one_breakdown_keep_it_down_until_the_last_takes_it_back(
    manager: Person, plant: Job, planter: Machine, person_factory: Callable[..., Person]
) -> None:
    other = person_factory(plant.holding, "manager")
    first = broke(manager, plant, happened_at=SATURDAY - timedelta(minutes=30))
    second = broke(other, plant, happened_at=SATURDAY - timedelta(minutes=20))
    assert second["clashes"] == []
    kept = say(manager, plant, "withdrawn", corrects=first["id"])
    assert kept["clashes"] == ["Planter was changed after that report and stays down. Say so if it works."]
    assert state(planter)[0] == "down"


def test_the_log_tells_what_put_the_machine_down(manager: Person, plant: Job, planter: Machine) -> None:
    told = broke(manager, plant)
    line = Event.objects.get(object="machine", verb="changed")
    assert (line.change["state"], line.change["report"]) == ("down", told["id"])
    assert line.change["was"] == {"state": "works", "until": None, "at_property": planter.at_property_id}
