"""Random problems for the graph: invented seasons, acyclic by construction, for laws, comparisons and benches.

One builder draws everything from a `random.Random`, so the seeded `generate` and the hypothesis strategy `problems`
make the same kind of problem. What the definitions leave open is drawn only where `Shape` asks for it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from random import Random

from hypothesis import strategies as st

from jobs.graph.data import (
    FAR,
    NEG,
    Arc,
    Branch,
    Curve,
    DegreeDays,
    Fixed,
    Lag,
    Moment,
    Node,
    Problem,
    Rain,
    Relation,
    Skip,
)

HOUR = 60
DAY = 24 * HOUR
CURVE_DAYS = 800
OBSERVED_DAYS = 300
FIRST_DAY = 19_800 * DAY + 5 * HOUR
"""First instant of every curve: a local midnight five hours west of Greenwich."""

RAIN = (101, 102)


@dataclass(frozen=True)
class Shape:
    """What a random problem may hold; each share is of jobs, arcs or components as named in `generate`."""

    jobs: tuple[int, int] = (8, 14)
    arcs_per_job: float = 1.5
    maximum: float = 0.2
    degree_days: float = 0.1
    alternatives: float = 0.15
    outcomes: float = 0.1
    linked_seasons: float = 0.3
    done: float = 0.4
    out_of_order: float = 0.15
    skips: float = 0.06
    spans: float = 0.5
    deadlines: float = 0.25
    confirmations: float = 0.2
    rain: float = 0.0
    two_groups: float = 0.0
    nested: float = 0.0
    two_outcomes: float = 0.0


SHAPE = Shape()
SMALL = Shape(jobs=(2, 7), alternatives=0.3, outcomes=0.2, degree_days=0.2, maximum=0.3, spans=0.6)


def local_midnights() -> list[int]:
    """Starts of the curve's days and its end; two of the days have 23 and 25 hours."""
    starts = [FIRST_DAY + DAY * day for day in range(CURVE_DAYS + 1)]
    return [start - (HOUR if 75 <= day < 310 or 440 <= day < 675 else 0) for day, start in enumerate(starts)]


def heat_curve(rng: Random) -> Curve:
    """Degree days of invented years: a winter of zeros, a summer up to 28 a day."""
    coldest, values = rng.randint(0, 40), []
    for day in range(CURVE_DAYS):
        warmth = -math.cos((day - coldest) * 2 * math.pi / 365)
        values.append(max(0, int(2200 * warmth + rng.randint(-600, 600))))
    sources = ["observed"] * OBSERVED_DAYS + ["forecast"] * 7 + ["normal"] * (CURVE_DAYS - OBSERVED_DAYS - 7)
    return Curve(local_midnights(), values, sources)


def rain_record(rng: Random) -> Curve:
    """Observed rain up to the last known day."""
    values = [rng.choice((0, 0, 0, 4, 15, 40, 90)) for _ in range(OBSERVED_DAYS)]
    return Curve(local_midnights()[: OBSERVED_DAYS + 1], values, ["observed"] * OBSERVED_DAYS)


def all_curves() -> dict[int, Curve]:
    """The curves that every random problem reads."""
    made = {number: heat_curve(Random(number)) for number in (1, 2, 3)}
    return made | {number: rain_record(Random(number)) for number in RAIN}


CURVES = all_curves()


