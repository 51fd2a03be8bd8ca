"""`apply` without a year takes the season that can still be met and says why; `withdraw` takes one back."""

import uuid
from collections.abc import Callable
from datetime import UTC, datetime
from io import StringIO
from typing import Any

import pytest
from django.core.management import CommandError, call_command

from core.models import Holding, Person
from jobs.models import Job, Report, Season
from jobs.services.reports import NewReport, store_report
from plots.models import Plot

pytestmark = pytest.mark.django_db


@pytest.fixture
def plot(holding: Holding, plot_factory: Callable[..., Plot]) -> Plot:
    return plot_factory(holding, name="Terrace")


def said(*words: str, **options: Any) -> str:
    out = StringIO()
    call_command(*words, stdout=out, **options)
    return out.getvalue()


def stand(holding: Holding, *day: int) -> None:
    holding.clock_at = datetime(*day, 18, tzinfo=UTC)  # type: ignore[misc, arg-type]
    holding.save()


def test_late_in_the_year_it_is_the_season_to_come(holding: Holding, plot: Plot) -> None:
    stand(holding, 2026, 11, 25)
    told = said("apply", "corn", plot="Terrace")
    assert "This is the season of 2027: of the season of 2026, 14 of 17 steps are over." in told
    assert "say --year 2026" in told
    assert Season.objects.get().year == 2027
    assert not Job.objects.filter(reckoning__state="lapsed").exists()


def test_a_year_that_is_named_is_taken_and_what_is_too_late_is_told_with_the_way_back(
    holding: Holding, plot: Plot
) -> None:
    stand(holding, 2026, 11, 25)
    told = said("apply", "corn", plot="Terrace", year=2026)
    late = Job.objects.filter(reckoning__state="lapsed").count()
    assert late > 5
    assert f"Too late already: {late} of its jobs." in told
    assert "Too late: it had to start by" in told
    way = 'manage.py withdraw "Corn for wildlife 2026" --plot "Terrace"'
    label = Season.objects.get().label
    assert way.replace("Corn for wildlife 2026", label) in told
    assert f"{label} is withdrawn from Terrace: " in said("withdraw", label, plot="Terrace")
    assert not Season.objects.exists()


def test_a_season_with_reports_is_not_withdrawn_and_can_be_called_off(
    holding: Holding, plot: Plot, manager: Person
) -> None:
    stand(holding, 2027, 3, 1)
    said("apply", "corn", plot="Terrace")
    season = Season.objects.get()
    assert season.year == 2027
    now = holding.clock_at
    assert now is not None
    job = season.jobs.order_by("id")[0].pk
    new = NewReport(client_id=uuid.uuid4(), kind="start", happened_at=now, job=job)
    store_report(person=manager, new=new, now=now)
    with pytest.raises(CommandError, match=r"1 report would be lost.*Say --call-off for that"):
        said("withdraw", season.label, plot="Terrace")
    assert "is called off" in said("withdraw", season.label, plot="Terrace", call_off=True)
    assert Report.objects.count() == 1


def test_a_label_that_is_not_there_is_answered_with_those_that_are(holding: Holding, plot: Plot) -> None:
    said("apply", "corn", plot="Terrace", year=2027)
    with pytest.raises(CommandError, match=rf"There are: {Season.objects.get().label}\."):
        said("withdraw", "Beans", plot="Terrace")
