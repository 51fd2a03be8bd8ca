"""Invented holdings of any size, shaped like real seasons, as columns: what the benches of the walk reckon.

Set A has minimal lags only. Set B has the real mix: a fifth of the prerequisites with a maximal lag, a tenth counted in
degree days, an open alternative in 15 of 100 components, two fifths of the jobs done.
"""

from __future__ import annotations

from collections.abc import Sequence
from random import Random

from jobs.graph.batch.columns import ARC_COLUMNS, FIXED, JOB_COLUMNS, RELATIONS, Columns
from jobs.graph.data import FAR, NEG, Arc, Branch, DegreeDays, Fixed, Lag, Moment, Node, Problem, Relation
from jobs.graph.network import Role
from tests.jobs.graph.random_problems import CURVES, DAY, OBSERVED_DAYS, local_midnights

TODAY = local_midnights()[OBSERVED_DAYS]
FS = RELATIONS.index(Relation.FINISH_START)
NUMBERS = (1, 2, 3)


class Season:
    """Draws one component after the other into columns."""

    def __init__(self, seed: int, real: bool) -> None:
        self.rng, self.real = Random(seed), real
        self.jobs: dict[str, list[int]] = {name: [] for name in JOB_COLUMNS}
        self.arcs: dict[str, list[int]] = {name: [] for name in ARC_COLUMNS}
        self.standing: list[int] = []
        self.starts: list[int] = []
        self.finishes: list[int] = []
        self.branched: list[int] = []
        self.branch: list[int] = []
        self.branches: list[Branch] = []
        self.meant: dict[int, int] = {}

    def add_job(self, component: int, at: int, done: bool, deadline: int, branch: int | None = None) -> int:
        """A job that was done or is meant to be done at that instant, its season around it."""
        rng = self.rng
        duration = rng.choice((60, 90, 240, 480, 600, DAY))
        first, last = NEG, FAR
        if self.real and rng.random() < 0.5:
            first, last = at - rng.randint(10, 60) * DAY, at + rng.randint(30, 150) * DAY
        number = len(self.jobs["job"]) + 1
        if done:
            self.standing.append(number - 1)
            self.starts.append(at)
            self.finishes.append(at + duration)
        if branch is not None:
            self.branched.append(number - 1)
            self.branch.append(branch)
        role = int(Role.DONE if done else Role.OPEN)
        row = (number, component, component, duration, first, last, deadline, role)
        for name, value in zip(JOB_COLUMNS, row, strict=True):
            self.jobs[name].append(value)
        self.meant[number] = at
        return number

    def add_arc(self, tail: int, head: int) -> None:
        """A wait that the meant instants keep: what contradicts itself is refused when it is written."""
        rng = self.rng
        apart = (self.meant[head] - self.meant[tail] - 2 * DAY) // DAY
        relation, low_kind, low = FS, FIXED, rng.choice((0, 0, 0, DAY // 2, rng.randint(0, 20) * DAY))
        high = FAR
        if self.real:
            low = min(low, max(0, apart) * DAY)
            if rng.random() < 0.2:
                relation = rng.randrange(len(RELATIONS))
            if rng.random() < 0.1:
                low_kind = rng.randint(1, len(NUMBERS))
                counted = CURVES[low_kind].counted(self.meant[tail] + 2 * DAY, self.meant[head] - DAY) or 0
                low = int(rng.uniform(0.5, 1) * counted)
            if rng.random() < 0.2 and apart > 0:
                high = (apart + rng.randint(4, 30)) * DAY
        row = (len(self.arcs["arc"]) + 1, tail, head, relation, low_kind, low, high)
        for name, value in zip(ARC_COLUMNS, row, strict=True):
            self.arcs[name].append(value)

    def add_component(self, component: int, size: int) -> None:
        rng = self.rng
        choice = self.real and rng.random() < 0.15 and size >= 8
        trunk = size - (3 if choice else 0)
        done = min(trunk - 1, max(0, round(rng.gauss(0.4, 0.2) * size))) if self.real else 0
        days = [rng.randint(2, 15) for _ in range(trunk)]
        at = TODAY - sum(days[:done]) * DAY
        made: list[int] = []
        linked: set[tuple[int, int]] = set()

        def link(tail: int, head: int) -> None:
            if (tail, head) not in linked:
                linked.add((tail, head))
                self.add_arc(tail, head)

        for k in range(trunk):
            wanted = k == trunk - 1 or rng.random() < 0.1
            deadline = max(at, TODAY) + rng.randint(20, 120) * DAY if wanted else FAR
            made.append(self.add_job(component, at, k < done, deadline))
            at += days[k] * DAY
            if k:
                link(rng.choice(made[max(0, k - 3) : k]), made[k])
        while len(linked) < min(1.5 * trunk - 1, trunk * (trunk - 1) // 2):
            low, high = sorted(rng.sample(range(trunk), 2))
            link(made[low], made[high])
        if choice:
            for order in (0, 1):
                branch = len(self.branches) + 1
                self.branches.append(Branch(branch, component, "way", order))
                before = made[max(0, done - 1)]
                for _ in range(2 - order):
                    job = self.add_job(component, max(TODAY, self.meant[before]) + 3 * DAY, False, FAR, branch)
                    link(before, job)
                    before = job
                if done < trunk - 1:
                    link(before, made[-1])

    def columns(self) -> Columns:
        jobs, arcs, branches = self.jobs, self.arcs, self.branches
        starts, finishes = self.starts, self.finishes
        done = dict(zip(self.standing, zip(starts, finishes, strict=True), strict=True))
        branch_of = dict(zip(self.branched, self.branch, strict=True))

        def node(k: int) -> Node:
            job, season, _, duration, first, last, deadline, _ = (jobs[name][k] for name in JOB_COLUMNS)
            finished = Moment.at(done[k][1]) if k in done else None
            until = None if deadline >= FAR else deadline
            return Node(job, season, duration, ((first, last),), until, branch_of.get(k), finished=finished)

        def arc(k: int) -> Arc:
            number, tail, head, relation, kind, low, high = (arcs[name][k] for name in ARC_COLUMNS)
            shortest: Lag = Fixed(low) if kind == FIXED else DegreeDays(NUMBERS[kind - 1], low)
            return Arc(number, tail, head, RELATIONS[relation], shortest, None if high >= FAR else Fixed(high))

        def part(places: Sequence[int], links: Sequence[int], groups: Sequence[int]) -> Problem:
            curves = {number: CURVES[number] for number in NUMBERS}
            return Problem(
                TODAY, tuple(map(node, places)), tuple(map(arc, links)), tuple(branches[k] for k in groups), curves
            )

        curves = [CURVES[number] for number in NUMBERS]
        stands = self.standing, starts, starts, finishes, finishes
        few = (*stands, self.branched, self.branch, [], [])
        return Columns(TODAY, *jobs.values(), *arcs.values(), *few, branches, curves, part)


def make(jobs: int, seed: int, *, real: bool) -> Columns:
    """A holding of so many jobs, the same for the same seed."""
    season = Season(seed, real)
    component = 0
    while (left := jobs - len(season.jobs["job"])) > 0:
        component += 1
        season.add_component(component, left if left < 16 else season.rng.randint(8, 14))
    return season.columns()


def problem_of(columns: Columns, components: set[int] | None = None) -> Problem:
    """The holding, or some of its components, as plain data."""
    jobs = [k for k, label in enumerate(columns.component) if components is None or label in components]
    if components is None:
        return columns.part(jobs, range(len(columns.arc)), range(len(columns.branches)))
    inside = {columns.job[k] for k in jobs}
    arcs = [k for k, tail in enumerate(columns.tail) if tail in inside]
    branches = [k for k, branch in enumerate(columns.branches) if branch.season in components]
    return columns.part(jobs, arcs, branches)
