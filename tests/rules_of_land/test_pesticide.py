"""Spot applications, and the zone around a spray."""

from __future__ import annotations

from typing import Any

import pytest

from core.models import Person
from jobs.services.walking import walk_holding
from tests.core.world import script_of
from tests.farm import holds
from tests.rules_of_land.land import BOX, Land, hours_file, outline

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    ("first", "second", "spot"),
    [(0.05, None, True), (0.0999, None, True), (0.1, None, False), (0.05, 0.04, True), (0.05, 0.05, False)],
)
def test_under_a_tenth_of_an_acre_in_all_of_one_day_is_a_spot_application(
    first: float, second: float | None, spot: bool
) -> None:
    """Minnesota Department of Agriculture on 7 CFR 110.3: under a tenth, not a tenth; the day's sprays are added."""
    land = Land("2027-06-11 12:00")
    sprays = [land.spray(acres=4.0, operation="spot_spray") for _ in range(2)]
    land.farm.done(sprays[0], "2027-06-11 09:00", acres=first)
    if second is not None:
        land.farm.done(sprays[1], "2027-06-11 10:00", acres=second)
    assert {row["spot_application"] for row in land.farm.all("reports")} == {spot}


def test_sprays_of_another_day_corrected_ones_and_other_work_do_not_count() -> None:
    land = Land("2027-06-11 12:00")
    farm, job = land.farm, land.spray(acres=4.0)
    yesterday = farm.done(job, "2027-06-10 23:30", acres=0.09)["id"]
    wrong = farm.done(job, "2027-06-11 09:00", acres=0.2)["id"]
    right = farm.done(job, "2027-06-11 09:00", acres=0.02, corrects=wrong)["id"]
    mown = farm.done(land.job("mow", acres=0.05), "2027-06-11 09:00", acres=0.05)["id"]
    told = {row["id"]: row["spot_application"] for row in farm.all("reports")}
    assert told == {yesterday: True, wrong: None, right: True, mown: None}
    assert farm.get(f"reports/{right}")["spot_application"] is True


class Neighbours:
    """A spray on a drawn plot, and others who are sent to a plot `feet` to the north of it on another property."""

    def __init__(self, north_degrees: float | None, **sheet: Any) -> None:
        self.land = land = Land("2027-06-11 06:00")
        farm = land.farm
        farm.patch(f"plots/{land.plot}", polygon=outline(40.0, -91.0))
        self.spray = land.spray()
        if sheet:
            farm.post("sheets", job=self.spray, **sheet)
        there = farm.place("Next farm", latitude=40.002)
        drawn = {} if north_degrees is None else {"polygon": outline(40.0 + 10 * BOX + north_degrees, -91.0)}
        self.other_plot = farm.post("plots", name="Line", property=there, acres_typed=1.0, **drawn)["id"]
        self.fence = land.job("fence", self.other_plot, title="Mend the fence")
        farm.helper("Ada")
        farm.helper("Bo")

    def send(self, starts: str = "09:00", ends: str = "11:00", day: str = "2027-06-11", who: str = "Ada") -> int:
        farm = self.land.farm
        body = {"job": self.fence, "person": farm.people[who], "day": day, "starts": starts, "ends": ends}
        pk: int = farm.post("assignments", **body)["id"]
        return pk

    def held(self, at: str) -> bool:
        self.land.farm.at(f"2027-06-11 {at}")
        return "exclusion_zone" in self.land.kinds(self.spray)


WIDE = {"spray_method": "boom", "droplet_microns": 293.0, "nozzle_in": 20.0}
NARROW = WIDE | {"droplet_microns": 294.0}


@pytest.mark.parametrize(
    ("feet", "sheet", "held"),
    [
        (99.0, WIDE, True), (101.0, WIDE, False), (99.0, {}, True), (101.0, {}, False), (24.0, NARROW, True),
        (26.0, NARROW, False), (5.0, NARROW | {"nozzle_in": 12.0}, False), (99.0, {"spray_method": "air_blast"}, True),
    ],
)  # fmt: skip
def test_nobody_sprays_within_the_zone_of_others_across_the_property_line(
    feet: float, sheet: dict[str, Any], held: bool
) -> None:
    """EPA comparison of 2019: 100 ft for what is fine or carries far, 25 ft above a foot. What nobody typed is wide."""
    near = Neighbours(feet * BOX / 36.4, **sheet)
    near.send()
    assert near.held("10:00") is held


def test_the_zone_holds_while_others_are_sent_there_and_no_longer() -> None:
    near = Neighbours(0.5 * BOX)
    near.send()
    assert [near.held(at) for at in ("08:59", "09:00", "10:59")] == [False, True, True]
    told = near.land.farm.why(near.spray)["holds"][0]
    assert told["sentence"] == (
        "Mend the fence, Line: others are sent there until Fri 11 Jun 11:00, 18.2 ft away."
        " Nobody but the crew of the spray is within 100 ft while it goes, across the property line too."
    )
    assert (told["source"], told["inputs"]["verdict"]) == ("epa-exclusion-zone-2024", "stop")
    assert near.held("11:00") is False


