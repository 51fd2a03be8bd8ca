"""Moments in which the program must be right, through the API alone: the answer and its reason.

Land, dates and amounts are invented. Places lie at 40.0 N 91.0 W, times are Central. Degree days by 86/50 counted from
the day after planting: Ohio State University Extension AGF-101; corn comes up at 100 to 120: Karhoff 2023.
"""

from __future__ import annotations

import uuid
from typing import Any

import pytest

from tests.farm import Farm, holds

pytestmark = pytest.mark.django_db

SINCE_9_MAY = [(68, 44), (72, 50), (75, 54), (78, 58), (70, 49), (66, 46), (74, 52), (80, 60), (83, 62), (80, 60)]
"""Highs and lows. By hand: (68 + 50) / 2 - 50 = 9; then 11, 14.5, 18, 10, 8, 13, 20, 22.5; the last is 20."""

SUMS = {9: 9, 10: 20, 11: 34.5, 12: 52.5, 13: 62.5, 14: 70.5, 15: 83.5, 16: 103.5, 17: 126}


class EmergenceAndFence:
    """Corn and beans planted on Sat 8 May beside each other, and the days after it, first as a forecast."""

    def __init__(self) -> None:
        self.farm = farm = Farm("2027-05-08 18:00")
        land = farm.place("Creek farm")
        self.series = farm.gauge(land)
        for offset, (high, low) in enumerate(SINCE_9_MAY):
            farm.day(self.series, f"2027-05-{9 + offset:02d}", high, low, kind="forecast")
        flats = [farm.post("plots", name=n, property=land, acres_typed=3.0)["id"] for n in ("Corn flat", "Bean flat")]
        self.corn, self.beans = farm.apply("corn", flats[0], 2027), farm.apply("soybean", flats[1], 2027)
        for season in (self.corn, self.beans):
            farm.done(season["plant"], "2027-05-08 15:00")
            farm.report(season["residual"], "skipped", "2027-05-08 15:05")

    def days_pass(self, until: int) -> None:
        """What was forecast is typed in as it came, up to the day before; then it is seven in the morning."""
        for offset, (high, low) in enumerate(SINCE_9_MAY[: until - 9]):
            if not self.farm.all("days", series=self.series, date=f"2027-05-{9 + offset:02d}", kind="observed"):
                self.farm.day(self.series, f"2027-05-{9 + offset:02d}", high, low)
        self.farm.at(f"2027-05-{until:02d} 07:00")

    def hold(self, kind: str) -> Any:
        (found,) = [hold for hold in self.farm.why(self.corn["fence"])["holds"] if hold["kind"] == kind]
        return found


@pytest.fixture
def planted(db: None) -> EmergenceAndFence:
    return EmergenceAndFence()


def test_degree_days_are_counted_day_by_day_as_by_hand(planted: EmergenceAndFence) -> None:
    for day, total in SUMS.items():
        planted.days_pass(day + 1)
        kind = "lag" if total < 100 else "look"
        assert planted.hold(kind)["inputs"]["counted"] == total * 100, day


def test_corn_shows_16_to_17_may_and_is_looked_at_by_monday_evening(planted: EmergenceAndFence) -> None:
    told = planted.hold("lag")
    assert told["sentence"] == (
        "Waits 0 of 100 degree days after: Plant corn, Corn flat (Sat 8 May)."
        " Expected Sun 16 May to Mon 17 May; look by the evening of Mon 17 May."
    )
    assert (told["source"], told["clears_at"]) == ("karhoff-2023", "Mon 17 May")
    planted.days_pass(17)
    assert planted.hold("look")["sentence"] == (
        "Waits until the crop is up; a look closes it, no clock does. Look by the evening of Mon 17 May."
    )
    look = planted.farm.job(planted.corn["look_emergence"])
    assert (look["state"], planted.farm.local(look["earliest_start"])) == ("open", "Mon 17 May 00:00")


