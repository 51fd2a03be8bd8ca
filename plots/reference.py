"""The shipped reference data of land. Read once a process."""

from functools import cache
from pathlib import Path

from django.conf import settings

from plots.nesting import NestingSeason, read_nesting


@cache
def nesting_seasons() -> tuple[NestingSeason, ...]:
    """Nesting seasons by state, from the folder `fixtures`."""
    return read_nesting((Path(settings.FIXTURES) / "nesting.toml").read_text(encoding="utf-8"))
