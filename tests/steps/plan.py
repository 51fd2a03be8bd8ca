"""Steps that report on jobs and change the plan."""

from __future__ import annotations

import uuid
from datetime import timedelta
from typing import Any

from core.services.rows import remove_row, save_row
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
from jobs.services.seasons import call_off
from jobs.services.single import add_job, change_job
from jobs.services.withdrawing import withdraw_season
from tests.steps.played import Chosen


class PlanSteps(Chosen):
    """Each says what it did."""

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
        if self.random.random() < 0.5:
            withdraw_season(season=season, by=self.manager)
            return f"withdrew {season}"
        call_off_season(season=season, by=self.manager, now=self.now)
        return f"called off {season}"

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

    def override(self) -> str:
        until = self.random.choice((None, self.now + timedelta(hours=self.random.randint(1, 60))))
        job, rule = self.job(), self.random.choice((*KINDS, *overrulable_limits()))
        row = Override(holding=self.holding, job=job, rule=rule, reason="seen to", until=until)
        set_aside(override=row, by=self.manager, now=self.now)
        return f"{rule} of {job} set aside until {until}"

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
