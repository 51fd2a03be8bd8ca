"""The levels of the aim as sums over a model's variables; the sense of each is in its sign: more is better."""

from __future__ import annotations

from collections import defaultdict

from ortools.sat.python import cp_model

from jobs.planner.model import Expr, Model
from jobs.planner.moves import Moves
from jobs.planner.problem import Level, WishKind

DAY_OUT_MIN = 60
"""What one more day out weighs beside minutes of the longest day's work: common practice."""


def aim(level: Level, model: Model, moves: Moves) -> Expr:
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
            return -sum(model.start.values())
        case Level.ORDER:
            rank = {person.id: at for at, person in enumerate(model.problem.people)}
            whose = {shift.id: rank[shift.person] for shift in model.problem.shifts}
            return -sum(whose[shift] * lit for (shift, _), lit in model.on.items())


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
