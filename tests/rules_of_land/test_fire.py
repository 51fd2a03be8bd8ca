"""Burns: permit, crew, firebreak, prescription."""

from __future__ import annotations

from typing import Any

import pytest

from jobs.services.walking import walk_holding
from tests.farm import holds
from tests.rules_of_land.land import Land, burn, hours_file

pytestmark = pytest.mark.django_db


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
