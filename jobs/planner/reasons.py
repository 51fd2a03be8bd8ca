"""Why a job is left out: one true reason each, found by solving again with one thing relaxed. Pure.

Weather, label, law, contract, certificates, the size of a crew and missing materials are told as the reason and never
relaxed. What may be asked for is another pair of hands, another machine of the kind, longer hours, or a wish given up;
each is claimed only where a plan with it exists that keeps the job and no less than before."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import pairwise

from ortools.sat.python import cp_model

from jobs.planner.answer import Effort, Plan
from jobs.planner.hours import may_join, reach, starts
from jobs.planner.problem import Job, Person, Problem, Shift, WishKind
from jobs.planner.solve import Built, searching

LONGER_MIN = 120
"""How much earlier and later everybody's hours are tried: common practice, two hours."""


@dataclass(frozen=True, slots=True)
class Reason:
    """`kind` told: weather, light, quiet, label, law, contract, materials, certificate, crew. What would let it in:
    people, machines, hours, wishes, with its id in `with_it`. worth: it fits only instead of those in `with_it`. Else
    waits, hours or several: no plan has it whatever is left out."""

    job: str
    kind: str
    sentence: str
    with_it: tuple[str, ...] = ()
    relaxable: bool = False


def reasons(problem: Problem, plan: Plan, effort: Effort | None = None) -> tuple[Reason, ...]:
    """One reason for each job that the plan leaves out, in the order of ids."""
    effort = effort or Effort(work=1.0, wall_s=20.0)
    planned = {item.job for item in plan.items}
    return tuple(_reason(problem, plan, job, effort) for job in problem.jobs if job.id not in planned)


def _reason(problem: Problem, plan: Plan, job: Job, effort: Effort) -> Reason:
    if job.told:
        return Reason(job.id, job.told[0].kind, job.told[0].sentence)
    fixed = _fixed(problem, job)
    if fixed is not None:
        return fixed
    for kind, with_it, sentence, relaxed in _relaxed(problem, job):
        if _fits(relaxed, job, plan.kept, effort):
            return Reason(job.id, kind, sentence, with_it, relaxable=True)
    return _worth(problem, plan, job, effort)


def _fixed(problem: Problem, job: Job) -> Reason | None:
    """What no request could change: hours of weather and light, certificates, the size of the crew."""
    hours = _hours(problem, job)
    if hours is not None:
        return hours
    for material in problem.materials:
        needs = sum(amount for name, amount in job.materials if name == material.id)
        if needs > material.on_hand + material.fetched:
            return Reason(
                job.id,
                "materials",
                f"It takes {needs:g} {material.unit} of {material.id}; there are {material.on_hand:g} on hand and "
                f"{material.fetched:g} to fetch.",
            )
    days = {day.id: day for day in problem.days}
    for skill in (*job.one_with, *job.all_with):
        if not any(problem.person(s.person).holds(skill, days[s.day]) for s in problem.shifts):
            return Reason(job.id, "certificate", f"Nobody who is there holds '{skill}' on these days.")
    crew = min(way.crew for way in job.ways)
    able = {s.day: {o.person for o in problem.shifts if o.day == s.day and may_join(problem, job, o)}
            for s in problem.shifts}  # fmt: skip
    if max((len(people) for people in able.values()), default=0) < crew:
        most = max((len(people) for people in able.values()), default=0)
        return Reason(
            job.id, "crew", f"It takes {crew} people, and on no day may more than {most} of those there do it."
        )
    return None


def _hours(problem: Problem, job: Job) -> Reason | None:
    """Weather first, then light, then quiet times: the first of them that leaves no room."""
    least = min(way.minutes for way in job.ways)
    bare = replace(job, needs_light=False)
    loud = replace(problem, quiet=())
    if not starts(loud, bare, least):
        longest = max((window.end - window.start for window in job.windows), default=0)
        return Reason(
            job.id,
            "weather",
            f"It takes {least} minutes, and the longest stretch of hours that meets its limits has {longest}."
            if longest
            else "No hour of these days meets all its limits.",
        )
    if not starts(loud, job, least):
        return Reason(
            job.id, "light", f"Its {least} minutes, and what has to be in light after it, do not fit into daylight."
        )
    if not starts(problem, job, least):
        why = "; ".join(sorted({quiet.why for quiet in problem.quiet if quiet.place == job.place and quiet.why}))
        return Reason(job.id, "quiet", f"Quiet hours at the place leave no {least} minutes{': ' + why if why else ''}.")
    return None


