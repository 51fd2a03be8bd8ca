"""The shipped reference data of land. Read once a process."""

from functools import cache
from pathlib import Path

from django.conf import settings

from plots.agronomy.calculators import Shelf, read_calculators
from plots.nesting import NestingSeason, read_nesting


@cache
def nesting_seasons() -> tuple[NestingSeason, ...]:
    """Nesting seasons by state, from the folder `fixtures`."""
    return read_nesting((Path(settings.FIXTURES) / "nesting.toml").read_text(encoding="utf-8"))


@cache
def shelf() -> Shelf:
    """The calculators with their sources and cautions, from the folder `fixtures`."""
    names = ("calculators", "sources", "cautions")
    return read_calculators(*((Path(settings.FIXTURES) / f"{name}.toml").read_text(encoding="utf-8") for name in names))
