"""The best plan, level by level of the aim, with its proof or how far it may be from the best. Pure.

The search is the solver's interleaved one: it gives the same answer for the same problem, seed and effort on every run,
whatever else the machine does, because effort is counted in work and not on a clock.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import combinations
from math import floor

from ortools.sat.python import cp_model

from jobs.planner.aims import aim, measure, most
from jobs.planner.answer import MOST_JOBS, MOST_SHIFTS, Effort, Plan, Refused, Score, TooLarge, Unknown
from jobs.planner.energy import add_energy
from jobs.planner.model import Model
from jobs.planner.moves import Moves
from jobs.planner.problem import Item, Level, Problem, Wish, WishKind
from jobs.planner.rules import add_rules, add_wish
from jobs.planner.start import first_plan

PROOF = ("core",)
"""Raises the bound from what cannot be had together; it proves most weekends of a few people by itself."""
MANY = ("core", "reduced_costs", "quick_restart")
WORKERS = 8
"""Kinds of search at once: the proving ones and, beside them, searches round the best plan so far."""
LAST_S = 0.2
"""With no more seconds than this left no level is begun; what the plan reaches there is told without a search."""
IN_A_ROW = frozenset({Level.ROUTE, Level.EARLIER})


Watch = Callable[[Level, int, int], object]
Answer = Plan | Refused | TooLarge | Unknown
"""A plan, or why there is none. A plan without work is a plan."""


class Built:
    """A model with all rules; `wishes` are the literals under which its hard wishes hold."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.model = Model(problem)
        self.moves = Moves(self.model)
        add_rules(self.model)
        add_energy(self.model)
        self.wishes = {
            wish.id: add_wish(self.model, wish) for wish in problem.wishes if wish.kind is not WishKind.FIRST
        }

    def hint(self, items: Sequence[Item]) -> None:
        """A plan for the search to begin with; it takes of it what holds."""
        model, by_job = self.model, {item.job: item for item in items}
        for job in model.jobs:
            item = by_job.get(job.id)
            model.cp.add_hint(model.present[job.id], item is not None)
            for at in range(len(job.ways)):
                if (job.id, at) in model.way:
                    model.cp.add_hint(model.way[job.id, at], item is not None and item.way == at)
            for shift in model.crew[job.id]:
                model.cp.add_hint(model.on[shift.id, job.id], item is not None and shift.id in item.shifts)
                if (shift.id, job.id) in self.moves.brings:
                    brings = item is not None and item.brings == shift.id
                    model.cp.add_hint(self.moves.brings[shift.id, job.id], brings)
            if item is not None:
                model.cp.add_hint(model.start[job.id], item.start - model.zero)
        for (name, job_id), lit in self.moves.washed.items():
            model.cp.add_hint(lit, job_id in by_job and name in by_job[job_id].washed)

    def items(self, solver: cp_model.CpSolver) -> tuple[Item, ...]:
        """The plan that the solver holds, by start."""
        model, moves, found = self.model, self.moves, []
        stands = {machine.id: machine.stands_at for machine in self.problem.machines}
        planned = [job for job in model.jobs if solver.boolean_value(model.present[job.id])]
        for job in sorted(planned, key=lambda job: (solver.value(model.start[job.id]), job.id)):
            way = next(at for (j, at), lit in model.way.items() if j == job.id and solver.boolean_value(lit))
            machines = job.ways[way].machines
            fetched = {stands[m] for m in machines} - {job.place}
            stands |= dict.fromkeys(machines, job.place)
            washed = tuple(
                m for m in machines if (m, job.id) in moves.washed and solver.boolean_value(moves.washed[m, job.id])
            )
            crew = [s.id for s in model.crew[job.id] if solver.boolean_value(model.on[s.id, job.id])]
            brings = [s for s in crew if (s, job.id) in moves.brings and solver.boolean_value(moves.brings[s, job.id])]
            start = solver.value(model.start[job.id]) + model.zero
            found.append(
                Item(
                    job.id,
                    way,
                    tuple(crew),
                    start,
                    start + job.ways[way].minutes,
                    brings[0] if brings and (fetched or washed) else None,
                    min(fetched, default=None),
                    washed,
                )
            )
        return tuple(found)


def solve(problem: Problem, effort: Effort | None = None, watch: Watch | None = None) -> Answer:
    """The best plan under the problem's wishes; `Refused` with the smallest part of them that cannot hold together.

    `watch` is called with (level, value, bound) at each better plan of a level, in order."""
    effort = effort or Effort()
    if len(problem.jobs) > MOST_JOBS or len(problem.shifts) > MOST_SHIFTS:
        return TooLarge(len(problem.jobs), len(problem.shifts))
    built = Built(problem)
    for lit in built.wishes.values():
        built.model.cp.add(lit == 1)
    search = Search(built, effort, watch)
    search.begin(first_plan(problem))
    scores: list[Score] = []
    for level in problem.aim:
        if level in IN_A_ROW:
            search.keep_assignment()
        score = search.level(level)
        if score is None:
            break
        scores.append(score)
    if search.impossible:
        return Refused(smallest_conflict(problem, effort))
    if search.last is None:
        return Unknown(effort)
    return Plan(built.items(search.last), tuple(scores), effort, search.repeatable)