def _relaxed(problem: Problem, job: Job) -> Iterator[tuple[str, tuple[str, ...], str, Problem]]:
    """Problems with one thing relaxed, the cheapest to ask for first."""
    hard = [wish for wish in problem.wishes if wish.kind is not WishKind.FIRST]
    for wish in hard:
        rest = tuple(other for other in problem.wishes if other is not wish)
        yield (
            "wishes",
            (wish.id,),
            f"It would fit without the wish '{wish.id}' ({wish.kind}).",
            replace(problem, wishes=rest),
        )
    longer = tuple(
        replace(shift, start=max(days.start, shift.start - LONGER_MIN), end=min(days.end, shift.end + LONGER_MIN))
        for shift in problem.shifts
        for days in (problem.day(shift.day),)
    )
    if _apart(longer):
        yield (
            "hours",
            (),
            f"It would fit if everybody began up to {LONGER_MIN // 60} hours earlier and stayed as much later.",
            replace(problem, shifts=longer),
        )
    for name in sorted({machine for way in job.ways for machine in way.machines}):
        machine = problem.machine(name)
        second = replace(
            machine,
            id=f"{name} (another)",
            carries=frozenset(),
            free_from=min(day.start for day in problem.days),
            free_to=max(day.end for day in problem.days),
        )
        yield (
            "machines",
            (name,),
            f"It would fit with another {machine.name} where that one stands.",
            _with_machine(problem, name, second.id, replace(problem, machines=(*problem.machines, second))),
        )
    if problem.shifts:
        first = problem.shifts[0]
        hands = Person("another person", "Another person", hauls=True)
        days = {day.id: [s for s in problem.shifts if s.day == day.id] for day in problem.days}
        shifts = tuple(
            replace(
                first,
                id=f"another person {day}",
                person=hands.id,
                day=day,
                start=min(s.start for s in own),
                end=max(s.end for s in own),
                children=False,
            )
            for day, own in days.items()
            if own
        )
        yield (
            "people",
            (),
            "It would fit with one more pair of hands, without any certificate.",
            replace(problem, people=(*problem.people, hands), shifts=(*problem.shifts, *shifts)),
        )


def _apart(shifts: Iterable[Shift]) -> bool:
    rows = sorted((s.person, s.start, s.end) for s in shifts)
    return all(a[0] != b[0] or a[2] <= b[1] for a, b in pairwise(rows))


def _with_machine(problem: Problem, name: str, second: str, wider: Problem) -> Problem:
    """The same jobs with a second way for each that takes the machine."""
    jobs = []
    for job in problem.jobs:
        extra = tuple(
            replace(way, machines=tuple(second if m == name else m for m in way.machines))
            for way in job.ways
            if name in way.machines
        )
        jobs.append(replace(job, ways=job.ways + extra))
    machines = tuple(
        replace(machine, pulled_by=machine.pulled_by | {second}) if name in machine.pulled_by else machine
        for machine in wider.machines
    )
    return replace(wider, machines=tuple(machines), jobs=tuple(jobs))


def _fits(problem: Problem, job: Job, kept: int, effort: Effort) -> bool:
    """Whether a plan with the job exists that keeps as much as before besides it."""
    built = Built(problem)
    if job.id not in built.model.present:
        return False
    _ask(built, job)
    others = sum(other.stake * built.model.present[other.id] for other in built.model.jobs if other.id != job.id)
    built.model.cp.add(others >= kept)
    return searching(effort, effort.work, effort.wall_s).solve(built.model.cp) in (cp_model.OPTIMAL, cp_model.FEASIBLE)


def _ask(built: Built, job: Job) -> None:
    for lit in built.wishes.values():
        built.model.cp.add(lit == 1)
    built.model.cp.add(built.model.present[job.id] == 1)


def _worth(problem: Problem, plan: Plan, job: Job, effort: Effort) -> Reason:
    """What the best plan with the job would leave out instead."""
    built = Built(problem)
    if job.id in built.model.present:
        _ask(built, job)
        built.model.cp.maximize(sum(other.stake * built.model.present[other.id] for other in built.model.jobs))
        solver = searching(effort, effort.work, effort.wall_s)
        status = solver.solve(built.model.cp)
        if status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            there = {item.job for item in built.items(solver)}
            out = tuple(item.job for item in plan.items if item.job not in there)
            names = ", ".join(problem.job(name).title for name in out)
            less = (plan.kept - round(solver.objective_value)) / 1000
            return Reason(
                job.id,
                "worth",
                f"It fits only instead of {names}, and {less:g} acre-seasons less would be kept."
                if out
                else "It fits, and would keep nothing more.",
                out,
            )
        if status == cp_model.INFEASIBLE:
            return Reason(job.id, *_alone(problem, job))
    return Reason(job.id, *_alone(problem, job))


def _alone(problem: Problem, job: Job) -> tuple[str, str]:
    """Of a job that fits into no plan whatever else is left out."""
    least = min(way.minutes for way in job.ways)
    if not any(may_join(problem, job, s) and reach(problem, job, s, least) for s in problem.shifts):
        return "hours", (
            f"Nobody who may do it is free for the drive there, its {least} minutes in its hours and the way back."
        )
    waits = [link.before for link in problem.links if link.after == job.id]
    if waits:
        names = ", ".join(problem.job(name).title for name in waits)
        return "waits", f"It waits for {names}, and both do not fit into these days with the wait between them."
    return "several", "No plan has it, whatever else is left out, and no single change alone would let it in."
