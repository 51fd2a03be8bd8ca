"""A change of the holding itself."""

import pytest

from core.errors import Refused
from core.models import Event, Holding, Person, Touched
from core.services.facts import ALL
from core.services.holding import change_holding

pytestmark = pytest.mark.django_db


def test_new_zone_asks_for_the_whole_walk_and_is_logged(manager: Person, holding: Holding) -> None:
    change_holding(holding=holding, by=manager, changes={"zone": "America/Denver"})
    holding.refresh_from_db()
    assert holding.zone == "America/Denver"
    assert Touched.objects.filter(holding=holding, key=ALL).exists()
    assert Event.objects.get(object="holding").change == {"zone": "America/Denver"}


def test_unknown_units_are_refused_and_nothing_is_stored(manager: Person, holding: Holding) -> None:
    with pytest.raises(Refused) as refusal:
        change_holding(holding=holding, by=manager, changes={"units": "furlongs"})
    assert refusal.value.field == "units"
    holding.refresh_from_db()
    assert holding.units == "us"
    assert not Event.objects.exists()
