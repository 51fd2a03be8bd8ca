"""Every table of facts wakes the walk by every door through which it is written: service, admin, API, import.

The tables come from the models, so that a new one without its doors fails here. The API's own test of every write is
the matrix; here it is held against the tables.
"""

from __future__ import annotations

import io
import uuid
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from django.apps import apps
from django.conf import settings
from django.contrib import admin
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import models
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from core.admin import SeenAdmin
from core.models import CrewMember, Event, Graph, HoldingRow, Invitation, Notice, Token, User
from core.services.rows import save_row
from jobs.models import Assignment, Observation, Override, Reckoning, Report, Season
from jobs.services.reports import NewReport, store_report
from jobs.services.walking import due_holdings, walk_holding
from plots.importing import KINDS
from plots.models import Day, Hour, Normal, Series
from plots.services.series import save_values
from tests.core.addresses import view_of
from tests.core.api_clients import world
from tests.core.rows import ROWS
from tests.core.world import Side, World

__all__ = ["world"]

pytestmark = pytest.mark.django_db

NO_FACTS = frozenset({Event, Notice, Token, Invitation, Reckoning})
"""Rows of a holding that no walk reads: what was logged, sent, handed out or reckoned."""

WEATHER = frozenset({Series, Day, Hour, Normal})

FACTS = sorted(
    {model for model in apps.get_models() if issubclass(model, HoldingRow)} - NO_FACTS | WEATHER,
    key=lambda model: model.__name__,
)

OTHER_ROUTES = {
    CrewMember: ("crew-list", "crew-detail"),
    Season: ("sequence-apply", "season-call-off", "season-withdraw", "season-roll-over"),
    Observation: ("report-list",),
}
"""Tables written by a route that is about another."""

NOT_BY_API = frozenset({Normal})
"""Normals come with a station's import; nobody types 365 of them."""

SEEN_ONLY = frozenset({Observation, Report, Override})
"""Kept for ever under rules of their own: the admin shows them."""

NOT_CHANGED = frozenset({Assignment})
"""Made and ended, never changed."""


def thing_of(model: type[models.Model], side: Side) -> models.Model:
    """The row of the side; a table without one fails, so that a new one gets its thing and with it these tests."""
    if model is CrewMember:
        return CrewMember.objects.filter(holding=side.holding).earliest("pk")
    if model is Normal:
        return Normal.objects.create(series=side.things["series"], month_day="05-09", high_f=70.0, low_f=48.0)
    found = [thing for thing in side.things.values() if type(thing) is model]
    assert found, f"{model.__name__} has no thing in the world of the tests, so nothing shows that it wakes the walk."
    return type(found[0])._default_manager.get(pk=found[0].pk)


@pytest.fixture
def asleep(world: World) -> Callable[[], bool]:
    """The holding is walked and has nothing to do; the answer says whether it is still so."""
    holding = world.home.holding
    walk_holding(holding.pk)

    def sleeps() -> bool:
        return holding.pk not in due_holdings(timezone.now())

    assert sleeps()
    return sleeps


@pytest.mark.parametrize("model", FACTS)
def test_a_fact_stored_by_the_service_wakes_the_walk(model: Any, world: World, asleep: Callable[[], bool]) -> None:
    row: Any = thing_of(model, world.home)
    if model in WEATHER:
        save_values(row=row, by=world.home.manager)
    elif model is Report:
        happened = {"kind": "note", "happened_at": timezone.now(), "plot": row.plot_id}
        new = NewReport(client_id=uuid.uuid4(), **happened)
        store_report(person=world.home.manager, new=new, now=timezone.now())
    else:
        before = Graph.objects.get(holding=world.home.holding).facts_version
        save_row(row=row, by=world.home.manager)
        assert Graph.objects.get(holding=world.home.holding).facts_version == before + 1
    assert not asleep()


