"""The demo tells one plot's chance, from years that it says are invented."""

from __future__ import annotations

import pytest

from jobs.printing import print_chance
from jobs.selectors.replays import plot_chance
from jobs.services.demo import build_demo, plot_of_history
from jobs.services.sequences import load_shipped

pytestmark = pytest.mark.django_db


def test_the_demo_tells_one_plots_chance_and_that_its_years_are_invented() -> None:
    load_shipped()
    holding = build_demo()
    assert holding.clock_at is not None
    told = plot_chance(holding, plot_of_history(holding), holding.clock_at)
    assert told["known"]
    assert told["years"] >= 25
    assert 0.0 < told["share"] < 1.0
    assert told["spoiler"]["plot"] == told["name"]
    lines = print_chance(told)
    assert lines[1] == f"How likely: {told['name']}"
    assert "invented years" in " ".join(lines)
    assert f"In {told['years_finished']} of {told['years']} years" in " ".join(lines)


def test_a_chance_that_is_not_known_is_printed_as_such() -> None:
    told = {"known": False, "name": "Strip", "sentence": "There is no job on this plot.", "assumed": "Nothing."}
    assert print_chance(told)[1:] == [
        "How likely: Strip",
        "-----------------",
        "There is no job on this plot.",
        "Nothing.",
    ]
