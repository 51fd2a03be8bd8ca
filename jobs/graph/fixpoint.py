"""The least fixpoint of "not before" bounds, climbed from the bottom (D8, D9, D14).

Both passes are this one. The backward pass runs it on negated instants, where "not after" reads "not before", FAR
reads NEG and the last allowed start reads the first.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field

from jobs.graph.arcs import KNOWN
from jobs.graph.cycles import positive_loop, strongly_connected
from jobs.graph.data import FAR, NEG

HORIZON = 730 * 1440
"""A part that maximal lags push two years past its latest date without them is contradictory (D14)."""

PATIENCE = 8
"""After so many rounds it is worth asking whether fixed lags alone climb for ever."""

Step = tuple[int, int]
Curved = tuple[int, Callable[[int], int]]
Pull = tuple[int, int, int, Callable[[int], int] | None]


@dataclass(slots=True)
class Pass:
    """One direction of one copy, all lists by position.

    `low` is what a job asks by itself, `last` its last allowed instant, `several` its next allowed instant where there
    is more than one stretch. `steps[v]` are (u, w): v not before u plus w; `curved[v]` are (u, f): v not before f(u).
    `pulls` are those of the maximal lags, (u, v, w, f), f None where w says all.
    """

    order: Sequence[int]
    low: list[int]
    last: Sequence[int]
    several: Sequence[Callable[[int], int] | None]
    steps: list[list[Step]]
    curved: list[list[Curved] | None]
    pulls: list[Pull]
    bottom: int
    found: list[int] = field(default_factory=list)
    set_aside: list[set[int]] = field(default_factory=list)

    def run(self) -> None:
        """Fill `found` with the least instants that meet all bounds, and `set_aside` with the parts whose maximal lags
        cannot be met at all and were left out."""
        self.found = found = list(self.low)
        self._climb(self.order)
        pulls = self.pulls
        if not pulls or all(found[v] >= self._pulled(u, w, f) for u, v, w, f in pulls):
            return
        alive = [pull for pull in pulls if found[pull[0]] < KNOWN and found[pull[1]] < KNOWN]
        if not self._raise(self.order, alive):
            self.found = list(self.low)
            self._settle(self.order, pulls)

    def _climb(self, order: Iterable[int]) -> None:
        """Lift every job of the order to what the minimal bounds ask of it; never lowers one."""
        found, steps, curved, last, several = self.found, self.steps, self.curved, self.last, self.several
        for v in order:
            instant = found[v]
            for u, weight in steps[v]:
                asked = found[u] + weight
                if asked > instant:
                    instant = asked
            functions = curved[v]
            if functions is not None:
                for u, function in functions:
                    asked = function(found[u])
                    if asked > instant:
                        instant = asked
            if instant <= -KNOWN:
                continue
            fit = several[v]
            if fit is not None:
                instant = fit(instant)
            found[v] = instant if instant <= last[v] and instant < KNOWN else FAR

    def _pulled(self, u: int, weight: int, function: Callable[[int], int] | None) -> int:
        instant = self.found[u]
        if instant >= KNOWN or instant <= -KNOWN:
            return NEG
        return instant + weight if function is None else function(instant)

    def _raise(self, order: Sequence[int], pulls: Sequence[Pull]) -> bool:
        """Lift the jobs of the order to the least fixpoint with `pulls`; False if there is none within the horizon.

        Rounds are not bounded by the number of jobs: a lag on weather may ask for more in April than in June (D14).
        Each round that goes on passes a day, a closure or a fixed lag, so the horizon bounds them.
        """
        found = self.found
        place = {v: k for k, v in enumerate(order)}
        pulls = sorted(pulls, key=lambda pull: -place[pull[1]])
        known = [v for v in order if found[v] < KNOWN]
        limit = max([self.bottom, *(found[v] for v in known)]) + HORIZON
        rounds = 0
        while True:
            moved = False
            for u, v, weight, function in pulls:
                asked = self._pulled(u, weight, function)
                if asked > found[v]:
                    moved = True
                    found[v] = asked
            if not moved:
                return True
            self._climb(known)
            if any(found[v] > limit for v in known):
                return False
            rounds += 1
            if rounds == PATIENCE and self._fixed_loop(known, pulls):
                return False

    def _fixed_loop(self, jobs: Sequence[int], pulls: Sequence[Pull]) -> bool:
        inside = set(jobs)
        loop = [(u, v, weight) for v in jobs for u, weight in self.steps[v] if u in inside]
        loop += [(u, v, weight) for u, v, weight, function in pulls if function is None]
        return positive_loop(loop) is not None

    def _settle(self, order: Sequence[int], pulls: Sequence[Pull]) -> None:
        """Strongly connected part by part, each after those that bound it (D2, D14).

        A job that is not within what we know without the maximal lags of its part pulls nobody. A part that its own
        maximal lags push past a last allowed instant or the horizon is contradictory, and goes without them.
        """
        found = self.found
        inside = set(order)
        edges = [(u, v) for v in order for u, _ in (*self.steps[v], *(self.curved[v] or ())) if u in inside]
        edges += [(pull[0], pull[1]) for pull in pulls]
        for members in strongly_connected(order, edges):
            part = set(members)
            for u, v, weight, function in pulls:
                if v in part and u not in part:
                    found[v] = max(found[v], self._pulled(u, weight, function))
            jobs = [v for v in order if v in part]
            self._climb(jobs)
            own = [pull for pull in pulls if pull[0] in part and pull[1] in part]
            if not own:
                continue
            known = [v for v in jobs if found[v] < KNOWN]
            if len(known) < len(jobs):
                left = set(known)
                self._settle(known, [pull for pull in own if pull[0] in left and pull[1] in left])
                continue
            without = [found[v] for v in jobs]
            if not self._raise(jobs, own):
                for v, instant in zip(jobs, without, strict=True):
                    found[v] = instant
                self.set_aside.append(part)