class Builder:
    """Draws one component after the other and hands out ids that say nothing of the order of the jobs."""

    def __init__(self, rng: Random, shape: Shape, today: int) -> None:
        self.rng, self.shape, self.today = rng, shape, today
        self.nodes: dict[int, Node] = {}
        self.order: list[int] = []
        self.arcs: dict[tuple[int, int, Relation], Arc] = {}
        self.branches: dict[int, Branch] = {}
        self.seasons = 0

    def chance(self, share: float) -> bool:
        return self.rng.random() < share

    def days(self, low: int, high: int) -> int:
        """Whole days most of the time, else hours too."""
        odd = self.rng.randrange(0, DAY, 15) if self.chance(0.3) else 0
        return self.rng.randint(low, high) * DAY + odd

    # jobs and arcs

    def add_job(self, season: int, branch: int | None = None) -> int:
        job = 1000 * season + self.rng.randrange(1000)
        while job in self.nodes:
            job = 1000 * season + (job + 1) % 1000
        duration = self.rng.choice((0, 30, 90, 240, 480, 600, DAY, 2 * DAY, 5 * DAY + 15))
        deadline = self.today + self.days(-5, 240) if self.chance(self.shape.deadlines) else None
        self.nodes[job] = Node(job, season, duration, self.draw_spans(), deadline, branch)
        self.order.append(job)
        return job

    def draw_spans(self) -> tuple[tuple[int, int], ...]:
        if not self.chance(self.shape.spans):
            return ((NEG, FAR),)
        if self.chance(0.03):
            return ()
        at, spans = self.today + self.days(-150, 60), []
        for _ in range(self.rng.randint(1, 4)):
            end = at + self.days(1, 90)
            spans.append((at, end))
            at = end + self.days(1, 30)
        if self.chance(0.2):
            spans[-1] = (spans[-1][0], FAR)
        if self.chance(0.2):
            spans[0] = (NEG, spans[0][1])
        return tuple(spans)

    def add_arc(self, tail: int, head: int, relation: Relation | None = None, minimum: Lag | None = None) -> None:
        rng = self.rng
        if relation is None:
            relation = rng.choice((Relation.FINISH_START,) * 6 + tuple(Relation))
        if (tail, head, relation) in self.arcs:
            return
        maximum: Lag | None = None
        if minimum is None:
            minimum = self.draw_minimum()
        if self.chance(self.shape.maximum):
            if isinstance(minimum, Fixed):
                maximum = Fixed(minimum.minutes + self.days(0, 25))
                if self.chance(self.shape.degree_days):
                    maximum = DegreeDays(rng.choice((1, 2, 3)), rng.randint(20_000, 200_000))
            elif isinstance(minimum, DegreeDays) and self.chance(0.5):
                maximum = replace(minimum, hundredths=minimum.hundredths + rng.randint(2_800, 60_000))
            else:
                maximum = Fixed(self.days(4, 60))
            if self.chance(0.2):
                minimum = None
        key = (tail, head, relation)
        confirm = minimum is not None and self.chance(self.shape.confirmations)
        self.arcs[key] = Arc(len(self.arcs), tail, head, relation, minimum, maximum, confirm, None, self.chance(0.3))

    def draw_minimum(self) -> Lag:
        rng = self.rng
        if self.chance(self.shape.degree_days):
            return DegreeDays(rng.choice((1, 2, 3)), rng.choice((rng.randint(1, 9_000), rng.randint(1, 120_000))))
        if self.chance(self.shape.rain):
            return Rain(rng.choice(RAIN), rng.choice((10, 40, 60, 90)), rng.choice((0, DAY, 30 * DAY)))
        if self.chance(0.1):
            return Fixed(-self.days(1, 6))
        return Fixed(rng.choice((0, 0, 0, 12 * HOUR, self.days(0, 20))))

    # seasons

    def add_season(self, jobs: int) -> list[int]:
        """A connected season: every job but the first has an earlier predecessor."""
        self.seasons += 1
        made: list[int] = []
        for _ in range(jobs):
            job = self.add_job(self.seasons)
            if made:
                self.add_arc(self.rng.choice(made[-4:]), job)
            made.append(job)
        for _ in range(int((self.shape.arcs_per_job - 1) * jobs) + 1):
            low, high = sorted((self.rng.randrange(jobs), self.rng.randrange(jobs)))
            if low < high:
                self.add_arc(made[low], made[high])
        return made

    def add_branch(self, season: int, tail: int, head: int | None, **fields: object) -> int:
        """A branch of one to three jobs in a row between two jobs of the trunk."""
        branch = 10 * season + len([b for b in self.branches.values() if b.season == season])
        self.branches[branch] = Branch(branch, season, **fields)  # type: ignore[arg-type]
        last = tail
        opener = self.branches[branch].opened_by
        for _ in range(self.rng.randint(1, 3)):
            job = self.add_job(season, branch)
            if opener is not None:
                self.add_arc(opener, job, Relation.FINISH_START, Fixed(0))
            if last != opener:
                self.add_arc(last, job)
            last = job
        if head is not None:
            self.add_arc(last, head)
        return branch

    def add_group(self, trunk: list[int], name: str) -> None:
        season = self.nodes[trunk[0]].season
        place = self.rng.randrange(len(trunk))
        head = trunk[self.rng.randrange(place + 1, len(trunk))] if place + 1 < len(trunk) else None
        orders = [0, 1, 2]
        if self.chance(0.2):
            orders = [2, 1, 1]
        for order in orders[: self.rng.randint(2, 3)]:
            branch = self.add_branch(season, trunk[place], head, group=name, order=order, called_off=self.chance(0.08))
            if self.chance(self.shape.nested):
                inner = [i for i in self.order if self.nodes[i].branch == branch]
                for nested_order in (0, 1):
                    self.add_branch(season, inner[0], head, group=f"in {branch}", order=nested_order, parent=branch)

    def add_outcomes(self, trunk: list[int]) -> None:
        season = self.nodes[trunk[0]].season
        place = self.rng.randrange(len(trunk))
        head = None
        if place + 1 < len(trunk) and self.chance(0.6):
            head = trunk[self.rng.randrange(place + 1, len(trunk))]
        expected = self.chance(0.5)
        self.add_branch(
            season, trunk[place], head, opened_by=trunk[place], outcomes=frozenset({"poor"}), expected=expected
        )
        if self.chance(self.shape.two_outcomes):
            self.add_branch(
                season,
                trunk[place],
                head,
                opened_by=trunk[place],
                outcomes=frozenset({"good", "fair"}),
                expected=not expected,
            )

    def add_component(self) -> None:
        known = len(self.order)
        trunk = self.add_season(self.rng.randint(*self.shape.jobs))
        if self.chance(self.shape.alternatives):
            self.add_group(trunk, "a")
            if self.chance(self.shape.two_groups):
                self.add_group(trunk, "b")
        if self.chance(self.shape.outcomes):
            self.add_outcomes(trunk)
        self.report(self.in_order(self.order[known:]))
        if self.chance(self.shape.linked_seasons):
            later = len(self.order)
            other = self.add_season(self.rng.randint(*self.shape.jobs))
            self.add_arc(self.rng.choice(trunk), self.rng.choice(other))
            self.report(self.in_order(self.order[later:]))

    def in_order(self, jobs: list[int]) -> list[int]:
        """The jobs, predecessors first."""
        left, ordered = list(jobs), []
        while left:
            blocked = {arc.head for arc in self.arcs.values() if arc.tail in left}
            ready = [i for i in left if i not in blocked]
            ordered += ready
            left = [i for i in left if i in blocked]
        return ordered

    # facts

    def moment(self, at: int) -> Moment:
        """A day-only report a fifth of the time: from the day's start to its end or, today, to the receipt."""
        if not self.chance(0.2):
            return Moment.at(at)
        start = at - (at - self.today) % DAY
        return Moment(start, start + (DAY if start < self.today else self.rng.randint(1, DAY)))

    def report(self, jobs: list[int]) -> None:
        """Done jobs from the front, a few under way, a few skips, called-off jobs, outcomes and confirmations."""
        rng = self.rng
        share = min(1.0, max(0.0, rng.gauss(self.shape.done, 0.25)))
        count = round(share * len(jobs))
        done = set(jobs[:count])
        if self.chance(self.shape.out_of_order):
            done = {i for i in jobs if self.chance(share)}
        taken = self.pick_branches(jobs, done)
        at = self.today - self.days(2, 150)
        for i in jobs:
            node = self.nodes[i]
            if i in done and i in taken:
                at = min(at + rng.randrange(0, 6 * DAY, 15), self.today + 8 * HOUR)
                started = self.moment(at - node.duration - rng.randrange(0, DAY, 15)) if self.chance(0.4) else None
                outcome = rng.choice(("good", "poor")) if self.opens_branches(i) else None
                self.nodes[i] = replace(node, started=started, finished=self.moment(at), outcome=outcome)
            elif i not in done and i in taken and self.chance(0.08):
                begun = self.moment(min(at + rng.randrange(0, 6 * DAY, 15), self.today + 8 * HOUR))
                rest = rng.randrange(0, node.duration + 1, 5) if self.chance(0.4) else None
                self.nodes[i] = replace(node, started=begun, rest=rest)
            elif node.branch is None and not self.opens_branches(i) and self.chance(self.shape.skips):
                self.nodes[i] = rng.choice(
                    (
                        replace(node, skipped=Skip.SATISFIED, skipped_at=self.today - rng.randrange(0, 20 * DAY, 15)),
                        replace(node, skipped=Skip.PASSED_OVER, skipped_at=self.today - 60),
                        replace(node, called_off=True),
                    )
                )
        for key, arc in self.arcs.items():
            tail = self.nodes[arc.tail]
            if arc.head in jobs and arc.confirm and tail.finished and self.chance(0.5):
                seen = tail.finished.late + rng.randrange(0, 25 * DAY, 15)
                self.arcs[key] = replace(arc, confirmed_at=min(seen, self.today))

    def opens_branches(self, job: int) -> bool:
        return any(branch.opened_by == job for branch in self.branches.values())

    def pick_branches(self, jobs: list[int], done: set[int]) -> set[int]:
        """Jobs that may carry facts: the trunk's, and those of one branch a group, now and then of two, both done."""
        groups: dict[tuple[str | None, int | None], list[int]] = {}
        for branch in sorted({self.nodes[i].branch for i in jobs} - {None}):  # type: ignore[type-var]
            of = self.branches[branch]
            groups.setdefault((of.group, of.opened_by), []).append(branch)
        allowed: set[int | None] = {None}
        for (_, opener), branches in groups.items():
            if opener is not None and opener not in done:
                continue
            some = self.rng.choice((0, 1, 1, 1, 1, 1, 1, 2))
            picked = set(self.rng.sample(branches, min(some, len(branches))))
            if len(picked) == 2 and self.chance(0.5):
                done |= {i for i in jobs if self.nodes[i].branch in picked}
            allowed |= picked
        return {
            i
            for i in jobs
            if self.nodes[i].branch in allowed
            and (self.nodes[i].branch is None or self.branches[self.nodes[i].branch].parent in allowed)
        }

    def problem(self) -> Problem:
        nodes, arcs, branches = list(self.nodes.values()), list(self.arcs.values()), list(self.branches.values())
        numbers = list(range(1, len(arcs) + 1))
        self.rng.shuffle(numbers)
        arcs = [replace(arc, id=number) for arc, number in zip(arcs, numbers, strict=True)]
        for rows in (nodes, arcs, branches):
            self.rng.shuffle(rows)
        return Problem(self.today, tuple(nodes), tuple(arcs), tuple(branches), CURVES)


