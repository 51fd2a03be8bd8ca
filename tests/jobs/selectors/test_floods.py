"""Stands that water was over: presumed lost until seen, and what hangs on them held until then."""

from __future__ import annotations

import uuid
from datetime import timedelta
from typing import Any

import pytest

from core.models import Notice, NoticeState, Person, Way
from jobs.services.walking import walk_holding
from plots.models import DayKind, Gauge, Reading
from plots.services.gauges import _store_observed
from tests.farm import Farm, holds

pytestmark = pytest.mark.django_db


class Bottom:
    """Corn on one plot by a river: planted on 8 May, then a spray, a topdress, a stand check, a fence of its own."""

    def __init__(self) -> None:
        self.farm = farm = Farm("2027-05-20 08:00")
        self.land = farm.place("Creek farm")
        self.plot = farm.post("plots", name="Bottom", property=self.land, acres_typed=2.0)["id"]
        self.plant = self.job("plant", "Plant")
        self.spray, self.spread = self.job("mow", "Mow between"), self.job("spread", "Topdress")
        self.check, self.fence = self.job("check_stand", "Count"), self.job("fence", "Fence")
        for after in (self.spray, self.check):
            farm.post("prerequisites", predecessor=self.plant, successor=after, min_amount=1)
        farm.post("prerequisites", predecessor=self.spray, successor=self.spread, min_amount=0)
        farm.done(self.plant, "2027-05-08 15:00")

    def job(self, operation: str, title: str, plot: int | None = None) -> int:
        body = {"operation": operation, "title": title, "plot": plot or self.plot, "duration_min": 60, "acres": 2.0}
        pk: int = self.farm.post("jobs", **body)["id"]
        return pk

    def kinds(self, job: int) -> set[str]:
        """Holds after the walk over what was touched; the whole would change nothing."""
        walk_holding(self.farm.holding.pk)
        found = set(holds(self.farm.job(job)))
        assert walk_holding(self.farm.holding.pk, whole=True).changed == ()
        return found

    def seen(self, outcome: str, when: str, plot: int | None = None, **body: Any) -> Any:
        """A report on a plot, without a job."""
        happened = self.farm.instant(when).isoformat()
        told = {"client_id": str(uuid.uuid4()), "kind": "seen", "happened_at": happened, "outcome": outcome}
        return self.farm.post("reports", **(told | {"plot": plot or self.plot} | body))

    def under_water(self, when: str) -> Any:
        return self.seen("ground_water", when)

    def gauge(self, feet: float, when: str, level: float | None = 12.0) -> Gauge:
        self.farm.post("property-gauges", property=self.land, site="03304050", level_ft=30.0)
        if level is not None:
            url = f"/api/plots/{self.plot}/"
            answer = self.farm.manager.patch(url, {"flood_ft": level}, format="json", headers={"If-Match": "*"})
            assert answer.status_code == 200, answer.content
        gauge, _ = Gauge.objects.get_or_create(site="03304050")
        Reading.objects.create(gauge=gauge, at=self.farm.instant(when), feet=feet)
        walk_holding(self.farm.holding.pk, whole=True)
        return gauge


@pytest.fixture
def bottom(db: None) -> Bottom:
    return Bottom()


def test_what_hangs_on_a_stand_under_water_waits_until_somebody_has_seen_it(bottom: Bottom) -> None:
    assert bottom.kinds(bottom.spray) == set()
    bottom.under_water("2027-05-12 09:00")
    assert bottom.kinds(bottom.spray) == {"stand"}
    assert bottom.kinds(bottom.spread) >= {"stand"}  # behind the other, and of the stand all the same
    assert bottom.kinds(bottom.check) == set()  # the look itself may go
    assert bottom.kinds(bottom.fence) == set()  # nothing says that it hangs on the planting
    told = holds(bottom.farm.job(bottom.spray))["stand"]
    assert told == (
        "The plot was reported under water (Wed 12 May 09:00). The stand is presumed lost until somebody has seen it."
    )
    (hold,) = (hold for hold in bottom.farm.why(bottom.spray)["holds"] if hold["kind"] == "stand")
    assert hold["clears"] == "Clears by a look at the stand on: Count, Bottom."


def test_a_stand_check_clears_it_and_a_later_flood_asks_again(bottom: Bottom) -> None:
    bottom.under_water("2027-05-12 09:00")
    bottom.farm.done(bottom.check, "2027-05-16 09:00")
    assert bottom.kinds(bottom.spray) == set()
    bottom.under_water("2027-05-18 09:00")
    assert bottom.kinds(bottom.spray) == {"stand"}
    bottom.seen("seedlings", "2027-05-19 09:00")
    assert bottom.kinds(bottom.spray) == set()


