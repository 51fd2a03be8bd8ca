"""Which limits bind a job's hours, through the API: labels, plans, machines, plots, people, the holding's own rule."""

from __future__ import annotations

import uuid
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from jobs.models import Job
from plots.models import DayKind, Hour
from plots.services.series import touch_readers
from tests.farm import Farm

pytestmark = pytest.mark.django_db
CALM: dict[str, float] = {
    "temp_f": 56.0, "dew_point_f": 40.0, "wind_mph": 7.0, "gust_mph": 9.0, "wind_dir_deg": 200.0, "rain_in": 0.0,
    "thunder_pct": 0.0,
}  # fmt: skip
FRIDAY = 24
"""The hour of the frame at which Friday 8 May begins."""


class Place:
    """A plot with a forecast from the first hour of Thursday 7 May on; the clock stands at noon of it."""

    def __init__(self) -> None:
        self.farm = farm = Farm("2026-05-07 12:00")
        self.land = farm.place("Home")
        self.plot = farm.post("plots", name="Flat", property=self.land, acres_typed=2.0)["id"]
        self.series = farm.gauge(self.land)

    def job(self, operation: str = "spray", **more: Any) -> int:
        body = {"plot": self.plot, "operation": operation, "title": operation, "duration_min": 60} | more
        found: int = self.farm.post("jobs", **body)["id"]
        return found

    def forecast(self, hours: int = 72, **changed: dict[int, float | None] | float | None) -> None:
        """Calm hours but for what is changed: by hour of the frame, or in all of them."""
        first = datetime(2026, 5, 7, 5, tzinfo=UTC)
        Hour.objects.filter(series_id=self.series).delete()
        rows = []
        for at in range(hours):
            told = {name: by.get(at, CALM.get(name)) if isinstance(by, dict) else by for name, by in changed.items()}
            rows.append(
                Hour(
                    series_id=self.series, at=first + timedelta(hours=at), kind=DayKind.FORECAST,
                    issued_at=self.farm.instant("2026-05-07 10:00"), **{**CALM, **told},
                )
            )  # fmt: skip
        Hour.objects.bulk_create(rows)
        touch_readers(self.series)
        self.look()

    def look(self) -> None:
        self.farm.at("2026-05-07 12:00")

    def windows(self, job: int) -> list[tuple[str, str, str]]:
        """(from, to, what ends it), in local time."""
        told = self.farm.get(f"jobs/{job}/windows")["windows"]
        return [(self.farm.local(w["from"])[4:], self.farm.local(w["to"])[4:], w["ends"]) for w in told]

    def told(self, job: int) -> dict[str, Any]:
        found: dict[str, Any] = self.farm.get(f"jobs/{job}/windows")
        return found

    def limit(self, job: int, key: str) -> dict[str, Any]:
        return next(one for one in self.told(job)["limits"] if one["key"] == key)

    def ends(self, job: int) -> set[str]:
        return {ends for *_, ends in self.windows(job)}

    def mix(self, job: int, name: str = "Bottle", **label: Any) -> int:
        """A herbicide goes with the job, its label typed with these figures; none typed where none is given."""
        material: int = self.farm.post("materials", name=name, kind="herbicide", active=name.lower(), unit="gal")["id"]
        if label:
            self.farm.post("labels", material=material, entry_hours=4.0, **label)
        self.farm.post("needs", job=job, kind="material", name=name, material=material, rate_per_acre=1.0)
        self.look()
        return material

    def read(self, kind: str, value: float, at: str = "2026-05-07 11:00") -> None:
        body = {"client_id": str(uuid.uuid4()), "kind": "seen", "happened_at": self.farm.instant(at).isoformat()}
        self.farm.post("reports", plot=self.plot, outcome=kind, value=value, **body)
        self.look()


@pytest.fixture
def place() -> Place:
    return Place()


def test_the_wind_of_the_label_goes_in_the_place_of_the_general_default_even_where_it_is_wider(place: Place) -> None:
    job = place.job()
    place.forecast(wind_mph={FRIDAY + 11: 14.0})
    assert "wind above 10 mph" in place.ends(job)
    place.mix(job, wind_least_mph=2.0, wind_most_mph=15.0)
    assert place.ends(job) == {"the air may lie still in layers, in which spray drifts far"}
    limit = place.limit(job, "spray_wind")
    assert (limit["rank"], limit["verdict"]) == ("label", "stop")