def test_fence_is_due_two_weeks_after_planting_whatever_the_degree_days_say(planted: EmergenceAndFence) -> None:
    farm = planted.farm
    for day in (9, 14, 17):
        planted.days_pass(day)
        fence = farm.why(planted.corn["fence"])
        assert (fence["start_by"], farm.local(fence["latest_start"])) == ("2027-05-22", "Sat 22 May 15:00")
        assert fence["state"] == "held"


def test_predicted_day_alone_opens_no_corn_fence_and_a_look_does(planted: EmergenceAndFence) -> None:
    farm, corn = planted.farm, planted.corn
    planted.days_pass(18)
    assert farm.job(corn["fence"])["state"] == "held"
    farm.done(corn["look_emergence"], "2027-05-18 07:00", outcome="emerged")
    fence = farm.job(corn["fence"])
    assert (fence["state"], fence["holds"], fence["start_by"]) == ("open", [], "2027-05-22")


def test_bean_fence_is_hot_before_its_own_date_and_asks_for_no_look(planted: EmergenceAndFence) -> None:
    """130 degree days (from memory, the user's to overwrite) come on 18 May: 126 + 20. The fence stands before."""
    farm, beans = planted.farm, planted.beans
    for day in (9, 17):
        planted.days_pass(day)
        fence = farm.why(beans["fence"])
        assert (fence["state"], fence["holds"]) == ("open", [])
        assert farm.local(fence["latest_finish"]) == "Tue 18 May 23:59"
        assert farm.local(farm.job(beans["look_emergence"])["earliest_start"]) == "Wed 19 May 00:00"
    links = farm.all("prerequisites", predecessor=beans["plant"], successor=beans["fence"])
    assert {link["confirm"] for link in links} == {""}


def test_nothing_up_on_monday_leaves_the_prediction_and_asks_again_on_wednesday(planted: EmergenceAndFence) -> None:
    farm, look = planted.farm, planted.corn["look_emergence"]
    planted.days_pass(17)
    predicted = farm.job(look)["earliest_start"]
    farm.report(look, "seen", "2027-05-17 18:00", outcome="not_emerged")
    farm.at("2027-05-17 18:30")
    told = planted.hold("look")
    assert told["sentence"] == (
        "Waits until the crop is up; a look closes it, no clock does."
        " The last look was in vain. Look again on Wed 19 May."
    )
    assert told["inputs"]["counted"] == 10_350, "the prediction stays where the curve put it"
    assert farm.local(predicted) == "Mon 17 May 00:00"
    asked = farm.job(look)
    assert asked["state"] == "under_way", "begun in time, so no longest wait makes it too late"
    assert holds(asked) == {"trouble": "Looked on Mon 17 May: nothing is up yet. It is asked for again."}
    assert asked["holds"][0]["clears_at"] == "Wed 19 May"
    assert farm.job(planted.corn["fence"])["start_by"] == "2027-05-22"
    farm.at("2027-05-19 06:30")
    assert farm.job(look)["holds"] == []
    farm.done(look, "2027-05-19 06:30", outcome="emerged")
    assert farm.job(planted.corn["fence"])["state"] == "open"


def test_nothing_up_seen_on_the_plot_moves_the_look_too(planted: EmergenceAndFence) -> None:
    farm = planted.farm
    planted.days_pass(17)
    plot = farm.get(f"jobs/{planted.corn['fence']}")["plot"]
    body = {"kind": "seen", "outcome": "not_emerged", "plot": plot, "client_id": str(uuid.uuid4())}
    seen = farm.post("reports", **body, happened_at=farm.instant("2027-05-17 06:00").isoformat())
    farm.at("2027-05-17 07:01")
    assert "Look again on Wed 19 May." in planted.hold("look")["sentence"]
    withdrawn = {"kind": "withdrawn", "plot": plot, "client_id": str(uuid.uuid4()), "corrects": seen["id"]}
    farm.post("reports", **withdrawn, happened_at=farm.instant("2027-05-17 07:00").isoformat())
    farm.at("2027-05-17 07:02")
    assert "Look by the evening of Mon 17 May." in planted.hold("look")["sentence"]


# breaks down half way


