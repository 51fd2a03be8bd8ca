"""The guards that stand in the database are those that the models ask for."""

import pytest
from django.apps import apps
from django.db import connection, migrations, models
from django.db.migrations.loader import MigrationLoader

from core.guards import GuardsLifted, append_only, border_of, installed
from core.models import Holding, HoldingRow
from jobs.guards import GUARDS

APPS = ("core", "plots", "jobs")


def wanted() -> set[tuple[str, str]]:
    guards = [guard for label in APPS for guard in border_of(apps, label)]
    guards += [*append_only("core_event", "A line of the log"), *GUARDS]
    return {(name, guard.table) for guard in guards for name in guard.statements(connection.vendor)}


@pytest.mark.django_db
def test_the_database_has_the_guards_that_the_models_ask_for_and_no_others() -> None:
    assert set(installed(connection)) == wanted()


def test_every_foreign_key_between_rows_of_a_holding_has_its_border_guard() -> None:
    guarded = {guard.name for label in APPS for guard in border_of(apps, label)}
    keys = [
        (model._meta.db_table, field.name)
        for model in apps.get_models()
        if issubclass(model, HoldingRow)
        for field in model._meta.get_fields()
        if isinstance(field, models.ForeignKey)
        and not field.auto_created
        and issubclass(field.related_model, HoldingRow)
    ]
    assert len(keys) > 40
    assert [key for key in keys if f"{key[0]}_{key[1]}_inside" not in guarded] == []


def test_what_may_belong_to_nobody_is_guarded_too() -> None:
    guarded = {guard.name for label in APPS for guard in border_of(apps, label)}
    sometimes_owned = [
        (model._meta.db_table, field.name)
        for model in apps.get_models()
        if issubclass(model, HoldingRow)
        for field in model._meta.concrete_fields
        if isinstance(field, models.ForeignKey)
        and not issubclass(field.related_model, HoldingRow)
        and any(f.null and f.related_model is Holding for f in field.related_model._meta.concrete_fields)
    ]
    assert sometimes_owned == [("jobs_season", "sequence"), ("plots_propertyseries", "series")] or sometimes_owned == [
        ("plots_propertyseries", "series"),
        ("jobs_season", "sequence"),
    ]
    assert {f"{table}_{name}_inside" for table, name in sometimes_owned} <= guarded


@pytest.mark.django_db(transaction=True)
def test_a_table_can_be_altered_and_keeps_its_guards() -> None:
    before = set(installed(connection))
    old = MigrationLoader(connection).project_state()
    new = old.clone()
    alter = GuardsLifted([migrations.AlterField("Job", "title", models.CharField(max_length=130))])
    alter.state_forwards("jobs", new)
    with connection.schema_editor() as editor:
        alter.database_forwards("jobs", editor, old, new)
    assert set(installed(connection)) == before
    with connection.schema_editor() as editor:
        alter.database_backwards("jobs", editor, new, old)
    assert set(installed(connection)) == before
