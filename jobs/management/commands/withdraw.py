"""`manage.py withdraw`: take back a season that was put on a plot by mistake."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from core.clock import now_at
from core.errors import Refused
from jobs.management.asked import manager_of, plot_asked
from jobs.models import Season
from jobs.services.calling_off import call_off_season
from jobs.services.walking import walk_holding
from jobs.services.withdrawing import withdraw_season
from plots.models import Plot


class Command(BaseCommand):
    help = "Take back a season that was applied by mistake, with its jobs. What was reported is never lost."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("season", help='label of the season, like "Corn 2027"')
        parser.add_argument("--plot", required=True, help="name of the plot")
        parser.add_argument("--property", help="name of its property, where several plots have the name")
        parser.add_argument(
            "--call-off",
            action="store_true",
            help="keep the season and call off what is not done, for one with reports",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        plot = plot_asked(options["plot"], options["property"])
        season, label = _season(plot, options["season"]), options["season"]
        jobs = season.jobs.count()
        if options["call_off"]:
            call_off_season(season=season, by=manager_of(plot.holding), now=now_at(plot.holding))
            told = (
                f"{label} on {plot.name} is called off: what was reported stays, nothing of it is to be done any more."
            )
        else:
            try:
                withdraw_season(season=season, by=None)
            except Refused as error:
                raise CommandError(f"{error.sentence} Say --call-off for that. Nothing was changed.") from error
            told = f"{label} is withdrawn from {plot.name}: {jobs} jobs are gone."
        walk_holding(plot.holding_id)
        self.stdout.write(told)


def _season(plot: Plot, label: str) -> Season:
    seasons = list(Season.objects.filter(plot=plot).order_by("id"))
    found = [season for season in seasons if season.label.casefold() == label.casefold()]
    if len(found) != 1:
        known = ", ".join(season.label for season in seasons) or "none"
        raise CommandError(f"No one season on {plot.name} is called '{label}'. There are: {known}.")
    return found[0]
