"""`manage.py windows --property P --job J`: the hours of one job over a week, as text or as a picture."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from core.clock import now_at
from core.models import Holding
from jobs.models import Job
from jobs.printing import print_windows
from jobs.selectors.week import job_week
from jobs.services.walking import walk_holding
from jobs.windows.picture import week


class Command(BaseCommand):
    help = "Tell in which hours of the week a job may go, what binds, and why not; with --svg draw it."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--property", required=True, help="its name, or the beginning of it")
        parser.add_argument("--job", required=True, help="its id, or the beginning of its title")
        parser.add_argument("--holding", help="name of the holding, where there are several")
        parser.add_argument("--svg", type=Path, help="write the picture of the week to this file")

    def handle(self, *args: Any, **options: Any) -> None:
        holding = _holding(options["holding"])
        walk_holding(holding.pk)
        job, now = _job(holding, options["property"], options["job"]), now_at(holding)
        found = job_week(holding, job, now)
        assert found is not None
        for line in print_windows(found.told):
            self.stdout.write(line)
        if options["svg"] is None:
            return
        if found.shown is None:
            raise CommandError(f"There is nothing to draw: {found.told['sentence']}")
        options["svg"].write_text(week(found.shown), encoding="utf-8")
        self.stdout.write(f"Drawn to {options['svg']}.")


def _holding(name: str | None) -> Holding:
    holdings = Holding.objects.order_by("id")
    found = list(holdings if name is None else holdings.filter(name__istartswith=name))
    if len(found) != 1:
        names = ", ".join(holding.name for holding in holdings) or "none"
        raise CommandError(f"Name one holding with --holding. These are there: {names}.")
    return found[0]


def _job(holding: Holding, place: str, asked: str) -> Job:
    """The job meant: of several with that title the one with the next window, then one whose hours were looked for."""
    jobs = Job.objects.filter(holding=holding, plot__property__name__istartswith=place)
    jobs = jobs.filter(pk=int(asked)) if asked.isdecimal() else jobs.filter(title__istartswith=asked)
    reckoned = jobs.filter(reckoning__isnull=False).order_by("reckoning__next_window", "reckoning__latest_start", "id")
    found = reckoned.filter(reckoning__next_window__isnull=False).first()
    found = found or reckoned.filter(reckoning__windows__isnull=False).first() or reckoned.first()
    if found is None:
        raise CommandError(f"No job at '{place}' has the id or begins with '{asked}'.")
    return found
