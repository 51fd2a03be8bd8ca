"""Run sheets: per person and day from leaving to coming back, per machine its moves. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from jobs.planner.problem import Item, Job, Machine, Problem, Shift


@dataclass(frozen=True, slots=True)
class Work:
    """One job on a sheet. `ready_by`: when its windows, light or quiet time end, and `binds` what ends them; `loads`:
    acres of each tank or hopper; `amounts`: materials to bring; `carries`: what each tank of it carries afterwards."""

    job: str
    title: str
    place: str
    start: int
    end: int
    leave: int
    fetch_at: str | None
    wash: tuple[str, ...]
    ready_by: int
    binds: str
    loads: tuple[float, ...]
    cautions: tuple[str, ...]
    crew: tuple[str, ...]
    carries: tuple[tuple[str, tuple[str, ...]], ...]


@dataclass(frozen=True, slots=True)
class Sheet:
    """One shift: leaves its first place at `leave` with what is to load, and is back at `back`."""

    person: str
    day: str
    begins_at: str
    ends_at: str
    leave: int
    back: int
    machines: tuple[str, ...]
    materials: tuple[tuple[str, float, str], ...]
    tools: tuple[str, ...]
    gear: tuple[str, ...]
    work: tuple[Work, ...]


@dataclass(frozen=True, slots=True)
class Move:
    """One machine brought from place to place for a job: behind whom, hauled from when, at the job from when."""

    machine: str
    start: int
    end: int
    from_place: str
    to_place: str
    person: str
    job: str


@dataclass(frozen=True, slots=True)
class Parked:
    """Where a machine stands after the plan, what its tank carries, and which jobs of the problem wait for a wash."""

    machine: str
    place: str
    carries: tuple[str, ...]
    wash_before: tuple[str, ...]


def sheets(problem: Problem, items: Sequence[Item]) -> tuple[Sheet, ...]:
    """A sheet for every shift that works, by day, person and hour."""
    order = {day.id: at for at, day in enumerate(problem.days)}
    found = []
    for shift in sorted(problem.shifts, key=lambda s: (order[s.day], s.person, s.start)):
        own = sorted((item for item in items if shift.id in item.shifts), key=lambda item: item.start)
        if own:
            found.append(_sheet(problem, shift, own, items))
    return tuple(found)


def _sheet(problem: Problem, shift: Shift, own: Sequence[Item], items: Sequence[Item]) -> Sheet:
    here, work = shift.begins_at, []
    after = {item.job: carried for item, carried in _carried(problem, items)}
    names = {s.id: problem.person(s.person).name for s in problem.shifts}
    for item in own:
        job = problem.job(item.job)
        closes, binds = _closes(problem, job, item)
        brings = item.brings == shift.id
        work.append(
            Work(
                job=job.id,
                title=job.title,
                place=job.place,
                start=item.start,
                end=item.end,
                leave=item.start - way_min(problem, shift, item, here),
                fetch_at=item.fetched_at if brings else None,
                wash=item.washed if brings else (),
                ready_by=closes,
                binds=binds,
                loads=job.ways[item.way].loads,
                cautions=job.cautions,
                crew=tuple(names[name] for name in item.shifts if name != shift.id),
                carries=after[job.id],
            )
        )
        here = job.place
    jobs = [problem.job(item.job) for item in own]
    mine = [item for item in own if item.shifts[0] == shift.id]
    amounts: dict[str, float] = {}
    for item in mine:
        for name, much in problem.job(item.job).materials:
            amounts[name] = amounts.get(name, 0.0) + much
    units = {material.id: material.unit for material in problem.materials}
    return Sheet(
        person=names[shift.id],
        day=shift.day,
        begins_at=shift.begins_at,
        ends_at=shift.ends_at,
        leave=work[0].leave,
        back=own[-1].end + problem.roads.drive(here, shift.ends_at),
        machines=_once(problem.machine(m).name for i in own if i.brings == shift.id and i.fetched_at
                       for m in problem.job(i.job).ways[i.way].machines),
        materials=tuple((name, round(much, 3), units[name]) for name, much in sorted(amounts.items())),
        tools=_once(tool for job in jobs for tool in job.tools),
        gear=_once(piece for job in jobs for piece in job.gear),
        work=tuple(work),
    )  # fmt: skip


def way_min(problem: Problem, shift: Shift, item: Item, here: str) -> int:
    """Minutes from a place to the start of the job: driving, and for whoever brings, the fetching and washing."""
    job, roads = problem.job(item.job), problem.roads
    if item.brings != shift.id:
        return roads.drive(here, job.place)
    wash = sum(problem.machine(name).wash_min or 0 for name in item.washed)
    return roads.fetch(here, item.fetched_at or job.place, job.place) + wash


def _closes(problem: Problem, job: Job, item: Item) -> tuple[int, str]:
    """The first instant at or after the item's end at which the job would have to be over, and what says so."""
    ends = [
        (window.end, window.closes_by or "the end of its hours")
        for window in job.windows
        if window.start <= item.start and item.end <= window.end
    ]
    closes = max(ends)
    others = [
        (day.light_to - job.light_after_min, "the light")
        for day in problem.days
        if job.needs_light and day.light_from <= item.start < day.light_to
    ]
    others += [
        (quiet.start, quiet.why or "quiet hours")
        for quiet in problem.quiet
        if quiet.place == job.place and quiet.start >= item.end
    ]
    return min([closes, *others])


