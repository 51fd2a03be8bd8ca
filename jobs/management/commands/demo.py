"""`manage.py demo`: an invented holding, walked by a real worker, printed, then served."""

import signal
import sys
import time
from argparse import ArgumentParser
from subprocess import Popen
from typing import Any

from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.db import connection

from core.management.commands.serve import commands
from core.models import Graph, Holding, Notice, NoticeState, Person, Role
from jobs.printing import (
    print_chance,
    print_clock,
    print_held,
    print_message,
    print_next,
    print_progress,
    print_sent,
)
from jobs.selectors.next import held_jobs, next_jobs
from jobs.selectors.progress import progress
from jobs.selectors.replays import plot_chance
from jobs.services.demo import PASSWORD, build_demo, plot_of_history

PATIENCE_S = 60
HELD_SHOWN = 40
"""So many held jobs are printed, the nearest deadlines first."""


class Command(BaseCommand):
    help = "Build the demo holding, walk it through a real worker, print what is next, then serve until stopped."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--no-serve", action="store_true", help="end after printing")
        parser.add_argument("--host", default="127.0.0.1")
        parser.add_argument("--port", type=int, default=8000)

    def handle(self, *args: Any, **options: Any) -> None:
        began = time.monotonic()
        self._say("The demo takes about half a minute. It makes the tables ...")
        call_command("migrate", verbosity=0)
        self._say("It loads the invented holding with its weather ...")
        holding = build_demo()
        self._say("A real worker reckons its jobs and sends its reminders ...")
        self._through_the_worker(holding)
        self._say("It reads the lists, and plays a season through every year on record ...\n")
        for line in self._report(holding):
            self.stdout.write(line)
        self.stdout.write(f"\nThe demo took {time.monotonic() - began:.1f} s.")
        self.stdout.write(f"Sign in as one of these; the password of the demo is {PASSWORD}")
        for person in Person.objects.filter(holding=holding).select_related("user").order_by("id"):
            if person.user is not None:
                self.stdout.write(f"  {person.user.email}, {person.get_role_display()}")
        if options["no_serve"]:
            self.stdout.write("`python manage.py serve` opens the pages: http://127.0.0.1:8000/")
            return
        self.stdout.flush()
        call_command("serve", host=options["host"], port=options["port"])

    def _say(self, line: str) -> None:
        """At once: whoever waits sees what for."""
        self.stdout.write(line)
        self.stdout.flush()

    def _through_the_worker(self, holding: Holding) -> None:
        """Start a real worker, wait until the holding is walked and its reminders are sent, and let it end cleanly."""
        connection.close()
        (_, command), *_ = commands(web=None, redis=False)
        worker = Popen(command, start_new_session=True)
        try:
            until = time.monotonic() + PATIENCE_S
            while not self._settled(holding):
                if worker.poll() is not None:
                    raise CommandError(f"The worker ended by itself with exit code {worker.returncode}.")
                if time.monotonic() > until:
                    raise CommandError(f"The worker did not walk the demo in {PATIENCE_S} s.")
                time.sleep(0.1)
        finally:
            worker.send_signal(signal.SIGTERM)
            if worker.wait(30) and sys.exc_info()[0] is None:
                raise CommandError(f"The worker ended with exit code {worker.returncode}.")

    @staticmethod
    def _settled(holding: Holding) -> bool:
        graph = Graph.objects.get(pk=holding.pk)
        waiting = Notice.objects.filter(holding=holding, state__in=(NoticeState.QUEUED, NoticeState.CLAIMED))
        return graph.facts_version == graph.walked_version and not waiting.exists()

    @staticmethod
    def _report(holding: Holding) -> list[str]:
        now = holding.clock_at
        assert now is not None
        lines = print_clock(holding, now)
        people = Person.objects.filter(holding=holding, active=True).exclude(role=Role.VIEWER).order_by("id")
        for person in people:
            lines += print_next(next_jobs(holding=holding, person=person, now=now), holding=holding, person=person.name)
        manager = next(person for person in people if person.role == Role.MANAGER)
        held = held_jobs(holding=holding, person=manager, now=now)
        lines += print_held(held[:HELD_SHOWN], holding=holding)
        if len(held) > HELD_SHOWN:
            lines.append(f"And {len(held) - HELD_SHOWN} more with later deadlines, on the page Work by property.")
        lines += print_progress(progress(person=manager), by="property")
        lines += print_chance(plot_chance(holding, plot_of_history(holding), now))
        sent = Notice.objects.filter(holding=holding, state=NoticeState.SENT).select_related("person").order_by("id")
        lines += print_sent([(notice.person.name, notice.payload["title"]) for notice in sent])
        shown = next((notice for notice in sent if notice.person.role == Role.HELPER), None)
        if shown is not None:
            lines += print_message(shown.person.name, shown.payload["title"], shown.payload["lines"])
        return lines
