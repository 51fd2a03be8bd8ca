"""Rules of law, contract and safety as a manager meets them: through the API, at their edges, with their reasons.

The list of rules is 40 CFR 170 (entry, mixes, handlers, signs, exclusion zone), 7 CFR 110.3 (spot applications),
conservation contracts (FSA, NRCS), burn forms (Texas, Minnesota, Nebraska) and lone work. Entry and mixes stand in
`test_moment_entry`, handlers and signs in `jobs/services`; figures that no source confirms are typed here.
"""

from __future__ import annotations

from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from core.models import Holding, Person
from jobs.law.data import RULES
from jobs.services.walking import walk_holding
from tests.core.world import script_of
from tests.farm import Farm, holds

pytestmark = pytest.mark.django_db
BOX = 0.0001
"""Degrees: about 36 ft to the north."""


def outline(south: float, west: float, height: float = 10 * BOX, width: float = 10 * BOX) -> dict[str, Any]:
    east, north = west + width, south + height
    ring = [[west, south], [east, south], [east, north], [west, north], [west, south]]
    return {"type": "Polygon", "coordinates": [ring]}


def hours_file(rows: list[str]) -> SimpleUploadedFile:
    return SimpleUploadedFile("hours.csv", "\n".join(rows).encode())


class Land:
    """A property with one plot, and a sprayer's crew of two who may spray."""

    def __init__(self, at: str, zone: str = "America/Chicago") -> None:
        self.farm = farm = Farm(at, zone=zone)
        self.land = farm.place("Creek farm")
        self.plot = farm.post("plots", name="Field", property=self.land, acres_typed=4.0)["id"]

    def job(self, operation: str, plot: int | None = None, **body: Any) -> int:
        body = {"plot": plot or self.plot, "operation": operation, "title": operation, "duration_min": 60} | body
        pk: int = self.farm.post("jobs", **body)["id"]
        return pk

    def contract(self, **terms: Any) -> int:
        body = {"property": self.land, "practice": "cover", "first_day": "2020-01-01", "last_day": "2033-12-31"}
        pk: int = self.farm.post("contracts", **body | terms)["id"]
        return pk

    def kinds(self, job: int) -> set[str]:
        """After the walk over what was touched; a walk over everything changes nothing."""
        walk_holding(self.farm.holding.pk)
        found = set(holds(self.farm.job(job)))
        assert walk_holding(self.farm.holding.pk, whole=True).changed == ()
        return found

    def bottle(self, name: str = "Bottle", **label: Any) -> int:
        farm = self.farm
        pk: int = farm.post("materials", name=name, kind="herbicide", unit="gal", active="dicamba")["id"]
        farm.post("labels", material=pk, **{"entry_hours": 12.0, "wash_known": True} | label)
        return pk

    def spray(self, plot: int | None = None, acres: float | None = None, operation: str = "spray") -> int:
        job = self.job(operation, plot, **({} if acres is None else {"acres": acres}))
        self.farm.post("needs", job=job, kind="material", name="product", material=self.product, rate_per_acre=0.1)
        return job

    @property
    def product(self) -> int:
        found = self.farm.all("materials", name="Bottle")
        return int(found[0]["id"]) if found else self.bottle()


# conservation contracts


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


# fire


def burn(land: Land, **sheet: Any) -> int:
    """A burn of which everything is typed but for what the test changes."""
    farm = land.farm
    job = land.job("burn")
    whole = {
        "permit_needed": False, "boss": farm.people["Manager"], "least_crew": 2, "fuel_height_ft": 3.0,
        "break_width_ft": 6.0, "break_least_ft": 4.0,
    }  # fmt: skip
    farm.post("sheets", job=job, **whole | sheet)
    farm.helper("Ada")
    for name in ("Manager", "Ada"):
        farm.post("assignments", job=job, person=farm.people[name])
    return job


def test_a_permit_ends_with_its_days_or_those_of_the_state() -> None:
    """Nebraska 81-520.05: not valid for over 30 days after its issue, whatever last day it carries."""
    land = Land("2027-03-01 08:00")
    job = burn(
        land, permit_needed=True, permit_number="27-114", permit_issued_on="2027-03-01", permit_expires_on="2027-04-20",
        permit_most_days=30,
    )  # fmt: skip
    assert "permit" not in land.kinds(job)
    for at, ended in (("2027-03-31 23:59", False), ("2027-04-01 00:00", True)):
        land.farm.at(at)
        assert ("permit" in land.kinds(job)) is ended, at
    assert holds(land.farm.job(job))["permit"] == "The burn permit ended with Wed 31 Mar."