def test_an_assignment_that_is_ended_frees_the_spray() -> None:
    near = Neighbours(0.5 * BOX)
    sent = near.send()
    assert near.held("10:00") is True
    near.land.farm.manager.delete(f"/api/assignments/{sent}/")
    assert "exclusion_zone" not in near.land.kinds(near.spray)


def test_who_goes_to_the_spray_themselves_are_no_others() -> None:
    near = Neighbours(0.5 * BOX)
    farm = near.land.farm
    skill = farm.post("skills", name="pesticide applicator")["id"]
    farm.post("certificates", person=farm.people["Ada"], skill=skill, valid_from="2026-01-01")
    farm.post("assignments", job=near.spray, person=farm.people["Ada"])
    near.send()
    assert near.held("10:00") is False
    near.send(who="Bo")
    assert near.held("10:01") is True


def test_somebody_who_begins_inside_the_zone_stops_a_spray_that_is_under_way() -> None:
    near = Neighbours(0.5 * BOX)
    farm = near.land.farm
    farm.report(near.spray, "start", "2027-06-11 06:00")
    farm.at("2027-06-11 06:20")
    assert "exclusion_zone" not in near.land.kinds(near.spray)
    farm.report(near.fence, "start", "2027-06-11 06:20")
    assert "exclusion_zone" in near.land.kinds(near.spray)
    farm.done(near.fence, "2027-06-11 06:20")
    assert "exclusion_zone" not in near.land.kinds(near.spray)


def test_of_two_who_begin_one_job_inside_the_zone_nobody_is_forgotten() -> None:
    """One of them belongs to the crew of the spray, and so is no other; the one who began before is."""
    near = Neighbours(0.5 * BOX)
    farm = near.land.farm
    skill = farm.post("skills", name="pesticide applicator")["id"]
    farm.post("certificates", person=farm.people["Ada"], skill=skill, valid_from="2026-01-01")
    farm.post("assignments", job=near.spray, person=farm.people["Ada"])
    farm.at("2027-06-11 06:20")
    ada, bo = (script_of(Person.objects.get(pk=farm.people[name])) for name in ("Ada", "Bo"))
    began = farm.report(near.fence, "start", "2027-06-11 06:10", bo)["id"]
    farm.report(near.fence, "start", "2027-06-11 06:20", ada)
    assert "exclusion_zone" in near.land.kinds(near.spray)
    farm.report(near.fence, "withdrawn", "2027-06-11 06:20", corrects=began)
    assert "exclusion_zone" not in near.land.kinds(near.spray)


def test_where_nobody_drew_the_outlines_others_on_the_land_next_to_it_are_taken_for_near() -> None:
    near = Neighbours(None)
    near.send()
    assert near.held("10:00") is True
    told = holds(near.land.farm.job(near.spray))["exclusion_zone"]
    assert "nobody knows how far away (draw both outlines)" in told
    near.land.farm.patch(f"plots/{near.other_plot}", polygon=outline(40.003, -91.0))
    assert "exclusion_zone" not in near.land.kinds(near.spray)


def fine_hours(near: Neighbours) -> None:
    """Calm and dry from the morning to midnight, and a sheet that makes the zone 25 ft."""
    farm = near.land.farm
    rows = ["time,issued,temp_f,humidity_pct,wind_mph,gust_mph,wind_dir_deg,rain_in"]
    rows += [f"2027-06-11T{hour:02d}:00-05:00,2027-06-11T05:00-05:00,64,50,6,9,200,0" for hour in range(6, 24)]
    body = {"file": hours_file(rows), "property": near.land.land, "kind": "hours"}
    answer = farm.manager.post("/api/imports/", body, format="multipart")
    assert answer.status_code == 200, answer.content
    farm.post("sheets", job=near.spray, spray_method="boom", droplet_microns=350.0, nozzle_in=20.0)


def test_a_window_of_the_spray_leaves_out_the_hours_in_which_others_are_near() -> None:
    near = Neighbours(0.5 * BOX)
    farm = near.land.farm
    fine_hours(near)
    near.send(starts="10:00", ends="12:00")
    walk_holding(farm.holding.pk)
    told = farm.get(f"jobs/{near.spray}/windows")["windows"]
    edges = [(farm.local(window["from"])[-5:], farm.local(window["to"])[-5:]) for window in told]
    assert ("10:00" in edges[0][1], "12:00" in edges[1][0]) == (True, True), edges
    assert told[0]["ends"] == "others are sent to within the spray's exclusion zone"


def test_a_spray_under_way_has_no_fit_hours_on_a_day_on_which_others_are_sent_near_without_hours() -> None:
    """An assignment without hours counts from midnight on, so from before the hours that are looked at."""
    near = Neighbours(0.5 * BOX)
    farm = near.land.farm
    fine_hours(near)
    farm.report(near.spray, "start", "2027-06-11 06:00")
    assert farm.get(f"jobs/{near.spray}/windows")["windows"]
    farm.post("assignments", job=near.fence, person=farm.people["Ada"], day="2027-06-11")
    assert "exclusion_zone" in near.land.kinds(near.spray)
    told = farm.get(f"jobs/{near.spray}/windows")
    assert (told["state"], told["windows"]) == ("under_way", [])
