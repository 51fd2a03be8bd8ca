"""`manage.py windows`: a week of one job as text and as a picture."""

from io import StringIO
from pathlib import Path
from xml.etree import ElementTree

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError

from tests.jobs.selectors.test_windows import Land, span

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
