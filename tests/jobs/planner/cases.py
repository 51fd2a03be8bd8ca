"""Random small problems with every rule in them somewhere, for the exhaustive search to be able to finish."""

from __future__ import annotations

import random
from itertools import pairwise

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
    Wish,
    WishKind,
)
from jobs.planner.roads import closed

START = 29_980_800
PLACES = ("barn", "creek", "ridge")


def small(seed: int, counts: tuple[int, ...] = (4, 5, 5, 6)) -> Problem:
    """At most two people, two days, six jobs and three machines; about a third of the rules bind in each."""
    draw = random.Random(seed)
    days = tuple(
        Day(name, START + 1440 * n, START + 1440 * (n + 1), START + 1440 * n + 400, START + 1440 * n + 1150)
        for n, name in enumerate(("sat", "sun")[: draw.choice((1, 1, 2))])
    )
    whole = (days[0].start, days[-1].end)
    people = tuple(
        Person(
            name,
            name,
            tuple(Certificate(skill, *whole) for skill in ("boss", "saw") if draw.random() < 0.6),
            hauls=draw.random() < 0.7,
            most_days=1 if draw.random() < 0.2 else None,
        )
        for name in ("ann", "bo")[: draw.choice((1, 2, 2))]
    )
    shifts = []
    for person in people:
        for day in days:
            begin = day.start + draw.choice((420, 480, 540))
            home = draw.choice(PLACES)
            end = begin + draw.choice((200, 330, 450))
            children = draw.random() < 0.1
            shifts.append(Shift(f"{person.id} {day.id}", person.id, day.id, begin, end, home, home, children))
    machines = (
        Machine("tractor", "Tractor", draw.choice(PLACES), whole[0] + draw.choice((0, 500)), whole[1]),
        Machine("sprayer", "Sprayer", draw.choice(PLACES), *whole, wash_min=draw.choice((15, 30)),
                carries=frozenset({"2,4-D"} if draw.random() < 0.6 else ())),
    )  # fmt: skip
    jobs = tuple(_job(draw, n, days) for n in range(draw.choice(counts)))
    typed = {("barn", "creek"): 15, ("creek", "ridge"): 10, ("barn", "ridge"): draw.choice((20, 40))}
    fetch = draw.random() < 0.3
    return Problem(
        days=days,
        people=people,
        shifts=tuple(shifts),
        roads=closed(typed, PLACES, hitch_min=5),
        jobs=jobs,
        machines=machines,
        links=tuple(_links(draw, jobs)),
        quiet=(Quiet("creek", days[0].start + 540, days[0].start + 600),) if draw.random() < 0.3 else (),
        materials=(Material("seed", "bag", draw.choice((0.0, 1.0, 2.0)), jobs[0].id if fetch else None, 2.0),),
        one_of=(frozenset({jobs[0].id, jobs[1].id}),) if draw.random() < 0.15 else (),
        feet={("p1", "p2"): draw.choice((10.0, 60.0)), ("p1", "p3"): 900.0, ("p2", "p3"): 900.0},
        wishes=tuple(_wishes(draw, jobs, people, days)),
    )


def _job(draw: random.Random, n: int, days: tuple[Day, ...]) -> Job:
    kind = draw.choice(("burn", "spray", "spray", "saw", "check", "haul", "errand", "both"))
    windows = []
    for day in days:
        begin = day.start + draw.choice((420, 480, 570))
        windows.append(Window(begin, begin + draw.choice((90, 180, 360))))
        if draw.random() < 0.2:
            windows.append(Window(begin + 330, begin + 500))
    plot, place = draw.choice((("p1", "barn"), ("p2", "creek"), ("p3", "ridge")))
    acres, share = draw.choice((1.0, 2.0, 3.5)), draw.choice((0.2, 0.5, 1.0))
    base = {"id": f"j{n}", "title": f"Job {n}", "kind": kind, "plot": plot, "place": place, "acres": acres}
    base |= {"share_lost": 0.0 if kind == "errand" else share, "windows": tuple(windows)}
    base |= {"needs_light": draw.random() < 0.7}
    seed = (("seed", 1.0),) if draw.random() < 0.3 else ()
    minutes = draw.choice((20, 40, 70))
    match kind:
        case "burn":
            return Job(**base, ways=(Way(2, minutes),), one_with=("boss",), light_after_min=30)
        case "spray":
            product, harm = draw.choice((("2,4-D", ""), ("clethodim", "2,4-D"), ("clethodim", "clethodim")))
            return Job(**base, ways=(Way(1, minutes, ("sprayer",)),), check_in=True, exclusion_ft=25.0,
                       entry_min=draw.choice((0, 60)), puts=frozenset({product}),
                       spoiled_by=frozenset({harm} - {""}))  # fmt: skip
        case "saw":
            return Job(**base, ways=(Way(1, minutes), Way(2, max(1, minutes // 2))), check_in=True, all_with=("saw",))
        case "haul":
            return Job(**base, ways=(Way(1, minutes, ("tractor",)),), materials=seed)
        case "both":
            return Job(**base, ways=(Way(1, minutes, ("tractor", "sprayer")), Way(1, 90)), materials=seed)
        case "errand":
            return Job(**base, ways=(Way(1, 15),), rides_along=True)
        case _:
            return Job(**base, ways=(Way(1, minutes),), materials=seed)


def _links(draw: random.Random, jobs: tuple[Job, ...]) -> list[Link]:
    found = []
    for before, after in pairwise(jobs):
        if draw.random() < 0.3:
            least = draw.choice((0, 30))
            most = draw.choice((None, least + 10, least + 200))
            found.append(Link(before.id, after.id, least, most, draw.choice(tuple(Relation))))
    return found


def _wishes(
    draw: random.Random, jobs: tuple[Job, ...], people: tuple[Person, ...], days: tuple[Day, ...]
) -> list[Wish]:
    if draw.random() < 0.5:
        return []
    job, person, day = draw.choice(jobs).id, draw.choice(people).id, draw.choice(days).id
    return [
        draw.choice(
            (
                Wish("w", WishKind.MUST, job),
                Wish("w", WishKind.MUST, job, day=day),
                Wish("w", WishKind.MUST_NOT, job, person=person),
                Wish("w", WishKind.MUST_NOT, person=person, day=day),
                Wish("w", WishKind.KEEP_DAY, job, day=day),
                Wish("w", WishKind.KEEP_DAY, person=person, day=day),
                Wish("w", WishKind.FIRST, job),
            )
        )
    ]
