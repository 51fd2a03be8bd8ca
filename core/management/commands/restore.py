"""`manage.py restore FILE`: the database as a backup has it."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from core.errors import Refused
from core.services.backups import restore


class Command(BaseCommand):
    help = (
        "Put a backup in the place of the database, which must be empty unless --replace is said. Stop `serve` first."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, help="a file that `manage.py backup` wrote")
        parser.add_argument(
            "--replace", action="store_true", help="put it over what is there, once the new one is proved"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            made = restore(file=options["file"], replace=options["replace"])
        except (Refused, OSError) as error:
            raise CommandError(str(error)) from error
        self.stdout.write(
            f"The database is as it was at {made.made_at}: {sum(made.rows.values())} rows of {len(made.rows)} tables. "
            "Everybody signs in anew."
        )
