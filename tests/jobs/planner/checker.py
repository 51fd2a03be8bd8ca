"""Whether a plan keeps the rules, read from the rules alone: follows every person and machine through the days.

Nothing here knows how plans are made. `faults` says what is broken, in words; an empty list is a plan that holds.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Sequence

from jobs.graph.data import Relation
from jobs.planner.problem import Item, Job, Problem, Shift, WishKind


def faults(problem: Problem, items: Sequence[Item]) -> list[str]:
    return list(_faults(problem, sorted(items, key=lambda item: (item.start, item.job))))


def _faults(problem: Problem, items: list[Item]) -> Iterator[str]:
    jobs = {job.id: job for job in problem.jobs}
    shifts = {shift.id: shift for shift in problem.shifts}
    for name, times in Counter(item.job for item in items).items():
        if times > 1 or name not in jobs:
            yield f"{name} is planned {times} times"
            return
    for item in items:
        if not 0 <= item.way < len(jobs[item.job].ways) or any(name not in shifts for name in item.shifts):
            yield f"{item.job}: unknown way or shift"
            return
    for item in items:
        yield from _alone(problem, jobs[item.job], item, [shifts[name] for name in item.shifts])
    for shift in problem.shifts:
        yield from _person(problem, shift, jobs, [item for item in items if shift.id in item.shifts])
    yield from _days(problem, shifts, items)
    for machine in problem.machines:
        yield from _machine(problem, machine.id, jobs, items)
    yield from _moves(problem, jobs, items)
    yield from _plots(problem, jobs, items)
    yield from _links(problem, items)
    yield from _stock(problem, jobs, items)
    yield from _errands(jobs, items)
    yield from _wishes(problem, shifts, items)


def _alone(problem: Problem, job: Job, item: Item, crew: list[Shift]) -> Iterator[str]:
    """The job by itself: minutes, crew, certificates, children, windows, light, quiet times."""
    way = job.ways[item.way]
    if job.told:
        yield f"{job.id}: {job.told[0].sentence}"
    if item.end - item.start != way.minutes:
        yield f"{job.id} takes {way.minutes} minutes, not {item.end - item.start}"
    people = {shift.person for shift in crew}
    if len(people) != way.crew or len(crew) != way.crew:
        yield f"{job.id} takes {way.crew} people, not {len(people)}"
    if job.kind == "burn" and len(people) < 2:
        yield f"{job.id}: one person on a burn"

    def certified(shift: Shift, skill: str) -> bool:
        day = next(day for day in problem.days if day.id == shift.day)
        holder = next(person for person in problem.people if person.id == shift.person)
        return any(
            own.skill == skill and own.valid_from <= day.start and own.valid_to >= day.end
            for own in holder.certificates
        )

    for skill in job.one_with:
        if not any(certified(shift, skill) for shift in crew):
            yield f"{job.id}: nobody with {skill}"
    for skill in job.all_with:
        if not all(certified(shift, skill) for shift in crew):
            yield f"{job.id}: somebody without {skill}"
    dangerous = job.kind in {"spray", "burn", "saw", "tractor", "mix", "mow", "till", "plant"}
    if dangerous and any(shift.children for shift in crew):
        yield f"{job.id}: children along"
    if not any(window.start <= item.start and item.end <= window.end for window in job.windows):
        yield f"{job.id}: outside its windows"
    if job.needs_light and not any(
        day.light_from <= item.start and item.end + job.light_after_min <= day.light_to for day in problem.days
    ):
        yield f"{job.id}: in the dark"
    for quiet in problem.quiet:
        if quiet.place == job.place and item.start < quiet.end and quiet.start < item.end:
            yield f"{job.id}: quiet at {quiet.place}"


def _haul(problem: Problem, a: str, b: str) -> int:
    if a == b:
        return 0
    scaled = problem.roads.minutes[a, b] * problem.roads.haul_pct
    return problem.roads.hitch_min + scaled // 100 + (1 if scaled % 100 else 0)


def _wash(problem: Problem, item: Item) -> int:
    return sum(m.wash_min or 0 for m in problem.machines if m.id in item.washed)


def _person(problem: Problem, shift: Shift, jobs: dict[str, Job], items: list[Item]) -> Iterator[str]:
    """From the shift's first place through every job to its last, no minute twice."""
    minutes = problem.roads.minutes
    clock, here = shift.start, shift.begins_at
    for item in items:
        place = jobs[item.job].place
        if item.brings == shift.id:
            at = item.fetched_at or place
            ready = clock + minutes[here, at] + _haul(problem, at, place) + _wash(problem, item)
        else:
            ready = clock + minutes[here, place]
        if ready > item.start:
            yield f"{shift.id} is at {item.job} {ready - item.start} minutes after its start"
        clock, here = item.end, place
    if items and clock + minutes[here, shift.ends_at] > shift.end:
        yield f"{shift.id} is back late"


def _days(problem: Problem, shifts: dict[str, Shift], items: list[Item]) -> Iterator[str]:
    worked = defaultdict(set)
    for item in items:
        for name in item.shifts:
            worked[shifts[name].person].add(shifts[name].day)
    for person in problem.people:
        if person.most_days is not None and len(worked[person.id]) > person.most_days:
            yield f"{person.id} works more days than given"