def test_of_a_mix_a_label_without_wind_brings_the_general_default_along(place: Place) -> None:
    job = place.job()
    place.forecast(wind_mph={FRIDAY + 11: 14.0})
    place.mix(job, wind_least_mph=2.0, wind_most_mph=15.0)
    place.mix(job, "Second bottle", night_low_f=20.0)
    assert "wind above 10 mph" in place.ends(job)


def test_rain_free_hours_of_the_label_go_in_the_place_of_the_default(place: Place) -> None:
    job = place.job()
    place.forecast(rain_in={FRIDAY + 16: 0.3})
    (friday,) = [w for w in place.windows(job) if w[0].startswith("8 May") and w[1] <= "8 May 12:00"]
    assert friday[1:] == ("8 May 10:00", "rain after the spray: more than 0.04 in may fall within 6 h")
    place.mix(job, rain_fast_hours=2.0)
    (friday,) = [w for w in place.windows(job) if w[0].startswith("8 May") and w[1] <= "8 May 14:00"]
    assert friday[1:] == ("8 May 14:00", "rain after the spray: more than 0.04 in may fall within 2 h")


def test_a_cold_night_by_the_label_closes_the_day_before(place: Place) -> None:
    job = place.job()
    place.mix(job, night_low_f=40.0)
    place.forecast(temp_f={FRIDAY + 28: 36.0}, dew_point_f={FRIDAY + 28: 30.0})
    assert {w[0][:5] for w in place.windows(job)} == {"7 May"}
    assert place.limit(job, "label_night")["rank"] == "label"


def test_the_crops_size_window_is_closed_until_somebody_measures_it_and_past_it(place: Place) -> None:
    job = place.job()
    place.mix(job, crop_least_in=4.0, crop_most_in=12.0)
    place.forecast()
    assert place.windows(job) == []
    assert place.told(job)["sentence"].startswith(
        "No window as far as the forecast reaches: height of the crop is not known"
    )
    place.read("crop_height", 9.0)
    assert len(place.windows(job)) == 3
    place.read("crop_height", 13.0, "2026-05-07 11:30")
    assert "height of the crop above 12 in" in place.told(job)["sentence"]
    refused = place.farm.post("overrides", job=job, rule="crop_height_in", reason="It looks fine.", status=422)
    assert refused["detail"] == "The label sets this limit here, and that is no choice of yours."


def test_weeds_that_nobody_measured_are_told_and_too_tall_ones_close_until_one_tap(place: Place) -> None:
    job = place.job()
    place.mix(job, weed_most_in=4.0)
    place.forecast()
    assert len(place.windows(job)) == 3
    assert "height of the weeds" in {one["what"] for one in place.told(job)["left_out"]}
    place.read("weed_height", 6.0)
    assert place.windows(job) == []
    place.farm.post("overrides", job=job, rule="weed_height_in")
    place.look()
    assert len(place.windows(job)) == 3


def test_nozzles_finer_than_the_label_allows_leave_no_hour_and_so_do_nozzles_nobody_named(place: Place) -> None:
    job = place.job()
    sprayer = place.farm.post("machines", name="Old sprayer", kind="sprayer")["id"]
    place.mix(job, droplet="coarse")
    place.forecast()
    for droplet, windows in (("", 0), ("medium", 0), ("coarse", 3), ("ultra_coarse", 3)):
        change(place, f"machines/{sprayer}", droplet=droplet)
        place.look()
        assert len(place.windows(job)) == windows, droplet
    change(place, f"machines/{sprayer}", droplet="fine")
    place.look()
    assert "droplets of the nozzles, coarse or coarser by the label, not as it has to be" in place.told(job)["sentence"]


def change(place: Place, path: str, **body: Any) -> None:
    answer = place.farm.manager.patch(f"/api/{path}/", body, format="json", HTTP_IF_MATCH="*")
    assert answer.status_code == 200, answer.content


