"""A property to bring files to."""

import pytest

from core.models import Holding
from plots.models import Property


@pytest.fixture
def land(holding: Holding) -> Property:
    return Property.objects.create(
        holding=holding, name="Otter Bend", latitude=42.433, longitude=-94.206, zone="America/Chicago"
    )
