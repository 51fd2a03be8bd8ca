"""After any change of facts and any step of the clock, what is stored is what a walk over everything would give (D18).

A holding with seasons on shared plots, properties in two time zones and a single job is changed by random steps through
the services; each step is walked as the worker walks it, over what changed alone. A seed that fails can be run again.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

import pytest
from django.db import transaction

from core.errors import NotFound, Refused
from core.models import Holding
from jobs.models import (
    Job,
    Report,
)
from jobs.services.single import change_job
from jobs.services.walking import differences, walk_holding
from tests.steps.land import LandSteps
from tests.steps.plan import PlanSteps
from tests.steps.played import Played

pytestmark = [pytest.mark.django_db, pytest.mark.once]

SEEDS, STEPS = range(12), 20


class Steps(PlanSteps, LandSteps):
    """One random run over a played holding."""

    def __init__(self, played: Played, seed: int) -> None:
        super().__init__(played, seed)
        self.all: list[Callable[[], Any]] = [
            self.report, self.report, self.report, self.report, self.see, self.correct, self.add_edge, self.change_edge,
            self.remove_edge, self.edit_job, self.call_off, self.call_branch, self.machine, self.material, self.stock,
            self.need, self.quiet, self.contract, self.consent, self.weather, self.weather, self.take_weather_back,
            self.rank, self.tenure, self.override, self.certificate, self.single, self.assign, self.season,
            self.hours, self.hours, self.hours, self.quiet_hours, self.step_clock, self.step_clock, self.step_clock,
        ]  # fmt: skip

    def run(self) -> None:
        for _ in range(STEPS):
            step = self.random.choice(self.all)
            try:
                with transaction.atomic():
                    self.said.append(step())
            except (Refused, NotFound) as refusal:
                self.said.append(f"refused: {refusal}")
            walk_holding(self.holding.pk)
            found = differences(self.holding.pk)
            assert found == {}, "\n".join(
                [*self.said, *(f"{Job.objects.get(pk=pk)} {names}" for pk, names in found.items())]
            )


def test_a_walk_over_what_changed_equals_a_walk_over_everything() -> None:
    played = Played()
    for seed in SEEDS:
        before = transaction.savepoint()
        try:
            Steps(played, seed).run()
        except AssertionError as error:
            raise AssertionError(f"seed {seed}") from error
        transaction.savepoint_rollback(before)


def stepped(played: Played) -> Steps:
    return Steps(played, 0)


def step_of(key: str, step: str) -> Job:
    return Job.objects.get(season__sequence__key=key, step=step, occurrence=1)


def test_a_spray_of_one_season_closes_a_job_of_another_on_the_same_plot() -> None:
    """Corn's residual holds atrazine: the rye on the same plot, a component of its own, is closed by the walk of that
    report alone, and open again without it."""
    steps = stepped(Played())
    residual, rye = step_of("corn", "residual"), step_of("autumn_cereal", "sow_rye")
    assert residual.component != rye.component

    def closed() -> bool:
        kinds = [hold["kind"] for hold in Job.objects.get(pk=rye.pk).reckoning.holds]
        assert differences(steps.holding.pk) == {}
        return "sprayed" in kinds

    assert not closed()
    steps._report(residual, "done")
    walk_holding(steps.holding.pk)
    assert closed()
    steps._report(residual, "withdrawn", corrects=Report.objects.get(job=residual).pk)
    walk_holding(steps.holding.pk)
    assert not closed()


def test_the_next_occurrence_of_a_branch_is_walked_with_its_branch() -> None:
    """Its branch is begun because the first mowing was done; alone it would not be called for."""
    steps = stepped(Played())
    mow = step_of("clover_established", "mow")
    steps._report(mow, "done")
    walk_holding(steps.holding.pk)
    second = Job.objects.get(season=mow.season, step="mow", occurrence=2)
    assert (second.component, second.reckoning.state) == (mow.component, "held")
    second.deadline = date(2027, 8, 20)
    change_job(job=second, by=steps.manager, fields=["deadline"])
    walk_holding(steps.holding.pk)
    assert differences(steps.holding.pk) == {}


def test_minutes_that_pass_while_a_job_is_too_late_change_nothing_that_is_stored() -> None:
    """How much is missing grows with the clock, so it is told on reading (D17)."""
    steps = stepped(Played())
    assert Job.objects.filter(holding=steps.holding, reckoning__state="lapsed").exists()
    for _ in range(3):
        later = steps.now + timedelta(minutes=1)
        Holding.objects.filter(pk=steps.holding.pk).update(clock_at=later)
        steps.holding.clock_at = later
        assert walk_holding(steps.holding.pk).reckoned == 0
        assert differences(steps.holding.pk) == {}


def test_hours_of_the_steps_make_and_break_windows() -> None:
    """So that the random steps above prove something of windows: some jobs have windows, and forecasts go stale."""
    steps = stepped(Played())
    seen = set()
    for _ in range(12):
        steps.hours()
        walk_holding(steps.holding.pk)
        listed = Job.objects.filter(holding=steps.holding).values_list("reckoning__windows", flat=True)
        for told in filter(None, listed):
            seen |= {"found" if told.get("found") else told["why"]["kind"], "before" if "before" in told else ""}
        later = steps.now + timedelta(hours=13)
        Holding.objects.filter(pk=steps.holding.pk).update(clock_at=later)
        steps.holding.clock_at = later
        walk_holding(steps.holding.pk)
        assert differences(steps.holding.pk) == {}
    assert {"found", "before"} <= seen