def form_of(client: Client, url: str) -> dict[str, Any]:
    """What a browser sends when somebody opens a form and saves it as it is."""
    form = client.get(url).context["adminform"].form
    sent = {}
    for bound in form:
        value = bound.value()
        widget = bound.field.widget
        names = [f"{bound.html_name}_{part}" for part in range(len(getattr(widget, "widgets", ())))]
        if names:
            shown = widget.decompress(value) if not isinstance(value, list | tuple) else value
            sent |= {name: part or "" for name, part in zip(names, shown, strict=True)}
        elif value is not None and value is not False:
            sent[bound.html_name] = value
    return sent


@pytest.mark.parametrize("model", [model for model in FACTS if model not in SEEN_ONLY | NOT_CHANGED])
def test_a_fact_saved_in_the_admin_wakes_the_walk(
    model: Any, world: World, client: Client, asleep: Callable[[], bool]
) -> None:
    root = User.objects.create_superuser("root@example.org", "x" * 12)
    client.force_login(root, backend="django.contrib.auth.backends.ModelBackend")
    row = thing_of(model, world.home)
    url = reverse(f"admin:{model._meta.app_label}_{model._meta.model_name}_change", args=[row.pk])
    answer = client.post(url, form_of(client, url), follow=True)
    assert [message.level_tag for message in answer.context["messages"]] == ["success"], list(
        map(str, answer.context["messages"])
    )
    assert not asleep()


def test_what_the_admin_only_shows_cannot_be_written_there() -> None:
    for model in SEEN_ONLY:
        assert isinstance(admin.site._registry[model], SeenAdmin), model


def test_every_fact_has_a_route_that_writes_it_and_wakes_the_walk() -> None:
    """Every route and method that is not quiet is shown to wake the walk by the matrix of routes."""
    waking: dict[Any, list[str]] = {}
    for name, row in ROWS.items():
        queryset = getattr(view_of(name), "queryset", None)
        if queryset is not None and {"POST", "PATCH", "DELETE"} & row.methods.keys() - row.quiet:
            waking.setdefault(queryset.model, []).append(name)
    for model in FACTS:
        named = OTHER_ROUTES.get(model, ())
        for name in named:
            assert {"POST", "PATCH"} & ROWS[name].methods.keys() - ROWS[name].quiet, name
        assert waking.get(model) or named or model in NOT_BY_API, f"{model.__name__} is written by no route"
    assert not [model.__name__ for model in NOT_BY_API if waking.get(model)]


@pytest.mark.parametrize("kind", KINDS)
def test_an_imported_file_wakes_the_walk(kind: str, world: World, asleep: Callable[[], bool], tmp_path: Path) -> None:
    """A kind of file without an example fails."""
    names = {"geojson": "plots.geojson", "kml": "plots.kml", "gpx": "walked.gpx"}
    if kind == "kmz":
        data = zipped((Path(settings.FIXTURES) / "imports/plots.kml").read_bytes())
    else:
        data = (Path(settings.FIXTURES) / "imports" / names.get(kind, f"{kind}.csv")).read_bytes()
    side = world.home
    script = world.clients["manager"]
    script.post("/api/properties/", {"name": "Otter Bend", "latitude": 42.43, "longitude": -94.2}, format="json")
    walk_holding(side.holding.pk)
    assert asleep()
    form = {"file": SimpleUploadedFile(f"file.{kind}", data), "kind": kind}
    if kind in ("geojson", "kml", "kmz", "gpx", "days", "hours", "normals", "history"):
        form["property"] = script.get("/api/properties/", {"name": "Otter Bend"}).json()["results"][0]["id"]
    answer = script.post("/api/imports/", form, format="multipart")
    assert answer.status_code == 200, answer.content
    assert answer.json()["stored"] > 0
    assert not asleep()


def zipped(data: bytes) -> bytes:
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w") as archive:
        archive.writestr("doc.kml", data)
    return file.getvalue()