class BreakDown:
    """6.4 ac of beans, planter 10 ft at 4 mph and 60 %, 7 units of seed at one unit an acre; the soil is warm enough.

    Every day brings (75 + 55) / 2 - 50 = 15 degree days."""

    def __init__(self, at: str = "2027-05-15 10:45") -> None:
        self.farm = farm = Farm("2027-05-14 20:00")
        self.ada = farm.helper("Ada")
        self.land = farm.place("Creek farm")
        series = farm.gauge(self.land)
        for day in range(10, 32):
            for kind in ("observed", "forecast"):
                farm.day(series, f"2027-05-{day}", 75, 55, kind=kind)
        planter = farm.post("machines", name="Two-row", kind="planter", width_ft=10, speed_mph=4, efficiency=0.6)
        self.planter = planter["id"]
        seed = {"name": "Bean seed", "kind": "seed", "unit": "unit", "pack_size": 140_000}
        self.seed = farm.post("materials", **seed)["id"]
        farm.post("stock-moves", material=self.seed, quantity=7, at="2027-05-01T12:00:00Z")
        plots = {"Long field": 6.4, "Second field": 2.0, "Creek strip": 1.0}
        here = {
            name: farm.post("plots", name=name, property=self.land, acres_typed=acres)["id"]
            for name, acres in plots.items()
        }
        burner = farm.post("materials", name="Burndown", kind="herbicide", unit="gal", active="2,4-D")["id"]
        farm.post("labels", material=burner, entry_hours=12, wash_known=True)
        killed = {"burndown herbicide": burner}
        self.beans = farm.apply("soybean", here["Long field"], 2027, materials=killed | {"soybean seed": self.seed})
        self.other = farm.apply("soybean", here["Second field"], 2027, materials=killed)
        for season in (self.beans, self.other):
            self.ready(season)
        (need,) = [row for row in farm.all("needs", job=self.beans["plant"]) if row["name"] == "soybean seed"]
        farm.patch(f"needs/{need['id']}", rate_per_acre=1.0)
        clear = {"operation": "clear", "title": "Cut back the brush", "duration_min": 60, "plot": here["Creek strip"]}
        farm.post("jobs", **clear)
        farm.at(at)

    def ready(self, season: dict[str, int]) -> None:
        """Everything before planting is done; 2,4-D ester waits 7 days (Illinois 2012), tilled the day before."""
        farm = self.farm
        for step in ("sample_soil", "lime", "release", "mow_residue"):
            farm.report(season[step], "skipped", "2027-05-01 08:00")
        farm.done(season["order_seed"], "2027-02-01 08:00")
        farm.report(season["plant"], "seen", "2027-03-20 08:00", outcome="delivered")
        farm.report(season["burndown_ester"], "seen", "2027-05-01 07:00", outcome="regrowth")
        farm.done(season["burndown_ester"], "2027-05-01 09:00")
        farm.done(season["till"], "2027-05-14 17:00")

    def chain(self) -> Any:
        body = {"acres": 2.5, "reason": "machine", "machine": self.planter, "note": "chain"}
        return self.farm.report(self.beans["plant"], "could_not", "2027-05-15 10:40", self.ada, **body)

    def told(self) -> dict[str, Any]:
        """What must be the same whenever the report arrives."""
        farm, plant = self.farm, self.farm.why(self.beans["plant"])
        machine = farm.get(f"machines/{self.planter}")
        return {
            "state": plant["state"],
            "left": farm.job(self.beans["plant"])["acres_left"],
            "seed": farm.get(f"materials/{self.seed}")["stock"],
            "planter": (machine["state"], machine["until"], machine["at_property"]),
            "parts": plant["parts"],
            "holds": holds(plant),
            "start_by": plant["start_by"],
            "other": holds(farm.job(self.other["plant"])),
            "moves": [move["at"] for move in farm.all("stock-moves", material=self.seed) if move["quantity"] < 0],
        }


