"""Headers of every answer, templates as a strict policy of contents asks for them, and the settings of production."""

import os
import re
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from django.conf import settings
from django.test import Client

from core.models import Person
from tests.core.world import World

ROOT = Path(__file__).resolve().parents[2]
TEMPLATES = sorted(path for room in ("core", "plots", "jobs") for path in (ROOT / room).glob("templates/**/*.html"))
INLINE = r"<script(?![^>]* src=)|<style|\sstyle\s*=|\son[a-z]+\s*=|javascript:|unsafe-inline"


@pytest.mark.parametrize(
    "path", ["/sign-in/", "/nowhere/", "/api/docs/", "/api/health/", "/api/next/", "/api/nowhere/"]
)
def test_every_answer_says_what_browsers_may_do_with_it(path: str, world: World) -> None:
    headers = Client().get(path).headers
    policy = headers["Content-Security-Policy"]
    for part in ("default-src 'self'", "script-src 'self'", "style-src 'self'", "object-src 'none'", "base-uri 'none'"):
        assert part in policy
    assert "frame-ancestors 'none'" in policy
    assert "unsafe" not in policy
    assert "geolocation=()" in headers["Permissions-Policy"]
    assert headers["Cross-Origin-Opener-Policy"] == "same-origin"
    assert headers["Cross-Origin-Resource-Policy"] == "same-origin"
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert headers["X-Frame-Options"] == "DENY"
    assert headers["Referrer-Policy"] == "same-origin"


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda path: path.name)
def test_no_template_has_a_script_a_style_or_a_handler_in_line(path: Path) -> None:
    assert re.findall(INLINE, path.read_text(encoding="utf-8")) == []


def test_the_look_for_what_stands_in_line_would_see_it() -> None:
    for bad in ("<script>x</script>", "<style>", '<p style="x">', '<a onclick="x">', "<a href='javascript:x'>"):
        assert re.search(INLINE, bad), bad
    assert len(TEMPLATES) >= 18


def test_page_of_the_api_loads_its_files_from_here(client: Client, db: None) -> None:
    text = client.get("/api/docs/").content.decode()
    assert re.findall(INLINE, text) == []
    sources = re.findall(r'(?:src|href)="([^"]+)"', text)
    assert len(sources) == 5
    for source in sources:
        assert source.startswith("/")
        assert client.get(source).status_code == 200, source


def test_form_of_a_page_that_is_too_large_is_refused_and_not_read(
    signed_in: Callable[[Person], Client], manager: Person
) -> None:
    body = b"next=" + b"a" * (settings.DATA_UPLOAD_MAX_MEMORY_SIZE + 1)
    answer = signed_in(manager).post("/holding/", body, content_type="application/x-www-form-urlencoded")
    assert answer.status_code in (400, 413)


def production(**more: str) -> "subprocess.CompletedProcess[str]":
    kept = {name: value for name, value in os.environ.items() if not name.startswith("READYGROUND_")}
    given = {"READYGROUND_PRODUCTION": "1", **more}
    command = [sys.executable, "manage.py", "check", "--deploy", "--fail-level", "WARNING"]
    return subprocess.run(command, cwd=ROOT, env=kept | given, capture_output=True, text=True, timeout=60)


def test_production_settings_pass_every_check_of_a_deployment(tmp_path: Path) -> None:
    done = production(READYGROUND_DATA=str(tmp_path))
    assert done.returncode == 0, done.stderr


def test_the_check_of_a_deployment_sees_settings_that_are_not_for_production(tmp_path: Path) -> None:
    done = production(READYGROUND_DATA=str(tmp_path), READYGROUND_PRODUCTION="0")
    assert done.returncode == 1
    assert "security.W004" in done.stderr


@pytest.mark.parametrize("days", ["0", "367"])
def test_life_of_tokens_beyond_a_year_stops_the_start(tmp_path: Path, days: str) -> None:
    done = production(READYGROUND_DATA=str(tmp_path), READYGROUND_TOKEN_DAYS=days)
    assert done.returncode == 1
    assert "READYGROUND_TOKEN_DAYS" in done.stderr
