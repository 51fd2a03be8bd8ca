"""Ask a public service politely: who asks is said, an answer that did not change is not sent twice, a failure is tried
again after a pause of uneven length, and the last good answer is kept with its age.

Hard limits: 3 s to connect, 8 s between two pieces, 20 s in all, 6 MB (a form may ask for a few times as much and as
long), two redirects and none to another host.
"""

from __future__ import annotations

import logging
import random
import time
import zlib
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from urllib.parse import urljoin, urlsplit

import orjson
import urllib3
from django.conf import settings
from django.utils import timezone

from plots.forecasts import Unusable
from plots.models import Fetched

logger = logging.getLogger("readyground.weather")

TRIES = 3
PAUSE_S = 1.0
LONGEST_PAUSE_S = 6.0
CONNECT_S = 3.0
READ_S = 8.0
TOTAL_S = 20.0
LARGEST = 6 * 1024 * 1024
REDIRECTS = 2
PIECE = 64 * 1024
REFUSED_FOR = timedelta(hours=24)
AGAIN = frozenset({408, 425, 429, 500, 502, 503, 504})
NOT_FOUND = 404


class Failed(Exception):
    """The service gave no answer that can serve. `again`: another try may help; `status` of a refusal for good, else 0.

    The text quotes nothing of it."""

    def __init__(self, sentence: str, *, again: bool = True, pause_s: float | None = None, status: int = 0) -> None:
        super().__init__(sentence)
        self.again, self.pause_s, self.status = again, pause_s, status


def _json(body: bytes) -> Any:
    try:
        return orjson.loads(body)
    except orjson.JSONDecodeError as error:
        raise Unusable("The answer is cut off or no JSON.") from error


def _lines(body: bytes) -> list[str]:
    try:
        return body.decode("utf-8-sig").splitlines()
    except UnicodeDecodeError as error:
        raise Unusable("The answer is no text in UTF-8.") from error


@dataclass(frozen=True, slots=True)
class Form:
    """A form of answer: its name, what is asked for, words of which one stands in the type of such an answer, how its
    body is read (Unusable where it cannot be), and how many times the size and the time it may take."""

    name: str
    accept: str
    types: tuple[str, ...]
    read: Callable[[bytes], Any]
    times: int = 1


JSON = Form("JSON", "application/geo+json, application/json", ("json",), _json)
CSV = Form("CSV", "text/csv", ("csv",), _lines)
"""Read as its lines."""


@dataclass(frozen=True, slots=True)
class Answer:
    """What a service says, read, and when it was fetched; `fresh` where the service confirmed it just now."""

    said: Any
    fetched_at: datetime
    fresh: bool


def ask(url: str, serves: Callable[[Any], Any] = lambda reply: None, form: Form = JSON) -> Answer:
    """The service's answer, or the last good one where it gives none now.

    `serves` reads an answer and raises Unusable where it cannot serve: such a one never takes the place of a good one.
    What was refused for good is not asked again for a day.

    Raises:
        Failed: there is none, and never was.
    """
    now = timezone.now()
    known = Fetched.objects.filter(url=url).first()
    if known is not None and not known.body and known.failed_at and now - known.failed_at < REFUSED_FOR:
        raise Failed(known.failure, again=False, status=NOT_FOUND if known.failure == _refusal(NOT_FOUND) else 0)
    try:
        row = _renewed(url, known, serves, form)
    except Failed as failure:
        logger.warning("weather: %s: %s", urlsplit(url).hostname, failure)
        good = known is not None and bool(known.body)
        if known is not None or not failure.again:
            failed_at = known.failed_at if known is not None and good and known.failed_at else now
            Fetched.objects.update_or_create(
                url=url,
                defaults={"failed_at": failed_at, "failure": str(failure)[:200]},
                create_defaults={"body": b"", "fetched_at": now, "failed_at": now, "failure": str(failure)[:200]},
            )
        if known is None or not good:
            raise
        return Answer(form.read(zlib.decompress(known.body)), known.fetched_at, fresh=False)
    return Answer(form.read(zlib.decompress(row.body)), row.fetched_at, fresh=True)