def test_nobody_has_asked_about_the_permit_so_nothing_is_lit() -> None:
    land = Land("2027-03-01 08:00")
    assert "permit" in land.kinds(burn(land, permit_needed=None))


def test_a_helper_who_cancels_holds_the_burn_again() -> None:
    land = Land("2027-03-01 08:00")
    job = burn(land)
    assert "crew" not in land.kinds(job)
    (ada,) = land.farm.all("assignments", job=job, person=land.farm.people["Ada"])
    land.farm.manager.delete(f"/api/assignments/{ada['id']}/")
    assert "crew" in land.kinds(job)
    assert holds(land.farm.job(job))["crew"] == "The plan needs a crew of 2; 1 confirmed."


def test_a_burn_without_its_boss_in_the_crew_is_held() -> None:
    land = Land("2027-03-01 08:00")
    land.farm.helper("Bo")
    assert "crew" in land.kinds(burn(land, boss=land.farm.people["Bo"]))


@pytest.mark.parametrize(
    ("fuel", "width", "held"), [(3.0, 6.0, False), (3.0, 5.99, True), (1.0, 4.0, False), (1.0, 3.99, True)]
)
def test_a_firebreak_is_twice_the_fuels_height_and_at_least_four_feet(fuel: float, width: float, held: bool) -> None:
    """NRCS Missouri 394 (2020)."""
    land = Land("2027-03-01 08:00")
    job = burn(land, fuel_height_ft=fuel, break_width_ft=width)
    assert ("firebreak" in land.kinds(job)) is held


class Forecast:
    """A burn on Wed 3 Mar 2027 with hours of weather by import, all of them in prescription if not changed."""

    CALM = {
        "temp_f": 50.0,
        "humidity_pct": 50.0,
        "wind_mph": 8.0,
        "gust_mph": 12.0,
        "wind_dir_deg": 200.0,
        "rain_in": 0,
    }

    def __init__(self) -> None:
        self.land = Land("2027-03-03 06:00")
        self.job = burn(self.land)
        skill = self.land.farm.post("skills", name="burn boss")["id"]
        boss = self.land.farm.people["Manager"]
        self.land.farm.post("certificates", person=boss, skill=skill, valid_from="2026-01-01")

    def typed(self, issued: str = "2027-03-03T05:00-06:00", **changed: dict[int, Any]) -> None:
        names = [*self.CALM, *(name for name in changed if name not in self.CALM)]
        rows = [f"time,issued,{','.join(names)}"]
        for hour in range(6, 192):
            values = [changed.get(name, {}).get(hour, self.CALM.get(name, "")) for name in names]
            rows.append(f"2027-03-{3 + hour // 24:02d}T{hour % 24:02d}:00-06:00,{issued},{','.join(map(str, values))}")
        body = {"file": hours_file(rows), "property": self.land.land, "kind": "hours"}
        answer = self.land.farm.manager.post("/api/imports/", body, format="multipart")
        assert answer.status_code == 200, answer.content

    def windows(self) -> Any:
        walk_holding(self.land.farm.holding.pk)
        return self.land.farm.get(f"jobs/{self.job}/windows")


def test_weather_outside_the_prescription_stale_or_missing_gives_no_hour_to_burn() -> None:
    """Forms of Texas and Minnesota: current and forecast weather inside; what is missing or old counts as no."""
    forecast = Forecast()
    assert (forecast.windows()["windows"], forecast.windows()["known"]) == ([], False)
    forecast.typed()
    told = forecast.windows()
    assert told["windows"], told
    forecast.typed(issued="2027-03-03T05:10-06:00", humidity_pct=dict.fromkeys(range(192), 24.0))
    assert forecast.windows()["windows"] == []
    assert "relative humidity below 40 %" in forecast.windows()["sentence"]
    forecast.typed(issued="2027-03-03T05:20-06:00", humidity_pct=dict.fromkeys(range(192), ""))
    assert forecast.windows()["windows"] == []
    forecast.typed(issued="2027-03-03T05:30-06:00")
    assert forecast.windows()["windows"]
    forecast.land.farm.at("2027-03-04 05:31")
    assert forecast.windows()["windows"] == [], "the forecast is 24 hours old"


# pesticide


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


# people


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
