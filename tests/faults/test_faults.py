"""Every fault in its short form; `manage.py bench faults` runs the long one.

Each starts servers of its own; the marks only keep minutes of it out of a run that has asked for no services."""

from __future__ import annotations

from typing import Any

import pytest

from tests.bench import faults
from tests.faults.ground import Missing

ELSEWHERE = {16, 17, 18, 19, 20, 22}
"""Which the tests of conditional edits, sending hours, hostile bodies, routes, misbehaving services and backups hold in
a run of the suite; the bench counts them all."""

HERE = [key for key in faults.known() if key not in ELSEWHERE]


@pytest.mark.postgres
@pytest.mark.redis
@pytest.mark.parametrize("number", HERE)
def test_a_fault_loses_and_doubles_nothing_and_its_control_does(number: int) -> None:
    try:
        told: dict[str, Any] = faults.known()[number](faults.ROUNDS[number][0])
    except Missing as absent:
        pytest.skip(f"{absent} is not on this machine")
    assert faults.row(number, told, 0)["good"], told


def test_every_fault_of_the_table_is_run() -> None:
    assert set(range(1, 25)) == {*faults.known()} == {*faults.ROUNDS}


@pytest.mark.parametrize(
    ("told", "good"),
    [
        ({"lost": 0, "doubled": 0, "control_failed": 3}, True),
        ({"lost": 1, "doubled": 0, "control_failed": 3}, False),
        ({"lost": 0, "doubled": 1, "control_failed": 3}, False),
        ({"lost": 0, "doubled": 0, "control_failed": 0}, False),
        ({"lost": 0, "doubled": 0, "control_failed": None}, False),
        ({"lost": 0, "doubled": 0}, False),
        ({"lost": 0, "doubled": 0, "rounds": 4, "control_missed": 4}, True),
        ({"lost": 0, "doubled": 0, "rounds": 4, "control_missed": 3}, False),
        ({"lost": 0, "doubled": 0, "rounds": 0, "control_missed": 0}, False),
    ],
)
def test_a_control_that_does_not_go_wrong_is_no_proof(told: dict[str, Any], good: bool) -> None:
    assert faults.row(1, {"count": 1, "what": "", **told}, 1.0)["good"] is good
