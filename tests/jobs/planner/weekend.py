"""A plain Saturday to set single rules against: two people, free from 8 to 18, one place, an hour's job."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import Any

from jobs.planner.answer import Effort, Plan
from jobs.planner.problem import Certificate, Day, Item, Job, Person, Problem, Shift, Way, Window
from jobs.planner.roads import closed
from jobs.planner.solve import solve
from tests.jobs.planner.checker import faults

MIDNIGHT = 29_980_800
DAYS = ("sat", "sun")
SHORT = Effort(work=2.0, wall_s=60.0)


def at(clock: str, day: int = 0) -> int:
    hours, minutes = clock.split(":")
    return MIDNIGHT + 1440 * day + 60 * int(hours) + int(minutes)


def window(begin: str, end: str, day: int = 0, closes_by: str = "") -> Window:
    return Window(at(begin, day), at(end, day), closes_by)


def day(n: int = 0) -> Day:
    return Day(DAYS[n], at("0:00", n), at("0:00", n + 1), at("6:30", n), at("19:30", n))


def person(name: str, *skills: str, **more: Any) -> Person:
    return Person(
        name, name.capitalize(), tuple(Certificate(s, at("0:00"), at("0:00", 9)) for s in skills), hauls=True, **more
    )


def shift(name: str, begin: str = "8:00", end: str = "18:00", n: int = 0, home: str = "home", **more: Any) -> Shift:
    return Shift(f"{name} {DAYS[n]}", name, DAYS[n], at(begin, n), at(end, n), home, home, **more)


def job(name: str, **more: Any) -> Job:
    plain: dict[str, Any] = {
        "id": name,
        "title": name.capitalize(),
        "kind": "check",
        "plot": f"{name} plot",
        "place": "farm",
        "acres": 1.0,
        "share_lost": 0.5,
        "windows": (window("6:00", "20:00"),),
        "ways": (Way(1, 60),),
    }
    return Job(**(plain | more))


def problem(jobs: Iterable[Job], **more: Any) -> Problem:
    plain: dict[str, Any] = {
        "days": (day(),),
        "people": (person("ann"), person("bo")),
        "shifts": (shift("ann"), shift("bo")),
        "roads": closed({("home", "farm"): 20, ("farm", "creek"): 15}, ("home", "farm", "creek"), hitch_min=5),
        "feet": {},
    }
    return Problem(jobs=tuple(jobs), **(plain | more))


def only_ann(*jobs: Job, **more: Any) -> Problem:
    return problem(jobs, **({"people": (person("ann"),), "shifts": (shift("ann"),)} | more))


def planned(case: Problem) -> dict[str, Item]:
    """The plan, proved in what it keeps and found without fault by the checker."""
    plan = solve(case, SHORT)
    assert isinstance(plan, Plan), plan
    assert faults(case, plan.items) == []
    assert plan.gap == 0
    return {item.job: item for item in plan.items}


__all__ = ["SHORT", "at", "day", "job", "only_ann", "person", "planned", "problem", "replace", "shift", "window"]
