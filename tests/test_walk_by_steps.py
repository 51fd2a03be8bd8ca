"""After any change of facts and any step of the clock, what is stored is what a walk over everything would give (D18).

A holding with seasons on shared plots, properties in two time zones and a single job is changed by random steps through
the services; each step is walked as the worker walks it, over what changed alone. A seed that fails can be run again.
"""

from __future__ import annotations

import random
import uuid
from collections.abc import Callable
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

import pytest
from django.db import transaction

from core.errors import NotFound, Refused
from core.models import Certificate, Graph, Holding, Person, Role, Skill
from core.services.rows import remove_row, save_row
from jobs.minutes import floor_minute
from jobs.models import (
    Assignment,
    Branch,
    Job,
    LagUnit,
    LinkRelation,
    Need,
    NeedKind,
    Override,
    Prerequisite,
    Report,
    Season,
)
from jobs.reference import reference
from jobs.services.assigning import assign_job
from jobs.services.calling_off import call_branch, call_off_season
from jobs.services.links import add_link, change_link, remove_link
from jobs.services.overriding import KINDS, overrulable_limits, set_aside
from jobs.services.reports import NewReport, store_report
from jobs.services.seasons import apply_sequence, call_off, latest_sequence
from jobs.services.sequences import load_shipped
from jobs.services.single import add_job, change_job
from jobs.services.walking import differences, walk_holding
from plots.forecasts.values import Forecast, HourValues, RainTotal
from plots.models import (
    Consent,
    Contract,
    Day,
    DayKind,
    Machine,
    MachineState,
    Material,
    Normal,
    Plot,
    Property,
    PropertySeries,
    QuietTime,
    Series,
    StockMove,
)
from plots.services.forecasts import store_forecast
from plots.services.series import remove_values, save_values

pytestmark = pytest.mark.django_db

SEEDS, STEPS = range(12), 20
ACTIVES = ("glyphosate", "atrazine", "2,4-D ester", "clethodim", "mesotrione", "something new", "")


class Played:
    """The holding, its random source, and what was done so far in words."""

    def __init__(self) -> None:
        load_shipped()
        noon = datetime(2027, 5, 6, 17, tzinfo=UTC)
        self.holding = Holding.objects.create(name="Stepped", zone="America/Chicago", clock_at=noon)
        Graph.objects.create(holding=self.holding)
        here = {"holding": self.holding}
        self.manager = Person.objects.create(**here, name="Manager", role=Role.MANAGER)
        self.helper = Person.objects.create(**here, name="Helper")
        self.series = Series.objects.create(owner=self.holding, source=f"typed-{self.holding.pk}", place="yard")
        first = date(2027, 1, 1)
        normals = [first + timedelta(days=k) for k in range(365)]
        Normal.objects.bulk_create(
            Normal(series=self.series, month_day=f"{day:%m-%d}", high_f=60 + day.month * 2, low_f=40 + day.month)
            for day in normals
        )
        self.plots = []
        for name, zone in (("Near", ""), ("Far", "America/Denver")):
            place = Property.objects.create(**here, name=name, latitude=40.0, longitude=-91.0, zone=zone)
            PropertySeries.objects.create(**here, property=place, rank=1, series=self.series)
            self.plots.append(Plot.objects.create(**here, property=place, name=f"{name} field", acres_typed=2.0))
        self.materials = [
            Material.objects.create(**here, name=f"Can {n}", kind="herbicide", unit="gal", active=active)
            for n, active in enumerate(("glyphosate", "atrazine, S-metolachlor", "clethodim"))
        ]
        for kind in ("planter", "sprayer", "tillage_tool", "mower", "seeder"):
            Machine.objects.create(**here, name=kind, kind=kind)
        roles = {"residual herbicide": self.materials[1].pk, "burndown herbicide": self.materials[0].pk}
        roles |= {"clethodim": self.materials[2].pk, "grass herbicide": self.materials[2].pk}
        near, far = self.plots
        for key, plot in (("corn", near), ("autumn_cereal", near), ("clover_established", far), ("fence", far)):
            sequence = latest_sequence(self.holding.pk, key)
            apply_sequence(plot=plot, sequence=sequence, year=2027, by=self.manager, materials=roles)
        walk_holding(self.holding.pk)