class Search:
    """Level after level on one model, each from the plan that the one before it found."""

    def __init__(self, built: Built, effort: Effort, watch: Watch | None = None) -> None:
        self.built, self.effort, self.watch = built, effort, watch
        self.at = Level.KEPT
        self.last: cp_model.CpSolver | None = None
        self.left = effort.wall_s
        self.repeatable, self.impossible, self.kept_assignment = True, False, False

    def begin(self, items: Sequence[Item]) -> None:
        """Takes a plan to begin with, if it keeps everything, wishes too."""
        self.built.hint(items)
        solver = searching(self.effort, self.effort.work / 10, self.left)
        solver.parameters.fix_variables_to_their_hinted_value = True
        if solver.solve(self.built.model.cp) in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            self.last = solver
            if self.watch:
                model = self.built.model
                self.watch(Level.KEPT, measure(Level.KEPT, model, items), most(Level.KEPT, model))
        self.left = max(0.1, self.left - solver.wall_time)

    def level(self, level: Level) -> Score | None:
        """What the level reaches with all before it kept; None if there is no plan at all, or none was found."""
        cp = self.built.model.cp
        model = self.built.model
        before = self.built.items(self.last) if self.last is not None else ()
        if self.last is not None and self.left <= LAST_S:
            self.repeatable = False
            return Score(level, measure(level, model, before), most(level, model))
        expr = aim(level, model, self.built.moves, before)
        if isinstance(expr, int) and self.last is not None:
            return Score(level, expr, expr)
        cp.maximize(expr)
        self.at = level
        solver, status, bound = self._run(self.effort.work if level is Level.KEPT else self.effort.work / 10)
        if status == cp_model.INFEASIBLE:
            if self.last is not None:
                raise AssertionError(f"The plan that was found breaks its own model at '{level}'.")
            self.impossible = True
            return None
        if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE, cp_model.UNKNOWN):
            raise AssertionError(f"The model is not valid: {cp.validate()}")
        top = most(level, model)
        if bound is not None:
            top = min(top, bound)
        if status != cp_model.UNKNOWN:
            self.last = solver
        if self.last is None:
            return None
        value = measure(level, model, self.built.items(self.last))
        cp.add(expr >= value)
        return Score(level, value, value if status == cp_model.OPTIMAL else top)

    def _run(self, work: float) -> tuple[cp_model.CpSolver, cp_model.CpSolverStatus, int | None]:
        """The proof search alone first; what it cannot end in a fifth of the work goes on with all kinds of search.

        The bound is the lower of both, None where neither found a plan, for then it may not be one yet."""
        solver, status = self._once(PROOF, work / 5)
        bound = floor(solver.best_objective_bound + 1e-6) if status == cp_model.FEASIBLE else None
        if status in (cp_model.OPTIMAL, cp_model.INFEASIBLE, cp_model.MODEL_INVALID):
            return solver, status, bound
        before = self.last
        if status == cp_model.FEASIBLE:
            self.last = solver
        more, later = self._once(MANY, work * 4 / 5)
        self.last = before
        if later == cp_model.FEASIBLE:
            found = floor(more.best_objective_bound + 1e-6)
            return more, later, found if bound is None else min(bound, found)
        return (solver, status, bound) if later == cp_model.UNKNOWN else (more, later, bound)

    def _once(self, searches: Sequence[str], work: float) -> tuple[cp_model.CpSolver, cp_model.CpSolverStatus]:
        cp = self.built.model.cp
        if self.last is not None:
            cp.clear_hints()  # type: ignore[no-untyped-call]
            for index, value in enumerate(self.last.response_proto.solution):
                cp.add_hint(cp.get_int_var_from_proto_index(index), value)
        solver = searching(self.effort, work, self.left, searches)
        status = solver.solve(cp, _Telling(self.at, self.watch) if self.watch else None)
        if status in (cp_model.FEASIBLE, cp_model.UNKNOWN) and solver.wall_time >= self.left:
            self.repeatable = False
        self.left = max(0.1, self.left - solver.wall_time)
        return solver, status

    def keep_assignment(self) -> None:
        """From here on only the row of jobs and their hours may change, not who does what in which way."""
        if self.kept_assignment or self.last is None:
            return
        self.kept_assignment = True
        model = self.built.model
        for lits in (model.present, model.way, model.on):
            for lit in lits.values():
                model.cp.add(lit == self.last.value(lit))


class _Telling(cp_model.CpSolverSolutionCallback):
    def __init__(self, level: Level, watch: Watch) -> None:
        super().__init__()
        self.level, self.watch = level, watch

    def on_solution_callback(self) -> None:
        self.watch(self.level, round(self.objective_value), floor(self.best_objective_bound + 1e-6))


def searching(effort: Effort, work: float, wall_s: float, searches: Sequence[str] = PROOF) -> cp_model.CpSolver:
    """A solver that answers the same every time, unless the clock stops it."""
    solver = cp_model.CpSolver()
    solver.parameters.random_seed = effort.seed
    solver.parameters.linearization_level = 2
    solver.parameters.interleave_search = len(searches) > 1
    solver.parameters.num_workers = WORKERS if len(searches) > 1 else 1
    solver.parameters.subsolvers.extend(searches)
    solver.parameters.max_deterministic_time = work
    solver.parameters.max_time_in_seconds = max(0.1, wall_s)
    return solver


def smallest_conflict(problem: Problem, effort: Effort) -> tuple[Wish, ...]:
    """The fewest hard wishes that cannot hold together; by number first, then by id.

    None where no plan at all exists without any wish, which only a fault of the model could bring about."""
    hard = [wish for wish in problem.wishes if wish.kind is not WishKind.FIRST]

    def hold(wishes: Sequence[Wish]) -> bool:
        built = Built(problem)
        for wish in wishes:
            built.model.cp.add(built.wishes[wish.id] == 1)
        return searching(effort, effort.work, effort.wall_s).solve(built.model.cp) != cp_model.INFEASIBLE

    core = list(hard)
    for wish in hard:
        without = [other for other in core if other is not wish]
        if not hold(without):
            core = without
    for many in range(1, len(core)):
        for part in combinations(hard, many):
            if not hold(part):
                return part
    return tuple(core)