@pytest.mark.parametrize(
    ("of", "whose"),
    [
        ("machine", "limit of Old disk"),
        ("plot", "limit of Flat"),
        ("person", "limit of Manager"),
        ("holding", "the holding's own rule"),
    ],
)
def test_machine_plot_person_and_holding_only_tighten_and_the_verdict_names_which_binds(
    place: Place, of: str, whose: str
) -> None:
    farm, job = place.farm, place.job("till")
    ids = {
        "machine": farm.post("machines", name="Old disk", kind="tillage_tool")["id"],
        "plot": place.plot,
        "person": farm.people["Manager"],
    }
    farm.post("assignments", job=job, person=ids["person"])
    farm.post("sheets", job=job, check_in_minutes=60, contact="the office")
    place.forecast(wind_mph={FRIDAY + 11: 9.0})
    before = place.windows(job)
    assert before != []
    own = {} if of == "holding" else {of: ids[of]}
    farm.post("own-limits", quantity="wind_mph", most=20.0, operation="till", **own)
    place.look()
    assert place.windows(job) == before
    row = farm.post("own-limits", quantity="wind_mph", most=8.0, operation="till", **own)["id"]
    place.look()
    assert f"wind ({whose}) above 8 mph" in place.ends(job)
    assert place.limit(job, f"own_{row}")["rank"] == of
    refused = farm.post("own-limits", quantity="wind_mph", status=400)
    assert refused["detail"] == "Give the least, the most or both, the least not above the most."


def test_a_limit_of_other_work_another_plot_or_somebody_else_binds_nothing_here(place: Place) -> None:
    farm, job = place.farm, place.job()
    farm.helper("Ben")
    other = farm.post("plots", name="Slope", property=place.land, acres_typed=1.0)["id"]
    planter = farm.post("machines", name="Planter", kind="planter")["id"]
    place.forecast()
    for own in ({"operation": "mow"}, {"plot": other}, {"person": farm.people["Ben"]}, {"machine": planter}):
        farm.post("own-limits", quantity="wind_mph", most=1.0, **own)
    place.look()
    assert len(place.windows(job)) == 3
    farm.post("own-limits", quantity="wind_mph", most=1.0, operation="spraying")
    place.look()
    assert place.windows(job) == []  # a word that nobody knows counts as all work


PLAN = {"burn_out_min": 60, "mop_up_min": 60, "briefing_min": 15, "least_crew": 2}
BURNING: dict[str, Any] = {"dew_point_f": 38.0, "mixing_ft": 3_000.0}


class Unit(Place):
    """A burn that may go on its sheet: permit not needed, two go, the firebreak is wide enough."""

    def __init__(self) -> None:
        super().__init__()
        self.burn = self.job("burn")
        people = [self.farm.post("people", name=name)["id"] for name in ("Ann", "Bo")]
        self.farm.post(
            "sheets", job=self.burn, permit_needed=False, boss=people[0], least_crew=2, fuel_height_ft=2.0,
            break_width_ft=20.0, break_least_ft=10.0, check_in_minutes=30, contact="the office",
        )  # fmt: skip
        skill = self.farm.post("skills", name="burn boss")["id"]
        self.farm.post("certificates", person=people[0], skill=skill, valid_from="2026-01-01")
        for person in people:
            self.farm.post("assignments", job=self.burn, person=person)

    def plan(self, **named: Any) -> None:
        self.farm.post(f"jobs/{self.burn}/burn-plan", status=200, **PLAN, **named)
        self.look()


@pytest.fixture
def unit() -> Unit:
    return Unit()


def test_a_mixing_height_that_the_plan_names_and_nobody_forecasts_leaves_no_window(unit: Unit) -> None:
    unit.forecast(**(BURNING | {"mixing_ft": None}))
    unit.plan()
    assert unit.windows(unit.burn) != []
    unit.plan(mixing_least_ft=1_650)
    assert unit.windows(unit.burn) == []
    assert "mixing height is not known" in unit.told(unit.burn)["sentence"]
    low = dict.fromkeys(range(FRIDAY, FRIDAY + 12), 1_000.0)
    unit.forecast(**(BURNING | {"mixing_ft": dict.fromkeys(range(72), 3_000.0) | low}))
    friday = [w for w in unit.windows(unit.burn) if w[0].startswith("8 May")]
    assert friday[0][0] == "8 May 12:00"
    assert unit.limit(unit.burn, "plan_mixing")["rank"] == "plan"


