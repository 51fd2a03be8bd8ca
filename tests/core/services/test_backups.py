"""A backup is whole, taken under load, refused where it does not fit, and never costs what stands already."""

import fcntl
import hashlib
import json
import os
import stat
import subprocess
import sys
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import connection

from core.errors import Refused
from core.guards import installed
from core.models import Holding
from core.services.backups import backup, restore
from tests.faults.places import Place, places
from tests.faults.restores import drill


@pytest.fixture
def place() -> Iterator[Place]:
    with places(1) as (one,):
        yield one


def changed(file: Path, to: Path, change: Callable[[dict[str, Any], bytes], tuple[dict[str, Any], bytes]]) -> Path:
    """The same backup with another manifest or database, packed again without a fault."""
    with zipfile.ZipFile(file) as packed:
        manifest, database = change(json.loads(packed.read("manifest.json")), packed.read("database"))
    with zipfile.ZipFile(to, "w") as packed:
        packed.writestr("manifest.json", json.dumps(manifest))
        packed.writestr("database", database)
    return to


def test_every_report_acknowledged_before_a_backup_under_load_is_in_what_is_restored() -> None:
    told = drill(2)
    assert (told["lost"], told["doubled"]) == (0, 0)
    assert told["rounds"] == told["control_missed"] == 2
    assert told["meanwhile"] > 0, "nobody wrote while the backups were taken"


@pytest.mark.django_db(transaction=True)
def test_restored_database_holds_all_and_only_what_was_backed_up_with_its_guards(
    holding: Holding, tmp_path: Path
) -> None:
    guards = list(installed(connection))
    made = backup(file=tmp_path / "all.zip")
    assert made.rows["core_holding"] == 1
    assert "django_session" not in made.rows
    Holding.objects.create(name="Came later")
    restore(file=tmp_path / "all.zip", replace=True)
    assert list(Holding.objects.values_list("name", flat=True)) == ["Home holding"]
    assert list(installed(connection)) == guards
    call_command("migrate", check_unapplied=True, verbosity=0)


@pytest.mark.django_db(transaction=True)
def test_file_opens_no_door_and_is_for_its_owner_alone(
    manager: Any, signed_in: Callable[..., Any], tmp_path: Path
) -> None:
    session = signed_in(manager).cookies["sessionid"].value
    file = tmp_path / "all.zip"
    backup(file=file)
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    with zipfile.ZipFile(file) as packed:
        whole = packed.read("database")
    if connection.vendor == "sqlite":
        assert b"Manager of home" in whole, "the look would find a text that is there"
    assert session.encode() not in whole
    restore(file=file, replace=True)
    with connection.cursor() as cursor:
        cursor.execute("SELECT count(*) FROM django_session")
        assert cursor.fetchone() == (0,)


@pytest.mark.django_db(transaction=True)
def test_backup_never_writes_over_a_file_and_leaves_nothing_half_done(holding: Holding, tmp_path: Path) -> None:
    file = tmp_path / "there.zip"
    file.write_text("mine")
    with pytest.raises(CommandError, match="there already"):
        call_command("backup", str(file))
    with pytest.raises(CommandError, match="no folder"):
        call_command("backup", str(tmp_path / "nowhere" / "a.zip"))
    assert file.read_text() == "mine"
    assert list(tmp_path.iterdir()) == [file]


@pytest.mark.django_db(transaction=True)
def test_full_database_is_replaced_only_when_that_is_said(holding: Holding, tmp_path: Path) -> None:
    backup(file=tmp_path / "all.zip")
    with pytest.raises(CommandError, match="--replace"):
        call_command("restore", str(tmp_path / "all.zip"))
    call_command("restore", str(tmp_path / "all.zip"), "--replace")


def other_engine(manifest: dict[str, Any], database: bytes) -> tuple[dict[str, Any], bytes]:
    return {**manifest, "engine": "another"}, database


def newer_program(manifest: dict[str, Any], database: bytes) -> tuple[dict[str, Any], bytes]:
    return {**manifest, "migrations": [*manifest["migrations"], "core.9999_from_tomorrow"]}, database


def one_bit_turned(manifest: dict[str, Any], database: bytes) -> tuple[dict[str, Any], bytes]:
    return manifest, database[:5000] + bytes([database[5000] ^ 1]) + database[5001:]


