"""Fault 24: one invitation used at the same moment by several browsers.

    python -m tests.faults.doors invite COUNT    (in a place: invitations, printed as JSON)
    python -m tests.faults.doors control COUNT   (in a place: the same by looks alone; prints the accounts too many)

In turns each browser gives an address of its own, or all give the same, as one hand does that presses twice.
"""

import http.client
import json
import sys
import time
from collections.abc import Callable
from contextlib import closing
from functools import partial
from threading import Barrier
from typing import Any
from urllib.parse import urlencode

from tests.faults.ground import ENGINES, Ground, Web, ground
from tests.faults.replies import at_once

BROWSERS = 2
PASSWORD = "Long lane 42 gate"


def invited_twice(rounds: int) -> dict[str, Any]:
    """24: so many invitations, each used by two browsers at once: one joins, the other is told why not."""
    begun = time.monotonic()
    lost = doubled = control = 0
    for engine in ENGINES:
        with ground(engine) as place:
            links = json.loads(_said(place, "invite", rounds))
            with Web(place) as web:
                for number, link in enumerate(links):
                    addresses = [f"{number}-{browser * (number % 2)}@example.org" for browser in range(BROWSERS)]
                    answers = _each(link, addresses, partial(_join, web.port))
                    lost += int(sorted(map(str, answers)) != ["302", "400"])
            lost += place.count("SELECT count(*) FROM core_person WHERE name LIKE 'Guest %' AND user_id IS NULL")
            doubled += place.count("SELECT count(*) FROM core_user") - rounds
            control += int(_said(place, "control", rounds))
    return {
        "fault": 24,
        "what": f"an invitation used by {BROWSERS} browsers at once, with two addresses or one",
        "count": rounds * len(ENGINES),
        "lost": lost,
        "doubled": doubled,
        "control_failed": control,
        "control": f"an invitation that is looked at, then marked: {control} accounts too many",
        "seconds": round(time.monotonic() - begun, 1),
    }


FAULTS = {24: invited_twice}


def _said(place: Ground, what: str, rounds: int) -> str:
    return place.run("-m", "tests.faults.doors", what, str(rounds)).splitlines()[-1]


def _each(link: str, addresses: list[str], use: Callable[[str, str, Barrier], Any]) -> list[Any]:
    """What each browser got; they wait for each other when all have looked at the invitation."""
    start, left = Barrier(len(addresses), timeout=30), list(addresses)
    return at_once(lambda: use(link, left.pop(), start), len(addresses))


def _join(port: int, link: str, address: str, start: Barrier) -> int:
    """The status of the form, sent as a browser does when all have opened the page."""
    with closing(http.client.HTTPConnection("127.0.0.1", port, timeout=30)) as browser:
        browser.request("GET", link)
        page = browser.getresponse()
        page.read()
        cookie = (page.getheader("Set-Cookie") or "").partition(";")[0]
        form = {"email": address, "password": PASSWORD, "csrfmiddlewaretoken": cookie.partition("=")[2]}
        headers = {"Cookie": cookie, "Content-Type": "application/x-www-form-urlencoded"}
        start.wait()
        browser.request("POST", link, urlencode(form), headers)
        return browser.getresponse().status


# What runs in the place


def _guests(count: int, name: str) -> list[tuple[Any, str]]:
    from core.models import Holding, Person
    from core.services.invitations import invite

    holding = Holding.objects.get()
    people = [Person.objects.create(holding=holding, name=f"{name} {number}") for number in range(count)]
    return [(person, invite(person=person, by=None)) for person in people]


def control(count: int) -> int:
    """Accounts too many when each browser looks whether the invitation is open, makes an account and marks it used."""
    from django.db import connections
    from django.utils import timezone

    from core.models import User
    from core.services.invitations import read

    def join(secret: str, address: str, start: Barrier) -> None:
        try:
            row = read(secret=secret)
            start.wait()
            row.person.user = User.objects.create_user(address, PASSWORD)
            row.person.save(update_fields=["user"])
            row.used_at = timezone.now()
            row.save(update_fields=["used_at"])
        finally:
            connections.close_all()

    before = User.objects.count()
    for number, (_, secret) in enumerate(_guests(count, "Other")):
        _each(secret, [f"control-{number}-{browser}@example.org" for browser in range(BROWSERS)], join)
    return User.objects.count() - before - count


if __name__ == "__main__":
    import django

    django.setup()
    if sys.argv[1] == "control":
        print(control(int(sys.argv[2])))
    else:
        from django.urls import reverse

        links = [reverse("invitation", kwargs={"secret": secret}) for _, secret in _guests(int(sys.argv[2]), "Guest")]
        print(json.dumps(links))
