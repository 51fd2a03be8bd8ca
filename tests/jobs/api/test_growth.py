"""Chances, degree days, growth and replants by the API, over invented years of weather."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest

from jobs.services.walking import walk_holding
from plots.models import Day
from tests.farm import Farm

pytestmark = pytest.mark.django_db

FIRST_YEAR, YEARS = 1997, 30


class Place:
    """A property with thirty invented years of daily weather, and one plot.

    Every day is 80 over 60 F from May to September, 40 over 20 F else. In year y (counted from 0) it rains an inch on
    every day from 1 May on for y days; then it stays dry."""

    def __init__(self, now: str = "2027-05-01 08:00", years: int = YEARS) -> None:
        self.farm = Farm(now)
        self.land = self.farm.place("Creek farm")
        self.series = self.farm.gauge(self.land, name="station")
        self.plot = self.farm.post("plots", name="Bottom", property=self.land, acres_typed=2.0)["id"]
        rows = []
        for number in range(years):
            year = FIRST_YEAR + YEARS - years + number
            rows += [self.day(date(year, 1, 1) + timedelta(days=n), number) for n in range(365)]
        Day.objects.bulk_create(rows)

    def day(self, day: date, wet_days: int) -> Day:
        warm = 5 <= day.month <= 9
        wet = 0 <= (day - date(day.year, 5, 1)).days < wet_days
        high, low = (80.0, 60.0) if warm else (40.0, 20.0)
        return Day(series_id=self.series, date=day, high_f=high, low_f=low, rain_in=1.0 if wet else 0.0)

    def job(self, operation: str, minutes: int = 60, **more: Any) -> int:
        body = {"operation": operation, "title": operation.capitalize(), "plot": self.plot, "duration_min": minutes}
        pk: int = self.farm.post("jobs", **body, **more)["id"]
        return pk

    def asked(self, path: str, **query: Any) -> Any:
        walk_holding(self.farm.holding.pk)
        return self.farm.get(path, **query)


@pytest.fixture
def place(db: None) -> Place:
    return Place()


def test_the_chance_of_a_job_counts_days_and_years_and_names_what_it_left_out(place: Place) -> None:
    """Tilling by 20 May wants a dry day, and a day after half an inch of rain: of 1 to 20 May year y has 20 - y - 1 of
    them, year 0 all 20. So it never got one from year 19 on: 19 of 30 years."""
    job = place.job("till", deadline="2027-05-20")
    told = place.asked(f"jobs/{job}/chance")
    assert (told["known"], told["years"], told["first_year"], told["last_year"]) == (True, 30, 1997, 2026)
    assert (told["first_day"], told["last_day"], told["of_days"]) == ("2027-05-01", "2027-05-20", 20)
    assert (told["years_got"], told["share"]) == (19, round(19 / 30, 4))
    days = sorted([20, *(max(0, 19 - y) for y in range(1, 30))])
    assert (told["days"], told["days_nine_of_ten"], told["days_one_of_ten"]) == (days[14], days[3], days[-4])
    assert {one["key"] for one in told["answered"]} >= {"ground_dry", "ground_after_rain"}
    assert "ground_fit" in {one["key"] for one in told["left_out"]}
    assert told["sentence"].startswith("From Sat 1 May to Thu 20 May 4 of 20 days usually suit")
    assert "In 19 of 30 years it still got its window." in told["sentence"]
    assert "Daily weather does not tell of:" in told["sentence"]
    assert len(told["stations"]) == 1


def test_work_of_three_days_needs_them_on_end(place: Place) -> None:
    job = place.job("till", minutes=1_500, deadline="2027-05-20")
    told = place.asked(f"jobs/{job}/chance")
    assert told["days_needed"] == 3
    assert told["years_got"] == 17  # year y has 19 - y days on end


def test_one_year_of_history_says_yes_or_no(db: None) -> None:
    place = Place(years=1)
    told = place.asked(f"jobs/{place.job('till', deadline='2027-05-20')}/chance")
    assert (told["years"], told["share"]) == (1, 1.0)


@pytest.mark.parametrize(
    ("operation", "more", "says"),
    [
        ("look", {"deadline": "2027-05-20"}, "The weather has no say in the days of this work."),
        ("till", {}, "It has no latest finish, so no days can be counted."),
        ("till", {"deadline": "2027-04-20"}, "It is too late: there is no chance to reckon."),
        ("check_fence", {"deadline": "2027-05-20"}, "The weather has no say in the days of this work."),
    ],
)
def test_where_no_chance_can_be_told_the_sentence_says_why(
    place: Place, operation: str, more: dict[str, Any], says: str
) -> None:
    told = place.asked(f"jobs/{place.job(operation, **more)}/chance")
    assert (told["known"], told["share"], told["sentence"]) == (False, None, says)


def test_a_job_whose_limits_daily_weather_cannot_answer_gets_no_chance(place: Place) -> None:
    """Overseeding is bound by heat, cold and thunder by the hour alone."""
    told = place.asked(f"jobs/{place.job('overseed', deadline='2027-05-20')}/chance")
    assert (told["known"], told["share"], told["answered"]) == (False, None, [])
    assert told["left_out"]
    assert told["sentence"].startswith("No chance is told. Daily weather does not tell of: ")


def test_without_history_there_is_no_chance(db: None) -> None:
    farm = Farm("2027-05-01 08:00")
    land = farm.place("Creek farm")
    plot = farm.post("plots", name="Bottom", property=land, acres_typed=2.0)["id"]
    body = {"operation": "till", "title": "Till", "plot": plot, "duration_min": 60, "deadline": "2027-05-20"}
    job = farm.post("jobs", **body)["id"]
    farm.at("2027-05-01 08:00")
    for path in (f"jobs/{job}/chance", f"plots/{plot}/chance"):
        told = farm.get(path)
        assert not told["known"]
        assert told["sentence"] == ("There is no year of daily weather for this place yet. Import a station's history.")


def test_the_replay_of_a_plot_names_the_share_and_what_spoils_it_most(place: Place) -> None:
    """Till by 20 May, then sow by 25 May, three days after. Year y lets the tilling go on day y + 2 (day 1 in year 0),
    the sowing three days after. Tilling is in time to day 20, so to year 18; sowing to day 25: to year 20. From year 19
    on the tilling is lost, and it spoils all of them."""
    till = place.job("till", deadline="2027-05-20")
    sow = place.job("sow", deadline="2027-05-25")
    place.farm.post("prerequisites", predecessor=till, successor=sow, min_amount=3)
    told = place.asked(f"plots/{place.plot}/chance")
    assert (told["known"], told["years"], told["years_finished"]) == (True, 30, 19)
    assert (told["spoiler"]["job"], told["spoiler"]["years"]) == (till, 11)
    assert told["sentence"].startswith("In 19 of 30 years all its jobs were finished. Till, Bottom, spoiled it most")


def test_a_lag_lowers_the_share_of_a_plot_and_none_leaves_the_plain_windows(place: Place) -> None:
    till, sow = place.job("till"), place.job("sow", deadline="2027-05-20")
    link = place.farm.post("prerequisites", predecessor=till, successor=sow, min_amount=0)["id"]
    plain = place.asked(f"jobs/{sow}/chance")
    assert place.asked(f"plots/{place.plot}/chance")["share"] == plain["share"]
    url = f"/api/prerequisites/{link}/"
    answer = place.farm.manager.patch(url, {"min_amount": 10}, format="json", headers={"If-Match": "*"})
    assert answer.status_code == 200
    assert place.asked(f"plots/{place.plot}/chance")["share"] < plain["share"]


def test_degree_days_to_date_stand_beside_the_normal_ones(place: Place) -> None:
    for day, high in ((1, 90.0), (2, 80.0)):
        place.farm.day(place.series, f"2027-05-0{day}", high, 60.0)
    place.farm.at("2027-05-04 08:00")
    told = place.farm.get(f"plots/{place.plot}/degree-days", since="2027-05-01")
    assert (told["count"], told["observed"], told["normal"], told["missing_days"]) == ("86/50", 23 + 20, None, 1)
    assert told["sentence"] == (
        "43 degree days (86/50 F) since Sat 1 May. 1 day since Sat 1 May has no temperatures and counts in neither."
    )
    assert place.farm.get(f"plots/{place.plot}/degree-days", count="40", since="2027-05-01")["observed"] == 35 + 30


@pytest.mark.parametrize(
    ("path", "query"),
    [
        ("degree-days", {"count": "warm"}),
        ("degree-days", {"since": "yesterday"}),
        ("growth", {"ripe": "0"}),
        ("growth", {"freeze_f": "90"}),
        ("replant", {"stand": "-5"}),
        ("replant", {"stand": "nan"}),
        ("replant", {"gaps": "huge"}),
        ("replant", {"crop": "moss"}),
        ("replant", {"colour": "green"}),
    ],
)
def test_absurd_questions_are_told_what_is_sensible(place: Place, path: str, query: dict[str, str]) -> None:
    answer = place.farm.manager.get(f"/api/plots/{place.plot}/{path}/", query)
    assert answer.status_code == 400
    assert answer.json()["errors"][0]["detail"]


class Corn(Place):
    """Corn of the shipped sequence, planted on 8 May."""

    def __init__(self) -> None:
        super().__init__("2027-05-08 16:00")
        self.steps = self.farm.apply("corn", self.plot, 2027)
        self.farm.done(self.steps["plant"], "2027-05-08 15:00")
        for day in range(8, 20):
            self.farm.day(self.series, f"2027-05-{day:02d}", 80.0, 60.0)


@pytest.fixture
def corn(db: None) -> Corn:
    return Corn()


def test_growth_tells_emergence_by_both_figures_and_moves_with_what_was_seen(corn: Corn) -> None:
    """20 a day from 9 May: 100 on 13 May, 120 on 14 May."""
    corn.farm.at("2027-05-20 08:00")
    told = corn.farm.get(f"plots/{corn.plot}/growth")
    assert (told["crop"], told["sown"]) == ("corn", "2027-05-08")
    up = told["emergence"]
    assert (up["state"], up["early"], up["late"], up["low"], up["high"]) == (
        "predicted", "2027-05-13", "2027-05-14", 100, 120,
    )  # fmt: skip
    assert "Expected up Thu 13 May to Fri 14 May." in told["sentence"]
    corn.farm.report(corn.steps["look_emergence"], "seen", "2027-05-15 09:00", outcome="not_emerged")
    assert corn.farm.get(f"plots/{corn.plot}/growth")["emergence"]["state"] == "overdue"
    corn.farm.report(corn.steps["look_emergence"], "done", "2027-05-16 09:00", outcome="emerged")
    up = corn.farm.get(f"plots/{corn.plot}/growth")["emergence"]
    assert (up["state"], up["early"], up["sentence"]) == ("confirmed", "2027-05-16", "Seen up on Sun 16 May.")


def test_ripeness_counts_the_years_that_get_there_before_the_freeze(corn: Corn) -> None:
    """20 a day to 30 September: 145 days from 9 May make 2,900. Planted on 8 May a hybrid of 2,700 needs 7 x 6.8 less,
    one of 3,000 too much. The first freeze is 1 October."""
    corn.farm.at("2027-05-20 08:00")
    told = corn.farm.get(f"plots/{corn.plot}/growth")["ripeness"]
    assert (told["needed"], told["years"], told["share"]) == (2652.4, 30, 1.0)
    assert told["mean_first_freeze"] == "2027-10-01"
    late = corn.farm.get(f"plots/{corn.plot}/growth", ripe=3_000)["ripeness"]
    assert (late["years_ripe"], late["share"]) == (0, 0.0)


def test_replant_advice_tells_every_table_under_its_source(corn: Corn) -> None:
    corn.farm.at("2027-05-26 08:00")
    told = corn.farm.get(f"plots/{corn.plot}/replant", stand=20_000, planted="2027-05-05", on="2027-05-26")
    by_source = {one["source"]: one for one in told["tables"] if one["gain_low"] is not None}
    assert set(by_source) == {"isu-pm1885", "purdue-nafziger-2006"}
    isu = by_source["isu-pm1885"]
    assert (isu["kept_low"], isu["replant_low"], isu["gain_low"]) == (81, 90, 9)
    purdue = by_source["purdue-nafziger-2006"]  # 91 kept; a full stand of 26 May 87 less a fifth of 6
    assert (purdue["kept_low"], purdue["replant_low"], purdue["between_cells"]) == (91, 85.8, True)
    assert told["rules"][0]["source"] == "isu-2004"
    assert told["sentence"].startswith("A replant would bring -5 to 9 points of the highest yield, by table.")


def test_what_was_sprayed_closes_ways_of_the_replant(corn: Corn) -> None:
    """Atrazine in the residual: the list of the sequence closes soybean for the season and leaves corn."""
    before = {one["name"]: one["open"] for one in corn.farm.get(f"plots/{corn.plot}/replant")["options"]}
    assert before["Corn again"] is before["Soybean instead"] is True
    material = corn.farm.post("materials", name="Residual", kind="herbicide", unit="gal", active="atrazine")["id"]
    corn.farm.post("labels", material=material, entry_hours=12)
    need = next(n for n in corn.farm.all("needs", job=corn.steps["residual"]) if n["kind"] == "material")
    url = f"/api/needs/{need['id']}/"
    answer = corn.farm.manager.patch(url, {"material": material}, format="json", headers={"If-Match": "*"})
    assert answer.status_code == 200, answer.content
    corn.farm.done(corn.steps["residual"], "2027-05-09 09:00")
    after = {one["name"]: one for one in corn.farm.get(f"plots/{corn.plot}/replant")["options"]}
    assert after["Corn again"]["open"]
    assert not after["Soybean instead"]["open"]
    assert "Atrazine" in after["Soybean instead"]["sentence"]
    assert after["Soybean instead"]["closed_by"]


def test_a_labels_own_wait_closes_a_way_until_it_is_over(corn: Corn) -> None:
    material = corn.farm.post("materials", name="Burner", kind="herbicide", unit="gal", active="paraquat")["id"]
    label = corn.farm.post("labels", material=material, entry_hours=12)["id"]
    corn.farm.post("plant-backs", label=label, crop="soybean", days=40)
    corn.farm.post("plant-backs", label=label, crop="", days=0)
    need = next(n for n in corn.farm.all("needs", job=corn.steps["burndown"]) if n["kind"] == "material")
    url = f"/api/needs/{need['id']}/"
    corn.farm.manager.patch(url, {"material": material}, format="json", headers={"If-Match": "*"})
    corn.farm.done(corn.steps["burndown"], "2027-05-07 09:00")

    def way(on: str) -> Any:
        told = corn.farm.get(f"plots/{corn.plot}/replant", on=on)
        return next(one for one in told["options"] if one["name"] == "Soybean instead")

    early, late = way("2027-05-20"), way("2027-06-20")
    assert any("its label asks for 40 days" in one["sentence"] for one in early["closed_by"])
    assert not any("its label asks for 40 days" in one["sentence"] for one in late["closed_by"])
