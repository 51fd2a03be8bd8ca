"""Weekends of 3 people and 25 jobs, 8 and 60, 20 and 150, all rules on: how soon a plan, a good one, and its proof.

Beside each plan stands earliest-deadline-first on the same weekend. Every plan of either is looked through by the
checker, and small problems are held against the exhaustive search first; both together are `equal`."""

from __future__ import annotations

import time
from collections.abc import Iterator, Sequence
from itertools import combinations
from typing import Any

from jobs.planner.answer import Effort, Plan
from jobs.planner.hours import may_join, reach
from jobs.planner.problem import Item, Job, Level, Problem
from jobs.planner.solve import solve
from tests.bench.timing import Say
from tests.bench.weekend_cases import weekend
from tests.jobs.planner.agree import disagreements
from tests.jobs.planner.checker import faults

SIZES = ((3, 25, Effort(work=4, wall_s=30)), (8, 60, Effort(work=8, wall_s=60)), (20, 150, Effort(work=12, wall_s=90)))
CREWS_TRIED = 4


def main(*, sizes: list[int] | None = None, full: bool = False, say: Say = print) -> dict[str, Any]:
    """Rows of seconds and of value kept; `--full` holds 500 small problems against the exhaustive search, else 20."""
    cases = 500 if full else 20
    wrong = disagreements(range(cases), say=say)
    say(f"{cases} small problems, {len(wrong)} with another best value than the exhaustive search")
    rows = [_row(people, jobs, effort, say) for people, jobs, effort in SIZES if sizes is None or jobs in sizes]
    ratios = {f"kept_over_edf_{row['jobs']}": row["over_edf"] for row in rows}
    ratios |= {f"gap_{row['jobs']}": row["gap"] for row in rows}
    return {"ratios": ratios, "equal": not wrong and all(row["faults"] == 0 for row in rows), "rows": rows}


def _row(people: int, jobs: int, effort: Effort, say: Say) -> dict[str, Any]:
    case = weekend(people, jobs)
    begun, cpu = time.perf_counter(), time.process_time()
    seen: list[tuple[float, int]] = []
    ends: dict[Level, float] = {}

    def watch(level: Level, value: int, bound: int) -> None:
        ends.setdefault(level, time.perf_counter() - begun)
        if level is Level.KEPT:
            seen.append((time.perf_counter() - begun, value))

    plan = solve(case, effort, watch)
    took, cpu = time.perf_counter() - begun, time.process_time() - cpu
    first = earliest_deadline_first(case)
    broken = [*faults(case, first)]
    if not isinstance(plan, Plan):
        say(f"{people} x {jobs}: no plan within {took:.0f} s")
        names = ("first_s", "near_s", "proof_s", "most", "over_edf")
        return dict.fromkeys(names) | {"people": people, "jobs": jobs, "all_s": round(took, 1), "gap": 1.0, "faults": 1}
    broken += faults(case, plan.items)
    for line in broken:
        say(line)
    score = plan.score(Level.KEPT)
    most = score.most if score else 0
    stakes = {job.id: job.stake for job in case.jobs}
    edf = sum(stakes[item.job] for item in first)
    near = next((at for at, value in seen if value >= 0.99 * most), None)
    after = min((at for level, at in ends.items() if level is not Level.KEPT), default=took)
    say(f"{people} x {jobs}: {len(plan.items)} jobs, {plan.kept} of at most {most}; by deadline {edf}")
    return {
        "people": people,
        "jobs": jobs,
        "first_s": round(seen[0][0], 2) if seen else None,
        "near_s": None if near is None else round(near, 2),
        "proof_s": round(after, 2) if plan.gap == 0 else None,
        "all_s": round(took, 1),
        "cpu_s": round(cpu, 1),
        "kept": plan.kept,
        "most": most,
        "gap": round(plan.gap, 4),
        "over_edf": round(plan.kept / edf, 3) if edf else None,
        "faults": len(broken),
    }


def earliest_deadline_first(case: Problem) -> list[Item]:
    """Jobs by the end of their last hours, each as early as whoever is free first can do it after what is planned."""
    items: list[Item] = []
    able = [job for job in case.jobs if job.windows and not job.told]
    for job in sorted(able, key=lambda job: (max(w.end for w in job.windows), job.id)):
        options = sorted(_options(case, items, job), key=lambda item: (item.end, item.shifts))
        for item in options[:CREWS_TRIED]:
            if not faults(case, [*items, item]):
                items.append(item)
                break
    return items


def _options(case: Problem, items: Sequence[Item], job: Job) -> Iterator[Item]:
    for at, way in enumerate(job.ways):
        free = {}
        for shift in case.shifts:
            spans = reach(case, job, shift, way.minutes) if may_join(case, job, shift) else []
            if spans:
                free[shift.id] = (_ready(case, items, job, at, shift.id), spans)
        last = dict.fromkeys(free)
        for crew in combinations(sorted(last, key=lambda name: (free[name][0], name))[:8], way.crew):
            ready = max(free[name][0] for name in crew)
            start = next((max(a, ready) for a, b in free[crew[0]][1] if b >= ready), None)
            if start is not None:
                moved = _moved(case, items, job, at)
                bring = crew[0] if moved[0] or moved[1] else None
                yield Item(job.id, at, tuple(sorted(crew)), start, start + way.minutes, bring, *moved)


def _moved(case: Problem, items: Sequence[Item], job: Job, at: int) -> tuple[str | None, tuple[str, ...]]:
    """Where the machines stand now, and which tanks would spoil the job."""
    fetched, washed = None, []
    for name in job.ways[at].machines:
        machine = case.machine(name)
        here, carries = machine.stands_at, set(machine.carries)
        for item in sorted(items, key=lambda item: item.start):
            other = case.job(item.job)
            if name in other.ways[item.way].machines:
                here, carries = other.place, (set() if name in item.washed else carries) | other.puts
        fetched = here if here != job.place else fetched
        if machine.wash_min is not None and carries & job.spoiled_by:
            washed.append(name)
    return fetched, tuple(washed)


def _ready(case: Problem, items: Sequence[Item], job: Job, at: int, name: str) -> int:
    shift = next(one for one in case.shifts if one.id == name)
    own = max((item for item in items if name in item.shifts), key=lambda item: item.end, default=None)
    clock, here = (own.end, case.job(own.job).place) if own else (shift.start, shift.begins_at)
    fetched, washed = _moved(case, items, job, at)
    wash = sum(case.machine(tank).wash_min or 0 for tank in washed)
    ready = clock + case.roads.fetch(here, fetched or job.place, job.place) + wash
    for machine in job.ways[at].machines:
        used = [item.end for item in items if machine in case.job(item.job).ways[item.way].machines]
        ready = max(ready, max(used, default=0) + case.roads.haul(fetched or job.place, job.place) + wash)
    waits = [link for link in case.links if link.after == job.id]
    return max([ready, *(item.end + link.least_min for link in waits for item in items if item.job == link.before)])
