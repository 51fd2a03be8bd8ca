"""Plain resource-constrained projects through a thin adapter: the same least makespan as trying every order.

A project has activities with durations, precedence, so many hands of one kind, and two single machines. Hands are the
planner's people, an activity is a job for so many of them; the least makespan is the shortest day in which all fit.
"""

from __future__ import annotations

import random
from dataclasses import dataclass
from itertools import permutations

import pytest

from jobs.planner.answer import Effort, Plan
from jobs.planner.problem import Day, Job, Level, Link, Machine, Person, Problem, Shift, Way, Window
from jobs.planner.roads import closed
from jobs.planner.solve import solve
from tests.jobs.planner.checker import faults
from tests.jobs.planner.weekend import MIDNIGHT


@dataclass(frozen=True)
class Activity:
    minutes: int
    hands: int
    machine: str | None


@dataclass(frozen=True)
class Project:
    hands: int
    activities: tuple[Activity, ...]
    before: frozenset[tuple[int, int]]


def drawn(seed: int) -> Project:
    draw = random.Random(seed)
    hands = draw.choice((2, 3))
    activities = tuple(
        Activity(draw.randrange(1, 9), draw.randrange(1, hands + 1), draw.choice((None, None, "one", "two")))
        for _ in range(6)
    )
    before = frozenset((a, b) for b in range(6) for a in range(b) if draw.random() < 0.25)
    return Project(hands, activities, before)


def least_makespan(project: Project) -> int:
    """Over all orders, each activity at the first minute after its predecessors at which hands and machine are free."""
    best = sum(activity.minutes for activity in project.activities)
    for order in permutations(range(len(project.activities))):
        place = {one: at for at, one in enumerate(order)}
        if any(place[a] > place[b] for a, b in project.before):
            continue
        start: dict[int, int] = {}
        for one in order:
            minute = max((start[a] + project.activities[a].minutes for a, b in project.before if b == one), default=0)
            while not _free(project, start, one, minute):
                minute += 1
            start[one] = minute
        best = min(best, max(start[one] + project.activities[one].minutes for one in order))
    return best


def _free(project: Project, start: dict[int, int], one: int, minute: int) -> bool:
    own = project.activities[one]
    for at in range(minute, minute + own.minutes):
        going = [project.activities[k] for k, s in start.items() if s <= at < s + project.activities[k].minutes]
        if sum(other.hands for other in going) + own.hands > project.hands:
            return False
        if own.machine is not None and any(other.machine == own.machine for other in going):
            return False
    return True


def weekend(project: Project, length: int) -> Problem:
    """The project as a day of so many minutes at one place."""
    day = Day("sat", MIDNIGHT, MIDNIGHT + 1440, MIDNIGHT, MIDNIGHT + 1440)
    people = tuple(Person(f"hand{n}", f"Hand {n}") for n in range(project.hands))
    return Problem(
        days=(day,),
        people=people,
        shifts=tuple(Shift(p.id, p.id, "sat", MIDNIGHT, MIDNIGHT + length, "site", "site") for p in people),
        roads=closed({}, ("site",)),
        machines=tuple(Machine(name, name, "site", MIDNIGHT, MIDNIGHT + 1440) for name in ("one", "two")),
        jobs=tuple(
            Job(f"a{n}", f"a{n}", "activity", f"plot{n}", "site", 1.0, 1.0, (Window(MIDNIGHT, MIDNIGHT + length),),
                (Way(one.hands, one.minutes, (one.machine,) if one.machine else ()),))
            for n, one in enumerate(project.activities)
        ),
        links=tuple(Link(f"a{a}", f"a{b}") for a, b in project.before),
        aim=(Level.KEPT,),
    )  # fmt: skip


def all_fit(project: Project, length: int) -> bool:
    case = weekend(project, length)
    plan = solve(case, Effort(work=2.0))
    assert isinstance(plan, Plan)
    assert plan.proved
    assert faults(case, plan.items) == []
    return len(plan.items) == len(project.activities)


@pytest.mark.parametrize("seed", range(25))
def test_the_least_makespan_is_that_of_trying_every_order(seed: int) -> None:
    project = drawn(seed)
    least = least_makespan(project)
    assert all_fit(project, least)
    assert not all_fit(project, least - 1)
