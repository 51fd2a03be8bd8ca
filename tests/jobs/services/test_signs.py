"""Signs at a sprayed plot: up within a day before, down within three days after the entry time, through the API."""

from __future__ import annotations

import pytest

from tests.farm import Farm, holds

pytestmark = pytest.mark.django_db


@pytest.fixture
def farm(db: None) -> Farm:
    return Farm("2027-06-07 06:00")


def spray(farm: Farm, hours: float | None) -> int:
    land = farm.place("Creek farm")
    plot = farm.post("plots", name="Long field", property=land, acres_typed=4.0)["id"]
    bottle = farm.post("materials", name="Bottle", kind="herbicide", unit="gal", active="dicamba")["id"]
    if hours is not None:
        farm.post("labels", material=bottle, entry_hours=hours, wash_known=True)
    job: int = farm.post("jobs", plot=plot, operation="spray", title="Spray", duration_min=60)["id"]
    farm.post("needs", job=job, kind="material", name="bottle", material=bottle, rate_per_acre=1.0)
    farm.at("2027-06-07 06:05")
    return job


def test_a_spray_of_over_two_days_waits_for_signs_and_they_come_down_in_three(farm: Farm) -> None:
    job = spray(farm, 60.0)
    assert holds(farm.job(job)) == {"signs": "The label closes it for 60 h, so signs go up first and come down after."}
    farm.post(f"jobs/{job}/signs", status=200)
    farm.post(f"jobs/{job}/signs", status=200)
    farm.at("2027-06-07 06:10")
    (up,) = farm.all("jobs", operation="post_signs")
    (down,) = farm.all("jobs", operation="remove_signs")
    assert set(holds(farm.job(job))) == {"predecessor"}
    farm.done(up["id"], "2027-06-07 06:10")
    told = farm.job(job)
    assert (told["state"], farm.local(told["latest_start"])) == ("open", "Tue 8 Jun 06:10")
    farm.at("2027-06-07 08:00")
    farm.done(job, "2027-06-07 08:00")
    told = farm.job(down["id"])
    assert farm.local(told["earliest_start"]) == "Wed 9 Jun 20:00"
    assert farm.local(told["latest_start"]) == "Sat 12 Jun 20:00"
    assert set(holds(told)) == {"lag", "entry"}
    farm.at("2027-06-09 20:00")
    assert farm.job(down["id"])["state"] == "open"


def test_shorter_times_need_none_and_a_sheet_may_ask_for_them(farm: Farm) -> None:
    job = spray(farm, 48.0)
    assert farm.job(job)["state"] == "open"
    farm.post("sheets", job=job, signs=True)
    farm.at("2027-06-07 06:10")
    assert set(holds(farm.job(job))) == {"signs"}


def test_without_a_typed_entry_time_nobody_knows_how_long_signs_stay(farm: Farm) -> None:
    job = spray(farm, None)
    refused = farm.post(f"jobs/{job}/signs", status=422)
    assert "Type the entry time" in refused["detail"]
    till = farm.post("jobs", plot=farm.get(f"jobs/{job}")["plot"], operation="till", title="Till", duration_min=60)
    assert "is no spray" in farm.post(f"jobs/{till['id']}/signs", status=400)["detail"]
