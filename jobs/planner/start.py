"""A first plan for the search to begin with: jobs by what they keep an hour of a person, each as early as it fits.

The search takes it only after its own look through all rules: what is not looked at here (wishes, what is fetched,
errands) is no danger, only a poorer beginning."""

from __future__ import annotations

import random
from collections.abc import Iterator, Mapping, Sequence
from itertools import combinations

from jobs.planner.hours import may_join, reach, within
from jobs.planner.problem import Item, Job, Problem, Shift
from jobs.planner.rules import FROM_END, TO_END, apart

MOST_ROUNDS, BUILDS, SHAKEN = 120, 6_000, (0.5, 2.0)
"""So many plans at the most, so many placings of jobs in all of them, and how far an urgency is shifted."""
CREWS_FROM = 6
"""So many of those who are free first are tried as a crew."""


def first_plan(problem: Problem, *, rounds: int | None = None, seed: int = 1) -> tuple[Item, ...]:
    """The best of some plans, in order of start: each from an order that chance shifts a little from the best so far.

    The same seed gives the same plan."""
    draw = random.Random(seed)
    jobs = [job for job in problem.jobs if not job.told]
    urgency = {job.id: job.stake / min(way.minutes * way.crew for way in job.ways) for job in jobs}
    best = _built(problem, jobs, urgency)
    most, total = _kept(problem, best), sum(job.stake for job in jobs)
    for _ in range(min(MOST_ROUNDS, BUILDS // max(1, len(jobs))) if rounds is None else rounds):
        if most == total:
            break
        shaken = {name: value * draw.uniform(*SHAKEN) for name, value in urgency.items()}
        plan = _built(problem, jobs, shaken)
        if (kept := _kept(problem, plan)) >= most:
            best, most, urgency = plan, kept, shaken
    return tuple(sorted(best.values(), key=lambda item: (item.start, item.job)))


def _kept(problem: Problem, plan: Mapping[str, Item]) -> int:
    return sum(problem.job(name).stake for name in plan)


def _built(problem: Problem, jobs: Sequence[Job], urgency: Mapping[str, float]) -> dict[str, Item]:
    build = _Start(problem)
    left = sorted(jobs, key=lambda job: (-urgency[job.id], job.id))
    waits = {link.after: link.before for link in problem.links}
    while left:
        names = {other.id for other in left}
        job = next((one for one in left if waits.get(one.id) not in names), left[0])
        left.remove(job)
        if job.rides_along or any(k.after == job.id and k.before not in build.by_job for k in problem.links):
            continue
        build.add(job)
    return build.by_job


class _Start:
    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.by_job: dict[str, Item] = {}
        self.jobs = {job.id: job for job in problem.jobs}
        self.clock = {shift.id: (shift.start, shift.begins_at) for shift in problem.shifts}
        self.machine = {m.id: (m.free_from, m.stands_at, m.carries) for m in problem.machines}
        self.worked: dict[str, set[str]] = {person.id: set() for person in problem.people}

    def add(self, job: Job) -> None:
        """The option that is over first, if there is one."""
        if not self._stocked(job):
            return
        best = min(
            (item for item in self._options(job) if self._soon(item)),
            key=lambda item: (item.end, item.shifts),
            default=None,
        )
        if best is None:
            return
        self.by_job[job.id] = best
        for name in best.shifts:
            self.clock[name] = (best.end, job.place)
            shift = next(one for one in self.problem.shifts if one.id == name)
            self.worked[shift.person].add(shift.day)
        for name in job.ways[best.way].machines:
            carries = frozenset() if name in best.washed else self.machine[name][2]
            self.machine[name] = (best.end, job.place, carries | job.puts)

    def _options(self, job: Job) -> Iterator[Item]:
        roads = self.problem.roads
        for at, way in enumerate(job.ways):
            places = {self.machine[name][1] for name in way.machines} - {job.place}
            if len(places) > 1:
                continue
            by = min(places, default=job.place)
            washed = tuple(m for m in way.machines if self._has_tank(m) and self.machine[m][2] & job.spoiled_by)
            wash = sum(self.problem.machine(name).wash_min or 0 for name in washed)
            machines = [self.machine[n][0] + roads.haul(self.machine[n][1], job.place) + wash for n in way.machines]
            for day in self.problem.days:
                free = []
                for shift in self.problem.shifts:
                    if shift.day != day.id or not self._may(job, shift):
                        continue
                    spans = reach(self.problem, job, shift, way.minutes)
                    clock, here = self.clock[shift.id]
                    if spans:
                        ready = clock + roads.drive(here, job.place)
                        brings = clock + roads.fetch(here, by, job.place) + wash
                        free.append((ready, shift.id, brings, spans, shift))
                for crew in combinations(sorted(free, key=lambda row: row[:2])[:CREWS_FROM], way.crew):
                    members = [row[4] for row in crew]
                    if not self._certified(job, members):
                        continue
                    haulers = [row for row in crew if not places or self.problem.person(row[4].person).hauls]
                    if (places or washed) and not haulers:
                        continue
                    bring = min(haulers, key=lambda row: (row[2], row[1])) if places or washed else None
                    ready = max([*(row[0] for row in crew), *machines, *self._waits(job), bring[2] if bring else 0])
                    start = self._fit(job, way.minutes, ready, [row[3] for row in crew])
                    free_to = min((self.problem.machine(n).free_to for n in way.machines), default=None)
                    if start is None or (free_to is not None and start + way.minutes > free_to):
                        continue
                    names = tuple(sorted(row[1] for row in crew))
                    yield Item(job.id, at, names, start, start + way.minutes, bring[1] if bring else None,
                               by if places else None, washed)  # fmt: skip

    def _stocked(self, job: Job) -> bool:
        """Whether what is on hand is enough, and no other of a choice is planned; nothing is fetched here."""
        for name, much in job.materials:
            material = next(one for one in self.problem.materials if one.id == name)
            used = sum(m for other in self.by_job for n, m in self.jobs[other].materials if n == name)
            if used + much > material.on_hand:
                return False
        return not any(job.id in group and group & self.by_job.keys() for group in self.problem.one_of)

    def _soon(self, item: Item) -> bool:
        """Whether every longest wait is kept, counted from where the link counts."""
        for link in self.problem.links:
            before = self.by_job.get(link.before)
            if link.after == item.job and before is not None:
                since = before.end if link.relation in FROM_END else before.start
                until = item.end if link.relation in TO_END else item.start
                if until - since < link.least_min or (link.most_min is not None and until - since > link.most_min):
                    return False
        return True

    def _has_tank(self, name: str) -> bool:
        return self.problem.machine(name).wash_min is not None

    def _may(self, job: Job, shift: Shift) -> bool:
        most = self.problem.person(shift.person).most_days
        days = self.worked[shift.person] | {shift.day}
        return may_join(self.problem, job, shift) and (most is None or len(days) <= most)

    def _certified(self, job: Job, members: Sequence[Shift]) -> bool:
        day = self.problem.day(members[0].day)
        people = [self.problem.person(shift.person) for shift in members]
        return len({p.id for p in people}) == len(people) and all(
            any(person.holds(skill, day) for person in people) for skill in job.one_with
        )

    def _waits(self, job: Job) -> Iterator[int]:
        for link in self.problem.links:
            if link.after == job.id and link.before in self.by_job:
                yield self.by_job[link.before].end + link.least_min

    def _fit(self, job: Job, minutes: int, ready: int, spans: Sequence[list[tuple[int, int]]]) -> int | None:
        """The first start that all of the crew can keep and that lies apart from what is planned."""
        both = spans[0]
        for own in spans[1:]:
            both = [part for a, b in own for part in within(both, a, b)]
        moved = True
        while moved:
            start = next((max(a, ready) for a, b in sorted(both) if b >= ready), None)
            if start is None:
                return None
            moved = False
            for other in self.by_job.values():
                gaps = apart(self.problem, self.jobs[other.job], job)
                if gaps is not None and start < other.end + gaps[0] and other.start < start + minutes + gaps[1]:
                    ready, moved = other.end + gaps[0], True
        return start
