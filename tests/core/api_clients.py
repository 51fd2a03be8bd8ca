"""The fixture of the two holdings, for the folders of tests that ask the API; their conftest imports it."""

import pytest

from tests.core.world import World, build
from tests.jobs.api.matrix import grow


@pytest.fixture
def world(db: None) -> World:
    """Two holdings with one thing of every kind, and everybody who may ask."""
    return build(grow)
