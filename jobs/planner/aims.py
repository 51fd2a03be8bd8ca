"""The levels of the aim as sums over a model's variables; the sense of each is in its sign: more is better."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from itertools import pairwise

from ortools.sat.python import cp_model

from jobs.planner.model import Expr, Model
from jobs.planner.moves import Moves
from jobs.planner.problem import Item, Level, WishKind

DAY_OUT_MIN = 60
"""What one more day out weighs beside minutes of the longest day's work: common practice."""


def aim(level: Level, model: Model, moves: Moves, items: Sequence[Item] = ()) -> Expr:
    """What the level wants most of: thousandths of acre-seasons, counts, or minutes counted below zero."""
    match level:
        case Level.KEPT:
            return sum(job.stake * model.present[job.id] for job in model.jobs)
        case Level.FIRST:
            wished = {wish.job for wish in model.problem.wishes if wish.kind is WishKind.FIRST}
            return sum(lit for name, lit in model.present.items() if name in wished)
        case Level.ERRANDS:
            return sum(model.present[job.id] for job in model.jobs if job.rides_along)
        case Level.DRIVING:
            return -_visits(model) - sum(moves.haul_min(job) for job in moves.takers)
        case Level.BALANCE:
            return -_longest(model) - DAY_OUT_MIN * sum(model.works.values())
        case Level.ROUTE:
            return -_driven(model)
        case Level.EARLIER:
            return -sum(model.start[item.job] for item in items)
        case Level.ORDER:
            rank = {person.id: at for at, person in enumerate(model.problem.people)}
            whose = {shift.id: rank[shift.person] for shift in model.problem.shifts}
            return -sum(whose[shift] * lit for (shift, _), lit in model.on.items())


def measure(level: Level, model: Model, items: Sequence[Item]) -> int:
    """What a plan reaches at a level, from its items alone; a model's variables may lie on the safe side of it."""
    problem = model.problem
    roads, shifts = problem.roads, {shift.id: shift for shift in problem.shifts}
    jobs = {item.job: problem.job(item.job) for item in items}
    match level:
        case Level.KEPT:
            return sum(job.stake for job in jobs.values())
        case Level.FIRST:
            return len(jobs.keys() & {wish.job for wish in problem.wishes if wish.kind is WishKind.FIRST})
        case Level.ERRANDS:
            return sum(job.rides_along for job in jobs.values())
        case Level.DRIVING:
            visits = {(name, jobs[item.job].place) for item in items for name in item.shifts}
            hauls = sum(roads.haul(item.fetched_at, jobs[item.job].place) for item in items if item.fetched_at)
            there = (roads.drive(shifts[n].begins_at, p) + roads.drive(p, shifts[n].ends_at) for n, p in visits)
            return -sum(there) - hauls
        case Level.BALANCE:
            work: dict[str, int] = defaultdict(int)
            for item in items:
                for name in item.shifts:
                    work[shifts[name].person] += model.least[item.job]
            days = {(shifts[name].person, shifts[name].day) for item in items for name in item.shifts}
            return -max(work.values(), default=0) - DAY_OUT_MIN * len(days)
        case Level.ORDER:
            rank = {person.id: at for at, person in enumerate(problem.people)}
            return -sum(rank[shifts[name].person] for item in items for name in item.shifts)
        case Level.ROUTE:
            return -sum(_way(model, name, items) for name in shifts)
        case Level.EARLIER:
            return -sum(item.start - model.zero for item in items)


def most(level: Level, model: Model) -> int:
    """No plan reaches more at a level, without any search."""
    match level:
        case Level.KEPT:
            return sum(job.stake for job in model.jobs)
        case Level.FIRST:
            return sum(wish.kind is WishKind.FIRST for wish in model.problem.wishes)
        case Level.ERRANDS:
            return sum(job.rides_along for job in model.jobs)
        case _:
            return 0


def _way(model: Model, shift: str, items: Sequence[Item]) -> int:
    own = next(one for one in model.problem.shifts if one.id == shift)
    rows = sorted((item.start, model.problem.job(item.job).place) for item in items if shift in item.shifts)
    stops = [own.begins_at, *(place for _, place in rows), own.ends_at] if rows else []
    return sum(model.problem.roads.drive(a, b) for a, b in pairwise(stops))


def _visits(model: Model) -> Expr:
    """Minutes there and back for every place that a shift goes to: what an assignment costs before it is in a row."""
    roads = model.problem.roads
    shifts = {shift.id: shift for shift in model.problem.shifts}
    return sum(
        (roads.drive(shifts[name].begins_at, place) + roads.drive(place, shifts[name].ends_at)) * lit
        for (name, place), lit in model.visits.items()
    )


def _longest(model: Model) -> Expr:
    """Minutes on jobs of whoever has most, so that work is shared."""
    work: dict[str, list[Expr]] = defaultdict(list)
    for shift in model.problem.shifts:
        work[shift.person].extend(model.least[job.id] * model.on[shift.id, job.id] for job in model.by_shift[shift.id])
    if not any(work.values()):
        return 0
    most = model.cp.new_int_var(0, model.span, "most work")
    for terms in work.values():
        model.cp.add(most >= sum(terms))
    return most


def _driven(model: Model) -> Expr:
    """Minutes from the first place through every job to the last, by a circuit a shift over what was assigned to it."""
    roads, driven = model.problem.roads, []
    for shift in model.problem.shifts:
        own = model.by_shift[shift.id]
        if not own:
            continue
        idle = model.cp.new_bool_var(f"{shift.id} idle")
        arcs: list[tuple[int, int, cp_model.LiteralT]] = [(0, 0, idle)]
        for at, job in enumerate(own, start=1):
            on = model.on[shift.id, job.id]
            leave, back = (model.cp.new_bool_var(f"{shift.id} {what} {job.id}") for what in ("out", "back"))
            arcs += [(at, at, on.negated()), (0, at, leave), (at, 0, back)]
            driven += [roads.drive(shift.begins_at, job.place) * leave, roads.drive(job.place, shift.ends_at) * back]
            for then, other in enumerate(own, start=1):
                if (job.id, other.id) in model.first:
                    lit = model.cp.new_bool_var(f"{shift.id} {job.id} then {other.id}")
                    model.cp.add_implication(lit, model.first[job.id, other.id])
                    arcs.append((at, then, lit))
                    driven.append(roads.drive(job.place, other.place) * lit)
        model.cp.add_circuit(arcs)
    return sum(driven)
