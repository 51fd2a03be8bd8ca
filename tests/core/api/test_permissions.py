"""What role, token and the holding's state allow."""

import pytest
from rest_framework.permissions import AllowAny
from rest_framework.settings import api_settings

from core.api.permissions import Anybody, InHolding
from core.models import Holding, HoldingState, Person
from tests.core.addresses import routes
from tests.core.world import script_of

OPEN = {"schema", "api-docs", "health", "inbound"}


def test_only_four_routes_ask_for_no_sign_in() -> None:
    assert list(api_settings.DEFAULT_PERMISSION_CLASSES) == [InHolding]
    found = set()
    for name, entry in routes().items():
        view = getattr(entry.callback, "cls", None)
        classes = getattr(view, "permission_classes", [Anybody])
        assert AllowAny not in classes
        if list(classes) != [InHolding]:
            found.add(name)
    assert found == OPEN


@pytest.mark.django_db
def test_refusal_names_the_roles_and_ones_own(helper_person: Person) -> None:
    answer = script_of(helper_person).post("/api/skills/", {"name": "saw"}, format="json").json()
    assert answer["detail"] == "Only managers may do this; your role is helper."
    assert answer["facts"] == {"role": "helper"}


@pytest.mark.django_db
def test_closed_holding_is_looked_at_and_not_changed(manager: Person, holding: Holding) -> None:
    script = script_of(manager)
    Holding.objects.filter(pk=holding.pk).update(state=HoldingState.CLOSED)
    assert script.get("/api/people/").status_code == 200
    assert script.post("/api/skills/", {"name": "saw"}, format="json").status_code == 403
