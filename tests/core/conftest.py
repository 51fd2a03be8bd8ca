"""What the tests of this room share."""

import pytest

from tests.core.world import World, build
from tests.jobs.api.matrix import grow


@pytest.fixture
def world(db: None) -> World:
    """Two holdings with one thing of every kind, and everybody who may ask."""
    return build(grow)
