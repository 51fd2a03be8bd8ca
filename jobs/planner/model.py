"""The rules as constraints over whole minutes: who is on which job, in which way, from when. Pure.

Times count from the problem's first day. People's order is kept by literals of pairs, `first[i, j]`, that all people of
both jobs share; each means that j starts after i's end and the drive. Since roads are closed under the triangle
inequality, order between any two jobs of a shift implies the order of all.
"""

from __future__ import annotations

from collections import defaultdict
from itertools import combinations

from ortools.sat.python import cp_model

from jobs.planner.hours import Span, may_join, reach, starts
from jobs.planner.problem import Job, Problem, Shift

Literal = cp_model.IntVar
Expr = cp_model.LinearExpr | int


class Model:
    """Variables of a problem and the rules of who, where and when; `moves` and `rules` add the others.

    `on[shift, job]`, `present[job]`, `way[job, n]`, `start[job]`, `day[job, day]`,
    `visits[shift, place]`; `jobs` are those that can go at all."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.cp = cp_model.CpModel()
        self.zero = min(day.start for day in problem.days)
        self.span = max(day.end for day in problem.days) - self.zero
        self.present: dict[str, Literal] = {}
        self.way: dict[tuple[str, int], Literal] = {}
        self.start: dict[str, Literal] = {}
        self.size: dict[str, Expr] = {}
        self.end: dict[str, Expr] = {}
        self.on: dict[tuple[str, str], Literal] = {}
        self.day: dict[tuple[str, str], Literal] = {}
        self.visits: dict[tuple[str, str], Literal] = {}
        self.first: dict[tuple[str, str], Literal] = {}
        self.crew: dict[str, list[Shift]] = {}
        self.least: dict[str, int] = {}
        self.most: dict[str, int] = {}
        self.spans: dict[str, list[Span]] = {}
        self.jobs: list[Job] = []
        for job in problem.jobs:
            self._job(job)
        self.by_shift = {s.id: [job for job in self.jobs if (s.id, job.id) in self.on] for s in problem.shifts}
        self._crews()
        self._visits()
        self._order()
        self._days()

    def _job(self, job: Job) -> None:
        """The job's variables, unless it cannot go by itself."""
        if job.told:
            return
        ways = [at for at, way in enumerate(job.ways) if starts(self.problem, job, way.minutes)]
        if not ways:
            return
        least = min(job.ways[at].minutes for at in ways)
        crew = {
            shift.id: spans
            for shift in self.problem.shifts
            if may_join(self.problem, job, shift) and (spans := reach(self.problem, job, shift, least))
        }
        spans = sorted({span for own in crew.values() for span in own})
        if not spans:
            return
        cp, name = self.cp, job.id
        self.jobs.append(job)
        self.least[name], self.most[name] = least, max(job.ways[at].minutes for at in ways)
        self.crew[name] = [shift for shift in self.problem.shifts if shift.id in crew]
        self.spans[name] = _domain_spans(self.zero, spans)
        domain = cp_model.Domain.from_intervals(self.spans[name])
        self.present[name] = cp.new_bool_var(f"present {name}")
        self.start[name] = cp.new_int_var_from_domain(domain, f"start {name}")
        for at in ways:
            self.way[name, at] = cp.new_bool_var(f"way {name} {at}")
        cp.add(sum(self.way[name, at] for at in ways) == self.present[name])
        minutes = {job.ways[at].minutes for at in ways}
        if len(minutes) == 1:
            self.size[name] = least
            self.end[name] = self.start[name] + least
        else:
            size = cp.new_int_var_from_domain(cp_model.Domain.from_values(sorted(minutes)), f"size {name}")
            end = cp.new_int_var(0, self.span, f"end {name}")
            cp.add(end == self.start[name] + size)
            self.size[name], self.end[name] = size, end
        for at in ways:
            length = job.ways[at].minutes
            allowed = _domain_spans(self.zero, starts(self.problem, job, length))
            if len(minutes) > 1:
                cp.add(self.size[name] == length).only_enforce_if(self.way[name, at])
            cp.add_linear_expression_in_domain(
                self.start[name], cp_model.Domain.from_intervals(allowed)
            ).only_enforce_if(self.way[name, at])
        for shift in self.crew[name]:
            self.on[shift.id, name] = cp.new_bool_var(f"on {shift.id} {name}")

    def _crews(self) -> None:
        """So many people as the way takes, with the certificates, inside their shifts."""
        roads, cp = self.problem.roads, self.cp
        for job in self.jobs:
            name, own = job.id, [self.on[shift.id, job.id] for shift in self.crew[job.id]]
            people = sum(job.ways[at].crew * lit for (j, at), lit in self.way.items() if j == name)
            cp.add(sum(own) == people)
            for lit in own:
                cp.add_implication(lit, self.present[name])
            for skill in job.one_with:
                holders = [s for s in self.crew[name] if self._holds(s, skill)]
                cp.add_bool_or([*(self.on[s.id, name] for s in holders), self.present[name].negated()])
            for shift in self.crew[name]:
                lit = self.on[shift.id, name]
                begin = shift.start - self.zero + roads.drive(shift.begins_at, job.place)
                cp.add(self.start[name] >= begin).only_enforce_if(lit)
                until = shift.end - self.zero - roads.drive(job.place, shift.ends_at)
                cp.add(self.end[name] <= until).only_enforce_if(lit)
            for day in sorted({shift.day for shift in self.crew[name]}):
                self.day[name, day] = cp.new_bool_var(f"{name} on {day}")
            cp.add(sum(lit for (j, _), lit in self.day.items() if j == name) == self.present[name])
            for shift in self.crew[name]:
                cp.add_implication(self.on[shift.id, name], self.day[name, shift.day])

    def _holds(self, shift: Shift, skill: str) -> bool:
        return self.problem.person(shift.person).holds(skill, self.problem.day(shift.day))

    def _order(self) -> None:
        """Two jobs of one shift: one first, with the drive between them."""
        roads, cp = self.problem.roads, self.cp
        for shift in self.problem.shifts:
            own = self.by_shift[shift.id]
            cp.add_no_overlap(
                [
                    cp.new_optional_interval_var(
                        self.start[job.id],
                        self.size[job.id],
                        self.end[job.id],
                        self.on[shift.id, job.id],
                        f"{shift.id} {job.id}",
                    )
                    for job in own
                ]
            )
        shared: dict[tuple[str, str], list[str]] = defaultdict(list)
        for shift in self.problem.shifts:
            for one, two in combinations(self.by_shift[shift.id], 2):
                shared[one.id, two.id].append(shift.id)
        place = {job.id: job.place for job in self.jobs}
        for (i, j), shifts in sorted(shared.items()):
            ways = [
                self._before(a, b, roads.drive(place[a], place[b]))
                for a, b in ((i, j), (j, i))
                if self.can_follow(a, b, roads.drive(place[a], place[b]))
            ]
            for shift_id in shifts:
                cp.add_bool_or([self.on[shift_id, i].negated(), self.on[shift_id, j].negated(), *ways])

    def can_follow(self, first: str, then: str, gap: int) -> bool:
        """Whether `then` may start so many minutes after the end of `first`, going by their hours alone."""
        return self.spans[first][0][0] + self.least[first] + gap <= self.spans[then][-1][1]

    def _before(self, i: str, j: str, gap: int) -> Literal:
        lit = self.cp.new_bool_var(f"{i} before {j}")
        self.cp.add(self.start[j] >= self.end[i] + gap).only_enforce_if(lit)
        self.first[i, j] = lit
        return lit

    def _visits(self) -> None:
        """Where each shift goes."""
        for (shift, name), lit in self.on.items():
            place = self.problem.job(name).place
            if (shift, place) not in self.visits:
                self.visits[shift, place] = self.cp.new_bool_var(f"{shift} goes to {place}")
            self.cp.add_implication(lit, self.visits[shift, place])

    def _days(self) -> None:
        """No more days of a person than were given; `works[person, day]` is there for wishes and balance."""
        self.works: dict[tuple[str, str], Literal] = {}
        for shift in self.problem.shifts:
            key = (shift.person, shift.day)
            if key not in self.works:
                self.works[key] = self.cp.new_bool_var(f"{shift.person} works on {shift.day}")
            for job in self.by_shift[shift.id]:
                self.cp.add_implication(self.on[shift.id, job.id], self.works[key])
        for person in self.problem.people:
            if person.most_days is not None:
                self.cp.add(sum(lit for (who, _), lit in self.works.items() if who == person.id) <= person.most_days)


def _domain_spans(zero: int, spans: list[Span]) -> list[Span]:
    """Spans from the model's first minute on, in order and without overlaps."""
    merged: list[Span] = []
    for a, b in sorted((a - zero, b - zero) for a, b in spans):
        if merged and a <= merged[-1][1] + 1:
            merged[-1] = (merged[-1][0], max(merged[-1][1], b))
        else:
            merged.append((a, b))
    return merged
