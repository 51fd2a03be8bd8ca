"""`manage.py apply`: put a sequence on a plot."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from core.errors import Refused
from jobs.models import Sequence
from jobs.services.seasons import apply_sequence, latest_sequence
from jobs.services.walking import walk_holding
from plots.models import Plot


class Command(BaseCommand):
    help = "Put a sequence on a plot; without a name, list the sequences."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("sequence", nargs="?", help="key of the sequence, like corn")
        parser.add_argument("--plot", help="name of the plot")
        parser.add_argument("--property", help="name of its property, where several plots have the name")
        parser.add_argument("--year", type=int, help="anchor year (default: this year)")

    def handle(self, *args: Any, **options: Any) -> None:
        if not options["sequence"]:
            for sequence in Sequence.objects.filter(retired=False).order_by("key", "version"):
                self.stdout.write(f"{sequence.key:24} {sequence.name}")
            return
        plots = Plot.objects.filter(name=options["plot"]).select_related("property").order_by("id")
        if options["property"]:
            plots = plots.filter(property__name=options["property"])
        found = list(plots)
        if len(found) != 1:
            several = ", ".join(f"{plot.name} on {plot.property.name}" for plot in found) or "no plot"
            raise CommandError(f"'{options['plot']}' names {several}. Give --plot and --property of one plot.")
        (plot,) = found
        try:
            season = apply_sequence(
                plot=plot,
                sequence=latest_sequence(plot.holding_id, options["sequence"]),
                year=options["year"] or timezone.now().year,
                by=None,
            )
        except Refused as error:
            raise CommandError(f"{error.sentence} Nothing was stored.") from error
        walk_holding(plot.holding_id)
        self.stdout.write(f"{season.label} stands on {plot.name}: {season.jobs.count()} jobs.")
