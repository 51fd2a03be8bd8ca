"""The hours of a job on its page: picture with its text, limits, and what a manager may set aside there."""

from __future__ import annotations

from datetime import time

import pytest
from django.test import Client

from core.models import Event, FreeTime, Person, Role, User
from jobs.models import Override, Reckoning
from tests.jobs.selectors.test_windows import Land, span

pytestmark = pytest.mark.django_db
BACKEND = "django.contrib.auth.backends.ModelBackend"


@pytest.fixture
def land() -> Land:
    return Land()


def page_of(land: Land, person: Person | None = None) -> Client:
    who = person or land.manager
    who.user = User.objects.create_user(f"{who.name.lower()}@example.org", "a long enough password")
    who.save()
    client = Client()
    client.force_login(who.user, backend=BACKEND)
    return client


def test_the_page_draws_the_week_and_tells_the_same_facts_as_text(land: Land) -> None:
    job = land.job("spray")
    land.forecast(60, wind_mph=span(13, 16, 14.0))
    land.windows(job)
    shown = page_of(land).get(f"/jobs/{job.pk}/").content.decode()
    assert shown.count("<svg") == 1
    assert "then wind above 10 mph." in shown
    assert "Forecast of Thu 7 May 10:00." in shown
    assert "Wind is 4 mph clear" not in shown
    assert "Wind is 3 mph clear of its limit now." in shown
    assert "Not known here, so look for yourself: chance of thunder." in shown


def test_what_nobody_forecasts_stands_open_beside_fit_hours_and_is_folded_away_nowhere(land: Land) -> None:
    job = land.job("spray")
    for weekday in range(7):
        FreeTime.objects.create(
            holding=land.holding, person=land.manager, weekday=weekday, starts=time(6), ends=time(20)
        )
    client = page_of(land)

    def before_the_fold() -> tuple[str, str]:
        land.windows(job)
        shown = client.get("/").content.decode()
        opened, _, folded = shown[shown.index('<li class="job') :].partition("<details")
        assert "Your hours in it" in opened
        return opened, folded

    land.forecast(60)
    opened, folded = before_the_fold()
    assert "Not known, so look for yourself: chance of thunder." in opened
    assert "Not known" not in folded
    land.forecast(60, thunder_pct=span(0, 60, 5.0))
    opened, folded = before_the_fold()
    assert "Forecast of" not in opened
    assert "Forecast of" in folded


def test_without_a_forecast_the_page_says_so_and_draws_nothing(land: Land) -> None:
    job = land.job("spray")
    land.windows(job)
    shown = page_of(land).get(f"/jobs/{job.pk}/").content.decode()
    assert "<svg" not in shown
    assert "No forecast: in which hours it may go is not known." in shown


def test_a_manager_sets_advice_aside_by_one_tap_and_the_hours_open(land: Land) -> None:
    cold = {"what": "night_low_f", "at_least": 40, "source": "missouri-ipm-2014"}
    job = land.job("spray", details={"limits": [cold]})
    land.forecast(72, temp_f=span(26, 30, 33.0), dew_point_f=span(26, 30, 30.0))
    first = land.windows(job).get("found", [])
    client = page_of(land)
    assert 'value="night_low_f"' in client.get(f"/jobs/{job.pk}/").content.decode()
    answer = client.post(f"/jobs/{job.pk}/set-aside/", {"rule": "night_low_f"}, follow=True)
    assert "Set aside for a week; the log remembers it." in answer.content.decode()
    override = Override.objects.get()
    assert (override.rule, override.person, override.reason) == (
        "night_low_f",
        land.manager,
        "Advice set aside by one tap.",
    )
    assert Event.objects.filter(holding=land.holding, object="override").count() == 1
    told = Reckoning.objects.get(pk=job.pk).windows
    assert told is not None
    assert len(told["found"]) > len(first)


def test_a_stop_is_refused_in_words_and_others_see_no_button(land: Land) -> None:
    job = land.job("spray")
    land.forecast(60)
    land.windows(job)
    client = page_of(land)
    answer = client.post(f"/jobs/{job.pk}/set-aside/", {"rule": "spray_wind", "reason": "Late."}, follow=True)
    assert "Nothing was stored." in answer.content.decode()
    assert not Override.objects.exists()
    viewer = Person.objects.create(holding=land.holding, name="Guest", role=Role.VIEWER)
    shown = page_of(land, viewer).get(f"/jobs/{job.pk}/").content.decode()
    assert "Hours of the week" in shown
    assert "Set aside for a week" not in shown