def test_smoke_is_kept_off_each_named_place_by_its_direction(unit: Unit) -> None:
    """The wind comes from 200 degrees and goes to 20; from 290 on Friday afternoon it goes to 110."""
    turned = dict.fromkeys(range(FRIDAY + 14, 72), 290.0)
    unit.forecast(**BURNING, wind_dir_deg=turned | dict.fromkeys(range(FRIDAY + 14), 200.0))
    unit.plan()
    assert {w[0][:5] for w in unit.windows(unit.burn)} == {"7 May", "8 May", "9 May"}
    unit.plan(smoke=[{"name": "School", "bearing_deg": 110, "degrees": 40}])
    assert {w[0][:5] for w in unit.windows(unit.burn)} == {"7 May"}
    assert unit.limit(unit.burn, "plan_smoke_1")["distance"] == 50.0
    farm = {"name": "Farm", "bearing_deg": 350, "degrees": 45}
    unit.plan(smoke=[{"name": "School", "bearing_deg": 110, "degrees": 40}, farm])
    told = unit.limit(unit.burn, "plan_smoke_2")
    assert told["sentence"] == "Now wind towards Farm: within 45 degrees of what must be spared."
    assert unit.windows(unit.burn) == []
    assert "wind aloft towards School" in {one["what"] for one in unit.told(unit.burn)["left_out"]}


def test_a_wind_that_nobody_forecasts_leaves_no_window_where_smoke_has_to_be_kept_off(unit: Unit) -> None:
    unit.forecast(**BURNING, wind_dir_deg=None)
    unit.plan(smoke=[{"name": "School", "bearing_deg": 110, "degrees": 40}])
    assert unit.windows(unit.burn) == []


def test_no_turn_of_the_wind_may_lie_ahead(unit: Unit) -> None:
    """A turn by 90 degrees at Friday 21:00 closes the twelve hours before it and no others."""
    unit.forecast(**BURNING, wind_dir_deg={at: 200.0 if at < FRIDAY + 21 else 290.0 for at in range(72)})
    unit.plan()
    friday = [w for w in unit.windows(unit.burn) if w[0].startswith("8 May")]
    assert friday[0][1:] == ("8 May 09:00", "turn of the wind: more than 45 degrees within 12 h")


def test_days_since_rain_are_counted_back_beyond_the_hours_and_a_gap_ends_them(unit: Unit) -> None:
    unit.forecast(**BURNING)
    unit.plan(dry_days=6)
    assert unit.windows(unit.burn) == []
    for day in range(25, 31):
        unit.farm.day(unit.series, f"2026-04-{day}", 60, 40, 0.0)
    for day in range(1, 7):
        unit.farm.day(unit.series, f"2026-05-0{day}", 60, 40, 0.0)
    unit.look()
    assert unit.windows(unit.burn)[0][0][:5] == "7 May"
    assert unit.limit(unit.burn, "plan_dry_days")["distance"] == 12 + 24 * 12 - 24 * 6
    (wet,) = [row for row in unit.farm.all("days", series=unit.series) if row["date"] == "2026-05-02"]
    change(unit, f"days/{wet['id']}", rain_in=0.6)
    unit.look()
    assert unit.windows(unit.burn)[0][0][:5] == "9 May"


def test_fuel_moisture_is_reckoned_for_the_slope_of_the_plan_and_asked_for_whole(unit: Unit) -> None:
    """56 F and 51 % at noon: 7 by table A, and 0 by table B for a gentle open slope that faces south."""
    unit.forecast(**BURNING)
    slope = {"shaded": False, "aspect_deg": 180, "slope_pct": 5}
    unit.plan(moisture_least_pct=6, moisture_most_pct=12, **slope)
    assert unit.windows(unit.burn) != []
    assert unit.limit(unit.burn, "plan_moisture")["distance"] == 1
    unit.plan(moisture_least_pct=20, moisture_most_pct=30, **slope)
    assert unit.windows(unit.burn) == []
    assert unit.limit(unit.burn, "plan_moisture")["sentence"] == "Now fine fuel moisture below 20 %."
    refused = unit.farm.post(f"jobs/{unit.burn}/burn-plan", status=400, **PLAN, moisture_most_pct=12)
    assert refused["errors"][0]["pointer"] == "#/shaded"


ALBANY = {"32": {"spring": {"10": "05-11", "50": "04-27", "90": "04-16"}, "autumn": {"10": "10-03", "50": "10-15"}}}
"""Climate Normals 1991-2020, annual and seasonal, of USW00014735, as `tests/outside/test_freeze_days.py` has them."""