def test_the_field_is_planted_in_two_hours_and_twelve_minutes() -> None:
    """4 mph x 10 ft x 0.6 / 8.25 = 2.91 ac/h (Kentucky AEN-73); 6.4 / 2.91 = 2 h 12, and 30 min to get ready."""
    broken = BreakDown(at="2027-05-15 08:00")
    job = broken.farm.job(broken.beans["plant"])
    assert (job["state"], job["minutes"]) == ("open", 30 + 132)
    assert broken.farm.next("Ada")[0] == ("Plant soybean", "Long field")


def test_planter_that_breaks_half_way_leaves_a_rest_and_stands_down_where_it_is() -> None:
    broken = BreakDown()
    broken.chain()
    told = broken.told()
    assert (told["state"], told["left"], told["seed"]) == ("under_way", 3.9, 4.5)
    assert told["planter"] == ("down", None, broken.land)
    assert told["holds"] == {
        "trouble": "Could not be done on Sat 15 May: a machine.",
        "machine": "Two-row is down, no date.",
    }
    assert told["other"] == {"machine": "Two-row is down, no date."}
    assert broken.farm.job(broken.other["plant"])["state"] == "held"


def test_each_part_keeps_its_own_emergence_date() -> None:
    """130 degree days at 15 a day take 9 days. Planted on the 15th: end of the 24th; the rest on the 18th: of the 27th.
    The look waits for the later one."""
    broken = BreakDown()
    farm, look = broken.farm, broken.beans["look_emergence"]
    broken.chain()
    (link,) = farm.all("prerequisites", predecessor=broken.beans["plant"], successor=look)

    def emergence() -> list[tuple[float, str]]:
        parts = farm.why(broken.beans["plant"])["parts"]
        clocks = [(part["acres"], clock) for part in parts for clock in part["clocks"]]
        return [(acres, farm.local(c["over"])) for acres, c in clocks if c["prerequisite"] == link["id"]]

    assert emergence() == [(2.5, "Tue 25 May 00:00")]
    farm.patch(f"machines/{broken.planter}", state="works")
    farm.at("2027-05-18 18:00")
    farm.done(broken.beans["plant"], "2027-05-18 17:00", broken.ada, acres=3.9)
    assert farm.job(broken.beans["plant"])["state"] == "done"
    assert emergence() == [(2.5, "Tue 25 May 00:00"), (3.9, "Fri 28 May 00:00")]
    assert farm.local(farm.job(look)["earliest_start"]) == "Fri 28 May 00:00"


def test_helper_gets_the_next_jobs_there_without_the_planter() -> None:
    broken = BreakDown()
    broken.chain()
    assert broken.farm.next("Ada", property=broken.land) == [("Cut back the brush", "Creek strip")]


def test_manager_reads_until_when_another_planter_has_to_be_there() -> None:
    """The residual goes on within three days of planting (common practice), Saturday's part included, and only once the
    field is whole: so the rest is begun by Tuesday the 18th."""
    broken = BreakDown()
    broken.chain()
    assert broken.farm.why(broken.beans["plant"])["call_by"] == (
        "The rest of it waits for a machine: have it repaired, or borrow or hire one. Go on with it by Tue 18 May."
    )
    assert broken.farm.why(broken.beans["till"])["call_by"] == ""


def test_report_from_a_dead_phone_on_monday_says_the_same_dated_saturday() -> None:
    in_time = BreakDown()
    in_time.chain()
    in_time.farm.at("2027-05-17 12:00")
    late = BreakDown(at="2027-05-17 11:50")
    late.chain()
    late.farm.at("2027-05-17 12:00")

    def numbered(told: dict[str, Any]) -> dict[str, Any]:
        """Without the ids, which are those of another holding."""
        parts = [(part["acres"], part["done_at"], [c["over"] for c in part["clocks"]]) for part in told["parts"]]
        return told | {"parts": parts, "planter": told["planter"][:2]}

    assert numbered(late.told()) == numbered(in_time.told())
    assert late.told()["planter"][2] == late.land
    assert late.told()["moves"] == ["2027-05-15T15:40:00Z"], "Saturday 10:40 Central"
