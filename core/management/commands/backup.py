"""`manage.py backup FILE`: everything in the database as one file, while the program runs."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from core.errors import Refused
from core.services.backups import backup


class Command(BaseCommand):
    help = "Write the whole database to a new file, while others go on writing. Never writes over a file."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, help="a name that is free, on a disk of its own at best")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            made = backup(file=options["file"])
        except (Refused, OSError) as error:
            raise CommandError(f"{error} There is no backup.") from error
        self.stdout.write(
            f"{options['file']}: {sum(made.rows.values())} rows of {len(made.rows)} tables, "
            f"{options['file'].stat().st_size} bytes. Not in it: {', '.join(made.left_out)}."
        )
