"""The file of a backup: a zip of a manifest and a database."""

import hashlib
import json
import os
import shutil
import zipfile
import zlib
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from pathlib import Path

from core.errors import Refused

FORMAT = "readyground-backup-1"
LEFT_OUT = ("sessions", "secret of the data folder", "settings of the environment")
SESSIONS = "django_session"


@dataclass(frozen=True, slots=True)
class Content:
    """What a dump holds: the migrations behind its tables, as "app.name", and the rows of each table."""

    migrations: tuple[str, ...]
    rows: Mapping[str, int]


@dataclass(frozen=True, slots=True)
class Manifest:
    """`sha256` and `bytes` are those of the member `database`; `made_at` is in UTC."""

    format: str
    engine: str
    made_at: str
    migrations: tuple[str, ...]
    rows: Mapping[str, int]
    left_out: tuple[str, ...]
    sha256: str
    bytes: int


def write(file: Path, *, dump: Path, engine: str, content: Content) -> Manifest:
    """Pack the dump with its manifest, readable by the owner alone, and wait until the disk has it."""
    manifest = Manifest(
        format=FORMAT,
        engine=engine,
        made_at=datetime.now(UTC).isoformat(timespec="seconds"),
        migrations=content.migrations,
        rows=content.rows,
        left_out=LEFT_OUT,
        sha256=_digest(dump),
        bytes=dump.stat().st_size,
    )
    with os.fdopen(os.open(file, os.O_RDWR | os.O_CREAT | os.O_EXCL, 0o600), "w+b") as handle:
        with zipfile.ZipFile(handle, "w", compression=zipfile.ZIP_DEFLATED, compresslevel=1) as packed:
            packed.writestr("manifest.json", json.dumps(asdict(manifest), indent=1))
            packed.write(dump, "database")
        handle.flush()
        os.fsync(handle.fileno())
    return manifest


def read(file: Path, *, dump_to: Path) -> Manifest:
    """Unpack the database of a backup and give its manifest.

    Raises:
        Refused: the file is not there, is no backup of this format, or is not what was written.
    """
    damaged = f"{file} is damaged or no backup of this program. Nothing was changed; try another file."
    try:
        with zipfile.ZipFile(file) as packed:
            found = json.loads(packed.read("manifest.json"))
            if found["format"] != FORMAT:
                raise Refused(f"{file} has the format '{found['format']}'; this program reads '{FORMAT}'.")
            listed = {name: tuple(found[name]) for name in ("migrations", "left_out")}
            manifest = Manifest(**{**found, **listed, "rows": {str(k): int(v) for k, v in found["rows"].items()}})
            with packed.open("database") as source, dump_to.open("xb") as target:
                shutil.copyfileobj(source, target, 1 << 20)
    except FileNotFoundError as error:
        raise Refused(f"There is no file {file}.") from error
    except IsADirectoryError as error:
        raise Refused(f"{file} is a folder. Give the file of a backup.") from error
    except (zipfile.BadZipFile, zlib.error, EOFError, ValueError, KeyError, TypeError, AttributeError) as error:
        raise Refused(damaged) from error
    except RuntimeError as error:  # a password, or a way of packing that is not known here
        raise Refused(damaged) from error
    if _digest(dump_to) != manifest.sha256:
        raise Refused(damaged)
    return manifest


def keep_names(folder: Path) -> None:
    """Have the folder's names on the disk; a file system that cannot do that keeps them in its own time."""
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    except OSError:
        return
    finally:
        os.close(handle)


def _digest(path: Path) -> str:
    with path.open("rb") as handle:
        return hashlib.file_digest(handle, "sha256").hexdigest()
