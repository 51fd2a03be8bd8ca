"""Migrations that carry data over, on a database of their own that is brought up to date step by step."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from django.apps.registry import Apps
from django.db import connections
from django.db.migrations.executor import MigrationExecutor

OLD = "old"


@pytest.fixture
def migrate(tmp_path: Path, django_db_blocker: Any) -> Iterator[Any]:
    """Bring a fresh database to a migration, forwards or back; returns the models as they are there."""
    connections.databases[OLD] = {
        **connections.databases["default"],
        "ENGINE": "django.db.backends.sqlite3",
        "NAME": str(tmp_path / "old.sqlite3"),
    }

    def to(name: str) -> Apps:
        executor = MigrationExecutor(connections[OLD])
        return executor.migrate([("plots", name)]).apps

    with django_db_blocker.unblock():
        yield to
        connections[OLD].close()
    del connections[OLD]
    del connections.databases[OLD]


def rows(apps: Apps, model: str) -> Any:
    return apps.get_model("plots", model).objects.using(OLD).order_by("id")


def test_the_gauge_that_stood_with_the_property_is_kept_and_comes_back(migrate: Any) -> None:
    """A site number becomes the tie to its gauge, unless there is one; other words go to the notes on the way in."""
    before = migrate("0006_labels")
    holding = before.get_model("core", "Holding").objects.using(OLD).create(name="Old", zone="America/Chicago")
    typed = (("03304050", ""), ("the bridge at the mill", "North gate"), ("", ""), ("03304051", ""))
    for text, notes in typed:
        rows(before, "Property").create(
            holding=holding, name=f"Place {text}", latitude=40.0, longitude=-91.0, river_gauge=text, access_notes=notes
        )
    first, second, third, fourth = rows(before, "Property").values_list("pk", flat=True)
    rows(before, "PropertyGauge").create(holding=holding, property_id=fourth, site="03304052")

    after = migrate("0007_limits")
    assert list(rows(after, "PropertyGauge").order_by("property_id").values_list("property_id", "site")) == [
        (first, "03304050"),
        (fourth, "03304052"),
    ]
    assert dict(rows(after, "Property").values_list("pk", "access_notes")) == {
        first: "",
        second: "North gate\nRiver gauge: the bridge at the mill",
        third: "",
        fourth: "River gauge: 03304051",
    }

    again = migrate("0006_labels")
    assert dict(rows(again, "Property").values_list("pk", "river_gauge")) == {
        first: "03304050",
        second: "",
        third: "",
        fourth: "03304052",
    }
