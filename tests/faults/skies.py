"""Fault 20: a weather service that fails, hangs, is cut, sends elsewhere, or tells what is no number or a year old.

    python -m tests.faults.skies ROUNDS     (in a place; prints JSON)

None of these answers may leave an hour of weather, of which a window could be made; and when the service is well again
its forecast is taken. The control reads the same answers by the standard library and takes what parses.
"""

import json
import sys
import time
import urllib.request
from contextlib import suppress
from datetime import timedelta
from http.client import HTTPException
from typing import Any

from tests.faults.ground import ENGINES, ground

ANSWERS = ("500", "503", "429", "400", "hang", "cut", "half json", "html", "huge", "elsewhere", "round")
TOLD = ("no number", "a year old", "from tomorrow")
CELL = "/gridpoints/LZK/83,73"


def lying(rounds: int) -> dict[str, Any]:
    """20: so many times each answer, on each database."""
    begun = time.monotonic()
    told = []
    for engine in ENGINES:
        with ground(engine) as place:
            said = place.run("-m", "tests.faults.skies", str(rounds), seconds=3600)
            told.append(json.loads(next(line for line in said.splitlines() if line.startswith("{"))))  # logs follow
    control = sum(one["control"] for one in told)
    return {
        "fault": 20,
        "what": f"a weather service that fails or lies in {len(ANSWERS) + len(TOLD)} ways: no hour of it is stored; "
        f"given up after {max(one['slowest_s'] for one in told):.1f} s at most",
        "count": sum(one["asked"] for one in told),
        "lost": sum(one["missed"] for one in told),
        "doubled": sum(one["taken"] for one in told),
        "control_failed": control,
        "control": f"read by the standard library, {control} of them are taken as weather",
        "seconds": round(time.monotonic() - begun, 1),
    }


FAULTS = {20: lying}


# What runs in the place


def main(rounds: int) -> dict[str, Any]:
    """`taken`: bad answers that left hours; `missed`: good ones that did not, and bad ones that held up too long."""
    from django.conf import settings
    from django.utils import timezone

    from plots.models import Fetched, Hour, Series
    from plots.services import fetching
    from plots.services.weather import NWS, renew
    from tests.plots.services.weather_stub import weather_service

    series = Series.objects.create(source=NWS, place=CELL.removeprefix("/gridpoints/"))
    told = {"asked": 0, "taken": 0, "missed": 0, "control": 0, "slowest_s": 0.0}
    settings.CONTACT, fetching.PAUSE_S = "desk@example.org", 0.1  # waits between tries are made short
    with weather_service() as stub:
        settings.NWS_URL = stub.url
        file = settings.FIXTURES / "replies" / "nws" / "gridpoints-LZK.json"

        def stored() -> bool:
            Fetched.objects.all().delete()
            Hour.objects.filter(series=series).delete()
            renew(series, timezone.now())
            return Hour.objects.filter(series=series).exists()

        for what in (*ANSWERS, *TOLD) * rounds:
            now, page = timezone.now(), json.loads(file.read_text())
            stub.pages[CELL], stub.etag = page, f'"{told["asked"]}"'
            page["properties"]["updateTime"] = now.isoformat()
            missed = not stored()
            stub.etag = f'"bad {told["asked"]}"'
            _spoil(page["properties"], what, now)
            stub.faults = [what] * 9 if what in ANSWERS else []
            begun = time.monotonic()
            told["taken"] += int(stored())
            took = time.monotonic() - begun
            stub.faults = [what] if what in ANSWERS else []
            told["control"] += int(_taken(stub.url + CELL))
            stub.faults = []
            told["slowest_s"] = max(told["slowest_s"], took)
            told["missed"] += int(missed or took > fetching.TOTAL_S + fetching.READ_S)
            told["asked"] += 1
    return told


def _spoil(properties: dict[str, Any], what: str, now: Any) -> None:
    if what == "no number":
        properties["temperature"]["values"][0]["value"] = float("nan")
    elif what in TOLD:
        age = timedelta(days=365) if what == "a year old" else -timedelta(days=1)
        properties["updateTime"] = (now - age).isoformat()


def _taken(url: str) -> bool:
    """Whether a plain reader takes the answer for weather."""
    with suppress(OSError, ValueError, HTTPException), urllib.request.urlopen(url, timeout=2) as answer:
        json.loads(answer.read())
        return True
    return False


if __name__ == "__main__":
    import django

    django.setup()
    print(json.dumps(main(int(sys.argv[1]))))
