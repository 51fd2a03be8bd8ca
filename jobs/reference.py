"""The shipped reference data: sources, field operations, cautions, crops. Read once a process."""

from functools import cache
from pathlib import Path

from django.conf import settings

from jobs.sequences import Reference, read_reference
from jobs.windows.catalogue import Default, read_limits
from jobs.windows.ground import GroundSettings, read_ground
from plots.agronomy.growth import Stages, read_stages
from plots.agronomy.replant import ReplantData, read_replant


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


@cache
def growth_stages() -> tuple[Stages, ...]:
    """Published stages of crops by degree days."""
    known = reference()
    text = (Path(settings.FIXTURES) / "growth.toml").read_text(encoding="utf-8")
    return read_stages(text, sources=known.sources, crops=known.crops)


@cache
def replant_data() -> ReplantData:
    """What is published on keeping a poor stand or planting again."""
    return read_replant(
        (Path(settings.FIXTURES) / "replant.toml").read_text(encoding="utf-8"), sources=reference().sources
    )