def cut_short_with_a_right_sum(manifest: dict[str, Any], database: bytes) -> tuple[dict[str, Any], bytes]:
    half = database[: len(database) // 2]
    return {**manifest, "sha256": hashlib.sha256(half).hexdigest()}, half


def a_row_fewer_than_told(manifest: dict[str, Any], database: bytes) -> tuple[dict[str, Any], bytes]:
    rows = {**manifest["rows"], "core_holding": manifest["rows"]["core_holding"] + 1}
    return {**manifest, "rows": rows}, database


def other_format(manifest: dict[str, Any], database: bytes) -> tuple[dict[str, Any], bytes]:
    return {**manifest, "format": "readyground-backup-99"}, database


def rows_that_are_a_list(manifest: dict[str, Any], database: bytes) -> tuple[dict[str, Any], bytes]:
    return {**manifest, "rows": [1]}, database


def no_manifest(manifest: dict[str, Any], database: bytes) -> tuple[dict[str, Any], bytes]:
    return {"format": "readyground-backup-1"}, database


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize(
    ("change", "said"),
    [
        (other_engine, "is a backup of another"),
        (newer_program, "newer program: this one does not know core.9999_from_tomorrow"),
        (one_bit_turned, "damaged"),
        (cut_short_with_a_right_sum, "damaged|failed"),
        (a_row_fewer_than_told, "not what its manifest says|has not the rows"),
        (other_format, "readyground-backup-99"),
        (no_manifest, "damaged"),
        (rows_that_are_a_list, "damaged"),
    ],
)
def test_file_that_does_not_fit_changes_nothing(
    holding: Holding, tmp_path: Path, change: Callable[..., Any], said: str
) -> None:
    good = tmp_path / "good.zip"
    backup(file=good)
    Holding.objects.create(name="Came later")
    with pytest.raises(Refused, match=said):
        restore(file=changed(good, tmp_path / "bad.zip", change), replace=True)
    assert Holding.objects.count() == 2
    assert len(list(installed(connection))) > 0


@pytest.mark.django_db(transaction=True)
def test_file_cut_off_or_no_backup_at_all_is_refused(holding: Holding, tmp_path: Path) -> None:
    backup(file=tmp_path / "good.zip")
    content = (tmp_path / "good.zip").read_bytes()
    for name, bad in {"cut": content[: len(content) // 2], "text": b"hello", "empty": b""}.items():
        (tmp_path / name).write_bytes(bad)
        with pytest.raises(Refused, match="damaged or no backup"):
            restore(file=tmp_path / name, replace=True)
    with pytest.raises(Refused, match="no file"):
        restore(file=tmp_path / "absent.zip", replace=True)
    with pytest.raises(Refused, match="is a folder"):
        restore(file=tmp_path, replace=True)
    assert Holding.objects.count() == 1


HOLD_OPEN = """
import sys, time, django
django.setup()
from core.models import Holding
print(Holding.objects.count(), flush=True)
sys.stdin.read()
"""


@pytest.mark.django_db(transaction=True)
def test_database_that_somebody_has_open_is_not_replaced(place: Place, tmp_path: Path) -> None:
    place.run("-m", "tests.faults.restores", "fill")
    file = place.data / "all.zip"
    place.run("manage.py", "backup", str(file))
    reader = subprocess.Popen(
        [sys.executable, "-c", HOLD_OPEN],
        env=place.environment,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
    )
    assert reader.stdout is not None
    assert reader.stdout.readline() == b"1\n"
    try:
        said = place.run("manage.py", "restore", str(file), "--replace", expect=1)
    finally:
        reader.communicate()
    assert "open" in said or "connected" in said
    assert place.rows("SELECT name FROM core_holding") == [("Drill holding",)]
    place.run("manage.py", "restore", str(file), "--replace")


def test_backup_of_older_tables_is_brought_up_to_the_program(place: Place) -> None:
    place.run("-m", "tests.faults.restores", "fill")
    place.run("manage.py", "migrate", "core", "0003", "-v0")
    file = place.data / "old.zip"
    place.run("manage.py", "backup", str(file))
    place.run("manage.py", "restore", str(file), "--replace")
    place.run("manage.py", "migrate", "--check")
    assert place.rows("SELECT name FROM core_holding") == [("Drill holding",)]


@pytest.mark.django_db(transaction=True)
def test_what_a_killed_command_left_is_cleared_once_it_is_a_day_old_and_nobody_holds_it(
    holding: Holding, tmp_path: Path
) -> None:
    for name in ("left", "held", "young"):
        (tmp_path / f".backup-{name}").mkdir()
        (tmp_path / f".backup-{name}" / "database").write_bytes(b"half")
        if name != "young":
            os.utime(tmp_path / f".backup-{name}", (0, 0))
    held = os.open(tmp_path / ".backup-held", os.O_RDONLY)
    fcntl.flock(held, fcntl.LOCK_EX)
    backup(file=tmp_path / "all.zip")
    os.close(held)
    assert sorted(path.name for path in tmp_path.iterdir()) == [".backup-held", ".backup-young", "all.zip"]


def test_password_is_on_no_command_line(monkeypatch: pytest.MonkeyPatch) -> None:
    """The tools of the server's maker read it from their environment."""
    from core.services.backups import postgres

    known = {"HOST": "db.example.org", "PORT": 5432, "USER": "ready", "PASSWORD": "s3cret-word", "NAME": "land"}
    monkeypatch.setattr(postgres, "connection", type("Link", (), {"settings_dict": known}))
    seen: list[Any] = []

    def run(command: list[str], **options: Any) -> Any:
        seen.append((command, options["env"]))
        return Ended

    monkeypatch.setattr(postgres.subprocess, "run", run)
    postgres._run(["pg_dump", "--file=x"], stdout=subprocess.DEVNULL)
    command, environment = seen[0]
    assert "s3cret-word" not in " ".join(command)
    assert (environment["PGPASSWORD"], environment["PGHOST"], environment["PGDATABASE"]) == (
        "s3cret-word",
        "db.example.org",
        "land",
    )


class Ended:
    returncode = 0
