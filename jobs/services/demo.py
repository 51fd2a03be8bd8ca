"""Build the demo holding anew from its file: land, people, stores, weather, seasons and what was reported."""

from __future__ import annotations

import tomllib
import uuid
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db import transaction

from core.models import (
    Certificate,
    Crew,
    CrewMember,
    FreeException,
    FreeTime,
    Graph,
    Holding,
    HoldingState,
    Person,
    Skill,
    User,
    Way,
    WayKind,
)
from core.services.facts import ALL, touch
from jobs.models import Assignment, Job, Need, NeedKind
from jobs.services.demo_weather import normals, past_years, store_hours, store_river
from jobs.services.reports import NewReport, store_report
from jobs.services.seasons import apply_sequence, latest_sequence
from plots.models import (
    Consent,
    Contract,
    CrewProperty,
    Day,
    Label,
    Lot,
    Machine,
    Material,
    Normal,
    Plot,
    Property,
    PropertySeries,
    QuietTime,
    Series,
    StockMove,
    TellFirst,
)

KEY = "demo"
PASSWORD = "kettle-run-demo"
NAMESPACE = uuid.UUID("6f1d7f0e-8a1a-4d54-9a30-9d3e6f3c2b11")
WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")


def build_demo() -> Holding:
    """Replace the demo holding by a new one, the same every time; other holdings are not touched."""
    data = tomllib.loads((Path(settings.FIXTURES) / "demo.toml").read_text(encoding="utf-8"))
    with transaction.atomic():
        Holding.objects.filter(key=KEY).update(state=HoldingState.CLOSED)
        Holding.objects.filter(key=KEY).delete()
        return _Builder(data).build()


def plot_of_history(holding: Holding) -> Plot:
    """The plot whose chance the demo tells: its property has years of invented weather."""
    rows = tomllib.loads((Path(settings.FIXTURES) / "demo.toml").read_text(encoding="utf-8"))["history"]
    plots = Plot.objects.select_related("property").filter(holding=holding)
    return plots.get(name=rows["plot"], property__name=rows["property"])


@dataclass(frozen=True, slots=True)
class _Said:
    """One report of the demo's past."""

    step: str
    kind: str
    at: datetime
    outcome: str = ""
    acres: float | None = None
    reason: str = ""


