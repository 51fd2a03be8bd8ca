"""Entry and trait: after a spray nobody enters before the longest time of the mix has passed, and a spray goes only on
seed that stands it. Through the API alone; land, dates and amounts are invented, entry times are typed.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any

import pytest

from tests.farm import Farm, holds

pytestmark = pytest.mark.django_db


class Sprayed:
    """A mix of two products with entry times of 12 and 48 h, its end reported for Fri 11 Jun 18:40."""

    def __init__(self, *, reported: bool = True) -> None:
        self.farm = farm = Farm("2027-06-11 12:00")
        skill = farm.post("skills", name="pesticide applicator")["id"]
        boss = farm.people["Manager"]
        farm.post("certificates", person=boss, skill=skill, valid_from="2026-01-01", valid_to="2028-12-31")
        self.land = farm.place("Creek farm")
        self.plot = farm.post("plots", name="Long field", property=self.land, acres_typed=4.0)["id"]
        self.other = farm.post("plots", name="Far field", property=self.land, acres_typed=4.0)["id"]
        self.short, self.long = self.product("Short bottle", 12), self.product("Long bottle", 48)
        self.spray = self.job("spray", "Spray", 60)
        for name, material in (("first", self.short), ("second", self.long)):
            farm.post("needs", job=self.spray, kind="material", name=name, material=material, rate_per_acre=1.0)
        self.stand = self.job("check_stand", "Count the stand", 30)
        self.fence = self.job("fence", "Build the fence", 180)
        self.far = self.job("fence", "Mend the far fence", 180, plot=self.other)
        farm.post("sheets", job=self.spray, signs=False)
        if reported:
            farm.at("2027-06-11 18:45")
            farm.done(self.spray, "2027-06-11 18:40")

    def product(self, name: str, hours: float | None, active: str = "dicamba") -> int:
        material: int = self.farm.post("materials", name=name, kind="herbicide", unit="gal", active=active)["id"]
        if hours is not None:
            self.farm.post("labels", material=material, entry_hours=hours, wash_known=True, source="label as typed")
        return material

    def job(self, operation: str, title: str, minutes: int, **body: Any) -> int:
        body = {"plot": self.plot, "operation": operation, "title": title, "duration_min": minutes} | body
        made: int = self.farm.post("jobs", **body)["id"]
        return made


@pytest.fixture
def sprayed(db: None) -> Sprayed:
    return Sprayed()


def test_nobody_is_in_before_sunday_evening(sprayed: Sprayed) -> None:
    """Friday 18:40 and 48 h, the longer of 12 and 48."""
    farm = sprayed.farm
    farm.at("2027-06-12 08:00")
    for job in (sprayed.stand, sprayed.fence):
        told = farm.job(job)
        assert told["state"] == "held"
        assert holds(told) == {
            "entry": "Sprayed until Fri 11 Jun 18:40; Long bottle closes it for 48 h."
            " Nobody enters before Sun 13 Jun 18:40."
        }
        assert told["holds"][0]["clears_at"] == "Sun 13 Jun 18:40"
        assert told["holds"][0]["source"] == "label as typed"
    assert farm.job(sprayed.far)["state"] == "open"
    inputs = farm.why(sprayed.stand)["holds"][0]["inputs"]
    assert (inputs["verdict"], bool(inputs["rules"])) == ("stop", True)
    assert inputs["mix"] == {str(sprayed.short): 12.0, str(sprayed.long): 48.0}


def test_it_clears_to_the_minute(sprayed: Sprayed) -> None:
    farm = sprayed.farm
    for at, state in (("2027-06-13 18:39:59", "held"), ("2027-06-13 18:40", "open")):
        farm.at(at)
        assert farm.job(sprayed.stand)["state"] == state, at


def minutes(piece: dict[str, str]) -> int:
    return round((datetime.fromisoformat(piece["to"]) - datetime.fromisoformat(piece["from"])).total_seconds() / 60)


def test_three_hours_of_fencing_no_longer_fit_on_sunday(sprayed: Sprayed) -> None:
    """Sunset at 40.0 N 91.0 W on 13 June is 20:33: 1 h 53 are left of Sunday, so the fence is for Monday."""
    farm, boss = sprayed.farm, sprayed.farm.people["Manager"]
    for weekday in range(7):
        farm.post("free-times", person=boss, weekday=weekday, starts="06:00", ends="21:30")
    farm.at("2027-06-13 07:00")
    told = farm.get("next", person=boss)
    (fence,) = [job for job in told["jobs"] if job["title"] == "Build the fence"]
    first, *further = [(farm.local(piece["from"]), minutes(piece)) for piece in fence["hours"]]
    assert (first[0], fence["minutes"]) == ("Sun 13 Jun 18:40", 180)
    assert abs(first[1] - 113) <= 1, "1 h 53 of daylight"
    fitting = next(start for start, length in further if length >= 180)
    assert fitting.startswith("Mon 14 Jun")


def test_another_product_found_in_the_mix_moves_the_end(sprayed: Sprayed) -> None:
    farm = sprayed.farm
    third = sprayed.product("Third bottle", 72)
    farm.post("needs", job=sprayed.spray, kind="material", name="third", material=third)
    farm.at("2027-06-12 08:00")
    assert farm.job(sprayed.fence)["holds"][0]["clears_at"] == "Mon 14 Jun 18:40"


def test_an_entry_time_corrected_on_the_label_moves_the_end(sprayed: Sprayed) -> None:
    farm = sprayed.farm
    (label,) = farm.all("labels", material=sprayed.long)
    farm.patch(f"labels/{label['id']}", entry_hours=24.5)
    farm.at("2027-06-12 08:00")
    assert farm.job(sprayed.fence)["holds"][0]["clears_at"] == "Sat 12 Jun 19:10"


def test_a_label_without_an_entry_time_is_asked_for_and_lets_nobody_in() -> None:
    sprayed = Sprayed(reported=False)
    farm = sprayed.farm
    blank = sprayed.product("Blank can", None)
    farm.post("needs", job=sprayed.spray, kind="material", name="third", material=blank)
    farm.at("2027-06-11 12:05")
    assert holds(farm.job(sprayed.spray)) == {"label": "Type the label's entry time of Blank can first."}
    farm.post("overrides", job=sprayed.spray, rule="label", reason="The label is read out by phone")
    farm.at("2027-06-11 12:10")
    assert farm.job(sprayed.spray)["holds"] == []
    assert [row["reason"] for row in farm.all("overrides", job=sprayed.spray)] == ["The label is read out by phone"]
    farm.done(sprayed.spray, "2027-06-11 12:10")
    farm.at("2027-06-20 08:00")
    assert holds(farm.job(sprayed.fence)) == {
        "label": "Blank can was sprayed here until Fri 11 Jun 12:10. Not known when anybody may enter:"
        " type the label's entry time."
    }
    farm.post("labels", material=blank, entry_hours=24)
    farm.at("2027-06-20 08:01")
    assert farm.job(sprayed.fence)["state"] == "open"


def test_jobs_of_the_same_round_are_the_spray_going_on() -> None:
    sprayed = Sprayed(reported=False)
    farm = sprayed.farm
    round_ = farm.post("rounds", operation="spray", label="June round")["id"]
    edge = sprayed.job("spot_spray", "The edge of it", 30, round=round_)
    farm.patch(f"jobs/{sprayed.spray}", round=round_)
    farm.done(sprayed.spray, "2027-06-11 12:00")
    assert farm.job(edge)["holds"] == []
    assert set(holds(farm.job(sprayed.fence))) == {"entry"}


def test_each_part_keeps_its_own_clock_and_the_strictest_is_shown() -> None:
    sprayed = Sprayed(reported=False)
    farm = sprayed.farm
    farm.patch(f"jobs/{sprayed.spray}", acres=4.0)
    farm.done(sprayed.spray, "2027-06-11 10:00", acres=2.0)
    farm.at("2027-06-12 10:00")
    farm.done(sprayed.spray, "2027-06-12 09:00", acres=2.0)
    told = farm.why(sprayed.fence)["holds"][0]
    assert told["clears_at"] == "Mon 14 Jun 09:00"
    assert len(told["inputs"]["parts"]) == 2


@pytest.mark.parametrize(
    ("ends", "clears"),
    [("2027-03-13 18:40", "Mon 15 Mar 19:40"), ("2027-11-06 18:40", "Mon 8 Nov 17:40")],
    ids=["into summer time", "out of it"],
)
def test_hours_are_elapsed_hours_over_the_change_of_clocks(ends: str, clears: str) -> None:
    """48 h over a night of 23 or 25: the clock on the wall says an hour more or less."""
    sprayed = Sprayed(reported=False)
    farm = sprayed.farm
    farm.at(ends)
    farm.done(sprayed.spray, ends)
    assert farm.job(sprayed.fence)["holds"][0]["clears_at"] == clears


def test_under_way_nobody_else_enters_until_it_is_reported_done() -> None:
    sprayed = Sprayed(reported=False)
    farm = sprayed.farm
    farm.report(sprayed.spray, "start", "2027-06-11 12:00")
    assert holds(farm.job(sprayed.fence)) == {"entry": "Being sprayed: Spray, Long field. Nobody else enters."}


# traits


class Strips:
    """4 acres of soybeans: 2.5 of a tolerant lot, then 1.5 finished with a conventional one; a spray over them."""

    def __init__(self, *, second_lot: bool = True) -> None:
        self.base = base = Sprayed(reported=False)
        self.farm = farm = base.farm
        self.plot = base.other
        seed = farm.post("materials", name="Bean seed", kind="seed", unit="unit")["id"]
        self.tolerant = farm.post("lots", material=seed, number="T-1", tolerates="glyphosate")["id"]
        self.plain = farm.post("lots", material=seed, number="C-9")["id"]
        self.bottle = base.product("Over the top", 24, "Glyphosate")
        season = farm.apply("soybean", self.plot, 2027, materials={"post-emergence herbicide": self.bottle})
        plant = season["plant"]
        farm.done(plant, "2027-05-20 12:00", acres=2.5, lot=self.tolerant)
        rest: dict[str, Any] = {"lot": self.plain} if second_lot else {}
        farm.done(plant, "2027-05-21 12:00", acres=1.5, **rest)
        self.spray = season["post_spray"]
        self.steps = season
        farm.at("2027-06-11 13:00")

    def told(self) -> str:
        return holds(self.farm.job(self.spray)).get("tolerance", "")


def test_glyphosate_is_blocked_on_the_strip_and_on_all_of_it_until_the_strip_is_drawn() -> None:
    strips = Strips()
    farm = strips.farm
    assert strips.told() == ("No glyphosate on 1.5 of 4 acres (lot C-9), and on none of them until the strip is drawn.")
    farm.patch(f"jobs/{strips.spray}", acres=2.5)
    farm.at("2027-06-11 13:01")
    assert strips.told(), "nobody knows where the strip ends"
    farm.report(strips.steps["plant"], "seen", "2027-06-11 13:02", outcome="strips_drawn")
    farm.at("2027-06-11 13:03")
    assert strips.told() == ""
    farm.patch(f"jobs/{strips.spray}", acres=4.0)
    farm.at("2027-06-11 13:04")
    assert strips.told() == "No glyphosate on 1.5 of 4 acres (lot C-9). Set the job's acres to 2.5 to do the rest."


def test_a_spray_of_no_season_is_held_by_what_stands_on_the_plot_too() -> None:
    strips = Strips()
    spray = strips.base.job("spot_spray", "The thistles", 30, plot=strips.plot, acres=4.0)
    strips.farm.post("needs", job=spray, kind="material", name="bottle", material=strips.bottle, rate_per_acre=1.0)
    strips.farm.at("2027-06-11 13:05")
    assert "tolerance" in holds(strips.farm.job(spray))


def test_a_lot_that_nobody_named_stands_nothing() -> None:
    strips = Strips(second_lot=False)
    assert "(lot not said)" in strips.told()


def test_a_tolerance_typed_on_the_lot_later_clears_it() -> None:
    strips = Strips()
    strips.farm.patch(f"lots/{strips.plain}", tolerates="glyphosate, dicamba")
    strips.farm.at("2027-06-11 13:05")
    assert strips.told() == ""


def test_a_strip_drawn_before_the_last_was_planted_is_none() -> None:
    strips = Strips()
    strips.farm.report(strips.steps["plant"], "seen", "2027-05-20 18:00", outcome="strips_drawn")
    strips.farm.at("2027-06-11 13:05")
    assert "until the strip is drawn" in strips.told()
