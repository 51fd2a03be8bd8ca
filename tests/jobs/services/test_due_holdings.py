"""Which holdings a look finds due: the database picks them, whatever the number of holdings that are quiet."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from core.models import Graph, Holding, HoldingState
from jobs.services.walking import due_holdings

NOW = datetime(2026, 4, 1, 12, tzinfo=UTC)
LATER, EARLIER = NOW + timedelta(hours=1), NOW - timedelta(hours=1)


@pytest.fixture
def quiet(holding_factory: Callable[..., Holding]) -> Callable[..., int]:
    """Make a holding whose facts were walked and that has an hour to go; fields of its graph row differ as said."""

    def make(clock_at: datetime | None = None, state: str = HoldingState.ACTIVE, **fields: object) -> int:
        holding = holding_factory(clock_at=clock_at, state=state)
        standard = {"facts_version": 3, "walked_version": 3, "wake_at": LATER}
        Graph.objects.filter(holding=holding).update(**(standard | fields))
        return holding.pk

    return make


def test_due_is_what_moved_what_ran_out_and_what_was_never_walked(quiet: Callable[..., int]) -> None:
    quiet()
    moved = quiet(facts_version=4)
    ran_out = quiet(wake_at=NOW)
    never = quiet(walked_version=0, wake_at=None)
    quiet(state=HoldingState.CLOSED, facts_version=4)
    assert due_holdings(NOW) == [moved, ran_out, never]


def test_clock_that_stands_counts_instead_of_the_real_one(quiet: Callable[..., int]) -> None:
    quiet(clock_at=EARLIER, wake_at=NOW)
    passed = quiet(clock_at=LATER, wake_at=LATER)
    assert due_holdings(LATER) == [passed]


def test_quiet_holdings_cost_one_query_and_are_not_read(quiet: Callable[..., int]) -> None:
    for _ in range(30):
        quiet()
    with CaptureQueriesContext(
        connection,
    ) as asked:
        assert due_holdings(NOW) == []
    assert len(asked) == 1