class _Builder:
    def __init__(self, data: Mapping[str, Any]) -> None:
        self.data = data
        self.zone = ZoneInfo(data["holding"]["zone"])
        self.clock = self._instant(data["holding"]["clock"])
        self.year: int = data["holding"]["year"]
        self.people: dict[str, Person] = {}
        self.places: dict[str, Property] = {}
        self.plots: dict[tuple[str, str], Plot] = {}
        self.materials: dict[str, Material] = {}
        self.rates: dict[int, float] = {}

    def build(self) -> Holding:
        head = self.data["holding"]
        self.holding = Holding.objects.create(key=KEY, name=head["name"], zone=head["zone"], clock_at=self.clock)
        Graph.objects.create(holding=self.holding)
        self._people()
        self._land()
        self._crews()
        self._stores()
        self._weather()
        for row in self.data["plot"]:
            self._plot(row)
        self._assignments()
        touch(self.holding.pk, [ALL])
        return self.holding

    def _instant(self, text: str) -> datetime:
        return datetime.fromisoformat(text).replace(tzinfo=self.zone).astimezone(UTC)

    def _people(self) -> None:
        for row in self.data["person"]:
            user = User.objects.filter(email=row["mail"]).first() or User.objects.create_user(row["mail"])
            user.set_password(PASSWORD)
            user.save(update_fields=["password"])
            person = Person.objects.create(holding=self.holding, user=user, name=row["name"], role=row["role"])
            self.people[row["name"]] = person
            Way.objects.create(holding=self.holding, person=person, kind=WayKind.FILE, address=row["mail"])
            for text in row["free"]:
                weekday, hours = text.split()
                starts, ends = _hours(hours)
                FreeTime.objects.create(
                    holding=self.holding, person=person, weekday=WEEKDAYS.index(weekday), starts=starts, ends=ends
                )
            for text in row.get("except", ()):
                day, hours, word = text.split()
                starts, ends = _hours(hours)
                FreeException.objects.create(
                    holding=self.holding,
                    person=person,
                    day=date.fromisoformat(day),
                    starts=starts,
                    ends=ends,
                    free=word == "free",
                )
            for name, dates in row.get("skills", {}).items():
                skill, _ = Skill.objects.get_or_create(holding=self.holding, name=name)
                first, last = (date.fromisoformat(part) for part in dates.split(".."))
                Certificate.objects.create(
                    holding=self.holding, person=person, skill=skill, valid_from=first, valid_to=last
                )

    def _land(self) -> None:
        for row in self.data["property"]:
            place = Property.objects.create(
                holding=self.holding,
                name=row["name"],
                latitude=row["place"][0],
                longitude=row["place"][1],
                tenure=row["tenure"],
                tenure_ends=date.fromisoformat(row["ends"]) if "ends" in row else None,
                held_with=row.get("with", ""),
                zone=self.data["holding"]["zone"],
                access_notes=row["access"],
                floods=row.get("floods", False),
            )
            self.places[row["name"]] = place
            common = {"holding": self.holding, "property": place}
            for need in row.get("consent", ()):
                Consent.objects.create(
                    **common,
                    operation=need["operation"],
                    whose=need["whose"],
                    given_on=_day(need.get("given")),
                    valid_to=_day(need.get("to")),
                )
            for told in row.get("tell", ()):
                TellFirst.objects.create(
                    **common,
                    operation=told.get("operation", ""),
                    hazard=told.get("hazard", ""),
                    name=told["name"],
                    role=told["role"],
                    reach=told["reach"],
                    lead_hours=told["hours"],
                    note=told.get("note", ""),
                )
            for quiet in row.get("quiet", ()):
                starts, ends = _hours(quiet["hours"]) if "hours" in quiet else (None, None)
                QuietTime.objects.create(
                    **common,
                    kind=quiet["kind"],
                    first_day=date.fromisoformat(quiet["from"]),
                    last_day=date.fromisoformat(quiet["to"]),
                    from_time=starts,
                    to_time=ends,
                    reason=quiet["reason"],
                )
            if "contract" in row:
                terms = row["contract"]
                Contract.objects.create(
                    **common,
                    practice=terms["practice"],
                    first_day=date.fromisoformat(terms["from"]),
                    last_day=date.fromisoformat(terms["to"]),
                    closed_from=terms["closed"][0],
                    closed_to=terms["closed"][1],
                )

    def _crews(self) -> None:
        for row in self.data["crew"]:
            crew = Crew.objects.create(holding=self.holding, name=row["name"])
            for name in row["members"]:
                CrewMember.objects.create(holding=self.holding, crew=crew, person=self.people[name])
            for name in row["properties"]:
                CrewProperty.objects.create(holding=self.holding, crew=crew, property=self.places[name])

    def _stores(self) -> None:
        for row in self.data["machine"]:
            Machine.objects.create(
                holding=self.holding,
                name=row["name"],
                kind=row["kind"],
                width_ft=row.get("width_ft"),
                speed_mph=row.get("speed_mph"),
                efficiency=row.get("efficiency"),
                at_property=self.places[row["at"]],
                state=row.get("state", "works"),
                until=_day(row.get("until")),
                note=row.get("note", ""),
            )
        for row in self.data["material"]:
            material = Material.objects.create(
                holding=self.holding,
                name=row["name"],
                kind=row["kind"],
                active=row.get("active", ""),
                unit=row["unit"],
                pack_size=row["pack"],
                lead_days=row["lead"],
                restricted=row.get("restricted", False),
                note=row.get("note", ""),
            )
            self.materials[row["role"]] = material
            self.rates[material.pk] = row["rate"]
            if "label" in row:
                invented = "invented for the demo; read the label in hand"
                Label.objects.create(holding=self.holding, material=material, source=invented, **row["label"])
            if "lot" in row:
                Lot.objects.create(holding=self.holding, material=material, number=row["lot"])
            if row["stock"]:
                StockMove.objects.create(
                    holding=self.holding,
                    material=material,
                    quantity=row["stock"],
                    at=self.clock - timedelta(days=120),
                    note="counted in the shed",
                )

    def _weather(self) -> None:
        rows = self.data["weather"]
        first = date.fromisoformat(rows["first"])
        for name, place in self.places.items():
            series = Series.objects.create(
                source="typed", place=f"demo-{place.pk}", name=f"{name}, gauge and thermometer", owner=self.holding
            )
            PropertySeries.objects.create(holding=self.holding, property=place, rank=1, series=series)
            Day.objects.bulk_create(
                Day(series=series, date=first + timedelta(days=n), high_f=high, low_f=low, rain_in=rain)
                for n, (high, low, rain) in enumerate(zip(rows["high"], rows["low"], rows["rain"], strict=True))
            )
            Normal.objects.bulk_create(normals(series, rows))
            if name not in self.data["forecast"]["without"]:
                self._forecast(name, place)
        river = self.data["river"]
        self._history()
        store_river(self.holding, self.places[river["property"]], river, self.zone)

    def _history(self) -> None:
        """Invented years behind everything else that the property reads."""
        rows = self.data["history"]
        place = self.places[rows["property"]]
        name = f"{rows['property']}, {rows['years']} invented years"
        series = Series.objects.create(
            source="typed", place=f"demo-{place.pk}-years", name=name, owner=self.holding, zone=self.zone.key
        )
        PropertySeries.objects.create(holding=self.holding, property=place, rank=3, series=series)
        Day.objects.bulk_create(past_years(series, self.data["weather"], rows))

    def _forecast(self, name: str, place: Property) -> None:
        rows = self.data["forecast"]
        series = Series.objects.create(
            source="typed", place=f"demo-{place.pk}-hours", name=f"{name}, forecast typed in", owner=self.holding
        )
        PropertySeries.objects.create(holding=self.holding, property=place, rank=2, series=series)
        store_hours(series, rows, self.zone, rows["windier"].get(name, 1.0))

    def _plot(self, row: Mapping[str, Any]) -> None:
        plot = Plot.objects.create(
            holding=self.holding,
            property=self.places[row["property"]],
            name=row["name"],
            kind=row.get("kind", "food_plot"),
            acres_typed=row["acres"],
        )
        self.plots[row["property"], row["name"]] = plot
        season = apply_sequence(
            plot=plot,
            sequence=latest_sequence(self.holding.pk, row["sequence"]),
            year=row.get("year", self.year),
            by=None,
            materials={role: material.pk for role, material in self.materials.items()},
        )
        for need in Need.objects.filter(job__season=season, kind=NeedKind.MATERIAL, material__isnull=False):
            need.rate_per_acre = need.rate_per_acre or self.rates[need.material_id or 0]
            need.save(update_fields=["rate_per_acre"])
        jobs = dict(Job.objects.filter(season=season).values_list("step", "pk"))
        for number, said in enumerate(sorted(self._said(row), key=lambda said: (said.at, said.step))):
            if said.kind != "seen" and said.step not in jobs:
                raise ValueError(f"{row['name']}: the sequence {row['sequence']} has no step '{said.step}'.")
            store_report(
                person=self._reporter(row["property"]),
                new=NewReport(
                    client_id=uuid.uuid5(NAMESPACE, f"{row['name']} {number} {said.step}"),
                    kind=said.kind,
                    happened_at=said.at,
                    job=jobs.get(said.step),
                    plot=plot.pk,
                    outcome=said.outcome,
                    acres=said.acres,
                    reason=said.reason,
                ),
                now=said.at,
            )

    def _reporter(self, place: str) -> Person:
        crew = next(row for row in self.data["crew"] if place in row["properties"])
        return self.people[crew["members"][-1]]

    def _said(self, row: Mapping[str, Any]) -> Iterator[_Said]:
        for step in row.get("satisfied", ()):
            yield _Said(step, "skipped", self._when("01-05"))
        for outcome, day in row.get("seen", {}).items():
            yield _Said("", "seen", self._when(day), outcome)
        for kind in ("done", "could_not"):
            for step, value in row.get(kind, {}).items():
                more = value if isinstance(value, dict) else {"day": value}
                yield _Said(
                    step,
                    kind,
                    self._when(more["day"]),
                    more.get("outcome", ""),
                    more.get("acres"),
                    more.get("reason", ""),
                )

    def _when(self, text: str) -> datetime:
        """ "04-25 15:00", or "-1 09-20" of the year before; noon where no hour is told."""
        parts = text.split()
        offset = int(parts.pop(0)) if parts[0][0] in "+-" else 0
        month, day = (int(part) for part in parts[0].split("-"))
        hour = time.fromisoformat(parts[1]) if len(parts) > 1 else time(12)
        return datetime.combine(date(self.year + offset, month, day), hour, self.zone).astimezone(UTC)

    def _assignments(self) -> None:
        crews = {crew.name: crew for crew in Crew.objects.filter(holding=self.holding)}
        for row in self.data["assign"]:
            job = Job.objects.get(plot=self.plots[row["property"], row["plot"]], step=row["step"])
            starts, ends = _hours(row["hours"]) if "hours" in row else (None, None)
            Assignment.objects.create(
                holding=self.holding,
                job=job,
                person=self.people.get(row["to"]),
                crew=crews.get(row["to"]),
                day=_day(row["day"]),
                starts=starts,
                ends=ends,
            )


def _hours(text: str) -> tuple[time, time]:
    starts, ends = text.split("-")
    return time.fromisoformat(starts), time.fromisoformat(ends)


def _day(text: str | None) -> date | None:
    return None if text is None else date.fromisoformat(text)
