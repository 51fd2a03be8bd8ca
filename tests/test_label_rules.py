"""What labels ask of what follows a spray, and what a chosen product closes: through the API, figures typed here."""

from __future__ import annotations

from typing import Any

import pytest

from core.errors import Refused
from core.services.rows import save_row
from jobs.selectors.facts import load
from jobs.services.walking import walk_holding
from plots.models import PlantBack
from tests.farm import Farm, holds

pytestmark = pytest.mark.django_db


class Corn:
    """Corn with a residual whose label somebody typed, soybean planned on the same plot, and a rain gauge."""

    def __init__(self, *waits: dict[str, Any], **label: Any) -> None:
        self.farm = farm = Farm("2027-05-03 06:00")
        self.land = farm.place("Creek farm")
        self.plot = farm.post("plots", name="Field", property=self.land, acres_typed=4.0)["id"]
        self.gauge = farm.gauge(self.land)
        self.bottle = farm.post("materials", name="Stays long", kind="herbicide", unit="gal", active="inventol")["id"]
        self.label = farm.post("labels", material=self.bottle, entry_hours=1.0, wash_known=True, **label)["id"]
        for wait in waits:
            farm.post("plant-backs", label=self.label, **wait)
        self.residual = self.job("spray", "Residual")
        farm.post("needs", job=self.residual, kind="material", name="residual", material=self.bottle, rate_per_acre=0.5)
        farm.at("2027-05-03 06:05")

    def job(self, operation: str, title: str, **body: Any) -> int:
        body = {"plot": self.plot, "operation": operation, "title": title, "duration_min": 60, "acres": 4.0} | body
        pk: int = self.farm.post("jobs", **body)["id"]
        return pk

    def told(self, job: int, at: str) -> dict[str, str]:
        """Holds of a job by kind at a local time; a walk over everything changes nothing."""
        self.farm.at(at)
        found = holds(self.farm.job(job))
        assert walk_holding(self.farm.holding.pk, whole=True).changed == ()
        return found

    def sprayed(self) -> None:
        self.farm.done(self.residual, "2027-05-03 06:05")


ANY = {"crop": "", "days": 120.0}
AFTER_RAIN = {"crop": "", "days": 14.0, "after_rain_in": 1.0}


def test_the_next_crop_waits_the_days_of_the_label_to_the_minute() -> None:
    corn = Corn(ANY)
    sow = corn.job("sow", "Sow clover")
    assert corn.told(sow, "2027-05-03 06:06") == {}
    corn.sprayed()
    assert corn.told(sow, "2027-08-31 06:04") == {
        "label_wait": "Stays long was sprayed here on Mon 3 May: the label asks for 120 days before another crop."
    }
    assert corn.told(sow, "2027-08-31 06:05") == {}


def test_a_clock_that_needs_rain_begins_on_the_first_day_with_enough_of_it() -> None:
    """Half an inch on two days is no inch on one. The 14 days begin at the end of the wet day."""
    corn = Corn(AFTER_RAIN)
    sow = corn.job("sow", "Sow clover")
    corn.sprayed()
    for day, rain in (("2027-05-04", 0.6), ("2027-05-05", 0.6), ("2027-05-20", 1.1)):
        corn.farm.day(corn.gauge, day, 70, 50, rain)
    told = corn.told(sow, "2027-05-19 12:00")
    assert told["label_wait"].endswith("counted after a day with 1 in of rain, and they have not begun.")
    assert corn.farm.why(sow)["holds"][0]["clears"].startswith("Clears by rain in the gauge")
    told = corn.told(sow, "2027-06-03 23:59")
    assert told["label_wait"].endswith("counted after a day with 1 in of rain, from Thu 20 May on.")
    assert corn.told(sow, "2027-06-04 00:00") == {}


def test_without_a_gauge_the_rain_is_not_known_and_the_clock_never_begins() -> None:
    corn = Corn(AFTER_RAIN)
    sow = corn.job("sow", "Sow clover")
    corn.sprayed()
    assert set(corn.told(sow, "2028-05-03 12:00")) == {"label_wait"}


