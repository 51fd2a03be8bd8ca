"""Land on which the rules are met, through the API."""

from __future__ import annotations

from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile

from jobs.services.walking import walk_holding
from tests.farm import Farm, holds

BOX = 0.0001
"""Degrees: about 36 ft to the north."""


def outline(south: float, west: float, height: float = 10 * BOX, width: float = 10 * BOX) -> dict[str, Any]:
    east, north = west + width, south + height
    ring = [[west, south], [east, south], [east, north], [west, north], [west, south]]
    return {"type": "Polygon", "coordinates": [ring]}


def hours_file(rows: list[str]) -> SimpleUploadedFile:
    return SimpleUploadedFile("hours.csv", "\n".join(rows).encode())


class Land:
    """A property with one plot, and a sprayer's crew of two who may spray."""

    def __init__(self, at: str, zone: str = "America/Chicago") -> None:
        self.farm = farm = Farm(at, zone=zone)
        self.land = farm.place("Creek farm")
        self.plot = farm.post("plots", name="Field", property=self.land, acres_typed=4.0)["id"]

    def job(self, operation: str, plot: int | None = None, **body: Any) -> int:
        body = {"plot": plot or self.plot, "operation": operation, "title": operation, "duration_min": 60} | body
        pk: int = self.farm.post("jobs", **body)["id"]
        return pk

    def contract(self, **terms: Any) -> int:
        body = {"property": self.land, "practice": "cover", "first_day": "2020-01-01", "last_day": "2033-12-31"}
        pk: int = self.farm.post("contracts", **body | terms)["id"]
        return pk

    def kinds(self, job: int) -> set[str]:
        """After the walk over what was touched; a walk over everything changes nothing."""
        walk_holding(self.farm.holding.pk)
        found = set(holds(self.farm.job(job)))
        assert walk_holding(self.farm.holding.pk, whole=True).changed == ()
        return found

    def bottle(self, name: str = "Bottle", **label: Any) -> int:
        farm = self.farm
        pk: int = farm.post("materials", name=name, kind="herbicide", unit="gal", active="dicamba")["id"]
        farm.post("labels", material=pk, **{"entry_hours": 12.0, "wash_known": True} | label)
        return pk

    def spray(self, plot: int | None = None, acres: float | None = None, operation: str = "spray") -> int:
        job = self.job(operation, plot, **({} if acres is None else {"acres": acres}))
        self.farm.post("needs", job=job, kind="material", name="product", material=self.product, rate_per_acre=0.1)
        return job

    @property
    def product(self) -> int:
        found = self.farm.all("materials", name="Bottle")
        return int(found[0]["id"]) if found else self.bottle()


def burn(land: Land, **sheet: Any) -> int:
    """A burn of which everything is typed but for what the test changes."""
    farm = land.farm
    job = land.job("burn")
    whole = {
        "permit_needed": False, "boss": farm.people["Manager"], "least_crew": 2, "fuel_height_ft": 3.0,
        "break_width_ft": 6.0, "break_least_ft": 4.0,
    }  # fmt: skip
    farm.post("sheets", job=job, **whole | sheet)
    farm.helper("Ada")
    for name in ("Manager", "Ada"):
        farm.post("assignments", job=job, person=farm.people[name])
    return job
