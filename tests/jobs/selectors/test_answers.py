"""Until when it is not too late, in words that fit the state of the job."""

from datetime import UTC, datetime

import pytest

from jobs.selectors.answers import deadline_sentence
from jobs.sentences import Names


@pytest.mark.parametrize(
    ("state", "says"),
    [
        ("open", "Start by Tue 18 May."),
        ("under_way", "Go on with it by Tue 18 May."),
        ("lapsed", "Too late: it had to start by Tue 18 May."),
        ("done", ""),
    ],
)
def test_a_deadline_is_told_by_state_and_no_work_under_way_is_asked_to_start(state: str, says: str) -> None:
    row = {"reckoning__latest_start": datetime(2027, 5, 18, 17, tzinfo=UTC), "reckoning__state": state}
    assert deadline_sentence(row, Names(zone="America/Chicago", year=2027)) == says
