"""One replay of a season for every year of history: earliest finishes of all jobs, all years at once (D1 to D8, D14).

Each year is the walk's own forward pass with that year's suitable days as the days of each job and that year's
temperatures and rain as its curves. `replay` reckons all years together; `one_by_one` asks the plain walk year by year
and gives the same. A component whose longest waits cannot be met in a year is asked of the plain walk by itself.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from jobs.chances.history import Bools, Ints
from jobs.chances.starts import EVERYWHERE, Starts, Sums, runs_of_days, stretches
from jobs.graph.arcs import KNOWN, Bound, clock_of, held, reached, saturated
from jobs.graph.choices import schedule
from jobs.graph.components import connected_components, members, ties
from jobs.graph.data import FAR, Arc, Curve, DegreeDays, Lag, Node, Problem, Rain
from jobs.graph.fixpoint import HORIZON
from jobs.graph.network import FROM_FINISH, REPORTED, TO_FINISH, Network, Role, reported_ends, role_of

ROUNDS = 24
"""A job that its longest waits still move after so many rounds is asked of the plain walk."""


@dataclass(slots=True)
class Season:
    """What is replayed. `problem` has no branches (see `reference_part`); its curves are those of `values`.

    `days` are the first minutes of the season's days and the end of the last. `suitable` by job has the shape (years,
    days); a job that is not named is bound by no weather. `values` by curve number: whole hundredths of the shape
    (years, days of `curve_days`)."""

    problem: Problem
    years: int
    days: Sequence[int]
    suitable: Mapping[int, Bools]
    curve_days: Sequence[int] = ()
    values: Mapping[int, Ints] = field(default_factory=dict)
    _curves: dict[int, dict[int, Curve]] = field(default_factory=dict)

    def curves(self, year: int) -> dict[int, Curve]:
        """The curves of one year as the plain walk reads them."""
        if year not in self._curves:
            sources = ["observed"] * (len(self.curve_days) - 1)
            self._curves[year] = {
                number: Curve(self.curve_days, values[year].tolist(), sources) for number, values in self.values.items()
            }
        return self._curves[year]

    def in_year(self, year: int, nodes: Sequence[Node], arcs: Sequence[Arc]) -> Problem:
        """The problem of some jobs as one year had it."""
        return replace(
            self.problem,
            nodes=tuple(self._node(year, node) for node in nodes),
            arcs=tuple(arcs),
            branches=(),
            curves=self.curves(year),
        )

    def _node(self, year: int, node: Node) -> Node:
        holds = self.suitable.get(node.id)
        if holds is None:
            return node
        _, first, to = stretches(runs_of_days(holds[year : year + 1], self.days), node.spans)
        return replace(node, spans=tuple(zip(first.tolist(), to.tolist(), strict=True)))


def reference_part(problem: Problem) -> Problem:
    """The jobs on the reference copy alone, without branches: the way that the walk reckons with now (D10, D11).

    A job of a branch that only an outcome calls for still waits for the check."""
    if not problem.branches:
        return problem
    plan = schedule(problem)
    kept = {node.id for node in problem.nodes if plan.dates[node.id].on_reference}
    nodes = tuple(replace(node, branch=None) for node in problem.nodes if node.id in kept)
    arcs = [arc for arc in problem.arcs if arc.tail in kept and arc.head in kept]
    have = {(arc.tail, arc.head) for arc in arcs}
    opened = {branch.id: branch.opened_by for branch in problem.branches}
    for number, node in enumerate(sorted(problem.nodes, key=lambda node: node.id), start=1):
        check = opened.get(node.branch) if node.branch is not None else None
        if node.id in kept and check in kept and check is not None and (check, node.id) not in have:
            arcs.append(Arc(-number, check, node.id))
    return replace(problem, nodes=nodes, arcs=tuple(arcs), branches=())


def one_by_one(season: Season) -> Ints:
    """The earliest finishes by (job, year), jobs in the order of their ids, by the plain walk in a loop; see
    `replay`."""
    nodes = sorted(season.problem.nodes, key=lambda node: node.id)
    found = np.full((len(nodes), season.years), FAR)
    for year in range(season.years):
        found[:, year] = _plain(season, year, nodes, season.problem.arcs)
    return found


def _plain(season: Season, year: int, nodes: Sequence[Node], arcs: Sequence[Arc]) -> list[int]:
    problem = season.in_year(year, nodes, arcs)
    plan, latest = schedule(problem), _latest_by_facts(nodes, arcs, problem.curves, problem.today)
    finishes = []
    for node in nodes:
        dates = plan.dates[node.id]
        late = (node.deadline is not None and dates.ef > node.deadline) or dates.es > latest.get(node.id, FAR)
        missed = role_of(node) <= Role.RELAY and (late or dates.contradiction)
        finishes.append(FAR if missed or dates.ef >= KNOWN else dates.ef)
    return finishes


def _latest_by_facts(
    nodes: Sequence[Node], arcs: Sequence[Arc], curves: Mapping[int, Curve], today: int
) -> dict[int, int]:
    """By job to be done the latest start that a longest wait from something done or begun allows."""
    by_id = {node.id: node for node in nodes}
    found: dict[int, int] = {}
    for arc in arcs:
        if arc.maximum is None:
            continue
        tail, head = by_id[arc.tail], by_id[arc.head]
        role = role_of(tail)
        if role not in REPORTED or role_of(head) is not Role.OPEN:
            continue
        anchor = reported_ends(tail, role, today)[arc.relation in FROM_FINISH].early
        b = head.duration if arc.relation in TO_FINISH else 0
        ceiling = saturated(held(anchor, *clock_of(arc.maximum, curves)) - b)
        found[head.id] = min(ceiling, found.get(head.id, FAR))
    return found


def replay(season: Season) -> Ints:
    """The earliest finish of every job in every year, FAR where it does not get its window before its days, its
    deadline or a longest wait from what was done are over, or its longest waits cannot be kept. What was done or begun
    finishes as the walk says."""
    if not season.problem.nodes or not season.years:
        return np.full((len(season.problem.nodes), season.years), FAR)
    return _Replay(season).finishes()


class _Replay:
    def __init__(self, season: Season) -> None:
        self.season, self.years = season, season.years
        problem = season.problem
        self.nodes = sorted(problem.nodes, key=lambda node: node.id)
        self.arcs = sorted(problem.arcs, key=lambda arc: arc.id)
        # Any year's curves do: what depends on them is reckoned anew below.
        self.net = Network(self.nodes, self.arcs, season.curves(0), problem.today)
        self.lag: dict[int, Lag | None] = {arc.id: arc.minimum for arc in self.arcs}
        self.sums = {number: Sums(season.curve_days, values) for number, values in season.values.items()}
        self.moves = np.array([role <= Role.RELAY for role in self.net.role], bool)
        self._levels()
        self._starts()
        self._low()

    def _levels(self) -> None:
        net = self.net
        level = [0] * len(self.nodes)
        into: dict[int, list[Bound]] = {}
        for bound in net.minimal:
            into.setdefault(bound[2], []).append(bound)
        for k in net.order:
            level[k] = 1 + max((level[bound[1]] for bound in into.get(k, ())), default=0)
        self.level = np.array(level, np.int64)
        self.steps = []
        for at in range(1, max(level, default=0) + 1):
            jobs = np.flatnonzero(self.level == at)
            self.steps.append(_Step(self, jobs, [bound for k in jobs.tolist() for bound in into.get(k, ())]))

    def _starts(self) -> None:
        net, season = self.net, self.season
        self.starts = Starts(self.years, len(self.nodes))
        runs: dict[int, tuple[Ints, Ints, Ints]] = {}
        for k, node in enumerate(self.nodes):
            holds = season.suitable.get(node.id) if net.role[k] is Role.OPEN else None
            if net.role[k] is not Role.OPEN:
                self.starts.add_every_year(k, EVERYWHERE, 0)
            elif holds is None:
                self.starts.add_every_year(k, node.spans, node.duration)
            else:
                if id(holds) not in runs:
                    runs[id(holds)] = runs_of_days(holds, season.days)
                self.starts.add(k, stretches(runs[id(holds)], node.spans), node.duration)
        self.starts.close()
        self.segment = np.arange(len(self.nodes))[:, None] * self.years + np.arange(self.years)[None, :]

    def _low(self) -> None:
        """What each job asks by itself and by what stands: the same in every year but for clocks."""
        net = self.net
        low = np.array([net.today if role is Role.OPEN else at for role, at in zip(net.role, net.low, strict=True)])
        self.low = np.repeat(low[:, None], self.years, axis=1)
        by_id = {arc.id: arc for arc in self.arcs}
        for number, tail, head, floor in net.floors:
            arc = by_id[number]
            counts = isinstance(arc.minimum, DegreeDays | Rain) and not (arc.confirm and arc.confirmed_at is not None)
            if counts and net.role[tail] is not Role.SATISFIED:
                self.low[head] = np.maximum(self.low[head], self._floors(arc, tail, head))
            else:
                self.low[head] = np.maximum(self.low[head], floor)

    def _floors(self, arc: Arc, tail: int, head: int) -> Ints:
        net = self.net
        anchor = reported_ends(self.nodes[tail], net.role[tail], net.today)[arc.relation in FROM_FINISH].late
        b = net.duration[head] if arc.relation in TO_FINISH else 0
        assert arc.minimum is not None
        clocks = [clock_of(arc.minimum, self.season.curves(year)) for year in range(self.years)]
        return np.array([saturated(reached(anchor, *clock) - b) for clock in clocks], np.int64)

    def finishes(self) -> Ints:
        net = self.net
        found = self.low.copy()
        self._climb(found)
        off = self._pull(found)
        duration = np.array(net.duration, np.int64)[:, None]
        stands = np.array([role > Role.RELAY for role in net.role], bool)
        finish = np.where(stands[:, None], np.array(net.finish, np.int64)[:, None], found + duration)
        deadline = np.array([FAR if node.deadline is None else node.deadline for node in self.nodes], np.int64)
        late = (finish > deadline[:, None]) | (found > self._ceilings())
        missed = (late | (found >= KNOWN)) & ~stands[:, None]
        finish = np.where(missed, FAR, finish)
        self._by_themselves(finish, off)
        return finish

    def _ceilings(self) -> Ints:
        """The latest starts by what was done or begun; only waits in degree days differ from year to year."""
        counted = [arc for arc in self.arcs if isinstance(arc.maximum, DegreeDays)]
        fixed = [arc for arc in self.arcs if not isinstance(arc.maximum, DegreeDays)]
        found = np.full((len(self.nodes), self.years), FAR)
        for job, latest in _latest_by_facts(self.nodes, fixed, {}, self.net.today).items():
            found[self.net.position[job]] = latest
        for year in range(self.years) if counted else ():
            curves = self.season.curves(year)
            for job, latest in _latest_by_facts(self.nodes, counted, curves, self.net.today).items():
                k = self.net.position[job]
                found[k, year] = min(found[k, year], latest)
        return found

    def _climb(self, found: Ints) -> None:
        """Lift every job level by level to what the minimal bounds ask of it, and on to its next allowed start."""
        for step in self.steps:
            step.lift(found)
            here = found[step.jobs]
            fit = self.starts.up(self.segment[step.jobs], here)
            found[step.jobs] = np.where(here <= -KNOWN, here, fit)

    def _pull(self, found: Ints) -> Bools:
        """Let the maximal lags pull until nothing moves; (job, year) where they cannot be kept."""
        net = self.net
        off = np.zeros(found.shape, bool)
        if not net.maximal:
            return off
        tails, heads, weights = (np.array([bound[at] for bound in net.maximal], np.int64) for at in (1, 2, 5))
        clocks = np.array([bound[7] is not None for bound in net.maximal], bool)
        alive = (found[tails] < KNOWN) & (found[heads] < KNOWN)
        if clocks.any():
            off[tails[clocks]] = True  # a longest wait in degree days: the plain walk asks each year's curve
        known = found < KNOWN
        limit, rounds = net.today + HORIZON, 0
        while True:
            rounds += 1
            asked = np.where(alive & (np.abs(found[heads]) < KNOWN), found[heads] + weights[:, None], -FAR)
            asked[clocks] = -FAR
            before = found.copy()
            np.maximum.at(found, tails, np.where(off[tails], -FAR, asked))
            moved = found > before
            if not moved.any():
                return off
            self._climb(found)
            lost = known & (found > limit) & self.moves[:, None]
            if rounds > ROUNDS:
                lost |= moved
            off |= lost
            alive &= ~(off[tails] | off[heads])

    def _by_themselves(self, finish: Ints, off: Bools) -> None:
        """The components and years that the plain walk has to say."""
        if not off.any():
            return
        labels = connected_components([node.id for node in self.nodes], ties(self.nodes, self.arcs))
        by_label: dict[int, list[Arc]] = {}
        for arc in self.arcs:
            by_label.setdefault(labels[arc.tail], []).append(arc)
        for label, jobs in members(labels).items():
            places = [self.net.position[job] for job in jobs]
            nodes = [self.nodes[k] for k in places]
            for year in np.flatnonzero(off[places].any(axis=0)).tolist():
                finish[places, year] = _plain(self.season, year, nodes, by_label.get(label, []))


class _Step:
    """One level: its jobs, and the minimal bounds into them by kind."""

    def __init__(self, of: _Replay, jobs: Ints, bounds: Sequence[Bound]) -> None:
        self.jobs = jobs
        self.fixed: list[Bound] = []
        self.heat: dict[int, list[Bound]] = {}
        self.rain: list[tuple[Bound, Rain]] = []
        self.never: list[Bound] = []
        self.sums = of.sums
        for bound in bounds:
            lag = of.lag[bound[0]]
            if bound[7] is None:
                self.fixed.append(bound)
            elif isinstance(lag, DegreeDays) and lag.curve in of.sums:
                self.heat.setdefault(lag.curve, []).append(bound)
            elif isinstance(lag, Rain) and lag.curve in of.sums:
                self.rain.append((bound, lag))
            else:
                self.never.append(bound)
        self.columns = _columns(self.fixed)
        self.heat_columns = {curve: _columns(some) for curve, some in self.heat.items()}

    def lift(self, found: Ints) -> None:
        tails, heads, _, _, weights, _ = self.columns
        if len(heads):
            np.maximum.at(found, heads, found[tails] + weights[:, None])
        for curve, (tails, heads, a, b, _, amounts) in self.heat_columns.items():
            anchor = _saturate(found[tails] + a[:, None])
            asked = self.sums[curve].reach(anchor, amounts)
            np.maximum.at(found, heads, _after(anchor, asked) - b[:, None])
        for (_, before, after, start, end, _, _, _), lag in self.rain:
            anchor = _saturate(found[before : before + 1] + start)
            asked = self.sums[lag.curve].rain(anchor, lag.hundredths, lag.then_minutes)
            found[after] = np.maximum(found[after], (_after(anchor, asked) - end)[0])
        for _, before, after, start, *_ in self.never:
            found[after] = np.where(_saturate(found[before] + start) <= -KNOWN, found[after], FAR)


def _columns(bounds: Sequence[Bound]) -> tuple[Ints, Ints, Ints, Ints, Ints, Ints]:
    """Tails, heads, a, b, weights, amounts."""
    table = np.array([bound[1:7] for bound in bounds], np.int64).reshape(-1, 6)
    return tuple(table.T)  # type: ignore[return-value]


def _saturate(instants: Ints) -> Ints:
    found = np.where(instants >= KNOWN, FAR, instants)
    found[found <= -KNOWN] = -FAR
    return found


def _after(anchor: Ints, asked: Ints) -> Ints:
    """What a clock says, FAR from FAR and nothing from NEG."""
    return np.where(anchor <= -KNOWN, -FAR, np.where(anchor >= KNOWN, FAR, asked))