def test_the_crop_itself_goes_before_any_other_and_what_is_not_named_is_asked_about() -> None:
    corn = Corn({"crop": "soybean", "days": 0.0})
    beans = corn.farm.apply("soybean", corn.plot, 2027)["plant"]
    sow = corn.job("sow", "Sow clover")
    corn.sprayed()
    assert "label_wait" not in corn.told(beans, "2027-05-10 12:00")
    assert corn.told(sow, "2027-05-10 12:01") == {
        "label": "Stays long was sprayed here on Mon 3 May. Not known when another crop may follow:"
        " type the label's wait."
    }
    corn.farm.post("plant-backs", label=corn.label, crop="", days=30.0)
    assert set(corn.told(sow, "2027-05-10 12:02")) == {"label_wait"}


def test_another_wait_on_the_label_reaches_what_was_sprayed() -> None:
    corn = Corn(ANY)
    sow = corn.job("sow", "Sow clover")
    corn.sprayed()
    assert set(corn.told(sow, "2027-05-10 12:00")) == {"label_wait"}
    (wait,) = corn.farm.all("plant-backs", label=corn.label)
    corn.farm.patch(f"plant-backs/{wait['id']}", days=7.0)
    assert corn.told(sow, "2027-05-10 12:01") == {}


@pytest.mark.parametrize(("operation", "column"), [("till", "till_wait_days"), ("mow", "mow_wait_days")])
def test_ground_and_plants_wait_the_days_of_the_label(operation: str, column: str) -> None:
    corn = Corn(**{column: 3.0})
    job = corn.job(operation, "After it")
    corn.sprayed()
    assert corn.told(job, "2027-05-06 06:04") == {
        "label_wait": "Sprayed on Mon 3 May: the label asks for 3 days before this."
    }
    assert corn.told(job, "2027-05-06 06:05") == {}


def test_a_residual_says_what_it_closes_when_it_is_chosen() -> None:
    """On the season that is applied with it, and on the need that takes it; a job that is over is not named."""
    farm = Farm("2027-02-01 08:00")
    plot = farm.post("plots", name="Field", property=farm.place("Creek farm"), acres_typed=4.0)["id"]
    bottle = farm.post("materials", name="Atrazine", kind="herbicide", unit="qt", active="atrazine")["id"]
    label = farm.post("labels", material=bottle, entry_hours=24.0, wash_known=True)["id"]
    farm.post("plant-backs", label=label, crop="", days=700.0)
    farm.apply("soybean", plot, 2027)
    (sequence,) = farm.all("sequences", key="corn")
    chosen = {"residual herbicide": bottle}
    told = farm.post(f"sequences/{sequence['id']}/apply", plot=plot, year=2027, materials=chosen)
    (soybean,) = [said for said in told["closes"] if "Soybean instead" in said]
    assert soybean == (
        "Atrazine closes Soybean instead (Corn 2027) for this season. Only corn or sorghum until next year."
        " The label decides."
    )
    (planting,) = [said for said in told["closes"] if "Plant soybean (Soybean" in said]
    assert planting.startswith(
        "The label of Atrazine asks for 700 days before soybean. It closes Plant soybean (Soybean"
    )
    (need,) = farm.all("needs", material=bottle)
    assert need["closes"] == told["closes"]
    cleared = farm.patch(f"needs/{need['id']}", material=None)
    assert cleared["closes"] == []
    again = farm.patch(f"needs/{need['id']}", material=bottle)
    assert again["closes"] == told["closes"]


def test_a_residual_of_which_nobody_typed_the_waits_says_so_when_it_is_chosen() -> None:
    farm = Farm("2027-02-01 08:00")
    plot = farm.post("plots", name="Field", property=farm.place("Creek farm"), acres_typed=4.0)["id"]
    bottle = farm.post("materials", name="Stays long", kind="herbicide", unit="qt", active="inventol")["id"]
    farm.apply("soybean", plot, 2027)
    (sequence,) = farm.all("sequences", key="corn")
    told = farm.post(
        f"sequences/{sequence['id']}/apply", plot=plot, year=2027, materials={"residual herbicide": bottle}
    )
    assert any("Not known when Plant soybean" in said and "type the label's wait" in said for said in told["closes"])


def test_a_spray_that_stays_nowhere_closes_nothing() -> None:
    corn = Corn()
    (need,) = corn.farm.all("needs", material=corn.bottle)
    assert need["closes"] == []