def generate(seed: int, components: int, shape: Shape = SHAPE) -> Problem:
    """A problem of so many components, the same for the same seed.

    Shares: `maximum`, `degree_days`, `rain` and `confirmations` of arcs; `alternatives`, `outcomes`, `linked_seasons`
    and `out_of_order` of components; `two_groups`, `two_outcomes`, `nested` of those that have one; the rest of jobs.
    """
    rng = Random(seed)
    builder = Builder(rng, shape, local_midnights()[OBSERVED_DAYS + rng.randint(-60, 60)])
    for _ in range(components):
        builder.add_component()
    return builder.problem()


@st.composite
def problems(draw: st.DrawFn, shape: Shape = SMALL, components: int = 1) -> Problem:
    """A random problem that hypothesis can shrink."""
    rng = draw(st.randoms(use_true_random=False))
    day = draw(st.integers(-60, 60))
    builder = Builder(rng, shape, local_midnights()[OBSERVED_DAYS + day])
    for _ in range(components):
        builder.add_component()
    return builder.problem()


def parts(problem: Problem) -> Iterator[Problem]:
    """Each component as a problem of its own: jobs joined by arcs or by a season."""
    group = {node.id: {node.id} for node in problem.nodes}

    def join(one: int, other: int) -> None:
        if group[one] is not group[other]:
            group[one] |= group[other]
            for job in group[other]:
                group[job] = group[one]

    for arc in problem.arcs:
        join(arc.tail, arc.head)
    first: dict[int, int] = {}
    for node in problem.nodes:
        join(node.id, first.setdefault(node.season, node.id))
    for jobs in {id(jobs): jobs for jobs in group.values()}.values():
        seasons = {node.season for node in problem.nodes if node.id in jobs}
        yield replace(
            problem,
            nodes=tuple(node for node in problem.nodes if node.id in jobs),
            arcs=tuple(arc for arc in problem.arcs if arc.tail in jobs),
            branches=tuple(branch for branch in problem.branches if branch.season in seasons),
        )