@pytest.mark.parametrize(
    ("first_day", "sentence"),
    [
        (None, "In 10 to 50 of 100 years it still freezes after 7 May (32 F, yard)."),
        ("2026-05-20", "In at most 10 of 100 years it still freezes after 20 May (32 F, yard)."),
        ("2026-10-20", "In more than 50 of 100 years it has frozen before 20 Oct (32 F, yard)."),
    ],
)
def test_planting_says_in_how_many_years_it_freezes_after_it(
    place: Place, first_day: str | None, sentence: str
) -> None:
    job, mow = place.job("plant", first_day=first_day), place.job("mow")
    place.look()
    assert place.told(job)["frost"] == "Freeze days are not known here: nobody typed those of a station near by."
    change(place, f"series/{place.series}", freeze=ALBANY, name="yard")
    place.look()
    assert place.told(job)["frost"] == sentence
    assert place.told(mow)["frost"] == ""


@pytest.mark.parametrize(
    "wrong",
    [
        {"50": {}},
        {"32": {"winter": {}}},
        {"32": {"spring": {"100": "05-11"}}},
        {"32": {"spring": {"10": "13-40"}}},
        {"32": {"spring": ["05-11"]}},
        [],
    ],
)
def test_a_table_of_freeze_days_that_is_none_is_refused(place: Place, wrong: Any) -> None:
    body = {"freeze": wrong}
    answer = place.farm.manager.patch(f"/api/series/{place.series}/", body, format="json", HTTP_IF_MATCH="*")
    assert answer.status_code == 400


@pytest.mark.parametrize("outcome", ["failed", "held"])
def test_a_residual_whose_rain_failed_opens_the_early_spray_over_the_crop(place: Place, outcome: str) -> None:
    """Planted and sprayed with the residual; eleven days later somebody says whether it got its rain."""
    steps = place.farm.apply("corn", place.plot, 2026)
    for step in ("plant", "residual"):
        place.farm.done(steps[step], "2026-05-07 09:00")
    assert place.farm.job(steps["early_post"])["state"] not in ("open", "held")
    place.farm.at("2026-05-18 12:00")
    place.farm.done(steps["check_residual"], "2026-05-18 09:00", outcome=outcome)
    assert (place.farm.job(steps["early_post"])["state"] in ("open", "held")) is (outcome == "failed")


def test_rain_that_has_to_follow_is_told_and_a_downpour_closes(place: Place) -> None:
    job = place.job("spread")
    rain = {"what": "rain_after_in", "at_least": 0.25, "source": "isu-2018-urea"}
    Job.objects.filter(pk=job).update(details={"limits": [rain]})
    place.forecast(120, rain_in={FRIDAY + 30: 0.4})
    (told,) = place.told(job)["advice"]
    assert (told["key"], told["verdict"], told["distance"]) == ("rain_after_in", "advice", 0.15)
    assert any(start[:5] == "8 May" for start, *_ in place.windows(job))
    place.forecast(120, rain_in={FRIDAY + 30: 1.4})
    assert place.windows(job)[0][0] == "9 May 07:00"


def test_mowing_is_told_whether_moisture_comes_and_closed_before_a_hot_dry_spell(place: Place) -> None:
    job = place.job("mow")
    place.forecast(168, rain_in={FRIDAY + 40: 0.5})
    told = place.told(job)
    assert {one["key"]: one["distance"] for one in told["advice"]} == {"mow_moisture": 0.25}
    assert {start[:5] for start, *_ in place.windows(job)} >= {"7 May", "8 May"}
    hot = dict.fromkeys(range(FRIDAY + 60, FRIDAY + 66), 96.0)
    place.forecast(168, temp_f=hot, rain_in={FRIDAY + 40: 0.5})
    first, second, *_ = place.windows(job)
    assert first[1:] == ("7 May 13:00", "heat of the coming three days rises above 92 F within 72 h")
    assert second[0] == "10 May 18:00"


def test_height_of_cut_and_volts_are_said_to_be_looked_at_there(place: Place) -> None:
    steps = place.farm.apply("clover_established", place.plot, 2026)
    said = [line for job in steps.values() for line in place.told(job)["on_the_spot"]]
    assert "height of cut, in: at least 6" in said


def test_the_hours_tell_by_which_formula_the_soils_water_is_reckoned(place: Place) -> None:
    job = place.job("till")
    place.forecast()
    place.look()
    assert place.told(job)["soil_water"] == ""
    change(place, f"plots/{place.plot}", texture="silt loam")
    place.look()
    assert place.told(job)["soil_water"] == "Soil water: evapotranspiration by Penman-Monteith on 3 days."
