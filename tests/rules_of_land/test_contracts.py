"""Conservation contracts: nesting days, food plots, yearly share, mowing for looks."""

from __future__ import annotations

import pytest

from tests.farm import holds
from tests.rules_of_land.land import Land

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("operation", ["mow", "burn", "spray", "till"])
def test_nesting_days_of_illinois_close_with_both_ends(operation: str) -> None:
    """Apr 14 open, Apr 15 and Aug 1 closed, Aug 2 open (FSA Illinois 2017, 2023); the state fills the days in."""
    land = Land("2027-04-14 08:00")
    land.contract(state="IL")
    job = land.job(operation)
    edges = {"04-14 23:59": False, "04-15 00:00": True, "08-01 23:59": True, "08-02 00:00": False}
    for day, closed in edges.items():
        at = f"2027-{day}"
        land.farm.at(at)
        assert ("contract" in land.kinds(job)) is closed, at


def test_a_state_that_is_not_known_is_asked_about_and_never_allowed() -> None:
    """Texas: no dates were found. The contract is refused until somebody gives its days."""
    land = Land("2027-04-14 08:00")
    body = {"property": land.land, "practice": "cover", "first_day": "2020-01-01", "last_day": "2033-12-31"}
    answer = land.farm.manager.post("/api/contracts/", body | {"state": "TX"}, format="json")
    assert answer.status_code == 400
    assert "Type the days that stand in the contract." in answer.content.decode(), answer.content


@pytest.mark.parametrize(
    ("field", "acres", "held"), [(40.0, 4.0, False), (40.0, 4.01, True), (80.0, 5.0, False), (80.0, 5.01, True)]
)
def test_food_plots_have_the_lesser_of_a_tenth_of_the_field_and_five_acres(
    field: float, acres: float, held: bool
) -> None:
    """NRCS New Mexico CP12 job sheet; a manager may go on with a written reason, and the verdict stays."""
    land = Land("2027-04-14 08:00")
    land.contract(share=0.1, cap_acres=5.0, field_acres=field)
    land.farm.patch(f"plots/{land.plot}", acres_typed=acres)
    job = land.job("sow")
    assert land.kinds(job) == ({"food_plot_cap"} if held else set())


def test_a_food_plot_has_the_least_acres_and_width_that_the_contract_sets() -> None:
    """A quarter of an acre and 40 ft in the New Mexico sheet. A width that nobody typed is asked for."""
    land = Land("2027-04-14 08:00")
    land.contract(least_acres=0.25, least_width_ft=40.0)
    job = land.job("sow")
    assert holds(land.farm.job(job) if land.kinds(job) else {"holds": []}) == {
        "food_plot_cap": "A food plot under the contract has at least 0.25 acres and 40 ft of width;"
        " this one has 4 acres and a width that nobody typed."
    }
    for acres, feet, held in ((0.25, 40.0, False), (0.24, 40.0, True), (0.25, 39.9, True)):
        land.farm.patch(f"plots/{land.plot}", acres_typed=acres, narrowest_ft=feet)
        assert (land.kinds(job) == {"food_plot_cap"}) is held, (acres, feet)


def test_a_third_of_the_contract_in_a_year_with_firebreaks_counted_and_small_contracts_free() -> None:
    """Missouri 2019: a third of the acres, firebreaks included; contracts of 50 acres or less may do all in a year."""
    land = Land("2027-02-01 08:00")
    farm = land.farm
    contract = land.contract(disturb_share=1 / 3, contract_acres=60.0, exempt_acres=50.0)
    field = farm.post("plots", name="Far", property=land.land, acres_typed=30.0)["id"]
    line = land.job("firebreak", acres=1.0)
    disk = land.job("till", field, acres=19.0)
    farm.done(line, "2027-02-01 08:00")
    assert "yearly_share" not in land.kinds(disk)
    farm.patch(f"jobs/{disk}", acres=19.01)
    assert "yearly_share" in land.kinds(disk)
    farm.patch(f"contracts/{contract}", contract_acres=50.0)
    assert "yearly_share" not in land.kinds(disk)


@pytest.mark.parametrize("at", ["2027-01-15 12:00", "2027-06-15 12:00", "2027-10-15 12:00"])
def test_nobody_mows_for_looks_under_a_contract_on_any_day_of_the_year(at: str) -> None:
    """FSA Illinois 2017 and Ohio 2021: prohibited at all times; no reason in writing opens it."""
    land = Land(at)
    land.contract(closed_from="04-15", closed_to="08-01")
    mow = land.job("mow")
    land.farm.post("sheets", job=mow, purpose="cosmetic")
    assert "purpose" in land.kinds(mow)
    told = next(hold for hold in land.farm.why(mow)["holds"] if hold["kind"] == "purpose")
    assert told["inputs"]["verdict"] == "stop"
    body = {"job": mow, "rule": "purpose", "reason": "It looks better"}
    assert land.farm.manager.post("/api/overrides/", body, format="json").status_code in (400, 422)