def _machine(problem: Problem, name: str, jobs: dict[str, Job], items: list[Item]) -> Iterator[str]:
    """Where the machine is, when it is free, and what its tank carries."""
    machine = next(machine for machine in problem.machines if machine.id == name)
    here, free, carries = machine.stands_at, machine.free_from, set(machine.carries)
    for item in items:
        job = jobs[item.job]
        if name not in job.ways[item.way].machines:
            continue
        if here != job.place and item.fetched_at != here:
            yield f"{name} stands at {here}, not where {item.job} fetches it"
        if free + _haul(problem, here, job.place) + _wash(problem, item) > item.start:
            yield f"{name} is not at {item.job} in time"
        if item.end > machine.free_to:
            yield f"{name} is no longer to be had at {item.job}"
        if name in item.washed:
            if machine.wash_min is None:
                yield f"{name} has no tank to wash"
            carries = set()
        if machine.wash_min is not None:
            if carries & job.spoiled_by:
                yield f"{name} carries {', '.join(sorted(carries & job.spoiled_by))} into {item.job}"
            carries |= job.puts
        here, free = job.place, item.end


def _moves(problem: Problem, jobs: dict[str, Job], items: list[Item]) -> Iterator[str]:
    """Whoever brings or washes is of the crew; what is moved goes behind a fit vehicle."""
    people = {shift.id: next(p for p in problem.people if p.id == shift.person) for shift in problem.shifts}
    for item in items:
        machines = jobs[item.job].ways[item.way].machines
        if not set(item.washed) <= set(machines):
            yield f"{item.job} washes what it does not take"
        if item.fetched_at is not None or item.washed:
            if item.brings not in item.shifts:
                yield f"{item.job}: nobody of its crew brings its machines"
            elif item.fetched_at is not None and not people[item.brings].hauls:
                yield f"{item.job}: {item.brings} has no vehicle to haul with"
        pulls = {m.id: m.pulled_by for m in problem.machines}
        for name in machines:
            if pulls[name] and not pulls[name] & set(machines):
                yield f"{item.job}: nothing pulls {name}"


def _plots(problem: Problem, jobs: dict[str, Job], items: list[Item]) -> Iterator[str]:
    """Entry times over a plot, and the distance that a spray keeps from everybody else's plot."""
    for first in items:
        one = jobs[first.job]
        for second in items:
            two = jobs[second.job]
            if first.job == second.job:
                continue
            overlap = first.start < second.end and second.start < first.end
            if one.entry_min is not None and one.plot == two.plot:
                if overlap or first.end <= second.start < first.end + one.entry_min:
                    yield f"{second.job} is on a plot that {first.job} closed"
            elif one.exclusion_ft > 0 and overlap:
                typed = problem.feet.get((one.plot, two.plot), problem.feet.get((two.plot, one.plot), 0.0))
                feet = 0.0 if one.plot == two.plot else typed
                if feet < one.exclusion_ft:
                    yield f"{second.job} is too near to {first.job}"


def _links(problem: Problem, items: list[Item]) -> Iterator[str]:
    by_job = {item.job: item for item in items}
    for link in problem.links:
        after, before = by_job.get(link.after), by_job.get(link.before)
        if after is None:
            continue
        if before is None:
            yield f"{link.after} goes without {link.before}"
            continue
        since = before.end if link.relation in (Relation.FINISH_START, Relation.FINISH_FINISH) else before.start
        until = after.end if link.relation in (Relation.FINISH_FINISH, Relation.START_FINISH) else after.start
        if until - since < link.least_min or (link.most_min is not None and until - since > link.most_min):
            yield f"{link.after} comes {until - since} minutes after {link.before}"
    for group in problem.one_of:
        if len(group & by_job.keys()) > 1:
            yield f"more than one of {', '.join(sorted(group))}"


def _stock(problem: Problem, jobs: dict[str, Job], items: list[Item]) -> Iterator[str]:
    by_job = {item.job: item for item in items}
    for material in problem.materials:
        fetch = by_job.get(material.fetched_by or "")
        early = late = 0
        for item in items:
            job = jobs[item.job]
            amount = sum(round(1000 * much) for name, much in job.materials if name == material.id)
            if fetch and item.start >= fetch.end + problem.roads.minutes[jobs[fetch.job].place, job.place]:
                late += amount
            else:
                early += amount
        have, more = round(1000 * material.on_hand), round(1000 * material.fetched) if fetch else 0
        if early > have or early + late > have + more:
            yield f"not enough {material.id}"


def _errands(jobs: dict[str, Job], items: list[Item]) -> Iterator[str]:
    for item in items:
        if not jobs[item.job].rides_along:
            continue
        for name in item.shifts:
            if not any(
                name in other.shifts
                and not jobs[other.job].rides_along
                and jobs[other.job].place == jobs[item.job].place
                for other in items
            ):
                yield f"{item.job} makes a trip of its own for {name}"


def _wishes(problem: Problem, shifts: dict[str, Shift], items: list[Item]) -> Iterator[str]:
    by_job = {item.job: item for item in items}

    def works(on: Iterable[str], person: str | None, day: str | None) -> bool:
        return any((person is None or shifts[n].person == person) and (day is None or shifts[n].day == day) for n in on)

    for wish in problem.wishes:
        own = by_job[wish.job].shifts if wish.job in by_job else ()
        every = own if wish.job else [name for item in items for name in item.shifts]
        match wish.kind:
            case WishKind.MUST if not works(own, wish.person, wish.day):
                yield f"wish {wish.id}: {wish.job} must go"
            case WishKind.MUST_NOT if works(every, wish.person, wish.day):
                yield f"wish {wish.id}: must not"
            case WishKind.KEEP_DAY:
                mine = [n for n in every if wish.job or shifts[n].person == wish.person]
                if any(shifts[name].day != wish.day for name in mine):
                    yield f"wish {wish.id}: another day than {wish.day}"
