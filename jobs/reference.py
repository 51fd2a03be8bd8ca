"""The shipped reference data: sources, field operations, cautions, crops. Read once a process."""

from functools import cache
from pathlib import Path

from django.conf import settings

from jobs.sequences import Reference, read_reference


@cache
def reference() -> Reference:
    """The words of the trade that ship with the program, from the folder `fixtures`."""
    folder = Path(settings.FIXTURES)
    names = ("sources", "operations", "cautions", "crops")
    return read_reference(*((folder / f"{name}.toml").read_text(encoding="utf-8") for name in names))
