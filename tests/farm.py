"""A holding that is worked through the REST API alone: scripts with bearer tokens, and a clock that days move.

The API sets no clock, as in life nobody does; a day passes by setting the holding's clock and letting the worker's
walk look, which walks only what changed facts or the clock ask for.
"""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Any
from zoneinfo import ZoneInfo

from core.models import Graph, Holding, Person, Role
from jobs.services.sequences import load_shipped
from jobs.services.walking import walk_holding
from tests.core.world import script_of


class Farm:
    """One holding in Central time with a manager, helpers by name, and the scripts of each."""

    def __init__(self, at: str, *, zone: str = "America/Chicago") -> None:
        load_shipped()
        self.zone = ZoneInfo(zone)
        self.holding = Holding.objects.create(name="Played holding", zone=zone, clock_at=self.instant(at))
        Graph.objects.create(holding=self.holding)
        boss = Person.objects.create(holding=self.holding, name="Manager", role=Role.MANAGER)
        self.manager = script_of(boss)
        self.people = {"Manager": boss.pk}

    def instant(self, local: str) -> datetime:
        """ "2027-05-08 15:00" in the holding's zone."""
        return datetime.fromisoformat(local).replace(tzinfo=self.zone).astimezone(UTC)

    def helper(self, name: str) -> Any:
        """A helper of a crew that looks after everything, and the helper's own script."""
        person = self.post("people", name=name)["id"]
        self.people[name] = person
        self.post("crews", name=f"Crew of {name}", members=[person])
        return script_of(Person.objects.get(pk=person))

    def post(self, path: str, script: Any = None, status: int = 201, **body: Any) -> Any:
        answer = (script or self.manager).post(f"/api/{path}/", body, format="json")
        assert answer.status_code == status, (path, body, answer.status_code, answer.content)
        return answer.json()

    def patch(self, path: str, script: Any = None, **body: Any) -> Any:
        answer = (script or self.manager).patch(f"/api/{path}/", body, format="json")
        assert answer.status_code == 200, (path, body, answer.status_code, answer.content)
        return answer.json()

    def get(self, path: str, script: Any = None, **asked: Any) -> Any:
        answer = (script or self.manager).get(f"/api/{path}/", asked)
        assert answer.status_code == 200, (path, asked, answer.status_code, answer.content)
        return answer.json()

    def all(self, path: str, **asked: Any) -> list[Any]:
        """Every row of a list, page by page."""
        rows: list[Any] = []
        page = self.get(path, **asked)
        rows += page["results"]
        while page["next"]:
            page = self.manager.get(page["next"]).json()
            rows += page["results"]
        return rows

    def at(self, local: str) -> None:
        """The clock stands at a local time, and the worker looks."""
        Holding.objects.filter(pk=self.holding.pk).update(clock_at=self.instant(local))
        walk_holding(self.holding.pk)

    def place(self, name: str, latitude: float = 40.0, longitude: float = -91.0) -> int:
        found: int = self.post("properties", name=name, latitude=latitude, longitude=longitude)["id"]
        return found

    def gauge(self, *properties: int, name: str = "yard") -> int:
        """A series that the holding types itself, read by these properties."""
        series: int = self.post("series", place=name)["id"]
        for place in properties:
            self.post("property-series", property=place, rank=1, series=series)
        return series

    def day(self, series: int, day: str, high: float, low: float, rain: float | None = None, **more: Any) -> Any:
        return self.post("days", series=series, date=day, high_f=high, low_f=low, rain_in=rain, **more)

    def apply(self, key: str, plot: int, year: int, **body: Any) -> dict[str, int]:
        """The season of a sequence on a plot; returns the jobs by step."""
        (sequence,) = self.all("sequences", key=key)
        (season,) = self.post(f"sequences/{sequence['id']}/apply", plot=plot, year=year, **body)["seasons"]
        return self.steps(season["id"])

    def steps(self, season: int) -> dict[str, int]:
        return {job["step"]: job["id"] for job in self.all("jobs", season=season) if job["occurrence"] == 1}

    def report(self, job: int, kind: str, happened: str, script: Any = None, **body: Any) -> Any:
        """A report on a job, dated in local time, and the worker's walk after it."""
        when = self.instant(happened).isoformat()
        body = {"client_id": str(uuid.uuid4()), "kind": kind, "happened_at": when, "job": job} | body
        receipt = self.post("reports", script, **body)
        walk_holding(self.holding.pk)
        return receipt

    def done(self, job: int, happened: str, script: Any = None, **body: Any) -> Any:
        return self.report(job, "done", happened, script, **body)

    def job(self, pk: int) -> Any:
        """The answer of one job."""
        return self.get(f"jobs/{pk}")["answer"]

    def why(self, pk: int) -> Any:
        return self.get(f"jobs/{pk}/why")

    def next(self, person: str = "Manager", **asked: Any) -> list[tuple[str, str]]:
        """(title, plot) of a person's next jobs, in their order."""
        told = self.get("next", person=self.people[person], **asked)
        assert told["facts_version"] == told["walked_version"]
        return [(job["title"], job["plot"]["name"]) for job in told["jobs"]]

    def local(self, instant: str | None) -> str:
        """An instant of an answer in the holding's zone, "Sat 22 May 15:00"."""
        if instant is None:
            return ""
        at = datetime.fromisoformat(instant).astimezone(self.zone)
        return f"{at:%a} {at.day} {at:%b %H:%M}"


def holds(answer: Mapping[str, Any]) -> dict[str, str]:
    """Sentences of an answer's holds by kind."""
    return {hold["kind"]: hold["sentence"] for hold in answer["holds"]}