def _carried(problem: Problem, items: Sequence[Item]) -> list[tuple[Item, tuple[tuple[str, tuple[str, ...]], ...]]]:
    """After each job, what the tanks that it used carry."""
    tanks = {machine.id: set(machine.carries) for machine in problem.machines if machine.wash_min is not None}
    found = []
    for item in sorted(items, key=lambda item: (item.start, item.job)):
        job = problem.job(item.job)
        used = [name for name in job.ways[item.way].machines if name in tanks]
        for name in used:
            tanks[name] = (set() if name in item.washed else tanks[name]) | job.puts
        found.append((item, tuple((problem.machine(name).name, tuple(sorted(tanks[name]))) for name in used)))
    return found


def moves(problem: Problem, items: Sequence[Item]) -> tuple[Move, ...]:
    """Every haul, by machine and time."""
    whose = {shift.id: problem.person(shift.person).name for shift in problem.shifts}
    found = []
    for machine in problem.machines:
        here = machine.stands_at
        for item, job in _uses(problem, machine, items):
            if here != job.place:
                wash = sum(problem.machine(name).wash_min or 0 for name in item.washed)
                end = item.start - wash
                start = end - problem.roads.haul(here, job.place)
                found.append(Move(machine.name, start, end, here, job.place, whose[item.brings or ""], job.id))
            here = job.place
    return tuple(found)


def parked(problem: Problem, items: Sequence[Item]) -> tuple[Parked, ...]:
    """Where each machine that worked stands in the end, and what may not go into its tank before a wash."""
    found = []
    for machine in problem.machines:
        used = _uses(problem, machine, items)
        if not used:
            continue
        carries: set[str] = set(machine.carries)
        for item, job in used:
            carries = (set() if machine.id in item.washed else carries) | job.puts
        if machine.wash_min is None:
            carries = set()
        waits = _once(
            product_job.id
            for product_job in problem.jobs
            if carries & product_job.spoiled_by and any(machine.id in way.machines for way in product_job.ways)
        )
        found.append(Parked(machine.name, used[-1][1].place, tuple(sorted(carries)), waits))
    return tuple(found)


def _uses(problem: Problem, machine: Machine, items: Sequence[Item]) -> list[tuple[Item, Job]]:
    rows = [(item, problem.job(item.job)) for item in sorted(items, key=lambda item: (item.start, item.job))]
    return [(item, job) for item, job in rows if machine.id in job.ways[item.way].machines]


def _once(values: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(values))
