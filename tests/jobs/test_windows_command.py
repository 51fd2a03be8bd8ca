"""`manage.py windows`: a week of one job as text and as a picture."""

from datetime import timedelta
from io import StringIO
from pathlib import Path
from xml.etree import ElementTree

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError

from tests.jobs.selectors.test_windows import NOON, Land, span

pytestmark = pytest.mark.django_db


@pytest.fixture
def land() -> Land:
    return Land()


def run(*arguments: str) -> str:
    told = StringIO()
    call_command("windows", *arguments, stdout=told)
    return told.getvalue()


def test_it_tells_windows_limits_and_the_age_of_the_forecast(land: Land) -> None:
    land.job("spray")
    land.forecast(60, wind_mph=span(13, 16, 14.0))
    told = run("--property", "Home", "--job", "spray")
    assert told.splitlines()[:2] == ["spray", "-----"]
    assert "after, wind above 10 mph." in " ".join(told.split())
    assert "Forecast of Thu 7 May 10:00." in told
    assert all(len(line) <= 80 for line in told.splitlines())


def test_it_draws_the_week_with_the_facts_in_words(land: Land, tmp_path: Path) -> None:
    job = land.job("spray")
    land.forecast(60, wind_mph=span(13, 16, 14.0))
    file = tmp_path / "week.svg"
    assert str(file) in run("--property", "Home", "--job", str(job.pk), "--svg", str(file))
    drawn = ElementTree.parse(file).getroot()
    named = {element.text for element in drawn.iter() if element.text}
    assert "spray, Flat, Home" in named
    assert any("then wind above 10 mph" in text for text in named)
    windows = [e for e in drawn.iter() if e.get("fill") == "url(#window)"]
    assert len(windows) == 2


def test_without_a_forecast_there_is_nothing_to_draw_and_it_says_why(land: Land, tmp_path: Path) -> None:
    land.job("spray")
    with pytest.raises(CommandError, match="No forecast: in which hours it may go is not known"):
        run("--property", "Home", "--job", "spray", "--svg", str(tmp_path / "week.svg"))


def test_an_unknown_place_or_job_is_refused(land: Land) -> None:
    land.job("spray")
    for place, job in (("Nowhere", "spray"), ("Home", "plough"), ("Home", "999")):
        with pytest.raises(CommandError, match="No job at"):
            run("--property", place, "--job", job)


def test_several_jobs_that_fit_are_listed_and_a_number_or_a_longer_word_is_asked_for(land: Land) -> None:
    first, other = land.job("spray", title="Burndown spray"), land.job("spray", title="Burndown spray late")
    land.forecast(60)
    with pytest.raises(CommandError, match="Several jobs fit; name one by its number or a longer word") as refused:
        run("--property", "Home", "--job", "burn")
    assert f"{first.pk}: Burndown spray, Flat, Home; {other.pk}: Burndown spray late, Flat, Home" in str(refused.value)
    assert run("--property", "Home", "--job", "Burndown spray").startswith("Burndown spray\n")
    assert run("--property", "Home", "--job", str(other.pk)).startswith("Burndown spray late\n")


def test_a_job_that_is_over_does_not_stand_in_the_way_of_the_one_to_be_done(land: Land) -> None:
    land.job("spray", title="Spray", called_off_at=NOON)
    open_job = land.job("spray", title="Spray again")
    land.forecast(60)
    assert run("--property", "Home", "--job", "spray").startswith("Spray again\n")
    assert run("--property", "Home", "--job", str(open_job.pk)).startswith("Spray again\n")


def test_windows_that_are_over_are_left_out(land: Land) -> None:
    """Rain at eight on Friday parts the morning from the day; at ten the morning is over."""
    land.job("spread", 30)
    land.forecast(120, issued=NOON + timedelta(hours=20), rain_in=span(32, 33, 0.3))
    land.at(NOON + timedelta(hours=22))
    told = run("--property", "Home", "--job", "spread")
    assert "Fri 8 May 09:00 to 20:05" in told
    assert "to 07:00" not in told
