"""`begin` says what to give where no terminal is; what the program writes is its owner's alone."""

import os
import stat
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]


def run(folder: Path, *words: str, **more: str) -> subprocess.CompletedProcess[str]:
    env = {key: value for key, value in os.environ.items() if key not in ("DATABASE_URL", "REDIS_URL")}
    return subprocess.run(
        [sys.executable, "manage.py", *words],
        cwd=ROOT,
        env={**env, "READYGROUND_DATA": str(folder), **more},
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )


def test_without_a_terminal_it_says_what_to_give_and_the_data_are_the_owners_alone(tmp_path: Path) -> None:
    ran = run(tmp_path / "data", "begin")
    assert ran.returncode == 1
    assert "Traceback" not in ran.stderr
    assert "Give --holding, --name, --mail and --password. Nothing was stored." in ran.stderr
    base = tmp_path / "data" / "readyground.sqlite3"
    modes = {path.name: oct(stat.S_IMODE(path.stat().st_mode)) for path in base.parent.glob("readyground.sqlite3*")}
    assert set(modes.values()) == {"0o600"}, modes
    base.chmod(0o644)
    run(tmp_path / "data", "check")
    assert stat.S_IMODE(base.stat().st_mode) == 0o600, "one that was made before is closed too"


def test_a_reader_that_ends_early_is_told_in_one_sentence(tmp_path: Path) -> None:
    reading, writing = os.pipe()
    os.close(reading)
    try:
        ran = subprocess.run(
            [sys.executable, "manage.py", "help"],
            cwd=ROOT,
            env={**os.environ, "READYGROUND_DATA": str(tmp_path / "data")},
            stdout=writing,
            stderr=subprocess.PIPE,
            text=True,
            timeout=120,
            check=False,
        )
    finally:
        os.close(writing)
    assert (ran.returncode, ran.stderr) == (1, "Nobody reads on, so the rest was not printed.\n")


def test_an_unknown_setting_stops_the_start_in_one_sentence(tmp_path: Path) -> None:
    ran = run(tmp_path / "data", "serve", READYGROUND_COLOUR="red")
    assert ran.returncode == 1
    assert ran.stderr.startswith("Nothing was started. Unknown setting READYGROUND_COLOUR. Known: READYGROUND_BASE_URL")
    assert len(ran.stderr.splitlines()) == 1


def test_begin_says_whose_hours_it_took_and_how_to_change_them(tmp_path: Path) -> None:
    told = ("--holding", "Land", "--name", "Ida", "--mail", "ida@example.org", "--password", "a long enough word")
    ran = run(tmp_path / "data", "begin", *told)
    assert ran.returncode == 0, ran.stderr
    assert "Its days and hours are those of America/Chicago." in ran.stdout
    refused = run(tmp_path / "data", "begin", *told[:5], "eve@example.org", *told[6:], "--zone", "Mars/Olympus")
    assert (refused.returncode, "There is no time zone 'Mars/Olympus'" in refused.stderr) == (1, True)