def test_only_two_verdicts_hold_and_advice_goes_by_a_tap() -> None:
    """Every hold of a rule says stop or written reason; a limit of agronomy is set aside without a word, and logged."""
    corn = Corn(ANY)
    sow = corn.job("sow", "Sow clover")
    corn.sprayed()
    corn.told(sow, "2027-05-10 12:00")
    (hold,) = corn.farm.why(sow)["holds"]
    assert hold["inputs"]["verdict"] == "stop"
    refused = corn.farm.manager.post(
        "/api/overrides/", {"job": sow, "rule": "label_wait", "reason": "It looks fine"}, format="json"
    )
    assert refused.status_code in (400, 422)
    corn.farm.post("overrides", job=sow, rule="ground_dry")
    (said,) = corn.farm.all("overrides", job=sow)
    assert (said["rule"], said["person"]) == ("ground_dry", corn.farm.people["Manager"])
    assert said["reason"] == "Advice set aside by one tap."


def test_a_replant_waits_for_the_crop_that_it_plants_and_not_for_the_one_that_failed() -> None:
    """After corn a residual of 10 days for corn, 300 for soybean, none for any other crop."""
    corn = Corn({"crop": "corn", "days": 10.0}, {"crop": "soybean", "days": 300.0}, {"crop": "", "days": 0.0})
    steps = corn.farm.apply("corn", corn.plot, 2027)
    corn.sprayed()
    facts = load(corn.farm.holding, corn.farm.instant("2027-05-20 12:00")).facts.jobs
    waits = {
        step: [
            (bound.inputs["crop"], bound.inputs["days"]) for bound in facts[job].bounds if bound.kind == "label_wait"
        ]
        for step, job in steps.items()
        if step.startswith("replant_")
    }
    assert waits == {
        "replant_corn": [("corn", 10.0)],
        "replant_soybean": [("soybean", 300.0)],
        "replant_sorghum": [],
        "replant_brassica": [],
    }
    (need,) = corn.farm.all("needs", material=corn.bottle)
    (closed,) = [one for one in need["closes"] if "Plant soybean instead" in one]
    assert closed.startswith("The label of Stays long asks for 300 days before soybean: Plant soybean instead")


def test_a_wait_is_typed_for_a_known_crop_under_its_key_whatever_letters_were_sent() -> None:
    corn = Corn({"crop": "  Grain Sorghum ", "days": 100.0}, {"crop": "SOYBEAN", "days": 50.0})
    (sorghum, beans) = corn.farm.all("plant-backs", label=corn.label)
    assert (sorghum["crop"], beans["crop"]) == ("grain_sorghum", "soybean")
    refused = corn.farm.post("plant-backs", label=corn.label, crop="sorghum", days=0.0, status=400)
    assert "No crop is named 'sorghum'. Give one of corn, soybean, grain_sorghum" in str(refused)
    corn.farm.post("plant-backs", label=corn.label, crop="Soybean", days=0.0, status=400)
    row = PlantBack(holding=corn.farm.holding, label_id=corn.label, crop="soybeen", days=0.0)
    with pytest.raises(Refused, match="No crop is named 'soybeen'"):
        save_row(row=row, by=None)
    assert len(corn.farm.all("plant-backs", label=corn.label)) == 2


def stored(corn: Corn, crop: str, days: float) -> None:
    """A row from before names were checked."""
    PlantBack.objects.create(holding=corn.farm.holding, label_id=corn.label, crop=crop, days=days)


def waits_before(corn: Corn, job: int, at: str = "2027-05-20 12:00") -> list[tuple[str, float | None]]:
    bounds = load(corn.farm.holding, corn.farm.instant(at)).facts.jobs[job].bounds
    return [(bound.kind, bound.inputs.get("days")) for bound in bounds if bound.kind in ("label", "label_wait")]


def test_a_stored_name_that_no_crop_has_is_waited_for_before_every_crop_and_answers_for_none() -> None:
    corn = Corn({"crop": "soybean", "days": 10.0})
    stored(corn, "sorghum", 300.0)
    beans = corn.farm.apply("soybean", corn.plot, 2027)["plant"]
    sow = corn.job("sow", "Sow clover")
    corn.sprayed()
    assert waits_before(corn, beans) == [("label_wait", 300.0)]
    assert waits_before(corn, sow) == [("label", None), ("label_wait", 300.0)]


def test_of_two_rows_on_one_crop_the_longer_wait_counts() -> None:
    """Whichever was stored first."""
    corn = Corn({"crop": "soybean", "days": 90.0})
    stored(corn, "Soybean", 0.0)
    beans = corn.farm.apply("soybean", corn.plot, 2027)["plant"]
    corn.sprayed()
    assert waits_before(corn, beans) == [("label_wait", 90.0)]


