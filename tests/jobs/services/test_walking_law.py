"""What rules of label, law and contract read across components: after every fact a walk over what it touched gives what
the whole gives."""

from __future__ import annotations

from typing import Any

import pytest

from jobs.services.walking import walk_holding
from tests.farm import Farm, holds

pytestmark = pytest.mark.django_db


class Across:
    """Two plots under one contract, a sprayer, three products, and jobs that are each a component of their own."""

    def __init__(self) -> None:
        self.farm = farm = Farm("2027-06-11 06:00")
        self.land = farm.place("Creek farm")
        self.near, self.far = (
            farm.post("plots", name=name, property=self.land, acres_typed=4.0, kind="food_plot")["id"]
            for name in ("Near", "Far")
        )
        self.sprayer = farm.post("machines", name="Tank on wheels", kind="sprayer")["id"]
        self.strong = self.product("Strong", "2,4-D", wash_known=True, wash_before="*", entry_hours=30)
        self.mild = self.product("Mild", "clethodim", wash_known=True, entry_hours=20)
        self.first = self.spray("Spray near", self.near, self.strong)
        self.then = self.spray("Spray far", self.far, self.mild)
        self.fence = self.job("fence", "Fence near", self.near)
        self.till = self.job("till", "Till far", self.far)
        self.mow = self.job("mow", "Mow near", self.near)
        self.sow = self.job("sow", "Sow far", self.far)
        farm.at("2027-06-11 06:10")

    def product(self, name: str, active: str, **label: Any) -> int:
        pk: int = self.farm.post("materials", name=name, kind="herbicide", unit="gal", active=active)["id"]
        self.farm.post("labels", material=pk, **label)
        self.farm.post("stock-moves", material=pk, quantity=50, at="2027-05-01T12:00:00Z")
        return pk

    def job(self, operation: str, title: str, plot: int) -> int:
        body = {"operation": operation, "title": title, "plot": plot, "duration_min": 60, "acres": 4.0}
        pk: int = self.farm.post("jobs", **body)["id"]
        return pk

    def spray(self, title: str, plot: int, material: int) -> int:
        job = self.job("spray", title, plot)
        self.farm.post("needs", job=job, kind="material", name="product", material=material, rate_per_acre=0.5)
        return job

    def kinds(self, job: int) -> set[str]:
        """Holds of a job after the walk over what was touched; the whole would change nothing."""
        walk_holding(self.farm.holding.pk)
        found = set(holds(self.farm.job(job)))
        assert walk_holding(self.farm.holding.pk, whole=True).changed == ()
        return found


@pytest.fixture
def across(db: None) -> Across:
    return Across()


def test_a_spray_closes_jobs_of_other_components_on_the_plot_and_leaves_its_mark_in_the_sprayer(
    across: Across,
) -> None:
    farm = across.farm
    assert across.kinds(across.fence) == set()
    farm.done(across.first, "2027-06-11 06:10")
    assert across.kinds(across.fence) == {"entry"}
    assert across.kinds(across.till) == set()
    assert "tank" in across.kinds(across.then)
    assert "Strong" in holds(farm.job(across.then))["tank"]
    washed = farm.report(across.then, "seen", "2027-06-11 06:10", outcome="sprayer_washed")
    assert across.kinds(across.then) == set()
    farm.report(across.then, "withdrawn", "2027-06-11 06:10", corrects=washed["id"])
    assert across.kinds(across.then) == {"tank"}


def test_the_report_of_a_spray_taken_back_lets_everybody_in(across: Across) -> None:
    farm = across.farm
    told = farm.done(across.first, "2027-06-11 06:10")
    assert across.kinds(across.fence) == {"entry"}
    farm.report(across.first, "withdrawn", "2027-06-11 06:10", corrects=told["id"])
    assert across.kinds(across.fence) == set()
    assert across.kinds(across.then) == set()


def test_a_label_corrected_reaches_what_was_sprayed_and_what_the_sprayer_carries(across: Across) -> None:
    farm = across.farm
    farm.done(across.first, "2027-06-11 06:10")
    (label,) = farm.all("labels", material=across.strong)
    farm.patch(f"labels/{label['id']}", entry_hours=0, wash_before="")
    assert across.kinds(across.fence) == set()
    assert across.kinds(across.then) == set()
    farm.patch(f"labels/{label['id']}", entry_hours=None, mow_wait_days=3)
    assert across.kinds(across.fence) == {"label"}
    assert "label_wait" in across.kinds(across.mow)


