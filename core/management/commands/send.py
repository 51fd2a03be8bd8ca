"""`manage.py send`: send the reminders that are due, without any broker."""

import signal
import threading
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import close_old_connections

from core.services.notices import sweep


class Command(BaseCommand):
    help = "Send the reminders that are due, once or again and again. Needs no broker and disturbs no worker."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--loop", type=float, metavar="SECONDS", help="sweep again after so many seconds until stopped"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        pause = options["loop"]
        if pause is None:
            self._sweep()
            return
        if pause <= 0:
            raise CommandError("Give --loop a number of seconds above 0.")
        stop = threading.Event()
        for number in (signal.SIGTERM, signal.SIGINT):
            signal.signal(number, lambda *_: stop.set())
        while not stop.is_set():
            self._sweep()
            close_old_connections()
            stop.wait(pause)

    def _sweep(self) -> None:
        done = sweep()
        self.stdout.write(f"{done.sent} sent, {done.again} to be tried again, {done.parked} parked.")
