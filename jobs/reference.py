"""The shipped reference data: sources, field operations, cautions, crops. Read once a process."""

from functools import cache
from pathlib import Path

from django.conf import settings

from jobs.sequences import Reference, read_reference
from jobs.windows.catalogue import Default, read_limits
from jobs.windows.ground import GroundSettings, read_ground


@cache
def reference() -> Reference:
    """The words of the trade that ship with the program, from the folder `fixtures`."""
    folder = Path(settings.FIXTURES)
    names = ("sources", "operations", "cautions", "crops")
    return read_reference(*((folder / f"{name}.toml").read_text(encoding="utf-8") for name in names))


@cache
def limits() -> tuple[Default, ...]:
    """The general defaults of the limits in which field operations may go."""
    known = reference()
    text = (Path(settings.FIXTURES) / "limits.toml").read_text(encoding="utf-8")
    return read_limits(text, sources=known.sources, operations=known.operations)


@cache
def ground_settings() -> GroundSettings:
    """When a report from the ground ends, and when the reckoning calls the ground wet."""
    return read_ground((Path(settings.FIXTURES) / "ground.toml").read_text(encoding="utf-8"))
