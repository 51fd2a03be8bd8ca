"""`manage.py import FILE`: facts out of a map or a table, whole or not at all."""

import time
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from core.clock import now_at
from core.errors import Refused
from jobs.management.asked import add_holding, holding_asked, property_asked
from jobs.printing import print_clock, print_imported
from plots.importing import KINDS, MAX_BYTES, guess_kind
from plots.services.importing import import_file

PATIENCE_S = 1.0


class Command(BaseCommand):
    help = "Store what a file holds. With one refused row nothing is stored, unless --keep-good. Exit code 1 if any is."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, help="GeoJSON, KML, KMZ, GPX or CSV")
        parser.add_argument("--kind", choices=KINDS, help="told from name and columns if left out")
        add_holding(parser)
        parser.add_argument("--property", metavar="NAME", help="of plots that name none, and what reads the weather")
        parser.add_argument("--zone", help="of hourly times without offset, like America/Chicago")
        parser.add_argument("--keep-good", action="store_true", help="store the good rows of a file with refused ones")

    def handle(self, *args: Any, **options: Any) -> None:
        holding = holding_asked(options["holding"])
        data = self._read(options["file"])
        kind = options["kind"] or guess_kind(options["file"].name, data)
        if kind is None:
            raise CommandError(f"What the file holds is not clear. Give --kind: {', '.join(KINDS)}.")
        for line in print_clock(holding, now_at(holding)):
            self.stdout.write(line)
        try:
            imported = import_file(
                holding=holding,
                kind=kind,
                data=data,
                by=None,
                keep_good=options["keep_good"],
                property=property_asked(holding, options["property"]),
                zone=options["zone"],
                progress=self._progress(),
            )
        except Refused as refused:
            raise CommandError(refused.sentence) from refused
        for line in print_imported(imported, kind=kind):
            self.stdout.write(line)
        if imported.refused:
            kept = imported.stored or imported.same
            raise CommandError(
                "Correct the refused rows and import the file again."
                if kept
                else "Nothing was stored. Correct the file and import it again, or keep its good rows by --keep-good."
            )

    @staticmethod
    def _read(path: Path) -> bytes:
        try:
            if path.stat().st_size > MAX_BYTES:
                raise CommandError(f"{path} has more than {MAX_BYTES:,} bytes. Split it and import each part.")
            return path.read_bytes()
        except OSError as error:
            raise CommandError(f"{path} cannot be read: {error.strerror}.") from error

    def _progress(self) -> Any:
        """Tells how far the import is, at most once a second, and when it is through a file that took longer."""
        told = time.monotonic()

        def tell(done: int, total: int) -> None:
            nonlocal told
            if time.monotonic() - told >= PATIENCE_S:
                told = time.monotonic()
                self.stdout.write(f"{done:,} of {total:,} rows")
                self.stdout.flush()

        return tell