def _refusal(status: int) -> str:
    return f"The service answers {status}."


def _renewed(url: str, known: Fetched | None, serves: Callable[[Any], Any], form: Form) -> Fetched:
    """The row of the answer, stored anew or confirmed by the service."""
    stop = time.monotonic() + TOTAL_S * form.times
    for attempt in range(1, TRIES + 1):
        try:
            status, headers, body = _get(url, known, stop, form)
            if status != 304:
                _check(body, serves, form)
            break
        except Failed as failure:
            pause = failure.pause_s if failure.pause_s is not None else PAUSE_S * 2 ** (attempt - 1)
            pause = min(pause, LONGEST_PAUSE_S) * random.uniform(0.5, 1.5)
            if not failure.again or attempt == TRIES or time.monotonic() + pause >= stop:
                raise
            time.sleep(pause)
    now = timezone.now()
    if status == 304 and known is not None:
        known.fetched_at, known.failed_at, known.failure = now, None, ""
        known.save(update_fields=["fetched_at", "failed_at", "failure"])
        return known
    row, _ = Fetched.objects.update_or_create(
        url=url,
        defaults={
            "body": zlib.compress(body),
            "etag": headers.get("ETag", "")[:200],
            "last_modified": headers.get("Last-Modified", "")[:60],
            "fetched_at": now,
            "failed_at": None,
            "failure": "",
        },
    )
    return row


def _check(body: bytes, serves: Callable[[Any], Any], form: Form) -> None:
    try:
        serves(form.read(body))
    except Unusable as error:
        raise Failed(str(error)) from error


def _get(url: str, known: Fetched | None, stop: float, form: Form) -> tuple[int, Any, bytes]:
    """(status, headers, body) of a 200 or a 304 to our validators."""
    headers = {"User-Agent": f"Readyground ({settings.CONTACT})", "Accept": form.accept}
    if known is not None and known.etag:
        headers["If-None-Match"] = known.etag
    elif known is not None and known.last_modified:
        headers["If-Modified-Since"] = known.last_modified
    pool = urllib3.PoolManager(timeout=urllib3.Timeout(connect=CONNECT_S, read=READ_S), retries=False)
    for _ in range(REDIRECTS + 1):
        try:
            reply = pool.request("GET", url, headers=headers, preload_content=False, redirect=False)
            try:
                return _read(reply, known, stop, form)
            finally:
                reply.close()  # what was not read must not be taken for the next answer
        except _Moved as moved:
            there = urljoin(url, moved.location)
            if urlsplit(there)[:2] != urlsplit(url)[:2]:
                raise Failed("The service sends us to another host.") from moved
            url = there
        except urllib3.exceptions.HTTPError as error:
            raise Failed(f"The service could not be reached or broke off ({type(error).__name__}).") from error
    raise Failed("The service sends us round in circles.")


class _Moved(Exception):
    def __init__(self, location: str) -> None:
        super().__init__()
        self.location = location


def _read(reply: urllib3.BaseHTTPResponse, known: Fetched | None, stop: float, form: Form) -> tuple[int, Any, bytes]:
    if reply.status in (301, 302, 303, 307, 308):
        raise _Moved(reply.headers.get("Location", ""))
    if reply.status == 304 and known is not None:
        return 304, reply.headers, b""
    if reply.status in AGAIN:
        wait = reply.headers.get("Retry-After", "")
        raise Failed(f"The service answers {reply.status}.", pause_s=float(wait) if wait.isdigit() else None)
    if reply.status != 200:
        raise Failed(_refusal(reply.status), again=False, status=reply.status)
    kind = reply.headers.get("Content-Type", "")
    if not any(one in kind for one in form.types):
        raise Failed(f"The service answers with something that is no {form.name}.")
    body = bytearray()
    for piece in reply.stream(PIECE):
        body += piece
        if len(body) > LARGEST * form.times:
            raise Failed("The answer is too large.", again=False)
        if time.monotonic() >= stop:
            raise Failed("The answer takes too long.")
    return 200, reply.headers, bytes(body)
