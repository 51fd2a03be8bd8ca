"""Which season can still be met: half of the steps outside branches or more are not over."""

from datetime import date

import pytest

from jobs.sequences import from_document
from jobs.sequences.beginning import Beginning, season_to_begin
from jobs.sequences.reference import Reference
from jobs.sequences.spec import SequenceSpec
from tests.jobs.services.test_across import document


@pytest.fixture
def spec(reference: Reference) -> SequenceSpec:
    """Four steps: two by the end of June, two by the end of October."""
    told = document("strip", ["till", "sow", "mow", "lime"], [], [])
    told["season"] = {"from": "04-01", "to": "10-31"}
    for step in told["step"][2:]:
        step["to"] = "10-31"
    return from_document(told, reference)


def test_a_season_of_which_half_can_be_met_is_the_one(spec: SequenceSpec) -> None:
    assert season_to_begin(spec, date(2026, 2, 1)) == Beginning(2026, over=0, steps=4)
    assert season_to_begin(spec, date(2026, 6, 30)) == Beginning(2026, over=0, steps=4), "its last day is not over"
    assert season_to_begin(spec, date(2026, 7, 1)) == Beginning(2026, over=2, steps=4)


def test_one_of_which_most_is_over_gives_way_to_the_next_and_says_so(spec: SequenceSpec) -> None:
    assert season_to_begin(spec, date(2026, 11, 25)) == Beginning(2027, 0, 4, passed_year=2026, passed_over=4)
