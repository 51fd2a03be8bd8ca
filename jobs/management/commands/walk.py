"""`manage.py walk`: bring the reckonings up to the facts, or check that they are."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from core.clock import now_at
from core.models import Holding, HoldingState
from jobs.management.asked import add_holding, holding_asked, not_walked
from jobs.models import Job
from jobs.printing import print_clock
from jobs.services.walking import differences, walk_holding


class Command(BaseCommand):
    help = "Walk the graph of a holding, or of all: what changed is reckoned and reminders are written."

    def add_arguments(self, parser: ArgumentParser) -> None:
        add_holding(parser)
        parser.add_argument("--whole", action="store_true", help="reckon every job anew, whatever changed")
        parser.add_argument(
            "--check", action="store_true", help="reckon every job anew, store nothing, exit code 1 if one differs"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        if options["holding"] is not None:
            holdings = [holding_asked(options["holding"])]
        else:
            holdings = list(Holding.objects.filter(state=HoldingState.ACTIVE).order_by("id"))
        differing = 0
        for holding in holdings:
            for line in print_clock(holding, now_at(holding)):
                self.stdout.write(line)
            if options["check"]:
                differing += self._check(holding)
            else:
                self._walk(holding, options["whole"])
        if not holdings:
            self.stdout.write("There is no holding yet.")
        if differing:
            raise CommandError(f"{differing} stored reckonings differ. Run `manage.py walk --whole`.")

    def _walk(self, holding: Holding, whole: bool) -> None:
        done = walk_holding(holding.pk, whole=whole)
        self.stdout.write(
            f"{done.reckoned} jobs reckoned, {len(done.changed)} changed; "
            f"{done.notices} reminders written, {done.withdrawn} taken back."
        )

    def _check(self, holding: Holding) -> int:
        for line in not_walked(holding):
            self.stdout.write(line)
        found = differences(holding.pk)
        titles = dict(Job.objects.filter(pk__in=found).values_list("pk", "title"))
        for job, columns in found.items():
            self.stdout.write(f"- Job {job}, {titles[job]}: {', '.join(columns)}")
        jobs = Job.objects.filter(holding=holding).count()
        self.stdout.write(f"{jobs} jobs reckoned anew, {len(found)} differ from what is stored.")
        return len(found)
