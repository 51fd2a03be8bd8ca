"""A season applied by mistake is taken back as if it had never stood; one of which anything was said stays."""

import uuid
from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

import pytest

from core.errors import Refused
from core.models import Event, Holding, Person
from jobs.models import Branch, Job, Observation, Override, Prerequisite, Report, Season, Sheet
from jobs.services.calling_off import call_off_season
from jobs.services.reports import NewReport, store_report
from jobs.services.seasons import apply_sequence, latest_sequence
from jobs.services.walking import differences, walk_holding
from jobs.services.withdrawing import withdraw_season
from plots.models import Plot

pytestmark = pytest.mark.django_db
NOW = datetime(2027, 1, 15, 18, tzinfo=UTC)


@pytest.fixture
def plot(holding: Holding, plot_factory: Callable[..., Plot]) -> Plot:
    return plot_factory(holding)


def apply(plot: Plot, key: str, year: int, label: str = "") -> Season:
    return apply_sequence(plot=plot, sequence=latest_sequence(plot.holding_id, key), year=year, by=None, label=label)


def test_nothing_of_it_stays_but_the_log_and_it_can_be_applied_again(plot: Plot, manager: Person) -> None:
    season = apply(plot, "corn", 2027)
    jobs, label, key = season.jobs.count(), season.label, season.pk
    walk_holding(plot.holding_id)
    withdraw_season(season=season, by=manager)
    assert [model.objects.count() for model in (Season, Job, Branch, Prerequisite)] == [0, 0, 0, 0]  # type: ignore[attr-defined]
    line = Event.objects.get(object="season", verb="removed")
    assert (line.object_id, line.person, line.change) == (key, manager, {"label": label, "plot": plot.pk})
    walk_holding(plot.holding_id)
    assert differences(plot.holding_id) == {}
    assert apply(plot, "corn", 2027).jobs.count() == jobs


@pytest.mark.parametrize("said", ["report", "seen", "sheet", "reason"])
def test_a_season_of_which_something_was_said_is_called_off_instead(plot: Plot, manager: Person, said: str) -> None:
    season = apply(plot, "corn", 2027)
    job = season.jobs.order_by("id")[0]
    here: dict[str, Any] = {"holding": plot.holding}
    if said == "report":
        new = NewReport(client_id=uuid.uuid4(), kind="note", note="Wet.", happened_at=NOW, job=job.pk)
        store_report(person=manager, new=new, now=NOW)
    elif said == "seen":
        Observation.objects.create(**here, plot=plot, season=season, kind="emerged", at=NOW)
    elif said == "sheet":
        Sheet.objects.create(**here, job=job, purpose="weeds")
    else:
        Override.objects.create(**here, job=job, rule="machine", reason="Lent out.", person=manager, at=NOW)
    words = {"report": "1 report", "seen": "1 thing seen", "sheet": "1 sheet", "reason": "1 written reason"}[said]
    with pytest.raises(Refused, match=f"cannot be withdrawn: {words} would be lost. Call it off instead") as refused:
        withdraw_season(season=season, by=manager)
    assert refused.value.code == "in_use"
    call_off_season(season=season, by=manager, now=NOW)
    walk_holding(plot.holding_id)
    assert set(season.jobs.values_list("reckoning__state", flat=True)) == {"called_off"}
    assert Report.objects.count() == (said == "report")


def test_a_season_that_waited_for_it_waits_for_the_one_before_again(plot: Plot, manager: Person) -> None:
    older = apply(plot, "soil_and_lime", 2026, label="Meant")
    mistake = apply(plot, "soil_and_lime", 2026, label="Once more")
    clover = apply(plot, "clover_frost_seeding", 2027)
    waits = Prerequisite.objects.filter(successor__season=clover).exclude(predecessor__season=clover)
    assert {link.predecessor.season for link in waits} == {mistake}
    withdraw_season(season=mistake, by=manager)
    assert {link.predecessor.season for link in waits.all()} == {older}
