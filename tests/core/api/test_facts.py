"""Serializers check and never write; every fact goes through a service."""

import pytest
from rest_framework import serializers

from core.api.facts import FactSerializer, FactViewSet
from core.models import Event, Graph, Person, Skill
from tests.core.addresses import routes, view_of
from tests.core.world import script_of


def test_every_listed_fact_stands_on_the_base_that_narrows_to_the_holding() -> None:
    listed = [name for name in routes() if name.endswith(("-list", "-detail")) and hasattr(view_of(name), "queryset")]
    assert len(listed) >= 50
    assert all(issubclass(view_of(name), FactViewSet) for name in listed)


def test_serializer_never_writes() -> None:
    class SkillSerializer(FactSerializer[Skill]):
        class Meta:
            model = Skill
            fields = ["name"]

    serializer = SkillSerializer(data={"name": "saw"})
    assert serializer.is_valid()
    with pytest.raises(AssertionError):
        serializer.save()


def test_numbers_are_bounded_by_their_column() -> None:
    checked = 0
    for name in routes():
        kind = getattr(view_of(name), "serializer_class", None)
        if kind is None or not issubclass(kind, FactSerializer):
            continue
        for field in kind().fields.values():
            if isinstance(field, serializers.IntegerField | serializers.FloatField) and not field.read_only:
                assert field.max_value is not None
                assert field.min_value is not None
                checked += 1
    assert checked >= 30


@pytest.mark.django_db
def test_refused_write_leaves_no_trace(manager: Person) -> None:
    script = script_of(manager)
    script.post("/api/skills/", {"name": "saw"}, format="json")
    events, version = Event.objects.count(), Graph.objects.get(holding=manager.holding).facts_version
    again = script.post("/api/skills/", {"name": "saw"}, format="json")
    assert again.json()["detail"] == "A skill of this name is listed already."
    assert (Event.objects.count(), Graph.objects.get(holding=manager.holding).facts_version) == (events, version)