def test_a_check_of_another_component_on_the_plot_clears_it_too(bottom: Bottom) -> None:
    bottom.under_water("2027-05-12 09:00")
    other = bottom.job("check_stand", "Look after the flood")
    assert bottom.kinds(bottom.spray) == {"stand"}
    bottom.farm.done(other, "2027-05-16 09:00")
    assert bottom.kinds(bottom.spray) == set()


def test_water_before_the_planting_or_on_another_plot_holds_nothing(bottom: Bottom) -> None:
    bottom.under_water("2027-05-07 09:00")
    high = bottom.farm.post("plots", name="High", property=bottom.land, acres_typed=2.0)["id"]
    bottom.seen("ground_water", "2027-05-12 09:00", plot=high)
    assert bottom.kinds(bottom.spray) == set()


def test_the_latest_sowing_in_time_counts_whatever_order_the_jobs_were_made_in(bottom: Bottom) -> None:
    """The job made last was sown first; the water came between the two, before what stands now was planted."""
    early = bottom.job("plant", "Plant too early")
    bottom.farm.post("prerequisites", predecessor=early, successor=bottom.spray, min_amount=0)
    bottom.farm.done(early, "2027-05-01 15:00")
    bottom.under_water("2027-05-05 09:00")
    assert bottom.kinds(bottom.spray) == set()
    bottom.under_water("2027-05-09 09:00")
    assert bottom.kinds(bottom.spray) == {"stand"}


def test_a_report_of_water_taken_back_holds_nothing(bottom: Bottom) -> None:
    told = bottom.under_water("2027-05-12 09:00")
    assert bottom.kinds(bottom.spray) == {"stand"}
    bottom.seen("", "2027-05-12 10:00", kind="withdrawn", corrects=told["id"])
    assert bottom.kinds(bottom.spray) == set()


def test_a_manager_may_go_on_with_a_written_reason(bottom: Bottom) -> None:
    bottom.under_water("2027-05-12 09:00")
    assert bottom.kinds(bottom.spray) == {"stand"}
    bottom.farm.post("overrides", job=bottom.spray, rule="stand", reason="Water stood an hour in one corner.")
    assert bottom.kinds(bottom.spray) == set()


def test_a_look_is_asked_for_where_no_check_is_open(bottom: Bottom) -> None:
    """The open check stands in the lists by itself. Once it was done before the flood, a look is asked for: of the
    first job that waits for it, and of no other."""

    def asked() -> list[int]:
        walk_holding(bottom.farm.holding.pk)
        looks = Notice.objects.filter(holding=bottom.farm.holding, kind="look")
        return list(looks.exclude(state=NoticeState.WITHDRAWN).values_list("job_id", flat=True))

    manager = Person.objects.get(holding=bottom.farm.holding)
    Way.objects.create(holding=bottom.farm.holding, person=manager, kind="mail", address="boss@example.org")
    bottom.under_water("2027-05-12 09:00")
    assert asked() == []
    bottom.farm.done(bottom.check, "2027-05-11 09:00")
    assert asked() == [bottom.spray]


@pytest.mark.parametrize(("feet", "level", "held"), [(12.0, 12.0, True), (11.9, 12.0, False), (25.0, None, False)])
def test_the_gauge_at_the_plots_own_level_says_so_too(
    bottom: Bottom, feet: float, level: float | None, held: bool
) -> None:
    bottom.gauge(feet, "2027-05-14 06:00", level)
    assert ("stand" in bottom.kinds(bottom.spray)) is held
    if held:
        told = holds(bottom.farm.job(bottom.spray))["stand"]
        assert told.startswith("The river stood at 12 ft (Fri 14 May 06:00); the plot is under water from 12 ft.")


def test_readings_over_a_plot_outlast_the_others(bottom: Bottom) -> None:
    """Old readings go after ten days; one over the plot stays, and so does what it says."""
    gauge = bottom.gauge(13.0, "2027-05-14 06:00")
    Reading.objects.create(gauge=gauge, at=bottom.farm.instant("2027-05-14 18:00"), feet=11.0)
    _store_observed(gauge.pk, (), bottom.farm.instant("2027-05-14 06:00") + timedelta(days=20))
    assert list(Reading.objects.filter(kind=DayKind.OBSERVED).values_list("feet", flat=True)) == [13.0]
    assert "stand" in bottom.kinds(bottom.spray)
