"""The shipped reference data of land. Read once a process."""

import tomllib
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
def crops() -> dict[str, str]:
    """The names of crops by key, from the folder `fixtures`."""
    text = (Path(settings.FIXTURES) / "crops.toml").read_text(encoding="utf-8")
    return {key: str(row["name"]) for key, row in tomllib.loads(text).items()}


def crop_key(text: str) -> str | None:
    """The key of a crop that is named by key or name, in any letters; "" for "" and None where no crop has the name."""
    name = "_".join(text.replace("_", " ").lower().split())
    names = {"": ""} | {"_".join(one.lower().split()): key for key, one in crops().items()}
    return name if name in crops() else names.get(name)


def unknown_crop(text: str) -> str:
    """Why a name of a crop is not taken, and which are."""
    return f"No crop is named '{text}'. Give one of {', '.join(crops())}, or nothing for every other crop."


@cache
def shelf() -> Shelf:
    """The calculators with their sources and cautions, from the folder `fixtures`."""
    names = ("calculators", "sources", "cautions")
    return read_calculators(*((Path(settings.FIXTURES) / f"{name}.toml").read_text(encoding="utf-8") for name in names))