class Steps:
    """One random run over a played holding."""

    def __init__(self, played: Played, seed: int) -> None:
        self.random = random.Random(seed)
        self.holding = Holding.objects.get(pk=played.holding.pk)
        self.manager, self.series, self.plots = played.manager, played.series, played.plots
        self.materials = [Material.objects.get(pk=row.pk) for row in played.materials]
        self.said: list[str] = []
        self.all: list[Callable[[], Any]] = [
            self.report, self.report, self.report, self.report, self.see, self.correct, self.add_edge, self.change_edge,
            self.remove_edge, self.edit_job, self.call_off, self.call_branch, self.machine, self.material, self.stock,
            self.need, self.quiet, self.contract, self.consent, self.weather, self.weather, self.take_weather_back,
            self.rank, self.tenure, self.override, self.certificate, self.single, self.assign, self.season,
            self.hours, self.hours, self.hours, self.quiet_hours, self.step_clock, self.step_clock, self.step_clock,
        ]  # fmt: skip

    # what may be chosen

    def jobs(self) -> list[Job]:
        return list(Job.objects.filter(holding=self.holding).select_related("plot__property").order_by("id"))

    def job(self) -> Job:
        """Mostly one that is at hand, as people report on what they see in their lists."""
        ready = Job.objects.filter(holding=self.holding, reckoning__state__in=("open", "under_way", "held"))
        ready = list(ready.select_related("plot__property").order_by("id"))
        return self.random.choice(ready if ready and self.random.random() < 0.8 else self.jobs())

    def one(self, model: Any) -> Any:
        rows = list(model.objects.filter(holding=self.holding).order_by("id"))
        return self.random.choice(rows) if rows else None

    def day(self, back: int = 40, on: int = 60) -> date:
        return self.now.date() + timedelta(days=self.random.randint(-back, on))

    @property
    def now(self) -> datetime:
        assert self.holding.clock_at is not None
        return self.holding.clock_at

    # the steps; each says what it did

    def report(self) -> str:
        job, kind = self.job(), self.random.choice(("start", "done", "done", "could_not", "skipped", "still_to_do"))
        outcome = self.random.choice(job.outcomes) if kind == "done" and job.outcomes else ""
        acres = round(self.random.uniform(0.2, 2.0), 1) if self.random.random() < 0.3 and job.acres else None
        reason = self.random.choice(("machine", "weather", "people")) if kind == "could_not" else ""
        self._report(job, kind, outcome=outcome, acres=acres, reason=reason, day_only=self.random.random() < 0.2)
        return f"{kind} {outcome} {acres or ''} {reason} of {job}"

    def see(self) -> str:
        kind, job = self.random.choice([*sorted(reference().observations), "emerged", "not_emerged"]), self.job()
        if self.random.random() < 0.5:
            self._report(job, "seen", outcome=kind)
        else:
            self._report(None, "seen", outcome=kind, plot=job.plot_id)
        return f"seen {kind} at {job}"

    def correct(self) -> str:
        report = self.one(Report)
        if report is None:
            return "nothing to correct"
        kind = self.random.choice(("withdrawn", report.kind))
        outcome = report.outcome if kind == report.kind else ""
        self._report(report.job, kind, outcome=outcome, plot=report.plot_id, corrects=report.pk)
        return f"{kind} in place of {report}"

    def _report(self, job: Job | None, kind: str, **more: Any) -> None:
        happened = self.now - timedelta(hours=self.random.randint(0, 300))
        new = NewReport(
            client_id=uuid.UUID(int=self.random.getrandbits(128)),
            kind=kind,
            happened_at=happened,
            job=job.pk if job else None,
            **more,
        )
        store_report(person=self.manager, new=new, now=self.now)

    def add_edge(self) -> str:
        tail, head = self.random.sample(self.jobs(), 2)
        unit = self.random.choice((LagUnit.DAYS, LagUnit.HOURS, LagUnit.DEGREE_DAYS, LagUnit.RAIN_IN))
        amount = {"days": 3, "hours": 30, "degree_days": 90, "rain_in": 0.5}[unit]
        high = (self.random.choice((5, 20)), LagUnit.DAYS) if self.random.random() < 0.3 else (None, "")
        link = Prerequisite(
            holding=self.holding, predecessor=tail, successor=head, relation=self.random.choice(LinkRelation.values),
            min_amount=amount, min_unit=unit, max_amount=high[0], max_unit=high[1], source="common-practice",
            degree_days="86/50" if unit == LagUnit.DEGREE_DAYS else "",
            confirm=self.random.choice(("", "", "emerged", "regrowth")),
        )  # fmt: skip
        add_link(link=link, by=self.manager)
        return f"edge {tail} -> {head} {unit}"

    def change_edge(self) -> str:
        link = self.one(Prerequisite)
        link.min_amount = link.min_amount + self.random.choice((-1, 1, 4)) if link.min_amount >= 1 else 1
        change_link(link=link, by=self.manager, fields=["min_amount"])
        return f"edge {link} waits {link.min_amount}"

    def remove_edge(self) -> str:
        link = self.one(Prerequisite)
        remove_link(link=link, by=self.manager)
        return f"no edge {link}"

    def edit_job(self) -> str:
        job = self.random.choice(self.jobs())
        job.first_day = self.day()
        job.last_day = job.first_day + timedelta(days=self.random.randint(0, 90))
        job.duration_min = self.random.choice((15, 90, 600, 2000))
        job.deadline = self.random.choice((None, self.day()))
        change_job(job=job, by=self.manager, fields=["first_day", "last_day", "duration_min", "deadline"])
        return f"days of {job} {job.first_day} {job.last_day}"

    def call_off(self) -> str:
        job = self.random.choice(self.jobs())
        call_off(job=job, by=self.manager, now=self.now)
        return f"called off {job}"

    def call_branch(self) -> str:
        branch = self.one(Branch)
        call_branch(branch=branch, off=branch.called_off_at is None, by=self.manager, now=self.now)
        return f"called branch {branch} off or on"

    def season(self) -> str:
        if self.random.random() < 0.7:
            return "left the seasons alone"
        season = self.one(Season)
        call_off_season(season=season, by=self.manager, now=self.now)
        return f"called off {season}"

    def machine(self) -> str:
        machine = self.one(Machine)
        machine.state, machine.until = self.random.choice(MachineState.values), self.random.choice((None, self.day()))
        save_row(row=machine, by=self.manager, fields=["state", "until"])
        return f"{machine} {machine.state} {machine.until}"

    def material(self) -> str:
        material = self.random.choice(self.materials)
        material.active = self.random.choice(ACTIVES)
        save_row(row=material, by=self.manager, fields=["active"])
        return f"{material} is {material.active}"

    def stock(self) -> str:
        material = self.random.choice(self.materials)
        quantity = self.random.choice((-3.0, 0.5, 20.0))
        save_row(
            row=StockMove(holding=self.holding, material=material, quantity=quantity, at=self.now), by=self.manager
        )
        return f"{quantity} of {material}"

    def need(self) -> str:
        need = self.random.choice(
            list(Need.objects.filter(holding=self.holding, kind=NeedKind.MATERIAL).order_by("id"))
        )
        if self.random.random() < 0.2:
            remove_row(row=need, by=self.manager)
            return f"no {need}"
        need.material, need.rate_per_acre = self.random.choice((None, *self.materials)), self.random.choice((None, 1.5))
        save_row(row=need, by=self.manager, fields=["material", "rate_per_acre"])
        return f"{need} of {need.job} is {need.material}"

    def quiet(self) -> str:
        first, place = self.day(10, 20), self.one(Property)
        row = QuietTime(
            holding=self.holding, property=place, kind=self.random.choice(("closed", "ban")), first_day=first,
            last_day=first + timedelta(days=self.random.randint(0, 9)), reason="hunting",
            operation=self.random.choice(("", "spray")),
        )  # fmt: skip
        save_row(row=row, by=self.manager)
        return f"quiet {row}"

    def contract(self) -> str:
        row = Contract(
            holding=self.holding, property=self.one(Property), practice="cover", first_day=date(2026, 1, 1),
            last_day=date(2030, 1, 1), closed_from="05-01", closed_to=self.random.choice(("05-07", "08-01")),
        )  # fmt: skip
        save_row(row=row, by=self.manager)
        return f"contract {row}"

    def consent(self) -> str:
        given = self.random.choice((None, self.day(5, 5)))
        whose = f"neighbour {self.random.getrandbits(30)}"
        row = Consent(holding=self.holding, property=self.one(Property), whose=whose, given_on=given)
        save_row(row=row, by=self.manager)
        return f"consent of {row}, {given}"

    def weather(self) -> str:
        day, kind = self.day(9, 4), self.random.choice(DayKind.values)
        values = {"high_f": self.random.randint(60, 95), "low_f": self.random.randint(30, 60)}
        values["rain_in"] = self.random.choice((None, 0.0, 0.6, 1.2))
        row = Day.objects.filter(series=self.series, date=day, kind=kind).first()
        row = row or Day(series=self.series, date=day, kind=kind)
        for name, value in values.items():
            setattr(row, name, value)
        save_values(row=row, by=self.manager, fields=sorted(values))
        return f"{kind} {day} {values}"

    def hours(self) -> str:
        """A forecast of some days, fresh or old, with gaps and a wind that makes and breaks windows."""
        issued = self.now - timedelta(hours=self.random.randint(0, 30))
        first = floor_minute(issued) // 60 * 60
        rows, totals = [], []
        for at in range(first, first + 60 * self.random.choice((6, 60, 190)), 60):
            if self.random.random() < 0.03:
                continue
            wind = self.random.choice((2.0, 6.0, 6.0, 6.0, 6.0, 9.0, 14.0))
            rows.append(HourValues(at, temp_f=64.0, dew_point_f=50.0, wind_mph=wind, gust_mph=wind + 3))
            totals.append(RainTotal(at, at + 60, self.random.choice((0.0,) * 40 + (0.4,))))
        stored = store_forecast(
            series_id=self.series.pk, forecast=Forecast(floor_minute(issued), tuple(rows), tuple(totals))
        )
        return f"{len(rows)} hours of {issued}, {'stored' if stored else 'older than what is there'}"

    def quiet_hours(self) -> str:
        place, first = self.one(Property), self.day(5, 5)
        row = QuietTime(
            holding=self.holding, property=place, kind=self.random.choice(("closed", "only")), first_day=first,
            last_day=first + timedelta(days=self.random.randint(0, 9)), from_time=time(9), to_time=time(15),
            reason="gate",
        )  # fmt: skip
        save_row(row=row, by=self.manager)
        return f"quiet hours {row}"

    def take_weather_back(self) -> str:
        days = list(Day.objects.filter(series=self.series).order_by("id"))
        if days:
            remove_values(row=self.random.choice(days), by=self.manager)
        return "a day less"

    def rank(self) -> str:
        ranked = self.one(PropertySeries)
        if ranked is None or self.random.random() < 0.5:
            place = self.one(Property)
            rank = 1 + PropertySeries.objects.filter(property=place).count() + self.random.getrandbits(10)
            if not PropertySeries.objects.filter(property=place, series=self.series).exists():
                row = PropertySeries(holding=self.holding, property=place, rank=rank, series=self.series)
                save_row(row=row, by=self.manager)
        else:
            remove_row(row=ranked, by=self.manager)
        return "another rank of series"

    def tenure(self) -> str:
        place = self.one(Property)
        place.tenure_ends = self.random.choice((None, self.day()))
        save_row(row=place, by=self.manager, fields=["tenure_ends"])
        return f"{place} until {place.tenure_ends}"

    def override(self) -> str:
        until = self.random.choice((None, self.now + timedelta(hours=self.random.randint(1, 60))))
        job, rule = self.job(), self.random.choice((*KINDS, *overrulable_limits()))
        row = Override(holding=self.holding, job=job, rule=rule, reason="seen to", until=until)
        set_aside(override=row, by=self.manager, now=self.now)
        return f"{rule} of {job} set aside until {until}"

    def certificate(self) -> str:
        skill, _ = Skill.objects.get_or_create(holding=self.holding, name="pesticide applicator")
        row = Certificate(holding=self.holding, person=self.manager, skill=skill, valid_from=self.day(20, 3))
        save_row(row=row, by=self.manager)
        return f"certificate from {row.valid_from}"

    def single(self) -> str:
        plot = self.random.choice(self.plots)
        job = Job(
            holding=self.holding,
            plot=plot,
            operation=self.random.choice(("spray", "look", "till")),
            title="One more",
            duration_min=60,
        )
        add_job(job=job, by=self.manager)
        Need.objects.create(holding=self.holding, job=job, kind=NeedKind.SKILL, name="pesticide applicator")
        return f"single {job.operation}"

    def assign(self) -> str:
        job = self.job()
        assign_job(holding_id=self.holding.pk, job_id=job.pk, by=self.manager, person_id=self.manager.pk)
        return f"{job} to the manager, {Assignment.objects.count()} in all"

    def step_clock(self) -> str:
        wake = Graph.objects.get(holding=self.holding).wake_at
        assert wake is not None
        ahead = self.random.choice(
            (timedelta(0), timedelta(minutes=-1), timedelta(hours=self.random.randint(1, 80)), timedelta(days=20))
        )
        self.holding.clock_at = max(self.now, wake + ahead)
        Holding.objects.filter(pk=self.holding.pk).update(clock_at=self.holding.clock_at)
        return f"clock at {self.holding.clock_at}"

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