def test_sums_of_a_year_are_of_the_plot(across: Across) -> None:
    """2 lb a gallon and half a gallon an acre are 1 lb; two sprays of it make 2 of at most 1.5."""
    farm = across.farm
    (label,) = farm.all("labels", material=across.strong)
    farm.post("label-actives", label=label["id"], active="2,4-D", per_unit=2.0, unit="lb ae", season_most_per_acre=1.5)
    again = across.spray("Spray near again", across.near, across.strong)
    elsewhere = across.spray("Spray far with it", across.far, across.strong)
    assert across.kinds(again) == set()
    farm.done(across.first, "2027-06-11 06:10")
    assert across.kinds(again) == {"entry", "season_total"}
    assert holds(farm.job(again))["season_total"] == (
        "With this it would be 2 lb ae of 2,4-d an acre; the label allows 1.5 lb ae an acre in 2027."
    )
    assert across.kinds(elsewhere) == set()
    farm.at("2028-01-01 00:00")
    assert across.kinds(again) == set()


def contract(across: Across, **terms: Any) -> int:
    body = {"property": across.land, "practice": "cover", "first_day": "2020-01-01", "last_day": "2031-12-31"}
    pk: int = across.farm.post("contracts", **body, **terms)["id"]
    return pk


def test_the_years_share_counts_what_was_done_elsewhere_under_the_contract(across: Across) -> None:
    farm = across.farm
    farm.post("sheets", job=across.mow, purpose="weeds")
    contract(across, disturb_share=0.5, contract_acres=8.0)
    assert across.kinds(across.mow) == set()
    farm.done(across.till, "2027-06-11 06:10")
    assert across.kinds(across.mow) == {"yearly_share"}
    farm.post("overrides", job=across.mow, rule="yearly_share", reason="County office agreed by letter of 2 June")
    assert across.kinds(across.mow) == set()
    assert farm.why(across.mow)["notes"] == [
        "Set aside in writing: With this 8 acres would be disturbed in 2027; the contract allows 4, firebreaks counted."
    ]


def test_room_for_food_plots_is_of_the_whole_field(across: Across) -> None:
    farm = across.farm
    contract(across, share=0.1, cap_acres=5.0, field_acres=90.0)
    assert across.kinds(across.sow) == {"food_plot_cap"}
    farm.patch(f"plots/{across.near}", acres_typed=1.0)
    assert across.kinds(across.sow) == set()


def test_mowing_under_a_contract_says_what_it_is_for(across: Across) -> None:
    farm = across.farm
    contract(across)
    assert across.kinds(across.mow) == {"purpose"}
    sheet = farm.post("sheets", job=across.mow, purpose="cosmetic")["id"]
    assert across.kinds(across.mow) == {"purpose"}
    farm.patch(f"sheets/{sheet}", purpose="stand")
    assert across.kinds(across.mow) == set()


def test_a_stop_of_the_law_cannot_be_set_aside(across: Across) -> None:
    farm = across.farm
    farm.done(across.first, "2027-06-11 06:10")
    refused = farm.manager.post(
        "/api/overrides/", {"job": across.fence, "rule": "entry", "reason": "In a hurry"}, format="json"
    )
    assert refused.status_code in (400, 422)
    assert across.kinds(across.fence) == {"entry"}


def test_one_alone_with_a_machine_agrees_a_check_in_first(across: Across) -> None:
    farm = across.farm
    farm.helper("Ada")
    farm.post("assignments", job=across.till, person=farm.people["Ada"])
    assert across.kinds(across.till) == {"lone_work"}
    farm.post("sheets", job=across.till, check_in_minutes=60, contact="Manager, by phone")
    assert across.kinds(across.till) == set()


def test_feed_asks_the_agency_for_the_season(across: Across) -> None:
    farm = across.farm
    feed = across.job("feed", "Fill the feeder", across.near)
    assert across.kinds(feed) == {"agency"}
    farm.post("sheets", job=feed, agency_checked_on="2027-06-01", agency_county="Pike")
    assert across.kinds(feed) == set()


def test_a_burn_is_asked_for_permit_crew_boss_and_firebreak(across: Across) -> None:
    farm = across.farm
    burn = across.job("burn", "Burn near", across.near)
    wanted = {"permit", "crew", "firebreak"}
    assert wanted <= across.kinds(burn)
    boss = farm.people["Manager"]
    sheet = farm.post(
        "sheets", job=burn, permit_needed=False, boss=boss, least_crew=2, fuel_height_ft=3.0, break_width_ft=6.0,
        break_least_ft=4.0,
    )  # fmt: skip
    assert wanted & across.kinds(burn) == {"crew"}
    farm.helper("Ada")
    farm.post("assignments", job=burn, person=boss)
    second = farm.post("assignments", job=burn, person=farm.people["Ada"])["id"]
    assert not wanted & across.kinds(burn)
    farm.manager.delete(f"/api/assignments/{second}/")
    assert wanted & across.kinds(burn) == {"crew"}
    assert sheet["id"]
