"""The holding that is played on, and what of it a step may choose."""

from __future__ import annotations

import random
from datetime import UTC, date, datetime, timedelta
from typing import Any

from core.models import Graph, Holding, Person, Role
from jobs.models import (
    Job,
)
from jobs.services.seasons import apply_sequence, latest_sequence
from jobs.services.sequences import load_shipped
from jobs.services.walking import walk_holding
from plots.models import (
    Machine,
    Material,
    Normal,
    Plot,
    Property,
    PropertySeries,
    Series,
)


class Played:
    """The holding, its random source, and what was done so far in words."""

    def __init__(self) -> None:
        load_shipped()
        noon = datetime(2027, 5, 6, 17, tzinfo=UTC)
        self.holding = Holding.objects.create(name="Stepped", zone="America/Chicago", clock_at=noon)
        Graph.objects.create(holding=self.holding)
        here = {"holding": self.holding}
        self.manager = Person.objects.create(**here, name="Manager", role=Role.MANAGER)
        self.helper = Person.objects.create(**here, name="Helper")
        self.series = Series.objects.create(owner=self.holding, source=f"typed-{self.holding.pk}", place="yard")
        first = date(2027, 1, 1)
        normals = [first + timedelta(days=k) for k in range(365)]
        Normal.objects.bulk_create(
            Normal(series=self.series, month_day=f"{day:%m-%d}", high_f=60 + day.month * 2, low_f=40 + day.month)
            for day in normals
        )
        self.plots = []
        for name, zone in (("Near", ""), ("Far", "America/Denver")):
            place = Property.objects.create(**here, name=name, latitude=40.0, longitude=-91.0, zone=zone)
            PropertySeries.objects.create(**here, property=place, rank=1, series=self.series)
            self.plots.append(Plot.objects.create(**here, property=place, name=f"{name} field", acres_typed=2.0))
        self.materials = [
            Material.objects.create(**here, name=f"Can {n}", kind="herbicide", unit="gal", active=active)
            for n, active in enumerate(("glyphosate", "atrazine, S-metolachlor", "clethodim"))
        ]
        for kind in ("planter", "sprayer", "tillage_tool", "mower", "seeder"):
            Machine.objects.create(**here, name=kind, kind=kind)
        roles = {"residual herbicide": self.materials[1].pk, "burndown herbicide": self.materials[0].pk}
        roles |= {"clethodim": self.materials[2].pk, "grass herbicide": self.materials[2].pk}
        near, far = self.plots
        for key, plot in (("corn", near), ("autumn_cereal", near), ("clover_established", far), ("fence", far)):
            sequence = latest_sequence(self.holding.pk, key)
            apply_sequence(plot=plot, sequence=sequence, year=2027, by=self.manager, materials=roles)
        walk_holding(self.holding.pk)


class Chosen:
    """A random source over a played holding."""

    def __init__(self, played: Played, seed: int) -> None:
        self.random = random.Random(seed)
        self.holding = Holding.objects.get(pk=played.holding.pk)
        self.manager, self.series, self.plots = played.manager, played.series, played.plots
        self.materials = [Material.objects.get(pk=row.pk) for row in played.materials]
        self.said: list[str] = []

    def jobs(self) -> list[Job]:
        return list(Job.objects.filter(holding=self.holding).select_related("plot__property").order_by("id"))

    def job(self) -> Job:
        """Mostly one that is at hand, as people report on what they see in their lists."""
        ready = Job.objects.filter(holding=self.holding, reckoning__state__in=("open", "under_way", "held"))
        ready = list(ready.select_related("plot__property").order_by("id"))
        return self.random.choice(ready if ready and self.random.random() < 0.8 else self.jobs())

    def one(self, model: Any) -> Any:
        rows = list(model.objects.filter(holding=self.holding).order_by("id"))
        return self.random.choice(rows) if rows else None

    def day(self, back: int = 40, on: int = 60) -> date:
        return self.now.date() + timedelta(days=self.random.randint(-back, on))

    @property
    def now(self) -> datetime:
        assert self.holding.clock_at is not None
        return self.holding.clock_at
