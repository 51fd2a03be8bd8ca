"""Two holdings of one make, everybody who may ask, and one thing of every kind in each: what the matrix walks over."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

from django.db import models
from django.utils import timezone
from rest_framework.test import APIClient

from core.models import (
    Certificate,
    Crew,
    CrewMember,
    Event,
    FreeException,
    FreeTime,
    Graph,
    Heartbeat,
    Holding,
    Notice,
    NoticeState,
    Person,
    Role,
    Skill,
    Token,
    Way,
)
from core.services.tokens import make_token, revoke_token
from plots.models import (
    Consent,
    Contract,
    CrewProperty,
    Crop,
    Day,
    Hour,
    Label,
    LabelActive,
    Lot,
    Machine,
    Material,
    OwnLimit,
    PlantBack,
    Plot,
    Property,
    PropertyGauge,
    PropertySeries,
    QuietTime,
    Series,
    SoilTest,
    Source,
    StockMove,
    TellFirst,
)
from plots.services.series import typed_source

SPRING = date(2026, 4, 1)
NOON = datetime(2026, 4, 1, 17, tzinfo=UTC)


@dataclass
class Side:
    """One holding: its people and one thing of each kind by name."""

    holding: Holding
    manager: Person
    helper: Person
    other_crew: Person
    viewer: Person
    things: dict[str, models.Model] = field(default_factory=dict)

    def id(self, name: str) -> Any:
        return self.things[name].pk


@dataclass
class World:
    home: Side
    away: Side
    clients: Mapping[str, APIClient]


class Script(APIClient):
    """A script that reads before it changes: PATCH and DELETE carry the ETag that a GET has just shown.

    `If-Match` given with the request is sent as it is; what cannot be read is changed without one."""

    def generic(self, method: str, path: str, *args: Any, **kwargs: Any) -> Any:
        said = "HTTP_IF_MATCH" in kwargs or "If-Match" in (kwargs.get("headers") or {})
        if method in ("PATCH", "DELETE") and not said:
            tag = self.get(path).headers.get("ETag")
            kwargs = {**kwargs, "HTTP_IF_MATCH": tag} if tag else kwargs
        return super().generic(method, path, *args, **kwargs)


def client_of(secret: str = "") -> Script:
    """A script: its token if it has one. A fault of ours is an answer to be looked at, not an exception."""
    client = Script(raise_request_exception=False)
    if secret:
        client.credentials(HTTP_AUTHORIZATION=f"Bearer {secret}")
    return client


def script_of(person: Person, kind: str = "full") -> Script:
    return client_of(make_token(person=person, kind=kind)[1])


def lay(name: str) -> Side:
    """A holding with a manager, a helper, a helper of another crew and a viewer, and one thing of each kind."""
    holding = Holding.objects.create(name=name)
    Graph.objects.create(holding=holding)

    def person(who: str, role: str) -> Person:
        return Person.objects.create(holding=holding, name=f"{who} of {name}", role=role)

    side = Side(
        holding,
        person("Manager", Role.MANAGER),
        person("Helper", Role.HELPER),
        person("Stranger to the crew", Role.HELPER),
        person("Viewer", Role.VIEWER),
    )
    here = {"holding": holding}
    things = side.things

    def add(key: str, row: models.Model) -> Any:
        row.save()
        things[key] = row
        return row

    add("person", Person(**here, name="Spare"))
    add("way", Way(**here, person=side.helper, kind="mail", address="helper@example.org"))
    add("free-time", FreeTime(**here, person=side.helper, weekday=5, starts=time(8), ends=time(12)))
    add("free-exception", FreeException(**here, person=side.helper, day=SPRING, starts=time(8), ends=time(9)))
    skill = add("skill", Skill(**here, name="saw"))
    add("certificate", Certificate(**here, person=side.helper, skill=skill, valid_from=SPRING))
    crew = add("crew", Crew(**here, name="First crew"))
    CrewMember.objects.create(**here, crew=crew, person=side.helper)
    second = add("second_crew", Crew(**here, name="Second crew"))
    CrewMember.objects.create(**here, crew=second, person=side.other_crew)
    things["token"] = make_token(person=side.helper)[0]
    add("event", Event(**here, verb="added", object="plot"))
    add(
        "notice",
        Notice(
            **here,
            person=side.helper,
            way_kind="file",
            kind="opened",
            basis="b",
            created_at=NOON,
            due_at=NOON,
            state=NoticeState.SENT,
        ),
    )
    land = add("property", Property(**here, name="Hill", latitude=40.1, longitude=-91.1, zone="America/Chicago"))
    add("new_property", Property(**here, name="Hollow", latitude=40.3, longitude=-91.3, zone="America/Chicago"))
    plot = add("plot", Plot(**here, property=land, name="Ridge", acres_typed=2.5))
    add("consent", Consent(**here, property=land, whose="the neighbour"))
    add("tell-first", TellFirst(**here, property=land, name="Dispatch", role="fire dispatch", reach="the county line"))
    add("quiet-time", QuietTime(**here, property=land, first_day=SPRING, last_day=SPRING, reason="hunting"))
    add("contract", Contract(**here, property=land, practice="cover", first_day=SPRING, last_day=SPRING))
    add("soil-test", SoilTest(**here, plot=plot, on=SPRING, ph=6.1))
    add("crew-property", CrewProperty(**here, crew=crew, property=land))
    add("machine", Machine(**here, name="Old tractor", kind="tractor"))
    add("own-limit", OwnLimit(**here, plot=plot, quantity="wind_mph", most=9.0))
    material = add("material", Material(**here, name="Oats", kind="seed", unit="lb"))
    add("new_material", Material(**here, name="Bottle", kind="herbicide", unit="gal", active="glyphosate"))
    label = add("label", Label(**here, material=material, entry_hours=24.0))
    add("plant-back", PlantBack(**here, label=label, crop="soybean", days=120.0))
    add("label-active", LabelActive(**here, label=label, active="glyphosate", per_unit=4.0, unit="lb ae"))
    lot = add("lot", Lot(**here, material=material, number="L1"))
    add("stock-move", StockMove(**here, material=material, lot=lot, quantity=50.0, at=NOON))
    series = add("series", Series(owner=holding, source=typed_source(holding.pk), place="yard"))
    add("day", Day(series=series, date=SPRING, high_f=61.0, low_f=40.0))
    add("hour", Hour(series=series, at=NOON, temp_f=55.0))
    add("property-gauge", PropertyGauge(**here, property=land, site="03304050", level_ft=16.0))
    add("property-series", PropertySeries(**here, property=land, rank=1, series=series))
    return side


Grow = Callable[[Side], None]


def build(grow: Grow | None = None) -> World:
    """Both sides and everybody who asks; `grow` adds the things of other rooms to a side."""
    Heartbeat.objects.create(name=Heartbeat.SWEEP, at=timezone.now())
    home, away = lay("Home"), lay("Away")
    shared = [
        Crop.objects.get_or_create(key="oats", defaults={"name": "oats"})[0],
        Source.objects.create(key="0-table", title="A table", worth="x"),
    ]
    for side in (home, away):
        side.things |= {"crop": shared[0], "source": shared[1]}
        if grow is not None:
            grow(side)
    revoked, gone = make_token(person=home.manager)
    revoke_token(token=revoked, by=home.manager)
    old, expired = make_token(person=home.manager)
    Token.objects.filter(pk=old.pk).update(expires_at=timezone.now() - timedelta(seconds=1))
    clients = {
        "anonymous": client_of(),
        "revoked": client_of(gone),
        "expired": client_of(expired),
        "stranger": script_of(away.manager),
        "other_crew": script_of(home.other_crew),
        "helper": script_of(home.helper),
        "viewer": script_of(home.viewer),
        "manager": script_of(home.manager),
        "read_token": script_of(home.manager, "read"),
        "report_token": script_of(home.helper, "report"),
    }
    return World(home, away, clients)
