"""Invented weekends of any size with every rule on. The same size and seed give the same weekend."""

from __future__ import annotations

import math
import random

from jobs.graph.data import Relation
from jobs.planner.problem import (
    Certificate,
    Day,
    Job,
    Link,
    Machine,
    Material,
    Person,
    Problem,
    Quiet,
    Shift,
    Way,
    Window,
)
from jobs.planner.roads import closed, road_minutes

FIRST_DAY = 29_980_800
"""A local midnight; the days of these weekends follow each other from it."""

KINDS = ("burn", "spray", "spray", "mow", "mow", "plant", "plant", "saw", "fence", "check", "check", "soil", "feed")


def weekend(people: int, jobs: int, seed: int = 1) -> Problem:
    """Two days; a place for every nine jobs or so, one set of machines for every six people."""
    draw = random.Random(f"{people} {jobs} {seed}")
    days = tuple(
        Day(name, at := FIRST_DAY + 1440 * n, at + 1440, at + 390, at + 1170) for n, name in enumerate(("sat", "sun"))
    )
    spots = {f"place{n:02d}": (draw.uniform(0, 30), draw.uniform(0, 30)) for n in range(max(3, round(jobs / 9)))}
    spots |= {f"home{n:02d}": (draw.uniform(0, 30), draw.uniform(0, 30)) for n in range(people)}
    lands = [name for name in spots if name.startswith("place")]
    typed = {(a, b): road_minutes(math.dist(spots[a], spots[b]), mph=40) for a in spots for b in spots if a < b}
    machines, sets = [], max(1, round(people / 6))
    whole = (days[0].start, days[-1].end)
    for n in range(sets):
        tractor = Machine(f"tractor{n}", f"Tractor {n}", draw.choice(lands), *whole)
        at = tractor.stands_at
        pulled = frozenset({tractor.id})
        machines += [
            tractor,
            Machine(f"sprayer{n}", f"Sprayer {n}", at, *whole, pulled, 45, frozenset({"2,4-D"} if n else ())),
            Machine(f"mower{n}", f"Mower {n}", at, *whole, pulled),
            Machine(f"planter{n}", f"Planter {n}", at, whole[0], whole[1] - (720 if n else 0), pulled),
        ]
    members = [_person(draw, n, whole) for n in range(people)]
    shifts = []
    for n, person in enumerate(members):
        for day in days:
            if draw.random() < 0.1 and n > 1:
                continue
            begin = day.start + draw.choice((420, 450, 480, 540))
            shifts.append(
                Shift(
                    f"{person.id} {day.id}",
                    person.id,
                    day.id,
                    begin,
                    begin + draw.choice((420, 540, 600)),
                    f"home{n:02d}",
                    f"home{n:02d}",
                    children=n > 1 and draw.random() < 0.08,
                )
            )
    work = [_job(draw, n, lands, days, sets) for n in range(jobs)]
    return Problem(
        days=days,
        people=tuple(members),
        shifts=tuple(shifts),
        roads=closed(typed, spots),
        jobs=tuple(work),
        machines=tuple(machines),
        links=_links(work),
        quiet=(Quiet(lands[0], days[1].start + 840, days[1].start + 1020, "the partner hunts"),),
        materials=(Material("seed", "bag", jobs / 8, fetched_by=None),),
        feet={(f"plot{a:03d}", f"plot{b:03d}"): draw.choice((20.0, 90.0, 400.0, 900.0))
              if work[a].place == work[b].place else 5_000.0
              for a in range(jobs) for b in range(a)},
    )  # fmt: skip


def _person(draw: random.Random, n: int, whole: tuple[int, int]) -> Person:
    skills = ["saw"] if n % 2 == 0 else []
    if n < 2 or draw.random() < 0.5:
        skills.append("handler")
    if n == 0 or draw.random() < 0.2:
        skills += ["burn boss"]
    if n < 2 or draw.random() < 0.3:
        skills.append("tractor")
    return Person(
        f"person{n:02d}",
        f"Person {n}",
        tuple(Certificate(skill, *whole) for skill in skills),
        hauls=n < 2 or draw.random() < 0.4,
        most_days=1 if n > 2 and draw.random() < 0.3 else None,
    )


def _job(draw: random.Random, n: int, lands: list[str], days: tuple[Day, ...], sets: int) -> Job:
    kind = draw.choice(KINDS)
    land = draw.choice(lands)
    acres = round(draw.uniform(0.5, 6.0), 1)
    spare = draw.randrange(len(days))

    def hours(begin: int, end: int, *, both: bool = True) -> tuple[Window, ...]:
        own = days if both else (days[spare],)
        return tuple(Window(day.start + begin, day.start + end, "wind") for day in own)

    def ways(minutes: int, tool: str) -> tuple[Way, ...]:
        return tuple(Way(1, minutes, (f"tractor{m}", f"{tool}{m}")) for m in range(sets))

    worth = {"acres": acres, "share_lost": round(draw.uniform(0.1, 1.0), 2)}
    base = {"id": f"job{n:03d}", "title": f"{kind} {n}", "kind": kind, "plot": f"plot{n:03d}", "place": land} | worth
    match kind:
        case "burn":
            return Job(**base, windows=hours(780, 1110, both=False), one_with=("burn boss",), light_after_min=60,
                       ways=(Way(2, 150), Way(3, 110)))  # fmt: skip
        case "spray":
            mix = draw.choice((("2,4-D", ""), ("clethodim", "2,4-D"), ("glyphosate", "")))
            return Job(**base, windows=hours(420, draw.choice((660, 780)), both=draw.random() < 0.5),
                       ways=ways(20 * math.ceil(acres / 4) + round(acres / 7.3 * 60), "sprayer"), check_in=True,
                       all_with=("handler",), one_with=("tractor",), entry_min=draw.choice((240, 720)),
                       exclusion_ft=25.0, puts=frozenset({mix[0]}), spoiled_by=frozenset({mix[1]} - {""}))  # fmt: skip
        case "mow" | "plant":
            seed = (("seed", round(acres / 3, 1)),) if kind == "plant" else ()
            minutes = 15 + round(acres * 24)
            return Job(**base, windows=hours(480, 1140), ways=ways(minutes, f"{kind}er"), check_in=True,
                       one_with=("tractor",), materials=seed)  # fmt: skip
        case "saw":
            return Job(**base, windows=hours(420, 1140), ways=(Way(2, 90),), one_with=("saw",))
        case "fence":
            return Job(**base, windows=hours(420, 1140), ways=(Way(1, 210), Way(2, 120)))
        case "feed":
            return Job(**(base | {"share_lost": 0.0}), windows=hours(420, 1140), ways=(Way(1, 20),), rides_along=True)
        case _:
            return Job(**base, windows=hours(420, 1140), ways=(Way(1, 30),))


def _links(work: list[Job]) -> tuple[Link, ...]:
    """At each place every second spray waits for a mowing there, and a planting comes within a day of one."""
    found = []
    for place in sorted({job.place for job in work}):
        own = {kind: [job for job in work if job.place == place and job.kind == kind] for kind in KINDS}
        for before, after in zip(own["mow"], own["spray"][::2], strict=False):
            found.append(Link(before.id, after.id, 60))
        for before, after in zip(own["mow"], own["plant"][::2], strict=False):
            found.append(Link(before.id, after.id, 0, 1440, Relation.FINISH_START))
    return tuple(found)
