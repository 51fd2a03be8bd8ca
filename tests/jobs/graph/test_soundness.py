"""Contradictions among fixed lags, beside a naive search for dates."""

from dataclasses import replace
from random import Random

import pytest

from jobs.graph.data import Arc, DegreeDays, Fixed, Relation
from jobs.graph.soundness import contradiction


def rises(arcs: list[Arc], durations: dict[int, int]) -> bool:
    """Whether start times cannot be found: longest ways by plain relaxing go on rising after as many rounds as jobs."""
    starts = dict.fromkeys(durations, 0)
    for _ in range(len(durations) + 1):
        moved = False
        for arc in arcs:
            a = durations[arc.tail] if arc.relation in ("FS", "FF") else 0
            b = durations[arc.head] if arc.relation in ("FF", "SF") else 0
            if isinstance(arc.minimum, Fixed) and starts[arc.tail] + a + arc.minimum.minutes - b > starts[arc.head]:
                starts[arc.head] = starts[arc.tail] + a + arc.minimum.minutes - b
                moved = True
            if isinstance(arc.maximum, Fixed) and starts[arc.head] + b - a - arc.maximum.minutes > starts[arc.tail]:
                starts[arc.tail] = starts[arc.head] + b - a - arc.maximum.minutes
                moved = True
        if not moved:
            return False
    return True


@pytest.mark.parametrize("seed", range(300))
def test_a_contradiction_is_found_exactly_where_no_dates_exist(seed: int) -> None:
    chance = Random(seed)
    count = chance.randint(2, 7)
    durations = {job: chance.randint(0, 5) for job in range(count)}
    arcs = [
        Arc(
            number,
            *sorted(chance.sample(range(count), 2)),
            relation=chance.choice(list(Relation)),
            minimum=chance.choice([Fixed(chance.randint(-3, 9)), DegreeDays(0, 100), None]),
            maximum=chance.choice([Fixed(chance.randint(3, 25)), None, None]),
        )
        for number in range(chance.randint(1, 9))
    ]
    found = contradiction(arcs, durations, {})
    assert (found is not None) == rises(arcs, durations)
    if found is not None:
        assert found.over == sum(step.minutes for step in found.steps) > 0
        assert {step.arc for step in found.steps} <= {arc.id for arc in arcs}


def test_no_contradiction_runs_through_two_siblings() -> None:
    day = 1440
    arcs = [
        Arc(1, 1, 2, minimum=Fixed(10 * day)),
        Arc(2, 2, 4, minimum=Fixed(0)),
        Arc(3, 1, 3, minimum=Fixed(0)),
        Arc(4, 3, 4, minimum=Fixed(0), maximum=Fixed(2 * day)),
        Arc(5, 1, 3, relation=Relation.START_START, maximum=Fixed(3 * day)),
    ]
    durations = dict.fromkeys((1, 2, 3, 4), 60)
    assert contradiction(arcs, durations, {}) is not None
    assert contradiction(arcs, durations, {2: {"residue": 7}, 3: {"residue": 8}}) is None


def test_a_minimum_that_an_observation_confirms_contradicts_nothing() -> None:
    wait = Arc(1, 1, 2, minimum=Fixed(9), maximum=Fixed(5))
    assert contradiction([wait], {1: 0, 2: 0}, {}) is not None
    assert contradiction([replace(wait, confirm=True)], {1: 0, 2: 0}, {}) is None
