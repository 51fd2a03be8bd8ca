"""`manage.py progress`: how far the work is."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand

from core.clock import now_at
from jobs.management.asked import add_holding, holding_asked, manager_of, not_walked
from jobs.printing import print_clock, print_progress
from jobs.selectors.progress import GROUPS, progress


class Command(BaseCommand):
    help = "Jobs and acres done, and what is open, held and too late, by property, plot or sequence."

    def add_arguments(self, parser: ArgumentParser) -> None:
        add_holding(parser)
        parser.add_argument("--by", choices=sorted(GROUPS), default="property")
        parser.add_argument("--year", type=int, help="only jobs of seasons of this year")

    def handle(self, *args: Any, **options: Any) -> None:
        holding, by = holding_asked(options["holding"]), options["by"]
        rows = progress(person=manager_of(holding), by=by, year=options["year"])
        lines = [*print_clock(holding, now_at(holding)), *not_walked(holding)]
        for line in [*lines, *print_progress(rows, by=by, measure=holding.units)]:
            self.stdout.write(line)
