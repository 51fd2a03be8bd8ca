"""Who works on a job, and whose hours it fits."""

import pytest

from jobs.reminder_rules import Free, Hearer, fitting, hearers

NOBODY: frozenset[int] = frozenset()
PEOPLE = [
    Hearer(1, "manager"),
    Hearer(2, "helper", frozenset({7})),
    Hearer(3, "helper", frozenset({8})),
    Hearer(4, "viewer", frozenset({7, 8})),
]


@pytest.mark.parametrize(
    ("people", "crews", "here", "told"),
    [
        (frozenset({3}), NOBODY, frozenset({7}), (3,)),
        (NOBODY, frozenset({8}), frozenset({7}), (3,)),
        (NOBODY, NOBODY, frozenset({7}), (2,)),
        (NOBODY, NOBODY, frozenset({7, 8}), (2, 3)),
        (NOBODY, NOBODY, NOBODY, (1,)),
        (frozenset({4}), NOBODY, NOBODY, ()),
    ],
)
def test_those_it_was_given_to_hear_else_the_crew_there_else_the_managers(
    people: frozenset[int], crews: frozenset[int], here: frozenset[int], told: tuple[int, ...]
) -> None:
    assert hearers(PEOPLE, assigned_people=people, assigned_crews=crews, crews_here=here) == told


FREE = {
    1: Free(True, 60),
    2: Free(True, 240, frozenset({"saw"})),
    3: Free(False, 0),
    4: Free(True, 0, frozenset({"saw"})),
}
NONE: frozenset[str] = frozenset()
SAW = frozenset({"saw"})


@pytest.mark.parametrize(
    ("minutes", "skills", "told"),
    [
        (60, NONE, (1, 2, 3)),
        (61, NONE, (2, 3)),
        (900, NONE, (2, 3)),
        (60, SAW, (2,)),
    ],
)
def test_a_job_fits_who_has_the_hours_and_the_certificate_or_listed_no_hours(
    minutes: int, skills: frozenset[str], told: tuple[int, ...]
) -> None:
    assert fitting((1, 2, 3, 4), given=False, free=FREE, minutes=minutes, skills=skills) == told


def test_whoever_it_was_given_to_by_hand_hears_in_any_case() -> None:
    assert fitting((4,), given=True, free=FREE, minutes=60, skills=frozenset({"burn boss"})) == (4,)
