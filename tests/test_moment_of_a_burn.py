"""The weeknight burn, through the API alone: the latest ignition, the crew, the next evening, the last legal day.

Land and dates are invented. 40.0 N 91.0 W, Central time; the sun sets there on 7 Apr 2027 at 19:34.
"""

from __future__ import annotations

from typing import Any

import pytest

from core.models import Graph
from tests.farm import Farm

pytestmark = pytest.mark.django_db
WEDNESDAY = ("2027-04-07 16:30", "2027-04-07 19:00")
MONDAY = ("2027-04-12 14:00", "2027-04-12 18:30")


class Unit:
    """A contract unit, asked about on Tuesday evening: three people, free at 17:00, 35 minutes away."""

    def __init__(self, *stretches: tuple[str, str]) -> None:
        self.farm = farm = Farm("2027-04-06 18:00")
        land = farm.place("Contract farm")
        plot = farm.post("plots", name="Unit", property=land, kind="burn_unit", acres_typed=12.0)["id"]
        farm.post(
            "contracts", property=land, practice="native grass", first_day="2024-01-01", last_day="2033-12-31",
            closed_from="04-15", closed_to="08-01",
        )  # fmt: skip
        self.job = farm.post("jobs", plot=plot, operation="burn", title="Burn the unit", duration_min=150)["id"]
        self.crew = [farm.post("people", name=name)["id"] for name in ("Ann", "Bo", "Cy")]
        typed = [{"from": self.iso(first), "to": self.iso(last)} for first, last in stretches]
        plan: dict[str, Any] = {"burn_out_min": 70, "mop_up_min": 60, "briefing_min": 15, "least_crew": 3}
        farm.post(f"jobs/{self.job}/burn-plan", status=200, **plan, **({"prescription": typed} if typed else {}))

    def iso(self, local: str) -> str:
        return self.farm.instant(local).isoformat()

    def ask(self, people: int = 3, free_at: str = "17:00", travel_min: int = 35) -> Any:
        crew = ",".join(map(str, self.crew[:people]))
        return self.farm.get(f"jobs/{self.job}/ignition", crew=crew, free_at=free_at, travel_min=travel_min)


@pytest.fixture
def unit() -> Unit:
    return Unit(WEDNESDAY, MONDAY)


def test_wednesday_is_26_minutes_short_and_could_be_if_all_leave_by_16_34(unit: Unit) -> None:
    told = unit.ask()
    wednesday, monday = told["evenings"]
    local = unit.farm.local
    assert (local(wednesday["latest_ignition"]), wednesday["binds"]) == ("Wed 7 Apr 17:24", "light")
    assert (local(wednesday["light_ends"]), local(wednesday["ready"])) == ("Wed 7 Apr 19:34", "Wed 7 Apr 17:50")
    assert (wednesday["short_min"], local(wednesday["leave_by"])) == (26, "Wed 7 Apr 16:34")
    assert wednesday["verdict"] == "no, 26 min short; possible if all leave by 16:34"
    assert (told["can_be"], wednesday["can_be"]) == (False, False)
    assert (local(monday["latest_ignition"]), monday["binds"]) == ("Mon 12 Apr 17:20", "prescription")


def test_the_next_evening_the_last_legal_day_and_the_day_after_the_closure_are_told(unit: Unit) -> None:
    told = unit.ask()
    assert (told["last_legal_day"], told["legal_again"]) == ("2027-04-14", "2027-08-02")
    assert told["sentence"].endswith(
        "Next: Mon 12 Apr 14:00 to 18:30, lit by 17:20; call the crew for Mon 12 Apr now."
        " Last legal day Wed 14 Apr; then Mon 2 Aug."
    )
    assert told["decides"].startswith("The burn boss decides on the day")


def test_a_crew_that_leaves_in_time_makes_it(unit: Unit) -> None:
    wednesday = unit.ask(free_at="16:34")["evenings"][0]
    assert (wednesday["can_be"], wednesday["short_min"]) == (True, 0)
    assert unit.ask(free_at="16:35")["evenings"][0]["short_min"] == 1


def test_with_two_confirmed_there_is_no_burn_at_any_hour(unit: Unit) -> None:
    told = unit.ask(people=2, free_at="08:00")
    assert told["can_be"] is False
    assert {evening["crew_short"] for evening in told["evenings"]} == {1}
    assert told["evenings"][0]["verdict"] == "no: 1 of 3 people missing"


def test_free_hours_of_the_crew_count_where_no_hour_is_given(unit: Unit) -> None:
    for person in unit.crew:
        unit.farm.post("free-times", person=person, weekday=0, starts="13:00", ends="19:00")
    told = unit.farm.get(f"jobs/{unit.job}/ignition", crew=",".join(map(str, unit.crew)), travel_min=35)
    wednesday, monday = told["evenings"]
    assert (wednesday["crew_short"], monday["can_be"]) == (3, True)


def test_hours_on_a_closed_day_are_none_and_without_any_the_answer_is_no() -> None:
    closed = Unit(("2027-04-16 14:00", "2027-04-16 18:00")).ask()
    assert (closed["evenings"], closed["can_be"]) == ([], False)
    nothing = Unit().ask()
    assert (nothing["known"], nothing["can_be"]) == (False, False)
    assert nothing["sentence"].startswith("Nobody typed hours in prescription, and no forecast gives any")


def test_a_burn_plan_wakes_the_walk_and_its_hours_bound_the_windows(unit: Unit) -> None:
    graph = Graph.objects.get(pk=unit.farm.holding.pk)
    stood = graph.facts_version
    plan = {"burn_out_min": 90, "mop_up_min": 60, "briefing_min": 15, "least_crew": 4}
    told = unit.farm.post(f"jobs/{unit.job}/burn-plan", status=200, **plan)
    graph.refresh_from_db()
    assert graph.facts_version > stood
    assert told["version"] == 3
    unit.farm.post(f"jobs/{unit.job}/burn-plan", status=400, **plan | {"least_crew": 1})
    assert unit.farm.get(f"jobs/{unit.job}/ignition")["plan"] == plan


def test_work_that_is_no_burn_has_no_ignition(unit: Unit) -> None:
    plot = unit.farm.get(f"jobs/{unit.job}")["plot"]
    mow = unit.farm.post("jobs", plot=plot, operation="mow", title="Mow", duration_min=60)["id"]
    answer = unit.farm.manager.get(f"/api/jobs/{mow}/ignition/")
    assert (answer.status_code, answer.json()["detail"]) == (422, "This job is no burn, so nothing is lit.")
