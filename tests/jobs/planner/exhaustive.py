"""The best plan of a small problem by trying every choice in every order. Slow; shares nothing with the planner.

A plan is a row of choices (job, way, crew, who brings, what is washed) in the order of starts. For it the least starts
that keep all rules are found by raising them until nothing rises: every rule is a lower bound on a start, going by the
row, or a set of minutes that is allowed. So what a row cannot do, no longer row beginning with it can.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations

from jobs.graph.data import Relation
from jobs.planner.problem import Item, Job, Problem, Shift, WishKind
from tests.jobs.planner.checker import faults

Value = tuple[int, int, int, int]


@dataclass(frozen=True)
class Choice:
    job: Job
    way: int
    shifts: tuple[str, ...]
    brings: str | None
    fetched_at: str | None
    washed: tuple[str, ...]


class Search:
    """`best` is (thousandths kept, first wishes kept, errands done, minus the driving measure) and a plan with it."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.shifts = {shift.id: shift for shift in problem.shifts}
        self.people = {person.id: person for person in problem.people}
        self.days = {day.id: day for day in problem.days}
        self.firsts = {w.job for w in problem.wishes if w.kind is WishKind.FIRST}
        self.best: Value | None = None
        self.plan: list[Item] = []
        self.rows = 0
        self.memory: dict[tuple[Choice, int], int | None] = {}
        self._extend([], [job for job in problem.jobs if not job.told and job.windows])

    def _extend(self, row: list[Choice], left: list[Job]) -> None:
        self.rows += 1
        starts = self._starts(row)
        if starts is None:
            return
        items = [
            Item(c.job.id, c.way, c.shifts, s, s + c.job.ways[c.way].minutes, c.brings, c.fetched_at, c.washed)
            for c, s in zip(row, starts, strict=True)
        ]
        value = self._value(row)
        if (self.best is None or value > self.best) and self._whole(row, items):
            self.best, self.plan = value, items
        hope = (
            value[0] + sum(round(1000 * job.acres * job.share_lost) for job in left),
            value[1] + sum(job.id in self.firsts for job in left),
            value[2] + sum(job.rides_along for job in left),
            value[3],
        )
        if self.best is not None and hope <= self.best:
            return
        for job in left:
            rest = [other for other in left if other is not job]
            for choice in self._choices(row, job):
                self._extend([*row, choice], rest)

    def _choices(self, row: list[Choice], job: Job) -> Iterator[Choice]:
        for at, way in enumerate(job.ways):
            fetch: set[str] = set()
            tanks: list[str] = []
            for name in way.machines:
                machine = next(m for m in self.problem.machines if m.id == name)
                used = [c.job.place for c in row if name in c.job.ways[c.way].machines]
                stands = used[-1] if used else machine.stands_at
                if stands != job.place:
                    fetch.add(stands)
                if machine.wash_min is not None:
                    tanks.append(name)
            if len(fetch) > 1:
                continue
            for crew in combinations(sorted(self.shifts), way.crew):
                if not self._may(job, crew):
                    continue
                for many in range(len(tanks) + 1):
                    for washed in combinations(tanks, many):
                        if not self._clean(row, job, way.machines, washed):
                            continue
                        for brings in crew if fetch or washed else (None,):
                            if fetch and not self.people[self.shifts[brings or ""].person].hauls:
                                continue
                            yield Choice(job, at, crew, brings, next(iter(fetch), None), washed)

    def _may(self, job: Job, crew: tuple[str, ...]) -> bool:
        members = [self.shifts[name] for name in crew]
        if len({m.person for m in members}) < len(members) or len({m.day for m in members}) > 1:
            return False
        if job.children_out and any(m.children for m in members):
            return False
        holds = [self.people[m.person].holds for m in members]
        day = self.days[members[0].day]
        return all(any(h(skill, day) for h in holds) for skill in job.one_with) and all(
            h(skill, day) for skill in job.all_with for h in holds
        )

    def _clean(self, row: list[Choice], job: Job, machines: tuple[str, ...], washed: tuple[str, ...]) -> bool:
        for name in machines:
            machine = next(m for m in self.problem.machines if m.id == name)
            if machine.wash_min is None or name in washed:
                continue
            carries = set(machine.carries)
            for choice in row:
                if name in choice.job.ways[choice.way].machines:
                    carries = (set() if name in choice.washed else carries) | choice.job.puts
            if carries & job.spoiled_by:
                return False
        return True

    def _starts(self, row: list[Choice]) -> list[int] | None:
        """The least starts, or None if a row has none."""
        starts = [0] * len(row)
        moved = True
        while moved:
            moved = False
            for at, choice in enumerate(row):
                least = self._allowed(choice, max(starts[at], self._bound(row, starts, at)))
                if least is None:
                    return None
                if least > starts[at]:
                    starts[at], moved = least, True
        return starts

    def _bound(self, row: list[Choice], starts: list[int], at: int) -> int:
        problem, roads, choice = self.problem, self.problem.roads, row[at]
        wash = sum(m.wash_min or 0 for m in problem.machines if m.id in choice.washed)
        ends = [s + c.job.ways[c.way].minutes for s, c in zip(starts, row, strict=True)]
        length = choice.job.ways[choice.way].minutes
        place = choice.job.place
        bound = max((starts[k] for k in range(at)), default=0)
        for name in choice.shifts:
            own = [k for k in range(at) if name in row[k].shifts]
            clock, here = (ends[own[-1]], row[own[-1]].job.place) if own else _begin(self.shifts[name])
            if choice.brings == name:
                by = choice.fetched_at or place
                bound = max(bound, clock + roads.minutes[here, by] + roads.haul(by, place) + wash)
            else:
                bound = max(bound, clock + roads.minutes[here, place])
        for name in choice.job.ways[choice.way].machines:
            machine = next(m for m in problem.machines if m.id == name)
            own = [k for k in range(at) if name in row[k].job.ways[row[k].way].machines]
            free, here = (ends[own[-1]], row[own[-1]].job.place) if own else (machine.free_from, machine.stands_at)
            bound = max(bound, free + roads.haul(here, place) + wash)
        for k in range(at):
            other = row[k].job
            if other.plot == choice.job.plot and other.entry_min is not None:
                bound = max(bound, ends[k] + other.entry_min)
            elif (other.plot == choice.job.plot and choice.job.entry_min is not None) or problem.near(
                other.plot, choice.job.plot
            ) < max(other.exclusion_ft, choice.job.exclusion_ft):
                bound = max(bound, ends[k])
        for link in problem.links:
            for k, other in enumerate(row):
                from_end = link.relation in (Relation.FINISH_START, Relation.FINISH_FINISH)
                to_end = link.relation in (Relation.FINISH_FINISH, Relation.START_FINISH)
                if link.after == choice.job.id and link.before == other.job.id:
                    bound = max(bound, (ends if from_end else starts)[k] + link.least_min - to_end * length)
                if link.before == choice.job.id and link.after == other.job.id and link.most_min is not None:
                    bound = max(bound, (ends if to_end else starts)[k] - link.most_min - from_end * length)
        return bound

    def _allowed(self, choice: Choice, since: int) -> int | None:
        """The first minute at or after `since` at which the job may start by itself."""
        key = (choice, since)
        if key not in self.memory:
            self.memory[key] = self._first_allowed(choice, since)
        return self.memory[key]

    def _first_allowed(self, choice: Choice, since: int) -> int | None:
        job, minutes = choice.job, choice.job.ways[choice.way].minutes
        latest = min(
            self.shifts[n].end - self.problem.roads.minutes[job.place, self.shifts[n].ends_at] for n in choice.shifts
        )
        for name in job.ways[choice.way].machines:
            latest = min(latest, next(m.free_to for m in self.problem.machines if m.id == name))
        candidates = {since, *(w.start for w in job.windows), *(d.light_from for d in self.problem.days)}
        candidates |= {quiet.end for quiet in self.problem.quiet}
        for start in sorted(c for c in candidates if c >= since):
            end = start + minutes
            if end > latest:
                return None
            if (
                any(w.start <= start and end <= w.end for w in job.windows)
                and (
                    not job.needs_light
                    or any(d.light_from <= start and end + job.light_after_min <= d.light_to for d in self.problem.days)
                )
                and not any(q.place == job.place and start < q.end and q.start < end for q in self.problem.quiet)
            ):
                return start
        return None

    def _value(self, row: list[Choice]) -> Value:
        roads = self.problem.roads
        visits = {(name, choice.job.place) for choice in row for name in choice.shifts}
        driving = sum(
            roads.minutes[self.shifts[n].begins_at, p] + roads.minutes[p, self.shifts[n].ends_at] for n, p in visits
        )
        driving += sum(roads.haul(c.fetched_at, c.job.place) for c in row if c.fetched_at is not None)
        return (
            sum(round(1000 * c.job.acres * c.job.share_lost) for c in row),
            sum(c.job.id in self.firsts for c in row),
            sum(c.job.rides_along for c in row),
            -driving,
        )

    def _whole(self, row: list[Choice], items: list[Item]) -> bool:
        """What only a whole plan keeps or breaks: predecessors, days, stock, errands, wishes, one of several."""
        return not faults(self.problem, items)


def _begin(shift: Shift) -> tuple[int, str]:
    return shift.start, shift.begins_at
