"""What shifts and machines can hold, in minutes, whatever the order: implied by the times, told for the bound's sake.

A sum that is too large for its stretch of hours is ruled out before any order is tried."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from jobs.planner.hours import Span, reach
from jobs.planner.model import Literal, Model
from jobs.planner.problem import Job, Machine, Shift


def add_energy(model: Model) -> None:
    for shift in model.problem.shifts:
        _shift(model, shift, model.by_shift[shift.id])
    for machine in model.problem.machines:
        for day in model.problem.days:
            _machine(model, machine, day.id)


def _shift(model: Model, shift: Shift, own: Sequence[Job]) -> None:
    if not own:
        return
    roads = model.problem.roads
    visits = {job.place: model.visits[shift.id, job.place] for job in own}
    lits = {job.id: model.on[shift.id, job.id] for job in own}
    work = sum(model.least[name] * lit for name, lit in lits.items())
    home = min(roads.drive(place, shift.ends_at) for place in visits)
    into = {
        p: min(roads.drive(q, p) for q in (shift.begins_at, *visits) if q != p or q == shift.begins_at) for p in visits
    }
    model.cp.add(work + sum(into[p] * lit for p, lit in visits.items()) <= shift.end - shift.start - home)
    for place, lit in visits.items():
        there_and_back = roads.drive(shift.begins_at, place) + roads.drive(place, shift.ends_at)
        model.cp.add(work + there_and_back * lit <= shift.end - shift.start)
    edges = {}
    for job in own:
        spans = reach(model.problem, job, shift, model.least[job.id])
        edges[job.id] = (spans[0][0], spans[-1][1] + model.least[job.id])
    _stretches(model, lits, edges, visits, roads.drive)


def _machine(model: Model, machine: Machine, day: str) -> None:
    """Like a shift: its work of the day and the hauls between its places of that day."""
    lits: dict[str, Literal] = {}
    edges: dict[str, Span] = {}
    visits: dict[str, Literal] = {}
    for job in model.jobs:
        ways = [lit for (j, at), lit in model.way.items() if j == job.id and machine.id in job.ways[at].machines]
        if not ways or (job.id, day) not in model.day:
            continue
        lit = lits[job.id] = model.cp.new_bool_var(f"{job.id} takes {machine.id} on {day}")
        model.cp.add(lit >= sum(ways) + model.day[job.id, day] - 1)
        if job.place not in visits:
            visits[job.place] = model.cp.new_bool_var(f"{machine.id} at {job.place} on {day}")
        model.cp.add_implication(lit, visits[job.place])
        least = model.least[job.id]
        spans = [
            span for shift in model.crew[job.id] if shift.day == day for span in reach(model.problem, job, shift, least)
        ]
        edges[job.id] = (min(a for a, _ in spans), max(b for _, b in spans) + least)
    _stretches(model, lits, edges, visits, model.problem.roads.haul)


def _stretches(
    model: Model,
    lits: Mapping[str, Literal],
    edges: Mapping[str, Span],
    visits: Mapping[str, Literal],
    go: Callable[[str, str], int],
) -> None:
    """Work of which the hours lie inside a stretch, and the ways between its places, fit into it. The first place needs
    no way inside the stretch, so the longest of the ways is taken off."""
    place = {job.id: job.place for job in model.jobs}
    for a in sorted({a for a, _ in edges.values()}):
        for b in sorted({b for _, b in edges.values()}):
            inside = [name for name, (c, d) in edges.items() if a <= c and d <= b]
            places = sorted({place[name] for name in inside})
            into = {p: min((go(q, p) for q in places if q != p), default=0) for p in places}
            off = max(into.values(), default=0)
            whole = len(inside) == len(edges)
            most = sum(model.least[name] for name in inside) + (sum(into.values()) - off if whole else 0)
            if not inside or most <= b - a:
                continue
            ways = sum(into[p] * visits[p] for p in places) if whole else 0
            work = sum(model.least[name] * lits[name] for name in inside)
            model.cp.add(work + ways <= b - a + (off if whole else 0))
