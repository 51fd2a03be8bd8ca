"""Heat, cold, thunder and high water over work whose hours the weather does not decide; pieces; what took how long."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from plots.models import Gauge, Reading
from tests.jobs.api.test_limits import FRIDAY, Place

pytestmark = pytest.mark.django_db


@pytest.fixture
def place() -> Place:
    return Place()


def free_on_friday(place: Place) -> None:
    person = place.farm.people["Manager"]
    place.farm.post("free-times", person=person, weekday=4, starts="08:00", ends="18:00")


def offered(place: Place, title: str) -> list[tuple[str, str, str]]:
    """(from, to, what ends it) of the hours that the next list offers for a job."""
    jobs = {job["title"]: job for job in place.farm.get("next")["jobs"]}
    local = place.farm.local
    return [(local(h["from"])[4:], local(h["to"])[4:], h["ends"]) for h in jobs[title]["hours"]]


def test_heat_that_is_forecast_takes_its_hours_from_a_fence_and_the_rest_stay(place: Place) -> None:
    job = place.job("fence")
    free_on_friday(place)
    hot = range(FRIDAY + 13, FRIDAY + 16)
    place.forecast(temp_f=dict.fromkeys(hot, 101.0), dew_point_f=dict.fromkeys(hot, 76.0))
    assert offered(place, "fence") == [
        ("8 May 08:00", "8 May 13:00", "heat index above 103 F"),
        ("8 May 16:00", "8 May 18:00", ""),
    ]
    assert place.limit(job, "work_heat")["verdict"] == "written reason"
    (fence,) = place.farm.get("next")["jobs"]
    assert "Closest limit" not in fence["hours_note"]


@pytest.mark.parametrize(
    ("hours", "ends"),
    [
        ({"thunder_pct": {FRIDAY + 12: 60.0}}, "chance of thunder above 30 %"),
        ({"temp_f": {FRIDAY + 12: -10.0}, "wind_mph": {FRIDAY + 12: 20.0}}, "wind chill below -18 F"),
    ],
)
def test_thunder_and_bitter_cold_take_theirs(place: Place, hours: dict[str, Any], ends: str) -> None:
    place.job("fence")
    free_on_friday(place)
    place.forecast(**hours)
    assert offered(place, "fence") == [("8 May 08:00", "8 May 12:00", ends), ("8 May 13:00", "8 May 18:00", "")]


def test_without_a_forecast_such_work_keeps_its_free_hours_and_says_what_nobody_knows(place: Place) -> None:
    """Unknown heat closes nothing and allows nothing: it is told, and who goes looks."""
    job = place.job("fence")
    free_on_friday(place)
    place.look()
    assert offered(place, "fence") == [("8 May 08:00", "8 May 18:00", "")]
    told = place.told(job)
    assert told["windows"] == []
    assert told["sentence"].endswith("What no forecast tells, look for yourself.")


def test_hours_in_which_heat_is_not_known_stay_open_beside_known_ones_and_are_named(place: Place) -> None:
    job = place.job("fence")
    free_on_friday(place)
    hot = range(FRIDAY + 13, FRIDAY + 14)
    unknown = dict.fromkeys(range(FRIDAY + 15, 72))
    place.forecast(temp_f=dict.fromkeys(hot, 101.0) | unknown, dew_point_f=dict.fromkeys(hot, 76.0) | unknown)
    assert offered(place, "fence")[-1] == ("8 May 14:00", "8 May 18:00", "")
    assert "heat index" in {one["what"] for one in place.told(job)["left_out"]}


def test_beyond_the_forecast_such_work_keeps_its_free_hours(place: Place) -> None:
    place.job("fence")
    person = place.farm.people["Manager"]
    place.farm.post("free-exceptions", person=person, day="2026-05-20", starts="08:00", ends="12:00", free=True)
    hot = range(FRIDAY + 13, FRIDAY + 16)
    place.forecast(temp_f=dict.fromkeys(hot, 101.0), dew_point_f=dict.fromkeys(hot, 76.0))
    hours = {job["title"]: job for job in place.farm.get("next", days=20)["jobs"]}["fence"]["hours"]
    assert [place.farm.local(h["from"])[4:] for h in hours] == ["20 May 08:00"]


def test_an_access_under_water_or_a_stage_that_is_not_known_closes_all_work_outdoors(place: Place) -> None:
    job, desk = place.job("fence"), place.job("desk")
    free_on_friday(place)
    place.farm.post("property-gauges", property=place.land, site="03304050", level_ft=16.0)
    place.look()
    assert offered(place, "fence") == []
    assert place.told(job)["sentence"].startswith("The river closes the access as far as its stage is known")
    assert offered(place, "desk") == [("8 May 08:00", "8 May 18:00", "")]
    assert place.told(desk)["sentence"] == "The weather has no say in the hours of this work."
    gauge, now = Gauge.objects.get_or_create(site="03304050")[0], place.farm.holding.clock_at
    stages = ((0, 9.0, "observed"), (10, 10.0, "forecast"), (21, 10.5, "forecast"), (30, 17.0, "forecast"))
    for hours, feet, kind in stages:
        issued = now if kind == "forecast" else None
        Reading.objects.create(gauge=gauge, at=now + timedelta(hours=hours), feet=feet, kind=kind, issued_at=issued)
    place.farm.post("quiet-times", property=place.land, first_day="2026-07-01", last_day="2026-07-01", reason="fair")
    place.look()
    assert offered(place, "fence") == [
        ("8 May 08:00", "8 May 09:00", "the river closes the access, or its stage is not known")
    ]


def test_an_own_rule_binds_such_work_too_and_there_a_missing_hour_is_none(place: Place) -> None:
    place.job("fence")
    free_on_friday(place)
    place.farm.post("own-limits", quantity="wind_mph", most=15.0, operation="fence")
    place.forecast(wind_mph={FRIDAY + 12: 18.0, FRIDAY + 17: None})
    assert offered(place, "fence") == [
        ("8 May 08:00", "8 May 12:00", "wind (the holding's own rule) above 15 mph"),
        ("8 May 13:00", "8 May 17:00", "wind (the holding's own rule) is not known"),
    ]


def test_a_job_says_whether_it_may_be_split_and_its_least_piece(place: Place) -> None:
    job = place.job("spray", duration_min=300)
    place.forecast(wind_mph={FRIDAY + 12: 14.0})
    friday = [w for w in place.windows(job) if w[0].startswith("8 May")]
    assert friday == []
    place.farm.post(f"jobs/{job}/split", status=400, may_split=True)
    told = place.farm.post(f"jobs/{job}/split", status=200, may_split=True, least_piece_min=90)
    assert (told["may_split"], told["least_piece_min"]) == (True, 90)
    place.look()
    friday = [w[:2] for w in place.windows(job) if w[0].startswith("8 May")]
    assert friday == [("8 May 07:56", "8 May 12:00"), ("8 May 13:00", "8 May 16:05")]
    told = place.farm.post(f"jobs/{job}/split", status=200, may_split=False)
    assert (told["may_split"], told["least_piece_min"]) == (False, None)


def test_three_times_with_hours_on_the_plot_set_the_duration_of_what_is_still_to_be_done(place: Place) -> None:
    """6, 7 and 8 minutes an acre on 2 acres: 7 an acre, so 14 minutes on 2 acres and 21 on 3."""
    farm = place.farm
    small, large = place.job("till", acres=2.0), place.job("till", title="till more", acres=3.0)
    typed = place.job("till", title="till slowly", acres=2.0)
    change_duration(place, typed, 90)
    for n, minutes in enumerate((12, 14), start=1):
        done(place, n, minutes)
    assert [farm.get(f"jobs/{pk}")["duration_min"] for pk in (small, large)] == [60, 60]
    third = done(place, 3, 16)
    assert [farm.get(f"jobs/{pk}")["duration_min"] for pk in (small, large, typed)] == [14, 21, 90]
    place.forecast()
    assert place.told(large)["minutes"] == 21
    assert farm.get(f"jobs/{large}")["answer"]["minutes"] == 21
    farm.report(third["job"], "withdrawn", "2026-05-06 12:00", corrects=third["report"])
    assert [farm.get(f"jobs/{pk}")["duration_min"] for pk in (small, large)] == [60, 60]


def change_duration(place: Place, job: int, minutes: int) -> None:
    body = {"duration_min": minutes}
    answer = place.farm.manager.patch(f"/api/jobs/{job}/", body, format="json", HTTP_IF_MATCH="*")
    assert answer.status_code == 200, answer.content


def done(place: Place, day: int, minutes: int) -> dict[str, int]:
    job = place.job("till", title=f"till {day}", acres=2.0)
    place.farm.report(job, "start", f"2026-05-0{day} 09:00")
    receipt = place.farm.report(job, "done", f"2026-05-0{day} 09:{minutes}", acres=2.0)
    return {"job": job, "report": receipt["id"]}


def test_a_times_day_alone_teaches_nothing(place: Place) -> None:
    job = place.job("till", acres=2.0)
    for day in (1, 2, 3):
        other = place.job("till", title=f"till {day}", acres=2.0)
        place.farm.report(other, "start", f"2026-05-0{day} 09:00", day_only=True)
        place.farm.report(other, "done", f"2026-05-0{day} 09:12", acres=2.0, day_only=True)
    assert place.farm.get(f"jobs/{job}")["duration_min"] == 60


def test_a_held_job_opens_when_the_last_of_its_holds_clears_by_the_clock(place: Place) -> None:
    job = place.job("till")
    place.farm.post("machines", name="Old disk", kind="tillage_tool", state="on_loan", until="2026-05-12")
    place.look()
    answer = place.farm.job(job)
    assert place.farm.local(answer["opens_at"]) == "Wed 13 May 00:00"
    held = place.job("burn")
    place.look()
    assert place.farm.job(held)["state"] == "held"
    assert place.farm.job(held)["opens_at"] is None


def test_a_hold_that_ends_by_itself_after_the_last_start_is_said_beside_the_deadline(place: Place) -> None:
    job = place.job("till", last_day="2026-05-10")
    place.farm.post("machines", name="Old disk", kind="tillage_tool", state="on_loan", until="2026-05-12")
    place.look()
    answer = place.farm.job(job)
    assert answer["state"] == "held"
    assert answer["deadline_sentence"] == (
        "Start by Sun 10 May; what holds it ends by itself on Wed 13 May, too late. Another way has to be found."
    )
    place.farm.post("machines", name="New disk", kind="tillage_tool")
    place.look()
    assert place.farm.job(job)["deadline_sentence"] == "Start by Sun 10 May."
