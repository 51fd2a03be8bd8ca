"""Five misses in 15 minutes close the sign-in of an address from a place, however many tries come at once."""

import re
import time
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from threading import Barrier
from typing import Any, ClassVar
from urllib.error import HTTPError
from urllib.parse import urlencode
from urllib.request import HTTPCookieProcessor, Request, build_opener

import pytest
from axes.models import AccessAttempt
from django.contrib.auth.hashers import MD5PasswordHasher
from django.db import connection
from django.test import Client
from django.utils import timezone

from core.access import client_ip
from core.models import User

AT_ONCE = 16
RIGHT = "the-right-word-7"


def opened(address: str) -> tuple[Any, str]:
    """A browser that has the sign-in page open, and the page's token."""
    browser = build_opener(HTTPCookieProcessor())
    page = browser.open(f"{address}/sign-in/", timeout=30).read().decode()
    found = re.search(r'name="csrfmiddlewaretoken" value="(\w+)"', page)
    assert found
    return browser, found.group(1)


def tried(address: str, browser: Any, token: str, password: str, mail: str = "ada@example.org") -> str:
    """The answer to one try: "in", "miss" or "closed"."""
    form = urlencode({"csrfmiddlewaretoken": token, "username": mail, "password": password}).encode()
    try:
        answer = browser.open(Request(f"{address}/sign-in/", form), timeout=60)
    except HTTPError as error:
        if error.code == 429:
            return "closed"
        answer = error  # the page behind the sign-in, which tells a user without a holding so
    return "in" if not answer.url.endswith("/sign-in/") else "miss"


class Counting(MD5PasswordHasher):
    """Counts the looks at a password, and takes as long over each as the slow one that people's passwords have."""

    looks = 0

    def verify(self, password: str, encoded: str) -> bool:
        type(self).looks += 1
        time.sleep(0.05)
        return super().verify(password, encoded)


def test_tries_at_once_get_no_more_than_five_looks_at_the_password(live_server: Any, settings: Any) -> None:
    settings.PASSWORD_HASHERS = ["tests.core.test_sign_in_guard.Counting"]
    User.objects.create_user("ada@example.org", RIGHT)
    ready, Counting.looks = Barrier(AT_ONCE), 0

    def one(number: int) -> str:
        browser, token = opened(live_server.url)
        ready.wait(30)
        return tried(live_server.url, browser, token, f"guess number {number}")

    with ThreadPoolExecutor(AT_ONCE) as pool:
        answers = Counter(pool.map(one, range(AT_ONCE)))
    assert Counting.looks == 5
    assert answers == {"miss": 4, "closed": AT_ONCE - 4}, "the fifth miss is told that it was the last"
    browser, token = opened(live_server.url)
    assert tried(live_server.url, browser, token, RIGHT) == "closed"
    other, token = opened(live_server.url)
    assert tried(live_server.url, other, token, "wrong", mail="ben@example.org") == "miss", "others are not closed out"

    AccessAttempt.objects.update(attempt_time=timezone.now() - timedelta(minutes=16))
    assert tried(live_server.url, *opened(live_server.url), RIGHT) == "in"


class Watching(MD5PasswordHasher):
    """Notes whether the database was locked during each look at a password."""

    locked: ClassVar[list[bool]] = []

    def encode(self, password: str, salt: str) -> str:
        self.locked.append(connection.in_atomic_block)
        return super().encode(password, salt)


@pytest.mark.django_db(transaction=True)
def test_an_address_that_nobody_has_keeps_no_writer_waiting(client: Client, settings: Any) -> None:
    settings.PASSWORD_HASHERS = ["tests.core.test_sign_in_guard.Watching"]
    User.objects.create_user("ada@example.org", RIGHT)
    for mail, locked in (("ada@example.org", True), ("nobody@example.org", False)):
        Watching.locked.clear()
        assert client.post("/sign-in/", {"username": mail, "password": "wrong"}).status_code == 200
        assert set(Watching.locked) == {locked}


@pytest.mark.django_db
def test_an_address_with_a_null_character_is_a_miss(client: Client) -> None:
    answer = client.post("/sign-in/", {"username": "ada\0@example.org", "password": "wrong"})
    assert (answer.status_code, b"Null characters" in answer.content) == (200, True)


def test_guard_counts_by_place_and_address_and_opens_after_a_quarter_of_an_hour(settings: Any) -> None:
    assert (settings.AXES_FAILURE_LIMIT, settings.AXES_COOLOFF_TIME * 60) == (5, 15)
    assert settings.AXES_LOCKOUT_PARAMETERS == [["username", "ip_address"]]


@pytest.mark.parametrize(
    ("production", "header", "counted"),
    [
        (True, "203.0.113.7", "203.0.113.7"),
        (True, "not an address", "10.1.2.3"),
        (True, "", "10.1.2.3"),
        (False, "203.0.113.7", "10.1.2.3"),
    ],
)
def test_misses_count_by_the_address_that_the_proxy_writes(
    settings: Any, rf: Any, production: bool, header: str, counted: str
) -> None:
    settings.PRODUCTION = production
    assert client_ip(rf.get("/", REMOTE_ADDR="10.1.2.3", headers={"X-Real-IP": header})) == counted


@pytest.mark.django_db
def test_behind_a_proxy_a_stranger_does_not_close_somebody_elses_sign_in(settings: Any, client: Any) -> None:
    settings.PRODUCTION = True
    User.objects.create_user("ruth@example.org", "a long enough password")
    form = {"username": "ruth@example.org", "password": "wrong"}
    from_there, from_here = {"X-Real-IP": "203.0.113.7"}, {"X-Real-IP": "198.51.100.9"}
    answers = [client.post("/sign-in/", form, headers=from_there).status_code for _ in range(6)]
    assert answers[-1] == 429
    right = {**form, "password": "a long enough password"}
    assert client.post("/sign-in/", right, headers=from_there).status_code == 429
    assert client.post("/sign-in/", right, headers=from_here).status_code == 302
