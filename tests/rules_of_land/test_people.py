"""Feed and lone work, and what holds for all rules."""

from __future__ import annotations

import pytest

from core.models import Holding
from jobs.law.data import RULES
from tests.rules_of_land.land import Land, burn

pytestmark = pytest.mark.django_db


def test_feed_asks_the_agency_each_season_and_a_written_reason_opens_it_with_the_verdict_kept() -> None:
    land = Land("2027-06-11 06:00")
    feed = land.job("feed")
    assert land.kinds(feed) == {"agency"}
    land.farm.post("sheets", job=feed, agency_checked_on="2026-10-01", agency_county="Pike")
    assert land.kinds(feed) == {"agency"}, "that was last year's season"
    land.farm.post("overrides", job=feed, rule="agency", reason="Warden Pike county agreed by phone on 10 June")
    assert land.kinds(feed) == set()
    (note,) = land.farm.why(feed)["notes"]
    assert note.startswith("Set aside in writing: ")


@pytest.mark.parametrize("operation", ["spray", "till", "burn"])
def test_one_alone_agrees_a_check_in_with_somebody_named(operation: str) -> None:
    land = Land("2027-06-11 06:00")
    farm = land.farm
    job = land.job(operation)
    farm.post("assignments", job=job, person=farm.people["Manager"], status=422 if operation == "spray" else 201)
    if operation == "spray":
        skill = farm.post("skills", name="pesticide applicator")["id"]
        farm.post("certificates", person=farm.people["Manager"], skill=skill, valid_from="2026-01-01")
        farm.post("assignments", job=job, person=farm.people["Manager"])
    assert "lone_work" in land.kinds(job)
    farm.post("sheets", job=job, check_in_minutes=60, contact="Ada, by phone")
    assert "lone_work" not in land.kinds(job)


# what holds for all of them


def test_another_date_clears_no_stop_by_itself() -> None:
    """A job moved into the closed season is held on its new day, one moved out of it is not; each time anew."""
    land = Land("2027-04-10 08:00")
    land.contract(state="IL")
    job = land.job("mow", first_day="2027-04-12", last_day="2027-10-31")
    land.farm.post("sheets", job=job, purpose="weeds")
    land.farm.at("2027-05-01 08:00")
    assert "contract" in land.kinds(job)
    land.farm.patch(f"jobs/{job}", first_day="2027-04-20")
    assert "contract" in land.kinds(job)
    land.farm.patch(f"jobs/{job}", first_day="2027-08-02")
    assert land.kinds(job) == {"season"}
    assert land.farm.local(land.farm.job(job)["earliest_start"]).startswith("Mon 2 Aug")


@pytest.mark.parametrize("zone", ["UTC", "America/Los_Angeles", "Pacific/Auckland"])
def test_a_verdict_is_that_of_the_propertys_day_whatever_zone_the_holding_is_in(zone: str) -> None:
    """23:59 on 14 April in Illinois is another day in all of these; the mower may still go there."""
    land = Land("2027-04-14 12:00", zone=zone)
    assert land.farm.get(f"properties/{land.land}")["zone"] == "America/Chicago"
    land.contract(state="IL")
    job = land.job("mow")
    for utc, closed in (("2027-04-15T04:59:00+00:00", False), ("2027-04-15T05:00:00+00:00", True)):
        Holding.objects.filter(pk=land.farm.holding.pk).update(clock_at=utc)
        assert ("contract" in land.kinds(job)) is closed, utc


def test_every_verdict_keeps_rule_source_version_and_inputs_also_when_it_is_set_aside() -> None:
    land = Land("2027-06-11 06:00")
    farm = land.farm
    job = burn(land, permit_needed=None, break_width_ft=3.0, least_crew=9)
    land.contract(disturb_share=0.1, contract_acres=4.0)
    land.kinds(job)
    told = farm.why(job)["holds"]
    assert {hold["kind"] for hold in told} >= {"permit", "crew", "firebreak", "yearly_share"}
    for hold in told:
        if "rules" in hold["inputs"]:
            assert (bool(hold["rule"]), bool(hold["source"]), hold["inputs"]["rules"]) == (True, True, RULES), hold
            assert hold["inputs"]["verdict"] in ("stop", "written reason"), hold
            assert len(hold["inputs"]) > 2, hold
    farm.post("overrides", job=job, rule="yearly_share", reason="County office agreed by letter of 2 June")
    assert "yearly_share" not in land.kinds(job)
    assert any("Set aside in writing" in note for note in farm.why(job)["notes"])
