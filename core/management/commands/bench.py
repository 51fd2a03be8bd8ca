"""`manage.py bench NAME`: one of the benches in tests/bench, on a database that is thrown away afterwards."""

import importlib
import json
import tempfile
from argparse import ArgumentParser
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from types import ModuleType
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.db import connection

from core.celery import app

BENCHES = settings.ROOT / "tests" / "bench"


class Command(BaseCommand):
    help = "Time one part of the program beside general libraries; results are held to be equal first."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("name", help=f"one of: {', '.join(_names())}")
        parser.add_argument("--full", action="store_true", help="also the largest sizes, for minutes")
        parser.add_argument(
            "--sizes", type=int, nargs="+", help="these numbers of jobs instead; for `faults`, these faults alone"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        """The last line is JSON: bench, ratios, equal, rows. Ends with 1 if the results were not equal."""
        bench = _bench(options["name"])
        with thrown_away():
            found = bench.main(sizes=options["sizes"], full=options["full"], say=self.stdout.write)
        for line in _table(found["rows"]):
            self.stdout.write(line)
        answer = {"bench": options["name"], "ratios": found["ratios"], "equal": found["equal"], "rows": found["rows"]}
        self.stdout.write(json.dumps(answer))
        if not found["equal"]:
            raise SystemExit(1)


def _names() -> list[str]:
    return sorted(path.stem for path in BENCHES.glob("*.py") if "\ndef main(" in path.read_text(encoding="utf-8"))


def _bench(name: str) -> ModuleType:
    """The bench's module; its libraries are those of the tests, not of the program."""
    if name not in _names():
        raise CommandError(f"There is no bench '{name}'. There are: {', '.join(_names())}.")
    try:
        return importlib.import_module(f"tests.bench.{name}")
    except ModuleNotFoundError as missing:
        raise CommandError(
            f"The bench compares with {missing.name}, which is not installed. "
            "Run: python -m pip install -r tests/requirements.txt"
        ) from missing


@contextmanager
def thrown_away() -> Iterator[None]:
    """An empty database of its own name with all tables, and an empty data folder; both go at the end."""
    data = settings.DATA
    with tempfile.TemporaryDirectory(prefix="bench-") as folder:
        if connection.vendor == "sqlite":
            name = str(Path(folder) / "bench.sqlite3")
        else:
            name = f"bench_{connection.settings_dict['NAME']}"
        before = connection.settings_dict["NAME"]
        connection.settings_dict["TEST"]["NAME"] = name
        settings.DATA = Path(folder)
        app.conf.update(broker_url="memory://localhost", broker_transport_options={})
        connection.creation.create_test_db(verbosity=0, autoclobber=True, serialize=False)
        try:
            yield
        finally:
            connection.creation.destroy_test_db(before, verbosity=0)
            settings.DATA = data


def _table(rows: Sequence[dict[str, Any]]) -> Iterator[str]:
    if not rows:
        return
    widths = {name: max(len(name), *(len(str(row.get(name, ""))) for row in rows)) for name in rows[0]}
    for row in ({name: name for name in widths}, *rows):
        cells = (
            f"{row.get(name, '')!s:<{width}}" if isinstance(rows[0][name], str) else f"{row.get(name, '')!s:>{width}}"
            for name, width in widths.items()
        )
        yield "  ".join(cells).rstrip()
