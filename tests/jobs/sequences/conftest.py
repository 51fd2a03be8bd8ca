from pathlib import Path

import pytest

from jobs.sequences import Reference, Shipped, read_folder

FIXTURES = Path(__file__).parents[3] / "fixtures"


@pytest.fixture(scope="session")
def shipped() -> Shipped:
    return read_folder(FIXTURES)


@pytest.fixture(scope="session")
def reference(shipped: Shipped) -> Reference:
    return shipped.reference
