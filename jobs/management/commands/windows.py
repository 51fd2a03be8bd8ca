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
from jobs.services.walking import ENDED, walk_holding
from jobs.windows.picture import week

LISTED = 12


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
    """The one job meant; of those with the title the ones still to be done, where there are any.

    Raises:
        CommandError: none fits, or several do; these are listed.
    """
    jobs = Job.objects.filter(holding=holding, plot__property__name__istartswith=place, reckoning__isnull=False)
    jobs = jobs.filter(pk=int(asked)) if asked.isdecimal() else jobs.filter(title__istartswith=asked)
    open_jobs = jobs.exclude(reckoning__state__in=ENDED)
    order = ("reckoning__next_window", "reckoning__latest_start", "id")
    found = list((open_jobs if open_jobs.exists() else jobs).select_related("plot__property").order_by(*order))
    named = [job for job in found if job.title.casefold() == asked.casefold()]
    if len(named or found) == 1:
        return (named or found)[0]
    if not found:
        raise CommandError(f"No job at '{place}' has the id or begins with '{asked}'.")
    listed = [f"{job.pk}: {job.title}, {job.plot}, {job.plot.property}" for job in (named or found)[:LISTED]]
    more = f" and {len(named or found) - LISTED} more" if len(named or found) > LISTED else ""
    raise CommandError(f"Several jobs fit; name one by its number or a longer word. {'; '.join(listed)}{more}.")