class Unnamed(Corn):
    """The residual is reported done before anybody said of what."""

    def __init__(self) -> None:
        super().__init__({"crop": "", "days": 30.0})
        (self.need,) = self.farm.all("needs", material=self.bottle)
        self.name(None)
        self.fence = self.job("fence", "Build the fence")
        self.sow = self.job("sow", "Sow clover")
        self.farm.at("2027-05-03 06:04")

    def name(self, material: int | None) -> None:
        self.farm.patch(f"needs/{self.need['id']}", material=material)


def test_a_spray_whose_product_nobody_named_closes_its_plot_until_it_is_named() -> None:
    unnamed = Unnamed()
    other = unnamed.farm.post("plots", name="Other", property=unnamed.land, acres_typed=4.0)["id"]
    elsewhere = unnamed.job("fence", "Fence elsewhere", plot=other)
    assert unnamed.told(unnamed.fence, "2027-05-03 06:05") == {}, "nothing was sprayed yet"
    unnamed.sprayed()
    enters = (
        "Until Mon 3 May 06:05 there was a spray whose product nobody named. Not known when anybody may enter:"
        " name its product."
    )
    follows = (
        "On Mon 3 May there was a spray whose product nobody named. Not known when another crop may follow:"
        " name its product."
    )
    assert unnamed.told(unnamed.fence, "2027-06-03 12:00") == {"label": enters}
    told = [hold["sentence"] for hold in unnamed.farm.job(unnamed.sow)["holds"] if hold["kind"] == "label"]
    assert told == [enters, follows]
    assert unnamed.told(elsewhere, "2027-06-03 12:00") == {}
    unnamed.name(unnamed.bottle)
    assert unnamed.told(unnamed.fence, "2027-06-03 12:01") == {}
    assert unnamed.told(unnamed.sow, "2027-06-03 12:01") == {}


def test_a_written_reason_lets_people_onto_a_plot_after_a_spray_that_nobody_named() -> None:
    unnamed = Unnamed()
    unnamed.sprayed()
    unnamed.told(unnamed.fence, "2027-06-03 12:00")
    unnamed.farm.post("overrides", job=unnamed.fence, rule="label", reason="It was water and dye, says who did it")
    assert unnamed.told(unnamed.fence, "2027-06-03 12:01") == {}


def test_a_spray_of_nothing_but_oil_closes_nothing() -> None:
    unnamed = Unnamed()
    unnamed.name(unnamed.farm.post("materials", name="Oil", kind="adjuvant", unit="gal")["id"])
    unnamed.sprayed()
    assert unnamed.told(unnamed.fence, "2027-05-03 12:00") == {}


def test_a_spray_whose_product_nobody_named_closes_the_ways_of_a_replant() -> None:
    farm = Farm("2027-05-20 08:00")
    plot = farm.post("plots", name="Field", property=farm.place("Creek farm"), acres_typed=4.0)["id"]
    steps = farm.apply("corn", plot, 2027)
    farm.done(steps["burndown"], "2027-05-07 09:00")
    ways = {one["name"]: one for one in farm.get(f"plots/{plot}/replant")["options"]}
    assert [one["sentence"] for one in ways["Soybean instead"]["closed_by"]] == [
        "On Fri 7 May there was a spray whose product nobody named: name it, for its label says when soybean may"
        " follow."
    ]
    assert ways["Corn again"]["closed_by"] == [], "the crop that it was sprayed for"


def test_a_reason_given_for_one_spray_is_none_for_a_later_one() -> None:
    unnamed = Unnamed()
    unnamed.sprayed()
    unnamed.told(unnamed.fence, "2027-06-03 12:00")
    unnamed.farm.post("overrides", job=unnamed.fence, rule="label", reason="It was water and dye, says who did it")
    assert unnamed.told(unnamed.fence, "2027-06-03 12:01") == {}
    unnamed.farm.at("2027-06-04 09:00")
    unnamed.farm.done(unnamed.job("spray", "Once more"), "2027-06-04 09:00")
    told = unnamed.told(unnamed.fence, "2027-06-05 12:00")
    assert told["label"].startswith("Until Fri 4 Jun 09:00 there was a spray whose product nobody named.")
    unnamed.farm.post("overrides", job=unnamed.fence, rule="label", reason="Water and dye again")
    assert unnamed.told(unnamed.fence, "2027-06-05 12:01") == {}
