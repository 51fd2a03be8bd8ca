"""One file that holds the whole database, and the way back from it, on SQLite and on PostgreSQL.

The file is a zip of two members: `manifest.json`, and `database` (a SQLite file, or an archive of `pg_dump`). Sessions,
the secret of the data folder and the settings of the environment are left out, so that a lost file opens no door: of
tokens, invitations and passwords it holds hashes. People sign in anew after a restore.
"""

import fcntl
import os
import shutil
import tempfile
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Protocol

from django.db import connection
from django.db.migrations.loader import MigrationLoader

from core.errors import Refused
from core.services.backups import postgres, sqlite
from core.services.backups.archive import Content, Manifest, keep_names, read, write


class Engine(Protocol):
    """What a database can do for a backup; both modules of this package are one."""

    def dump(self, to: Path) -> Content: ...

    def holds_something(self) -> bool: ...

    def load(self, dump: Path, manifest: Manifest) -> None: ...


ABANDONED_S = 86_400
"""A working folder this old that nobody holds was left by a command that was killed."""

ENGINES: Mapping[str, Engine] = {"sqlite": sqlite, "postgresql": postgres}


def backup(*, file: Path) -> Manifest:
    """Write everything that was committed before the call to `file`, while others go on writing.

    The file appears whole or not at all, readable by its owner alone, and is on the disk when this returns.

    Raises:
        Refused: the file is there already, its folder is not, or the database's own tool failed.
    """
    file = file.absolute()
    if file.exists():
        raise Refused(f"{file} is there already. Give a name that is free; backups are never written over.")
    if not file.parent.is_dir():
        raise Refused(f"There is no folder {file.parent}. Make it, or give another place.")
    with _working_folder(".backup-", file.parent) as folder:
        dump, whole = folder / "database", folder / "whole"
        content = ENGINES[connection.vendor].dump(dump)
        manifest = write(whole, dump=dump, engine=connection.vendor, content=content)
        if file.exists():
            raise Refused(f"{file} was written by somebody else meanwhile. Nothing of it was changed.")
        whole.replace(file)
    keep_names(file.parent)
    return manifest


def restore(*, file: Path, replace: bool = False) -> Manifest:
    """Put the database back as `file` has it, and bring it up to the program's tables.

    What is there is left as it is until the new one was loaded and proved, and for good if anything fails. A database
    that holds something is replaced only when `replace` says so and nobody else has it open.

    Raises:
        Refused: the file is damaged, of another engine or of a newer program; the database holds something and
            `replace` is not said; somebody else has it open; or the database's own tool failed.
    """
    engine = ENGINES[connection.vendor]
    with _working_folder(".restore-", _workplace()) as folder:
        dump = folder / "database"
        manifest = read(file.absolute(), dump_to=dump)
        _suits(manifest)
        if not replace and engine.holds_something():
            raise Refused(
                "The database holds a holding or a sign-in already. Back it up, stop everything that uses it, and say "
                "--replace if the file is to take its place."
            )
        engine.load(dump, manifest)
    return manifest


@contextmanager
def _working_folder(prefix: str, place: Path | None) -> Iterator[Path]:
    """An empty folder in `place`, held until it is cleared away. What killed commands left there goes first; the
    system's own folder for such things, None, clears itself."""
    if place is not None:
        for left in sorted(place.glob(f"{prefix}*")):
            with suppress(OSError), _held(left):
                if time.time() - left.stat().st_mtime > ABANDONED_S:
                    shutil.rmtree(left)
    with tempfile.TemporaryDirectory(prefix=prefix, dir=place) as folder, _held(Path(folder)):
        yield Path(folder)


@contextmanager
def _held(folder: Path) -> Iterator[None]:
    """Hold a folder; the system lets go of it when the process ends, however it ends.

    Raises:
        OSError: somebody else holds it, or it is no folder of ours.
    """
    handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY | os.O_NOFOLLOW)
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        yield
    finally:
        os.close(handle)


def _suits(manifest: Manifest) -> None:
    if manifest.engine != connection.vendor:
        raise Refused(f"The file is a backup of {manifest.engine}, and this database is {connection.vendor}.")
    known = {f"{app}.{name}" for app, name in MigrationLoader(None).disk_migrations}
    newer = sorted(set(manifest.migrations) - known)
    if newer:
        raise Refused(
            f"The file was made by a newer program: this one does not know {', '.join(newer)}. Update it, then restore."
        )


def _workplace() -> Path | None:
    """A folder on the disk of the database, so that the last step is a rename; the system's own for a server."""
    return Path(connection.settings_dict["NAME"]).parent if connection.vendor == "sqlite" else None
